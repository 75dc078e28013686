"""Small problems that a reader can follow by hand."""

from __future__ import annotations

from estimator.model.problem import Amount, CostPiece, Giver, Problem, Rule, Scale, Source


def piece(name, triggers, cost=0, minutes=0, sd=0.0, mass=0, **other):
    return CostPiece(
        name,
        triggers,
        cost,
        other.get("cash", cost),
        other.get("price_parts", 0),
        other.get("consumables", 0),
        minutes,
        sd,
        other.get("line", name if minutes else ""),
        mass,
    )


def two_bridges() -> Problem:
    """A plain bridge or a tremolo; both need the strings off; the tremolo needs a block."""
    return Problem(
        options=("block", "bridge", "tremolo"),
        slots=(("bridge", ("bridge", "tremolo")),),
        prerequisites=(("tremolo", ("block",)),),
        conflicts=(),
        pieces=(
            piece("desk", None, 500, 600),
            piece("bridge part", ("bridge",), 4500, mass=2500),
            piece("tremolo part", ("tremolo",), 3900, mass=3000),
            piece("block part", ("block",), 400, mass=-800),
            piece("strings off", ("bridge", "tremolo"), 300, 500, 1.0),
            piece("fit", ("bridge", "tremolo"), 1200, 3000, 8.0),
            piece("set tremolo", ("tremolo",), 900, 2000, 6.0),
        ),
        scales=(Scale("tuning", 10, (Giver(30, ("bridge",)), Giver(40, ("tremolo",), ("block",))), (), ()),),
        amounts=(Amount("weight", 3_600_000, (), True),),
        rules=(Rule(Source.WISH, "level", "tuning stability at least level 3", "tuning", 30, of="tuning"),),
        z_minutes=0.0,
        z_price=0.0,
        shared_cause=0.2,
    )
