"""Named conditions that rows of the tables may ask for, each a short question about the instrument."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from decimal import Decimal

from estimator.core.text import BASS, family_of
from estimator.model import Part, Reading
from estimator.model.pickups import PICKUPS

Instrument = Mapping[str, Reading]
SLOTLESS = ("roller", "locking")
"""Nuts without slots of their own to file."""
LOW_GAP = {"nut_clear_b": Decimal("0.30"), "nut_clear_t": Decimal("0.20")}
"""Gap over the first fret, mm, at which the nut is too low on that side (memory)."""
TREMOLOS = frozenset({"six-screw-trem", "two-post-trem", "locking-trem", "roller-vibrato"})


def _is(field: str, *words: str) -> Callable[[Instrument], bool]:
    return lambda instrument: field in instrument and str(instrument[field].value) in words


def _number(field: str, of: Callable[[Decimal], bool]) -> Callable[[Instrument], bool]:
    """Whether something holds of a number; never where there is none."""

    def holds(instrument: Instrument) -> bool:
        value = instrument[field].value if field in instrument else None
        return isinstance(value, Decimal) and of(value)

    return holds


def _above(field: str, limit: int) -> Callable[[Instrument], bool]:
    return _number(field, lambda value: value > limit)


def _not(condition: Callable[[Instrument], bool]) -> Callable[[Instrument], bool]:
    return lambda instrument: not condition(instrument)


def _yes(field: str) -> Callable[[Instrument], bool]:
    return lambda instrument: field in instrument and instrument[field].value is True


def _bass(instrument: Instrument) -> bool:
    return family_of(instrument["kind"].value) == BASS


def _single_coil(field: str) -> Callable[[Instrument], bool]:
    return _is(field, "single", "soapbar", "slim", "bass-single")


def _any(*conditions: Callable[[Instrument], bool]) -> Callable[[Instrument], bool]:
    return lambda instrument: any(condition(instrument) for condition in conditions)


def _all(*conditions: Callable[[Instrument], bool]) -> Callable[[Instrument], bool]:
    return lambda instrument: all(condition(instrument) for condition in conditions)


def _single_coils(count: int) -> Callable[[Instrument], bool]:
    def counted(instrument: Instrument) -> bool:
        return count == sum(_single_coil(field)(instrument) for field in PICKUP_FIELDS)

    return counted


def _below(field: str, limit: Decimal) -> Callable[[Instrument], bool]:
    return _number(field, lambda value: value < limit)


def _all_of(part: str, whole: str) -> Callable[[Instrument], bool]:
    """Whether an area that may be a part of another is the whole of it."""

    def holds(instrument: Instrument) -> bool:
        some, full = (instrument[f].value if f in instrument else None for f in (part, whole))
        return not isinstance(some, Decimal) or not isinstance(full, Decimal) or some >= full

    return holds


def _pickup(place: str) -> Callable[[Instrument], bool]:
    """A pickup that a meter tells something about: an active one hides its coil behind its own stage."""
    return _all(_not(_is(f"pu_{place}", "none")), _is("battery", "none"))


def _dead(place: str) -> Callable[[Instrument], bool]:
    return _all(_not(_is(f"pu_{place}", "none")), _below(f"dc_ohm_{place}", Decimal("0.5")))


PICKUP_FIELDS = ("pu_neck", "pu_middle", "pu_bridge")
_tremolo = _is("br_type", *sorted(TREMOLOS))
_block = _is("br_type", "six-screw-trem", "two-post-trem", "locking-trem")
_posts = _is("br_type", "two-post-trem", "locking-trem", "post-and-tailpiece", "wraparound")
_bolt = _is("joint", "bolt")
_sound = _all(_not(_above("crack_cm", 0)), _is("crack_at", "none"))
"""A crack is there once it has a length or a place: either word alone is enough."""

_rod = _not(_is("rod_ok", "none"))
_stuck_rod = _is("rod_ok", "dead", "stiff")
_spinning_rod = _all(_rod, _yes("rod_spins"))
# less than a quarter turn left is none to take a bow out with; a rod at its end still lets go of a back bow
_spent_rod = _any(_spinning_rod, _all(_rod, _below("rod_turn_left", Decimal("0.25"))))

#: string heights where levels 1 to 4 of the action begin, mm, guitar, and how much more on a bass (memory): those of
#: the bass side are the limits of ``attributes.csv``, held to them by a test; the treble side stands there in words
BASS_HIGHER = Decimal("0.7")
SIDES = {
    "bass-side": ("action_b", ("2.4", "2.0", "1.7", "1.4")),
    "treble-side": ("action_t", ("2.0", "1.6", "1.4", "1.1")),
}


def treble_lower(level: int) -> Decimal:
    """By how much the strings of the treble side lie lower than those of the bass side at a level of the action, mm."""
    (_, bass), (_, treble) = SIDES["bass-side"], SIDES["treble-side"]
    return Decimal(bass[level - 1]) - Decimal(treble[level - 1])


#: below these heights strings buzz, mm (memory)
BUZZ = {
    ("guitar", "bass-side"): "1.0",
    ("guitar", "treble-side"): "0.8",
    ("bass", "bass-side"): "1.5",
    ("bass", "treble-side"): "1.2",
}


def board_share(frets: Decimal | int) -> Decimal:
    """Distance from nut to a fret as a share of the scale: 1 - 2^(-k/12) (equal temperament)."""
    return 1 - Decimal(2) ** (-Decimal(frets) / 12)


def height_share(bass: bool) -> Decimal:
    """The share of a saddle's way that arrives where the height is measured: fret 12, of a bass 17 (common-practice)."""
    return board_share(17 if bass else 12)


def level_of_height(side: str, height: Decimal, bass: bool) -> int:
    """The level of the action that strings of a side reach at a height."""
    begins = (Decimal(limit) + (BASS_HIGHER if bass else 0) for limit in SIDES[side][1])
    return sum(height <= limit for limit in begins)


def _with_saddles(instrument: Instrument, height: str, travel: str, way: int) -> Decimal | None:
    """The string height with the saddles all the way down (-1) or up (1); None where a reading is missing.

    What the saddle moves arrives by the share of the scale where the height is measured (``height_share``).
    """
    values = [instrument[name].value if name in instrument else None for name in (height, travel)]
    stands, moves = values
    if not isinstance(stands, Decimal) or not isinstance(moves, Decimal):
        return None
    return stands + way * moves * height_share(_bass(instrument))


def _stays_high(side: str, level: int) -> Callable[[Instrument], bool]:
    """Whether the saddles, all the way down, leave the strings of a side too high for a level."""

    def holds(instrument: Instrument) -> bool:
        lowest = _with_saddles(instrument, SIDES[side][0], "saddle_down", -1)
        return lowest is not None and level_of_height(side, lowest, _bass(instrument)) < level

    return holds


def _stays_low(kind: str, side: str) -> Callable[[Instrument], bool]:
    """Whether the saddles, all the way up, leave the strings of a side so low that they buzz."""

    def holds(instrument: Instrument) -> bool:
        highest = _with_saddles(instrument, SIDES[side][0], "saddle_up", 1)
        return highest is not None and highest < Decimal(BUZZ[kind, side])

    return holds


def _low_nut(instrument: Instrument) -> bool:
    """Whether the nut is too low on a side, by the gap over the first fret."""
    gaps = {name: instrument[name].value for name in LOW_GAP if name in instrument}
    return any(isinstance(gap, Decimal) and gap <= LOW_GAP[name] for name, gap in gaps.items())


def _whole_nut(instrument: Instrument) -> bool:
    """Whether nobody found the nut cracked or missing."""
    return not _is("nut_state", "cracked", "missing")(instrument)


def _kind(kind: str) -> Callable[[Instrument], bool]:
    return _bass if kind == "bass" else _not(_bass)


CONDITIONS: dict[str, Callable[[Instrument], bool]] = {
    "bass": _bass,
    "guitar": _not(_bass),
    # bridges
    "tremolo": _tremolo,
    "not-tremolo": _not(_tremolo),
    "six-screw-tremolo": _is("br_type", "six-screw-trem"),
    "locking-bridge": _is("br_type", "locking-trem"),
    "not-locking-tremolo": _not(_is("br_type", "locking-trem")),
    "tremolo-or-hardtail": _is("br_type", "hardtail", "six-screw-trem", "two-post-trem", "locking-trem"),
    "has-block": _block,
    "barrel-plate-bridge": _is("br_type", "barrel-saddle-plate"),
    "post-mounted-bridge": _is("br_type", "post-and-tailpiece", "wraparound"),
    "bridge-on-posts": _posts,
    "no-bridge-posts": _not(_posts),
    # posts that pulled their bores open are set anew in plugged wood: that mends the body and changes nothing of it
    "posts-hold": _not(_yes("posts_pulling")),
    "no-bridge-ground": _all(_not(_yes("br_gnd")), _is("battery", "none")),
    # neck and frets
    "bolt-neck": _bolt,
    "stripped-joint": _all(_bolt, _above("joint_strip_n", 0)),
    "not-bolt-neck": _not(_bolt),
    "sound-bolt-neck": _all(_bolt, _sound),
    "sound-set-neck": _all(_not(_bolt), _sound),
    "has-loose-frets": _above("fret_loose_n", 0),
    "has-truss-rod": _not(_is("rod_ok", "none")),
    "no-truss-rod": _is("rod_ok", "none"),
    # a rod that is dead or only spins is set by nobody until it was mended
    "rod-turns": _all(_rod, _not(_is("rod_ok", "dead")), _not(_yes("rod_spins"))),
    "rod-takes-bow-out": _all(_is("rod_ok", "works"), _not(_spent_rod)),
    "rod-lets-go": _all(_is("rod_ok", "works"), _not(_spinning_rod)),
    "rod-dead": _is("rod_ok", "dead"),
    "rod-to-free": _all(_stuck_rod, _not(_spent_rod)),
    "rod-to-free-or-spent": _all(_stuck_rod, _not(_spinning_rod)),
    "rod-wants-nut": _spent_rod,
    "rod-spins": _spinning_rod,
    "heavier-strings": _yes("string_gauge_change"),
    # only let down where they lie over the wiring; in a hollow body the harness comes out under them
    "strings-in-the-way": _all(_is("access", "guard-mounted", "hollow"), _not(_yes("string_gauge_change"))),
    "strings-stay": _not(_yes("string_gauge_change")),
    "heavier-with-rod": _all(
        _yes("string_gauge_change"), _not(_is("rod_ok", "none", "dead")), _not(_yes("rod_spins"))
    ),
    "heavier-on-tremolo": _all(_yes("string_gauge_change"), _tremolo),
    "heavier-on-springs": _all(_yes("string_gauge_change"), _block),
    # string height within what the saddles can travel
    **{
        f"{side}-stays-over-level-{level}": _stays_high(side, level)
        for side in SIDES
        for level in range(1, 5)
    },
    **{f"{kind}-{side}-stays-low": _all(_kind(kind), _stays_low(kind, side)) for kind, side in BUZZ},
    **{f"{kind}-{side}-rises": _all(_kind(kind), _not(_stays_low(kind, side))) for kind, side in BUZZ},
    "bound-board": _yes("board_bound"),
    "brittle-board": _is("board_mat", "ebony-type"),
    # peghead and nut
    "nut-stuck": _all(_yes("nut_stuck"), _not(_is("nut_state", "missing"))),
    # a roller or locking nut is screwed down: it has no slots to file, it is set on shims or lower in its seat
    "slotted-nut": _not(_is("nut_mat", *SLOTLESS)),
    "slotted-nut-there": _all(_not(_is("nut_mat", *SLOTLESS)), _not(_is("nut_state", "missing"))),
    "whole-nut": _whole_nut,
    "nut-there": _not(_is("nut_state", "missing")),
    "nut-missing": _is("nut_state", "missing"),
    "nut-stuck-or-missing": _any(_yes("nut_stuck"), _is("nut_state", "missing")),
    # on a nut that is cracked or gone nothing is set, and it is not raised: another one is fitted
    "slotted-nut-that-is-whole": _all(_not(_is("nut_mat", *SLOTLESS)), _whole_nut),
    "screwed-nut-that-is-whole": _all(_is("nut_mat", *SLOTLESS), _whole_nut),
    "low-nut-that-is-whole": _all(_not(_is("nut_mat", *SLOTLESS)), _low_nut, _whole_nut),
    "locking-nut": _all(_is("nut_mat", "locking"), _whole_nut),
    "roller-nut": _all(_is("nut_mat", "roller"), _whole_nut),
    "no-locking-nut": _not(_is("nut_mat", "locking")),
    "heavier-in-slots": _all(_yes("string_gauge_change"), _not(_is("nut_mat", *SLOTLESS)), _whole_nut),
    "tree": _is("peg_style", "straight-offset"),
    "worn-tuners": _above("tuner_play", 25),
    # pickups and wiring
    "has-neck-pickup": _not(_is("pu_neck", "none")),
    "has-middle-pickup": _not(_is("pu_middle", "none")),
    "has-bridge-pickup": _not(_is("pu_bridge", "none")),
    "dead-neck-pickup": _dead("neck"),
    "dead-middle-pickup": _dead("middle"),
    "dead-bridge-pickup": _dead("bridge"),
    "passive-neck-pickup": _pickup("neck"),
    "passive-middle-pickup": _pickup("middle"),
    "passive-bridge-pickup": _pickup("bridge"),
    "only-single-coil-neck": _all(_single_coil("pu_neck"), _single_coils(1)),
    "only-single-coil-middle": _all(_single_coil("pu_middle"), _single_coils(1)),
    "only-single-coil-bridge": _all(_single_coil("pu_bridge"), _single_coils(1)),
    "two-single-coils": _single_coils(2),
    "three-single-coils": _single_coils(3),
    **{f"{place}-not-single-size": _not(_is(f"pu_{place}", "single", "slim")) for place in PICKUPS},
    **{f"{place}-not-humbucker": _not(_is(f"pu_{place}", "humbucker")) for place in PICKUPS},
    **{f"{place}-not-soapbar": _not(_is(f"pu_{place}", "soapbar")) for place in PICKUPS},
    "passive": _is("battery", "none"),
    "guard-mounted": _is("access", "guard-mounted"),
    "not-guard-mounted": _not(_is("access", "guard-mounted")),
    "has-back-cover": _any(_is("access", "rear-cavity"), _block),
    "has-switch": _not(_is("sw_type", "none")),
    "blade-switch": _is("sw_type", "blade-box", "blade-open"),
    "toggle-switch": _is("sw_type", "toggle-short", "toggle-tall"),
    "switch-good": _is("sw_state", "good"),
    "switch-worn": _not(_is("sw_state", "good")),
    "pots-good": _is("pot_state", "good"),
    "controls-alive": _all(_not(_is("pot_state", "dead")), _not(_is("sw_state", "dead"))),
    "plated-jack": _is("jack_type", "plate", "cup", "boat"),
    # body
    "has-chips": _above("chip_n", 0),
    # areas that are worked on, where not the whole of it
    "has-refinish-part": _above("refinish_cm2", 0),
    "wide-refinish-part": _above("refinish_cm2", 200),
    "small-refinish-part": _not(_above("refinish_cm2", 200)),
    "has-worn-place": _above("touch_cm2", 0),
    "all-shielded": _all_of("shield_cm2", "cav_skin_cm2"),
    # a coil without its counterpart takes up what a mains transformer sends out, whatever lines its cavity
    "all-shielded-single-coils": _all(_all_of("shield_cm2", "cav_skin_cm2"), _not(_single_coils(0))),
    "all-shielded-no-single-coils": _all(_all_of("shield_cm2", "cav_skin_cm2"), _single_coils(0)),
    "part-shielded": _not(_all_of("shield_cm2", "cav_skin_cm2")),
    "few-chips": _not(_above("chip_n", 6)),
    "has-crack": _not(_sound),
    "crack-unmeasured": _all(_not(_above("crack_cm", 0)), _not(_is("crack_at", "none"))),
    "crack-on-body": _not(_is("crack_at", "peghead")),
    "no-contour": _not(_yes("contour")),
    "has-guard": _above("guard_cm2", 0),
    "has-stuck": _above("stuck_n", 0),
    "hollow-body": _is("access", "hollow", "semi-hollow-panel"),
    "thick-finish": _is("fin_type", "polyester-thick"),
    "hard-to-match-colour": _is("fin_col", "metallic", "transparent-burst"),
}


def _leads(part: Part | None) -> Decimal:
    leads = part.dims.get("leads") if part else None
    return leads if isinstance(leads, Decimal) else Decimal(0)


#: conditions that ask about the part of an upgrade instead of the instrument
PART_CONDITIONS: dict[str, Callable[[Part | None], bool]] = {
    "two-leads": lambda part: _leads(part) <= 2,
    "four-leads": lambda part: _leads(part) >= 3,
}


def known_conditions() -> frozenset[str]:
    """Every name that a ``when`` may hold."""
    return frozenset((*CONDITIONS, *PART_CONDITIONS))


SORTS = {
    "single": "bass-single",
    "slim": "bass-single",
    "humbucker": "bass-humbucker",
    "soapbar": "bass-humbucker",
}
"""Words of the intake for a pickup that mean one of the sorts of bass pickups."""


def _other_sort(instrument: Instrument, part: Part | None, place: str) -> bool:
    """Whether a part is another sort of pickup than stands in its place: a soap-bar for a split one."""
    made = "" if part is None else str(part.dims.get("sort", ""))
    there = str(instrument[f"pu_{place}"].value) if f"pu_{place}" in instrument else ""
    return bool(made) and there not in ("", "none") and SORTS.get(there, there) != made


OF_PART: dict[str, Callable[[Instrument, Part | None, str], bool]] = {"other-sort-of-pickup": _other_sort}
"""Conditions of the instrument together with the part that an upgrade fits, and the place it goes to."""


def thing_of(name: str) -> str:
    """What has to be there for a condition to hold, in words; blank where it asks for something else."""
    return name.removeprefix("has-").replace("-", " ") if name.startswith("has-") else ""


def holds(name: str, instrument: Instrument, part: Part | None = None) -> bool:
    """Whether the named condition holds of the instrument or the part; a blank name always does."""
    if name in PART_CONDITIONS:
        return PART_CONDITIONS[name](part)
    return not name or CONDITIONS[name](instrument)
