"""Donor triage: ten checks at the seller's, each walk away, lower the offer by so much, or fine.

A fault may be mended in more ways than one (worn frets: new wire, or another neck), and one piece of work may
mend what several checks found. The offer is lowered by the work that mends all of it for the least, each piece
counted once: at the first check that it mends.

Basis of all limits and amounts: memory of an experienced hand. A check that nobody made is never fine.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from decimal import ROUND_HALF_UP, Decimal
from itertools import product
from types import MappingProxyType

from msgspec import Struct
from msgspec.structs import replace

from estimator.core.amounts import Hundredths
from estimator.core.text import time_text
from estimator.fit.candidates import all_upgrades
from estimator.fit.judge import judge_all
from estimator.model import Fault, Job, Reading, Shop, Upgrade
from estimator.model.pickups import PICKUPS, pickup_slot
from estimator.tables.faults import asked_of, faults_of, gravest, mended_alike

WALK, LOWER, FINE, OPEN = "walk-away", "lower", "fine", "not-checked"
ZERO = Decimal(0)
LEVEL_HOURS, REFRET_HOURS = Decimal("2.7"), Decimal("6.5")
OTHER_NECK = "replacement-neck"
"""The row of upgrades.csv that puts another neck on."""
LEAST_FRET, CHEAP_RESALE = Decimal("0.70"), Decimal(250)
STONE = Decimal("0.03")
SPOT_MOST, SPOT_SETUP_MIN, SPOT_MIN = 5, Decimal(4), Decimal(7)
"""High places filed one by one: up to so many, minutes once and each; more are levelled."""
PIECE_MOST, PIECE_HOURS = 8, Decimal("0.25")
"""Grooved frets renewed one by one on top of a level: up to so many, and hours each."""

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


class Mend(Struct, frozen=True):
    """A piece of work, or a part, that mends a fault: what it is and the range it takes off the offer.

    The same ``id`` at two checks is the same work.
    """

    id: str
    what: str
    low: Decimal
    high: Decimal


class Check(Struct, frozen=True):
    """One of the ten: its outcome, the range to lower the offer by, and why, in a sentence.

    ``faults``: for each fault the ways to mend it, each a set of work that is all needed. ``mends``: what of
    the chosen work is counted here; ``mended_with``: earlier checks whose work mends this one too. ``asks``:
    fields of the measuring sheet that show a fault of this check and that nobody looked at.
    """

    number: int
    what: str
    outcome: str
    sentence: str
    low: Decimal = ZERO
    high: Decimal = ZERO
    faults: tuple[tuple[tuple[Mend, ...], ...], ...] = ()
    mends: tuple[Mend, ...] = ()
    mended_with: tuple[int, ...] = ()
    asks: tuple[str, ...] = ()


class Triage(Struct, frozen=True):
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


class _Look(Struct, frozen=True):
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
    faults: Sequence[Fault] = (),
    hopeless: Collection[str] = (),
) -> Triage:
    """The ten checks from intake readings and what was ``seen`` (keys of ``QUESTIONS``).

    ``hopeless``: faults of the table that nothing mends on this instrument (``past_mending``).

    ``resale``: what it fetches clean and working; ``pay_per_hour``: wanted pay; ``neck_price``: another
    neck that goes on, 0 where none does. Assumed readings count as not looked at. Money in the shop's currency.
    """
    look = _Look(readings, _answers(readings) | dict(seen or {}), resale, pay_per_hour, neck_price)
    checks = [check for number, make in enumerate(MAKERS.values(), 1) for check in make(look, number)]
    by_table = [row for check in checks for row in _by_table(check, faults, readings)]
    return Triage(least_work([_with_faults(check, faults, look, hopeless, by_table) for check in checks]))


def mends_that_fit(shop: Shop, job: Job) -> tuple[Upgrade, ...]:
    """The upgrades, each with its part, that mend a fault found or put another neck on, and that fit."""
    wanted = {OTHER_NECK}.union(*(row.mended_by for row in faults_of(shop.faults, job.instrument)))
    rows = {name: row for name, row in shop.upgrades.items() if name in wanted}
    upgrades = all_upgrades(replace(shop, upgrades=MappingProxyType(rows)), job)
    return tuple(v.upgrade for v in judge_all(shop, job, upgrades) if v.outcome != "does-not-fit")


def price_of_neck(fitting: Iterable[Upgrade]) -> Decimal:
    """What the cheapest neck costs that is made for such an instrument and goes on; 0 where there is none."""
    parts = (upgrade.part for upgrade in fitting if upgrade.row.id == OTHER_NECK)
    return min((part.price for part in parts if part is not None), default=ZERO)


def past_mending(
    faults: Sequence[Fault], readings: Mapping[str, Reading], offered: Collection[str]
) -> frozenset[str]:
    """The faults found that have a mend by name, but none among the rows ``offered`` that fit the instrument.

    Another neck does not help where the neck does not come off, or where none of its strings and scale can be
    had. Work that comes with other upgrades mends on any.
    """
    return frozenset(
        row.fault
        for row in faults_of(faults, readings)
        if row.mended_by and not row.mended_by_work and set(row.mended_by).isdisjoint(offered)
    )


def _answers(readings: Mapping[str, Reading]) -> dict[str, bool]:
    """What the sheet answers of the questions; each has a field of its name there."""
    fields = {name: readings.get(name.replace("-", "_")) for name in QUESTIONS}
    return {
        name: reading.value
        for name, reading in fields.items()
        if reading is not None and not reading.assumed and isinstance(reading.value, bool)
    }


def _of_check(check: Check, faults: Sequence[Fault]) -> list[Fault]:
    """The rows that a check looks for; one that lowers no offer is counted by a check's own arithmetic already."""
    return [row for row in faults if row.check == list(MAKERS)[check.number - 1] and row.off_high > 0]


def _by_table(check: Check, faults: Sequence[Fault], readings: Mapping[str, Reading]) -> list[Fault]:
    """The faults found that a check counts by the table."""
    if check.outcome == WALK:
        return []
    found = gravest(faults_of(_of_check(check, faults), readings))
    # where the check's own arithmetic could not be done, every fault known already counts by the table
    return [row for row in found if check.outcome == OPEN or not row.weighed]


def _with_faults(
    check: Check,
    faults: Sequence[Fault],
    look: _Look,
    hopeless: Collection[str],
    by_table: Sequence[Fault],
) -> Check:
    """A check with the faults of the table that no arithmetic of its own covers, and what to look at yet.

    ``by_table``: what all checks count by the table.
    """
    mine = _of_check(check, faults)
    readings = look.readings
    asks = tuple(field for field in asked_of(mine, readings) if readings[field].assumed)
    check = replace(check, asks=asks)
    ends = [row for row in faults_of(mine, readings) if row.fault in hopeless]
    if ends and check.outcome != WALK:
        found_words = "; ".join(dict.fromkeys(row.what for row in ends))
        return Check(check.number, check.what, WALK, f"{found_words}; nothing mends it here", asks=asks)
    found = {row.fault: row for row in _by_table(check, faults, readings)}
    if not found or check.outcome == WALK:
        return check
    said = [] if check.outcome in (FINE, OPEN) else [check.sentence]
    said += [row.what for row in found.values()]
    if check.outcome == OPEN:
        said.append(check.sentence)
    own = {mend.what: mend for ways in check.faults for way in ways for mend in way}
    mends = [_mend_of(row, look, by_table) for row in found.values()]
    ways = tuple(((own.get(mend.what, mend),),) for mend in mends)
    return replace(check, outcome=LOWER, sentence="; ".join(said), faults=(*check.faults, *ways))


def _mend_of(row: Fault, look: _Look, by_table: Sequence[Fault]) -> Mend:
    """What mends a fault of the table: its own range, or another neck at its price where nothing else helps.

    Two faults that the very same work mends are mended once, at the dearer of the two.
    """
    if row.mended_by == (OTHER_NECK,) and not row.mended_by_work and look.neck:
        return _neck_itself(look)
    row = max((row, *(other for other in by_table if mended_alike(row, other))), key=lambda one: one.off_high)
    return _mend(row.mend, row.mend, row.off_low, row.off_high)


def least_work(checks: Sequence[Check]) -> tuple[Check, ...]:
    """The checks with the work that mends all their faults for the least, nothing counted twice.

    All ways are tried: a fault has three at the most. Of equals the first named is taken.
    """
    faults = [ways for check in checks for ways in check.faults]
    plans = ({mend.id: mend for way in ways for mend in way} for ways in product(*faults))
    best = min(plans, key=lambda plan: sum((mend.low + mend.high for mend in plan.values()), ZERO))
    told: dict[str, int] = {}
    return tuple(_counted(check, best, told) for check in checks)


def _counted(check: Check, plan: Mapping[str, Mend], told: dict[str, int]) -> Check:
    """A check with what it adds to the plan; ``told``: at which check each piece of work was counted."""
    if not check.faults:
        return check
    here: dict[str, Mend] = {}
    before: list[int] = []
    for ways in check.faults:
        way = next(way for way in ways if all(mend.id in plan for mend in way))
        for mend in way:
            if told.setdefault(mend.id, check.number) == check.number:
                here[mend.id] = mend
            else:
                before.append(told[mend.id])
    said = f"{check.sentence}: {', '.join(mend.what for mend in here.values())}" if here else check.sentence
    earlier = tuple(dict.fromkeys(before))
    if earlier:
        said += f" (mended with check {' and '.join(map(str, earlier))})"
    low, high = (sum((getattr(m, end) for m in here.values()), ZERO) for end in ("low", "high"))
    return replace(check, sentence=said, low=low, high=high, mends=tuple(here.values()), mended_with=earlier)


def _lower(number: int, what: str, sentence: str, *faults: Sequence[Sequence[Mend]]) -> Check:
    """A check that lowers the offer: the ways to mend each of its faults."""
    return Check(number, what, LOWER, sentence, faults=tuple(tuple(map(tuple, ways)) for ways in faults))


def _mend(id_: str, what: str, low: Decimal | int, high: Decimal | int | None = None) -> Mend:
    return Mend(id_, what, Decimal(low), Decimal(low if high is None else high))


def _work(id_: str, what: str, hours: Decimal, look: _Look) -> Mend:
    return _mend(id_, f"{what}, {time_text(Hundredths(int(hours * 6000)))}", _cents(hours * look.pay))


def _other_neck(look: _Look) -> list[list[Mend]]:
    """Another neck as a way to mend what is wrong with this one, where it comes off by its screws."""
    bolted = look.known("joint") and look.word("joint") == "bolt"
    return [[_neck_itself(look)]] if bolted and look.neck else []


def _neck_itself(look: _Look) -> Mend:
    return _mend("neck", "another neck", look.neck)


def _much_relief(look: _Look) -> bool:
    """Relief that the rod, which works, takes out."""
    spent = look.known("rod_turn_left") and look.number("rod_turn_left") < Decimal("0.25")
    return (
        look.known("relief", "rod_ok")
        and look.number("relief") > Decimal("0.6")
        and look.word("rod_ok") == "works"
        and not spent
    )


ROD = _mend("rod", "the rod set", 20, 40)
FREED = _mend("freed-rod", "the rod freed, where the neck cannot be changed", 45, 90)


def _open(number: int, what: str, needs: str) -> Check:
    return Check(number, what, OPEN, f"not checked: {needs}")


def _neck(look: _Look, number: int) -> Iterator[Check]:
    what = "sight the neck along both edges"
    # what ends it is told as soon as it is known, whatever else nobody looked at
    if look.known("twist") and abs(look.number("twist")) > Decimal("0.5"):
        yield Check(number, what, WALK, f"the neck is twisted by {look.number('twist')} mm (0.5 mm at most)")
    elif not look.known("twist", "relief", "rod_ok"):
        yield _open(number, what, "measure twist and relief, try the rod")
    elif _much_relief(look):
        yield _lower(number, what, "much relief, but the rod works", [[ROD], *_other_neck(look)])
    else:
        yield Check(number, what, FINE, "straight enough")


def _rod(look: _Look, number: int) -> Iterator[Check]:
    what = "a quarter-turn of the rod, having asked"
    dead = look.known("rod_ok") and look.word("rod_ok") == "dead"
    bad = dead or look.seen.get("rod-spins", False)
    if bad and look.known("relief") and look.number("relief") > Decimal("0.4"):
        yield Check(
            number, what, WALK, f"the rod is dead and the relief {look.number('relief')} mm (0.4 mm at most)"
        )
    elif not look.known("rod_ok", "relief"):
        yield _open(number, what, "try the rod, measure the relief")
    elif bad:
        stays = (look.known("joint") and look.word("joint") != "bolt") or not look.neck
        yield _lower(number, what, "the rod is dead", [[FREED if stays else _neck_itself(look)]])
    else:
        yield Check(number, what, FINE, "the rod works")


def _frets(look: _Look, number: int) -> Iterator[Check]:
    what = "fret height and grooves"
    if look.known("fret_h") and look.resale < CHEAP_RESALE:
        # grooves nobody measured could only take off more
        left = look.number("fret_h") - (look.number("fret_wear") if look.known("fret_wear") else ZERO)
        if left < LEAST_FRET:
            said = f"{left} mm of fret left on an instrument that fetches under {CHEAP_RESALE}"
            yield Check(number, what, WALK, said)
            return
    if not look.known("fret_h", "fret_wear", "fret_uneven"):
        yield _open(number, what, "measure fret height, grooves and the worst rock")
        return
    height, wear, uneven = (look.number(name) for name in ("fret_h", "fret_wear", "fret_uneven"))
    if height - max(wear, uneven) - STONE < LEAST_FRET:
        refret = [_work("refret", "a refret", REFRET_HOURS, look)]
        ways = [refret, *_some_frets(look), *_other_neck(look)]
        yield _lower(number, what, "too little fret left to level", ways)
    elif wear > Decimal("0.05") or uneven > Decimal("0.08"):
        level = [_work("level", "level, crown and polish", LEVEL_HOURS, look)]
        yield _lower(number, what, "worn or uneven frets", [level, *_high_places(look), *_other_neck(look)])
    else:
        yield Check(number, what, FINE, "frets are good")


def _high_places(look: _Look) -> list[list[Mend]]:
    """A few high places filed one by one, where they are counted and nothing is worn."""
    if not look.known("high_fret_n") or look.number("fret_wear") > Decimal("0.05"):
        return []
    count = look.number("high_fret_n")
    if not 0 < count <= SPOT_MOST:
        return []
    hours = (SPOT_SETUP_MIN + SPOT_MIN * count) / 60
    amount = _cents(hours * look.pay)
    return [[_mend("spot", f"{count} high places filed and crowned", amount)]]


def _some_frets(look: _Look) -> list[list[Mend]]:
    """New wire on the grooved frets alone, and a level: where the others are high enough for it."""
    if not look.known("grooved_n") or not 0 < look.number("grooved_n") <= PIECE_MOST:
        return []
    if look.number("fret_h") - look.number("fret_uneven") - STONE < LEAST_FRET:
        return []
    count = look.number("grooved_n")
    pieces = _work("pieces", f"new wire on {count} frets", PIECE_HOURS * count, look)
    return [[pieces, _work("level", "level, crown and polish", LEVEL_HOURS, look)]]


def _cracks(look: _Look, number: int) -> Iterator[Check]:
    what = "flex pocket and peghead, look at paint lines"
    long = look.known("crack_cm") and look.number("crack_cm") > 0
    if not look.known("crack_at", "tier") and not long:
        yield _open(number, what, "look for cracks at pocket, peghead and edge, and note the price class")
    elif look.word("crack_at") == "none" and long:
        ways = [[_mend("crack", "a sound repair", 60, 150)]]
        yield _lower(number, what, f"a crack of {look.number('crack_cm')} cm", ways)
    elif look.word("crack_at") == "peghead" and look.word("tier") in ("A", "B"):
        yield Check(number, what, WALK, "an open peghead crack on a cheap instrument")
    elif look.word("crack_at") != "none":
        ways = [[_mend("crack", "a sound repair", 60, 150)]]
        if look.word("crack_at") == "peghead":
            ways += _other_neck(look)
        yield _lower(number, what, f"a crack ({look.word('crack_at')})", ways)
    else:
        yield Check(number, what, FINE, "no cracks")


def _saddles(look: _Look, number: int) -> Iterator[Check]:
    what = "saddle height left both ways"
    if look.seen.get("posts-pulling", False):
        yield Check(number, what, WALK, "the bridge posts are pulling forward")
    elif not look.known("saddle_down", "saddle_up"):
        yield _open(number, what, "measure how far the saddles can still go down and up")
    elif min(look.number("saddle_down"), look.number("saddle_up")) < Decimal("0.5"):
        comes_off = not look.known("joint") or look.word("joint") == "bolt"
        ways = [[_mend("shim", "a shim", 15) if comes_off else _mend("bridge", "another bridge", 40, 90)]]
        # a bowed neck lifts the strings, and the saddles went down after them: straightened it gives them room
        if look.number("saddle_up") >= Decimal("0.5") and _much_relief(look):
            ways.append([ROD])
        yield _lower(number, what, "hardly any saddle travel left", ways)
    else:
        yield Check(number, what, FINE, "saddles can go both ways")


def _tuners(look: _Look, number: int) -> Iterator[Check]:
    what = "all tuners turn and hold"
    if "tuners-bad" not in look.seen and not look.known("tuner_play"):
        yield _open(number, what, "turn every tuner")
    elif look.seen.get("tuners-bad", False) or (look.known("tuner_play") and look.number("tuner_play") > 45):
        said = "tuners slip or bind" if look.seen.get("tuners-bad", False) else "the tuners have wide play"
        yield _lower(number, what, said, [[_mend("tuners", "a set of tuners", 30, 60)]])
    else:
        yield Check(number, what, FINE, "the tuners turn and hold")


def _wiring(look: _Look, number: int) -> Iterator[Check]:
    what = "plug in, try each place and knob, tap the pickups"
    places = [p for p in PICKUPS if f"pu_{p}" in look.readings and look.word(f"pu_{p}") != "none"]
    if not places or not all(look.known(f"dc_ohm_{place}") for place in places):
        yield _open(number, what, "tap or meter every pickup")
        return
    dead = [place for place in places if look.number(f"dc_ohm_{place}") < Decimal("0.5")]
    jack = look.known("jack_state") and look.word("jack_state") in ("dead", "loose", "scratchy")
    jack_way = [[_mend("jack", "a jack", 10, 20)]]
    # nothing comes through a dead jack: where every pickup seems dead, that is the one fault
    if jack and (not dead or (len(dead) == len(places) and look.word("jack_state") == "dead")):
        silent = "; no pickup is heard through it" if dead else ""
        yield _lower(number, what, f"the jack is {look.word('jack_state')}{silent}", jack_way)
    elif dead:
        ways = [[[_mend(pickup_slot(place), f"a {place} pickup", 25, 50)]] for place in dead]
        said = f"dead: {', '.join(dead)} pickup" + (", and the jack" if jack else "")
        yield _lower(number, what, said, *ways, *([jack_way] if jack else []))
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
        said = "loose screws" if loose else "a strap button does not hold"
        yield _lower(number, what, said, [[_mend("screws", "holes plugged, screws firm", 10, 30)]])
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


MAKERS = {
    "neck-line": _neck,
    "truss-rod": _rod,
    "frets": _frets,
    "cracks": _cracks,
    "saddles": _saddles,
    "tuners": _tuners,
    "plug-in": _wiring,
    "screws": _screws,
    "smell": _smell,
    "papers": _papers,
}
"""The ten checks by their ids in ``donor_checks.csv``, in their order."""


def _cents(amount: Decimal) -> Decimal:
    return amount.quantize(Decimal("0.01"), ROUND_HALF_UP)
