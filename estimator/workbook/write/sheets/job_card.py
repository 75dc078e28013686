"""The job card: the order of work with waits, precautions, boxes to tick and minutes to write in; the set-up sheet.

Minutes that are written in, and the keys in the first column, are what is read back later.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from decimal import Decimal

from msgspec import Struct

from estimator.choose.study import Study
from estimator.core.text import of_unit, sentence_case
from estimator.core.units import INCH, inch_format, lengths_as_read, unit_as_read
from estimator.core.whole import whole_rows
from estimator.fit.case import mm as spoken
from estimator.fit.judge import wanted_levels
from estimator.fit.rules import nuts
from estimator.model import Shop, Verdict
from estimator.report.drawings import CavityPlan, DrawnPlan, OutlinePlan, PiecePlan, drawn_of
from estimator.report.hole_plans import HolePlan, rows_of
from estimator.report.words.cautions import controls_words
from estimator.tables.conditions import treble_lower
from estimator.workbook.write.card_pictures import HEIGHTS, SIDE_BY_SIDE, CardPictures, mark_words
from estimator.workbook.write.cells import Book, Sheet
from estimator.workbook.write.customer_page import cautions, id_words
from estimator.workbook.write.rows import CostRow
from estimator.workbook.write.sheets.notes import GENERAL, hazards_of
from estimator.workbook.write.style import PLAIN_TEXT, wrapped_lines

SHEET = "Job card"
CARD = "Card "
"""Sheets of a book with several cards are named by it and the job."""
KEY, BOX, NO, WORK, QUANTITY, PLANNED, WAIT, ACTUAL, REMARK = range(9)
WIDTHS = (10, 4, 4, 52, 12, 8, 8, 9, 15)
WIDER = (*WIDTHS[:WORK], 78, *WIDTHS[WORK + 1 :])
"""Of a card with much to say: its lines are fewer, and no smaller once the pages are fitted."""
LAST = REMARK
HEADS = {
    KEY: "Key",
    BOX: "",
    NO: "No.",
    WORK: "Work, in this order",
    QUANTITY: "Quantity",
    PLANNED: "Min. planned",
    WAIT: "Then wait",
    ACTUAL: "Minutes taken",
    REMARK: "Remarks",
}
SIDES = {QUANTITY: "right", PLANNED: "right", ACTUAL: "right", WAIT: "indent", REMARK: "indent"}
NO_TIMES: Mapping[str, str] = {}
BOX_EMPTY = "□"
EVERY_JOB = ("desk", "strip", "clean", "setup")
"""Groups of tasks that come with many upgrades, so that no caution of one belongs to them."""
PICTURE_WIDE = 366
"""Pixels of a drawing: as wide as the column of the work, and as all to its right."""
TWO_PAGES = 2100
"""Points of height that are still easily read when they are fitted on two pages."""
FLAGS = {
    "H-WD": "wood dust",
    "H-MD": "metal dust",
    "H-RO": "rotating tool",
    "H-SV": "solvent",
    "H-SP": "spray mist",
    "H-GL": "glue",
    "H-HT": "heat",
    "H-SF": "solder fume",
    "H-BD": "bone or plastic dust",
    "H-FI": "old paint",
    "H-CT": "sharp edges",
    "H-RG": "oily rags",
    "H-ST": "string ends",
    "H-EL": "mains",
    "H-NO": "noise",
    "H-ER": "strain",
}
"""What a task says of a hazard in a word; its full text stands once at the head of the card."""

SETUP_SHEET = "Set-up sheet"
SETUP_TARGET = {"mm": 12, "in": 26}
"""Width of the column of targets: inches stand there with their mm."""
TREBLE = "action, treble side"
#: what is measured before and after a set-up: (label, unit, intake field, attribute it is judged by, how)
SETUP_LINES = (
    ("Neck relief", "mm", "relief", "", "feeler under the string at the middle, first and last fret held"),
    ("String height, bass side", "mm", "action_b", "action", "rule at the 12th fret (on a bass at the 17th)"),
    ("String height, treble side", "mm", "action_t", TREBLE, "rule at the 12th fret (on a bass at the 17th)"),
    (
        "Gap over the first fret, bass side",
        "mm",
        "nut_clear_b",
        "b",
        "feeler, string held behind the second fret",
    ),
    (
        "Gap over the first fret, treble side",
        "mm",
        "nut_clear_t",
        "t",
        "feeler, string held behind the second fret",
    ),
    ("Pickup height, neck side", "mm", "", "", "string held at the last fret"),
    ("Pickup height, bridge side", "mm", "", "", "string held at the last fret"),
    (
        "Worst error at the 12th fret",
        "cents",
        "",
        "intonation",
        "tuner, each string, fretted against harmonic",
    ),
    ("Tuning after a night at pitch", "cents", "", "", "tuner, the worst string"),
)


def target_words(study: Study, judged_by: str) -> str:
    """What is aimed at: the level wished for, or for the gap at the nut what leaves it alone (rule R42); else blank."""
    if judged_by in nuts.LOW:
        return _figures(f"{nuts.LOW[judged_by]} to {nuts.HIGH[judged_by]}", "mm", study.shop.lengths)
    name = "action" if judged_by == TREBLE else judged_by
    attribute = study.shop.attributes.get(name)
    level = wanted_levels(study.job).get(name)
    if attribute is None or level is None or not 1 <= level <= len(attribute.limits):
        return ""
    limit = attribute.limits[int(level) - 1] + (attribute.bass_shift if study.job.is_bass else Decimal(0))
    if judged_by == TREBLE:
        limit -= treble_lower(int(level))
    return _figures(f"at most {limit}", attribute.unit, study.shop.lengths)


def _figures(text: str, unit: str, shown: str) -> str:
    """Figures whose unit stands beside them in the row: the inches without their unit, the mm in brackets."""
    if unit_as_read(unit, shown) == unit:
        return text
    return lengths_as_read(f"{text} {unit}", shown, beside=True).replace(" in (", " (")


def write_job_card(
    book: Book,
    study: Study,
    rows: Sequence[CostRow],
    footer: str,
    names: tuple[str, str] = (SHEET, "card_minutes"),
    begins: Mapping[str, str] = NO_TIMES,
    *,
    chosen: Collection[str] = (),
) -> Sheet:
    """Write the card of the upgrades ``chosen``; ``names`` are of the sheet and of the column of minutes taken.

    ``begins``: by key of a row when its work is planned to begin, in words; the card stands in that order.
    """
    sheet_name, minutes_name = names
    steps = card_steps(study, rows, begins, chosen=chosen)
    drawn = sum(-(-len(step.plans) // SIDE_BY_SIDE) for step in steps)
    for widths in (WIDTHS, WIDER):
        sheet = Sheet(
            sheet_name,
            (*widths, 4, 8, 8),
            hidden_columns=(KEY,),
            footer=footer,
            margin=0.5,
            print_last_column=LAST,
        )
        first, end = _filled(sheet, study, rows, steps)
        if sheet.height + drawn * HEIGHTS[-1] <= TWO_PAGES:
            break
    book.sheet(sheet)
    book.name(minutes_name, sheet, first, ACTUAL, end)
    sheet.formula(end + 1, ACTUAL, f"=SUM({minutes_name})", 0, "minutes-bold", num_format='#,##0;-#,##0;""')
    pictures = CardPictures(book, sheet, (WORK, QUANTITY), PICTURE_WIDE, (LAST + 2, LAST + 3))
    for number, step in enumerate(steps):
        pictures.keep(first + number, step.plans)
    pictures.draw(TWO_PAGES)
    sheet.print_last_row = end + 1
    if TWO_PAGES / 2 < sheet.points(0, end + 2) <= TWO_PAGES:
        sheet.pages_tall = 2
    return sheet


def _filled(
    sheet: Sheet, study: Study, rows: Sequence[CostRow], steps: Sequence[CardStep]
) -> tuple[int, int]:
    """All words of the card; the first row of its work and the row below the last."""
    words = f"{study.job.what}  ·  tick the box when done and write the minutes in"
    sheet.headline(f"Job card  ·  {study.job.id}", words, BOX, LAST)
    top = _precautions(sheet, 2, study, rows) + 1
    sheet.repeat, sheet.freeze = (top, top), (top + 1, 0)
    for column, head in HEADS.items():
        sheet.head(top, column, head, SIDES.get(column, "left"))
    sheet.tall(top, 26)
    sheet.rule(top, BOX, LAST, "ink")
    first = at = top + 1
    for number, step in enumerate(steps, 1):
        _card_row(
            sheet,
            at,
            (number, step.row, step.minutes),
            step.begins,
            [lengths_as_read(step.row.task.told, study.shop.lengths, beside=True), *step.told],
            pictured=bool(step.plans),
        )
        at += 1
    sheet.end_rows(at, BOX, LAST)
    sheet.text(at + 1, WORK, "Minutes in all", "bold")
    sheet.number(at + 1, PLANNED, sum(step.minutes for step in steps), "minutes-bold", num_format="#,##0")
    return first, at


class CardStep(Struct, frozen=True):
    """A row of the card: its minutes, when it begins in words, what is told and drawn at it.

    The minutes are whole ones, with those of getting ready; all rows add up to the minutes of the work.
    """

    row: CostRow
    minutes: int
    begins: str
    told: Sequence[str]
    plans: Sequence[DrawnPlan]


def card_steps(
    study: Study,
    rows: Sequence[CostRow],
    begins: Mapping[str, str] = NO_TIMES,
    *,
    chosen: Collection[str] = (),
) -> list[CardStep]:
    """The rows of a card in their order, each figure, warning and drawing at the first row that it is about."""
    ready: dict[str, Decimal] = {row.task.id: row.minutes for row in rows if row.setup}
    told = _FitNotes(study, chosen)
    done = [row for row in _in_turn(rows, begins) if not row.setup]
    # getting ready is part of the first row of its task
    minutes = whole_rows([row.minutes + ready.pop(row.task.id, Decimal(0)) for row in done])
    return [
        CardStep(
            row,
            whole,
            begins.get(row.key, ""),
            [lengths_as_read(line, study.shop.lengths, beside=True) for line in told.of(row)],
            told.plans_of(row),
        )
        for row, whole in zip(done, minutes, strict=True)
    ]


class _FitNotes:
    """The figures and cautions of the fit, each once, at the first row of the work that it is about."""

    def __init__(self, study: Study, chosen: Collection[str]) -> None:
        self.verdicts = [v for v in study.verdicts if v.upgrade.id in chosen]
        self.noted = set(cautions(study, chosen))
        self.own = {v.upgrade.id: _own(v, study.shop) for v in self.verdicts}
        self.said: set[str] = set()
        self.drawn: dict[tuple[str, str], list[str]] = {}
        self.plans: dict[tuple[str, str], list[DrawnPlan]] = {}
        self.pictured: list[DrawnPlan] = []
        for verdict in self.verdicts:
            found = drawn_of(study.shop, study.job, verdict.upgrade)
            for plan in found.plans.values():
                for key in plan.shown():
                    self.plans.setdefault(key, []).append(plan)
                    self.drawn.setdefault(key, []).append(drawn_words(plan, bored="plug" not in key[0]))
            for gap in found.not_drawn:
                if (gap.task, gap.place) in self.drawn or gap.task.startswith("fit-"):
                    continue
                self.drawn[gap.task, gap.place] = [f"Not drawn: {gap.mark_by}."]

    def plans_of(self, row: CostRow) -> list[DrawnPlan]:
        """The drawings of a row that no row before it had."""
        fresh = [plan for plan in self.plans.get((row.task.id, row.place), ()) if plan not in self.pictured]
        self.pictured += fresh
        return fresh

    def of(self, row: CostRow) -> list[str]:
        """What is told at a row: figures of findings that ask for it, warnings of what it is for, its drawing."""
        key = (row.task.id, row.place)
        lines = []
        for verdict in self.verdicts:
            own = key in self.own[verdict.upgrade.id]
            for finding in verdict.findings:
                asks = any((demand.task, demand.place) == key for demand in finding.demands)
                sentence = sentence_case(finding.sentence)
                if asks or (own and finding.outcome == "warn" and sentence in self.noted):
                    lines.append(sentence + ".")
        lines += self.drawn.get(key, [])
        fresh = [line for line in dict.fromkeys(lines) if line not in self.said]
        self.said.update(fresh)
        return fresh


def _own(verdict: Verdict, shop: Shop) -> set[tuple[str, str]]:
    """The work that makes the upgrade what it is, not what every job has: a warning stands there."""
    own = {(mine.task, mine.place) for mine in verdict.upgrade.demands}
    return {key for key in own if shop.tasks[key[0]].group not in EVERY_JOB} or own


def drawn_words(plan: DrawnPlan, bored: bool) -> str:
    """Where a place is drawn, with the bits for its holes, and that it is to be measured first."""
    words = f"Drawn: {plan.title}"
    if isinstance(plan, HolePlan) and bored:
        bored_rows = [row for row in rows_of(plan) if row.bit]
        bits = dict.fromkeys(f"{spoken(row.d)} mm, drill {row.bit}" for row in bored_rows)
        if bits:
            words += f" (holes of {'; '.join(bits)})"
        marks = [row.mark for row in bored_rows]
        placed = mark_words(plan, marks)
        if placed != marks:
            words += f". Off the {plan.across}, mm: {', '.join(placed)}"
    elif isinstance(plan, CavityPlan):
        becomes = spoken(max(plan.long, plan.room_long), "0.1"), spoken(plan.wide + plan.wider)
        words += (
            f" (becomes {becomes[0]} mm along by {becomes[1]} mm across; wall {spoken(plan.wall, '0.1')} mm)"
        )
    elif isinstance(plan, PiecePlan):
        words += f" ({spoken(plan.along)} mm along by {spoken(plan.across)} mm across)"
    elif isinstance(plan, OutlinePlan):
        words += f" ({spoken(plan.size[0])} mm across by {spoken(plan.size[1])} mm along)"
    return words + (
        ". Not all of it is measured: measure first what the drawing names." if plan.assumed else "."
    )


def _in_turn(rows: Sequence[CostRow], begins: Mapping[str, str]) -> list[CostRow]:
    """Rows as they are planned; what has no time of its own stays before or after all that has."""
    turn = {key: number for number, key in enumerate(begins)}
    first = min((row.number for row in rows if row.key in turn), default=0)
    return sorted(rows, key=lambda row: turn.get(row.key, -1 if row.number < first else len(turn)))


def _card_row(
    sheet: Sheet,
    at: int,
    step: tuple[int, CostRow, int],
    begins: str,
    told: Sequence[str],
    pictured: bool,
) -> None:
    number, row, minutes = step
    flags = ", ".join(FLAGS[code] for code in row.task.hazards if code in FLAGS)
    place = f" ({row.place.replace('-', ' ')})" if row.place else ""
    name = f"{id_words(row.task.id)}{place}"
    work, *notes = told
    said = [f"{begins}  {name}: {work}" if begins else f"{name}: {work}", *notes]
    if flags:
        said.append(f"Take care: {flags}")
    sheet.text(at, KEY, row.key, "soft")
    sheet.text(at, BOX, BOX_EMPTY, "text", font_size=14)
    sheet.number(at, NO, number, "count")
    sheet.text(at, WORK, "\n".join(said), "top" if pictured else "wrap", font_size=9)
    sheet.text(at, QUANTITY, of_unit(row.quantity, row.task.driver), "right", font_size=9)
    sheet.number(at, PLANNED, minutes, "minutes", num_format="#,##0")
    sheet.text(at, WAIT, wait_words(row), "soft-wrap", indent=1)
    sheet.fill_in(at, ACTUAL, "number")
    sheet.fill_in(at, REMARK, "text", num_format=PLAIN_TEXT)
    sheet.rule(at, BOX, LAST)


def wait_words(row: CostRow) -> str:
    """How long glue, paint or rest takes after a row, in minutes, hours or days."""
    minutes = Decimal(row.line.wait) / 100
    if not minutes:
        return ""
    for unit, size, most in (("min", 1, 90), ("h", 60, 48 * 60), ("days", 1440, None)):
        if most is None or minutes <= most:
            return f"{(minutes / size).quantize(Decimal('0.1')).normalize():f} {unit}"
    return ""


def _precautions(sheet: Sheet, at: int, study: Study, rows: Sequence[CostRow]) -> int:
    """Before anything else: each class of hazard once, in full, by the word that its tasks carry; the row below."""
    sheet.text(at, BOX, "Precautions", "bold")
    at += 1
    room = sum(sheet.widths[BOX : LAST + 1])
    for hazard in hazards_of(study, rows):
        word = FLAGS.get(hazard.id, "")
        text = f"{sentence_case(word or hazard.where)}: {controls_words(hazard)}"
        for line in wrapped_lines(text, room - 4, 8):
            sheet.text(at, BOX, line, "text", font_size=8)
            sheet.low(at, 11)
            at += 1
    for line in wrapped_lines(GENERAL, room - 4, 8):
        sheet.text(at, BOX, line, "soft", font_size=8)
        sheet.low(at, 11)
        at += 1
    return at


def write_setup_sheet(book: Book, study: Study, footer: str) -> Sheet:
    """What is measured before and after the work; what the intake knows already stands in it."""
    sheet = book.sheet(
        Sheet(SETUP_SHEET, (32, 6, SETUP_TARGET[study.shop.lengths], 10, 10, 28), footer=footer)
    )
    words = "Measure at playing pitch, in playing position. Before: as it came in; after: as it goes out."
    sheet.headline(f"Set-up sheet  ·  {study.job.id}", words, 0, 5)
    for column, head in enumerate(("What", "Unit", "Target", "Before", "After", "How")):
        sheet.head(3, column, head, ("left", "left", "right", "right", "right", "indent")[column])
    sheet.rule(3, 0, 5, "ink")
    at = 4
    shown = study.shop.lengths
    for label, unit, field, judged_by, how in SETUP_LINES:
        sheet.text(at, 0, label)
        sheet.text(at, 1, unit_as_read(unit, shown), "soft")
        target = target_words(study, judged_by)
        if target:
            sheet.text(at, 2, target, "right")
        else:
            sheet.fill_in(at, 2, "right")
        reading = study.job.instrument.get(field)
        if reading is not None and not reading.assumed and isinstance(reading.value, Decimal):
            if unit_as_read(unit, shown) == unit:
                sheet.number(at, 3, reading.value, "quantity")
            else:
                sheet.number(at, 3, reading.value / INCH, "quantity", num_format=inch_format(reading.value))
        else:
            sheet.fill_in(at, 3, "quantity")
        sheet.fill_in(at, 4, "quantity")
        sheet.text(at, 5, how, "soft-wrap", indent=1)
        sheet.tall(at, 30)
        sheet.rule(at, 0, 5)
        at += 1
    at += 1
    for label in ("Strings fitted (gauges)", "Tuning", "Played by", "Date and signature"):
        sheet.text(at, 0, label)
        for column in (1, 2, 3, 4):
            sheet.fill_in(at, column)
        sheet.tall(at, 28)
        at += 1
    return sheet
