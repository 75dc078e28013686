"""What is looked up is exactly what would be solved: compared, limit by limit, with the choice made anew."""

from __future__ import annotations

import random
from decimal import Decimal
from pathlib import Path

import pytest
from msgspec.structs import replace

from estimator.choose.questions.all import Wanted
from estimator.choose.questions.ask import deeper
from estimator.choose.study import make_choice, study_job, within_limits
from estimator.choose.tools import choose_with_tools
from estimator.core.errors import EstimatorError
from estimator.input.job.load import load_job
from estimator.model import Job, Shop
from estimator.report.record import as_data
from estimator.report.records.choice import ChoiceAnswer
from estimator.server.answers import Answers, aim_of, comes_to
from estimator.server.entries import LEAST, MOST, PROFIT
from estimator.tables.load import load_shop
from estimator.tables.toml.text import TomlFile
from tests.drawn_jobs import drawn, example, the_shop
from tests.shops import amount_attribute, joined, priced_item, write_job, write_shop

HOW = ("engine", "engine_notes", "bound", "gap")
"""How an answer was found, which may differ; all else may not."""
ITEMS = [
    (f"item-{n}", price, points)
    for n, (price, points) in enumerate(
        [(7, 11), (12, 13), (18, 30), (23, 31), (31, 50), (36, 49), (44, 60), (58, 90), (63, 85)]
    )
]


def told(choice: object) -> dict[str, object]:
    from estimator.choose.study import Choice

    assert isinstance(choice, Choice)
    data = as_data(ChoiceAnswer(choice))
    return {name: value for name, value in data.items() if name not in HOW}


def at(job: Job, money: str | None, minutes: str | None = None) -> Job:
    limits = [None if text is None else Decimal(text) for text in (money, minutes)]
    return replace(job, budget=replace(job.budget, money=limits[0], minutes=limits[1]))


@pytest.fixture
def small(tmp_path: Path) -> tuple[Shop, Job]:
    """A shop whose upgrades are parts with points, and a job that wishes for points."""
    tables = joined(
        [
            {
                "attributes": [
                    {
                        **amount_attribute("points"),
                        "limit_1": 40,
                        "limit_2": 90,
                        "limit_3": 160,
                        "limit_4": 250,
                    }
                ]
            },
            *(priced_item(name, price, {"points": points}) for name, price, points in ITEMS),
        ]
    )
    shop = load_shop(write_shop(tmp_path / "shop", tables))
    text = (
        '[job]\nid = "small"\n[instrument]\nkind = "guitar-solid"\n[wish.require]\npoints = 3\n'
        "[upgrades]\nopen = [" + ", ".join(f'"{name}"' for name, _, _ in ITEMS) + "]\n"
    )
    return shop, load_job(write_job(tmp_path / "small.toml", text), shop)


def compared(shop: Shop, job: Job, entry: str, limits: list[Job]) -> int:
    """Ask for each limit in turn; returns how many were looked up, each equal to a fresh choice."""
    answers, toml, looked_up = Answers(shop), TomlFile("x.toml", {}), 0
    for limited in limits:
        before = answers.solves
        found = answers.choice(toml, limited, entry)
        looked_up += answers.solves == before
        study = study_job(shop, limited, ways_open=True)
        anew = choose_with_tools(study, aim_of(entry, job), explain=False)
        assert told(found) == told(anew), limited.budget
        assert found.study.problem == anew.study.problem
    return looked_up


def test_limits_give_what_a_fresh_choice_gives(small: tuple[Shop, Job]) -> None:
    shop, job = small
    assert compared(shop, job, LEAST, [at(job, text) for text in ("250", "300", "20")]) == 1


@pytest.mark.parametrize("tools", [("t-neck-rest",), ("t-rotary",)])
def test_with_a_tool_missing_every_limit_gives_what_a_fresh_choice_gives(tools: tuple[str, ...]) -> None:
    """Got in one case, worked around in the other; limits down from none, each at what the last set takes in all."""
    shop, toml = the_shop(), TomlFile("x.toml", {})
    job = replace(
        example("school-guitar"),
        open=("new-strings", "polish-frets"),
        required=("polish-frets",),
        refused=(),
        requirements=(),
        wanted_by="",
        without_tools=tools,
    )
    answers, limit, kept = Answers(shop), None, 0
    for _ in range(3):
        limited = at(job, limit)
        found = answers.choice(toml, limited, LEAST)
        anew = choose_with_tools(study_job(shop, limited, ways_open=True), aim_of(LEAST, job), explain=False)
        assert anew.found == found.found == (found.answer.status == "optimal")
        if not found.found:
            break
        kept += 1
        assert told(found) == told(anew)
        assert found.study.problem == anew.study.problem
        assert bool(found.tools.got) == (tools == ("t-neck-rest",))
        comes = comes_to(found, job.budget.on)[0]
        limit = f"{Decimal(comes if limit is None else comes - 1) / 100}"
    # at what it takes in all the set is still found, and a cent below it is not
    assert (kept, found.found) == (2, False)


@pytest.mark.slow
@pytest.mark.parametrize("entry", [LEAST, MOST])
def test_every_limit_gives_what_a_fresh_choice_gives(small: tuple[Shop, Job], entry: str) -> None:
    shop, job = small
    draw = random.Random(entry)
    limits = [at(job, None if draw.random() < 0.1 else str(draw.randint(20, 400))) for _ in range(25)]
    assert compared(shop, job, entry, limits) >= 10


def test_looking_ahead_makes_every_limit_a_look_up(small: tuple[Shop, Job]) -> None:
    shop, job = small
    answers, toml = Answers(shop), TomlFile("x.toml", {})
    steps = 0
    while answers.look_ahead(toml, job, MOST):
        steps += 1
    assert steps >= 4
    before = answers.solves
    for money in range(1, 400, 7):
        known = answers.known(toml, at(job, str(money)), MOST)
        assert known is not None
        assert not known.found or comes_to(known, "cash")[0] <= money * 100
    assert answers.solves == before
    draw = random.Random(5)
    for money in draw.sample(range(1, 400), 3):
        limited = at(job, str(money))
        anew = make_choice(study_job(shop, limited, ways_open=True), aim_of(MOST, job), explain=False)
        assert told(answers.known(toml, limited, MOST)) == told(anew)


def test_what_is_looked_up_at_other_wishes_is_not_taken(small: tuple[Shop, Job]) -> None:
    shop, job = small
    answers = Answers(shop)
    answers.choice(TomlFile("x.toml", {"wish": 1}), job, LEAST)
    assert answers.known(TomlFile("x.toml", {"wish": 2}), job, LEAST) is None
    assert answers.known(TomlFile("y.toml", {"wish": 1}), job, LEAST) is None
    assert answers.known(TomlFile("x.toml", {"wish": 1}), job, MOST) is None
    same = TomlFile("x.toml", {"wish": 1, "budget": {"money": 3, "hours": 4}})
    assert answers.known(same, job, LEAST) is not None
    other = TomlFile("x.toml", {"wish": 1, "budget": {"on": "cost"}})
    assert answers.known(other, job, LEAST) is None


def test_a_study_under_other_limits_is_that_of_the_job(small: tuple[Shop, Job]) -> None:
    shop, job = small
    draw = random.Random(3)
    base = study_job(shop, job, ways_open=True)
    for _ in range(5):
        limited = at(job, draw.choice([None, "90", "12.34"]), draw.choice([None, "30", "61.5"]))
        assert within_limits(base, limited.budget).problem == study_job(shop, limited, ways_open=True).problem
    with pytest.raises(ValueError, match="only the money"):
        within_limits(base, replace(job.budget, on="cost"))


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "entry"),
    [
        ("tight-commission", LEAST),
        ("tight-commission", MOST),
        ("short-scale-bass", MOST),
        ("resale-flip", PROFIT),
    ],
)
def test_the_examples_at_every_limit(name: str, entry: str) -> None:
    job = example(name)
    draw = random.Random(name + entry)
    limits = [at(job, None)] + [
        at(job, str(draw.randint(100, 90_000) / 100), draw.choice([None, None, "300"])) for _ in range(4)
    ]
    compared(the_shop(), job, entry, limits)


@pytest.mark.slow
def test_drawn_jobs_at_drawn_limits() -> None:
    """Shops and jobs drawn with a seed, each asked without a limit, then at limits around what came of it."""
    looked_up = 0
    for seed in range(6):
        shop, job = drawn(seed)
        draw = random.Random(seed)
        try:
            free = make_choice(study_job(shop, at(job, None), ways_open=True), explain=False)
        except EstimatorError:
            continue
        most = max(1000, comes_to(free, job.budget.on)[0] if free.found else 0)
        limits = [
            at(job, None),
            *(at(job, str(Decimal(draw.randint(most // 2, most * 2)) / 100)) for _ in range(2)),
        ]
        looked_up += compared(shop, job, LEAST, limits)
    assert looked_up >= 3


@pytest.mark.slow
def test_the_frontier_is_that_of_the_job_without_limits() -> None:
    job, toml = example("short-scale-bass"), TomlFile("x.toml", {})
    found = Answers(the_shop()).frontier(toml, at(job, "60"))
    free = study_job(the_shop(), at(job, None), ways_open=True)
    anew = deeper(make_choice(free, explain=False), Wanted(frontier=True))
    assert found.frontier is not None
    assert len(found.frontier.points) > 3
    assert found.frontier == anew.frontier
