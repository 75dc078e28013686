"""The job card says what the bench needs where it needs it: figures, drawings, cautions at their task, precautions first."""

from __future__ import annotations

import io
import random
from collections.abc import Collection
from decimal import Decimal
from typing import Any

import pytest
from openpyxl import load_workbook

from estimator.choose.study import Study, make_estimate, study_job
from estimator.core.errors import InputError
from estimator.core.units import lengths_as_read
from estimator.workbook.write.customer_page import cautions
from estimator.workbook.write.quote import quote_bytes
from tests.drawn_jobs import NAMES, drawn, example, the_shop

WORK, NO, KEY, PLANNED = 3, 2, 0, 5


def card_of(study: Study, chosen: Collection[str]) -> list[tuple[Any, ...]]:
    page = load_workbook(io.BytesIO(quote_bytes(study, chosen=chosen)))["Job card"]
    return [tuple(cell.value for cell in row) for row in page.iter_rows(max_col=9)]


@pytest.fixture(scope="module")
def study() -> Study:
    return study_job(the_shop(), example("tight-commission"))


BORED = ("hardtail-bridge-standard", "ready-cut-nut-slippery-nut", "heel-ferrules-standard", "set-up")
WARNED = (*BORED, "bridge-pickup-soapbar-standard", "guard-from-blank-economy", "hidden-chamber")


def test_figures_stand_at_their_task(study: Study) -> None:
    """The nut: 3.3 mm thick on a seat of 3.18 (rule R38); the ferrule seats and the new screw holes with their bits."""
    rows = {str(row[KEY]): str(row[WORK]) for row in card_of(study, BORED) if row[KEY]}
    nut = next(text for key, text in rows.items() if key.startswith("run:fit-preslotted-nut"))
    assert "Thin the nut by" in nut
    bored = next(text for key, text in rows.items() if key.startswith("run:drill-hole@bridge-holes"))
    assert "drill 2.3 mm or 3/32 in" in bored
    ferrules = next(text for key, text in rows.items() if key.startswith("run:drill-neck-ferrules"))
    assert "Bore 4 ferrule seats" in ferrules
    assert "Drawn: Ferrule seats" in ferrules
    block = next(text for key, text in rows.items() if key.startswith("run:block-tremolo"))
    assert "Not drawn: cut it to the gap" in block


@pytest.mark.slow
def test_each_caution_of_the_fit_stands_once(study: Study) -> None:
    text = "\n".join(str(cell) for row in card_of(study, WARNED) for cell in row if cell)
    said = [lengths_as_read(line, study.shop.lengths, beside=True) for line in cautions(study, WARNED)]
    assert len(said) > 2
    assert {line: text.count(line) for line in said} == dict.fromkeys(said, 1)


def test_precautions_come_first_each_in_full_once(study: Study) -> None:
    rows = card_of(study, BORED)
    texts = [[str(cell) for cell in row if cell] for row in rows]
    head = next(n for n, cells in enumerate(texts) if "Work, in this order" in cells)
    before = " ".join(cell for cells in texts[:head] for cell in cells)
    whole = " ".join(cell for cells in texts for cell in cells)
    # every word of a caution at a task is explained at the head, and only there
    words = {
        word
        for row in rows[head + 1 :]
        for line in str(row[WORK]).splitlines()
        if line.startswith("Take care: ")
        for word in line.removeprefix("Take care: ").split(", ")
    }
    assert {"wood dust", "rotating tool", "sharp edges"} <= words
    for word in words:
        assert f"{word[0].upper()}{word[1:]}: " in before
    assert whole.count("gloves at rotating tools") == 1


@pytest.mark.slow
@pytest.mark.parametrize("name", NAMES)
def test_steps_have_no_gaps(name: str) -> None:
    made = study_job(the_shop(), example(name))
    numbers = [row[NO] for row in card_of(made, ("set-up",)) if str(row[KEY]).startswith("run:")]
    assert numbers == list(range(1, len(numbers) + 1))
    assert len(numbers) > 5


@pytest.mark.parametrize("seed", range(12))
def test_the_minutes_of_the_rows_add_up_to_those_of_the_card(seed: int) -> None:
    """Of drawn jobs and sets: whole minutes in every row, the sum below them, and that is the time of the work."""
    shop, job = drawn(seed)
    made = study_job(shop, job)
    chance = random.Random(seed)
    fitting = [v.upgrade.id for v in made.verdicts if v.outcome != "does-not-fit"]
    chosen: tuple[str, ...] = ()
    for name in chance.sample(fitting, min(len(fitting), 8)):
        try:
            made.costing.estimate((*chosen, name))
            make_estimate(made, (*chosen, name))
        except InputError:
            continue
        chosen = (*chosen, name)
    priced = make_estimate(made, chosen)
    exact = sum(Decimal(line.minutes + line.setup) / 100 for line in (*priced.lines, *priced.desk))
    rows = card_of(made, priced.chosen)
    shown = [row[PLANNED] for row in rows if row[KEY] and str(row[KEY]).startswith("run:")]
    (total,) = [row[PLANNED] for row in rows if row[WORK] == "Minutes in all"]
    assert len(shown) > 3
    assert all(value == int(value) >= 0 for value in shown)
    assert sum(shown) == total
    assert abs(total - exact) <= Decimal("0.51")
