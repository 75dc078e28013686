"""The shop's own numbers on the page: what the commands show and write, taken over once seen, and taken back."""

from __future__ import annotations

import re
from html import unescape
from pathlib import Path

import pytest

from estimator.estimate.ways import JOINED
from estimator.learn.calibrate import calibrate
from estimator.learn.every_value import PARTS
from estimator.learn.evidence import works_of
from estimator.learn.menu_entries import read_entries
from estimator.learn.proposal import Proposal, taught_by
from estimator.ledger.clock import read_moment
from estimator.ledger.store import Ledger
from estimator.model import Shop
from estimator.server.desk import Desk
from estimator.server.folder import JobFolder
from estimator.server.guard import Guard
from estimator.tables.load import load_shop
from tests.learn.test_times import fill
from tests.server.desks import EXAMPLES, app_of, get, post
from tests.server.test_entries import shop
from tests.server.test_pages import HOSTILE
from tests.server.test_story import hidden

__all__ = ["shop"]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A shop of its own with a ledger of twelve finished jobs, and one open job."""
    mine = tmp_path / "shop"
    mine.mkdir()
    (mine / "tasks.csv").write_text("id,setup_min\nquick-look,2\n", encoding="utf-8")
    with Ledger(mine / "ledger.sqlite", new=True) as books:
        fill(books, 12)
    jobs = tmp_path / "jobs"
    jobs.mkdir()
    (jobs / "bass.toml").write_bytes((EXAMPLES / "short-scale-bass.toml").read_bytes())
    return mine


def desk_of(folder: Path) -> Desk:
    return Desk(load_shop(folder), JobFolder(folder.parent / "jobs"), folder / "ledger.sqlite", folder)


@pytest.mark.slow
def test_what_was_learned_is_taken_over_once_seen_and_taken_back(folder: Path) -> None:
    desk = desk_of(folder)
    app = app_of(desk)
    before = (folder / "tasks.csv").read_bytes()
    page = get(app, "/learned")
    with Ledger(folder / "ledger.sqlite") as books:
        taught = taught_by(books, desk.shop, folder, read_moment(None))
    taken = Proposal.of(PARTS, taught)
    assert taken.tasks
    for one in taken.tasks:
        assert f">{one.task}<" in page.text
    assert unescape(re.findall(r"checked> ([^<]+)<", page.text)[0]) == Proposal.of(("times",), taught).words
    assert "Take the last back" not in page.text

    fields = {"seen": hidden(page, "seen"), "part.times": "1", "do": "over"}
    assert post(app, "/learned", fields, word="of-yesterday").status == 403
    assert post(app, "/learned", {**fields, "seen": "something else"}).status == 422
    assert post(app, "/learned", {"seen": fields["seen"], "do": "over"}).status == 422  # nothing is ticked
    assert (folder / "tasks.csv").read_bytes() == before

    job_page = get(app, "/job/bass")
    assert post(app, "/learned", fields).status == 303
    assert desk.numbers == 1
    here, read = works_of(desk.shop), works_of(load_shop(folder))
    for one in taken.tasks:
        task, _, way = one.task.partition(JOINED)
        file, row = ("task_methods.csv", f"\n{task},{way},") if way else ("tasks.csv", f"\n{task},")
        assert here[one.task].run_min_likely == read[one.task].run_min_likely
        assert (folder / file).read_text(encoding="utf-8").count(row) == 1
    assert post(app, "/learned", fields).status == 422  # the same form once more, from another tab

    old = {name: hidden(job_page, name) for name in ("version", "entries", "seen", "numbers")}
    got = post(app, "/job/bass/agree", old)
    assert got.status == 422
    assert "numbers were changed since this page was opened" in got.text

    assert "Take the last back" in get(app, "/learned").text
    assert post(app, "/learned", {"do": "back"}).status == 303
    again = load_shop(folder)
    assert {n: t.run_min_likely for n, t in again.tasks.items()} == {
        n: t.run_min_likely for n, t in load_shop_before(folder, before).tasks.items()
    }
    assert desk.numbers == 2
    assert post(app, "/learned", {"do": "back"}).status == 422


def load_shop_before(folder: Path, tasks: bytes) -> Shop:
    was = folder.parent / "was"
    was.mkdir()
    (was / "tasks.csv").write_bytes(tasks)
    return load_shop(was)


@pytest.mark.slow
def test_the_fit_to_the_own_menu_is_that_of_the_command(folder: Path) -> None:
    desk = desk_of(folder)
    app = app_of(desk)
    jobs = [name for name, job in desk.shop.menu.jobs.items() if not job.beside][:3]
    typed = {jobs[0]: "65", jobs[1]: "40", jobs[2]: "35 min"}
    found = calibrate(desk.shop, read_entries([f"{n}={v}" for n, v in typed.items()], desk.shop))
    fields = {f"own.{name}": value for name, value in typed.items()}
    got = post(app, "/own-menu", {**fields, "do": "fit"})
    assert got.status == 200
    for one in found.held:
        for cents in (one.wanted, one.before, one.after):
            assert f">{cents / 100:.2f}<" in got.text
    assert f"{found.charge} fitted" in unescape(got.text)
    assert re.findall(r'value="(65|40|35 min)"', got.text).__len__() == 3
    over = {**fields, "do": "over", "numbers": hidden(got, "numbers")}
    assert post(app, "/own-menu", {**over, "numbers": "7"}).status == 422
    assert not (folder / "shop.toml").exists()
    assert post(app, "/own-menu", over).status == 303
    assert desk.shop.terms.charge_per_hour == found.charge
    assert post(app, "/learned", {"do": "back"}).status == 303
    assert desk.shop.terms.charge_per_hour == found.charge_before


@pytest.fixture(scope="module")
def plain(shop: Shop, tmp_path_factory: pytest.TempPathFactory) -> Guard:
    """The page on the tables that come along."""
    return app_of(Desk(shop, JobFolder(tmp_path_factory.mktemp("plain"))))


def test_without_a_folder_of_its_own_nothing_is_taken_over(plain: Guard) -> None:
    assert "--shop DIR" in get(plain, "/learned").text
    for path, fields in (("/learned", {"do": "back"}), ("/learned", {"do": "over", "part.times": "1"})):
        got = post(plain, path, fields)
        assert got.status == 422
        assert "--shop DIR" in got.text


@pytest.mark.parametrize(
    "value", ["cheap", "-5", "1e9", "/etc/passwd", "x.csv", HOSTILE, "=SUM(1)", "\n[shop]"]
)
def test_what_is_typed_into_the_menu_is_never_a_file_nor_markup(plain: Guard, value: str) -> None:
    got = post(plain, "/own-menu", {"own.set-up-hardtail": value, "own./etc/passwd": "5", "do": "fit"})
    assert got.status == 422
    assert "<script>alert" not in got.text
    assert "root:" not in got.text
    assert "Traceback" not in got.text


def test_an_empty_menu_says_what_is_missing(plain: Guard) -> None:
    assert get(plain, "/own-menu").status == 200
    got = post(plain, "/own-menu", {"do": "fit"})
    assert got.status == 422
    assert "nothing of your menu is told" in unescape(got.text).lower()
