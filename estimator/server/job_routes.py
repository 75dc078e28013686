"""The pages of one job: decide, the instrument, photos, what is agreed, the customer's page."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from estimator.core.errors import EngineError, InputError, refusal
from estimator.server import pages
from estimator.server.app import entries_in, entries_of, fields_of, html, onward, said
from estimator.server.desk import Asked, Desk
from estimator.server.entries import Entries, changes_of, read_entries
from estimator.server.folder import NAME, TYPES, job_url

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

    from estimator.choose.study import Choice

TOLD = {
    "saved": "Written into the job file.",
    "in": "The job file was taken in as it was sent.",
    "new": "The job file is written. Say what the customer wishes, and measure what matters.",
    "paid": "Recorded in the ledger.",
    "moved": "Recorded in the ledger.",
    "taken": "Taken: the quote and the planned times are kept in the ledger.",
}
"""What is said after something was done, by the word in the address."""


def _name(request: Request) -> str:
    return str(request.path_params["name"])


def _told(request: Request) -> str:
    return TOLD.get(request.query_params.get("told", ""), "")


def _part(desk: Desk, asked: Asked, part: str, **values: object) -> Response:
    """One of the pages of a job."""
    return html(pages.page(f"{part}.html", **values, **pages.job_values(desk, asked, part)))


def _waits(request: Request) -> bool:
    return request.query_params.get("wait") == "1"


def decide(desk: Desk, request: Request) -> Response:
    """The page on which a job is decided."""
    entries = entries_of(request)
    told = _told(request)
    try:
        asked = desk.ask(_name(request), entries)
    except InputError as error:
        if entries == Entries():
            raise
        asked = desk.ask(_name(request), Entries(looking=entries.looking))
        words = "; ".join(pages.complaints(error))
        return html(pages.decide_html(desk, asked, False, f"Not taken over: {words}."), 422)
    text = pages.decide_html(desk, asked, _waits(request), told)
    desk.ahead.asked(asked)
    return html(text)


def answer(desk: Desk, request: Request) -> Response:
    """The region of the answer for the entries of the address."""
    try:
        asked = desk.ask(_name(request), entries_of(request))
    except InputError as error:
        return html(pages.trouble_html(error, _name(request)), 422)
    try:
        text = pages.answer_html(desk, asked, _waits(request))
    except InputError as error:
        return html(pages.trouble_html(error, asked.file.name), 422)
    except EngineError as error:
        return html(pages.page("answer.html", complaints=[str(error)], job_url=job_url(asked.file.name)), 422)
    desk.ahead.asked(asked)
    return html(text)


def _with_entries(desk: Desk, request: Request) -> Asked:
    return desk.ask(_name(request), read_entries(entries_in(fields_of(request).get("entries", ""))))


def _saved(desk: Desk, asked: Asked, version: str) -> None:
    """The entries written into the file, if they change anything."""
    desk.change(asked, changes_of(asked.toml, desk.shop, asked.entries), version)


def save(desk: Desk, request: Request) -> Response:
    """Write the entries into the job file."""
    asked = _with_entries(desk, request)
    _saved(desk, asked, fields_of(request).get("version", ""))
    return onward(job_url(asked.file.name), told="saved")


def _choice(desk: Desk, asked: Asked, to: str) -> Choice:
    """The set for the entries; InputError where there is none, and so nothing ``to`` do."""
    choice = desk.answers.choice(asked.values, asked.job, asked.entries.aim)
    if not choice.found:
        raise refusal(
            asked.file.path.name,
            f"no set of work meets this, so there is nothing to {to}",
            next_step="go back: the page of the job names what clashes, and the ways out",
        )
    return choice


def _paper(desk: Desk, asked: Asked) -> str:
    """The customer's page of what is chosen."""
    from estimator.report.page.html import page_html
    from estimator.report.page.record import customer_page

    choice = _choice(desk, asked, "quote")
    return page_html(customer_page(choice), desk.shop.paper)


def paper(desk: Desk, request: Request) -> Response:
    """The customer's page by itself, to show, to print, to save."""
    from starlette.responses import HTMLResponse

    asked = desk.ask(_name(request), entries_of(request))
    text = _paper(desk, asked)
    headers = {"content-security-policy": pages.policy_of(text)}
    if request.query_params.get("save") == "1":
        headers["content-disposition"] = f'attachment; filename="{asked.file.name}-quote.html"'
    return HTMLResponse(text, headers=headers)


def quote(desk: Desk, request: Request) -> Response:
    """From where the customer's page is shown, printed and saved."""
    asked = desk.ask(_name(request), entries_of(request))
    return _part(desk, asked, "quote")


def photo(desk: Desk, request: Request) -> Response:
    """A photo of the job."""
    from starlette.responses import Response

    name = _name(request)
    desk.folder.read(name)
    found = desk.folder.photos(name).get(str(request.path_params["file"]))
    if found is None:
        return said(desk, 404, "There is no such photo", [])
    return Response(found.read_bytes(), media_type=TYPES[found.suffix[1:]])


def keep_photo(desk: Desk, request: Request) -> Response:
    """Keep a photo that was sent."""
    data = request.state.fields.get("photo")
    if not isinstance(data, bytes) or not data:
        raise refusal("photo", "no photo was chosen", next_step="choose a file, then send it")
    desk.folder.keep_photo(_name(request), data)
    return onward(f"{job_url(_name(request))}/intake")


def agree(desk: Desk, request: Request) -> Response:
    """Take the job: the file as it is set, the quote, the planned times, the promised day."""
    from estimator.server.agreed import take

    asked, fields = _with_entries(desk, request), fields_of(request)
    if fields.get("numbers", "0") != str(desk.numbers):
        raise refusal(
            "take the job",
            "the shop's own numbers were changed since this page was opened",
            next_step="look at the price again, then take the job",
        )
    choice = _choice(desk, asked, "agree on")
    save_it = partial(_saved, desk, asked, fields.get("version", ""))
    take(desk, asked, choice, fields.get("promised", ""), fields.get("seen", ""), save_it)
    return onward(f"{job_url(asked.file.name)}/ledger", told="taken")


def ledger(desk: Desk, request: Request) -> Response:
    """What is agreed and paid."""
    from estimator.ledger.clock import read_moment
    from estimator.ledger.jobs import storage_of
    from estimator.server.agreed import shown

    asked = desk.ask(_name(request), Entries())
    with desk.ledger() as books:
        values = shown(books, asked.job.id, storage_of(desk.shop, read_moment(None)), desk.looking)
    told = _told(request)
    return _part(desk, asked, "ledger", booked=values, told=told)


def pay(desk: Desk, request: Request) -> Response:
    """Money that came in or went out."""
    from estimator.server.agreed import paid

    asked, fields = desk.ask(_name(request), Entries()), fields_of(request)
    paid(
        desk,
        asked.job.id,
        fields.get("kind", ""),
        fields.get("sum", "").strip(),
        fields.get("remark", "")[:200],
    )
    return onward(f"{job_url(asked.file.name)}/ledger", told="paid")


def move(desk: Desk, request: Request) -> Response:
    """The next step of the job."""
    from estimator.server.agreed import moved

    asked, fields = desk.ask(_name(request), Entries()), fields_of(request)
    moved(desk, asked.job.id, fields.get("state", ""), fields.get("remark", "")[:200])
    return onward(f"{job_url(asked.file.name)}/ledger", told="moved")


def time(desk: Desk, request: Request) -> Response:
    """Begin on a task, or end it."""
    from estimator.server.agreed import timed

    asked = desk.ask(_name(request), Entries())
    timed(desk, asked.job.id, fields_of(request))
    return onward(f"{job_url(asked.file.name)}/ledger", told="moved")


def receipt(desk: Desk, request: Request) -> Response:
    """The receipt, as text to show, to print, to save."""
    from starlette.responses import PlainTextResponse

    from estimator.server.agreed import receipt_text

    asked = desk.ask(_name(request), Entries())
    headers = {"content-disposition": f'inline; filename="{asked.file.name}-receipt.txt"'}
    return PlainTextResponse(receipt_text(desk, asked.job.id), headers=headers)


def drawings(desk: Desk, request: Request) -> Response:
    """What is bored or cut for the chosen work, to scale."""
    asked = desk.ask(_name(request), entries_of(request))
    choice = desk.answers.choice(asked.values, asked.job, asked.entries.aim)
    return _part(desk, asked, "drawings", drawings=pages.drawings(choice))


def intake(desk: Desk, request: Request) -> Response:
    """What was measured, what is assumed, what to measure first, photos."""
    from estimator.server.intake import intake_of, measure_first

    asked = desk.ask(_name(request), Entries())
    first = (
        measure_first(desk, asked) if not desk.looking and request.query_params.get("first") == "1" else None
    )
    return _part(
        desk,
        asked,
        "intake",
        intake=intake_of(desk, asked),
        first=first,
        firsts={one.field for one in first or ()},
        version=asked.file.version,
        photos=list(desk.folder.photos(asked.file.name)),
        told=_told(request),
    )


def job_file(desk: Desk, request: Request) -> Response:
    """The job file as it lies in the folder, to keep elsewhere; it may hold what is the shop's own."""
    from starlette.responses import Response

    if desk.looking:
        return said(
            desk, 200, "Hidden while a customer looks", ["The job file may hold what is yours alone."]
        )
    file = desk.folder.read(_name(request))
    kept_as = file.name if NAME.fullmatch(file.name) else "job"
    headers = {"content-disposition": f'attachment; filename="{kept_as}.toml"'}
    return Response(file.data, media_type="application/toml", headers=headers)


def measured(desk: Desk, request: Request) -> Response:
    """Write what was measured into the job file."""
    from estimator.server.intake import measured_changes

    asked, fields = desk.ask(_name(request), Entries()), fields_of(request)
    changes = measured_changes(desk, asked, fields)
    if changes:
        desk.change(asked, changes, fields.get("version", ""))
    more = {"first": "1"} if fields.get("first") == "1" else {}  # who measures what is worth most goes on so
    return onward(f"{job_url(asked.file.name)}/intake", told="saved", **more)


SHOWN: dict[str, Callable[[Desk, Request], Response]] = {
    "/job/{name}": decide,
    "/job/{name}/answer": answer,
    "/job/{name}/quote": quote,
    "/job/{name}/paper": paper,
    "/job/{name}/photo/{file}": photo,
    "/job/{name}/ledger": ledger,
    "/job/{name}/receipt": receipt,
    "/job/{name}/drawings": drawings,
    "/job/{name}/intake": intake,
    "/job/{name}/file": job_file,
}
SENT: dict[str, Callable[[Desk, Request], Response]] = {
    "/job/{name}/save": save,
    "/job/{name}/agree": agree,
    "/job/{name}/pay": pay,
    "/job/{name}/move": move,
    "/job/{name}/time": time,
    "/job/{name}/intake": measured,
    "/job/{name}/photo": keep_photo,
}
