"""Why not, and the ways out: irreducible, true and least, by the search over all subsets."""

from __future__ import annotations

import itertools
import os
import re
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import HealthCheck, assume, event, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from estimator.choose.choose import choose
from estimator.cli.main import run
from estimator.model.problem import Clock, Rule, Source
from tests.choose.own_measure import measure_of
from tests.choose.strategies import STEPPED, Plain, best, keeps, stepped_price, subsets, with_packs

CASES = int(os.environ.get("ESTIMATOR_CASES", "120"))


@st.composite
def tight(draw, wishes=0, most=60):
    """A problem with one more limit than it can bear, more often than not.

    ``wishes``: so many kinds of further wishes may be there too: weights out of reach, things required.
    """
    problem = draw(with_packs(most_options=5))
    amount = problem.amounts[0]
    further = (
        Rule(
            Source.WISH,
            "amount",
            "light",
            amount.attribute,
            None,
            amount.base - draw(st.integers(0, 400)) * 1000,
            of="light",
        ),
        Rule(
            Source.WISH,
            "amount",
            "heavy",
            amount.attribute,
            amount.base + draw(st.integers(0, 400)) * 1000,
            None,
            of="heavy",
        ),
        Rule(Source.REQUIRED, "required", "the last is required", upgrades=(problem.options[-1],), of="last"),
    )
    some = [rule for rule in further[:wishes] if draw(st.booleans())]
    problem = replace(problem, rules=(*problem.rules, *some))
    most = draw(st.integers(0, most)) * 100
    kind = draw(st.sampled_from(("cost", "price", "minutes")))
    if kind == "minutes":
        extra = Rule("tight", "minutes", f"at most {most} hundredths", most=most)
    else:
        extra = Rule("tight", "money", f"{kind} at most {most} cents", most=most, on=kind)
    rules = (*problem.rules, extra)
    if draw(st.integers(0, 2)):
        return replace(problem, rules=rules)
    a_day = st.sampled_from((0, 500, 1500, 3000))
    room = tuple(itertools.accumulate(draw(st.lists(a_day, min_size=2, max_size=8))))
    days = st.integers(1, len(room) - 1)
    least = tuple((u, draw(days)) for u in problem.options if draw(st.integers(0, 3)) == 0)
    desk = frozenset(p.id for p in problem.pieces if draw(st.integers(0, 5)) == 0)
    due = Rule(Source.DUE, "due", "back in time", most=draw(st.integers(0, len(room) - 1)), on="2026-10-05")
    return replace(problem, rules=(*rules, due), clock=Clock(room, least, desk))


def figure(it: Plain, rule: Rule) -> int:
    if rule.kind == "money":
        return it.sure_cost if rule.on == "cost" else getattr(it, rule.on)
    if rule.kind == "minutes":
        return it.minutes
    if rule.kind == "due":
        return it.days
    return it.levels[rule.attribute] if rule.kind == "level" else it.amounts[rule.attribute]


@pytest.mark.slow
@settings(
    max_examples=CASES,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)
@given(tight())
def test_conflict_is_irreducible_and_ways_out_are_true(problem):
    sets = subsets(problem)
    assume(not any(all(keeps(r, it) for r in problem.rules) for it in sets))
    answer = choose(problem, measure_of(problem, stepped_price), STEPPED)
    assert answer.status == "infeasible"
    rules = answer.conflict.rules
    event(f"{len(rules)} rules in conflict")
    assert not any(all(keeps(r, it) for r in rules) for it in sets)
    for left_out in rules:
        assert any(all(keeps(r, it) for r in rules if r is not left_out) for it in sets)
    named = [r for c in answer.conflicts for r in c.rules]
    limits = [r for r in problem.rules if r.kind in ("money", "minutes", "due")]
    free = [it for it in sets if all(keeps(r, it) for r in problem.rules if r not in limits)]
    for limit in limits:  # no limit that the wish cannot keep goes unnamed
        assert limit in named or not free or any(keeps(limit, it) for it in free)
    ways = {way.rule.id: way for way in answer.ways_out}
    assert len(ways) == len(answer.ways_out)
    enough = [way for way in answer.ways_out if not way.aside]
    assert (answer.together is None) == (bool(enough) or not sets)
    # a rule outside the only conflict mends nothing, and so has no way out
    asked = problem.rules if len(answer.conflicts) == 1 else dict.fromkeys(named)
    for rule in asked:
        mine = [c for c in answer.conflicts if rule in c.rules]
        own = [r for c in mine for r in c.rules]
        others = [r for c in answer.conflicts if c not in mine for r in c.rules if r not in own]
        aside = list(dict.fromkeys(others)) if mine else []
        kept = [r for r in problem.rules if r is not rule and r not in aside]
        others = [it for it in sets if all(keeps(r, it) for r in kept)]
        way = ways.pop(rule.id, None)
        if way is not None:
            assert [answer.conflicts[number - 1] for number in way.settles] == mine
            assert list(way.aside) == aside
        event(f"way out of {rule.kind}: {None if way is None else way.kind}")
        assert (way is not None) == bool(others)
        if way is None:
            continue
        if way.kind == "drop":
            within = others
            assert rule.kind in ("required", "refused", "level")
            if rule.kind == "level":
                assert max(figure(it, rule) for it in others) == 0
        elif rule.kind in ("money", "minutes", "due"):
            assert way.to == min(figure(it, rule) for it in others)
            within = [it for it in others if figure(it, rule) <= way.to]
        elif rule.kind == "level":
            assert way.to == max(figure(it, rule) for it in others)
            within = [it for it in others if figure(it, rule) >= way.to]
        else:
            within = nearest_amount(rule, others, way.kind, way.to)
        assert way.chosen in {it.chosen for it in within}
        assert way.measure.cost == best(within, "cost").cost
    assert not ways


def nearest_amount(rule: Rule, others: list[Plain], kind: str, to: int) -> list[Plain]:
    """The sets that a changed limit lets in; the change must be the least on its side."""
    if kind == "raise":
        side = [it for it in others if rule.least is None or figure(it, rule) >= rule.least]
        assert to == min(figure(it, rule) for it in side)
        return [it for it in side if figure(it, rule) <= to]
    side = [it for it in others if rule.most is None or figure(it, rule) <= rule.most]
    assert to == max(figure(it, rule) for it in side)
    return [it for it in side if figure(it, rule) >= to]


def test_what_does_not_fit_is_named_but_is_no_way_out():
    from tests.choose.examples import two_bridges

    problem = replace(
        two_bridges(),
        rules=(
            Rule(Source.WISH, "level", "tuning stability at least level 3", "tuning", 30, of="tuning"),
            Rule(
                Source.UNFIT,
                "refused",
                "bridge does not fit: posts 74 mm apart",
                upgrades=("bridge",),
                of="bridge",
            ),
            Rule(Source.REFUSED, "refused", "tremolo is refused", upgrades=("tremolo",), of="tremolo"),
        ),
    )
    answer = choose(problem, measure_of(problem))
    assert [r.id for r in answer.conflict.rules] == ["wish:tuning", "fit:bridge", "refused:tremolo"]
    assert [(w.rule.id, w.kind, w.to) for w in answer.ways_out] == [
        ("wish:tuning", "lower", 10),
        ("refused:tremolo", "drop", None),
    ]
    assert answer.ways_out[1].words == "allow it after all (now: tremolo is refused)"


@pytest.mark.parametrize("most", ["3200", "3200.5", "4300"])
def test_a_weight_is_told_in_whole_grams_and_never_back_within_its_limit(
    most: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "heavy.toml"
    file.write_text(
        '[job]\nid = "heavy"\nkind = "own"\n[instrument]\nkind = "guitar-solid"\nweight_g = 4300.31\n'
        f'[wish]\nlimits = {{ weight = {{ most = "{most} g" }} }}\n[upgrades]\nopen = ["set-up"]\n',
        encoding="utf-8",
    )
    assert run(["choose", str(file)]) == 1
    said = " ".join(capsys.readouterr().out.split())
    found = re.findall(r"comes to ([\d.]+) g", said)
    assert found
    assert all(one.isdecimal() and Decimal(one) > Decimal(most) for one in found)
