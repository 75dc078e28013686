"""Commands that price and decide: ``estimate`` and ``choose``."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING, Annotated

import typer

from estimator.cli.common import (
    FromLedgerOption,
    FullOption,
    JobArg,
    JsonOption,
    LedgerOption,
    MethodOption,
    ShopOption,
    StrictOption,
    SuretyOption,
    TopOption,
    WithOption,
    load_both,
    load_study,
    names_meant,
    needs_ledger_stock,
    no_choice,
    open_ledger,
    print_json,
    tell,
    with_methods,
)
from estimator.core.errors import Exit
from estimator.report.text.terminal import put, watching

if TYPE_CHECKING:
    from estimator.choose.questions.all import PostOptimality
    from estimator.choose.study import Choice, Study


def estimate(
    job: JobArg,
    with_: WithOption = None,
    method: MethodOption = None,
    surety: SuretyOption = None,
    strict: StrictOption = False,
    full: FullOption = False,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> int:
    """Price a set of upgrades that you name: work, minutes, wear, cost and price."""
    from estimator.choose.tools import make_named
    from estimator.report.record import as_data
    from estimator.report.records.choice import EstimateAnswer, Priced
    from estimator.report.text import brief
    from estimator.report.text import choice as choice_text
    from estimator.report.words.tools import tool_lines

    with watching("pricing the work"):
        study = load_study(job, shop, strict, surety, method)
        choice = make_named(study, names_meant(study, with_))
    study, priced = choice.study, choice.estimate
    if as_json:
        print_json(as_data(EstimateAnswer(Priced(study, priced, choice.tools))))
    else:
        (choice_text if full else brief).show_estimate(study, priced)
        put(*tool_lines(choice))
    return Exit.DONE


AimOption = Annotated[
    str | None,
    typer.Option(
        "--aim",
        help="What to make best of: cost, cash, hours, price, score, profit, hourly; or several in a row: "
        "cost,hours. If left out: price,cost on client work, else cost.",
    ),
]
EngineOption = Annotated[
    str | None,
    typer.Option("--engine", help="Solver: highs, cbc or cpsat; chosen by itself if left out."),
]
TimeLimitOption = Annotated[
    float | None,
    typer.Option("--time-limit", metavar="SECONDS", help="Stop searching after so long.", min=0.0),
]
NextBestOption = Annotated[
    int,
    typer.Option("--next", metavar="N", help="Also the N best sets, with their differences.", min=0, max=100),
]
WhyOption = Annotated[
    bool, typer.Option("--why", help="Also what each upgrade truly costs, and what keeps the others out.")
]
FrontierOption = Annotated[
    bool, typer.Option("--frontier", help="Also what a little more money buys: cost against score.")
]
WithHoursOption = Annotated[
    bool, typer.Option("--with-hours", help="Frontier of cost, score and hours; stops after 30 seconds.")
]
SvgOption = Annotated[str | None, typer.Option("--svg", metavar="FILE", help="Draw the frontier (.svg).")]
BuyingOption = Annotated[
    str,
    typer.Option(
        "--buying",
        metavar="share|whole",
        help="Packs count in cost by the share used; or whole, with the suppliers' freight.",
    ),
]
SaveModelOption = Annotated[
    str | None, typer.Option("--save-model", metavar="FILE", help="Write the programme (.lp or .mps).")
]


def choose(
    job: JobArg,
    aim: AimOption = None,
    method: MethodOption = None,
    engine: EngineOption = None,
    time_limit: TimeLimitOption = None,
    next_best: NextBestOption = 0,
    why: WhyOption = False,
    frontier: FrontierOption = False,
    with_hours: WithHoursOption = False,
    svg: SvgOption = None,
    buying: BuyingOption = "share",
    save_model: SaveModelOption = None,
    from_ledger: FromLedgerOption = False,
    ledger: LedgerOption = None,
    strict: StrictOption = False,
    full: FullOption = False,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> int:
    """Find the best upgrade set within the wish and the budget, and prove it."""
    from estimator.choose.milp.earning import usual_aim
    from estimator.choose.questions.all import Wanted
    from estimator.choose.questions.ask import deeper
    from estimator.choose.tools import choose_with_tools
    from estimator.report import choice_files

    deadline = None if time_limit is None else time.perf_counter() + time_limit
    study, done = _studied(job, shop, strict, ledger, from_ledger, method, buying)
    aim = usual_aim(study.frame.billed) if aim is None else aim
    files = choice_files.ChoiceFiles(save_model, svg, quiet=as_json)
    files.begin(study, aim)
    wanted = Wanted(next_best, why, frontier or with_hours or svg is not None, with_hours, as_json, done)
    with watching("choosing, and proving it"):
        choice = choose_with_tools(study, aim, engine, time_limit)
        further = deeper(choice, wanted, engine, deadline)
    files.end(choice, further)
    _answer(choice, further, as_json, full)
    return Exit.DONE if choice.found else Exit.CANNOT_BE_MET


def _answer(choice: Choice, further: PostOptimality, as_json: bool, full: bool) -> None:
    """The choice with its further answers, as data or as text."""
    from estimator.report import choice_files
    from estimator.report.record import as_data
    from estimator.report.records.choice import Asked, ChooseAnswer

    if as_json:
        print_json(as_data(ChooseAnswer(Asked(choice, further))))
    else:
        choice_files.show(choice, further, full)


def _studied(
    job: str,
    shop: str | None,
    strict: bool,
    ledger: str | None,
    from_ledger: bool,
    methods: list[str] | None,
    buying: str,
) -> tuple[Study, dict[str, int] | None]:
    """The job as studied, done the ways named, its stock from the ledger where that is asked for.

    With them by task how many jobs of the ledger's last year had it; None where no ledger is read.
    """
    from estimator.choose.study import study_job

    needs_ledger_stock(ledger, from_ledger)
    the_shop, the_job = load_both(job, shop, strict)
    done = None
    if from_ledger:
        from estimator.ledger.clock import read_moment
        from estimator.ledger.for_choice import job_with_stock, jobs_of_a_year

        with open_ledger(ledger, shop) as books:
            the_job, told = job_with_stock(books, the_shop, the_job)
            done = jobs_of_a_year(books, read_moment(None).day)
        tell(told)
    the_job = with_methods(the_shop, the_job, methods)
    return study_job(the_shop, the_job, buying, ways_open=True), done


def risk(
    job: JobArg,
    with_: WithOption = None,
    simulate: Annotated[
        bool, typer.Option("--simulate", help="Also draw many such jobs, rework and faults as events.")
    ] = False,
    draws: Annotated[
        int, typer.Option("--draws", help="How many jobs to draw.", min=100, max=5_000_000)
    ] = 100_000,
    seed: Annotated[int, typer.Option("--seed", help="Seed of the draws.", min=0)] = 1,
    top: TopOption = None,
    full: FullOption = False,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> int:
    """Say how long, how much and how sure: points of hours and cost, what drives them, what is used up.

    For the upgrades named with --with, else for the best set.
    """
    from estimator.choose.tools import make_named_or_best

    with watching("choosing"):
        study = load_study(job, shop)
        choice = make_named_or_best(study, names_meant(study, with_))
    if not choice.found:
        return no_choice(choice, as_json, full)
    _tell_risk(choice, (draws, seed) if simulate else None, as_json, full, top)
    return Exit.DONE


def _tell_risk(
    choice: Choice, drawn: tuple[int, int] | None, as_json: bool, full: bool, top: int | None
) -> None:
    """The risk of a set, as data, in short or all of it; ``drawn``: how many jobs, and the seed."""
    from estimator.estimate.risk.look_ahead import fit_risks, look_ahead, simulate_set
    from estimator.fit.otherwise import Otherwise
    from estimator.report.record import as_data
    from estimator.report.records.risk import Risk, RiskAnswer
    from estimator.report.text import brief
    from estimator.report.text import risk as risk_text
    from estimator.report.words.tools import tool_lines

    study, chosen = choice.study, choice.estimate.chosen
    with watching("looking ahead"):
        otherwise = Otherwise(study.shop, study.job, chosen)
        ahead = look_ahead(study.costing, chosen, otherwise=otherwise)
        risks = fit_risks(otherwise, chosen)
        simulated = simulate_set(study.costing, chosen, draws=drawn[0], seed=drawn[1]) if drawn else None
    if as_json:
        print_json(as_data(RiskAnswer(Risk(choice, ahead, risks, simulated))))
        return
    if full:
        risk_text.show(study, ahead, risks, simulated, top)
    else:
        brief.show_risk(study, ahead, risks, top)
        if simulated is not None:
            risk_text.show_simulation(simulated, study.shop.terms.currency)
    put(*tool_lines(choice))


def register(app: typer.Typer) -> None:
    """Add the commands of this family."""
    app.command()(estimate)
    app.command()(choose)
    app.command()(risk)
