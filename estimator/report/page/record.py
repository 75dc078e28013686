"""The customer's page as a record: what it costs, when it is ready, what changes, what is done, what to sign.

Nothing of the shop's own costs, minutes or notes is in it. Every text is ready to be shown.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

from msgspec import Struct

from estimator.choose.faults import faults_found
from estimator.choose.study import Choice, SpecRow, Study, spec_rows
from estimator.core.amounts import Cents
from estimator.core.errors import Origin
from estimator.core.money import cents
from estimator.core.text import (
    amount_text,
    count,
    day_of,
    instrument_words,
    sentence_case,
    short_day,
    weekday_of,
)
from estimator.model import Job, Shop, Terms, Verdict
from estimator.model.pickups import PICKUPS, pickup_slot
from estimator.price.client.quote import Quote, quote_for
from estimator.price.client.ready import Ready, ready_of
from estimator.report.page.images import logo_uri, photo_uri
from estimator.report.text.terminal import money
from estimator.report.words.customer import (
    expected_words,
    lasting_told,
    level_for_customer,
    name_of_attribute,
    today_words,
    warnings_told,
    work_told,
    work_words,
)
from estimator.report.words.quote import FIXED_PRICE, SURPRISES, shop_lines, storage_a_day, warranty_words

DOTS = 4
OFFER_NAMES = {
    "As wished": "Everything you wished for",
    "Within budget": "The most for your budget",
    "Lean": "The essentials",
    "As picked": "What you picked",
}
"""The names of offers as they stand on a page to choose from."""
FELT = 50
"""An amount is told as a change from the fiftieth part of itself on (common practice: less is not felt)."""
MOST_CHANGES = 8
"""Rows of what changes that find room beside the drawing."""


"""The keys of photos; side by side more than three are too small to see anything on."""


class ChangeRow(Struct, frozen=True):
    """A row of what changes: ``level`` of four dots, or none for amounts; ``guess``: today was not measured."""

    name: str
    today: str
    guess: bool
    afterwards: str
    level: int | None


class Done(Struct, frozen=True):
    """A piece of work: its number on the page, its words, details, and the place on the outline.

    ``only``: the offers that it is in, where it is not in all of them.
    """

    number: int
    words: str
    details: tuple[str, ...]
    mark: str
    only: str = ""


class ToTick(Struct, frozen=True):
    """An offer: its name, the numbers of its work, what stays as it is, and its money as text."""

    name: str
    numbers: str
    stays: tuple[str, ...]
    work: str
    parts: str
    materials: str
    tax: str
    total: str
    ready: str = ""
    """When it is ready, where there are several offers."""


class CustomerPage(Struct, frozen=True):
    """All that stands on the page, in the reader's order."""

    shop_name: str
    shop_lines: tuple[str, ...]
    number: str
    dates: str
    headline: str
    about: str
    price: str
    price_words: str
    ready: str
    ready_words: str
    to_start: str
    to_start_words: str
    lasting: tuple[str, ...]
    photos: tuple[str, ...]
    logo: str
    outline: str
    strings: int
    pickups: tuple[str, ...]
    changes: tuple[ChangeRow, ...]
    done: tuple[Done, ...]
    notes: tuple[str, ...]
    offers: tuple[ToTick, ...]
    terms: tuple[tuple[str, str], ...]
    changes_with: str = ""
    """The offer of which ``changes`` are, where there are several."""


def customer_page(choice: Choice, offers: Mapping[str, Choice] | None = None) -> CustomerPage:
    """The page of a chosen set; with ``offers``, by name, all of them to choose from.

    InputError for jobs that are not for a customer.
    """
    beside = {name: other.estimate.chosen for name, other in (offers or {}).items()}
    return page_of(choice.study, choice.estimate.chosen, beside)


def page_of(
    study: Study, chosen: Collection[str], offers: Mapping[str, Collection[str]] | None = None
) -> CustomerPage:
    """The page of a set of upgrades by their ids, and of ``offers`` that are such sets (see ``customer_page``)."""
    quote = quote_for(study, chosen)
    beside = {name: quote_for(study, other) for name, other in (offers or {}).items()}
    named = {*quote.chosen, *(upgrade for other in beside.values() for upgrade in other.chosen)}
    verdicts = [v for v in study.verdicts if v.upgrade.id in named]
    numbers = {v.upgrade.id: n for n, v in enumerate(verdicts, start=1)}
    job, terms = study.job, study.shop.terms
    day = day_of(job.received)
    ready = ready_of(study, quote.estimate, day)
    on = day_of(job.labels.promised) or ready.day
    lasting = lasting_by_offer(study, quote, beside)
    return CustomerPage(
        shop_name=terms.shop_name,
        shop_lines=shop_lines(terms),
        number=job.quote_number,
        dates=_dates(day, terms),
        headline=sentence_case(job.what or "Work on your instrument"),
        about=_about(study),
        price=money(quote.to_pay, terms.currency),
        price_words=_price_words(quote, beside, terms),
        ready=weekday_of(on) if on else count(ready.days, "day"),
        ready_words=_of(quote, beside) + _ready_words(on, job),
        to_start=_to_start(quote, terms),
        to_start_words=_of(quote, beside) + _deposit_words(quote, terms),
        lasting=tuple(lasting.values()),
        photos=tuple(
            photo_uri(file, Origin(job.file, column=f"[job] {key}")) for key, file in _photo_files(study)
        ),
        logo=logo_uri(terms.shop_logo, Origin("shop.toml", column="shop_logo")),
        outline=job.family,
        strings=_strings(study),
        pickups=_pickups(study),
        changes=changes_of(study, spec_rows(study, quote.chosen)),
        done=tuple(
            _done(study, verdict, numbers[verdict.upgrade.id], tuple(lasting), _rows(quote, beside))
            for verdict in verdicts
        ),
        notes=(
            *change_words(job, None if beside else quote.to_pay, terms.currency),
            *(t for t in warnings_told(study.shop, study.verdicts, named) if t not in lasting),
            *(already_words(study, quote, beside) if not beside else ()),
            *left_words(study, quote, beside),
            *_rush_words(quote, beside, terms),
            *(
                t
                for name, other in _rows(quote, beside)
                for t in _beyond_budget(study, other, name, bool(beside))
            ),
        ),
        offers=tuple(
            _to_tick(study, name, other, numbers, len(beside) > 1) for name, other in _rows(quote, beside)
        ),
        terms=tuple(_terms(quote, terms, len(beside) > 1)),
        changes_with=_of(quote, beside).removesuffix(": "),
    )


def _rows(quote: Quote, beside: Mapping[str, Quote]) -> list[tuple[str, Quote]]:
    """The offers as rows, the dearest first; a single one is called by what it is."""
    rows = list(beside.items()) or [("All of it", quote)]
    return sorted(rows, key=lambda row: -row[1].to_pay)


def _to_tick(study: Study, name: str, quote: Quote, numbers: Mapping[str, int], several: bool) -> ToTick:
    steps, terms = quote.steps, study.shop.terms
    stays = [
        f"{name_of_attribute(study.shop, row.attribute).lower()} {_stays(row)} {_level(row, row.reached, study.shop, study.job.is_bass)}"
        for row in spec_rows(study, quote.chosen)
        if row.asked and not row.met
    ]
    return ToTick(
        OFFER_NAMES.get(name, name),
        _spans(sorted(numbers[upgrade] for upgrade in quote.chosen)),
        tuple(stays),
        amount_text(Cents(steps.work + steps.rush)),
        amount_text(steps.parts),
        amount_text(steps.fee),
        amount_text(steps.tax),
        money(steps.to_pay, terms.currency),
        _ready_text(ready_of(study, quote.estimate, day_of(study.job.received))) if several else "",
    )


def _ready_text(ready: Ready) -> str:
    return weekday_of(ready.day) if ready.day else count(ready.days, "day")


def _stays(row: SpecRow) -> str:
    """Whether what falls short of the wish is as it is today, or only nearer to the wish."""
    return "stays:" if row.reached == row.now else "only:"


def _spans(numbers: Sequence[int]) -> str:
    """Numbers as people write them: ``1 to 3, 5``."""
    spans: list[list[int]] = []
    for number in numbers:
        if spans and number == spans[-1][-1] + 1:
            spans[-1].append(number)
        else:
            spans.append([number])
    return ", ".join(f"{s[0]} to {s[-1]}" if len(s) > 2 else ", ".join(map(str, s)) for s in spans)


def changes_of(study: Study, spec: Sequence[SpecRow]) -> tuple[ChangeRow, ...]:
    """What improves of what was wished for."""
    rows = []
    for row in spec:
        if not (row.asked and _improves(row)):
            continue
        now, reached = (_level(row, value, study.shop, study.job.is_bass) for value in (row.now, row.reached))
        if now != reached:  # half a level may have the words of the whole one
            dots = min(DOTS, row.reached // 10) if row.kind == "level" else None
            name = name_of_attribute(study.shop, row.attribute)
            today = today_words(study.shop, study.job, row, now)
            rows.append(ChangeRow(name, today, row.now_assumed, expected_words(row, reached), dots))
    return tuple(rows[:MOST_CHANGES])


def already_words(study: Study, quote: Quote, beside: Mapping[str, Quote]) -> list[str]:
    """What was wished for and is held to be so already, by a guess: nothing is done for it, and that is told."""
    held: list[list[str]] = []
    for _, other in _rows(quote, beside):
        mine = [row for row in spec_rows(study, other.chosen) if row.met_as_assumed]
        held.append([name_of_attribute(study.shop, row.attribute) for row in mine])
    always = [name for name in held[0] if all(name in names for names in held)]
    return (
        [f"Wished for, and by our guess so already; we measure it first: {'; '.join(always)}"]
        if always
        else []
    )


def left_words(study: Study, quote: Quote, beside: Mapping[str, Quote]) -> list[str]:
    """The faults that were found and that an offer leaves: whoever signs knows what is not in the price."""
    rows = _rows(quote, beside)
    left = {name: {f.what for f in faults_found(study, other.chosen) if not f.mended} for name, other in rows}
    told = []
    for fault in faults_found(study):
        by = [OFFER_NAMES.get(name, name) for name in left if fault.what in left[name]]
        if by:
            where = "" if len(by) == len(left) else f" by “{'”, “'.join(by)}”"
            told.append(f"Seen, and left as it is{where}: {fault.what}")
    return list(dict.fromkeys(told))


def lasting_by_offer(study: Study, quote: Quote, beside: Mapping[str, Quote]) -> dict[str, str]:
    """What any of the offers changes for good, and how the page says it: with the offers that do, if not all.

    Whoever signs ticks one offer, not always that of the boxes; each has to find there what it cannot undo.
    """
    rows = _rows(quote, beside)
    by: dict[str, list[str]] = {}
    for name, other in rows:
        for words in lasting_told(study.shop, study.job, study.verdicts, other.chosen):
            by.setdefault(words, []).append(OFFER_NAMES.get(name, name))
    return {
        words: words if len(names) == len(rows) else f"{words} — only with “{'”, “'.join(names)}”"
        for words, names in by.items()
    }


def _rush_words(quote: Quote, beside: Mapping[str, Quote], terms: Terms) -> list[str]:
    """What of the price is for doing the work ahead of the queue."""
    if not quote.steps.rush:
        return []
    return [
        f"{sentence_case(_of(quote, beside))}{money(quote.steps.rush, terms.currency)} of the price is for "
        "doing it ahead of the queue"
    ]


def _beyond_budget(study: Study, quote: Quote, name: str, several: bool) -> list[str]:
    """That the customer pays more than the budget named; what the shop limits for itself is not told."""
    currency = study.shop.terms.currency
    of = OFFER_NAMES.get(name, name) if several else "This quote"
    return [
        f"{of}: {money(quote.to_pay, currency)} is beyond your budget of {money(Cents(rule.most), currency)}"
        for rule in study.problem.rules
        if rule.kind == "money" and rule.on == "price" and rule.most is not None and quote.to_pay > rule.most
    ]


def _improves(row: SpecRow) -> bool:
    if row.kind == "level":
        return row.reached > row.now
    change = row.now - row.reached if row.most is not None else row.reached - row.now
    return change * FELT >= abs(row.now) and change > 0


def _level(row: SpecRow, value: int, shop: Shop, bass: bool) -> str:
    """A level in the words of the table, an amount with its unit."""
    if row.kind != "level":
        return f"{value // 1000:,} {row.unit}".strip()
    return level_for_customer(shop, row.attribute, value // 10, bass) or f"{value // 10} of {DOTS}"


def _done(
    study: Study,
    verdict: Verdict,
    number: int,
    lasting: Sequence[str],
    offers: Sequence[tuple[str, Quote]],
) -> Done:
    """A piece of work; what of it cannot be undone stands where the customer signs for it.

    What it forces is told where it adds to the rest of an offer that it is in.
    """
    row = verdict.upgrade.row
    told: dict[str, None] = {}
    for _, quote in offers:
        if verdict.upgrade.id in quote.chosen:
            beside = [v for v in study.verdicts if v.upgrade.id in quote.chosen]
            told |= dict.fromkeys(work_told(study.shop, verdict, beside))
    slot = study.shop.customer_names.get(("slot", row.slot))
    within = [OFFER_NAMES.get(name, name) for name, quote in offers if verdict.upgrade.id in quote.chosen]
    return Done(
        number,
        work_words(study.shop, verdict),
        tuple(words for words in told if words not in lasting),
        slot.mark if slot else "",
        ", ".join(name.lower() for name in within) if len(within) < len(offers) else "",
    )


def _about(study: Study) -> str:
    job = study.job
    instrument = instrument_words(str(job.instrument["kind"].value))
    label = job.labels
    more = [
        label.make,
        label.colour,
        label.serial and f"serial number {label.serial}",
    ]
    parts = [f"For {job.customer}" if job.customer else "", ", ".join([instrument, *(m for m in more if m)])]
    if day := day_of(job.received):
        parts.append(f"with us since {short_day(day)}")
    return " · ".join(part for part in parts if part)


def _photo_files(study: Study) -> list[tuple[str, str]]:
    """The photos that the job names, each with its key, from where the job file lies."""
    beside = Path(study.job.file).parent
    return [(key, str(beside / name)) for key, name in study.job.labels.photos.items()]


def _dates(day: date | None, terms: Terms) -> str:
    if day is None:
        return f"holds for {count(terms.quote_valid_days, 'day')}"
    return f"{short_day(day)}, holds till {short_day(day + timedelta(days=terms.quote_valid_days))}"


def _price_words(quote: Quote, beside: Mapping[str, Quote], terms: Terms) -> str:
    """What the price is of, where there are several to choose from, and that it is fixed; the tax in it."""
    return _of(quote, beside) + _tax_words(quote, terms)


def _of(quote: Quote, beside: Mapping[str, Quote]) -> str:
    """Which of several offers a figure is of; nothing where there is one."""
    names = [OFFER_NAMES.get(n, n) for n, other in beside.items() if other.chosen == quote.chosen]
    return f"{names[0].lower()}: " if names and len(beside) > 1 else ""


def _tax_words(quote: Quote, terms: Terms) -> str:
    if not (terms.tax_parts or terms.tax_labour):
        return "fixed; no tax is added"
    return f"fixed; tax of {money(quote.tax, terms.currency)} is in it"


READY_BY = {
    "": "by the work and our queue, if you say yes today",
    "plan": "by the plan of our bench, if you say yes today",
    "ledger": "as we promised you",
}
"""What the day rests on, by who tells it: the estimate of the quote, a saved plan, the ledger."""


def _ready_words(day: date | None, job: Job) -> str:
    wanted = day_of(job.wanted_by)
    if day is None:
        return "after you say yes, by the work and our queue"
    words = READY_BY[job.labels.promised_by]
    if wanted is None:
        return words
    late = " — later than that" if day > wanted else ""
    return f"{words}; you asked for {short_day(wanted)}{late}"


def change_words(job: Job, to_pay: Cents | None, currency: str) -> list[str]:
    """Which agreed quote this one takes the place of, and by how much they differ; ``to_pay``: None for several."""
    labels = job.labels
    if not labels.agreed:
        return []
    agreed = f"In place of quote {labels.agreed} of {money(labels.agreed_cents, currency)}"
    if to_pay is None:
        return [agreed]
    more = to_pay - labels.agreed_cents
    if not more:
        return [f"{agreed}: the price stays"]
    return [f"{agreed}: {money(Cents(abs(more)), currency)} {'more' if more > 0 else 'less'}"]


def _to_start(quote: Quote, terms: Terms) -> str:
    left = quote.dues.to_start
    return money(left, terms.currency) if left else "Nothing more" if quote.dues.paid else "Nothing"


def _deposit_words(quote: Quote, terms: Terms) -> str:
    if paid := quote.dues.paid:
        of = f"of {money(quote.deposit, terms.currency)}, " if quote.deposit else ""
        return f"{of}{money(paid, terms.currency)} you have paid already"
    if not quote.deposit:
        return "all of it when you collect"
    parts = min(quote.deposit, quote.order_parts)
    words = [
        f"{money(parts, terms.currency)} for parts" if parts else "",
        f"{money(quote.deposit - parts, terms.currency)} towards the work" if quote.deposit > parts else "",
    ]
    return ", ".join(word for word in words if word)


def _terms(quote: Quote, terms: Terms, several: bool) -> list[tuple[str, str]]:
    said = [
        ("Fixed price", FIXED_PRICE),
        ("Surprises", SURPRISES),
    ]
    if warranty := warranty_words(terms):
        more = "; parts you bring carry none from us." if quote.own_parts else "."
        said.append(("Warranty", f"{warranty} Parts carry their makers' terms{more}"))
    paid, storage = quote.dues.paid, quote.dues.storage + quote.dues.storage_tax
    left = quote.dues.on_collection
    collection = [f"{money(left, terms.currency)} then."] if left > 0 and not several else []
    if paid:
        collection.append(f"The {money(paid, terms.currency)} that you have paid so far are taken off.")
    if left < 0 and not several:
        collection.append(f"{money(Cents(-left), terms.currency)} of it come back to you.")
    if several:
        collection.append("Then the rest of what you choose.")
    if storage:
        collection.append(
            f"In it: {money(storage, terms.currency)} for storage of {count(quote.dues.stored_days, 'day')}."
        )
    if terms.storage_per_day:
        collection.append(
            f"Kept free for {count(terms.storage_free_days, 'day')}, then {storage_a_day(terms)}."
        )
    collection.append("Your old parts come back with it.")
    if quote.dues.credit:
        collection.append(
            f"The {money(quote.dues.credit, terms.currency)} that you paid for the look at the bench are taken off."
        )
    elif terms.bench_fee:
        collection.append(
            f"The bench fee of {money(cents(terms.bench_fee), terms.currency)} is waived when we do the work."
        )
    said.append(("Collection", " ".join(collection)))
    return said


def _strings(study: Study) -> int:
    reading = study.job.instrument.get("string_n")
    return int(reading.value) if reading is not None and isinstance(reading.value, Decimal) else 6


def _pickups(study: Study) -> tuple[str, ...]:
    """The places in which there is a pickup today."""
    there = []
    for place in PICKUPS:
        reading = study.job.instrument.get(f"pu_{place}")
        if reading is not None and str(reading.value) != "none":
            there.append(pickup_slot(place))
    return tuple(there)
