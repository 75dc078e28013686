"""Answers to what is set on the page: each solved once, and looked up wherever that is exactly the same.

An answer that is proven best under some limits stays the best under any tighter ones that it keeps: fewer sets
are then open, and it is still among them. So it is found again for every limit from what it comes to up to the
limit it was solved at; and where no set was found, none is under a tighter limit. All else is solved anew.
"""

from __future__ import annotations

import json
import threading
from collections import OrderedDict
from decimal import Decimal
from typing import Any

from msgspec import Struct, field
from msgspec.structs import replace

from estimator.choose.milp.earning import usual_aim
from estimator.choose.questions.all import PostOptimality, Wanted
from estimator.choose.questions.ask import deeper
from estimator.choose.study import Choice, Study, study_job, within_limits
from estimator.choose.tools import beside_limits, choose_with_tools
from estimator.core.money import cents
from estimator.core.text import day_of
from estimator.model import Job, Shop
from estimator.price.client.ready import Ready, ready_of
from estimator.server.entries import LEAST, MOST, PROFIT
from estimator.tables.toml.text import TomlFile

KEPT = 24
"""Sets of wishes whose answers are kept, the latest."""
UNLIMITED = 10**15
STEP = 1
"""A cent less than a set comes to is the nearest limit that it does not keep."""

Limits = tuple[int, int]
"""Cents and hundredths of a minute."""


class Wishes(Struct):
    """All that was found out for one set of wishes and one aim, whatever the limits."""

    study: Study
    aim: str
    solved: list[tuple[Limits, Choice]] = field(default_factory=list)
    explained: dict[Limits, Choice] = field(default_factory=dict)
    frontier: PostOptimality | None = None
    ready: dict[tuple[str, ...], Ready] = field(default_factory=dict)


def aim_of(entry: str, job: Job) -> str:
    """The aim of the choice for the aim set on the page."""
    usual = usual_aim(job.kind == "commission")
    for_sale = job.kind == "resale"  # on client work the least price comes first, whatever is earned
    return {LEAST: usual, MOST: f"score,{usual}", PROFIT: "profit" if for_sale else usual}[entry]


def limits_of(job: Job) -> Limits:
    """The limits on money and hands-on time of a job."""
    budget = job.budget
    return (
        UNLIMITED if budget.money is None else cents(budget.money),
        UNLIMITED if budget.minutes is None else cents(budget.minutes),
    )


def comes_to(choice: Choice, on: str) -> Limits:
    """What a set comes to in the figures that are limited, with what is got for it."""
    measure = choice.answer.measure
    assert measure is not None
    return measure.held(on) + choice.tools.cents, measure.minutes


class Answers:
    """The answers of one shop. Many may ask at once; one question is solved at a time.

    A job is looked at under a lock of its own, so that a page is shown while something else is being solved.
    """

    def __init__(self, shop: Shop) -> None:
        self.shop = shop
        self.solves = 0
        self._known: OrderedDict[str, Wishes] = OrderedDict()
        self._studies: OrderedDict[str, Study] = OrderedDict()
        self.solving = threading.RLock()
        self._studying = threading.Lock()

    def choice(self, toml: TomlFile, job: Job, entry: str) -> Choice:
        """The answer for a job; without the reasons where there is none (``explained`` gives them)."""
        known = self.known(toml, job, entry)
        return known if known is not None else self._solved(toml, job, entry)

    def known(self, toml: TomlFile, job: Job, entry: str) -> Choice | None:
        """The answer, if it need not be solved."""
        wishes = self._known.get(_key(toml, job, entry))
        return None if wishes is None else _looked_up(wishes, job)

    def _solved(self, toml: TomlFile, job: Job, entry: str) -> Choice:
        with self.solving:
            wishes = self._wishes(toml, job, entry)
            known = _looked_up(wishes, job)  # who came first may have solved it
            if known is None and entry != MOST and limits_of(job) != limits_of(_free(job)):
                # without a limit first: what comes of that mostly keeps this limit and every one above it
                self._solved(toml, _free(job), entry)
                known = _looked_up(wishes, job)
            if known is not None:
                return known
            choice = self._make(wishes, job)
            wishes.solved.append((limits_of(job), choice))
            return choice

    def _make(self, wishes: Wishes, job: Job) -> Choice:
        self.solves += 1
        return choose_with_tools(within_limits(wishes.study, job.budget), wishes.aim, explain=False)

    def explained(self, toml: TomlFile, job: Job, entry: str) -> Choice:
        """Why there is no set, and the ways out."""
        with self.solving:
            wishes = self._wishes(toml, job, entry)
            limits = limits_of(job)
            if limits not in wishes.explained:
                self.solves += 1
                study = within_limits(wishes.study, job.budget)
                wishes.explained[limits] = choose_with_tools(study, wishes.aim)
            return wishes.explained[limits]

    def is_explained(self, toml: TomlFile, job: Job, entry: str) -> bool:
        """Whether the reasons are known already."""
        wishes = self._known.get(_key(toml, job, entry))
        return wishes is not None and limits_of(job) in wishes.explained

    def frontier(self, toml: TomlFile, job: Job) -> PostOptimality:
        """What more money would buy, without the limits on money and time; solved once for a set of wishes."""
        with self.solving:
            wishes = self._wishes(toml, job, LEAST)
            if wishes.frontier is None:
                free = _free(job)
                choice = self.choice(toml, free, LEAST)
                self.solves += 1
                wishes.frontier = deeper(choice, Wanted(frontier=True))
            return wishes.frontier

    def known_frontier(self, toml: TomlFile, job: Job) -> PostOptimality | None:
        """The frontier, if it was solved before."""
        wishes = self._known.get(_key(toml, job, LEAST))
        return None if wishes is None else wishes.frontier

    def study(self, toml: TomlFile, job: Job) -> Study:
        """The job looked at from all sides, under its limits."""
        return within_limits(self._study(toml, job), job.budget)

    def all_known(self, toml: TomlFile, job: Job) -> list[Choice]:
        """Every set that was found for the wishes of a job, whatever the limits."""
        wishes = self._known.get(_key(toml, job, LEAST))
        return [] if wishes is None else [choice for _, choice in list(wishes.solved) if choice.found]

    def ready(self, toml: TomlFile, choice: Choice, entry: str) -> Ready:
        """When the work of an answer can be promised; worked out once for a set of work."""
        job, chosen = choice.study.job, choice.estimate.chosen
        known = self._known.get(_key(toml, job, entry))
        if known is not None and chosen in known.ready:
            return known.ready[chosen]
        found = ready_of(choice.study, choice.estimate, day_of(job.received))
        if known is not None:
            known.ready[chosen] = found
        return found

    def look_ahead(self, toml: TomlFile, job: Job, entry: str) -> bool:
        """Solve the next limit that is not known yet: none at all, then step by step below; False if all are."""
        with self.solving:
            wishes = self._wishes(toml, job, entry)
            if _looked_up(wishes, _free(job)) is None:
                self._solved(toml, _free(job), entry)
                return True
            lower = _next_below(wishes, job)
            if lower is None:
                return False
            self._solved(toml, lower, entry)
            return True

    def _wishes(self, toml: TomlFile, job: Job, entry: str) -> Wishes:
        key = _key(toml, job, entry)
        if key not in self._known:
            self._known[key] = Wishes(self._study(toml, job), aim_of(entry, job))
            while len(self._known) > KEPT:
                self._known.popitem(last=False)
        self._known.move_to_end(key)
        return self._known[key]

    def _study(self, toml: TomlFile, job: Job) -> Study:
        key = _key(toml, job, "")
        with self._studying:
            if key not in self._studies:
                self._studies[key] = study_job(self.shop, _free(job), ways_open=True)
                while len(self._studies) > KEPT:
                    self._studies.popitem(last=False)
            return self._studies[key]


def _free(job: Job) -> Job:
    return replace(job, budget=replace(job.budget, money=None, minutes=None))


def _key(toml: TomlFile, job: Job, entry: str) -> str:
    """All that an answer hangs on but the limits of money and time."""
    values: dict[str, Any] = dict(toml.values)
    budget = values.pop("budget", {})
    if isinstance(budget, dict):
        budget = {k: v for k, v in budget.items() if k not in ("money", "hours")}
    if budget:
        values["budget"] = budget
    return json.dumps([toml.file, job.kind, entry, values], default=str)


def _looked_up(wishes: Wishes, job: Job) -> Choice | None:
    """An answer that holds for the limits of a job exactly."""
    asked, on = limits_of(job), job.budget.on
    for limits, choice in list(wishes.solved):
        if limits == asked:
            return beside_limits(choice, job.budget)
        wider = all(a <= b for a, b in zip(asked, limits, strict=True))
        if not wider or not choice.answer.proven:
            continue
        if not choice.found:
            return beside_limits(choice, job.budget)
        # what working around a tool would cost is another sum under another limit
        weighed = choice.tools.got or choice.tools.more
        settled = choice.answer.unique and not choice.answer.changed and not weighed
        if settled and _kept(choice, asked, on):
            return beside_limits(choice, job.budget)
    return None


def _kept(choice: Choice, asked: Limits, on: str) -> bool:
    return all(is_ <= most for is_, most in zip(comes_to(choice, on), asked, strict=True))


def _next_below(wishes: Wishes, job: Job) -> Job | None:
    """The job at the highest limit on money below all that is known; None where nothing is left to be asked."""
    most = UNLIMITED
    while True:
        lower = replace(job, budget=replace(job.budget, money=_money(most), minutes=None))
        known = _looked_up(wishes, lower)
        if known is None:
            return lower
        if not known.found or not known.answer.proven or known.answer.changed or not known.answer.unique:
            return None
        most = comes_to(known, job.budget.on)[0] - STEP
        if most <= 0:
            return None


def _money(of: int) -> Decimal | None:
    return None if of == UNLIMITED else Decimal(of) / 100
