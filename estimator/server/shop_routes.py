"""The pages of the shop: the jobs with what they ask for now, a new job, prices and reports."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

from estimator.core.errors import InputError
from estimator.core.text import sentence_case
from estimator.server import pages
from estimator.server.app import fields_of, html, onward
from estimator.server.board import jobs_values
from estimator.server.desk import Desk
from estimator.server.folder import KIND_WORDS, job_url

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response


def jobs(desk: Desk, request: Request) -> Response:
    """Every job of the folder, and what the ledger says of those that are booked."""
    return html(
        pages.page("jobs.html", here="jobs", shop_name=desk.shop.terms.shop_name, **jobs_values(desk))
    )


def new(desk: Desk, request: Request) -> Response:
    """The form for a new job."""
    return html(_new_page(desk, {}, []))


def _new_page(desk: Desk, given: Mapping[str, str], complaints: list[str]) -> str:
    from estimator.server.intake import kinds_of_instrument

    names = ("what", "name", "kind", "customer", "instrument")
    return pages.page(
        "new.html", here="new", shop_name=desk.shop.terms.shop_name, word=desk.word, complaints=complaints,
        kinds=tuple(KIND_WORDS.items()), instruments=kinds_of_instrument(desk.shop),
        given={name: given.get(name, "") for name in names},
    )  # fmt: skip


def begin(desk: Desk, request: Request) -> Response:
    """Write the file of a new job; what cannot be stays in the form with what is wrong."""
    from estimator.server.intake import new_job_text

    fields = fields_of(request)
    try:
        name, text = new_job_text(desk.shop, fields)
        made = desk.folder.new(name, text)
    except InputError as error:
        return html(_new_page(desk, fields, [pages.complaint(issue) for issue in error.issues]), 422)
    return onward(job_url(made.name), told="new")


def money(desk: Desk, request: Request) -> Response:
    """The menu beside posted prices, and what the ledger reports."""
    from estimator.server.money import menu_values, report_values

    return html(
        pages.page(
            "money.html",
            here="money",
            shop_name=desk.shop.terms.shop_name,
            **menu_values(desk),
            **report_values(desk),
        )
    )


def week(desk: Desk, request: Request) -> Response:
    """The batches of the folder, or the plan of one."""
    from estimator.server.week import batches, week_values

    name = request.path_params.get("batch")
    plan = None if name is None else week_values(desk, str(name))
    title = "Week" if name is None else sentence_case(dict(batches(desk)).get(str(name), "Week"))
    return html(
        pages.page("week.html", here="week", shop_name=desk.shop.terms.shop_name, title=title, plan=plan,
                   batches=batches(desk) if name is None else ())
    )  # fmt: skip


def donors(desk: Desk, request: Request) -> Response:
    """The form for a list of donors."""
    from estimator.server.donors import BEGIN

    return html(_donor_page(desk, BEGIN, None, []))


def rank(desk: Desk, request: Request) -> Response:
    """A list of donors ranked; what cannot be read stays in the form."""
    from estimator.server.donors import ranked

    text = fields_of(request).get("list", "")
    try:
        return html(_donor_page(desk, text, ranked(desk, text), []))
    except InputError as error:
        return html(_donor_page(desk, text, None, [pages.complaint(issue) for issue in error.issues]), 422)


def _donor_page(desk: Desk, text: str, found: dict[str, object] | None, complaints: list[str]) -> str:
    return pages.page(
        "donors.html", here="donors", shop_name=desk.shop.terms.shop_name, word=desk.word, text=text, found=found,
        complaints=complaints,
    )  # fmt: skip


SHOWN: dict[str, Callable[[Desk, Request], Response]] = {
    "/": jobs,
    "/new": new,
    "/money": money,
    "/donors": donors,
    "/week": week,
    "/week/{batch}": week,
}
SENT: dict[str, Callable[[Desk, Request], Response]] = {"/new": begin, "/donors": rank}
