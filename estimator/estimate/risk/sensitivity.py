"""What an estimate hangs on: each line's share of mean and variance, tornado bars, what to measure.

Minutes are floats here: these are figures to look at; nothing is priced from them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from decimal import Decimal
from math import fsum

from msgspec import Struct
from msgspec.structs import replace

from estimator.core.amounts import Cents
from estimator.estimate.risk.distributions import Z90
from estimator.estimate.risk.moments import expected_minutes
from estimator.estimate.three_point import FAULT_VARIANCE, spread_of_lines, z_of
from estimator.fit.otherwise import Value
from estimator.model import Job, Shop, WorkLine

#: the job priced anew with one field measured so: hands-on minutes (mean) and cost in cents, or None where
#: it cannot be done that way
Reprice = Callable[[str, Value], tuple[float, Cents] | None]
#: what an assumed field may turn out to be, besides what is assumed; see ``fit.otherwise``
Values = Callable[[str], Sequence[Value]]


class Share(Struct, frozen=True):
    """One line's part in the job: mean minutes (all in), and per cent of the job's mean and variance."""

    task: str
    place: str
    minutes: float
    sd: float
    mean_pct: float
    variance_pct: float


def shares(lines: Sequence[WorkLine], shop: Shop) -> tuple[Share, ...]:
    """Every line's share of mean and variance, the largest variance first; each column adds to 100.

    Variance share = cov(line, job) / var(job) = (sd_i^2 + c sd_i (sum of the others) + r_i^2 + v a_i A) /
    sd_job^2, r_i the spread of its rework, a_i of A the minutes it holds for hidden faults, v
    ``FAULT_VARIANCE``: what a line has in common with the others is split evenly between them (Euler's
    rule for a sum).
    """
    c = float(shop.terms.shared_cause)
    whole = fsum(line.sd for line in lines)
    variance = spread_of_lines(lines, c) ** 2
    held = fsum(line.allowance for line in lines) / 100.0
    mean = expected_minutes(lines)
    found = []
    for line in lines:
        minutes = expected_minutes([line])
        covariance = line.sd * line.sd + c * line.sd * (whole - line.sd) + line.rework_sd**2
        covariance += FAULT_VARIANCE * line.allowance / 100.0 * held
        found.append(
            Share(
                line.task,
                line.place,
                minutes,
                line.sd,
                100.0 * minutes / mean if mean else 0.0,
                100.0 * covariance / variance if variance else 0.0,
            )
        )
    return tuple(sorted(found, key=lambda s: (-s.variance_pct, -s.mean_pct, s.task, s.place)))


class Bar(Struct, frozen=True):
    """One bar of a tornado chart: the job's minutes and cost (cents) at the low and the high end.

    ``kind`` is ``line`` (a line at its 10 and 90 % points, all else at its mean) or ``field`` (an
    assumed value at its likely extremes, named in ``low_at`` and ``high_at``).
    """

    kind: str
    name: str
    low_at: str
    high_at: str
    low_minutes: float
    high_minutes: float
    low_cents: Cents
    high_cents: Cents
    note: str = ""

    @property
    def swing(self) -> float:
        """Width of the bar in minutes."""
        return self.high_minutes - self.low_minutes


def line_bars(
    lines: Sequence[WorkLine], rate_per_hour: float, cost_cents: Cents, most: int = 10
) -> tuple[Bar, ...]:
    """The widest bars of the lines; cost moves with the minutes at ``rate_per_hour``."""
    mean = expected_minutes(lines)
    cents_per_minute = rate_per_hour * 100.0 / 60.0
    bars = []
    for line in lines:
        if line.sd == 0:
            continue
        low, high = _ends(line)
        bars.append(
            Bar(
                "line",
                f"{line.task}@{line.place}" if line.place else line.task,
                "10 %",
                "90 %",
                mean + low,
                mean + high,
                Cents(round(cost_cents + low * cents_per_minute)),
                Cents(round(cost_cents + high * cents_per_minute)),
            )
        )
    return tuple(sorted(bars, key=lambda b: (-b.swing, b.name))[:most])


def _ends(line: WorkLine) -> tuple[float, float]:
    """How far the 10 and 90 % points of a line lie from its mean, minutes."""
    if line.reading == "pert":
        return -Z90 * line.sd, Z90 * line.sd
    mean = (line.minutes + line.setup) / 100.0
    widening = float(line.widening)
    return widening * (float(line.low) - mean), widening * (float(line.high) - mean)


def field_bars(
    job: Job, shop: Shop, fields: Iterable[str], reprice: Reprice, values: Values
) -> tuple[Bar, ...]:
    """Bars of the assumed fields named: the job priced anew as if each value it might have were measured.

    ``values`` gives what a field may turn out to be.
    ``reprice`` gives (minutes, cents) of the same upgrade set with a field measured so, or None where it
    cannot be done then; such values are named in ``note``. Fields that move nothing have no bar.
    """
    bars = []
    for name in fields:
        reading, spec = job.instrument.get(name), shop.intake.get(name)
        if reading is None or spec is None or not reading.assumed:
            continue
        seen: list[tuple[float, Cents, str]] = []
        impossible = []
        tried = values(name)
        if not tried:
            continue
        for value in (*tried, reading.value):
            if isinstance(value, tuple):
                continue
            result = reprice(name, value)
            if result is None:
                impossible.append(_word(value))
            else:
                seen.append((*result, _word(value)))
        if not seen:
            continue
        low, high = min(seen), max(seen, key=lambda s: (s[0], s[1]))
        if low[:2] == high[:2] and not impossible:
            continue
        note = f"cannot be done with {', '.join(impossible)}" if impossible else ""
        bars.append(Bar("field", name, low[2], high[2], low[0], high[0], low[1], high[1], note))
    return tuple(sorted(bars, key=lambda b: (-b.swing, b.name)))


def with_units(bar: Bar, shop: Shop) -> Bar:
    """The bar of an assumed value as people read its ends; a length has its unit, for it is read in another by some."""
    spec = shop.intake.get(bar.name)
    unit = f" {spec.unit}" if spec is not None and spec.kind == "length" else ""
    return replace(bar, low_at=f"{bar.low_at}{unit}", high_at=f"{bar.high_at}{unit}")


def _word(value: Decimal | str | bool) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value.normalize():f}" if isinstance(value, Decimal) else value


WORTH_SAYING = 0.5
"""Minutes by which a measurement must make a job surer to be advised: what rounds to none says nothing."""


class MeasuringGain(Struct, frozen=True):
    """What knowing one assumed field would do: spread and surety point with it measured, in minutes."""

    field: str
    sd: float
    at_surety: float
    saved: float


def measuring_gains(
    lines: Sequence[WorkLine], shop: Shop, surety: Decimal = Decimal(80)
) -> tuple[MeasuringGain, ...]:
    """For each assumed field that widens a line: the point of surety if it were measured, best first.

    The mean is left as it is: what a measurement would find cannot be known beforehand.
    """
    c, z = float(shop.terms.shared_cause), z_of(surety, shop.terms.skew)
    mean = expected_minutes(lines)
    now = mean + z * spread_of_lines(lines, c)
    fields = dict.fromkeys(name for line in lines for name, _ in line.rests_on)
    gains = []
    for field in fields:
        sd = spread_of_lines([replace(line, sd=_sd_without(line, field)) for line in lines], c)
        gains.append(MeasuringGain(field, sd, mean + z * sd, now - mean - z * sd))
    return tuple(sorted(gains, key=lambda g: (-g.saved, g.field)))


def _sd_without(line: WorkLine, field: str) -> float:
    share = sum((s for name, s in line.rests_on if name == field), Decimal(0))
    return line.sd * float((line.widening - share) / line.widening)


ADVISED = 5
"""Measurements, and values to settle, that advice names at the most."""


def advice(
    lines: Sequence[WorkLine],
    shop: Shop,
    bars: Sequence[Bar] = (),
    surety: Decimal = Decimal(80),
) -> tuple[str, ...]:
    """Sentences that begin "to be surer": what to measure, what to settle, which line to try first."""
    found = []
    for gain in measuring_gains(lines, shop, surety)[:ADVISED]:
        if gain.saved < WORTH_SAYING:
            continue
        spec = shop.intake[gain.field]
        how = f" ({spec.how})" if spec.how else ""
        found.append(
            f"to be surer, measure {gain.field}, {spec.what}{how}: "
            f"the {surety.normalize():f} % point falls by {gain.saved:.0f} min to {gain.at_surety:.0f} min"
        )
    for bar in bars[:ADVISED]:
        if bar.kind == "field":
            read = with_units(bar, shop)
            found.append(
                f"to be surer, settle {bar.name}: {bar.low_minutes:.0f} min if it is {read.low_at}, "
                f"{bar.high_minutes:.0f} min if it is {read.high_at}" + (f"; {bar.note}" if bar.note else "")
            )
    first = shares(lines, shop)[0] if lines else None
    if first is not None and first.variance_pct > 0:
        name = f"{first.task}@{first.place}" if first.place else first.task
        found.append(
            f"to be surer, do {name} first: {first.variance_pct:.0f} % of what is uncertain lies in it"
        )
    return tuple(found)
