"""Which measurement next: what each value that nobody took could change, and the money at stake.

Every assumed value is put to the ends of its accepted range (a word: to each other word), one at a
time, all else as it stands. Where a verdict changes, the work of the chosen set is priced again; where
the chosen set no longer fits, or another upgrade becomes possible or an attribute turns out to stand
elsewhere, the choice is made again. Worth = chance that the assumption is wrong x money at stake.

Approximations, so that the answer comes within seconds: one value at a time (no two wrong at once);
ends of the range instead of a spread; the chance is the field's own (``fit_chance_pct`` or ``spread``);
at most ``solves`` choices are made again, those that promise most first.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from decimal import Decimal
from types import MappingProxyType

from estimator.estimate.build import make_costing
from estimator.fit.judge import judge
from estimator.model import IntakeField, Job, Reading, Verdict
from estimator.pipeline import Choice, Study, make_choice, study_job

Value = Decimal | str | bool


@dataclass(frozen=True, slots=True)
class Worth:
    """A value worth measuring: what is assumed, what it could be, what that would change.

    ``chance`` is a fraction; ``stake`` and ``worth`` are cents of cost: the largest change, and the
    chance times it. ``changes`` says in words what would become of verdicts and choice.
    """

    field: str
    what: str
    how: str
    assumed: str
    could_be: str
    chance: Decimal
    stake: int
    worth: int
    changes: str


@dataclass(frozen=True, slots=True)
class _Trial:
    """One field put to one other value: the verdicts that differ, and why a choice may have to be made again."""

    field: str
    value: Value
    changed: tuple[tuple[Verdict, Verdict], ...]
    levels: bool


def measure_next(
    choice: Choice, solves: int = 12, progress: Callable[[int, int], None] | None = None
) -> tuple[Worth, ...]:
    """Assumed values that can change a verdict or the chosen set, the most worth measuring first."""
    study = choice.study
    trials = list(_trials(study))
    trials.sort(key=lambda t: (-_promise(study, choice, t), t.field, str(t.value)))
    found: dict[str, Worth] = {}
    solved = 0
    for number, trial in enumerate(trials, start=1):
        if progress:
            progress(number, len(trials))
        may_solve = solved < solves and (trial.levels or _opens_something(choice, trial))
        solved += may_solve
        worth = _worth(choice, trial, may_solve)
        if worth and (trial.field not in found or worth.worth > found[trial.field].worth):
            found[trial.field] = worth
    return tuple(sorted(found.values(), key=lambda w: (-w.worth, w.field)))


def other_values(spec: IntakeField, reading: Reading) -> tuple[Value, ...]:
    """The ends of a number's accepted range, the other answer, or the other words."""
    if isinstance(reading.value, bool):
        return (not reading.value,)
    if isinstance(reading.value, Decimal):
        ends = (spec.accepted_low, spec.accepted_high)
        return tuple(end for end in ends if end is not None and end != reading.value)
    return tuple(word for word in spec.choices if word != reading.value)


def with_value(job: Job, field: str, value: Value) -> Job:
    """The same job, had this been measured."""
    reading = replace(job.instrument[field], value=value, assumed=False)
    return replace(job, instrument=MappingProxyType({**job.instrument, field: reading}))


def _trials(study: Study) -> Iterator[_Trial]:
    users: dict[str, list[Verdict]] = {}
    for verdict in study.verdicts:
        for name in dict.fromkeys(v.name for f in verdict.findings for v in f.used if v.assumed):
            users.setdefault(name, []).append(verdict)
    telling = _fields_of_levels(study)
    for field in sorted({*users, *telling} & set(study.job.instrument)):
        reading = study.job.instrument[field]
        if not reading.assumed or not _chance(study, field):
            continue
        for value in other_values(study.shop.intake[field], reading):
            job = with_value(study.job, field, value)
            pairs = ((v, judge(study.shop, job, v.upgrade)) for v in users.get(field, ()))
            changed = tuple((before, after) for before, after in pairs if _differ(before, after))
            if changed or field in telling:
                yield _Trial(field, value, changed, field in telling)


def _fields_of_levels(study: Study) -> set[str]:
    """Fields that tell where a wanted attribute stands today."""
    wanted = {rule.attribute for rule in study.problem.rules if rule.attribute}
    fields = {study.shop.attributes[name].intake_field for name in wanted}
    return (fields | {sign.field for sign in study.shop.attribute_signs if sign.attribute in wanted}) - {""}


def _differ(before: Verdict, after: Verdict) -> bool:
    return before.outcome != after.outcome or _asked(before) != _asked(after)


def _asked(verdict: Verdict) -> list[tuple[str, str, Decimal, Decimal]]:
    return [(d.task, d.place, d.quantity, d.share) for d in verdict.demands]


def _chance(study: Study, field: str) -> Decimal:
    spec = study.shop.intake[field]
    return max(spec.fit_chance_pct / 100, spec.spread)


def _promise(study: Study, choice: Choice, trial: _Trial) -> Decimal:
    """A rough rank before anything is priced: the chance, more if the chosen set is touched."""
    chosen = set(choice.estimate.chosen)
    touched = sum(1 for before, _ in trial.changed if before.upgrade.id in chosen)
    return _chance(study, trial.field) * (1 + 4 * touched + (2 if trial.levels else 0))


def _opens_something(choice: Choice, trial: _Trial) -> bool:
    """Whether a chosen upgrade stops fitting, or another becomes possible or less work."""
    chosen = set(choice.estimate.chosen)
    for before, after in trial.changed:
        if before.upgrade.id in chosen and after.outcome == "does-not-fit":
            return True
        better = before.outcome == "does-not-fit" or len(after.demands) < len(before.demands)
        if before.upgrade.id not in chosen and better and after.outcome != "does-not-fit":
            return True
    return False


def _worth(choice: Choice, trial: _Trial, may_solve: bool) -> Worth | None:
    study = choice.study
    again = _chosen_cost(choice, trial)
    words = []
    stake = 0
    if again is not None and again != choice.estimate.totals.cost:
        stake = abs(again - choice.estimate.totals.cost)
        words.append(
            "the same set takes " + ("more" if again > choice.estimate.totals.cost else "less") + " work"
        )
    if may_solve or again is None:
        stake, words = _choose_again(choice, trial, stake, words)
    if not words:
        return None
    spec, reading = study.shop.intake[trial.field], study.job.instrument[trial.field]
    chance = _chance(study, trial.field)
    if again is None and not stake:
        stake = _redo_cost(choice, trial)
    worth = int(chance * stake)
    return Worth(
        trial.field, spec.what, spec.how, _said(reading.value, spec.unit), _said(trial.value, spec.unit),
        chance, stake, worth, "; ".join(words),
    )  # fmt: skip


def _chosen_cost(choice: Choice, trial: _Trial) -> int | None:
    """Cost of the chosen set with the changed verdicts; None if one of it no longer fits."""
    study = choice.study
    after = {new.upgrade.id: new for _, new in trial.changed}
    chosen = choice.estimate.chosen
    if any(after[u].outcome == "does-not-fit" for u in chosen if u in after):
        return None
    if not any(u in after for u in chosen):
        return choice.estimate.totals.cost
    job = with_value(study.job, trial.field, trial.value)
    verdicts = tuple(after.get(u) or study.verdict(u) for u in chosen)
    return make_costing(study.shop, job, verdicts).estimate(chosen).totals.cost


def _choose_again(choice: Choice, trial: _Trial, stake: int, words: list[str]) -> tuple[int, list[str]]:
    job = with_value(choice.study.job, trial.field, trial.value)
    again = make_choice(study_job(choice.study.shop, job), choice.answer.aim, explain=False)
    if not again.found:
        # what is lost for certain are the parts, bought for a set that will not do
        return max(stake, choice.estimate.totals.money.parts), [*words, "the wish could not be met"]
    gone = sorted(set(choice.estimate.chosen) - set(again.estimate.chosen))
    come = sorted(set(again.estimate.chosen) - set(choice.estimate.chosen))
    if gone or come:
        swap = " and ".join(
            part
            for part in (f"out: {', '.join(gone)}" if gone else "", f"in: {', '.join(come)}" if come else "")
            if part
        )
        words = [*words, f"another set would be best ({swap})"]
    difference = abs(again.estimate.totals.cost - choice.estimate.totals.cost)
    return max(stake, difference), words


def _redo_cost(choice: Choice, trial: _Trial) -> int:
    """What is lost when a chosen part does not fit and nothing better is known: the price of the part."""
    broken = {new.upgrade.id for _, new in trial.changed if new.outcome == "does-not-fit"}
    return sum(part.cost for part in choice.estimate.parts if part.upgrade in broken)


def _said(value: object, unit: str) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    text = f"{value.normalize():f}" if isinstance(value, Decimal) else str(value)
    return f"{text} {unit}".rstrip()
