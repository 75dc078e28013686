"""What selling an instrument brings, as plain whole numbers; no solver here.

Money is cents, minutes are hundredths, levels tenths, as in ``problem``. The programme, the plain
arithmetic of ``choose.verify.sale`` and the brute force of the tests read this one record.
"""

from __future__ import annotations

from decimal import Decimal

from msgspec import Struct

from estimator.core.amounts import Cents, Hundredths, Tenths


class Standing(Struct, frozen=True):
    """A condition: the price it brings before uplifts, and the least levels it asks for."""

    condition: str
    value: Cents
    needs: tuple[tuple[str, Tenths], ...] = ()


class Uplift(Struct, frozen=True):
    """Something a buyer pays ``value`` more for when one upgrade of every clause is chosen.

    Uplifts of one ``group`` count once, the largest of them.
    """

    id: str
    group: str
    what: str
    value: Cents
    clauses: tuple[tuple[str, ...], ...]


class Loss(Struct, frozen=True):
    """What a buyer pays less when any of ``given_by`` is chosen; losses are not damped."""

    id: str
    group: str
    what: str
    value: Cents
    given_by: tuple[str, ...]


class Removed(Struct, frozen=True):
    """Parts taken off and sold: what they bring, what their sale takes, and who takes them off."""

    id: str
    what: str
    value: Cents
    minutes: Hundredths
    given_by: tuple[str, ...]


class Sale(Struct, frozen=True):
    """A sale by one way of selling.

    The price is min(``ceiling``, standing + damped uplifts - losses), never below zero; the
    standing is the best condition whose needs are met, or ``standing`` as it stands. Of the price
    ``fee_basis_points`` ten-thousandths go as fees (half up), ``fixed`` cents besides.
    ``extra_minutes`` (talk, travel, finding the donor) come on top of the estimate; ``pay`` is the
    wanted pay in cents an hour, at which the minutes of the sale are counted; ``paid`` the price of
    the instrument itself, which no choice changes but the pay an hour rests on.
    """

    way: str
    base: Cents
    ceiling: Cents
    standing: Standing
    better: tuple[Standing, ...]
    uplifts: tuple[Uplift, ...]
    losses: tuple[Loss, ...]
    removed: tuple[Removed, ...]
    damping: Decimal
    fee_basis_points: int
    fixed: Cents
    extra_minutes: Hundredths
    pay: Cents
    paid: Cents = Cents(0)

    @property
    def groups(self) -> int:
        """How many uplifts can count at once."""
        return len({uplift.group for uplift in self.uplifts})
