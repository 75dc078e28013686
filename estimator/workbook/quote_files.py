"""What ``quote`` writes: the set or the offer that the workbook rests on, and the files."""

from __future__ import annotations

import os
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from pathlib import Path

from estimator.choose.study import Choice, Study, make_named_or_best
from estimator.core.errors import InputError, Issue, Origin
from estimator.price.client.three_offers import Offers, three_offers
from estimator.report.text import money as money_text
from estimator.workbook.write.chart_figures import frontier_points, name_of, offers_by_name
from estimator.workbook.write.quote import write_both_quotes, write_quote


@dataclass(frozen=True, slots=True)
class FoundQuote:
    """The choice a quote rests on; with offers asked for all of them, and the one it rests ``instead`` on."""

    choice: Choice
    offers: Offers | None = None
    instead: str = ""

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
        return FoundQuote(make_named_or_best(study, named), made)
    rest = made.resting()
    instead = name_of(rest) if rest and rest.apart else ""
    return FoundQuote(rest.choice if rest else made.wished, made, instead)


@dataclass(frozen=True, slots=True)
class QuoteFiles:
    """Where a quote goes: the workbook, the customer's page as a file of its own, the paper."""

    target: Path
    customer: str | None
    paper: str
    replace: bool

    def write(self, found: FoundQuote, frontier: bool) -> list[Path]:
        """Write all of them or none; InputError where one cannot be written."""
        if self.customer:
            two_files(self.target, Path(self.customer))
        points = frontier_points(found.choice) if frontier else ()
        pages = found.side_by_side()
        beside = pages if len(pages) > 1 else None
        if self.customer:
            return write_both_quotes(
                found.choice, self.target, self.customer, force=self.replace, paper=self.paper,
                frontier=points, offers=beside,
            )  # fmt: skip
        return [
            write_quote(
                found.choice,
                self.target,
                force=self.replace,
                paper=self.paper,
                frontier=points,
                offers=beside,
            )
        ]


def say_offers(found: FoundQuote, job: str, target: Path) -> None:
    """What the workbook rests on, how it is read back, and why there is one page only."""
    if found.instead:
        named = " ".join(f"--with {name}" for name in found.choice.estimate.chosen)
        print(
            f"The whole wish cannot be met within the limits; the workbook rests on the offer “{found.instead}”."
        )
        print(f"To read it back: reprice {job} {target} {named}")
    if found.offers is None:
        return
    first = found.offers.made[0]
    if len(found.side_by_side()) <= 1:
        print(
            f"“{name_of(first)}” is the only offer: there is one page."
            if first.over
            else "All offers come to the same set of upgrades: there is one page."
        )
    money_text.say(money_text.offers_words(found.offers))


def two_files(one: Path, other: Path) -> None:
    """InputError if two files to write are the same one."""
    if os.path.realpath(one) == os.path.realpath(other):
        raise InputError(
            Issue(
                Origin(str(other)),
                "both workbooks would be written to the same file",
                next_step="give the customer's page a name of its own",
            )
        )
