"""Difficulty factors: which level an instrument (or the work itself) stands at, and what it multiplies.

Levels named by the work (``FW=stainless`` on a refret) go before those of the instrument.
A level that a table does not list counts as 1.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from decimal import Decimal

from msgspec import Struct

from estimator.core.text import family_of
from estimator.model import Reading, RunFactor, Shop, Task
from estimator.model.factor_code import MATERIALS, factor_code

ONE = Decimal(1)
Instrument = Mapping[str, Reading]


def _word(instrument: Instrument, field: str) -> str:
    reading = instrument.get(field)
    return str(reading.value) if reading else ""


def _radius(instrument: Instrument) -> str:
    compound = instrument.get("board_compound")
    if compound is not None and compound.value is True:
        return "compound"
    reading = instrument.get("board_rad")
    if reading is None or not isinstance(reading.value, Decimal):
        return ""
    return "single-under-254" if reading.value < 254 else "single-254-up"


def _bound(instrument: Instrument) -> str:
    reading = instrument.get("board_bound")
    return "bound" if reading is not None and reading.value is True else "open"


def _neck_joint(instrument: Instrument) -> str:
    # fret work on a bolt-on neck always takes the neck off, see the bundle any-fretwork
    return "neck-off" if _word(instrument, "joint") in ("bolt", "") else "set-or-through"


def _crack(instrument: Instrument) -> str:
    return _word(instrument, "crack_at")


def _size(instrument: Instrument) -> str:
    return family_of(_word(instrument, "kind"))


#: factor code -> the level an instrument stands at
LEVEL_OF: dict[str, Callable[[Instrument], str]] = {
    "FW": lambda i: _word(i, "fret_mat"),
    "BW": lambda i: _word(i, "body_wood"),
    "FT": lambda i: _word(i, "fin_type"),
    "FT.colour": lambda i: _word(i, "fin_col"),
    "FB.mask": lambda i: _word(i, "board_mat"),
    "FB.refret": lambda i: _word(i, "board_mat"),
    "FB.clean": lambda i: _word(i, "board_mat"),
    "FB.bind": _bound,
    "BR": _radius,
    "NJ": _neck_joint,
    "NM": lambda i: _word(i, "nut_mat"),
    "NS": lambda i: _word(i, "nut_seat"),
    "NMECH": lambda _: "roller",
    "BT": lambda i: _word(i, "br_type"),
    "AC": lambda i: _word(i, "access"),
    "CD": lambda i: _word(i, "corrosion"),
    "CR": _crack,
    "GP": lambda i: _word(i, "body_wood"),
    "SG": lambda _: "inside",
    "SZ": _size,
}


def _roots(task: Task) -> set[str]:
    return {factor_code(code).root for code in task.factors}


def level_of(code: str, instrument: Instrument, levels: Mapping[str, str]) -> str:
    """The level of ``code`` that counts for a piece of work."""
    root = factor_code(code).root
    for key in (code, root):
        if key in levels:
            return levels[key]
    return LEVEL_OF[code if code in LEVEL_OF else root](instrument)


class FactorCell(Struct, frozen=True):
    """A cell of a table that multiplies a run time: its table, the key of its row, its column, what stands there."""

    table: str
    key: tuple[str, ...]
    column: str
    value: Decimal


def factor_cells(
    code: str, shop: Shop, instrument: Instrument, levels: Mapping[str, str]
) -> Iterator[FactorCell]:
    """The cells whose product is the run-time multiple of one factor code; none where no table lists the level."""
    level = level_of(code, instrument, levels)
    root, column = factor_code(code)
    if root in MATERIALS and code not in LEVEL_OF:
        row = getattr(shop, MATERIALS[root]).get(level)
        if row is not None:
            yield FactorCell(MATERIALS[root], (level,), column, getattr(row, column))
        if code == "FT.touch":
            yield from factor_cells("FT.colour", shop, instrument, levels)
        return
    if code == "GP":
        wood = shop.woods.get(level)
        level = wood.grain if wood else level
    if found := shop.factors.get((code, level)):
        yield FactorCell("factors", (code, level), "factor", found.factor)


def run_factors(
    task: Task, shop: Shop, instrument: Instrument, levels: Mapping[str, str], skill: int
) -> tuple[RunFactor, ...]:
    """What multiplies the run of a task, each by its name: the factors it lists (F), and skill (K)."""
    found = [
        RunFactor(code, cell.key[-1], cell.value)
        for code in task.factors
        for cell in factor_cells(code, shop, instrument, levels)
    ]
    found.append(RunFactor("skill", str(skill), skill_factor(task, skill)))
    return tuple(found)


def skill_factor(task: Task, skill: int) -> Decimal:
    """K: run-time factor of an operator of ``skill`` 1 to 5 (memory).

    1: the beginner factor b; 2: 1 + 0.6 (b - 1); 3: 1 + 0.25 (b - 1); 4: 1; 5: 0.92.
    """
    beyond = task.beginner_factor - ONE
    return {
        1: task.beginner_factor,
        2: ONE + Decimal("0.6") * beyond,
        3: ONE + Decimal("0.25") * beyond,
        4: ONE,
        5: Decimal("0.92"),
    }[skill]


def tool_wear_factor(
    wear_by: str, task: Task, shop: Shop, instrument: Instrument, levels: Mapping[str, str]
) -> Decimal:
    """How much faster a tool wears on this material than on the reference one."""
    roots = _roots(task)
    if wear_by == "metal" and task.group == "frets":
        metal = shop.metals.get(level_of("FW", instrument, levels))
        return metal.tool_wear if metal else ONE
    if wear_by == "wood" and "BW" in roots:
        wood = shop.woods.get(level_of("BW", instrument, levels))
        return wood.cutter_wear if wood else ONE
    if wear_by == "nut" and "NM" in roots:
        nut = shop.factors.get(("NM", level_of("NM", instrument, levels)))
        return nut.wear if nut else ONE
    return ONE


def abrasive_factor(task: Task, shop: Shop, instrument: Instrument, levels: Mapping[str, str]) -> Decimal:
    """How much more abrasive the fret metal uses up, on all fret work."""
    if task.group != "frets":
        return ONE
    metal = shop.metals.get(level_of("FW", instrument, levels))
    return metal.abrasive if metal else ONE


def chip_odds(task: Task, shop: Shop, instrument: Instrument, levels: Mapping[str, str]) -> Decimal:
    """Multiple of the rework odds where a finish can chip (codes d, and filling a chip).

    The finish's own odds, and where wood is cut beside it (``BW``) those of the wood.
    """
    if task.rework_kind != "d" and "FT.touch" not in task.factors:
        return ONE
    finish = shop.finishes.get(level_of("FT", instrument, levels))
    odds = finish.chip_odds if finish else ONE
    if "BW" in _roots(task):
        wood = shop.woods.get(level_of("BW", instrument, levels))
        odds *= wood.chip_odds if wood else ONE
    return odds
