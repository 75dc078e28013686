"""Bad input at the command line: exit status 2, words a bench worker can act on, no traceback, no loss."""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest

from estimator.cli.main import run

GOOD = """
[job]
id = "bench-one"
kind = "commission"

[instrument]
kind = "guitar-solid"
nut_clear_b = 0.8

[wish.require]
nut-function = 3
"""

#: name -> (job file as text or bytes, what the message must say)
BAD_JOBS: dict[str, tuple[str | bytes, tuple[str, ...]]] = {
    "broken TOML": ("[job\nid = 1", ("row 1",)),
    "unknown key": (
        GOOD.replace("nut_clear_b", "nut_cleer_b"),
        ("nut_cleer_b", "did you mean", "nut_clear_b"),
    ),
    "unknown section": (GOOD + "\n[budgett]\nmoney = 3\n", ("budgett", "did you mean")),
    "wrong unit": (GOOD.replace("0.8", '"0.8 lb"'), ("nut_clear_b", "0.8 lb", "mm")),
    "impossible length": (GOOD.replace("0.8", "800"), ("nut_clear_b", "800")),
    "text where a number belongs": (GOOD.replace("0.8", '"high"'), ("nut_clear_b", "high", "number")),
    "not a number": (GOOD.replace("0.8", "nan"), ("nut_clear_b", "NaN")),
    "infinite": (GOOD.replace("0.8", "inf"), ("nut_clear_b", "Infinity")),
    "yes where a number belongs": (GOOD.replace("0.8", "true"), ("nut_clear_b", "number")),
    "decimal comma": (GOOD.replace("0.8", '"0,8"'), ("nut_clear_b", "0,8", "comma")),
    "huge number": (GOOD.replace("0.8", "1e30"), ("nut_clear_b",)),
    "unknown attribute": (GOOD.replace("nut-function", "nut-funktion"), ("nut-funktion", "did you mean")),
    "level out of range": (GOOD.replace("nut-function = 3", "nut-function = 7"), ("nut-function", "7", "4")),
    "blank id": (GOOD.replace('"bench-one"', '""'), ("id",)),
    "wrong kind of job": (GOOD.replace('"commission"', '"comission"'), ("comission", "commission")),
    "negative budget": (GOOD + "\n[budget]\nmoney = -5\n", ("money", "-5")),
    "unknown part class": (
        GOOD + '\n[[part]]\nid = "x"\nclass = "p-tunner6"\nprice = 3\n',
        ("p-tunner6", "did you mean"),
    ),
    "negative part price": (
        GOOD + '\n[[part]]\nid = "x"\nclass = "p-tuner6"\ngrade = "standard"\nprice = -3\n',
        ("price", "-3"),
    ),
    "unknown dimension of a part": (
        GOOD + '\n[[part]]\nid = "x"\nclass = "p-tuner6"\nprice = 3\nhole_dd = 8\n',
        ("hole_dd", "did you mean"),
    ),
    "two parts of one name": (
        GOOD + '\n[[part]]\nid = "x"\nclass = "p-tuner6"\nprice = 3\n' * 2,
        ("x",),
    ),
    "unknown upgrade": (GOOD + '\n[upgrades]\nrequired = ["set-upp"]\n', ("set-upp", "set-up")),
    "required and refused": (
        GOOD + '\n[upgrades]\nrequired = ["set-up"]\nrefused = ["set-up"]\n',
        ("set-up", "refused"),
    ),
    "never scored": (GOOD.replace("nut-function", "resonance"), ("resonance",)),
    "wanted before received": (
        GOOD.replace(
            'kind = "commission"', 'kind = "commission"\nreceived = 2026-05-02\nwanted_by = 2026-05-01'
        ),
        ("wanted_by",),
    ),
    "not UTF-8": (GOOD.replace("bench-one", "b\xe4nch").encode("latin-1"), ("UTF-8",)),
    "duplicate key": (
        GOOD.replace("nut_clear_b = 0.8", "nut_clear_b = 0.8\nnut_clear_b = 0.9"),
        ("nut_clear_b",),
    ),
}


def complaint(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> str:
    assert run(arguments) == 2
    printed = capsys.readouterr()
    assert "Traceback" not in printed.err
    assert "fault in the program" not in printed.err
    return printed.err


@pytest.mark.slow
@pytest.mark.parametrize("kind", BAD_JOBS)
def test_a_bad_job_file_is_explained(kind: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    content, said = BAD_JOBS[kind]
    path = tmp_path / "job.toml"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())

    words = complaint(["check", str(path)], capsys)

    assert "job.toml" in words
    for piece in said:
        assert piece in words, words


def test_the_good_job_file_is_good(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "job.toml"
    path.write_text(GOOD)
    assert run(["check", str(path)]) == 0
    assert "in order" in capsys.readouterr().out


@pytest.mark.parametrize("ending", ["\r\n", "\n"])
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
def test_line_ends_and_byte_order_marks_do_not_matter(ending: str, mark: bytes, tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_bytes(mark + GOOD.replace("\n", ending).encode())
    assert run(["check", str(path)]) == 0


def test_a_missing_file_names_its_neighbour(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "bench-one.toml").write_text(GOOD)
    words = complaint(["choose", str(tmp_path / "bench-two.toml")], capsys)
    assert "bench-two.toml" in words
    assert "bench-one.toml" in words


def test_a_folder_instead_of_a_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert "folder" in complaint(["fit", str(tmp_path)], capsys)


def test_an_unknown_example_lists_the_known(capsys: pytest.CaptureFixture[str]) -> None:
    words = complaint(["choose", "example:school-gitar"], capsys)
    assert "school-guitar" in words


def test_an_unknown_upgrade_to_price(capsys: pytest.CaptureFixture[str]) -> None:
    words = complaint(["estimate", "example:school-guitar", "--with", "set-upp"], capsys)
    assert "did you mean “set-up”?" in words


def test_an_unknown_command_and_option(capsys: pytest.CaptureFixture[str]) -> None:
    assert "chose" in complaint(["chose", "x.toml"], capsys)
    assert "--budgett" in complaint(["choose", "x.toml", "--budgett", "3"], capsys)
    assert "JOB" in complaint(["choose"], capsys)


def test_an_option_that_a_command_has_not_names_those_that_it_has(capsys: pytest.CaptureFixture[str]) -> None:
    words = complaint(["draw", "x.toml", "--foldr", "plans"], capsys)
    assert "draw has no option --foldr; accepted: --upgrade, --folder, --template" in words
    assert "did you mean “--folder”?" in words
    words = complaint(["ledger", "pay", "blue", "-20", "--kind", "refund"], capsys)
    assert "a number below 0 is not accepted here" in words


def test_an_unknown_aim(capsys: pytest.CaptureFixture[str]) -> None:
    words = complaint(["choose", "example:school-guitar", "--aim", "costs"], capsys)
    assert "costs" in words
    assert "cost" in words


def test_complaints_as_data(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "job.toml"
    path.write_text(GOOD.replace("0.8", '"high"'))
    assert run(["check", str(path), "--json"]) == 2
    data = json.loads(capsys.readouterr().out)
    assert data["status"] == "bad-input"
    assert data["errors"][0]["column"].endswith("nut_clear_b")


@pytest.mark.slow
@pytest.mark.parametrize(
    ("target", "said"),
    [
        ("nowhere/quote.xlsx", "nowhere"),
        ("quote.csv", ".xlsx"),
        ("quote", ".xlsx"),
    ],
)
def test_a_quote_that_cannot_be_written(
    target: str, said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = complaint(["quote", "example:tight-commission", "-o", str(tmp_path / target)], capsys)
    assert said in words
    assert list(tmp_path.iterdir()) == []


@pytest.mark.slow
def test_an_existing_quote_is_not_replaced_unasked(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    existing = tmp_path / "tight-commission-bench.xlsx"
    existing.write_bytes(b"precious")
    words = complaint(["quote", "example:tight-commission"], capsys)
    assert "--force" in words
    assert existing.read_bytes() == b"precious"
    assert os.listdir(tmp_path) == [existing.name]
    assert run(["quote", "example:tight-commission", "--force"]) == 0
    assert existing.read_bytes()[:2] == b"PK"


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("tasks.csv", "id;what\nx;y\n", ("tasks.csv",)),
        ("tasks.csv", "", ("tasks.csv",)),
        ("taks.csv", "id\n", ("taks.csv", "tasks.csv")),
        ("shop.toml", "charge_per_hour = -3\n", ("charge_per_hour",)),
        ("metals.csv", "id,level\nx,abc\n", ("metals.csv",)),
        (
            "task_order.csv",
            "before,after,reason,direct,basis,source\nfinal-check,strings-off,,no,memory,\n",
            ("task_order.csv", "strings-off", "final-check"),
        ),
        (
            "consumables.csv",
            "id,what,pack,price,unit,units_per_pack,shelf_months,billed_as,on_shelf,abrasive,used_for,basis,source\n"
            'c-x,thing,1,"3,5,0",pc,1,,wear,yes,no,,memory,\n',
            ("consumables.csv", "row 2", "price", "3,5,0"),
        ),
        (
            "task_consumables.csv",
            "task,consumable,quantity,instruments,basis,source\nstring-up,c-nothing,1,any,memory,\n",
            ("c-nothing",),
        ),
        (
            "known_jobs.csv",
            "id,what,low_min,high_min,basis,source\nbone-nut,x,1,2,memory,\nbone-nut,x,1,2,memory,\n",
            ("bone-nut", "row 3", "rows 2 and 3"),
        ),
    ],
)
def test_a_bad_shop_is_explained(
    name: str, content: str, said: tuple[str, ...], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / name).write_text(content)
    words = complaint(["check", "--shop", str(tmp_path)], capsys)
    for piece in said:
        assert piece in words, words


def test_a_shop_that_is_not_there(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert "no-shop" in complaint(["check", "--shop", str(tmp_path / "no-shop")], capsys)


def test_a_batch_that_names_a_file_no_disk_could_hold(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    batch, name = tmp_path / "batch.toml", "x" * 20_000 + ".toml"
    batch.write_text(
        '[batch]\nid = "one"\nstart = 2026-10-05\n[[person]]\nid = "b"\nskill = 4\n'
        f'[[job]]\nid = "a"\nfile = "{name}"\n'
    )
    said = complaint(["plan", str(batch)], capsys)
    assert "the file cannot be read" in said
    assert "; next: " in said
    assert len(said) < 1500


@pytest.mark.parametrize("named", ["5 mm", "nowhere.toml", ".", "a/b.toml"])
def test_a_job_file_that_cannot_be_opened_is_told_where_the_batch_names_it(
    named: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    batch = tmp_path / "week.toml"
    batch.write_text(
        f'[batch]\nid = "week"\nstart = 2026-10-05\n\n[[job]]\nfile = "{named}"\n', encoding="utf-8"
    )
    words = complaint(["plan", str(batch)], capsys)
    assert f"{batch}, row 6, [[job]] file: " in words
    assert f"found “{named}”" in words


@pytest.mark.parametrize("kind", ["own", "resale"])
def test_what_is_not_a_customers_is_not_asked_for_a_wish_before_it_is_refused(
    kind: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = tmp_path / "mine.toml"
    job.write_text(
        f'[job]\nid = "mine"\nkind = "{kind}"\nwhat = "x"\n[instrument]\nkind = "guitar-solid"\n',
        encoding="utf-8",
    )
    wanted = ["quote", str(job), "-o", str(tmp_path / "q.xlsx"), "--page", str(tmp_path / "q.html")]
    assert "only client work is quoted" in complaint(wanted, capsys)
    # a workbook for the bench may be of any job, if there is work in it
    assert "there is no work to quote" in complaint(wanted[:4], capsys)
    assert not list(tmp_path.glob("q.*"))
