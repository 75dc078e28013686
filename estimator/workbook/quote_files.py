"""What ``quote`` writes: the set or the offer that the workbook rests on, and the files."""

from __future__ import annotations

import os
import shlex
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import partial
from itertools import combinations
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING

from estimator.choose.study import Choice, Study
from estimator.choose.tools import make_named_or_best
from estimator.core.errors import Origin, refusal, shown
from estimator.core.save import Output, check_target, save_all
from estimator.ledger.clock import Moment
from estimator.ledger.jobs import give_number, give_quote, is_booked
from estimator.ledger.store import Ledger
from estimator.plan.replan.saved_plan import read_kept
from estimator.price.client.three_offers import Offers, three_offers
from estimator.report.text import money as money_text
from estimator.report.text.terminal import put
from estimator.report.words.nothing import why_nothing
from estimator.workbook.quote_record import quote_record
from estimator.workbook.write.chart_figures import frontier_points, name_of, offers_by_name
from estimator.workbook.write.quote import customer_quote_bytes, quote_bytes

if TYPE_CHECKING:
    from estimator.workbook.read.costing import Edits


@dataclass(frozen=True, slots=True)
class FoundQuote:
    """The choice a quote rests on; with offers asked for all of them, and the one it rests ``instead`` on."""

    choice: Choice
    offers: Offers | None = None
    instead: str = ""

    def numbered(self, number: str) -> FoundQuote:
        """The same with this number on every page: all of them take it from the job of the choice."""
        job = self.choice.study.job
        named = replace(job, labels=MappingProxyType({**job.labels, "number": number}))
        return replace(self, choice=replace(self.choice, study=replace(self.choice.study, job=named)))

    def promised(self, day: date, by: str) -> FoundQuote:
        """The same with this day as the one on which it is ready; ``by``: ``plan`` or ``ledger``, it rests on that."""
        job = self.choice.study.job
        told = replace(
            job, labels=MappingProxyType({**job.labels, "promised": day.isoformat(), "promised_by": by})
        )
        return replace(self, choice=replace(self.choice, study=replace(self.choice.study, job=told)))

    def side_by_side(self) -> Mapping[str, Choice]:
        """The offers that get a page each, by name."""
        return offers_by_name(self.offers) if self.offers else {}

    def offers_data(self) -> dict[str, object]:
        """What ``--json`` says of the offers."""
        return {"offers": list(self.side_by_side()), "rests_on": self.instead or None}


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


@dataclass(frozen=True, slots=True)
class QuoteFiles:
    """Where a quote goes: the workbook; the customer's page as a workbook, as HTML and as PDF; the paper."""

    target: Path
    customer: str | None
    page: str | None
    pdf: str | None
    paper: str
    replace: bool

    def check(self) -> None:
        """InputError where one of them cannot be written."""
        asked = self._asked()
        for one, other in combinations([Path(path) for path, _, _ in asked], 2):
            two_files(one, other)
        for path, force, ending in asked:
            check_target(path, force=force, extensions=(ending,))

    def write(self, found: FoundQuote, frontier: bool) -> list[Path]:
        """Write all of them or none; InputError where one cannot be written."""
        self.check()
        pages = found.side_by_side()
        beside = pages if len(pages) > 1 else None
        points = frontier_points(found.choice) if frontier else ()
        made = {str(self.target): quote_bytes(found.choice, paper=self.paper, frontier=points, offers=beside)}
        if self.customer:
            made[self.customer] = customer_quote_bytes(found.choice, paper=self.paper, offers=beside)
        if self.page or self.pdf:
            made |= self._pages(found.choice, beside)
        return save_all([Output(path, made[path], force, (ending,)) for path, force, ending in self._asked()])

    def _pages(self, choice: Choice, beside: Mapping[str, Choice] | None) -> dict[str, bytes]:
        """The customer's page by the files that are wanted of it; loaded only where one is."""
        from estimator.report.page.html import page_html
        from estimator.report.page.pdf import pdf_of
        from estimator.report.page.record import customer_page

        html = page_html(customer_page(choice, beside), self.paper)
        made = {self.page: html.encode()} if self.page else {}

        def sheet() -> bytes:
            return customer_quote_bytes(choice, paper=self.paper, offers=beside)

        return made | ({self.pdf: pdf_of(html, sheet)} if self.pdf else {})

    def _asked(self) -> list[tuple[str, bool, str]]:
        """Every file with whether it may be replaced, and its ending."""
        return [(str(self.target), self.replace, ".xlsx"), *self._for_the_customer()]

    def _for_the_customer(self) -> list[tuple[str, bool, str]]:
        """The files for the customer that are wanted; each replaces what was there."""
        wanted = ((self.customer, ".xlsx"), (self.page, ".html"), (self.pdf, ".pdf"))
        return [(path, True, ending) for path, ending in wanted if path]


def write_pages(
    study: Study, edits: Edits, chosen: Collection[str], names: Sequence[str | None], paper: str
) -> list[Path]:
    """The customer's page of a set that was priced again: workbook, page and PDF where named; all of them or none."""
    from estimator.report.page.html import page_html
    from estimator.report.page.pdf import pdf_of
    from estimator.report.page.record import page_of

    customer, *others = names
    names = [customers_file(customer, study.job.id), *others]
    asked = [(path, end) for path, end in zip(names, (".xlsx", ".html", ".pdf"), strict=True) if path]
    if asked:
        _nothing_taken_out(edits)
    for path, end in asked:
        check_target(path, force=True, extensions=(end,))
    html = page_html(page_of(study, chosen), paper) if any(names[1:]) else ""

    def made(end: str) -> bytes:
        if end == ".xlsx":
            return customer_quote_bytes(study, chosen=chosen, paper=paper)
        sheet = partial(customer_quote_bytes, study, chosen=chosen, paper=paper)
        return pdf_of(html, sheet) if end == ".pdf" else html.encode()

    return save_all([Output(path, made(end), True, (end,)) for path, end in asked])


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
    if job.labels.get("number"):
        raise refusal(
            Origin(job.file, column="[job] number"),
            "the quote has a number already",
            job.labels["number"],
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
    money_text.say(money_text.offers_words(found.offers))


def planned_day(choice: Choice, plan: str) -> date:
    """The day that a saved plan promises for the work of a choice; InputError where it is not in it as it is quoted.

    ``plan``: the file; after a ``#`` the name that its batch gave the job, else the job's own.
    """
    job, where = choice.study.job.id, Origin("--plan")
    file, _, name = plan.partition("#")
    name = name or job
    try:
        kept = read_kept(Path(file).read_bytes(), file)
    except (OSError, ValueError):
        raise refusal(
            where,
            "there is no such plan",
            shown(file),
            "a file that --save-plan wrote",
            "save the plan with --save-plan, or mend the name",
        ) from None
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


def promise_of(books: Ledger, job: str) -> date | None:
    """The day promised for a job in the ledger; None where none was."""
    row = books.row("SELECT promised FROM job WHERE id = ?", (job,))
    return date.fromisoformat(row["promised"]) if row and row["promised"] else None


def customers_file(name: str | None, job: str) -> str | None:
    """The file for the customer; in a folder that is named alone, and not like a workbook, it is JOB-customer.xlsx."""
    if not name or name.lower().endswith(".xlsx") or not os.path.isdir(name):
        return name
    return str(Path(name) / f"{job}-customer.xlsx")


def two_files(one: Path, other: Path) -> None:
    """InputError if two files to write are the same one."""
    if os.path.realpath(one) == os.path.realpath(other):
        raise refusal(
            str(other),
            "two files would be written to the same place",
            next_step="give each a name of its own",
        )
