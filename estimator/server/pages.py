"""The pages as HTML: what is asked of the desk, put into the templates."""

from __future__ import annotations

import base64
import hashlib
import re
from contextvars import ContextVar
from datetime import date
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from msgspec import Struct
from msgspec.structs import asdict

from estimator.choose.study import Choice, spec_rows
from estimator.core.amounts import Cents
from estimator.core.errors import InputError, Issue
from estimator.core.money import money_text
from estimator.core.text import instrument_words, sentence_case
from estimator.server import view
from estimator.server.answers import comes_to
from estimator.server.desk import Asked, Desk
from estimator.server.entries import LEAST, MOST, PROFIT
from estimator.server.folder import KIND_WORDS, job_url

if TYPE_CHECKING:
    from jinja2 import Environment
    from markupsafe import Markup

    from estimator.choose.questions.all import PostOptimality

HERE = Path(__file__).parent


@cache
def environment() -> Environment:
    """The templates: what stands in them is escaped, and a name that is not there fails."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    made = Environment(
        loader=FileSystemLoader(HERE / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    fields = made.get_template("fields.html").module
    made.globals["wish_field"] = fields.wish_field  # type: ignore[attr-defined]
    made.globals["work_field"] = fields.work_field  # type: ignore[attr-defined]
    return made


class Around(Struct, frozen=True):
    """What every page shows around its own: the shop, the word of its forms, its address, whether a customer looks on.

    ``phone``: it goes to a phone, which gets pages of the bench alone.
    """

    word: str = ""
    path: str = "/"
    hiding: bool = False
    phone: bool = False
    shop_name: str = ""


AROUND: ContextVar[Around] = ContextVar("around", default=Around())  # noqa: B039


def page(name: str, **values: object) -> str:
    """A template with its values."""
    return environment().get_template(name).render(**asdict(AROUND.get()) | values)


def complaint(issue: Issue) -> str:
    """A complaint as a sentence for the page."""
    parts = [sentence_case(f"{issue.where}: {issue.problem}".lstrip(":- "))]
    parts += [f"found {issue.found}"] if issue.found else []
    parts += [f"accepted: {issue.accepted}"] if issue.accepted else []
    parts += [f"next: {issue.next_step}"] if issue.next_step else []
    return "; ".join(parts)


def complaints(error: InputError) -> list[str]:
    """Every complaint of an error as a sentence."""
    return [complaint(issue) for issue in error.issues]


def answer_html(desk: Desk, asked: Asked, wait: bool) -> str:
    """The region of the answer. ``wait``: what is not known is solved first; else it is said that it is worked on."""
    return page("answer.html", **answer_values(desk, asked, wait))


def trouble_html(error: InputError, name: str) -> str:
    """The region of the answer where the entries cannot be read."""
    return page("answer.html", complaints=complaints(error), job_url=job_url(name))


def answer_values(desk: Desk, asked: Asked, wait: bool, alone: str | None = None) -> dict[str, object]:
    """What the template of the answer shows."""
    entries, answers = asked.seen, desk.answers
    question = (asked.values, asked.job, entries.aim)
    choice = answers.choice(*question) if wait else answers.known(*question)
    why = None
    none_found = choice is not None and not choice.found
    if none_found and (wait or answers.is_explained(*question)):
        why = view.why_not(answers.explained(*question), entries)
    query = asked.entries.query()
    url = job_url(asked.file.name)
    found = None
    if choice is not None and choice.found:
        found = view.answer(choice, entries, answers.ready(asked.values, choice, entries.aim))
    values: dict[str, object] = {
        "complaints": (),
        "why": why,
        "none_found": none_found,
        "query": query,
        "job_url": url,
        "here_url": f"{url}?{query}" if query else url,
        "looking": entries.looking,
        "show": entries.show,
        "answer": found,
        "frontier": None,
        "drawing": None,
    }
    if alone is not None:
        values["alone"] = alone
    elif entries.show and not entries.looking and choice is not None:
        front = answers.frontier(*question[:2]) if wait else answers.known_frontier(*question[:2])
        if front is not None:
            values |= _frontier(choice, front)
    return values


def _frontier(choice: Choice, found: PostOptimality) -> dict[str, object]:
    from markupsafe import Markup

    from estimator.report.svg.frontier import Marks, frontier_svg

    front = found.frontier
    if front is None or not front.points:
        return {"frontier": (), "drawing": ""}
    study = choice.study
    title = f"{study.job.id}: what a little more money buys"
    drawn = frontier_svg(front, title, study.shop.terms.currency, Marks())
    return {"frontier": view.points(choice, front), "drawing": Markup(drawn[drawn.index("<svg") :])}


def decide_html(desk: Desk, asked: Asked, wait: bool, told: str = "") -> str:
    """The whole page of a job."""
    from estimator.server.agreed import last_quote

    entries, job = asked.entries, asked.job
    study = desk.answers.study(asked.values, job)
    standing = {row.attribute: row for row in spec_rows(study, ())}
    wishes = view.wishes(job, desk.shop, asked.in_file, standing)
    values = answer_values(desk, asked, wait)
    working = values["answer"] is None and values["why"] is None
    joint = "&" if values["query"] else "?"
    seen = last_quote(desk, job.id)
    values |= _limit_values(desk, asked)
    return page(
        "decide.html",
        told=told,
        seen=seen,
        numbers=desk.numbers,
        version=asked.file.version,
        wishes=wishes,
        what=asked.in_file.what,
        any_asked=any(wish.asked or wish.meant for wish in wishes),
        work=view.fixed_work(study),
        aims=_aims(asked),
        refresh=f"{values['here_url']}{joint}wait=1" if working else "",
        promised=job.wanted_by if job.wanted_by >= f"{date.today()}" else "",
        back=job.wanted_by,
        file_back=asked.in_file.wanted_by,
        money_words=_money_words(asked),
        **job_values(desk, asked, "decide")
        | values
        | {"looking": asked.seen.looking, "ticked": entries.looking},
    )


def drawings(choice: Choice) -> list[tuple[str, str, Markup]]:
    """The drawings of the chosen work: of which work, which drawing, the drawing."""
    from markupsafe import Markup

    from estimator.report.svg.fit import drawings_of
    from estimator.report.words.customer import work_words

    study = choice.study
    return [
        (work_words(study.shop, verdict), name, Markup(drawn[drawn.index("<svg") :]))
        for verdict in study.verdicts
        if verdict.upgrade.id in choice.estimate.chosen
        for name, drawn in drawings_of(study.shop, study.job, verdict.upgrade).items()
    ]


def job_values(desk: Desk, asked: Asked, part: str) -> dict[str, object]:
    """What the head of every page of a job shows; ``part``: which page it is."""
    return {
        "here": "job",
        "part": part,
        "job_url": job_url(asked.file.name),
        "title": sentence_case(asked.job.what or asked.job.id),
        "about": about(desk, asked),
        "client": asked.job.kind == "commission",
        "query": asked.entries.query(),
        "file": asked.file.path.name,
        # what the commands warn of; some of it is for nobody who looks on
        "doubts": [] if asked.seen.looking else [complaint(issue) for issue in asked.in_file.issues],
    }


def alone_html(desk: Desk, asked: Asked) -> str:
    """The answer as one file by itself: no server, nothing fetched, nothing to set."""
    from markupsafe import Markup

    css = (HERE / "static" / "page.css").read_text(encoding="utf-8")
    values = answer_values(desk, asked, wait=True, alone=Markup(css))
    return page(
        "decide.html",
        title=sentence_case(asked.job.what or asked.job.id),
        about=about(desk, asked),
        told="",
        refresh="",
        **values,
    )


def about(desk: Desk, asked: Asked) -> str:
    """The instrument and whose it is, in a line; where a customer looks on, the job's name is enough."""
    job = asked.job
    kind = instrument_words(str(job.instrument["kind"].value))
    labels = [
        job.labels.make,
        kind,
        job.customer if job.kind == "commission" else KIND_WORDS[job.kind],
    ]
    return ", ".join(word for word in labels if word)


def _limit_values(desk: Desk, asked: Asked) -> dict[str, object]:
    """The limits as they stand in their fields, and the range of the slider."""
    job, in_file = asked.job, asked.in_file
    money = _plain_money(job)
    limits = [budget.money for budget in (job.budget, in_file.budget) if budget.money is not None]
    known = [
        comes_to(c, job.budget.on)[0] for c in desk.answers.all_known(asked.values, job) if c.answer.measure
    ]
    top = slide_top([int(limit * 100) for limit in limits] + known)
    return {
        "money": money,
        "file_money": _plain_money(in_file),
        "currency": desk.shop.terms.currency,
        "hours": _plain_hours(job),
        "file_hours": _plain_hours(in_file),
        "slide_top": top,
        "slide_at": money or str(top),
    }


def slide_top(cents: list[int]) -> int:
    """The end of the slider: twice the largest sum at hand, in whole hundreds of money."""
    return max(200, -(-max(cents, default=0) * 2 // 10_000) * 100)


def _plain_money(job: object) -> str:
    from estimator.model import Job

    assert isinstance(job, Job)
    return (
        "" if job.budget.money is None else money_text(Cents(int(job.budget.money * 100))).removesuffix(".00")
    )


def _plain_hours(job: object) -> str:
    from estimator.model import Job

    assert isinstance(job, Job)
    return "" if job.budget.minutes is None else f"{round(job.budget.minutes / 60, 2).normalize():f}"


def _money_words(asked: Asked) -> str:
    return {
        "price": "The most the customer will pay",
        "cost": "The most it may cost",
        "cash": "The most cash to lay out",
    }[asked.job.budget.on]


def _aims(asked: Asked) -> list[view.Option]:
    told = {LEAST: "Meet the wishes for the least money", MOST: "The most for this money"}
    if asked.job.kind == "resale":
        told[PROFIT] = "The most left over"
    return [view.Option(value, words, value == asked.entries.aim) for value, words in told.items()]


def policy_of(text: str) -> str:
    """The policy of a page with its style inside: exactly this style, no script, nothing fetched."""
    styles = re.findall(r"<style>(.*?)</style>", text, re.S)
    sums = [base64.b64encode(hashlib.sha256(style.encode()).digest()).decode() for style in styles]
    allowed = " ".join(f"'sha256-{one}'" for one in sums) or "'none'"
    return f"default-src 'none'; style-src {allowed}; img-src data:; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
