"""Every table of the rates folder: its name, what a row is, what makes a row unique, and its columns.

The columns are those that the record's fields declare; a table without a record of its own, or with columns that
the record does not have, names them here. They drive reading, checking, the workbook and the generated reference;
nothing else says which columns there are, what they may hold and what they mean.
"""

from __future__ import annotations

from estimator import model
from estimator.model import column as col
from estimator.model.column import ONE, ZERO
from estimator.model.drawn import STAGES
from estimator.model.methods import FAMILIES
from estimator.tables.schema.table import TableSpec, table

RESALE_TABLES: tuple[TableSpec, ...] = (
    table(
        "resale_tiers",
        "a price class when new: what such instruments bring and how high work can lift them",
        "id",
        model.ResaleTier,
    ),
    table(
        "condition_ladder",
        "a condition and what it makes of the price (1.00 = clean and working), best first",
        "id",
        model.ConditionGrade,
    ),
    table(
        "condition_levels",
        "what a condition asks of an attribute, and what is assumed of it until measured",
        "condition attribute",
        model.ConditionLevel,
    ),
    table(
        "uplifts",
        "something a buyer pays more (or less) for; those of one group count once, the largest",
        "id",
        model.UpliftRow,
    ),
    table(
        "upgrade_uplifts",
        "which upgrades bring an uplift; one of every clause must be chosen",
        "uplift upgrade grade",
        model.UpgradeUplift,
    ),
    table("selling_ways", "a way to sell, its fees and what work falls away with it", "id", model.SellingWay),
    table("box_classes", "a box to ship in", "id", model.BoxClass),
    table(
        "salvage",
        "what a removed part brings, as a share of the same grade's new price",
        "part_class",
        part_class=col.ref("part_classes", "the class of part"),
        share=col.share("share of the new price"),
    ),
    table(
        "warranty",
        "work that comes back oftener: what is held of its labour for warranty, where more than labour_reserve of"
        " shop.toml",
        "task",
        task=col.ref("tasks", "the task"),
        share=col.number("share of its labour on client work", "share", low=ZERO, high=ONE),
    ),
    table("donor_odds", "how a donor was looked at, and the odds that it is bad", "id", model.DonorOdds),
    table(
        "donor_checks",
        "a check at the seller's place and what a bad result takes off the offer",
        "id",
        model.DonorCheck,
    ),
    table(
        "spares", "a piece that may be spoiled in the making, and what to practise on", "id", model.SparePiece
    ),
    table("send_out", "work or tools that can be rented or sent out", "id", model.SendOut),
    table("trade_rules", "single numbers of the money side", "id", model.TradeRule),
)

PLAN_TABLES: tuple[TableSpec, ...] = (
    table(
        "shop_hours",
        "a stretch of productive bench time; the rest of the day is telephone, customers and overruns",
        "weekday opens",
        model.ShopHours,
    ),
    table("work_kinds", "a kind of work, for change-overs and clean air", "id", model.WorkKind),
    table("task_plans", "how a task is planned", "task", model.TaskPlan),
    table(
        "bored_first",
        "work of which a part comes before the finish and the rest after it, where both are on a job",
        "task",
        model.BoredFirst,
    ),
    table(
        "putting_back",
        "work of a task that at one place has another turn, as what puts back what was taken off: a sitting of its own",
        "task place",
        model.PuttingBack,
    ),
    table("change_overs", "minutes from one kind of work to another", "leaves wants", model.ChangeOver),
    table("shop_stations", "a place or tool that is taken while work goes on", "id", model.Station),
    table(
        "task_waits",
        "minutes that pass between two tasks where they differ from the wait of the first (0: an order alone)",
        "before after every",
        model.TaskWait,
    ),
    table("suppliers", "who sells parts and consumables", "id", model.Supplier),
    table("supplier_offers", "what a supplier sells", "supplier sells", model.SupplierOffer),
    table(
        "quantity_breaks",
        "a quantity from which all pieces of a kind bought at once from a supplier cost less",
        "supplier what from_quantity",
        model.QuantityBreak,
    ),
)

MENU_TABLES: tuple[TableSpec, ...] = (
    table(
        "menu_jobs",
        "a usual job as it stands on a shop's menu: the upgrades it stands for, on which plain instrument",
        "id",
        model.MenuJob,
    ),
    table(
        "posted_prices",
        "what one shop posts for a job of the menu, labour only",
        "menu_job list",
        model.PostedPrice,
    ),
    table(
        "countries",
        "what goes with the country of a shop (menu_place of shop.toml); one that is not there prints on A4",
        "id",
        model.Country,
    ),
)

PLAUSIBLE_TABLES: tuple[TableSpec, ...] = (
    table(
        "neighbours",
        "where a measured value usually lies beside other measured ones; outside it both are looked at again",
        "field instruments low",
        model.Neighbour,
    ),
    table(
        "goes_together",
        "what goes with a word that was said of an instrument, and is assumed instead of the usual default",
        "field word beside instruments",
        model.GoesTogether,
    ),
    table(
        "per_piece",
        "a value that one piece has and the set has too, so that one may be given for the other",
        "part_class value instruments",
        model.PerPiece,
    ),
)

LASTING_TABLES: tuple[TableSpec, ...] = (
    table(
        "changes",
        "what makes an instrument what it is, and stays unless it is asked for; what is given up sooner comes first",
        "id",
        model.Change,
    ),
    table(
        "lasting_work",
        "a task that changes something for good, whatever upgrade or fit rule asks for it",
        "task",
        model.LastingWork,
    ),
    table(
        "asking_wishes",
        "an attribute whose wish, where it is not met yet, asks for changes by the upgrades that raise it",
        "attribute",
        model.AskingWish,
    ),
    table(
        "customer_keeps",
        "a customer's word for what is to be kept (keeps of a job), and what it forbids",
        "id",
        model.CustomerKeeps,
    ),
)

DRAWN_TABLES: tuple[TableSpec, ...] = (
    table(
        "intake_stages",
        "how far the instrument is taken apart when a field, or a whole section of fields, is measured",
        "name",
        name=col.text("an intake field, or a section of the intake; a field goes before its section"),
        stage=col.choice("the stage of the measuring sheet", *STAGES),
    ),
    table(
        "caliper_places",
        "where on the figure of a measuring sheet a dimension is taken: along the instrument and across it, not to scale",
        "field",
        model.CaliperPlace,
    ),
    table(
        "drawn_work",
        "work that bores, cuts or glues: it is drawn, or named as not drawn with how to mark it",
        "task place",
        model.DrawnWork,
    ),
    table(
        "hole_patterns",
        "one hole of the pattern of a plate, a tuner or the like",
        "pattern hole",
        model.PatternHole,
    ),
)

METHOD_TABLES: tuple[TableSpec, ...] = (
    table(
        "task_methods",
        "a way to do a task that can be done in more than one; a task without rows has the one of tasks.csv",
        "task method",
        model.TaskMethod,
    ),
    table(
        "method_consumables",
        "what a way uses up otherwise than task_consumables.csv tells of the task; a way without rows uses up that",
        "task method consumable instruments",
        task=col.ref("tasks", "the task"),
        method=col.of("id", "the way, of task_methods.csv"),
        consumable=col.ref("consumables", "what is used up"),
        quantity=col.of("number", "units per driver unit; 0: this way takes none of it", low=ZERO),
        instruments=col.choice(
            "for which instruments, as in task_consumables.csv",
            "any",
            "guitar",
            "bass",
            *FAMILIES,
            default="any",
        ),
    ),
    table(
        "method_tools",
        "which tools a way wears otherwise than task_tools.csv tells of the task",
        "task method tool",
        task=col.ref("tasks", "the task"),
        method=col.of("id", "the way, of task_methods.csv"),
        tool=col.ref("tools", "the tool"),
        uses=col.of("number", "units of tool life per driver unit; 0: this way does without it", low=ZERO),
    ),
)

TABLES: tuple[TableSpec, ...] = (
    table("tasks", "one bench operation with its times, skill and risk", "id", model.Task),
    table(
        "task_consumables",
        "what a task uses up per driver unit",
        "task consumable instruments",
        task=col.ref("tasks", "the task"),
        consumable=col.ref("consumables", "what is used up"),
        quantity=col.of("number", "units per driver unit; fractions such as 1/6 are accepted", low=ZERO),
        instruments=col.choice(
            "for which instruments; guitar-7 is a guitar of seven strings, guitar-other one of a count that no "
            "other row of the task names",
            "any",
            "guitar",
            "bass",
            *FAMILIES,
            default="any",
        ),
    ),
    table(
        "task_tools",
        "which tools a task wears per driver unit",
        "task tool",
        task=col.ref("tasks", "the task"),
        tool=col.ref("tools", "the tool"),
        uses=col.of("number", "units of tool life per driver unit", low=ZERO),
    ),
    table(
        "task_order",
        "which task comes before which when both are on a job",
        "before after",
        before=col.ref("tasks", "the earlier task"),
        after=col.ref("tasks", "the later task"),
        reason=col.text("why", ""),
        direct=col.of(
            "yes-no",
            "whether only these two are bound: nothing follows through a task that is not on the job",
            default=False,
        ),
    ),
    table(
        "order_unless",
        "which task comes before which while none of some others is on the job",
        "before after",
        before=col.ref("tasks", "the earlier task"),
        after=col.ref("tasks", "the later task"),
        unless=col.words("tasks with any of which on the job these two are not bound", "tasks"),
        reason=col.text("why", ""),
    ),
    table("consumables", "one thing that is used up, as it is bought", "id", model.Consumable),
    table("tools", "one tool in two grades, with its life", "id", model.Tool),
    table("woods", "factors of a body or neck wood", "id", model.Wood),
    table("metals", "factors of a fret wire", "id", model.Metal),
    table("finishes", "factors of a finish", "id", model.Finish),
    table("factors", "one level of a difficulty factor", "code level", model.Factor),
    table(
        "intake", "one measurement or observation that can be taken of an instrument", "id", model.IntakeField
    ),
    table(
        "templates",
        "a usual size of a kind of instrument, in place of the default of intake.csv",
        "template field",
        template=col.of("id", "name of the template"),
        what=col.text("the kind of instrument in words"),
        field=col.field_ref("intake field"),
        value=col.text("its usual value on this kind, as a default of intake.csv"),
    ),
    table("attributes", "something an instrument is judged by", "id", model.Attribute),
    table(
        "attribute_signs",
        "what an observed word tells of an attribute's level today; the lowest sign counts",
        "attribute field word",
        model.AttributeSign,
    ),
    table(
        "wish_words",
        "everyday words of a customer's wish, and the attributes that they mean; of two rows whose words are all said"
        " the longer one counts",
        "words",
        model.WishWords,
    ),
    table(
        "faults",
        "a reading that is a fault: what it lowers, to what level, and what mends it",
        "fault attribute",
        model.Fault,
    ),
    table(
        "mends_only",
        "an upgrade that mends a fault only in some cases, and else makes it worse or leaves it as it is",
        "fault upgrade",
        fault=col.of("id", "a fault of faults.csv whose mended_by names the upgrade"),
        upgrade=col.ref("upgrades", "the upgrade"),
        only=col.choice("where its parts weigh less than what comes off", "lighter"),
        because=col.text("why, in words"),
    ),
    table(
        "fault_odds",
        "work that goes wrong oftener on an instrument with a fault; of several faults the worst counts, and it "
        "counts where the same job mends the fault too",
        "fault task",
        model.FaultOdds,
    ),
    table(
        "attribute_limits",
        "what limits what, so that nothing impossible is promised",
        "attribute other",
        model.AttributeLimit,
    ),
    table(
        "promise_rests",
        "what a lifted level rests on: while nobody looked at it, the level is expected and not promised",
        "name attribute",
        model.PromiseRest,
    ),
    table("profiles", "what a target profile wants of an attribute", "profile attribute", model.ProfileRow),
    table(
        "part_classes", "a kind of part, the fit rules to run for it and its lead time", "id", model.PartClass
    ),
    table(
        "part_dimensions",
        "a dimension that decides whether a part of the class fits",
        "part_class dimension",
        model.PartDimension,
    ),
    table("parts", "a part of a class and grade with a typical price", "id", model.Part),
    table("upgrades", "one thing that can be decided", "id", model.UpgradeRow),
    table(
        "upgrade_work",
        "work that an upgrade brings",
        "upgrade task place when",
        model.WorkRow,
        upgrade=col.ref("upgrades", "the upgrade"),
    ),
    table(
        "bundle_work",
        "tasks that always come together",
        "bundle task place when",
        model.WorkRow,
        bundle=col.of("id", "name of the bundle"),
        task=col.of("id", "task, or another bundle"),
    ),
    table(
        "needless_work",
        "work that falls away where an upgrade, or any that brings a task, is chosen, whatever else asks for it",
        "upgrade with_task task place",
        model.NeedlessWork,
    ),
    table(
        "upgrade_effects",
        "what an upgrade does to an attribute",
        "upgrade grade attribute kind when",
        model.EffectRow,
        upgrade=col.ref("upgrades", "the upgrade"),
    ),
    table(
        "task_effects",
        "what a task does to an attribute wherever it is done",
        "task attribute kind",
        model.EffectRow,
        without=("grade",),
        task=col.ref("tasks", "the task"),
        together_with=col.words("counts only if one of these tasks is done too"),
    ),
    table(
        "customer_words",
        "what a customer reads of a fit finding; what has no row is for the bench alone",
        "about rule",
        model.CustomerWords,
    ),
    table(
        "customer_names",
        "how a customer reads a level, a piece of work, and where on the instrument it is",
        "kind about",
        model.CustomerName,
    ),
    table(
        "tool_times", "how one grade of a tool changes the time of the work", "tool grade", model.ToolTimes
    ),
    table("hazards", "a class of hazard with the usual caution", "id", model.Hazard),
    table("base_work", "work that comes with every job of a kind", "job_kind task", model.BaseWork),
    table("known_jobs", "a well-known job and the hands-on time the trade expects", "id", model.KnownJob),
    table(
        "known_job_work",
        "the work of a well-known job",
        "known_job task place",
        model.WorkRow,
        without=("when", "because"),
        known_job=col.ref("known_jobs", "the job"),
        task=col.ref("tasks", "the task"),
    ),
    *RESALE_TABLES,
    *PLAN_TABLES,
    *MENU_TABLES,
    *PLAUSIBLE_TABLES,
    *LASTING_TABLES,
    *DRAWN_TABLES,
    *METHOD_TABLES,
)

BY_NAME: dict[str, TableSpec] = {spec.name: spec for spec in TABLES}
