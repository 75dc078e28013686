"""Commands about measuring: ``new``, ``measure``, ``draw``, ``triage``."""

from __future__ import annotations

from collections.abc import Collection
from contextlib import nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from estimator.cli.common import (
    ForceOption,
    FullOption,
    JobArg,
    JsonOption,
    ShopOption,
    TopOption,
    answer,
    load_both,
    load_shop_of,
    load_study,
    paper_of,
    print_json,
)
from estimator.core.errors import Exit
from estimator.report.text.terminal import put

if TYPE_CHECKING:
    from collections.abc import Sequence

    from estimator.core.save import Output
    from estimator.estimate.said import Said
    from estimator.model import IntakeField, Job, Shop, Upgrade
    from estimator.report.drawings import Drawn


KindOption = Annotated[
    str | None,
    typer.Option("--kind", help="guitar-solid (left out), bass-semi ... or a template: bass-5-soap ..."),
]
ForUpgradeOption = Annotated[
    list[str] | None,
    typer.Option("--for", metavar="ID", help="Upgrade you have in mind; only what matters for it is asked."),
]
SheetOption = Annotated[
    str | None, typer.Option("--sheet", metavar="FILE", help="Also write a measuring sheet (.xlsx or .txt).")
]

FolderOption = Annotated[
    str,
    typer.Option(
        "-o", "--folder", metavar="DIR", help="Where to put the drawings; made where there is none."
    ),
]
TemplateOption = Annotated[
    str | None,
    typer.Option("--template", metavar="FILE.html", help="Also write all of it 1 : 1 on pages to print."),
]


def new(
    file: Annotated[str, typer.Argument(metavar="FILE", help="Job file to write (.toml).")],
    kind: KindOption = None,
    for_: ForUpgradeOption = None,
    sheet: SheetOption = None,
    force: ForceOption = False,
    shop: ShopOption = None,
) -> int:
    """Write a commented job file with the fields that matter, and a measuring sheet.

    Without options, in a terminal, it asks: which instrument, what is wrong, what is wished, the limit.
    """
    from estimator.core.save import Output, check_target, save_all, text_output
    from estimator.estimate import new_job
    from estimator.fit.short_names import rows_named
    from estimator.tables.cells import id_from

    the_shop = load_shop_of(shop)
    check_target(file, force=force, extensions=(".toml",))
    kind, said = _asked(the_shop, bool(kind or for_ or sheet), kind)
    wanted = rows_named(the_shop, for_ or ())
    name = id_from(Path(file).stem) or new_job.NAME
    seen, whose = (said.seen(), said.whose) if said else (None, "own")
    job = new_job.default_job(the_shop, kind, name, wanted=wanted, seen=seen, whose=whose)
    fields = new_job.fields_that_matter(the_shop, job, wanted)
    named = {field.id: field for field in (*fields, *new_job.fields_of_faults(the_shop, job))}
    asked = new_job.by_section(the_shop, named)
    text = new_job.job_text(the_shop, job, asked, name, said)
    outputs = [text_output(file, text, force=force, extensions=(".toml",))]
    if sheet:
        form = sheet.lower().endswith(".xlsx")
        data = (
            _form(the_shop, job, fields, named) if form else new_job.sheet_text(the_shop, job, asked).encode()
        )
        outputs.append(Output(sheet, data, force, (".xlsx", ".txt")))
    for number, path in enumerate(save_all(outputs)):
        told = f": {len(fields)} fields that matter, {len(asked) - len(fields)} that show other faults"
        put(f"wrote {path}" + ("" if number else told))
    return Exit.DONE


def _asked(shop: Shop, told: bool, kind: str | None) -> tuple[str, Said | None]:
    """The kind of instrument, and what is said of it where nothing is told on the line and somebody can answer."""
    from estimator.cli.ask_new import ask_new, can_ask

    return (kind or "guitar-solid", None) if told or not can_ask() else ask_new(shop)


def _form(shop: Shop, job: Job, fields: Collection[IntakeField], named: Collection[str]) -> bytes:
    """The measuring sheet on the paper of the shop's country, other faults on a page of their own."""
    from estimator.workbook.measuring_sheet import measuring_bytes

    matter = [field.id for field in fields]
    beside = [name for name in named if name not in matter]
    return measuring_bytes(shop, job, matter, paper=paper_of(None, shop), faults=beside)


def measure(
    job: JobArg,
    solves: Annotated[
        int, typer.Option("--solves", metavar="N", help="How often the choice may be made again.", min=0)
    ] = 12,
    top: TopOption = None,
    full: FullOption = False,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> int:
    """Say which measurement to take next: what each assumed value could change, and the money at stake.

    Where the wish cannot be met as things are assumed: which measurement could make it possible.
    """
    from estimator.choose.questions.measure_next import look_into
    from estimator.choose.tools import choose_with_tools
    from estimator.report.record import as_data
    from estimator.report.records.risk import MeasureAnswer
    from estimator.report.text import brief
    from estimator.report.text import measuring as measuring_text
    from estimator.report.text.terminal import progress, put, watching
    from estimator.report.words.tools import tool_lines

    with watching("choosing"):
        choice = choose_with_tools(load_study(job, shop))
    with progress("looking at assumed values") as tick:
        looked = look_into(choice, solves, tick)
    if as_json:
        print_json(as_data(MeasureAnswer((choice, looked))))
    else:
        if full:
            measuring_text.show(choice, looked, top)
        else:
            brief.show_measuring(choice, looked, top)
        put(*tool_lines(choice))
    return Exit.DONE if choice.found else Exit.CANNOT_BE_MET


def draw(
    job: JobArg,
    upgrade: Annotated[str, typer.Option("--upgrade", metavar="ID", help="Upgrade to draw.")],
    folder: FolderOption = ".",
    template: TemplateOption = None,
    force: ForceOption = False,
    shop: ShopOption = None,
) -> int:
    """Draw holes, cavities and glued pieces to scale (SVG), and name what is bored or cut and not drawn."""
    from estimator.core.save import new_folder, save_all
    from estimator.fit.judge import judge_job
    from estimator.fit.short_names import upgrades_named
    from estimator.report.drawings import drawn_of

    the_shop, the_job = load_both(job, shop)
    named = upgrades_named(the_shop, the_job, (upgrade,), "--upgrade", groups=True)
    verdicts = judge_job(the_shop, the_job, named, "--upgrade")
    drawn = [(verdict.upgrade, drawn_of(the_shop, the_job, verdict.upgrade)) for verdict in verdicts]
    outputs = _drawing_files(the_job, drawn, folder, template, force)
    with new_folder(folder, "--folder", parents=True) if outputs else nullcontext():
        saved = save_all(outputs)
    for path in saved:
        put(f"wrote {path}")
    left = [(one.id, gap.words) for one, found in drawn for gap in found.not_drawn]
    for name, words in left:
        put(f"not drawn of {name}: {words}")
    if not outputs and not left:
        put(f"{upgrade}: nothing is bored or cut, so there is nothing to draw")
    return Exit.DONE


def _drawing_files(
    job: Job, drawn: Sequence[tuple[Upgrade, Drawn]], folder: str, template: str | None, force: bool
) -> list[Output]:
    """A file of each drawing, and the page of templates if one is asked for."""
    from estimator.core.save import text_output
    from estimator.report.svg.fit import drawing, head_of, template_page

    outputs = [
        text_output(
            Path(folder) / f"{job.id}-{one.id}-{name}.svg",
            drawing(plan, head_of(job)),
            force=force,
            extensions=(".svg",),
        )
        for one, found in drawn
        for name, plan in found.plans.items()
    ]
    if template:
        page = template_page(job, [(one.what, found) for one, found in drawn])
        outputs.append(text_output(Path(template), page, force=force, extensions=(".html",)))
    return outputs


def triage(
    job: JobArg,
    seen: Annotated[
        list[str] | None,
        typer.Option("--seen", metavar="WHAT=yes|no", help="What only the eye tells; may be given again."),
    ] = None,
    top: TopOption = None,
    full: FullOption = False,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> int:
    """Go through the ten checks on a donor: walk away, lower the offer by so much, or fine."""
    from estimator.report.records.risk import TriageAnswer
    from estimator.report.text import triage as triage_text

    the_shop, the_job = load_both(job, shop)
    found = triage_text.triage_of(the_shop, the_job, triage_text.read_seen(seen or (), ask=not as_json))
    return answer(
        TriageAnswer((the_job, found)), as_json, lambda: triage_text.show(the_shop, the_job, found, full, top)
    )


def register(app: typer.Typer) -> None:
    """Add the commands of this family."""
    for command in (new, measure, draw, triage):
        app.command()(command)
