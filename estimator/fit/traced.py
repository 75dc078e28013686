"""Numbers that note where comparisons with them would come out otherwise.

A rule is a chain of comparisons between small sums of measured values. Put to a traced number, it
leaves behind the values of the one field tried at which any of its comparisons turns round. Between
two neighbouring ones the rule takes the same path, so one value from each stretch stands for all.
"""

from __future__ import annotations

from collections.abc import Callable
from decimal import Context, Decimal, localcontext
from typing import Any

#: (the number in terms of the field tried) - (the other side) = gap; slope = how it grows with the field
Note = Callable[[Decimal], None]


class Traced(Decimal):
    """A Decimal that grows by ``slope`` when the field tried (at ``at`` now) grows by one.

    ``note`` is told every value of the field at which a comparison would turn round; exact while the
    rule adds, subtracts and multiplies by constants, the next best guess of Newton's otherwise. ``raw`` is
    what the number would be had nothing on the way been rounded: a rounded one stands still, then jumps.
    """

    slope: Decimal
    raw: Decimal
    at: Decimal
    note: Note

    def __new__(
        cls, value: Decimal, slope: Decimal, at: Decimal, note: Note, raw: Decimal | None = None
    ) -> Traced:
        """A number with what it depends on; ``raw`` is left out where nothing was rounded."""
        made = super().__new__(cls, value)
        made.slope, made.at, made.note = slope, at, note
        made.raw = Decimal(value) if raw is None else raw
        return made

    def _made(self, value: Decimal, slope: Decimal, raw: Decimal) -> Traced:
        return Traced(value, slope, self.at, self.note, raw)

    def _turns(self, other: object) -> None:
        if not isinstance(other, (Decimal, int)):
            return
        slope = self.slope - _slope(other)
        if slope:
            self.note(self.at - (self.raw - _raw(other)) / slope)

    # ------------------------------------------------------------ sums
    def __add__(self, other: Any) -> Any:
        value = Decimal.__add__(self, other)
        return (
            value
            if value is NotImplemented
            else self._made(value, self.slope + _slope(other), self.raw + _raw(other))
        )

    __radd__ = __add__

    def __sub__(self, other: Any) -> Any:
        value = Decimal.__sub__(self, other)
        return (
            value
            if value is NotImplemented
            else self._made(value, self.slope - _slope(other), self.raw - _raw(other))
        )

    def __rsub__(self, other: Any) -> Any:
        value = Decimal.__rsub__(self, other)
        return (
            value
            if value is NotImplemented
            else self._made(value, _slope(other) - self.slope, _raw(other) - self.raw)
        )

    def __mul__(self, other: Any) -> Any:
        value = Decimal.__mul__(self, other)
        if value is NotImplemented:
            return value
        raw = _raw(other)
        return self._made(value, self.slope * raw + self.raw * _slope(other), self.raw * raw)

    __rmul__ = __mul__

    def __truediv__(self, other: Any) -> Any:
        value = Decimal.__truediv__(self, other)
        if value is NotImplemented:
            return value
        raw = _raw(other)
        if not raw:
            return value
        ratio = self.raw / raw
        return self._made(value, (self.slope - ratio * _slope(other)) / raw, ratio)

    def __rtruediv__(self, other: Any) -> Any:
        value = Decimal.__rtruediv__(self, other)
        if value is NotImplemented:
            return value
        if not self.raw:
            return value
        ratio = _raw(other) / self.raw
        return self._made(value, -ratio * self.slope / self.raw, ratio)

    def __pow__(self, other: Any, modulo: Any = None) -> Any:
        value = Decimal.__pow__(self, other, modulo)
        if value is NotImplemented or not isinstance(other, int) or other < 1:
            return value
        return self._made(value, other * self.raw ** (other - 1) * self.slope, self.raw**other)

    def __neg__(self) -> Traced:
        return self._made(Decimal.__neg__(self), -self.slope, -self.raw)

    def __pos__(self) -> Traced:
        return self

    def __abs__(self) -> Traced:
        self._turns(0)
        return -self if Decimal(self) < 0 else self

    # ------------------------------------------------------------ roundings keep the growth
    def quantize(self, exp: Any, rounding: str | None = None, context: Context | None = None) -> Any:
        """Rounded; the places where the rounding jumps are not noted, only where the number itself would."""
        value = Decimal.quantize(self, exp, rounding, context)
        if Decimal(value) == 0 and self.slope:
            # what is rounded to zero begins to count half a step further on
            step = Decimal(exp) / 2
            self.note(self.at + (step - self.raw) / self.slope)
            self.note(self.at + (-step - self.raw) / self.slope)
        return self._made(value, self.slope, self.raw)

    def to_integral_value(self, rounding: str | None = None, context: Context | None = None) -> Any:
        """Rounded to a whole number, growing as before."""
        return self._made(Decimal.to_integral_value(self, rounding, context), self.slope, self.raw)

    def sqrt(self, context: Context | None = None) -> Any:
        """The square root, growing by half the slope over itself."""
        root = Decimal.sqrt(self, context)
        if not root or self.raw <= 0:
            return root
        raw = self.raw.sqrt()
        return self._made(root, self.slope / (2 * raw), raw)

    # ------------------------------------------------------------ comparisons
    def __lt__(self, other: Any) -> Any:
        self._turns(other)
        return Decimal.__lt__(self, other)

    def __le__(self, other: Any) -> Any:
        self._turns(other)
        return Decimal.__le__(self, other)

    def __gt__(self, other: Any) -> Any:
        self._turns(other)
        return Decimal.__gt__(self, other)

    def __ge__(self, other: Any) -> Any:
        self._turns(other)
        return Decimal.__ge__(self, other)

    def __eq__(self, other: object) -> Any:
        self._turns(other)
        return Decimal.__eq__(self, other)

    def __ne__(self, other: object) -> Any:
        self._turns(other)
        return Decimal.__ne__(self, other)

    def __bool__(self) -> bool:
        self._turns(0)
        return bool(Decimal(self))

    def __hash__(self) -> int:
        return hash(Decimal(self))


def _slope(other: object) -> Decimal:
    return other.slope if isinstance(other, Traced) else Decimal(0)


def _raw(other: Any) -> Decimal:
    return other.raw if isinstance(other, Traced) else Decimal(other)


def nice_between(low: Decimal, high: Decimal) -> Decimal:
    """A value strictly between two others with as few places as will do."""
    middle = (low + high) / 2
    for places in range(6):
        with localcontext() as context:
            context.prec = 28
            value = middle.quantize(Decimal(1).scaleb(-places))
        if low < value < high:
            return value
    return middle
