# mypy: disable-error-code="override, overload-overlap, no-overload-impl"
"""Whole numbers with a unit: money in cents, time in hundredths of a minute, levels in tenths.

While the program runs they are plain whole numbers and cost nothing: ``Cents(250)`` is 250. Only the type
checker tells them apart. It lets an amount be added to, taken from and compared with its own kind (and 0),
and refuses another kind, so that cents and minutes cannot be mixed unseen:

    price + freight             both cents: cents
    price + minutes             refused
    3 * price                   cents
    price + 1, price // 2       a plain number: write Cents(price // 2) where it is still money
    price * minutes             a plain number, neither of both
    sum(prices, Cents(0))       cents; a sum has to be told of what
    max(price, Cents(0))        cents

An amount may go where any whole number is wanted (to be printed, put in a file, given to a solver); a plain
number never goes where an amount is wanted, unless it is called one by name: ``Cents(...)`` says "I know that
these are cents". What is no whole number is rounded before, by the rule that holds there. So what passes through a plain number is held again where it comes to rest: annotate the
fields and parameters. A ``NewType`` would say less: its sums are plain numbers, and it lets cents be added to
minutes.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, Self, overload

if TYPE_CHECKING:

    class _Amount(int):
        """What all kinds share. The types are narrower than those of ``int``: that is their whole purpose."""

        def __new__(cls, whole: int, /) -> Self: ...
        def __add__(self, other: Self | Literal[0], /) -> Self: ...
        def __radd__(self, other: Self | Literal[0], /) -> Self: ...
        def __sub__(self, other: Self | Literal[0], /) -> Self: ...
        def __rsub__(self, other: Self | Literal[0], /) -> Self: ...
        @overload
        def __mul__(self, other: _Amount, /) -> int: ...
        @overload
        def __mul__(self, times: int, /) -> Self: ...
        def __rmul__(self, times: int, /) -> Self: ...
        def __neg__(self) -> Self: ...
        def __abs__(self) -> Self: ...
        def __lt__(self, other: Self | Literal[0], /) -> bool: ...
        def __le__(self, other: Self | Literal[0], /) -> bool: ...
        def __gt__(self, other: Self | Literal[0], /) -> bool: ...
        def __ge__(self, other: Self | Literal[0], /) -> bool: ...

    class Cents(_Amount):
        """Money in whole cents."""

    class Hundredths(_Amount):
        """Time in whole hundredths of a minute."""

    class Tenths(_Amount):
        """A level of an attribute in whole tenths: level 2.5 is 25."""

    class Minutes(_Amount):
        """Time in whole minutes in which somebody may work, as a schedule counts it."""

    class Elapsed(_Amount):
        """Time in whole minutes by the clock, day and night, as glue dries."""

    class Thousandths(_Amount):
        """An amount in whole thousandths of its unit: 3.6 kg is 3600."""

    class TenthGrams(_Amount):
        """A mass in whole tenths of a gram."""

    class Seconds(_Amount):
        """Time in whole seconds, as the ledger keeps it."""

    class Millionths(_Amount):
        """A quantity in whole millionths of its unit, as the ledger keeps it."""

else:
    Cents = Hundredths = Tenths = Minutes = Elapsed = Thousandths = TenthGrams = Seconds = Millionths = int
