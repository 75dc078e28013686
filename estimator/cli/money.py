"""Commands about money: ``rate``, ``price``, ``menu``, ``change``, ``sell``, ``offer``, ``spares``, ``invest``."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from estimator.cli.common import (
    ForceOption,
    FullOption,
    JobArg,
    JsonOption,
    PaperOption,
    ShopOption,
    WithOption,
    answer,
    load_shop_of,
    load_study,
    names_meant,
    no_choice,
    paper_of,
    print_json,
    read_decimal,
    tell,
)
from estimator.core.amounts import Cents
from estimator.core.errors import Exit, as_accepted, near_miss, refusal, shown
from estimator.core.save import check_target, save_text
from estimator.report.text.terminal import put, watching

if TYPE_CHECKING:
    from estimator.choose.study import Choice, Study
    from estimator.model import Shop
    from estimator.price.client.menu import MenuRow


def rate(
    billable_share: Annotated[
        str | None, typer.Option("--billable-share", metavar="SHARE", help="Try another share, such as 0.5.")
    ] = None,
    margin: Annotated[
        str, typer.Option("--margin", metavar="SHARE", help="Margin on top, such as 0.15.")
    ] = "0",
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> int:
    """Build up what an hour must bring in, from the shop's yearly costs."""
    from estimator.price.client.hourly_rate import shop_rate
    from estimator.report.records.price import RateAnswer
    from estimator.report.words import money as money_words

    the_shop = load_shop_of(shop)
    share = read_decimal("--billable-share", billable_share) if billable_share is not None else None
    built = shop_rate(the_shop, share, read_decimal("--margin", margin))
    return answer(RateAnswer(built), as_json, lambda: put(*money_words.rate_sentences(built, the_shop)))


OffersOption = Annotated[
    bool, typer.Option("--offers", help="Three offers: lean, as wished, the best within the limits.")
]


GivenOption = Annotated[
    str | None,
    typer.Option("--given", metavar="MONEY", help="How sure is this price, tax included? Any price."),
]


def price(
    job: JobArg,
    with_: WithOption = None,
    offers: OffersOption = False,
    given: GivenOption = None,
    full: FullOption = False,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> int:
    """Say what to charge a customer, with every step, the deposit and the terms; and the floor, for you.

    With --given: how many of 100 such jobs stay within the hours that a price pays for.
    """
    from estimator.choose.tools import make_named_or_best

    with watching("working the job out"):
        study = load_study(job, shop)
        named = names_meant(study, with_)
    if given is not None and offers:
        raise typer.BadParameter("--given and --offers: ask for one at a time")
    if given is not None:
        return _sure_of(study, named, given, as_json)
    if offers:
        return _three(study, named, as_json)
    with watching("choosing"):
        choice = make_named_or_best(study, named)
    if not choice.found:
        return no_choice(choice, as_json, full)
    _tell_price(choice, as_json, full)
    return Exit.DONE


def _tell_price(choice: Choice, as_json: bool, full: bool) -> None:
    """The price of a set, as data, in short or with every step."""
    from estimator.choose.questions.measure_first import measure_first
    from estimator.price.client.quote import quote_for
    from estimator.report.record import as_data
    from estimator.report.records.price import PriceAnswer, Quoted
    from estimator.report.text import brief
    from estimator.report.text import choice as choice_text
    from estimator.report.words import quote as quote_words
    from estimator.report.words.tools import tool_lines

    study, chosen = choice.study, choice.estimate.chosen
    quoted = quote_for(study, chosen)
    if as_json:
        print_json(as_data(PriceAnswer(Quoted(choice, quoted))))
        return
    if not full:
        brief.show_price(study, quoted, choice.estimate)
    else:
        put(
            *quote_words.quote_sentences(quoted, study.shop),
            *choice_text.worth_lines(study, {"": choice.estimate.totals.to_pay}),
            *choice_text.limit_lines(study, choice.estimate, broken_alone=True),
            *quote_words.terms_sentences(quoted, study.shop),
            brief.time_words(choice.estimate),
            *brief.first_lines(study, measure_first(study, chosen)),
        )
    put(*tool_lines(choice))


def _three(study: Study, named: Sequence[str], as_json: bool) -> int:
    """Up to three offers side by side."""
    from estimator.price.client.three_offers import three_offers
    from estimator.report.records.price import OffersAnswer
    from estimator.report.text import money as money_text

    with watching("making the offers"):
        found = three_offers(study, named)
    if not found.made:
        return no_choice(found.wished, as_json)
    return answer(OffersAnswer((found, study)), as_json, lambda: money_text.show_offers(found, study.shop))


def _sure_of(study: Study, named: Sequence[str], given: str, as_json: bool) -> int:
    """How sure a given price is for the upgrades named, else for the best set."""
    from estimator.choose.tools import make_named_or_best
    from estimator.price.client.given_price import given_price
    from estimator.report.records.price import GivenAnswer
    from estimator.report.text.choice import worth_lines
    from estimator.report.words import quote as quote_words
    from estimator.report.words.tools import tool_lines

    choice = make_named_or_best(study, named)
    if not choice.found:
        return no_choice(choice, as_json)
    study = choice.study
    found = given_price(study, choice.estimate.chosen, _money("--given", given, study.shop))
    return answer(
        GivenAnswer((choice, found)),
        as_json,
        lambda: put(
            *quote_words.given_sentences(found, study.shop),
            *worth_lines(study, {"": found.given}),
            *tool_lines(choice),
        ),
    )


def _money(option: str, text: str, shop: Shop) -> Cents:
    """Money of the command line in cents; InputError below zero."""
    from estimator.tables.sums import whole_cents

    found = whole_cents(text, option, shop.terms.currency)
    if found < 0:
        raise refusal(option, "a negative price", f"“{text}”", "0 or more")
    return found


ListPageOption = Annotated[
    str | None,
    typer.Option(
        "--page", metavar="FILE", help="A price list for customers instead, to print and hang up (.html)."
    ),
]


def menu(
    names: Annotated[
        list[str] | None,
        typer.Argument(metavar="[WORD]...", help="Only jobs whose name or words hold one of these."),
    ] = None,
    top: Annotated[
        int | None,
        typer.Option("--top", metavar="N", help="Only the N jobs dearest beside what is posted.", min=1),
    ] = None,
    pieces: Annotated[bool, typer.Option("--pieces", help="Every piece of each price.")] = False,
    page: ListPageOption = None,
    paper: PaperOption = None,
    force: ForceOption = False,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> int:
    """Print the shop's menu: usual jobs with their price without parts, beside what other shops post.

    With --page: the same prices as a sheet for customers, without anything that is the bench's alone.
    """
    from estimator.price.client.menu import menu_of
    from estimator.report.records.price import MenuAnswer, MenuTold
    from estimator.report.text import menu as wall

    if page is not None and (top is not None or pieces):
        raise typer.BadParameter("--top and --pieces are for the bench: leave them out with --page")
    the_shop = load_shop_of(shop)
    if page is not None:
        check_target(page, force=force, extensions=(".html",))
    rows = menu_of(the_shop, names or (), top)
    if page is None:
        told = MenuTold(rows, the_shop)
        return answer(MenuAnswer(told), as_json, lambda: wall.show_menu(rows, the_shop, pieces))
    written = _hang_up(rows, the_shop, page, paper_of(paper, the_shop), force)
    told = MenuTold(rows, the_shop, written)
    return answer(MenuAnswer(told), as_json, lambda: wall.say_list(rows, written))


def _hang_up(rows: Sequence[MenuRow], shop: Shop, page: str, paper: str, force: bool) -> Path:
    """Write the price list for customers."""
    from estimator.ledger.clock import read_moment
    from estimator.report.page.price_list import price_list, price_list_html

    text = price_list_html(price_list(rows, shop, read_moment(None).day), paper)
    return save_text(page, text, force=force, extensions=(".html",))


def change(
    job: JobArg,
    quoted: Annotated[list[str], typer.Option("--quoted", metavar="ID", help="Upgrade that was quoted.")],
    now: Annotated[list[str], typer.Option("--now", metavar="ID", help="Upgrade that is wanted now.")],
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> int:
    """Compare a new choice with a quoted one: what comes in, what goes out, the difference to pay."""
    from estimator.choose.study import make_estimate, settled
    from estimator.price.client.quote import change_order, quote_for
    from estimator.report.records.price import ChangeAnswer
    from estimator.report.text.choice import worth_lines
    from estimator.report.words import quote as quote_words

    study = load_study(job, shop)
    before, after = (
        quote_for(settled(study, ids), make_estimate(study, ids).chosen)
        for ids in (names_meant(study, quoted, "--quoted"), names_meant(study, now, "--now"))
    )
    order = change_order(before, after)
    return answer(
        ChangeAnswer((study, order)),
        as_json,
        lambda: put(
            *quote_words.change_sentences(order, study.shop),
            *worth_lines(study, {"": after.estimate.totals.to_pay}),
        ),
    )


def sell(job: JobArg, full: FullOption = False, shop: ShopOption = None, as_json: JsonOption = False) -> int:
    """Compare plans for an instrument that is to be sold, and ways to sell it."""
    from estimator.choose.tools import as_things_are
    from estimator.price.resale.asking_price import best_whole
    from estimator.price.resale.compare import resale_plans, ways_to_sell
    from estimator.report.records.sale import Sale, SellAnswer
    from estimator.report.text import brief_sale
    from estimator.report.text import resale as resale_text

    with watching("comparing plans"):
        study = as_things_are(load_study(job, shop), "profit")
        plans = resale_plans(study)
        ways = ways_to_sell(study, best_whole(plans).proceeds.chosen)
    return answer(
        SellAnswer(Sale(study, plans, ways)),
        as_json,
        lambda: (resale_text if full else brief_sale).show_sale(study, plans, ways),
    )


DonorArg = Annotated[
    str | None, typer.Argument(metavar="[JOB]", help="Job file of a donor, or example:NAME.")
]
ListingsOption = Annotated[
    str | None, typer.Option("--list", metavar="FILE", help="Rank the listings of a CSV file instead.")
]
SeenOption = Annotated[
    str, typer.Option("--seen", metavar="HOW", help="How it was seen: an id of donor_odds.csv.")
]
AskOption = Annotated[
    str | None, typer.Option("--ask", metavar="MONEY", help="Asking price, instead of the job's.")
]
PayOption = Annotated[
    str | None, typer.Option("--pay", metavar="MONEY", help="A second pay an hour, beside the wanted one.")
]
ByOption = Annotated[
    str, typer.Option("--by", metavar="WHAT", help="A list is ranked by: left (money) or per-hour (pay).")
]
TopOption = Annotated[int, typer.Option("--top", metavar="N", help="Listings shown of a list.", min=1)]


def offer(
    job: DonorArg = None,
    listings: ListingsOption = None,
    seen: SeenOption = "",
    ask: AskOption = None,
    pay: PayOption = None,
    top: TopOption = 20,
    by: ByOption = "left",
    full: FullOption = False,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> int:
    """Say the most to pay for a donor at the wanted pay, with the odds of loss; or rank many listings."""
    from estimator.choose.tools import as_things_are
    from estimator.price.donor.offer import make_offer, offer_at
    from estimator.report.record import as_data
    from estimator.report.records.sale import Donor, OfferAnswer
    from estimator.report.text import brief_sale
    from estimator.report.text import resale as resale_text
    from estimator.report.words import resale as resale_words

    if listings is not None:
        return _rank(listings, top, by, shop, as_json)
    if job is None:
        raise typer.BadParameter("name a job file, or a CSV file of listings with --list")
    with watching("working the donor out"):
        study = as_things_are(load_study(job, shop), "profit")
        asked = None if ask is None else _money("--ask", ask, study.shop)
        made = make_offer(study, seen, asked)
        other = None if pay is None else offer_at(study, _money("--pay", pay, study.shop), seen, asked)
    if as_json:
        print_json(as_data(OfferAnswer(Donor(study, made, other))))
    elif not full:
        brief_sale.show_offer(study, made, other)
    else:
        lines = resale_words.offer_sentences(made, study.shop, other)
        put(*lines[:-1], *resale_text.standing_lines(study, made.plan.chosen), lines[-1])
    return Exit.DONE


def _rank(listings: str, top: int, by: str, shop: str | None, as_json: bool) -> int:
    """Rank the listings of a CSV file."""
    from estimator.price.donor.rank import RANKS, offer_list
    from estimator.report.records.sale import ListAnswer
    from estimator.report.text import resale as resale_text
    from estimator.report.text.terminal import progress

    by = as_accepted(by, RANKS)
    if by not in RANKS:
        step = near_miss(by, RANKS) or "take one of these"
        raise refusal("--by", "a list is not ranked by this", shown(by), ", ".join(RANKS), step)
    the_shop = load_shop_of(shop)
    with progress("working through the listings") as tick:
        found = offer_list(listings, the_shop, tick, by=by)
    tell(found.issues)
    return answer(ListAnswer(found), as_json, lambda: resale_text.show_list(found, the_shop, top))


def spares(
    good: Annotated[int, typer.Option("--good", metavar="N", help="Good pieces needed.", min=1, max=500)],
    failure: Annotated[
        str, typer.Option("--failure", metavar="SHARE", help="Share that fails, such as 0.08.")
    ],
    surety: Annotated[str, typer.Option("--surety", metavar="PERCENT", help="How sure, in per cent.")] = "90",
    as_json: JsonOption = False,
) -> int:
    """Say how many blanks to buy for so many good ones."""
    from estimator.estimate.risk.spare_blanks import pieces_for
    from estimator.report.records.price import SparesAnswer
    from estimator.report.words import money as money_words

    share = read_decimal("--failure", failure)
    if not 0 <= share <= Decimal("0.9"):
        raise refusal("--failure", "a share out of range", f"“{failure}”", "0 to 0.9, such as 0.08 for 8 %")
    wanted = read_decimal("--surety", surety)
    if not 0 < wanted <= 100:
        raise refusal("--surety", "a surety out of range", f"“{surety}”", "above 0, at most 100, such as 90")
    found = pieces_for(good, share, wanted / 100)
    return answer(SparesAnswer(found), as_json, lambda: put(*money_words.spares_sentences(found)))


ToolArg = Annotated[str, typer.Argument(metavar="TOOL", help="Tool, an id of tools.csv.")]
JobsOption = Annotated[int, typer.Option("--jobs", metavar="N", help="Jobs expected.", min=1)]
UsesOption = Annotated[str, typer.Option("--uses", metavar="N", help="Units of tool life a job takes.")]
InexpensiveOption = Annotated[
    str,
    typer.Option("--inexpensive", metavar="TIME", help="Bench time a job with the inexpensive grade."),
]
PremiumOption = Annotated[
    str, typer.Option("--premium", metavar="TIME", help="Bench time a job with the premium grade.")
]


def invest(
    tool: ToolArg,
    jobs: JobsOption,
    uses: UsesOption,
    inexpensive: InexpensiveOption,
    premium: PremiumOption,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> int:
    """Compare buying a tool in either grade, renting it and sending the work out, with the payback."""
    from estimator.core.money import centiminutes, cents
    from estimator.estimate.tools.buy_rent_send import invest_in
    from estimator.report.records.price import InvestAnswer
    from estimator.report.words import money as money_words

    the_shop = load_shop_of(shop)
    minutes = tuple(
        centiminutes(read_decimal(name, text, "time"))
        for name, text in (("--inexpensive", inexpensive), ("--premium", premium))
    )
    for name, minute in (("--inexpensive", minutes[0]), ("--premium", minutes[1])):
        if minute < 0:
            raise refusal(name, "a time below zero", f"{minute / 100:g} min", "0 or more, such as 45 min")
    rate_cents = cents(the_shop.terms.charge_per_hour)
    costs = invest_in(
        the_shop, tool, jobs, read_decimal("--uses", uses), (minutes[0], minutes[1]), rate_cents
    )
    return answer(
        InvestAnswer((tool, costs)),
        as_json,
        lambda: put(*money_words.investment_sentences(costs, jobs, the_shop)),
    )


def register(app: typer.Typer) -> None:
    """Add the commands of this family."""
    for command in (rate, price, menu, change, sell, offer, spares, invest):
        app.command()(command)
