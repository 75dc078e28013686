"""A week kept and taken up again on the page: the file the command reads, what moved and why, two tabs."""

from __future__ import annotations

import re
from html import unescape
from pathlib import Path

import pytest

from estimator.batch.build import study_batch
from estimator.input.batch.load import load_batch
from estimator.ledger.clock import read_moment
from estimator.ledger.jobs import book, booking_of
from estimator.ledger.store import Ledger
from estimator.model import Shop
from estimator.plan.plan import Plan, plan_batch
from estimator.plan.replan.changes import change_words
from estimator.plan.replan.plan import plan_again
from estimator.plan.replan.progress import load_state
from estimator.plan.replan.saved_plan import kept_text, read_kept
from estimator.report.words.plan import promise_lines
from estimator.report.words.replan import moved_promises
from estimator.schedule.records import Search
from estimator.server.desk import Desk
from estimator.server.guard import Guard
from tests.server.desks import Got, app_of, desk_in, get, post
from tests.server.test_entries import shop
from tests.server.test_story import hidden

__all__ = ["shop"]
pytestmark = pytest.mark.slow
BATCH = """[batch]
id = "pair"
what = "a bass"
start = 2026-10-05
[[person]]
id = "bench"
[[job]]
id = "a"
file = "short-scale-bass.toml"
due = 2026-10-20
"""
NOW = "2026-10-06 08:00"
LATE = {"parts-house": "2026-10-19"}


@pytest.fixture(scope="module")
def planned(shop: Shop, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Plan]:
    """A folder with the batch, and the command's plan of it."""
    folder = tmp_path_factory.mktemp("week")
    desk_in(folder, shop, "short-scale-bass")
    (folder / "pair.toml").write_text(BATCH, encoding="utf-8")
    plan = plan_batch(
        study_batch(shop, load_batch(folder / "pair.toml", shop), ways_open=True), None, Search(engine="auto")
    )
    assert isinstance(plan, Plan)
    return folder, plan


@pytest.fixture(scope="module")
def desk_of(planned: tuple[Path, Plan], shop: Shop) -> Desk:
    """One desk for all: what it planned once is looked up."""
    return desk_in(planned[0], shop)


@pytest.fixture
def app(planned: tuple[Path, Plan], desk_of: Desk) -> Guard:
    """The page with the command's plan kept."""
    folder, plan = planned
    (folder / "ledger.sqlite").unlink(missing_ok=True)
    (folder / "pair-plan.json").write_text(kept_text(plan), encoding="utf-8")
    return app_of(desk_of)


def keep_new(app: Guard, folder: Path) -> Got:
    """Keep the plan of the files on the page, where none is kept."""
    (folder / "pair-plan.json").unlink()
    page = get(app, "/week/pair")
    fields = {name: hidden(page, name) for name in ("version", "seen")}
    assert post(app, "/week/pair", fields).status == 303
    return page


def words(got: Got) -> str:
    return unescape(re.sub(r"<[^>]+>", "", got.text))


def flat(text: str) -> str:
    return " ".join(text.split())


def asked_with(now: str = NOW, late: dict[str, str] = LATE) -> str:
    return "/week/pair?now=" + now.replace(" ", "T") + "".join(f"&late.{s}={d}" for s, d in late.items())


def test_what_is_kept_is_the_file_of_the_command(app: Guard, planned: tuple[Path, Plan]) -> None:
    folder, plan = planned
    keep_new(app, folder)
    assert (folder / "pair-plan.json").read_text(encoding="utf-8") == kept_text(plan)
    assert "pair-plan" not in get(app, "/").text
    assert "Keep this plan" in get(app, "/week/pair?anew=1").text


def test_a_late_parcel_moves_what_the_command_moves_and_says_why(
    app: Guard, planned: tuple[Path, Plan], shop: Shop
) -> None:
    folder, _ = planned
    text = f'[state]\nplan = "pair-plan.json"\nnow = "{NOW}"\nothers = "as-planned"\n'
    text += "".join(f'[[late]]\nsupplier = "{s}"\nexpected = "{d}"\n' for s, d in LATE.items())
    (folder / "state.toml").write_text(text, encoding="utf-8")
    study = study_batch(shop, load_batch(folder / "pair.toml", shop))
    again = plan_again(study, load_state(folder / "state.toml"), Search(engine="auto"))
    (folder / "state.toml").unlink()
    moved = change_words(again.plan.changed)
    assert any("parts-house comes on Mon 19 Oct" in one for one in moved)
    got = get(app, asked_with())
    shown = flat(words(got))
    for line in (*moved, *promise_lines(again.plan)[1:], *moved_promises(again)):
        assert flat(line) in shown
    assert 'class="moved"' in got.text
    fields = {name: hidden(got, name) for name in ("again", "seen", "now", "late.parts-house")}
    assert post(app, "/week/pair", fields).status == 303
    now_kept = read_kept((folder / "pair-plan.json").read_bytes(), "pair-plan.json")
    assert f"{now_kept.made:%Y-%m-%d %H:%M}" == NOW
    assert now_kept.promised == again.plan.promised
    assert set(now_kept.late) == {(b[0], b[1], b[2]) for b in again.plan.late}


def test_who_looks_on_sees_days_and_promises_and_no_money(app: Guard, desk_of: Desk) -> None:
    for path in ("/week/pair?anew=1", asked_with()):
        mine = get(app, path).text
        assert "USD" in mine
        desk_of.looking = True
        try:
            theirs = get(app, path)
        finally:
            desk_of.looking = False
        assert theirs.status == 200
        assert "USD" not in theirs.text
        assert "Done and promised" in theirs.text
        assert '<h2 id="k-days">' in theirs.text
        assert "Keep this plan" not in theirs.text


def test_by_the_ledger_where_a_job_of_the_plan_is_booked(
    app: Guard, planned: tuple[Path, Plan], shop: Shop
) -> None:
    folder, _ = planned
    assert "taken as done, because they were planned till now" in words(
        get(app, asked_with("2026-10-12 17:00", {}))
    )
    desk = desk_in(folder, shop)
    from estimator.server.entries import Entries

    asked = desk.ask("short-scale-bass", Entries())
    with Ledger(folder / "ledger.sqlite", new=True) as books:
        book(
            books,
            booking_of(asked.job, "USD", str(asked.file.path.absolute())),
            read_moment("2026-10-05 09:00"),
        )
    got = words(get(app, asked_with("2026-10-12 17:00", {})))
    assert "taken as done, because they were planned till now" not in got
    assert "a of the plan is not booked" not in got


@pytest.mark.parametrize(
    ("query", "said"),
    [
        ("now=2026-10-06T08:00&late.parts-house=2026-10-01", "not in the future"),
        ("now=2026-10-06T08:00&late.parts-house=soon", "not a day and time"),
        ("now=yesterday", "not a day and time"),
        ("now=2020-01-01T08:00", "before the plan begins"),
        ("now=2026-10-06T08:00&late.nobody=2026-10-19", "nothing was ordered of this supplier"),
        ('now=2026-10-06T08:00&late."%5D%0A[state]=2026-10-19', "nothing was ordered of this supplier"),
        ("now=%22%0A%5B%5Blate%5D%5D", "not a day and time"),
        ("seen=other", "another plan of this batch was kept"),
        ("now=2026-10-06T08:00&late.parts-house=<script>alert(1)</script>", "not a day and time"),
    ],
)
def test_what_cannot_be_read_stays_in_the_form(app: Guard, query: str, said: str) -> None:
    got = get(app, f"/week/pair?{query}")
    assert got.status == 422
    assert said in unescape(got.text)
    assert "<script>alert" not in got.text
    assert "Keep this plan in place of it" not in got.text
    assert "Has a parcel not come?" in got.text


def test_of_two_tabs_the_second_keeps_nothing_unseen(app: Guard, planned: tuple[Path, Plan]) -> None:
    folder, _ = planned
    page = keep_new(app, folder)
    before = (folder / "pair-plan.json").read_bytes()
    late = post(app, "/week/pair", {name: hidden(page, name) for name in ("version", "seen")})
    assert late.status == 422
    assert "another plan of this batch was kept" in late.text
    mine = get(app, asked_with())
    fields = {name: hidden(mine, name) for name in ("again", "seen", "now", "late.parts-house")}
    assert post(app, "/week/pair", fields).status == 303
    assert post(app, "/week/pair", fields).status == 422  # the other tab, opened before
    changed = get(app, "/week/pair?anew=1")
    fields = {name: hidden(changed, name) for name in ("version", "seen")}
    (folder / "pair.toml").write_text(BATCH.replace("2026-10-20", "2026-10-21"), encoding="utf-8")
    assert post(app, "/week/pair", fields).status == 422
    (folder / "pair.toml").write_text(BATCH, encoding="utf-8")
    assert (folder / "pair-plan.json").read_bytes() != before
    assert post(app, "/week/pair", fields, word="of-yesterday").status == 403


def test_a_kept_plan_that_is_a_link_or_damaged_is_refused_in_words(
    app: Guard, planned: tuple[Path, Plan]
) -> None:
    folder, _ = planned
    path = folder / "pair-plan.json"
    path.write_text('{"schema": 1', encoding="utf-8")
    assert "not a saved plan" in get(app, "/week/pair").text
    path.unlink()
    path.symlink_to(folder / "pair.toml")
    got = get(app, "/week/pair")
    assert got.status == 422
    assert "is a link" in got.text
    path.unlink()
