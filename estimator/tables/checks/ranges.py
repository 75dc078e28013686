"""Checks that numbers of one row or group agree with each other."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal, InvalidOperation
from itertools import pairwise

from estimator.core.errors import Issue, shown
from estimator.model import NEVER_PROMISED
from estimator.model.column import HUNDRED
from estimator.tables.cells import parsed, plain
from estimator.tables.checks.context import Tables
from estimator.tables.schema.table import THREE_POINTS

RUN, WAIT, PRICE = THREE_POINTS
#: table -> columns whose numbers must not fall from left to right
RISING: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("tasks", RUN),
    ("tasks", WAIT),
    ("task_methods", RUN),
    ("task_methods", WAIT),
    ("parts", PRICE),
    ("part_classes", ("lead_days_low", "lead_days_high")),
    ("part_dimensions", ("low", "high")),
    ("known_jobs", ("low_min", "high_min")),
    ("posted_prices", ("low", "high")),
    ("neighbours", ("low", "high")),
    ("per_piece", ("low", "high")),
    ("resale_tiers", ("base_low", "base_high")),
    ("box_classes", ("freight_low", "freight_high")),
    ("donor_checks", ("off_low", "off_high")),
    ("faults", ("off_low", "off_high")),
    ("donor_checks", ("hours_low", "hours_high")),
    ("donor_checks", ("share_low", "share_high")),
    ("send_out", ("rent_low", "rent_high")),
    ("send_out", ("send_low", "send_high")),
    ("send_out", ("wait_low_days", "wait_high_days")),
)
HIGHEST_LEVEL = Decimal(4)


def _number(value: object) -> Decimal | None:
    """A number, also where the column takes an expression; None for blanks and for sums over fields."""
    if isinstance(value, str):
        try:
            return Decimal(value)
        except InvalidOperation:
            return None
    return value if isinstance(value, Decimal) else None


def three_points_rise(tables: Tables) -> Iterator[Issue]:
    """low <= likely <= high, fast <= usual <= safe, and so on."""
    for table, names in RISING:
        for row in tables[table]:
            numbers = [(name, number) for name in names if (number := _number(row.values[name])) is not None]
            if any(a[1] > b[1] for a, b in pairwise(numbers)):
                found = ", ".join(f"{name} {plain(number)}" for name, number in numbers)
                yield Issue(
                    row.origin.at(numbers[0][0]),
                    "numbers that do not rise",
                    found,
                    " <= ".join(names),
                    "look whether two of them are swapped; of a row of your own leave both ends out, or write all of them",
                )


def effects_suit_their_attribute(tables: Tables) -> Iterator[Issue]:
    """Levels are set, raised or capped within 0 to 4; amounts are changed."""
    attributes = tables.ids("attributes")
    for table in ("upgrade_effects", "task_effects"):
        for row in tables[table]:
            attribute = attributes.get(row.values["attribute"])
            if attribute is None:
                continue
            kind, name = row.values["kind"], shown(row.values["attribute"])
            if attribute.values["kind"] == "number":
                if kind != "change":
                    problem, step = (
                        "an effect that an amount cannot have",
                        "state by how much the amount changes",
                    )
                    yield Issue(row.origin.at("kind"), problem, f"“{kind}” of {name}", "change", step)
                continue
            if kind == "change":
                step = "state the level it comes to, or how much it adds"
                problem = "change of an attribute that has levels"
                yield Issue(row.origin.at("kind"), problem, name, "to, add, cap", step)
                continue
            value = parsed(row.values["value"])
            if not value.names:
                level = value.value(lambda name: Decimal(0))
                low = -HIGHEST_LEVEL if kind == "add" else Decimal(0)
                if not low <= level <= HIGHEST_LEVEL:
                    yield Issue(row.origin.at("value"), "a level outside 0 to 4", plain(level), "0 to 4")


def never_promised(tables: Tables) -> Iterator[Issue]:
    """What is only a matter of the player's words has no effects, no weight, no least level."""
    for table in ("upgrade_effects", "task_effects", "profiles"):
        for row in tables[table]:
            if row.values["attribute"] == NEVER_PROMISED:
                problem = "sustain and “resonance” are never scored or promised"
                yield Issue(
                    row.origin.at("attribute"),
                    problem,
                    "",
                    "attributes that can be measured",
                    "delete the row",
                )


def attribute_limits_in_order(tables: Tables) -> Iterator[Issue]:
    """Limits have no gaps, rise where more is better and fall where less is; amounts have all four."""
    for row in tables["attributes"]:
        limits = [row.values[f"limit_{n}"] for n in range(1, 5)]
        given = [limit for limit in limits if limit is not None]
        where = row.origin.at("limit_1")
        wanted = (
            "four limits or none" if row.values["kind"] == "number" else "limits from limit_1 on, no gaps"
        )
        if given != limits[: len(given)] or (row.values["kind"] == "number" and len(given) not in (0, 4)):
            yield Issue(where, "some limits are missing", f"{len(given)} of 4", wanted, "fill in the others")
            continue
        if given != sorted(given, reverse=row.values["better"] == "less"):
            direction = "rising" if row.values["better"] == "more" else "falling"
            accepted = f"{direction} from level 1 to level 4, as {row.values['better']} is better"
            yield Issue(where, "limits out of order", ", ".join(map(plain, given)), accepted)
        if row.values["kind"] == "number" and not given:
            step = "add four limits, or levels cannot be asked for"
            problem = "an amount without limits"
            yield Issue(where, problem, shown(row.values["id"]), "four limits", step, "warning")


def limits_say_one_thing(tables: Tables) -> Iterator[Issue]:
    """A row of attribute_limits has either ``plus`` or ``needs``."""
    for row in tables["attribute_limits"]:
        if (row.values["plus"] is None) == (row.values["needs"] is None):
            yield Issue(
                row.origin.at("plus"),
                "a limit with neither or both of plus and needs",
                "",
                "one of the two columns filled",
                "fill in one, clear the other",
            )


def profile_weights(tables: Tables) -> Iterator[Issue]:
    """The weights of a profile sum to 100 (a warning: scores stay comparable only then)."""
    sums: dict[str, Decimal] = {}
    for row in tables["profiles"]:
        profile = row.values["profile"]
        sums[profile] = sums.get(profile, Decimal(0)) + row.values["weight"]
    for profile, total in sums.items():
        if total != HUNDRED:
            first = tables.ids("profiles")[profile]
            yield Issue(
                first.origin.at("weight"),
                f"the weights of {profile} do not sum to 100",
                plain(total),
                "100",
                "change some weights",
                "warning",
            )


def promise_rests_on_one(tables: Tables) -> Iterator[Issue]:
    """A row of promise_rests names a ``field``, an ``other`` attribute or a ``task``."""
    for row in tables["promise_rests"]:
        if sum(bool(row.values[name]) for name in ("field", "other", "task")) != 1:
            yield Issue(
                row.origin.at("other"),
                "a promise that rests on none or several of a field, another attribute and a task",
                shown(row.values["other"]),
                "a field, an other attribute or a task, one of the three",
                "fill in one of the three columns",
            )
