"""The routes of the page. Each reads the request, asks the desk, answers with a page; none works anything out."""

from __future__ import annotations

import logging
from collections.abc import Callable
from typing import TYPE_CHECKING
from urllib.parse import parse_qsl, urlencode

from estimator.core.errors import EngineError, EstimatorError, InputError
from estimator.server import pages
from estimator.server.desk import Desk
from estimator.server.entries import read_entries
from estimator.server.folder import ChangedError, job_url
from estimator.server.guard import MOST_BYTES, Guard
from estimator.server.pairing import Doors, doors

if TYPE_CHECKING:
    from starlette.applications import Starlette
    from starlette.requests import Request
    from starlette.responses import Response

LOG = logging.getLogger("estimator.page")
STATIC = {
    "page.css": "text/css; charset=utf-8",
    "page.js": "text/javascript; charset=utf-8",
    "bench.css": "text/css; charset=utf-8",
    "bench.js": "text/javascript; charset=utf-8",
    "mark.svg": "image/svg+xml",
}
"""The files that the pages ask for, by name: nothing else of the program is handed out."""


OWN_PAGES = ("/donors", "/learned", "/own-menu")
"""Pages that hold nothing but what is the shop's own."""


ON_THE_LAPTOP = "Nothing was recorded by this. Go back to today's list and try again; if it stays so, the laptop tells more."
"""What a phone is told of anything that went wrong outside the bench's own pages."""


def guarded(desk: Desk, port: int) -> Guard:
    """The application behind its guard; the word of this start is the guard's."""
    guard = Guard(application(desk), port)
    desk.word = guard.word
    return guard


def with_phone(desk: Desk, port: int) -> Guard | Doors:
    """The application behind its guard, and behind that of the phones where any may be let in."""
    own = guarded(desk, port)
    return own if desk.pairing is None else doors(own, desk.pairing)


def application(desk: Desk) -> Starlette:
    """The routes, without the guard."""
    from starlette.applications import Starlette
    from starlette.routing import Route

    from estimator.server import job_routes, shop_routes
    from estimator.server.bench import routes as bench_routes

    def route(path: str, handler: Callable[[Desk, Request], Response], *methods: str) -> Route:
        def endpoint(request: Request) -> Response:
            return answered(desk, handler, request)

        return Route(path, endpoint, methods=list(methods or ("GET",)))

    async def posted(request: Request, handler: Callable[[Desk, Request], Response]) -> Response:
        """A form: its fields are read first, then it is dealt with beside the other requests."""
        from starlette.concurrency import run_in_threadpool

        _around(desk, request)
        try:
            form = await request.form(max_files=1, max_fields=400, max_part_size=MOST_BYTES)
            fields: dict[str, object] = {}
            for name, value in form.multi_items():
                if isinstance(value, str):
                    value.encode()  # half of a letter, which no page and no ledger could write
                fields[name] = value if isinstance(value, str) else await value.read()
                if not isinstance(value, str):
                    fields[f"{name}.name"] = value.filename or ""
            await form.close()
        except Exception:
            return said(desk, 400, "The form cannot be read", ["Go back, reload the page and send it again."])
        request.state.fields = fields
        return await run_in_threadpool(answered, desk, handler, request)

    def form(path: str, handler: Callable[[Desk, Request], Response]) -> Route:
        async def endpoint(request: Request) -> Response:
            return await posted(request, handler)

        return Route(path, endpoint, methods=["POST"])

    routes = [route("/static/{name}", static)]
    for module in (shop_routes, job_routes, bench_routes):
        routes += [route(path, handler) for path, handler in module.SHOWN.items()]
        routes += [form(path, handler) for path, handler in module.SENT.items()]
    return Starlette(routes=routes, exception_handlers={404: _nothing_here(desk), 405: _nothing_here(desk)})


def answered(desk: Desk, handler: Callable[[Desk, Request], Response], request: Request) -> Response:
    """What a handler answers; what goes wrong is told in words, never as a trace."""
    desk.ahead.busy()
    path = request.url.path
    _around(desk, request)
    try:
        if desk.looking and path in OWN_PAGES:
            return said(
                desk,
                200,
                "Hidden while a customer looks",
                ["What is on this page is yours alone. It is here again once the customer has gone."],
            )
        return handler(desk, request)
    except ChangedError as error:
        return changed(desk, request, error)
    except InputError as error:
        return said(
            desk,
            422,
            "This cannot be done",
            pages.complaints(error),
            back_of(request),
        )
    except (EngineError, EstimatorError) as error:
        LOG.exception("refused: %s", request.url.path)
        return said(desk, 500, "No answer that can be trusted", [str(error), "Nothing was saved. Try again."])
    except Exception as error:
        LOG.exception("fault: %s", request.url.path)
        words = f"A fault in the program itself ({type(error).__name__}). Your files are untouched."
        return said(
            desk,
            500,
            "Something went wrong here",
            [words, "The terminal in which the page was started tells more."],
        )


def _around(desk: Desk, request: Request) -> None:
    """What every page that answers this request shows around its own."""
    path = request.url.path if request.method == "GET" else "/"
    phone = getattr(request.state, "device", None) is not None
    word = request.state.word if phone else desk.word
    pages.AROUND.set(pages.Around(word, path, desk.looking, phone, desk.shop.terms.shop_name))


def static(desk: Desk, request: Request) -> Response:
    """A file that the pages ask for."""
    from starlette.responses import Response

    name = request.path_params["name"]
    if name not in STATIC:
        return said(desk, 404, "There is nothing here", [])
    data = (pages.HERE / "static" / name).read_bytes()
    return Response(data, media_type=STATIC[name], headers={"cache-control": "no-cache"})


def html(text: str, status: int = 200) -> Response:
    """A page."""
    from starlette.responses import HTMLResponse

    return HTMLResponse(text, status)


def onward(path: str, **told: str) -> Response:
    """To another page after something was sent, so that reloading does not send it again."""
    from starlette.responses import RedirectResponse

    return RedirectResponse(f"{path}?{urlencode(told)}" if told else path, 303)


def said(desk: Desk, status: int, title: str, words: list[str], back: str = "") -> Response:
    """A page that only says something; a phone gets one that leads to the bench alone, and no words of the desk."""
    if pages.AROUND.get().phone:
        return html(
            pages.page("bench/said.html", now="", phone=True, title=title, words=[ON_THE_LAPTOP]), status
        )
    return html(
        pages.page(
            "said.html",
            here="",
            title=title,
            words=words,
            lines=(),
            again=None,
            back=back,
        ),
        status,
    )


def back_of(request: Request) -> str:
    """The page of the job that a request was about; blank if it was about none that is asked for otherwise."""
    name = str(request.path_params.get("name", ""))
    url = job_url(name)
    return url if name and request.url.path.startswith("/job/") and request.url.path != f"/job/{name}" else ""


def changed(desk: Desk, request: Request, error: ChangedError) -> Response:
    """The file was changed by somebody else meanwhile: what differs, and the choice to write it all the same."""
    if pages.AROUND.get().phone:
        return said(desk, 409, "The file is no longer as you saw it", [])
    fields = {
        name: value
        for name, value in request.state.fields.items()
        if isinstance(value, str) and name != "version"
    }
    words = [
        f"{error.now.path.name} was changed since this page was opened, by another tab or an editor. Nothing was written.",
        "Below, the lines with - stand in the file now; those with + would stand there with what you set here.",
    ]
    again = {
        "action": f"{request.url.path}?word={desk.word}",
        "fields": {**fields, "version": error.now.version},
        "back": job_url(error.now.name),
        "entries": fields.get("entries", ""),
    }
    return html(
        pages.page(
            "said.html",
            here="",
            title="The file is no longer as you saw it",
            words=words,
            lines=error.lines,
            again=again,
            back="",
        ),
        409,
    )


def _nothing_here(desk: Desk) -> Callable[[Request, Exception], Response]:
    def handler(request: Request, error: Exception) -> Response:
        _around(desk, request)
        return said(
            desk, getattr(error, "status_code", 404), "There is nothing here", ["Go back to the jobs."]
        )

    return handler


def fields_of(request: Request) -> dict[str, str]:
    """The fields of a form that are text."""
    return {name: value for name, value in request.state.fields.items() if isinstance(value, str)}


def entries_in(text: str) -> list[tuple[str, str]]:
    """Entries as they stood in the address of a page, carried in a form."""
    return parse_qsl(text, keep_blank_values=True, max_num_fields=400)


def entries_of(request: Request):  # type: ignore[no-untyped-def]
    """The entries in the address of a request."""
    return read_entries(entries_in(request.url.query))
