"""Donor triage: ten checks at the seller's, each walk away, lower the offer by so much, or fine.

Basis of all limits and amounts: memory of an experienced hand. A check that nobody made is never fine.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from estimator.model import Reading

WALK, LOWER, FINE, OPEN = "walk-away", "lower", "fine", "not-checked"
ZERO = Decimal(0)
LEVEL_HOURS, REFRET_HOURS = Decimal("2.7"), Decimal("6.5")
LEAST_FRET, CHEAP_RESALE = Decimal("0.70"), Decimal(250)
STONE = Decimal("0.03")

#: what only the eye tells; keys of ``seen``, answered yes or no
QUESTIONS = {
    "rod-spins": "does the rod nut turn without resistance?",
    "posts-pulling": "are the bridge posts pulling forward?",
    "bridge-tearing": "is the bridge tearing out of the body?",
    "smell-strong": "is the smell of smoke or mould strong?",
    "no-name": "does the seller refuse to give a name?",
    "tuners-bad": "does any tuner slip or bind?",
    "screws-loose": "are screws or holes of bridge, straps or guard loose?",
}


@dataclass(frozen=True, slots=True)
class Check:
    """One of the ten: its outcome, the range to lower the offer by, and why, in a sentence."""

    number: int
    what: str
    outcome: str
    sentence: str
    low: Decimal = ZERO
    high: Decimal = ZERO


@dataclass(frozen=True, slots=True)
class Triage:
    """All ten checks."""

    checks: tuple[Check, ...]

    @property
    def outcome(self) -> str:
        """Walk away if any check says so; else lower; not-checked while any is open; else fine."""
        found = {check.outcome for check in self.checks}
        return next(outcome for outcome in (WALK, LOWER, OPEN, FINE) if outcome in found)

    @property
    def low(self) -> Decimal:
        """The least to lower the offer by."""
        return sum((check.low for check in self.checks), ZERO)

    @property
    def high(self) -> Decimal:
        """The most to lower the offer by."""
        return sum((check.high for check in self.checks), ZERO)


@dataclass(frozen=True, slots=True)
class _Look:
    """What was read and seen; only what was really looked at counts."""

    readings: Mapping[str, Reading]
    seen: Mapping[str, bool]
    resale: Decimal
    pay: Decimal
    neck: Decimal

    def known(self, *names: str) -> bool:
        return all(n in self.readings and not self.readings[n].assumed for n in names)

    def number(self, name: str) -> Decimal:
        value = self.readings[name].value
        return value if isinstance(value, Decimal) else ZERO

    def word(self, name: str) -> str:
        return str(self.readings[name].value)


def triage(
    readings: Mapping[str, Reading],
    *,
    resale: Decimal,
    pay_per_hour: Decimal,
    neck_price: Decimal,
    seen: Mapping[str, bool] | None = None,
) -> Triage:
    """The ten checks from intake readings and what was ``seen`` (keys of ``QUESTIONS``).

    ``resale``: what it fetches clean and working; ``pay_per_hour``: wanted pay; ``neck_price``: a
    replacement neck. Assumed readings count as not looked at. Money in the shop's currency.
    """
    look = _Look(readings, seen or {}, resale, pay_per_hour, neck_price)
    makers = (_neck, _rod, _frets, _cracks, _saddles, _tuners, _wiring, _screws, _smell, _papers)
    return Triage(tuple(check for number, make in enumerate(makers, 1) for check in make(look, number)))


def _open(number: int, what: str, needs: str) -> Check:
    return Check(number, what, OPEN, f"not checked: {needs}")


def _neck(look: _Look, number: int) -> Iterator[Check]:
    what = "sight the neck along both edges"
    if not look.known("twist", "relief", "rod_ok"):
        yield _open(number, what, "measure twist and relief, try the rod")
    elif abs(look.number("twist")) > Decimal("0.5"):
        yield Check(number, what, WALK, f"the neck is twisted by {look.number('twist')} mm (0.5 at most)")
    elif look.number("relief") > Decimal("0.6") and look.word("rod_ok") == "works":
        yield Check(number, what, LOWER, "much relief, but the rod works", Decimal(20), Decimal(40))
    else:
        yield Check(number, what, FINE, "straight enough")


def _rod(look: _Look, number: int) -> Iterator[Check]:
    what = "a quarter-turn of the rod, having asked"
    if not look.known("rod_ok", "relief"):
        yield _open(number, what, "try the rod, measure the relief")
        return
    bad = look.word("rod_ok") == "dead" or look.seen.get("rod-spins", False)
    if bad and look.number("relief") > Decimal("0.4"):
        yield Check(
            number, what, WALK, f"the rod is dead and the relief {look.number('relief')} mm (0.4 at most)"
        )
    elif bad:
        yield Check(number, what, LOWER, "the rod is dead: reckon with another neck", look.neck, look.neck)
    else:
        yield Check(number, what, FINE, "the rod works")


def _frets(look: _Look, number: int) -> Iterator[Check]:
    what = "fret height and grooves"
    if not look.known("fret_h", "fret_wear", "fret_uneven"):
        yield _open(number, what, "measure fret height, grooves and the worst rock")
        return
    height, wear, uneven = (look.number(name) for name in ("fret_h", "fret_wear", "fret_uneven"))
    if height - wear < LEAST_FRET and look.resale < CHEAP_RESALE:
        yield Check(
            number,
            what,
            WALK,
            f"{height - wear} mm of fret left on an instrument that fetches under {CHEAP_RESALE}",
        )
    elif height - max(wear, uneven) - STONE < LEAST_FRET:
        cost = _cents(REFRET_HOURS * look.pay)
        yield Check(number, what, LOWER, f"a refret, {REFRET_HOURS} h", cost, cost)
    elif wear > Decimal("0.05") or uneven > Decimal("0.08"):
        cost = _cents(LEVEL_HOURS * look.pay)
        yield Check(number, what, LOWER, f"level, crown and polish, {LEVEL_HOURS} h", cost, cost)
    else:
        yield Check(number, what, FINE, "frets are good")


def _cracks(look: _Look, number: int) -> Iterator[Check]:
    what = "flex pocket and peghead, look at paint lines"
    if not look.known("crack_at", "tier"):
        yield _open(number, what, "look for cracks at pocket, peghead and edge, and note the price class")
    elif look.word("crack_at") == "peghead" and look.word("tier") in ("A", "B"):
        yield Check(number, what, WALK, "an open peghead crack on a cheap instrument")
    elif look.word("crack_at") != "none":
        yield Check(number, what, LOWER, f"a crack ({look.word('crack_at')})", Decimal(60), Decimal(150))
    else:
        yield Check(number, what, FINE, "no cracks")


def _saddles(look: _Look, number: int) -> Iterator[Check]:
    what = "saddle height left both ways"
    if look.seen.get("posts-pulling", False):
        yield Check(number, what, WALK, "the bridge posts are pulling forward")
    elif not look.known("saddle_down", "saddle_up"):
        yield _open(number, what, "measure how far the saddles can still go down and up")
    elif min(look.number("saddle_down"), look.number("saddle_up")) < Decimal("0.5"):
        yield Check(number, what, LOWER, "hardly any saddle travel left: a shim", Decimal(15), Decimal(15))
    else:
        yield Check(number, what, FINE, "saddles can go both ways")


def _tuners(look: _Look, number: int) -> Iterator[Check]:
    what = "all tuners turn and hold"
    if "tuners-bad" not in look.seen and not look.known("tuner_play"):
        yield _open(number, what, "turn every tuner")
    elif look.seen.get("tuners-bad", False) or (look.known("tuner_play") and look.number("tuner_play") > 45):
        yield Check(number, what, LOWER, "tuners slip or bind: a set", Decimal(30), Decimal(60))
    else:
        yield Check(number, what, FINE, "the tuners turn and hold")


def _wiring(look: _Look, number: int) -> Iterator[Check]:
    what = "plug in, try each place and knob, tap the pickups"
    places = [
        p
        for p in ("neck", "middle", "bridge")
        if f"pu_{p}" in look.readings and look.word(f"pu_{p}") != "none"
    ]
    if not places or not all(look.known(f"dc_ohm_{place}") for place in places):
        yield _open(number, what, "tap or meter every pickup")
        return
    dead = [place for place in places if look.number(f"dc_ohm_{place}") < Decimal("0.5")]
    if dead:
        times = len(dead)
        yield Check(
            number, what, LOWER, f"dead: {', '.join(dead)} pickup", Decimal(25) * times, Decimal(50) * times
        )
    else:
        yield Check(number, what, FINE, "all pickups speak")


def _screws(look: _Look, number: int) -> Iterator[Check]:
    what = "screws and holes of bridge, straps, guard"
    loose = look.seen.get("screws-loose", False)
    if look.seen.get("bridge-tearing", False):
        yield Check(number, what, WALK, "the bridge is tearing out")
    elif "screws-loose" not in look.seen and not look.known("strap_hole_ok"):
        yield _open(number, what, "twist the strap buttons, look under the bridge edge")
    elif loose or (look.known("strap_hole_ok") and look.readings["strap_hole_ok"].value is False):
        yield Check(number, what, LOWER, "loose screws", Decimal(10), Decimal(30))
    else:
        yield Check(number, what, FINE, "screws are firm")


def _smell(look: _Look, number: int) -> Iterator[Check]:
    what = "weight and smell"
    if look.seen.get("smell-strong", False):
        yield Check(number, what, WALK, "smells strongly of smoke or mould")
    elif not look.known("smell_mould"):
        yield _open(number, what, "smell the case and the cavities")
    elif look.readings["smell_mould"].value is True:
        low, high = _cents(look.resale * Decimal("0.05")), _cents(look.resale * Decimal("0.15"))
        yield Check(number, what, LOWER, "smells of smoke or mould: 5 to 15 % less", low, high)
    else:
        yield Check(number, what, FINE, "no smell")


def _papers(look: _Look, number: int) -> Iterator[Check]:
    what = "serial number, story, receipt"
    if look.seen.get("no-name", False):
        yield Check(number, what, WALK, "the seller will not give a name")
    elif not look.known("papers"):
        yield _open(number, what, "ask for a name and a receipt, check the serial number")
    elif look.readings["papers"].value is True:
        yield Check(number, what, FINE, "name, serial number and receipt are in order")
    else:
        yield Check(number, what, WALK, "no receipt or serial number, or reported stolen: do not buy")


def _cents(amount: Decimal) -> Decimal:
    return amount.quantize(Decimal("0.01"), ROUND_HALF_UP)
