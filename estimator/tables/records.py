"""Typed rows to the frozen records of the model, in file order."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from decimal import Decimal
from types import MappingProxyType
from typing import Any, Literal, TypeVar

from msgspec import Struct
from msgspec.structs import replace

from estimator import model
from estimator.core.errors import Issue, near_miss, note, shown
from estimator.model.column import columns_of
from estimator.model.plausible import by_field
from estimator.tables.cells import CellError, read_levels
from estimator.tables.csv_rows import TableRow
from estimator.tables.intake import TEMPLATE
from estimator.tables.methods import done_usually
from estimator.tables.quantities import read_dimension

T = TypeVar("T")
R = TypeVar("R", bound=Struct)
Rows = Mapping[str, Sequence[TableRow]]


def _faults(rows: Rows) -> tuple[model.Fault, ...]:
    """The faults, each with the upgrades that mend it only where they make the instrument lighter."""
    lighter: dict[str, list[str]] = {}
    for row in rows["mends_only"]:
        lighter.setdefault(row.values["fault"], []).append(row.values["upgrade"])
    faults = map(plain_record(model.Fault), rows["faults"])
    return tuple(replace(fault, only_lighter=tuple(lighter.get(fault.fault, ()))) for fault in faults)


def plain_record(cls: type[T], **elsewhere: str) -> Callable[[TableRow], T]:
    """A maker of records from the columns that their fields declare, and where the numbers are from if they say.

    ``elsewhere``: the column of a field that has another name in this table. A column that the table does
    without (see ``table``) counts as blank.
    """
    says = [name for name in ("basis", "source") if name in cls.__annotations__]
    own = {
        name: columns[0]
        for name, columns in columns_of(cls).items()
        if [column.name for column in columns] == [name]
    }
    blank = {name: column.default for name, column in own.items() if not column.required}
    wanted = {name: name for name in (*own, *says)} | elsewhere
    maker: Callable[..., T] = cls

    def make(row: TableRow) -> T:
        values = row.values
        found = {name: values[column] if column in values else blank[name] for name, column in wanted.items()}
        return maker(**found, origin=row.origin)

    return make


def _reading(
    make: Callable[[TableRow], R], read: Callable[[Sequence[str]], object], *names: str
) -> Callable[[TableRow], R]:
    """A maker of records some of whose fields are read from the words that stand in their cells."""

    def made(row: TableRow) -> R:
        record = make(row)
        return replace(record, **{name: read(getattr(record, name)) for name in names})

    return made


def _conditionals(words: Sequence[str]) -> tuple[model.Conditional, ...]:
    return tuple(map(model.Conditional.of, words))


def by_id(rows: Iterable[TableRow], make: Callable[[TableRow], T], key: str = "id") -> Mapping[str, T]:
    """Records by the value of their key column."""
    return MappingProxyType({row.values[key]: make(row) for row in rows})


def grouped(rows: Iterable[TableRow], make: Callable[[TableRow], T], key: str) -> Mapping[str, tuple[T, ...]]:
    """Tuples of records by the value of one column."""
    groups: dict[str, list[T]] = {}
    for row in rows:
        groups.setdefault(row.values[key], []).append(make(row))
    return MappingProxyType({name: tuple(records) for name, records in groups.items()})


def _attribute(row: TableRow) -> model.Attribute:
    v = row.values
    limits = tuple(limit for n in range(1, 5) if (limit := v[f"limit_{n}"]) is not None)
    words = tuple(v[f"words_{n}"] for n in range(5)) if any(v[f"words_{n}"] for n in range(5)) else ()
    names = [name for name in columns_of(model.Attribute) if name not in ("limits", "words")]
    return model.Attribute(**{name: v[name] for name in names}, limits=limits, words=words, origin=row.origin)


def owned(rows: Iterable[TableRow], kind: type[T], owner: str) -> Mapping[str, tuple[T, ...]]:
    """Tuples of records by their owner, which has the name of its table's column there."""
    return grouped(rows, plain_record(kind, owner=owner), owner)


def dimension_table(rows: Rows) -> Mapping[str, Mapping[str, model.PartDimension]]:
    """Declared dimensions by class of part; every class has an entry."""
    none: Mapping[str, model.PartDimension] = MappingProxyType({})
    found = nested(rows["part_dimensions"], model.PartDimension, "part_class", "dimension")
    return MappingProxyType(
        {**dict.fromkeys((row.values["id"] for row in rows["part_classes"]), none), **found}
    )


def typical_dims(
    specs: Mapping[str, model.PartDimension],
    issues: list[Issue] | None = None,
    column: Literal["typical", "typical_bass"] = "typical",
) -> dict[str, Decimal | str]:
    """The typical value of every dimension that has one in the column; complaints go to ``issues``."""
    dims: dict[str, Decimal | str] = {}
    for name, spec in specs.items():
        text = spec.typical_bass if column == "typical_bass" else spec.typical
        if not text:
            continue
        try:
            dims[name] = read_dimension(text, spec)
        except CellError as error:
            if issues is not None:
                where = spec.origin.at(column)
                note(issues, where, error.problem, shown(text), error.accepted, error.next_step)
    return dims


def part_dims(
    row: TableRow, specs: Mapping[str, model.PartDimension], issues: list[Issue]
) -> dict[str, Decimal | str]:
    """The dimensions that a row of ``parts.csv`` states itself; complaints go to ``issues``."""
    where = row.origin.at("dims")
    try:
        pairs = read_levels(row.values["dims"])
    except CellError as error:
        accepted = "pairs such as spread=54.5 parted by blanks, no blank beside the ="
        note(issues, where, error.problem, shown(row.values["dims"]), accepted)
        return {}
    dims: dict[str, Decimal | str] = {}
    for name, text in pairs.items():
        if name not in specs:
            accepted = ", ".join(specs) or f"none: {row.values['part_class']} declares no dimensions"
            note(issues, where, "unknown dimension", shown(name), accepted, near_miss(name, specs))
            continue
        try:
            dims[name] = read_dimension(text, specs[name])
        except CellError as error:
            note(issues, where, f"{name}: {error.problem}", shown(text), error.accepted, error.next_step)
    return dims


#: fields whose words are the rows of a table of materials, besides those the field lists itself
MATERIAL_FIELDS = {"body_wood": "woods", "neck_wood": "woods", "fin_type": "finishes", "fret_mat": "metals"}


def _intake_field(rows: Rows) -> Callable[[TableRow], model.IntakeField]:
    build = plain_record(model.IntakeField)

    def field(row: TableRow) -> model.IntakeField:
        made: model.IntakeField = build(row)
        mine = (
            (t.values["template"], t.values["value"])
            for t in rows["templates"]
            if t.values["field"] == made.id
        )
        made = replace(made, by_template=tuple(mine))
        if made.id == TEMPLATE:
            words = {t.values["template"]: t.values["what"] for t in rows["templates"]}
            choices = tuple(dict.fromkeys((*made.choices, *words)))
            return replace(made, choices=choices, in_words=tuple(words.items()))
        table = MATERIAL_FIELDS.get(made.id)
        if table is None:
            return made
        materials = (material.values["id"] for material in rows[table])
        return replace(made, choices=tuple(dict.fromkeys((*made.choices, *materials))))

    return field


def shop_parts(
    rows: Rows, dimensions: Mapping[str, Mapping[str, model.PartDimension]], issues: list[Issue]
) -> Mapping[str, model.Part]:
    """The parts of the shop: their own dimensions, and the typical ones of their class for the rest."""
    typical = {name: typical_dims(specs, issues) for name, specs in dimensions.items()}
    on_a_bass = {name: typical_dims(specs, issues, "typical_bass") for name, specs in dimensions.items()}
    parts: dict[str, model.Part] = {}
    for row in rows["parts"]:
        v = row.values
        own = part_dims(row, dimensions.get(v["part_class"], {}), issues)
        filled = typical.get(v["part_class"], {})
        bass = on_a_bass.get(v["part_class"], {})
        parts[v["id"]] = model.Part(
            v["id"],
            v["part_class"],
            v["variant"],
            v["grade"],
            v["what"],
            v["price"],
            v["weight_g"],
            v["levels"],
            MappingProxyType({**filled, **own}),
            # no one has measured a part that is only a class and a grade
            frozenset({*filled, *bass, *own}),
            "shop",
            row.origin,
            bass_dims=MappingProxyType({name: value for name, value in bass.items() if name not in own}),
        )
    return MappingProxyType(parts)


def resale_tables(rows: Rows) -> model.ResaleTables:
    """The records of the money side."""
    return model.ResaleTables(
        tiers=by_id(rows["resale_tiers"], plain_record(model.ResaleTier)),
        ladder=by_id(rows["condition_ladder"], plain_record(model.ConditionGrade)),
        levels=tuple(map(plain_record(model.ConditionLevel), rows["condition_levels"])),
        uplifts=by_id(rows["uplifts"], plain_record(model.UpliftRow)),
        upgrade_uplifts=tuple(map(plain_record(model.UpgradeUplift), rows["upgrade_uplifts"])),
        ways=by_id(rows["selling_ways"], plain_record(model.SellingWay)),
        boxes=by_id(rows["box_classes"], plain_record(model.BoxClass)),
        warranty=by_id(rows["warranty"], lambda row: row.values["share"], "task"),
        salvage=by_id(rows["salvage"], lambda row: row.values["share"], "part_class"),
        odds=by_id(rows["donor_odds"], plain_record(model.DonorOdds)),
        checks=by_id(rows["donor_checks"], plain_record(model.DonorCheck)),
        spares=by_id(rows["spares"], plain_record(model.SparePiece)),
        send_out=by_id(rows["send_out"], plain_record(model.SendOut)),
        rules=by_id(rows["trade_rules"], plain_record(model.TradeRule)),
    )


def menu_tables(rows: Rows) -> model.MenuTables:
    """The records of the menu."""
    return model.MenuTables(
        jobs=by_id(rows["menu_jobs"], plain_record(model.MenuJob)),
        posted=grouped(rows["posted_prices"], plain_record(model.PostedPrice), "menu_job"),
        countries=by_id(rows["countries"], plain_record(model.Country)),
    )


def plausible_tables(rows: Rows) -> model.PlausibleTables:
    """The records that measured values are held against."""
    return model.PlausibleTables(
        neighbours=tuple(map(plain_record(model.Neighbour), rows["neighbours"])),
        per_piece=tuple(map(plain_record(model.PerPiece), rows["per_piece"])),
        together=tuple(
            map(
                _reading(plain_record(model.GoesTogether), by_field, "beside", "assumes"),
                rows["goes_together"],
            )
        ),
    )


def lasting_tables(rows: Rows) -> model.LastingTables:
    """The records of what makes an instrument what it is."""
    return model.LastingTables(
        changes=by_id(rows["changes"], plain_record(model.Change)),
        work=by_id(rows["lasting_work"], plain_record(model.LastingWork), "task"),
        asking=by_id(rows["asking_wishes"], plain_record(model.AskingWish), "attribute"),
        keeps=by_id(rows["customer_keeps"], plain_record(model.CustomerKeeps)),
    )


def drawn_tables(rows: Rows) -> model.DrawnTables:
    """What is drawn for the bench."""
    return model.DrawnTables(
        work=by_pair(rows["drawn_work"], model.DrawnWork, "task", "place"),
        patterns=grouped(rows["hole_patterns"], plain_record(model.PatternHole), "pattern"),
        calipers=by_id(rows["caliper_places"], plain_record(model.CaliperPlace), "field"),
        stages=MappingProxyType({row.values["name"]: row.values["stage"] for row in rows["intake_stages"]}),
    )


def plan_tables(rows: Rows) -> model.PlanTables:
    """The records of planning."""
    return model.PlanTables(
        hours=tuple(map(plain_record(model.ShopHours), rows["shop_hours"])),
        kinds=by_id(rows["work_kinds"], plain_record(model.WorkKind)),
        tasks=by_id(rows["task_plans"], plain_record(model.TaskPlan), "task"),
        bored=by_id(rows["bored_first"], plain_record(model.BoredFirst), "task"),
        back=by_pair(rows["putting_back"], model.PuttingBack, "task", "place"),
        change_overs=tuple(map(plain_record(model.ChangeOver), rows["change_overs"])),
        stations=by_id(rows["shop_stations"], plain_record(model.Station)),
        waits=tuple(map(plain_record(model.TaskWait), rows["task_waits"])),
        suppliers=by_id(rows["suppliers"], plain_record(model.Supplier)),
        offers=tuple(map(plain_record(model.SupplierOffer), rows["supplier_offers"])),
        breaks=tuple(map(plain_record(model.QuantityBreak), rows["quantity_breaks"])),
    )


def by_pair(rows: Iterable[TableRow], kind: type[T], first: str, second: str) -> Mapping[tuple[str, str], T]:
    """Rows as records of a kind, by the values of two columns."""
    record = plain_record(kind)
    return MappingProxyType({(row.values[first], row.values[second]): record(row) for row in rows})


def nested(rows: Iterable[TableRow], kind: type[T], outer: str, inner: str) -> Mapping[str, Mapping[str, T]]:
    """Rows as records of a kind, by the value of one column and, within it, by that of another."""
    record = plain_record(kind)
    found: dict[str, dict[str, T]] = {}
    for row in rows:
        found.setdefault(row.values[outer], {})[row.values[inner]] = record(row)
    return MappingProxyType({name: MappingProxyType(of) for name, of in found.items()})


def method_tables(rows: Rows) -> model.MethodTables:
    """The ways to do a task, and what each uses up and wears."""
    return model.MethodTables(
        nested(rows["task_methods"], model.TaskMethod, "task", "method"),
        by_way(rows["method_consumables"], "consumable", "quantity", "instruments"),
        by_way(rows["method_tools"], "tool", "uses"),
    )


def by_way(rows: Iterable[TableRow], *columns: str) -> Mapping[tuple[str, str], tuple[Any, ...]]:
    """The values of some columns, by task and method."""
    found: dict[tuple[str, str], list[tuple[object, ...]]] = {}
    for row in rows:
        key = row.values["task"], row.values["method"]
        found.setdefault(key, []).append(tuple(row.values[column] for column in columns))
    return MappingProxyType({key: tuple(values) for key, values in found.items()})


def _tasks(rows: Rows, ways: model.MethodTables) -> Mapping[str, model.Task]:
    """The tasks, each with the name of its usual way where it has more than one."""
    tasks = by_id(rows["tasks"], plain_record(model.Task))
    return MappingProxyType({name: done_usually(task, ways) for name, task in tasks.items()})


def _direct_order(rows: Rows) -> frozenset[tuple[str, str]]:
    """Pairs of tasks of which the later one comes straight after the earlier."""
    return frozenset(
        (row.values["before"], row.values["after"]) for row in rows["task_order"] if row.values["direct"]
    )


def _order_unless(rows: Rows) -> tuple[tuple[tuple[str, str], frozenset[str]], ...]:
    """Pairs of tasks whose order does not hold where one of some others is done."""
    return tuple(
        ((row.values["before"], row.values["after"]), frozenset(row.values["unless"]))
        for row in rows["order_unless"]
    )


def build_shop(
    terms: model.Terms, rows: Rows, folders: tuple[str, ...], issues: tuple[Issue, ...], problems: list[Issue]
) -> model.Shop:
    """All records of a shop; complaints about dimensions of parts go to ``problems``."""
    dimensions = dimension_table(rows)
    ways = method_tables(rows)
    return model.Shop(
        terms=terms,
        tasks=_tasks(rows, ways),
        consumables=by_id(rows["consumables"], plain_record(model.Consumable)),
        tools=by_id(rows["tools"], plain_record(model.Tool)),
        task_consumables=_used(rows),
        task_tools=grouped(rows["task_tools"], lambda row: (row.values["tool"], row.values["uses"]), "task"),
        task_order=tuple((row.values["before"], row.values["after"]) for row in rows["task_order"]),
        direct_order=_direct_order(rows),
        order_unless=_order_unless(rows),
        woods=by_id(rows["woods"], plain_record(model.Wood)),
        metals=by_id(rows["metals"], plain_record(model.Metal)),
        finishes=by_id(rows["finishes"], plain_record(model.Finish)),
        factors=by_pair(rows["factors"], model.Factor, "code", "level"),
        intake=by_id(rows["intake"], _intake_field(rows)),
        attributes=by_id(rows["attributes"], _attribute),
        attribute_limits=tuple(map(plain_record(model.AttributeLimit), rows["attribute_limits"])),
        promise_rests=tuple(map(plain_record(model.PromiseRest), rows["promise_rests"])),
        attribute_signs=tuple(map(plain_record(model.AttributeSign), rows["attribute_signs"])),
        wish_words=tuple(map(plain_record(model.WishWords), rows["wish_words"])),
        faults=_faults(rows),
        fault_odds=tuple(map(plain_record(model.FaultOdds), rows["fault_odds"])),
        profiles=nested(rows["profiles"], model.ProfileRow, "profile", "attribute"),
        part_classes=by_id(rows["part_classes"], plain_record(model.PartClass)),
        part_dimensions=dimensions,
        parts=shop_parts(rows, dimensions, problems),
        upgrades=by_id(
            rows["upgrades"],
            _reading(plain_record(model.UpgradeRow), _conditionals, "needs_all", "needs_any", "changes"),
        ),
        upgrade_work=owned(rows["upgrade_work"], model.WorkRow, "upgrade"),
        bundles=owned(rows["bundle_work"], model.WorkRow, "bundle"),
        needless=grouped(rows["needless_work"], plain_record(model.NeedlessWork), "upgrade"),
        upgrade_effects=owned(rows["upgrade_effects"], model.EffectRow, "upgrade"),
        task_effects=owned(rows["task_effects"], model.EffectRow, "task"),
        hazards=by_id(rows["hazards"], plain_record(model.Hazard)),
        customer_words=by_pair(rows["customer_words"], model.CustomerWords, "about", "rule"),
        customer_names=by_pair(rows["customer_names"], model.CustomerName, "kind", "about"),
        base_work=grouped(rows["base_work"], plain_record(model.BaseWork), "job_kind"),
        known_jobs=by_id(rows["known_jobs"], plain_record(model.KnownJob)),
        known_job_work=owned(rows["known_job_work"], model.WorkRow, "known_job"),
        folders=folders,
        issues=issues,
        resale=resale_tables(rows),
        tool_times=by_pair(rows["tool_times"], model.ToolTimes, "tool", "grade"),
        planning=plan_tables(rows),
        menu=menu_tables(rows),
        plausible=plausible_tables(rows),
        drawn=drawn_tables(rows),
        lasting=lasting_tables(rows),
        ways=ways,
    )


def _used(rows: Rows) -> Mapping[str, tuple[tuple[str, Decimal, str], ...]]:
    """What each task uses up: consumable, how much of it, and for which instruments."""
    return grouped(
        rows["task_consumables"],
        lambda row: (row.values["consumable"], row.values["quantity"], row.values["instruments"]),
        "task",
    )
