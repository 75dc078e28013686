"""Laws of wear and coverage: units of production, Archard, Preston, grinding ratio, paint.

Used to judge a life or a quantity that nobody has counted yet; the estimate itself charges wear by
units of production from ``tools.csv``.
"""

from __future__ import annotations

from decimal import Decimal


def depreciation_per_unit(cost: Decimal, residual: Decimal, life_units: Decimal) -> Decimal:
    """Units of production: (cost - residual) / units of life, in money per unit."""
    if life_units <= 0 or residual > cost:
        raise ValueError("a tool has a life above nought and a residual not above its cost")
    return (cost - residual) / life_units


def depreciation(
    cost: Decimal, residual: Decimal, life_units: Decimal, units: Decimal, before: Decimal = Decimal(0)
) -> Decimal:
    """What ``units`` of use cost after ``before`` units already; never below the residual value."""
    per_unit = depreciation_per_unit(cost, residual, life_units)
    left = max(Decimal(0), life_units - before)
    return min(units, left) * per_unit


def book_value(cost: Decimal, residual: Decimal, life_units: Decimal, used: Decimal) -> Decimal:
    """What a tool is still worth after ``used`` units, the residual at the least."""
    return cost - depreciation(cost, residual, life_units, used)


def archard_volume(coefficient: float, load_n: float, distance_m: float, hardness_pa: float) -> float:
    """Worn volume in m3: Q = K W s / H (Archard 1953; memory). K holds the 3 of some textbooks."""
    return coefficient * load_n * distance_m / hardness_pa


def preston_depth(coefficient: float, pressure_pa: float, speed_m_s: float, seconds: float) -> float:
    """Depth polished away in metres: dz/dt = k p v (Preston 1927; memory), k in 1/Pa."""
    return coefficient * pressure_pa * speed_m_s * seconds


def wheel_worn(removed: float, grinding_ratio: float) -> float:
    """Wheel or stone used up: removed / G, where G = volume of work removed / volume of wheel worn."""
    if grinding_ratio <= 0:
        raise ValueError("a grinding ratio lies above nought")
    return removed / grinding_ratio


def coating_volume(area: float, coats: float, spreading_rate: float, transfer: float = 1.0) -> float:
    """Paint needed: area x coats / spreading rate / transfer.

    Area in the unit that the spreading rate counts per volume (m2 and m2/l give litres); ``transfer``
    is the share that reaches the work, 1 for a brush, about 0.3 for a spray can in the open (memory).
    """
    if spreading_rate <= 0 or not 0 < transfer <= 1:
        raise ValueError("a spreading rate lies above nought and a transfer between 0 and 1")
    return area * coats / spreading_rate / transfer


#: area that a volume covers at a film thickness of one unit, by definition of the units
FT2_PER_GALLON_AT_ONE_MIL = 231.0 / 144.0 * 1000.0
M2_PER_LITRE_AT_ONE_UM = 1000.0


def spreading_rate_us(dry_film_mil: float, solids: float, transfer: float = 1.0) -> float:
    """ft2 per US gallon for a dry film in mil: 1604.17 x solids x transfer / mil."""
    return FT2_PER_GALLON_AT_ONE_MIL * solids * transfer / dry_film_mil


def spreading_rate_metric(dry_film_um: float, solids: float, transfer: float = 1.0) -> float:
    """m2 per litre for a dry film in micrometres: 1000 x solids x transfer / um."""
    return M2_PER_LITRE_AT_ONE_UM * solids * transfer / dry_film_um


def wet_film_inches(gallons: float, area_ft2: float) -> float:
    """Thickness of wet paint in inches: 231 in3 a gallon over the area."""
    return gallons * 231.0 / (area_ft2 * 144.0)
