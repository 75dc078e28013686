"""Checks that names inside cells are known: intake fields, factors, conditions, fit rules."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal, InvalidOperation

from estimator.core.errors import Issue, near_miss, shown, unknown_word
from estimator.model import AS_FOUND, WOOD_DENSITY, Conditional
from estimator.model.factor_code import factor_code
from estimator.model.fit_rules import FIT_RULES, TOLD
from estimator.model.plausible import INSTRUMENT, PER_PIECE_OF_PARTS
from estimator.model.upgrade import dimension_in, of_part
from estimator.tables.cells import parsed
from estimator.tables.checks.context import Tables, columns_of_kind
from estimator.tables.conditions import CONDITIONS, OF_PART, known_conditions
from estimator.tables.csv_rows import TableRow
from estimator.tables.schema.shop import TABLES
from estimator.tables.toml.values import short_list


def _part_class(tables: Tables, table: str, row: TableRow) -> str:
    """The class of the part that a row of ``table`` has at hand, or "" for none."""
    upgrade = row.values["id"] if table == "upgrades" else row.values.get("upgrade", "")
    owner = tables.ids("upgrades").get(upgrade)
    return str(owner.values["part_class"]) if owner else ""


BRINGING_WORK = ("upgrade_work", "bundle_work")
"""Tables in which a factor level may be left as the instrument was found."""


def quantities_name_fields(tables: Tables) -> Iterator[Issue]:
    """Names in expressions are number fields of intake.csv, or ``part.x`` where there is a part."""
    fields = {*tables.number_fields, WOOD_DENSITY}
    for spec in TABLES:
        for column in columns_of_kind(spec.columns, "expression"):
            for row in tables[spec.name]:
                for name in parsed(row.values[column.name]).names:
                    if name in fields:
                        continue
                    yield from _unknown_name(tables, spec.name, row, column.name, name)


MOST_SHARE = Decimal(5)


def shares_and_divisors(tables: Tables) -> Iterator[Issue]:
    """A share of a run time that is a plain number lies between 0 and 5; what divides can never be 0."""
    never_zero = {
        str(row.values["id"]) for row in tables["intake"] if (row.values["hard_low"] or Decimal(0)) > 0
    }
    for spec in TABLES:
        for column in columns_of_kind(spec.columns, "expression"):
            for row in tables[spec.name]:
                cell = parsed(row.values[column.name])
                where = row.origin.at(column.name)
                if column.name == "share" and not cell.names:
                    number = cell.value(lambda _: Decimal(0))
                    if not 0 <= number <= MOST_SHARE:
                        yield Issue(where, "a share out of range", shown(cell.text), "a number from 0 to 5")
                for name in cell.divisors:
                    if spec.name not in BRINGING_WORK or name not in never_zero:
                        accepted = "in upgrade_work and bundle_work, a field whose hard_low is above 0"
                        yield Issue(where, "divided by what may be 0", shown(name), accepted)


def _unknown_name(tables: Tables, table: str, row: TableRow, column: str, name: str) -> Iterator[Issue]:
    where = row.origin.at(column)
    if not dimension_in(name):
        known = tables.ids("intake")
        problem = "an intake field that is no number" if name in known else "no intake field has this name"
        accepted = "a number field of intake.csv, or part.x for a dimension of the part"
        yield unknown_word(where, problem, name, tables.number_fields, accepted)
        return
    part_class = _part_class(tables, table, row)
    if not part_class:
        accepted = "part.x only in rows of an upgrade with a part_class"
        yield Issue(
            where,
            "there is no part to look this up on",
            shown(name),
            accepted,
            "use an intake field or a number",
        )
        return
    known_dims = [of_part(dimension) for dimension in ("weight_g", *tables.dimensions.get(part_class, ()))]
    if name not in known_dims:
        yield unknown_word(where, f"{part_class} has no such number dimension", name, known_dims)


def factor_codes_known(tables: Tables) -> Iterator[Issue]:
    """Factor codes of tasks are in factors.csv, or name a column of woods, metals or finishes."""
    for row in tables["tasks"]:
        for code in row.values["factors"]:
            if code not in tables.factor_codes:
                accepted = (
                    "a code of factors.csv, or BW.x, FW.x, FT.x with a column of woods, metals, finishes"
                )
                yield unknown_word(
                    row.origin.at("factors"), "unknown factor code", code, tables.factor_codes, accepted
                )


def factor_levels_known(tables: Tables) -> Iterator[Issue]:
    """``CODE=level`` pairs name a factor and one of its levels."""
    codes = {factor_code(code).root for code in tables.factor_codes} | tables.factor_codes
    for spec in TABLES:
        for column in columns_of_kind(spec.columns, "levels"):
            for row in tables[spec.name]:
                for code, level in row.values[column.name].items():
                    levels = tables.factor_levels(code)
                    if not levels:
                        yield unknown_word(
                            row.origin.at(column.name),
                            "unknown factor code",
                            code,
                            codes,
                            ", ".join(sorted(codes)),
                        )
                    elif level not in levels and not (level == AS_FOUND and spec.name in BRINGING_WORK):
                        yield unknown_word(
                            row.origin.at(column.name), f"{code} has no such level", level, levels
                        )


def conditions_known(tables: Tables) -> Iterator[Issue]:
    """Every ``when`` is a known condition of the instrument."""
    conditions = known_conditions()
    for spec in TABLES:
        if all(column.name != "when" for column in spec.columns):
            continue
        for row in tables[spec.name]:
            name = row.values["when"]
            if name and name not in conditions:
                yield unknown_word(
                    row.origin.at("when"), "unknown condition", name, conditions, short_list(conditions)
                )


def faults_readable(tables: Tables) -> Iterator[Issue]:
    """What a fault is read by suits its field, it lowers a level, and its words are choices of the field."""
    fields, attributes = tables.ids("intake"), tables.ids("attributes")
    for row in tables["faults"]:
        reads, bad = row.values["reads"], row.values["bad"]
        owner, lowered = fields.get(row.values["field"]), attributes.get(row.values["attribute"])
        if lowered is not None and lowered.values["kind"] != "level":
            yield Issue(
                row.origin.at("attribute"),
                "a fault lowers levels, not amounts",
                shown(row.values["attribute"]),
                "an attribute of kind level",
                "name another",
            )
        if owner is None:
            continue
        if reads in ("below", "above", "beyond"):
            if row.values["field"] not in tables.number_fields:
                yield Issue(
                    row.origin.at("field"),
                    "a field that is no number",
                    shown(row.values["field"]),
                    "a number field of intake.csv",
                    "read it by its words: is",
                )
            if not _is_number(bad):
                yield Issue(
                    row.origin.at("bad"),
                    "cannot be read as a number",
                    shown(bad),
                    "like 0.5",
                    "write the limit beyond which it is a fault",
                )
        elif reads == "is":
            kind = owner.values["kind"]
            words = ("yes", "no") if kind == "yes-no" else tuple(owner.values["choices"])
            wrong = [word for word in bad.split() if word not in words]
            if wrong or not bad.split():
                yield Issue(
                    row.origin.at("bad"),
                    "no such word of the field",
                    shown(" ".join(wrong)),
                    ", ".join(words),
                    near_miss(wrong[0], words) if wrong else "",
                )


def mends_only_known(tables: Tables) -> Iterator[Issue]:
    """What mends a fault only in some cases is named as mending it."""
    named = {
        (row.values["fault"], upgrade) for row in tables["faults"] for upgrade in row.values["mended_by"]
    }
    for row in tables["mends_only"]:
        fault, upgrade = row.values["fault"], row.values["upgrade"]
        if (fault, upgrade) not in named:
            yield unknown_word(
                row.origin.at("fault"),
                f"faults.csv does not say that {upgrade} mends this fault",
                fault,
                {name for name, _ in named},
                "a fault with the upgrade in mended_by",
                "name it there too",
            )


def fault_odds_known(tables: Tables) -> Iterator[Issue]:
    """The odds of work on a fault name a fault that there is."""
    known = {row.values["fault"] for row in tables["faults"]}
    for row in tables["fault_odds"]:
        if row.values["fault"] not in known:
            yield unknown_word(
                row.origin.at("fault"),
                "no such fault",
                row.values["fault"],
                known,
                "a fault of faults.csv",
                "name another",
            )


def _is_number(text: str) -> bool:
    try:
        return Decimal(text).is_finite()
    except InvalidOperation:
        return False


def changes_known(tables: Tables) -> Iterator[Issue]:
    """What an upgrade changes for good is of changes.csv, after a / a condition of the instrument."""
    for row in tables["upgrades"]:
        for said in row.values["changes"]:
            change = Conditional.of(said)
            for name, known, what in (
                (change.name, tables.ids("changes"), "an id of changes.csv"),
                (change.condition, {*CONDITIONS, *OF_PART}, "after the /, a condition of the instrument"),
            ):
                if name not in known and ("/" in said or name):
                    hint = near_miss(name, known)
                    yield Issue(row.origin.at("changes"), "nothing has this name", shown(said), what, hint)


def fit_rules_known(tables: Tables) -> Iterator[Issue]:
    """Every fit rule that a class of part or an upgrade asks for is programmed."""
    known = FIT_RULES
    for table in ("part_classes", "upgrades"):
        for row in tables[table]:
            for name in row.values["rules"]:
                if name not in known:
                    yield unknown_word(
                        row.origin.at("rules"), "unknown fit rule", name, known, short_list(known)
                    )


def customer_names_are_known(tables: Tables) -> Iterator[Issue]:
    """Names for a customer are those of an attribute, an upgrade or a slot; a slot has a mark."""
    known = {
        "attribute": tables.ids("attributes"),
        "level": {
            f"{kind}{name}-{level}"
            for kind in ("", "bass-")
            for name in tables.ids("attributes")
            for level in range(5)
        },
        "upgrade": tables.ids("upgrades"),
        "slot": {row.values["slot"] for row in tables["upgrades"]},
    }
    for row in tables["customer_names"]:
        kind, about = row.values["kind"], row.values["about"]
        if about not in known[kind]:
            yield unknown_word(
                row.origin.at("about"),
                f"no {kind} has this name",
                about,
                known[kind],
                short_list(sorted(known[kind])),
            )
        if (kind == "slot") != bool(row.values["mark"]):
            found, accepted = (
                ("no mark", "where it is") if kind == "slot" else ("a mark", "none: its slot has one")
            )
            yield Issue(row.origin.at("mark"), f"{kind}s and marks do not go together so", found, accepted)


def customer_words_are_used(tables: Tables) -> Iterator[Issue]:
    """Words for a customer are about a task or something a rule tells, and hold no place but {n}.

    What a rule only tells has no line in the price: a customer hears of it because the result differs. That
    less work would have done is said to the bench, before the work is offered.
    """
    tasks = tables.ids("tasks")
    for row in tables["customer_words"]:
        about, rule, words = (row.values[name] for name in ("about", "rule", "words"))
        if about not in tasks and about not in TOLD:
            accepted = f"a task of tasks.csv, or one of {short_list(sorted(TOLD))}"
            hint = near_miss(about, {*tasks, *TOLD})
            yield Issue(row.origin.at("about"), "nothing is told by this name", shown(about), accepted, hint)
        if about in TOLD and row.values["concern"] == "price":
            yield Issue(
                row.origin.at("concern"),
                "a warning that is no work has no price",
                "price",
                "result or lasting",
                "leave the row out if the bench alone has to know it",
            )
        if rule and rule not in FIT_RULES:
            hint = near_miss(rule, FIT_RULES)
            yield Issue(row.origin.at("rule"), "unknown fit rule", shown(rule), short_list(FIT_RULES), hint)
        if set("{}") & set(words.replace("{n}", "") if about in tasks else words):
            accepted = "plain words, with {n} for how many where they are about a task"
            yield Issue(row.origin.at("words"), "a place that nothing is put into", shown(words), accepted)


def per_piece_values_known(tables: Tables) -> Iterator[Issue]:
    """What one piece may be given for is a number of the instrument, or the weight or price of a part."""
    classes = tables.ids("part_classes")
    for row in tables["per_piece"]:
        part_class, value = row.values["part_class"], row.values["value"]
        if part_class != INSTRUMENT and part_class not in classes:
            known = (INSTRUMENT, *classes)
            yield unknown_word(
                row.origin.at("part_class"), "unknown class of part", part_class, known, short_list(known)
            )
            continue
        fields = tables.number_fields if part_class == INSTRUMENT else list(PER_PIECE_OF_PARTS)
        if value not in fields:
            yield unknown_word(
                row.origin.at("value"), "no number has this name", value, fields, short_list(fields)
            )


def neighbours_are_numbers(tables: Tables) -> Iterator[Issue]:
    """Only a number can lie outside a range."""
    for row in tables["neighbours"]:
        if (name := row.values["field"]) not in tables.number_fields and name in tables.ids("intake"):
            yield Issue(
                row.origin.at("field"),
                "an intake field that is no number",
                shown(name),
                "a number field of intake.csv",
                "take another field",
            )


PATTERN_COLUMNS = (("intake", "id", "br_pattern"), ("part_dimensions", "dimension", "pattern"))
"""Tables, columns and names whose words are hole patterns; a plain row needs none."""


def patterns_are_there(tables: Tables) -> Iterator[Issue]:
    """A pattern that can be named has its holes."""
    known = {row.values["pattern"] for row in tables["hole_patterns"]}
    for table, column, name in PATTERN_COLUMNS:
        for row in tables[table]:
            for word in row.values["choices"] if row.values[column] == name else ():
                if word != "row" and word not in known:
                    yield unknown_word(
                        row.origin.at("choices"),
                        "a pattern that has no holes",
                        word,
                        known,
                        f"row, or a pattern of hole_patterns.csv: {short_list(sorted(known))}",
                    )
