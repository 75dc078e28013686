"""What is bought and when it is there; what batch files may name; people who are away."""

from __future__ import annotations

import csv
import io
from datetime import date, datetime, time
from decimal import Decimal
from pathlib import Path

import pytest
from msgspec.structs import replace
from openpyxl import load_workbook

from estimator.batch.arrivals import arrivals_of, bought_as
from estimator.batch.build import study_batch
from estimator.batch.records import JointAnswer
from estimator.core.errors import InputError
from estimator.input.batch.load import load_batch
from estimator.model.planning import Person
from estimator.plan.plan import Plan, plan_batch, work_of
from estimator.plan.replan.plan import plan_again
from estimator.plan.replan.progress import load_state, template
from estimator.plan.replan.saved_plan import answer_of, kept_text, read_kept
from estimator.report.csv.plan import check_csv, orders_csv
from estimator.report.record import as_data
from estimator.report.records.plan import PlanTold
from estimator.report.words.plan import day_lines, no_plan_words, plan_words
from estimator.schedule.records import Operation, SchedulingProblem, Search
from estimator.schedule.resources import away_of, calendar_of
from estimator.schedule.solve import schedule_work
from estimator.schedule.verify import breaches_of
from estimator.workbook.write.plan import plan_bytes
from tests.batch.test_donors import TUNERS, donors, planned, swapped
from tests.plan.bench import EXAMPLES, shop

SETS = ('["new-tuners-locking-six"]', '["new-tuners-standard"]')


def made(path: Path, aim: str = "cost,cash") -> Plan:
    found = planned(path, aim)
    assert isinstance(found, Plan)
    return found


def starts(plan: Plan) -> dict[str, datetime]:
    calendar = plan.calendar
    return {
        b.operation: calendar.moment(calendar.elapsed_at_start(b.start)) for b in plan.schedule.assignments
    }


@pytest.mark.slow
def test_an_instrument_that_has_to_be_bought_is_there_the_next_day(tmp_path: Path) -> None:
    plan = made(donors(tmp_path, {"cheap": 20, "dear": 400}), "profit")
    assert min(starts(plan).values()) == datetime(2026, 10, 6, 9)
    lines = "\n".join(day_lines(plan))
    assert "buy today, for tomorrow: dusty two-humbucker guitar" in lines.replace("\n    ", " ")
    assert "waits for the instrument, which has to be bought first" in " ".join(lines.split())


@pytest.mark.slow
def test_a_tool_that_has_to_be_bought_is_there_before_it_is_used(tmp_path: Path) -> None:
    path = tmp_path / "tool.toml"
    path.write_text(
        '[batch]\nid = "tool"\nstart = 2026-10-05\ntools_missing = ["t-crown-file"]\n'
        f'[[job]]\nid = "school"\nfile = "{EXAMPLES}/school-guitar.toml"\n'
        'upgrades = ["set-up", "spot-level-frets"]\n'
    )
    plan = made(path)
    assert [line.what for b in plan.orders.baskets for line in b.lines if line.kind == "tool"] == [
        "t-crown-file"
    ]
    when = starts(plan)
    assert when["school:strings-off"] >= datetime(2026, 10, 6, 9)  # it stays strung till the file is there
    assert when["school:spot-level-fret"] >= datetime(2026, 10, 6, 9)
    fetched = next(b for b in plan.orders.baskets if b.seller == "any shop")
    assert (fetched.freight, fetched.sent) == (0, False)
    assert "any shop (at the list price): 152.00 USD, to be fetched" in plan_words(plan)


@pytest.mark.slow
def test_parcels_come_by_noon(tmp_path: Path) -> None:
    plan = made(swapped(tmp_path, "", *SETS))
    arrives = arrivals_of(plan.study, plan.answer)
    assert {arrives[bought_as(p)] % 1440 for p in plan.answer.purchases if p.kind == "part"} == {720}
    fitted = starts(plan)["school:fit-tuner"]
    comes = plan.calendar.moment(arrives["part", "school", "new-tuners-standard"])
    assert fitted.date() > comes.date() or fitted.time() >= time(13)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "told"),
    [("nonsense", "no upgrade of this name"), ("new-tuners", "whole name"), ("set-upp", "did you mean")],
)
def test_upgrades_that_are_named_wrongly_are_refused(tmp_path: Path, name: str, told: str) -> None:
    with pytest.raises(InputError, match=told):
        planned(swapped(tmp_path, "", SETS[0], f'["{name}"]'))


def test_upgrades_that_do_not_fit_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "worn.toml"
    path.write_text(
        '[batch]\nid = "worn"\nstart = 2026-10-05\n'
        f'[[job]]\nid = "worn"\nfile = "{EXAMPLES}/impossible-wish.toml"\nupgrades = ["spot-level-frets"]\n'
    )
    with pytest.raises(InputError, match="does not fit worn"):
        planned(path)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("named", "told"),
    [
        (
            '["new-saddles-premium", "new-six-screw-tremolo-standard"]',
            "together on school.*new-saddles-premium and new-six-screw-tremolo-standard",
        ),
        ('["new-tuners-standard", "new-tuners-premium"]', "together on school.*both sit in the slot tuners"),
    ],
)
def test_decided_upgrades_that_cannot_stand_together_are_refused(
    tmp_path: Path, named: str, told: str
) -> None:
    with pytest.raises(InputError, match=told):
        planned(swapped(tmp_path, "", "[]", named))


@pytest.mark.slow
def test_what_cash_or_hours_would_do_is_told_and_does(tmp_path: Path) -> None:
    def batch(limits: str) -> Plan | JointAnswer:
        path = tmp_path / "tight.toml"
        path.write_text(
            f'[batch]\nid = "tight"\nstart = 2026-10-05\n{limits}\n'
            f'[[job]]\nid = "commission"\nfile = "{EXAMPLES}/tight-commission.toml"\n'
        )
        return planned(path)

    found = batch("cash = 50")
    assert isinstance(found, JointAnswer)
    assert len(found.ways_out) == 1
    assert "One of these would do" in no_plan_words(found)
    least = found.ways_out[0].removeprefix("cash of the batch: at least ").removesuffix(" USD")
    assert isinstance(batch(f"cash = {least}"), Plan)
    cents = round(100 * float(least)) - 1
    assert isinstance(batch(f"cash = {cents / 100}"), JointAnswer)
    short = batch("hours = 2")
    assert isinstance(short, JointAnswer)
    assert [words.partition(":")[0] for words in short.ways_out] == ["hours of the batch"]
    assert batch("cash = 50\nhours = 2").ways_out == ()  # type: ignore[union-attr]


@pytest.mark.slow
def test_jobs_that_cannot_keep_their_own_limits_with_this_crew_are_named(tmp_path: Path) -> None:
    """The price limit of the example holds at skill 4, not at 3: the bass is not to blame."""

    def found(skill: int) -> Plan | JointAnswer:
        path = tmp_path / "crew.toml"
        path.write_text(
            f'[batch]\nid = "crew"\nstart = 2026-10-05\n[[person]]\nid = "bench"\nskill = {skill}\n'
            f'[[job]]\nid = "one"\nfile = "{EXAMPLES}/short-scale-bass.toml"\n'
            f'[[job]]\nid = "two"\nfile = "{EXAMPLES}/tight-commission.toml"\n'
        )
        return planned(path)

    assert isinstance(found(4), Plan)
    answer = found(3)
    assert isinstance(answer, JointAnswer)
    assert (answer.ways_out, answer.unmet) == ((), ("two",))
    words = no_plan_words(answer)
    assert "cannot keep their own: two." in words
    assert "skill" in words


@pytest.mark.slow
def test_a_part_comes_off_before_the_instrument_with_the_next_place_gets_it(tmp_path: Path) -> None:
    """One rack place, and the taker is due first: it still has to let the giver go before it."""
    sets = [s + "\ndue = 2026-10-30" if k == 0 else s + "\ndue = 2026-10-09" for k, s in enumerate(SETS)]
    plan = made(swapped(tmp_path, TUNERS + "[stations]\nrack-places = 1\n", *sets))
    when = starts(plan)
    first = {job: min(w for n, w in when.items() if n.startswith(job)) for job in ("school", "commission")}
    assert first["commission"] < first["school"]
    assert plan.work.open_most == 1


@pytest.mark.slow
def test_moved_parts_stand_in_every_list(tmp_path: Path) -> None:
    plan = made(swapped(tmp_path, TUNERS, *SETS))
    rows = list(csv.DictReader(io.StringIO(orders_csv(plan))))
    moved = [row for row in rows if row["kind"] == "moved"]
    assert [(row["id"], row["money"]) for row in moved] == [("new-tuners-standard", "0.00")]
    assert [part["to_job"] for part in as_data(PlanTold(plan))["moved_parts"]] == ["school"]  # type: ignore[attr-defined]
    (tmp_path / "week.xlsx").write_bytes(plan_bytes(plan))
    cells = [str(c.value) for row in load_workbook(tmp_path / "week.xlsx")["Orders"] for c in row]
    assert any(text.startswith("Tuners off commission") for text in cells)
    assert f'supplier = "{plan.answer.purchases[0].job}"' not in template(plan, "x")


@pytest.mark.slow
def test_a_plan_with_jobs_left_out_is_written_kept_and_taken_up(tmp_path: Path) -> None:
    path = donors(tmp_path, {"cheap": 20, "dear": 400})
    plan = made(path, "profit")
    (tmp_path / "week.xlsx").write_bytes(plan_bytes(plan))
    cells = [str(c.value) for row in load_workbook(tmp_path / "week.xlsx")["Plan"] for c in row]
    assert any("not bought: at 400.00 USD it would lose" in text for text in cells)
    (tmp_path / "week.json").write_text(kept_text(plan))
    kept = answer_of(read_kept((tmp_path / "week.json").read_bytes(), "week.json"), plan.study)
    assert (kept.left_out, kept.why_not) == (plan.answer.left_out, plan.answer.why_not)
    state = template(plan, "week.json").replace('now = "2026-10-05 09:00"', 'now = "2026-10-07 09:00"')
    (tmp_path / "state.toml").write_text(state)
    again = plan_again(plan.study, load_state(tmp_path / "state.toml"), search=Search(engine="rule", tries=5))
    assert {o.job for o in again.plan.work.operations} == {"cheap"}
    assert "dear: not bought: at 400.00 USD" in plan_words(again.plan)


def test_a_folder_that_cannot_be_made_is_refused_before_any_work(tmp_path: Path) -> None:
    check_csv(tmp_path / "new")
    with pytest.raises(InputError, match="no folder can be made"):
        check_csv(tmp_path / "no" / "new")
    (tmp_path / "file").write_text("")
    with pytest.raises(InputError, match="no folder can be made"):
        check_csv(tmp_path / "file")


@pytest.mark.slow
def test_nobody_works_on_their_days_off(tmp_path: Path) -> None:
    path = tmp_path / "away.toml"
    people = '[[person]]\nid = "anna"\nskill = 4\ndays_off = ["2026-10-09", "2026-10-10"]\n[[person]]\nid = "ben"\nskill = 2\n'
    path.write_text(
        f'[batch]\nid = "away"\nstart = 2026-10-05\n{people}'
        f'[[job]]\nid = "school"\nfile = "{EXAMPLES}/school-guitar.toml"\n'
    )
    plan = made(path)
    days = {b.who: set[date]() for b in plan.schedule.assignments}
    for b in plan.schedule.assignments:
        days[b.who].add(plan.calendar.moment(plan.calendar.elapsed_at_start(b.start)).date())
    assert date(2026, 10, 9) not in days["anna"]
    assert date(2026, 10, 9) in days["ben"]  # the parcel comes on that day
    assert date(2026, 10, 12) in days["anna"]
    assert "away: anna" in plan_words(plan)
    text = path.read_text().replace('"2026-10-10"', '"10 Oct"')
    path.write_text(text)
    with pytest.raises(InputError, match="not a date"):
        load_batch(path, shop())


def test_days_off_are_stretches_of_working_minutes() -> None:
    calendar = calendar_of(shop(), date(2026, 10, 5))
    week = Person("anna", 4, frozenset({date(2026, 10, 6), date(2026, 10, 10)}))
    # a day has 315 minutes; the tenth is a Saturday, when the shop is shut anyway
    assert away_of([week, Person("ben", 2)], calendar) == {"anna": ((315, 630),)}


@pytest.mark.parametrize("engine", ["rule", "cpsat"])
def test_work_goes_round_days_off(engine: str) -> None:
    """A hundred minutes by one who is away from 50 to 80, in pieces of 40: 0 to 40, then 80 to 160."""
    calendar = calendar_of(shop(), date(2026, 10, 5))
    work = SchedulingProblem(
        tuple(Operation(f"w{k}", "j", 40, one_of=("me",)) for k in range(3)),
        {"me": 1},
        away={"me": ((50, 80),)},
    )
    found = schedule_work(work, calendar, Search(("makespan",), engine=engine, effort=2.0))
    assert found.figures.makespan == 160
    assignments = list(found.assignments)
    wrong = [replace(b, start=45, end=85, free=85) if b.start == 80 else b for b in assignments]
    assert any("while away" in words for words in breaches_of(work, calendar.opens, calendar.closes, wrong))
    assert breaches_of(work, calendar.opens, calendar.closes, assignments) == []


@pytest.mark.slow
def test_the_batch_of_people_reaches_the_work(tmp_path: Path) -> None:
    path = swapped(tmp_path, '[[person]]\nid = "anna"\nskill = 4\ndays_off = ["2026-10-05"]\n', *SETS)
    study = study_batch(shop(), load_batch(path, shop()))
    plan = plan_batch(study, search=Search(engine="rule", tries=1))
    assert isinstance(plan, Plan)
    work, _ = work_of(study, plan.answer, plan.calendar)
    assert work.away == {"anna": ((0, 315),)}


@pytest.mark.slow
def test_a_tool_is_rented_or_bought_as_is_cheaper(tmp_path: Path) -> None:
    """Tuner holes want a drill press: 20.00 of rent for each guitar against its price once (the shop's tables)."""
    kit = shop().tools["t-drill-press"]
    price = 100 * (kit.premium_price if kit.default_grade == "premium" else kit.inexpensive_price)

    def lines(number: int) -> list[tuple[str, str, int]]:
        jobs = "".join(
            f'[[job]]\nid = "g{k}"\nfile = "{EXAMPLES}/tight-commission.toml"\nupgrades = ["new-tuners-locking-six"]\n'
            for k in range(number)
        )
        path = tmp_path / "rent.toml"
        path.write_text(f'[batch]\nid = "r"\nstart = 2026-10-05\ntools_missing = ["t-drill-press"]\n{jobs}')
        plan = made(path)
        assert sum(plan.orders.by_job.values()) == plan.orders.total
        when = starts(plan)
        assert min(w for n, w in when.items() if "drill-hole" in n) >= datetime(2026, 10, 6, 9)
        return [
            (line.kind, line.number, line.cents)
            for b in plan.orders.baskets
            for line in b.lines
            if line.kind in ("tool", "rent")
        ]

    pays = int(price // 2000) + 1  # so many rents cost more than the tool
    assert lines(1) == [("rent", "1", 2000)]
    assert lines(pays) == [("tool", "1", int(price))]


@pytest.mark.slow
def test_spares_are_ordered_when_asked_for_and_within_the_cash(tmp_path: Path) -> None:
    """A ready-cut nut is spoiled once in twenty; the shop's own tables say how many to have at 90 % surety."""

    def batch(more: str) -> Plan:
        path = tmp_path / "spares.toml"
        jobs = "".join(
            f'[[job]]\nid = "{name}"\nfile = "{EXAMPLES}/tight-commission.toml"\n'
            'upgrades = ["ready-cut-nut-slippery-nut"]\n'
            for name in ("one", "two", "three")
        )
        path.write_text(f'[batch]\nid = "s"\nstart = 2026-10-05\n{more}\n{jobs}')
        return made(path)

    without, plan = batch(""), batch("spares = true")
    assert [(s.good, s.pieces) for s in without.orders.spares] == [(3, 4)]  # 0.95 ** 3 is below 0.9
    assert (without.orders.extra, plan.orders.spares) == (0, ())
    lines = [line for b in plan.orders.baskets for line in b.lines]
    spare = next(line for line in lines if line.kind == "spare")
    nuts = next(line for line in lines if line.what == "slippery-nut")
    assert (spare.number, 3 * spare.cents) == ("1", nuts.cents)
    assert sum(cents for _, cents in spare.bears) == spare.cents
    assert len(spare.bears) == 3
    assert sum(plan.orders.by_job.values()) == plan.orders.total
    assert plan.cash == plan.answer.cash + plan.orders.extra
    assert plan.orders.total - without.orders.total == plan.orders.extra
    row = next(r for r in csv.DictReader(io.StringIO(orders_csv(plan))) if r["kind"] == "spare")
    assert row["number"] == "1"
    reach = (plan.cash - 1) / 100
    short = batch(f"spares = true\ncash = {reach}")
    assert short.orders.extra == 0
    assert len(short.orders.spares) == 1


@pytest.mark.slow
def test_a_spare_that_reaches_a_quantity_break_brings_it_for_all_of_its_kind(tmp_path: Path) -> None:
    """Five ready-cut nuts are had at 0.92 of the price (the shop's tables); four are wanted, one may be spoiled."""
    path = tmp_path / "five.toml"
    jobs = "".join(
        f'[[job]]\nid = "{name}"\nfile = "{EXAMPLES}/tight-commission.toml"\nupgrades = ["ready-cut-nut-slippery-nut"]\n'
        for name in ("one", "two", "three", "four")
    )
    path.write_text(f'[batch]\nid = "s"\nstart = 2026-10-05\nspares = true\n{jobs}')
    plan = made(path)
    lines = [line for b in plan.orders.baskets for line in b.lines]
    nuts = [line for line in lines if line.what == "slippery-nut"]
    spare = next(line for line in lines if line.kind == "spare")
    listed = {p.list_cents for p in plan.study.batch.parts if p.upgrade == "ready-cut-nut-slippery-nut"}
    broken = int(Decimal(listed.pop()) * Decimal("0.92") + Decimal("0.5"))
    assert sum(line.cents for line in nuts) == 4 * broken
    assert spare.cents == broken
    assert sum(plan.orders.by_job.values()) == plan.orders.total
