"""Donors and sales for the command line: plans to sell, the most to pay, many listings."""

from __future__ import annotations

from collections.abc import Sequence

from estimator.choose.faults import condition_words, faults_found
from estimator.choose.questions.measure_first import measure_first
from estimator.choose.study import Study
from estimator.estimate.sale_terms import box_of
from estimator.model import Shop
from estimator.price.donor.rank import NO_PRICE, PER_HOUR, OfferList
from estimator.price.resale.asking_price import asking_prices, best_sale, price_cuts
from estimator.price.resale.compare import Proceeds, SalePlan, parcel_of
from estimator.price.resale.part_out import part_out
from estimator.report.record import table_of
from estimator.report.records.sale import Listing, ProceedsTold, SalePlanTold, is_sent
from estimator.report.text.choice import first_lines, show_cautions
from estimator.report.text.terminal import put, show_table
from estimator.report.words import money as words
from estimator.report.words import resale as resale_words
from estimator.report.words.faults import fault_sentences
from estimator.report.words.tools import nothing_got_lines


def standing_lines(study: Study, chosen: Sequence[str]) -> list[str]:
    """What holds the condition down, the faults with the least work that mends each, and that no tool is got."""
    found = faults_found(study, chosen)
    return [
        *condition_words(study),
        *fault_sentences(found, study.shop.terms.currency, set_named=True, lengths=study.shop.lengths),
        *nothing_got_lines(study),
    ]


def show_sale(study: Study, plans: Sequence[SalePlan], ways: Sequence[Proceeds]) -> None:
    """The verdict, plans compared, the working of the best, and the best plan sold by every way."""
    shop = study.shop
    currency = shop.terms.currency
    best = best_sale(plans, ways)
    put(resale_words.sale_verdict(best, shop, (*(plan.proceeds for plan in plans), *ways)))
    put(*resale_words.not_told(study.job), *standing_lines(study, best.proceeds.chosen))
    show_table(
        f"Plans; unless it says otherwise {plans[0].proceeds.way_what}",
        *table_of(SalePlanTold, plans, currency),
    )
    work = "nothing but cleaning" if best.proceeds.whole else best.words
    put(f"How the best comes about ({', '.join(best.proceeds.chosen) or work}):")
    put(*(f"  {line}" for line in resale_words.proceeds_sentences(best.proceeds, shop)))
    show_table(
        "Sold whole: the most profitable plan, by each way to sell", *table_of(ProceedsTold, ways, currency)
    )
    if prices := asking_prices(study, best.proceeds):
        put(*resale_words.asking_sentences(prices, price_cuts(shop, prices[-1].price, prices[0].price), shop))
    put(resale_words.part_out_sentence(part_out(study), shop))
    if is_sent(shop):
        put(resale_words.parcel_sentence(parcel_of(study), box_of(shop, study.job).what))
    chosen = best.proceeds.chosen
    put(*first_lines(study, measure_first(study, chosen)))
    show_cautions(study, study.costing.estimate(chosen))


def show_list(found: OfferList, shop: Shop, most: int) -> None:
    """The listings ranked, ``most`` of them at the most, then what was left out."""
    show_table(
        f"Listings, the best {'pay an hour ' if found.by == PER_HOUR else ''}first; money in {shop.terms.currency}",
        *table_of(Listing, found.offers[:most]),
    )
    if any(o.base_assumed for o in found.offers[:most]):
        put("* from the middle of its price class: look for three recent sales")
    if any(o.stop <= 0 for o in found.offers[:most]):
        put(f"{NO_PRICE}: at the wanted pay it loses money even for free")
    if any(o.parted for o in found.offers[:most]):
        put("+ taken apart and sold in lots: that leaves more than selling it whole")
    if len(found.offers) > most:
        put(f"{len(found.offers) - most} more rank below these; --top N shows more of them, --json all")
    put("earns an hour: what to expect at the price asked, all time and the odds of a bad one counted")
    put(*words.list_sentences(found))
