"""Tables of planning: hours, kinds of work, stations, waits between tasks, suppliers."""

from __future__ import annotations

from decimal import Decimal

from estimator.model.planning import PARTS_OF_AN_INSTRUMENT, WEEKDAYS
from estimator.tables.schema.column import (
    ONE,
    ZERO,
    Column,
    TableSpec,
    _choice,
    _factor,
    _id,
    _list,
    _minutes,
    _money,
    _number,
    _ref,
    _table,
    _text,
)

MANY = Decimal(1000)

PLAN_TABLES: tuple[TableSpec, ...] = (
    _table(
        "shop_hours",
        "a stretch of productive bench time; the rest of the day is telephone, customers and overruns",
        "weekday opens",
        _choice("weekday", "day of the week", *WEEKDAYS),
        _text("opens", "when it begins, as 09:00"),
        _text("closes", "when it ends, as 12:00"),
    ),
    _table(
        "work_kinds",
        "a kind of work, for change-overs and clean air",
        "id",
        _id("name of the kind"),
        _text("what", "what belongs to it"),
        _choice("leaves", "how it leaves hands and bench", "clean", "dirty", default="clean"),
        _choice("wants", "what it wants to find", "any", "clean", default="any"),
        Column("dusty", "yes-no", "whether it fills the room with dust", default=False),
    ),
    _table(
        "task_plans",
        "how a task is planned",
        "task",
        _ref("task", "tasks", "the task"),
        _ref("kind", "work_kinds", "its kind of work"),
        _choice("part", "what of the instrument it takes", *PARTS_OF_AN_INSTRUMENT, "instrument", "none"),
        Column("in_one_go", "yes-no", "whether it must not be broken off at closing time", default=False),
    ),
    _table(
        "bored_first",
        "work of which a part comes before the finish and the rest after it, where both are on a job",
        "task",
        _ref("task", "tasks", "the task"),
        _text("sitting", "name of the part that comes first"),
        _number(
            "share",
            "the part of its run that comes first; its set-up goes with it",
            "x",
            low=Decimal("0.01"),
            high=Decimal("0.99"),
        ),
        _list("after", "the tasks that come before the first part", "tasks"),
        _list(
            "before",
            "the tasks that come after the first part; with none of them on the job it is not parted",
            "tasks",
        ),
        _text("because", "why"),
    ),
    _table(
        "putting_back",
        "work of a task that at one place has another turn, as what puts back what was taken off: a sitting of its own",
        "task place",
        _ref("task", "tasks", "the task, as the one that takes it off"),
        _text("place", "the place of the work that has the other turn"),
        _list(
            "like",
            "the tasks whose place in the order of work it has; the first says how it is planned",
            "tasks",
        ),
        _text("because", "why"),
    ),
    _table(
        "change_overs",
        "minutes from one kind of work to another",
        "leaves wants",
        _choice("leaves", "how the first leaves the bench", "any", "dirty"),
        _choice("wants", "what the second wants to find", "any", "clean"),
        _minutes("minutes", "minutes to change over"),
    ),
    _table(
        "shop_stations",
        "a place or tool that is taken while work goes on",
        "id",
        _id("name of the station"),
        _text("what", "what it is"),
        Column("number", "whole", "how many there are", low=ONE, high=MANY),
        _list("stations", "station letters of tasks.csv that take it"),
        Column("each", "whole", "how many one operation takes", default=1, low=ONE, high=MANY),
        Column("while_it_cures", "yes-no", "whether it stays taken until the cure is over", default=False),
    ),
    _table(
        "task_waits",
        "minutes that pass between two tasks where they differ from the wait of the first (0: an order alone)",
        "before after every",
        _ref("before", "tasks", "the task that comes first"),
        _ref("after", "tasks", "the task that waits"),
        Column(
            "every", "whole", "after every so many sittings (1: after each)", default=1, low=ONE, high=MANY
        ),
        _minutes("fast_min", "at the fastest"),
        _minutes("usual_min", "usually"),
        _minutes("safe_min", "to be safe"),
    ),
    _table(
        "suppliers",
        "who sells parts and consumables",
        "id",
        _id("name of the supplier"),
        _text("what", "what kind of supplier"),
        _money("freight", "freight of one parcel"),
        _money("free_above", "freight is free from this sum on (blank: never)", None),
        _number("lead_days_low", "days to the door, at best", "days", ZERO, ZERO, MANY),
        _number("lead_days_high", "days to the door, at worst", "days", ZERO, ZERO, MANY),
    ),
    _table(
        "supplier_offers",
        "what a supplier sells",
        "supplier sells",
        _ref("supplier", "suppliers", "the supplier"),
        _text("sells", "a class of part, * for every class, or consumables"),
        _factor("price_factor", "price against the list price of parts.csv", ONE),
    ),
    _table(
        "quantity_breaks",
        "a quantity from which all pieces of a kind bought at once from a supplier cost less",
        "supplier what from_quantity",
        _ref("supplier", "suppliers", "the supplier"),
        _text("what", "a class of part, or a consumable (then by the pack)"),
        Column("from_quantity", "whole", "from so many pieces or packs on", low=Decimal(2), high=MANY),
        Column(
            "price_share", "number", "what is paid of the supplier's price", low=Decimal("0.001"), high=ONE
        ),
    ),
)
