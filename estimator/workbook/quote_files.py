"""What ``quote`` writes: the set or the offer that the workbook rests on, and the files."""

from __future__ import annotations

import os
import shlex
from collections.abc import Collection, Mapping
from datetime import date
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from msgspec import Struct
from msgspec.structs import replace

from estimator.choose.study import Choice, Study
from estimator.choose.tools import make_named_or_best
from estimator.core.amounts import Cents
from estimator.core.errors import Origin, refusal, shown
from estimator.core.save import Output, check_all, save_all
from estimator.ledger.clock import Moment
from estimator.ledger.jobs import give_number, give_quote, history, is_booked
from estimator.ledger.records import History
from estimator.ledger.store import Ledger
from estimator.model import Job
from estimator.plan.replan.saved_plan import kept_at
from estimator.price.client.quote import for_a_customer
from estimator.price.client.three_offers import Offers, three_offers
from estimator.report.text.money import offers_words
from estimator.report.text.terminal import put
from estimator.report.words.nothing import why_nothing
from estimator.workbook.quote_record import quote_record
from estimator.workbook.write.chart_figures import frontier_points, name_of, offers_by_name
from estimator.workbook.write.quote import customer_quote_bytes, quote_bytes

if TYPE_CHECKING:
    from estimator.workbook.read.costing import Edits

SetsByName = Mapping[str, Collection[str]]
"""Sets of upgrade ids by the name that a customer reads."""


class FoundQuote(Struct, frozen=True):
    """The choice a quote rests on; with offers asked for all of them, and the one it rests ``instead`` on."""

    choice: Choice
    offers: Offers | None = None
    instead: str = ""

    def numbered(self, number: str) -> FoundQuote:
        """The same with this number on every page: all of them take it from the job of the choice."""
        job = self.choice.study.job
        named = replace(job, labels=replace(job.labels, number=number))
        return replace(self, choice=replace(self.choice, study=replace(self.choice.study, job=named)))

    def promised(self, day: date, by: str) -> FoundQuote:
        """The same with this day as the one on which it is ready; ``by``: ``plan`` or ``ledger``, it rests on that."""
        job = self.choice.study.job
        told = replace(job, labels=replace(job.labels, promised=day.isoformat(), promised_by=by))
        return replace(self, choice=replace(self.choice, study=replace(self.choice.study, job=told)))

    def after(self, known: History) -> FoundQuote:
        """The same with what the ledger knows of the job: what was paid so far, and the quote agreed before."""
        job, agreed = self.choice.study.job, known.accepted
        told = replace(job.labels, paid=paid_so_far(known))
        if agreed is not None and agreed.number != job.labels.number:
            told = replace(told, agreed=agreed.number, agreed_cents=agreed.to_pay)
        study = replace(self.choice.study, job=replace(job, labels=told))
        return replace(self, choice=replace(self.choice, study=study))

    def side_by_side(self) -> Mapping[str, Choice]:
        """The offers that get a page each, by name."""
        return offers_by_name(self.offers) if self.offers else {}


def quote_of(study: Study, named: Collection[str], with_offers: bool) -> FoundQuote:
    """The named upgrades, else the best set; with offers, where nothing is named, the one to rest on."""
    made = three_offers(study, named) if with_offers else None
    if made is None or named:
        return _with_work(FoundQuote(make_named_or_best(study, named), made))
    rest = made.resting()
    instead = name_of(rest) if rest and rest.apart else ""
    return _with_work(FoundQuote(rest.choice if rest else made.wished, made, instead))


def _with_work(found: FoundQuote) -> FoundQuote:
    """The quote; InputError where it would hold no work, which is nothing to sign."""
    choice = found.choice
    if choice.found and not choice.estimate.chosen:
        raise refusal(
            Origin(choice.study.job.file, None, "[wish]"),
            "there is no work to quote",
            why_nothing(choice),
            "a wish that some work meets, or work named with --with",
            "say under [wish] what should get better, or name the work: --with set-up",
        )
    return found


class CustomerFiles(Struct, frozen=True):
    """The customer's page as a workbook, as HTML and as PDF, each where named; the paper.

    Each replaces what was there. Of a folder named alone, and not like a workbook, the workbook is
    ``JOB-customer.xlsx`` in it.
    """

    book: str | None
    page: str | None
    pdf: str | None
    paper: str

    def check_job(self, job: Job) -> None:
        """InputError where a customer's file is wanted of a job that is nobody's commission."""
        if self.targets(job.id):
            for_a_customer(job)

    def targets(self, job: str) -> list[Output]:
        """The files that are wanted, with nothing in them yet."""
        book = self.book
        if book and not book.lower().endswith(".xlsx") and os.path.isdir(book):
            book = str(Path(book) / f"{job}-customer.xlsx")
        wanted = ((book, ".xlsx"), (self.page, ".html"), (self.pdf, ".pdf"))
        return [Output(path, b"", True, (ending,)) for path, ending in wanted if path]

    def made(self, study: Study, chosen: Collection[str], offers: SetsByName | None = None) -> list[Output]:
        """The files for a set, or for ``offers`` side by side; the page is loaded only where it is wanted."""
        sheet = partial(customer_quote_bytes, study, chosen=chosen, paper=self.paper, offers=offers)
        html = self._html(study, chosen, offers) if self.page or self.pdf else ""

        def data(ending: str) -> bytes:
            if ending == ".pdf":
                from estimator.report.page.pdf import pdf_of

                return pdf_of(html, sheet)
            return html.encode() if ending == ".html" else sheet()

        return [replace(file, data=data(file.extensions[0])) for file in self.targets(study.job.id)]

    def _html(self, study: Study, chosen: Collection[str], offers: SetsByName | None) -> str:
        from estimator.report.page.html import page_html
        from estimator.report.page.record import page_of

        return page_html(page_of(study, chosen, offers), self.paper)

    def write_again(self, study: Study, edits: Edits, chosen: Collection[str]) -> list[Path]:
        """Write them for a set that was priced again; InputError where one cannot be, or would promise too much."""
        targets = self.targets(study.job.id)
        if targets:
            _nothing_taken_out(edits)
        check_all(targets)
        return save_all(self.made(study, chosen))


class QuoteFiles(Struct, frozen=True):
    """Where a quote goes: the workbook, and what the customer gets."""

    target: Path
    customer: CustomerFiles
    replace: bool

    def check(self, job: str) -> None:
        """InputError where one of them cannot be written, or two would be one."""
        check_all([self._book(), *self.customer.targets(job)])

    def write(self, found: FoundQuote, frontier: bool) -> list[Path]:
        """Write all of them or none; InputError where one cannot be written."""
        choice, paper = found.choice, self.customer.paper
        self.check(choice.study.job.id)
        pages = {name: one.estimate.chosen for name, one in found.side_by_side().items()}
        beside = pages if len(pages) > 1 else None
        points = frontier_points(choice) if frontier else ()
        book = self._book(quote_bytes(choice, paper=paper, frontier=points, offers=beside))
        return save_all([book, *self.customer.made(choice.study, choice.estimate.chosen, beside)])

    def _book(self, data: bytes = b"") -> Output:
        return Output(self.target, data, self.replace, (".xlsx",))


def _nothing_taken_out(edits: Edits) -> None:
    """InputError where rows were taken out of the workbook: a page would promise what that work brings."""
    gone = sorted(key for key, many in {**edits.quantities, **edits.part_quantities}.items() if not many)
    if gone:
        raise refusal(
            edits.file,
            "work was taken out of the workbook that the customer's page would promise",
            ", ".join(gone),
            "a workbook with all of its rows",
            "write the quote again without the upgrade that brings them, or price without a page",
        )


def next_number(books: Ledger, choice: Choice, now: Moment) -> str:
    """The quote's running number; the quote is kept in the ledger where its job is booked there."""
    job = choice.study.job
    if job.labels.number:
        raise refusal(
            Origin(job.file, column="[job] number"),
            "the quote has a number already",
            job.labels.number,
            "a job without one, where the ledger gives it",
            "take number out of the job file, or leave --numbered out",
        )
    if is_booked(books, job.id):
        return give_quote(books, job.id, quote_record(choice), now)
    return give_number(books, now)


def read_back(job: str, target: Path, shop: str | None = None) -> str:
    """The command that reads a quote back: the workbook names its upgrades itself, the shop's tables it cannot."""
    return shlex.join(["reprice", job, str(target), *(["--shop", shop] if shop else [])])


def say_offers(found: FoundQuote, job: str, target: Path, shop: str | None = None) -> None:
    """What the workbook rests on, how it is read back, and why there is one page only."""
    if found.instead:
        put(
            f"The whole wish cannot be met within the limits; the workbook rests on the offer “{found.instead}”."
        )
        put(f"To read it back: {read_back(job, target, shop)}")
    if found.offers is None:
        return
    first = found.offers.made[0]
    if len(found.side_by_side()) <= 1:
        put(
            f"“{name_of(first)}” is the only offer: there is one page."
            if first.over
            else "All offers come to the same set of upgrades: there is one page."
        )
    put(*offers_words(found.offers))


def planned_day(choice: Choice, plan: str) -> date:
    """The day that a saved plan promises for the work of a choice; InputError where it is not in it as it is quoted.

    ``plan``: the file; after a ``#`` the name that its batch gave the job, else the job's own.
    """
    job, where = choice.study.job.id, Origin("--plan")
    file, _, name = plan.partition("#")
    name = name or job
    kept = kept_at(file, where)
    if name not in kept.promised or name not in kept.chosen:
        raise refusal(
            where,
            "the plan promises nothing for a job of this name",
            shown(name),
            ", ".join(kept.promised) or "a plan with jobs",
            f"say which of its jobs this is: --plan {shlex.quote(file + '#NAME')}",
        )
    planned = kept.chosen[name]
    if set(planned) != set(choice.estimate.chosen):
        raise refusal(
            where,
            f"the plan does other work on {name} than the quote",
            ", ".join(planned) or "nothing",
            ", ".join(choice.estimate.chosen),
            "plan anew, or quote what is planned: --with " + " --with ".join(planned),
        )
    return kept.promised[name]


def paid_so_far(known: History) -> Cents:
    """What a customer has paid, less what was given back, in cents; the bench fee is taken off by the quote itself."""
    fees = sum((one.amount for one in known.payments if one.kind == "bench-fee"), Cents(0))
    return Cents(max(0, known.account.paid - fees))


def known_of(books: Ledger, job: str) -> History | None:
    """What the ledger holds of a customer's job; None where it is not booked."""
    known = history(books, job) if is_booked(books, job) else None
    return known if known and known.kind == "commission" else None


def promise_of(books: Ledger, job: str) -> date | None:
    """The day promised for a job in the ledger; None where none was."""
    row = books.row("SELECT promised FROM job WHERE id = ?", (job,))
    return date.fromisoformat(row["promised"]) if row and row["promised"] else None
