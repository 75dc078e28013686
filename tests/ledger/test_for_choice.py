"""``choose`` and ``plan`` read the stock from the ledger, less what accepted jobs hold."""

from __future__ import annotations

import json
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

import pytest

from estimator.cli.main import run
from estimator.core.errors import InputError
from estimator.input.batch.load import load_batch
from estimator.input.job.load import load_job
from estimator.ledger import jobs
from estimator.ledger.clock import Moment, read_moment
from estimator.ledger.for_choice import (
    batch_with_stock,
    job_with_stock,
    jobs_of_a_year,
    ledger_names,
    without_declined,
)
from estimator.ledger.stock import stock_move
from estimator.ledger.store import Ledger
from estimator.ledger.timers import begin, correct, end, typed
from tests.ledger.shop import accepted, at, begun, booking
from tests.plan.bench import EXAMPLES, shop

NOW = at("2026-10-06 09:00")
M = 1_000_000
STRINGS = "c-strings-guitar"
A_SET = Decimal(7)


def job_file(folder: Path, name: str = "j", more: str = "") -> Path:
    path = folder / f"{name}.toml"
    path.write_text(
        f'[job]\nid = "{name}"\nkind = "own"\n[instrument]\nkind = "guitar-solid"\n[upgrades]\n'
        f'open = ["new-strings"]\nrequired = ["new-strings"]\n{more}'
    )
    return path


def cash(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> Decimal:
    assert run([*arguments, "--json"]) == 0
    return Decimal(json.loads(capsys.readouterr().out)["totals"]["cash"])


@pytest.mark.slow
def test_choose_takes_strings_off_the_cash_once_and_leaves_what_is_held(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job, file = str(job_file(tmp_path)), str(tmp_path / "ledger.sqlite")
    bare = cash(["choose", job], capsys)
    from_ledger = ["choose", job, "--stock-from-ledger", "--ledger", file]
    with begun(tmp_path) as ledger:
        stock_move(ledger, "bought", STRINGS, 2 * M, NOW)
        stock_move(ledger, "bought", "c-solder", 2 * M, NOW)
    assert bare - cash(from_ledger, capsys) == A_SET
    with begun(tmp_path) as ledger:
        accepted(ledger, "other", needs={STRINGS: 2 * M})
    assert cash(from_ledger, capsys) == bare
    with begun(tmp_path) as ledger:
        accepted(ledger, "j", needs={STRINGS: M})
        stock_move(ledger, "bought", STRINGS, M, NOW)
    assert bare - cash(from_ledger, capsys) == A_SET  # what the job itself holds is its own
    assert run(["choose", job, "--ledger", file]) == 2
    assert "add --stock-from-ledger" in capsys.readouterr().err
    assert run(["choose", job, "--stock-from-ledger", "--ledger", str(tmp_path / "none")]) == 2
    assert "no ledger here" in capsys.readouterr().err


def test_a_stock_that_the_job_names_goes_first_and_that_is_told(tmp_path: Path) -> None:
    job = load_job(job_file(tmp_path, more=f"[stock]\n{STRINGS} = 1\n"), shop())
    with begun(tmp_path) as ledger:
        stock_move(ledger, "bought", STRINGS, 5 * M, NOW)
        same, told = job_with_stock(ledger, shop(), job)
    assert same == job
    assert "names a stock of its own" in str(told[0])
    assert told[0].severity == "warning"


def test_a_batch_shares_one_stock_of_the_ledger(tmp_path: Path) -> None:
    text = '[batch]\nid = "batch"\nstart = 2026-10-05\n'
    for name in ("a", "b"):
        job_file(tmp_path, name)
        text += f'[[job]]\nid = "{name}"\nfile = "{name}.toml"\n'
    (tmp_path / "batch.toml").write_text(text)
    file = load_batch(tmp_path / "batch.toml", shop())
    with begun(tmp_path) as ledger:
        stock_move(ledger, "bought", STRINGS, 3 * M, NOW)
        stock_move(ledger, "bought", "some-knob", M, NOW)
        accepted(ledger, "a", needs={STRINGS: M})
        accepted(ledger, "elsewhere", needs={STRINGS: M})
        found, told = batch_with_stock(ledger, shop(), file)
        assert dict(found.stock) == {STRINGS: Decimal(2)}
        assert told == ()
        again, told = batch_with_stock(ledger, shop(), found)
        assert again == found
        assert "names a stock of its own" in str(told[0])


def test_plan_reads_the_ledger(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job_file(tmp_path, "a")
    batch = tmp_path / "batch.toml"
    batch.write_text('[batch]\nid = "batch"\nstart = 2026-10-05\n[[job]]\nid = "a"\nfile = "a.toml"\n')
    with begun(tmp_path) as ledger:
        stock_move(ledger, "bought", STRINGS, M, NOW)
    cash_out: list[Decimal] = []
    for more in ([], ["--stock-from-ledger", "--ledger", str(tmp_path / "ledger.sqlite")]):
        assert run(["plan", str(batch), "--engine", "rule", "--time-limit", "1", "--json", *more]) == 0
        cash_out.append(Decimal(json.loads(capsys.readouterr().out)["cash"]))
    assert cash_out == [A_SET, 0]


def test_a_batch_knows_its_jobs_by_their_files_whatever_it_calls_them(tmp_path: Path) -> None:
    """What such a job holds is its own to use."""
    job_file(tmp_path, "booked-name")
    (tmp_path / "batch.toml").write_text(
        '[batch]\nid = "batch"\nstart = 2026-10-05\n[[job]]\nid = "one"\nfile = "booked-name.toml"\n'
        '[[job]]\nid = "two"\nfile = "other.toml"\n'
    )
    job_file(tmp_path, "other")
    file = load_batch(tmp_path / "batch.toml", shop())
    with begun(tmp_path) as ledger:
        accepted(ledger, "booked-name", needs={STRINGS: 2 * M})
        stock_move(ledger, "bought", STRINGS, 2 * M, NOW)
        assert ledger_names(ledger, file) == {}  # booked from no file that is known
        with ledger.writing():
            ledger.write("UPDATE job SET file = ?", (str((tmp_path / "booked-name.toml").absolute()),))
        assert ledger_names(ledger, file) == {"one": "booked-name"}
        stocked, _ = batch_with_stock(ledger, shop(), file)
        assert stocked.stock[STRINGS] == 2
        with ledger.writing():
            ledger.write("UPDATE job SET file = 'example:tight-commission'")
        assert ledger_names(ledger, load_batch(EXAMPLES / "batches" / "batch-three.toml", shop())) == {
            "commission": "booked-name"
        }


def test_a_declined_job_leaves_the_batch_by_itself(tmp_path: Path) -> None:
    """Under its own name or booked from its file; taken in again it is back; of all declined there is nothing to plan."""
    for name in ("a", "b"):
        job_file(tmp_path, name)
    (tmp_path / "week.toml").write_text(
        '[batch]\nid = "week"\nstart = 2026-10-05\n[[job]]\nid = "first"\nfile = "a.toml"\n[[job]]\nfile = "b.toml"\n'
    )
    file = load_batch(tmp_path / "week.toml", shop())
    with begun(tmp_path) as ledger:
        assert without_declined(ledger, file) == (file, ())
        for name in ("a", "b"):
            jobs.book(
                ledger,
                jobs.Booking(
                    name, "commission", "", "guitar-solid", "USD", "", file=str(tmp_path / f"{name}.toml")
                ),
                NOW,
            )
        jobs.move(ledger, "a", "declined", NOW)
        left, (told,) = without_declined(ledger, file)
        assert [entry.id for entry in left.jobs] == ["b"]
        assert "first is declined" in told.problem
        assert "ledger move a asked" in told.next_step
        jobs.move(ledger, "b", "declined", NOW)
        with pytest.raises(InputError, match="every job of week is declined"):
            without_declined(ledger, file)
        for name in ("a", "b"):
            jobs.move(ledger, name, "asked", NOW)
        assert without_declined(ledger, file) == (file, ())


@pytest.mark.slow
def test_a_kept_plan_goes_on_without_a_job_that_was_declined(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The batch file is not touched: both the plan taken up again and a new one by the ledger leave the job out."""
    for name in ("a", "b"):
        job_file(tmp_path, name)
    batch, kept = str(tmp_path / "week.toml"), str(tmp_path / "plan.json")
    (tmp_path / "week.toml").write_text(
        '[batch]\nid = "week"\nstart = 2026-10-05\n[[job]]\nfile = "a.toml"\n[[job]]\nfile = "b.toml"\n'
    )
    assert run(["plan", batch, "--save-plan", kept]) == 0
    with begun(tmp_path) as ledger:
        accepted(ledger, "a")
        accepted(ledger, "b")
        jobs.move(ledger, "a", "declined", NOW)
    capsys.readouterr()
    books = ["--ledger", str(tmp_path / "ledger.sqlite")]
    for how in (["--progress", kept, "--now", "2026-10-06 09:00"], ["--stock-from-ledger"]):
        assert run(["plan", batch, *how, *books]) == 0
        out, told = capsys.readouterr()
        assert "a is declined, and left out" in told
        assert "b: done" in out
        assert "a: done" not in out


# ------------------------------------------------------------------------------------- how often work comes up


def polished(ledger: Ledger, job: str, when: Moment, seconds: int = 1800) -> int:
    """A job booked and polished at a moment; the number of the time."""
    jobs.book(ledger, booking(job), when)
    return int(typed(ledger, job, "polish-frets", seconds, when).spell)


def test_a_job_counts_once_for_each_task_that_was_timed_in_the_year(tmp_path: Path) -> None:
    with begun(tmp_path) as ledger:
        polished(ledger, "before", at("2025-10-06 23:59"))
        polished(ledger, "first", at("2025-10-07 00:01"))  # the day before in UTC: the shop's clock counts
        polished(ledger, "twice", at("2026-03-02 10:00"))
        typed(ledger, "twice", "polish-frets", 600, at("2026-03-03 10:00"))
        typed(ledger, "twice", "level-frets", 600, at("2026-03-03 11:00"))
        polished(ledger, "today", at("2026-10-06 23:59"))
        polished(ledger, "after", at("2026-10-07 00:01"))
        # no time at the bench: taken back, and a cure
        correct(ledger, polished(ledger, "not", at("2026-05-04 10:00")), 0, NOW)
        accepted(ledger, "cured")
        begin(ledger, "cured", "polish-frets", at("2026-10-05 11:00"), cure=True)
        end(ledger, at("2026-10-05 12:00"), "cured", "polish-frets")
        assert jobs_of_a_year(ledger, date(2026, 10, 6)) == {"level-frets": 1, "polish-frets": 3}
        assert jobs_of_a_year(ledger, date(2025, 10, 6)) == {"polish-frets": 1}
        assert jobs_of_a_year(ledger, date(2024, 1, 1)) == {}


@pytest.mark.parametrize(("within", "before"), [(3, 1), (1, 0), (0, 1)])
def test_choose_tells_what_a_missing_tool_would_save_a_year(
    within: int, before: int, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "j.toml"
    file.write_text(
        '[job]\nid = "j"\nkind = "own"\n[instrument]\nkind = "guitar-solid"\n[upgrades]\n'
        'open = ["polish-frets"]\nrequired = ["polish-frets"]\n[methods]\nwithout_tools = ["t-rotary"]\n'
    )
    now = read_moment(None)
    with begun(tmp_path) as ledger:
        for number, days in enumerate((10, 100, 300)[:within] + (400,) * before):
            polished(ledger, f"done-{number}", Moment(now.utc - timedelta(days=days), now.ahead_min))
    why = ["choose", str(file), "--why"]
    from_ledger = [*why, "--stock-from-ledger", "--ledger", str(tmp_path / "ledger.sqlite")]
    ways = []
    for arguments in (why, from_ledger):
        assert run([*arguments, "--json"]) == 0
        ways.append({way["other"]: way for way in json.loads(capsys.readouterr().out)["other_ways"]})
    assert {way["would_save_a_year"] for way in ways[0].values()} == {None}
    wheels = ways[1]["wheels"]
    assert wheels["missing_tools"] == ["t-rotary"]
    saves = -within * Decimal(wheels["costs_more"])
    assert Decimal(wheels["would_save_a_year"]) == saves
    assert (saves > 0) == (within > 0)
    assert ways[1]["cloth-grades"]["would_save_a_year"] is None
    assert run(from_ledger) == 0
    said = " ".join(capsys.readouterr().out.split())
    jobs_told = "1 job" if within == 1 else f"{within} jobs"
    if within:
        assert (
            f"In the last year your ledger holds {jobs_told} with this task: at this job's amount it would save "
            f"about {saves} USD a year."
        ) in said
    assert ("No such job in your ledger's last year." in said) == (within == 0)
