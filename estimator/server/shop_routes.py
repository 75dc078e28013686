"""The pages of the shop: the jobs with what they ask for now, a new job, prices and reports."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING
from urllib.parse import quote

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


LOCAL = re.compile(r"/(?:[A-Za-z0-9%._~-]+(?:/[A-Za-z0-9%._~-]+)*)?")
"""A path of this page: no host, no query."""
TOLD = {
    "over": "Taken over into the shop's own tables; every answer reckons with it from now on.",
    "back": "The tables are as they were before.",
}
"""What is said after something was done, by the word in the address."""


def jobs(desk: Desk, request: Request) -> Response:
    """Every job of the folder, and what the ledger says of those that are booked."""
    return html(pages.page("jobs.html", here="jobs", **jobs_values(desk)))


def new(desk: Desk, request: Request) -> Response:
    """The form for a new job."""
    return html(_new_page(desk, {}, []))


def _new_page(
    desk: Desk, given: Mapping[str, str], complaints: list[str], refused: Sequence[str] = ()
) -> str:
    from estimator.server.intake import asked_of_a_sale, kinds_of_instrument

    of_a_sale = asked_of_a_sale(desk.shop)
    names = ("what", "name", "kind", "customer", "instrument", *(f"m.{one.field}" for one in of_a_sale))
    return pages.page(
        "new.html",
        here="new",
        complaints=complaints,
        refused=refused,
        kinds=tuple(KIND_WORDS.items()),
        instruments=kinds_of_instrument(desk.shop),
        of_a_sale=of_a_sale,
        given={name: given.get(name, "") for name in names},
    )


def begin(desk: Desk, request: Request) -> Response:
    """Write the file of a new job; what cannot be stays in the form with what is wrong."""
    from estimator.server.intake import new_job_text

    fields = fields_of(request)
    try:
        name, text = new_job_text(desk.shop, fields)
        made = desk.folder.new(name, text)
    except InputError as error:
        return html(_new_page(desk, fields, pages.complaints(error)), 422)
    return onward(job_url(made.name), told="new")


def bring_in(desk: Desk, request: Request) -> Response:
    """Take in a job file that was sent, under a name that is free."""
    from estimator.server.folder import sent_job

    data, fields = request.state.fields.get("file"), fields_of(request)
    try:
        name, text = sent_job(desk.shop, data, fields.get("file.name", ""), fields.get("as", ""))
        made = desk.folder.new(name, text)
    except InputError as error:
        return html(_new_page(desk, {}, [], pages.complaints(error)), 422)
    return onward(job_url(made.name), told="in")


def looking(desk: Desk, request: Request) -> Response:
    """A customer looks on, or has gone."""
    fields = fields_of(request)
    desk.looking = fields.get("on") == "1"
    desk.folder.say_customer_looks(desk.looking)
    back = fields.get("back", "/")
    return onward(back if LOCAL.fullmatch(back) else "/")


def money(desk: Desk, request: Request) -> Response:
    """The menu beside posted prices, and what the ledger reports."""
    from estimator.server.money import menu_values, report_values

    return html(
        pages.page(
            "money.html",
            here="money",
            **menu_values(desk),
            **({"pay": [], "hours": [], "cash": []} if desk.looking else report_values(desk)),
        )
    )


def prices(desk: Desk, request: Request) -> Response:
    """The price list for customers by itself, to show and to print."""
    from starlette.responses import HTMLResponse

    from estimator.server.money import price_list_text

    text = price_list_text(desk)
    return HTMLResponse(text, headers={"content-security-policy": pages.policy_of(text)})


def week(desk: Desk, request: Request) -> Response:
    """The batches of the folder, or the plan of one."""
    from estimator.server.week import batches, week_values

    name = request.path_params.get("batch")
    plan = None if name is None else week_values(desk, str(name), dict(request.query_params))
    complaints = [pages.complaint(issue) for issue in plan["complaints"]] if plan else []  # type: ignore[attr-defined]
    title = "Week" if name is None else sentence_case(dict(batches(desk)).get(str(name), "Week"))
    text = pages.page(
        "week.html",
        here="week",
        title=title,
        plan=plan,
        complaints=complaints,
        batches=batches(desk) if name is None else (),
    )
    return html(text, 422 if complaints else 200)


def keep_week(desk: Desk, request: Request) -> Response:
    """Keep the plan that is shown: a new one, or that of what is left."""
    from estimator.server.week import keep_again, keep_new

    name, fields = str(request.path_params["batch"]), fields_of(request)
    (keep_again if fields.get("again") == "1" else keep_new)(desk, name, fields)
    return onward(f"/week/{quote(name, safe='')}")


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
        return html(_donor_page(desk, text, None, pages.complaints(error)), 422)


def _donor_page(desk: Desk, text: str, found: dict[str, object] | None, complaints: list[str]) -> str:
    return pages.page(
        "donors.html",
        here="donors",
        text=text,
        found=found,
        complaints=complaints,
    )


def learned(desk: Desk, request: Request) -> Response:
    """What the ledger says of the shop's own numbers."""
    from estimator.server.own_numbers import learned_values

    told = TOLD.get(request.query_params.get("told", ""), "")
    return html(
        pages.page(
            "learned.html",
            here="money",
            told=told,
            shop_folder=desk.tables is not None,
            **learned_values(desk),
        )
    )


def take_learned(desk: Desk, request: Request) -> Response:
    """Take over what was learned, or take the last of it back."""
    from estimator.server.own_numbers import put_back, take_over

    fields = fields_of(request)
    if fields.get("do") == "back":
        put_back(desk)
        return onward("/learned", told="back")
    take_over(desk, fields)
    return onward("/learned", told="over")


def own_menu(desk: Desk, request: Request) -> Response:
    """The form for the shop's own menu."""
    return html(_menu_page(desk, {}, None, []))


def fit_menu(desk: Desk, request: Request) -> Response:
    """The fit to the shop's own menu: shown first, taken over when asked to."""
    from estimator.server.own_numbers import fitted

    fields = fields_of(request)
    over = fields.get("do") == "over"
    if over and fields.get("numbers", "") != str(desk.numbers):
        issue = "The shop's numbers were changed since this page was opened: look at the fit again"
        return html(_menu_page(desk, fields, None, [issue]), 422)
    try:
        found = fitted(desk, fields, over)
    except InputError as error:
        return html(_menu_page(desk, fields, None, pages.complaints(error)), 422)
    return onward("/learned", told="over") if over else html(_menu_page(desk, fields, found, []))


def _menu_page(desk: Desk, fields: Mapping[str, str], found: object, complaints: list[str]) -> str:
    from estimator.server.own_numbers import menu_fields

    return pages.page(
        "own_menu.html",
        here="money",
        jobs=menu_fields(desk, fields),
        found=found,
        complaints=complaints,
        shop_folder=desk.tables is not None,
        numbers=desk.numbers,
    )


SHOWN: dict[str, Callable[[Desk, Request], Response]] = {
    "/": jobs,
    "/new": new,
    "/money": money,
    "/price-list": prices,
    "/learned": learned,
    "/own-menu": own_menu,
    "/donors": donors,
    "/week": week,
    "/week/{batch}": week,
}
SENT: dict[str, Callable[[Desk, Request], Response]] = {
    "/new": begin,
    "/donors": rank,
    "/import": bring_in,
    "/looking": looking,
    "/learned": take_learned,
    "/own-menu": fit_menu,
    "/week/{batch}": keep_week,
}
