"""Quantities taken from the measurements of an instrument: frets, wire, cavities, skin, passes, tension.

Lengths mm, areas cm2, volumes cm3, masses g unless a name says otherwise.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from math import ceil, fsum

from msgspec import Struct

from estimator.model import Reading
from estimator.model.pickups import PICKUPS

#: wire left over at each end of a fret until it is trimmed (common practice)
FRET_OVERHANG_MM = 3.0
#: depth of one pass of a small router, a quarter of an inch (common practice)
ROUTER_PASS_MM = 6.35


def fret_position(scale: float, fret: int) -> float:
    """Distance of a fret from the nut, in the unit of ``scale``: S (1 - 2^(-n/12)), equal temperament."""
    if fret < 0 or scale <= 0:
        raise ValueError("a fret counts from 0 at the nut, on a scale above zero")
    return float(scale * (1.0 - 2.0 ** (-fret / 12.0)))


def fret_widths(scale: float, frets: int, nut_width: float, last_width: float) -> tuple[float, ...]:
    """Board width at each fret when it widens evenly along the board, in the unit of the widths."""
    if frets < 1:
        raise ValueError("a board has at least one fret")
    whole = fret_position(scale, frets)
    grow = last_width - nut_width
    return tuple(nut_width + grow * fret_position(scale, n) / whole for n in range(1, frets + 1))


def fret_wire_mm(
    scale: float, frets: int, nut_width: float, last_width: float, overhang: float = FRET_OVERHANG_MM
) -> float:
    """Fret wire for a board: the sum of the widths at the slots and an overhang at both ends of each.

    The mean width times the number of frets would be a few per cent short: frets crowd toward the
    wide end.
    """
    return fsum(fret_widths(scale, frets, nut_width, last_width)) + 2.0 * overhang * frets


def cavity_skin_cm2(length: float, width: float, depth: float) -> float:
    """Walls and floor of a box-shaped cavity: (2 (l + w) d + l w) / 100; mm in, cm2 out."""
    return (2.0 * (length + width) * depth + length * width) / 100.0


def body_skin_cm2(face_cm2: float, outline_mm: float, thickness_mm: float) -> float:
    """Both faces and the edge of a body: 2 x face + outline x thickness / 100."""
    return 2.0 * face_cm2 + outline_mm * thickness_mm / 100.0


def routing_passes(depth_mm: float) -> int:
    """Passes of a router to a depth; zero for a depth of zero."""
    return max(0, ceil(depth_mm / ROUTER_PASS_MM - 1e-9))


def number_of(instrument: Mapping[str, Reading], field: str) -> float | None:
    """A measurement as a number, or None where the field is missing or no number."""
    reading = instrument.get(field)
    return float(reading.value) if reading is not None and isinstance(reading.value, Decimal) else None


def wire_for(instrument: Mapping[str, Reading]) -> float | None:
    """Fret wire (mm, with overhang) for a refret of this instrument; None where a measure is missing."""
    scale, frets, nut, last = (
        number_of(instrument, f) for f in ("scale", "fret_n", "nut_wid", "board_last_wid")
    )
    if scale is None or frets is None or nut is None or last is None or frets < 1:
        return None
    return fret_wire_mm(scale, int(frets), nut, last)


def routs_of(instrument: Mapping[str, Reading]) -> dict[str, tuple[float, float, float]]:
    """Length, width, depth of the pickup routs and the control cavity, as far as they are known."""
    places = {f"rout {p}": (f"rout_l_{p}", f"rout_w_{p}", f"rout_d_{p}") for p in PICKUPS}
    places["control cavity"] = ("ctl_l", "ctl_w", "ctl_d")
    found = {}
    for place, fields in places.items():
        sizes = [number_of(instrument, field) for field in fields]
        if all(size is not None and size > 0 for size in sizes):
            found[place] = (sizes[0] or 0.0, sizes[1] or 0.0, sizes[2] or 0.0)
    return found


def skin_of_cavities(instrument: Mapping[str, Reading]) -> float:
    """Walls and floors (cm2) of the routs and the control cavity, from their measured sizes."""
    return fsum(cavity_skin_cm2(*sizes) for sizes in routs_of(instrument).values())


class Quantity(Struct, frozen=True):
    """A quantity taken from measurements: value, unit, the formula, and which of its fields were assumed."""

    name: str
    value: float
    unit: str
    formula: str
    assumed: tuple[str, ...]


def quantities_of(instrument: Mapping[str, Reading]) -> tuple[Quantity, ...]:
    """Fret wire, skin of the body and of the cavities, passes to the deepest rout, as far as measures go."""

    def guessed(*fields: str) -> tuple[str, ...]:
        return tuple(f for f in fields if f in instrument and instrument[f].assumed)

    found = []
    wire = wire_for(instrument)
    if wire is not None:
        board = guessed("scale", "fret_n", "nut_wid", "board_last_wid")
        text = f"sum of the board widths at the frets, and {FRET_OVERHANG_MM:.0f} mm over at either end"
        found.append(Quantity("fret wire", wire, "mm", text, board))
    body = [number_of(instrument, f) for f in ("face_cm2", "perim_mm", "body_thk")]
    if None not in body:
        face, outline, thickness = (size or 0.0 for size in body)
        text = "2 x face + outline x thickness"
        found.append(
            Quantity(
                "skin of the body",
                body_skin_cm2(face, outline, thickness),
                "cm2",
                text,
                guessed("face_cm2", "perim_mm", "body_thk"),
            )
        )
    routs = routs_of(instrument)
    if routs:
        fields = tuple(f for f in instrument if f.startswith(("rout_l_", "rout_w_", "rout_d_", "ctl_")))
        found.append(
            Quantity(
                "skin of the cavities",
                skin_of_cavities(instrument),
                "cm2",
                f"walls and floors of {', '.join(routs)}",
                guessed(*(f for f in fields if f != "ctl_panel_thk")),
            )
        )
        deepest = max(depth for _, _, depth in routs.values())
        found.append(
            Quantity(
                "router passes to the deepest rout",
                routing_passes(deepest),
                "passes",
                f"{deepest:g} mm at {ROUTER_PASS_MM} mm a pass, rounded up",
                guessed(*(f for f in fields if f.startswith("rout_d_") or f == "ctl_d")),
            )
        )
    return tuple(found)
