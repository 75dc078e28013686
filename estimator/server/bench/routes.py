"""The routes of bench mode, the pairing of a phone, and the laptop's page that shows the code."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from msgspec import to_builtins
from msgspec.structs import replace

from estimator.core.errors import InputError, Issue, Origin
from estimator.core.text import sentence_case
from estimator.ledger.clock import read_moment
from estimator.server import pages
from estimator.server.app import fields_of, html, onward, said
from estimator.server.bench.day import day_values, step_url
from estimator.server.bench.taps import HERE, tapped
from estimator.server.desk import Desk
from estimator.server.entries import Entries
from estimator.server.folder import TYPES, ChangedError
from estimator.server.pairing import COOKIE, PAIR, WARNING

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

Handler = Callable[[Desk, "Request"], "Response"]
CHANGED = "The job file was changed by somebody else at this moment; nothing was written. Look at it, then tap again."
ITS_PAGE = "the page of this job on the laptop says what is wrong"


def _page(request: Request, name: str, **values: object) -> str:
    """A page of bench mode: with the word of the door it came in at, the moment here, a word for each of its taps."""
    import secrets

    return pages.page(
        name,
        word=request.state.word,
        now=read_moment(None).text,
        phone=_device(request) != HERE,
        wide=False,
        new_key=lambda: secrets.token_hex(16),
        told=request.query_params.get("told", "")[:300],
        **values,
    )


def _device(request: Request) -> str:
    return str(getattr(request.state, "device", HERE))


def _words(desk: Desk, error: InputError) -> list[str]:
    """Complaints for the bench: without where the files of the shop lie, and without commands of a terminal.

    Of a job file what was measured alone is told in words: elsewhere in it stand prices and names.
    """
    told = []
    for issue in error.issues:
        if issue.where.file.endswith(".toml") and not issue.where.column.startswith("[instrument]"):
            row = Origin(issue.where.file, issue.where.row)
            told.append(pages.complaint(Issue(row, "cannot be taken as it stands", next_step=ITS_PAGE)))
            continue
        step = "" if "estimator " in issue.next_step else issue.next_step
        here = (
            Origin("at the bench")
            if str(desk.folder.root) in issue.where.file or str(desk.ledger_path) == issue.where.file
            else issue.where
        )
        told.append(pages.complaint(replace(issue, where=here, next_step=step)))
    return list(dict.fromkeys(told))


def _in_words(handler: Handler) -> Handler:
    """Complaints on a page of bench mode: a phone gets no page that leads elsewhere."""

    def answered(desk: Desk, request: Request) -> Response:
        try:
            return handler(desk, request)
        except InputError as error:
            words = _words(desk, error)
            return html(_page(request, "bench/said.html", title="This cannot be done", words=words), 422)

    return answered


@_in_words
def day(desk: Desk, request: Request) -> Response:
    """Today's list."""
    return html(
        _page(
            request,
            "bench/day.html",
            pairs=desk.pairing is not None and _device(request) == HERE,
            **day_values(desk),
        )
    )


@_in_words
def step(desk: Desk, request: Request) -> Response:
    """One step, large."""
    from estimator.server.bench.step import step_values

    asked = request.query_params
    return html(
        _page(request, "bench/step.html", **step_values(desk, asked.get("job", ""), asked.get("task", "")))
    )


@_in_words
def figures(desk: Desk, request: Request) -> Response:
    """The figures and drawings of a step; the first time they may take some seconds."""
    from estimator.server.bench.step import figures as figures_of

    asked = request.query_params
    job, task = asked.get("job", ""), asked.get("task", "")
    return html(
        _page(request, "bench/figures.html", rows=figures_of(desk, job, task), back=step_url(job, task))
    )


@_in_words
def intake(desk: Desk, request: Request) -> Response:
    """What was measured and what is assumed of an instrument; every value can be typed here."""
    from estimator.server.bench.step import photos_of, stages_of

    asked = desk.ask(request.query_params.get("file", ""), Entries())
    with desk.ledger() as books:
        photos = photos_of(desk, books, asked.file.name, asked.job.id)
    return html(
        _page(
            request,
            "bench/intake.html",
            stages=stages_of(desk, asked),
            file=asked.file.name,
            job=asked.job.id,
            what=sentence_case(asked.job.what or asked.job.id),
            photos=photos,
        )
    )


@_in_words
def jobs(desk: Desk, request: Request) -> Response:
    """The instruments of the folder, to measure and to photograph."""
    from estimator.server.board import read_line

    lines = [(name, sentence_case(read_line(path)[1] or name)) for name, path in desk.folder.paths().items()]
    return html(_page(request, "bench/jobs.html", jobs=lines))


@_in_words
def photo(desk: Desk, request: Request) -> Response:
    """A photo of a job."""
    from starlette.responses import Response

    file = desk.folder.read(request.query_params.get("file", ""))
    found = desk.folder.photos(file.name).get(request.query_params.get("name", ""))
    if found is None:
        return html(_page(request, "bench/said.html", title="There is no such photo", words=[]), 404)
    return Response(found.read_bytes(), media_type=TYPES[found.suffix[1:]])


def tap(desk: Desk, request: Request) -> Response:
    """One tap: done once. A script gets the answer in words; a plain form is led back to where it was."""
    from starlette.responses import JSONResponse

    fields = fields_of(request)
    data = request.state.fields.get("photo")
    by_script = fields.get("by") == "script"
    try:
        told = tapped(desk, fields, _device(request), data if isinstance(data, bytes) else b"")
    except (InputError, ChangedError) as error:
        words = _words(desk, error) if isinstance(error, InputError) else [CHANGED]
        if by_script:
            return JSONResponse({"refused": words}, 422)
        return html(_page(request, "bench/said.html", title="Nothing was recorded", words=words), 422)
    if by_script:
        return JSONResponse(to_builtins(told))
    back = fields.get("back", "")
    if back == "step":
        return onward("/bench/step", job=fields.get("job", ""), task=fields.get("task", ""), told=told.told)
    if back == "intake":
        return onward("/bench/intake", file=fields.get("file", ""), told=told.told)
    return onward("/bench", told=told.told)


def pair_page(desk: Desk, request: Request) -> Response:
    """Where a phone types the code."""
    if desk.pairing is None or _device(request) == HERE:
        return said(desk, 404, "There is nothing here", ["A phone is paired at its own address."])
    return html(_page(request, "bench/pair.html", wrong="", warning=WARNING))


def pair(desk: Desk, request: Request) -> Response:
    """The code that a phone shows: with the right one it is let in till the program ends."""
    from starlette.responses import JSONResponse

    if desk.pairing is None or _device(request) == HERE:
        return said(desk, 404, "There is nothing here", ["A phone is paired at its own address."])
    fields = fields_of(request)
    by_script = fields.get("by") == "script"
    token = desk.pairing.pair(fields.get("code", "")[:40])
    if token is None:
        words = "This code does not count: it is wrong, used, older than five minutes, or was tried too often. Show a new one on the laptop."
        if by_script:
            return JSONResponse({"refused": [words]}, 403)
        return html(_page(request, "bench/pair.html", wrong=words, warning=WARNING), 403)
    answer = JSONResponse({"told": "Paired."}) if by_script else onward("/bench")
    answer.set_cookie(COOKIE, token, path="/", httponly=True, samesite="strict")
    return answer


def phone(desk: Desk, request: Request) -> Response:
    """The laptop's page of the pairing: address, code, which phones are let in."""
    if desk.pairing is None:
        words = [
            "Start the page with --phone ADDRESS (an address of this machine in its own network) to let a phone in.",
            "The phone then gets today's list, steps, clocks, measurements and photos; never prices or customers.",
        ]
        return said(desk, 404, "No phone is let in", words)
    code, left = desk.pairing.open_code
    return html(
        pages.page(
            "phone.html",
            here="phone",
            code=code,
            left=-(-left // 60),
            url=f"{desk.pairing.url}{PAIR}",
            picture=picture(desk.pairing.link()) if code else "",
            phones=desk.pairing.phones,
            warning=WARNING,
        )
    )


def picture(link: str) -> object:
    """An address as a code that a phone's camera reads."""
    import segno
    from markupsafe import Markup

    return Markup(segno.make(link, error="m", micro=False).svg_inline(scale=6, border=4))


def new_code(desk: Desk, request: Request) -> Response:
    """A new code, or a phone that is let in no more."""
    if desk.pairing is not None:
        gone = fields_of(request).get("forget", "")
        if gone:
            desk.pairing.forget(gone)
        else:
            desk.pairing.new_code()
    return onward("/phone")


SHOWN: dict[str, Handler] = {
    "/bench": day,
    "/bench/step": step,
    "/bench/figures": figures,
    "/bench/jobs": jobs,
    "/bench/intake": intake,
    "/bench/photo": photo,
    PAIR: pair_page,
    "/phone": phone,
}
SENT: dict[str, Handler] = {"/bench/tap": tap, "/bench/tap/photo": tap, PAIR: pair, "/phone": new_code}
"""A photo has a route of its own: it alone may be longer than a form."""
