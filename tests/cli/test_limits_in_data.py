"""``limits`` and ``measure_first`` of choose, estimate and price as data: the same as the text tells, and adding up."""

from __future__ import annotations

import json
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from estimator.cli.common import job_path
from estimator.cli.main import run
from estimator.report.text.terminal import hours

SET = ["bridge-pickup-stack-slim-stack", "clean-controls", "set-up", "shield-paint"]


def shown(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> tuple[dict, str]:  # type: ignore[type-arg]
    """What a command prints as data, and as text on one line."""
    assert run([*arguments, "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert run(arguments) == 0
    return data, " ".join(capsys.readouterr().out.split())


@pytest.fixture
def job(tmp_path: Path) -> Path:
    """A job with a limit on money, on hours and on the day; each is too tight for the set below."""
    text = job_path("example:tight-commission").read_text(encoding="utf-8")
    # a day on which the shop is shut
    text = text.replace("= 2026-10-05", "= 2026-10-10").replace("= 2026-10-30", "= 2026-10-10")
    start, rest = text.split("[budget]")
    after = rest[rest.index("\n[") :] if "\n[" in rest else ""
    path = tmp_path / "job.toml"
    path.write_text(start + "[budget]\nmoney = 100\nhours = 2\n" + after, encoding="utf-8")
    return path


@pytest.mark.slow
def test_limits_that_a_named_set_goes_beyond(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    data, text = shown(["estimate", str(job), *(f"--with={name}" for name in SET)], capsys)
    limits = {limit["kind"]: limit for limit in data["limits"]}
    assert set(limits) == {"money", "minutes", "due"}
    assert len(data["limits"]) == 3
    money, minutes, due = limits["money"], limits["minutes"], limits["due"]
    assert (money["most"], money["comes_to"]) == ("100.00", data["totals"]["to_pay"])
    assert Decimal(money["left"]) == Decimal(money["most"]) - Decimal(money["comes_to"]) < 0
    assert minutes["most"] == 120
    assert minutes["left"] == pytest.approx(minutes["most"] - minutes["comes_to"])
    assert date.fromisoformat(due["most"]) == date(2026, 10, 10)
    assert due["left"] == (date.fromisoformat(due["most"]) - date.fromisoformat(due["comes_to"])).days < 0
    for limit in data["limits"]:
        assert f"Limit: {limit['words']}; " in text
    assert f"{money['left'].lstrip('-')} USD BEYOND it" in text
    assert f"{hours(round(-minutes['left'] * 100))} BEYOND it" in text
    assert f"done on {due['comes_to']} at the soonest: TOO LATE" in text


@pytest.mark.slow
@pytest.mark.parametrize(
    "arguments",
    [
        ["choose", "example:tight-commission"],
        ["price", "example:tight-commission"],
        ["estimate", "example:tight-commission", *(f"--with={name}" for name in SET)],
        ["choose", "example:short-scale-bass"],
    ],
    ids=" ".join,
)
def test_what_to_measure_first_in_its_order(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    data, text = shown(arguments, capsys)
    first = data["measure_first"]
    assert 1 <= len(first) <= 3
    for one in first:
        exact = Decimal(one["moves"]) * Decimal(str(one["chance"]))
        assert abs(exact - Decimal(one["worth"])) <= Decimal("0.005")
        assert f"moves the cost by up to {one['moves']} USD, odds {100 * one['chance']:.0f} %" in text
    assert [one["field"] for one in first] == sorted(
        (one["field"] for one in first),
        key=lambda name: next((-Decimal(one["worth"]), name) for one in first if one["field"] == name),
    )
    told = text.split("Measure first, by odds x money: ")[1]
    places = [told.index(f"{one['field']}, {one['what']}") for one in first]
    assert places == sorted(places)
    assert data["limits"]
    for limit in data["limits"] if arguments[0] != "price" else ():  # a price tells those that it goes beyond
        assert f"Limit: {limit['words']}; " in text


@pytest.mark.slow
def test_no_set_has_neither(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["choose", "example:impossible-wish", "--json"]) == 1
    data = json.loads(capsys.readouterr().out)
    assert data["limits"] == []
    assert data["measure_first"] == []
