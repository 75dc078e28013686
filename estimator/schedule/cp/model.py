"""A schedule as a constraint programme for OR-Tools CP-SAT: its variables and constraints.

Everything is on the clock of working minutes, where nights do not exist; waits cross nights by the
stretches of ``Calendar.pieces``. A set-up is saved by a literal "j follows i in the same hands"; the
hands of i stay taken until j starts, so nothing can come between.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from estimator.choose.solvers.cp_sat import cp_model
from estimator.core.amounts import Elapsed, Minutes
from estimator.schedule.calendar import Calendar
from estimator.schedule.records import DUSTY, WET, Assignment, Operation, SchedulingProblem
from estimator.schedule.serial_sgs import minutes_after


class CpModel:
    """Variables and constraints of one piece of work; ``solve`` runs a chain of aims over them."""

    def __init__(
        self, work: SchedulingProblem, calendar: Calendar, horizon: Minutes, first: Sequence[Assignment]
    ) -> None:
        self.cp = cp_model()
        self.model = self.cp.CpModel()
        self.work, self.calendar, self.horizon = work, calendar, horizon
        self.known = work.by_id()
        self.first = {assignment.operation: assignment for assignment in first}
        self.start: dict[str, Any] = {}
        self.end: dict[str, Any] = {}
        self.hands: dict[str, Any] = {}  # when the person may turn to something else
        self.follows: dict[tuple[str, str], Any] = {}
        self.present: dict[tuple[str, str], Any] = {}
        self.waited: dict[tuple[str, int], Any] = {}
        for operation in work.operations:
            self._variables(operation)
        for operation in work.operations:
            self._durations(operation)
        for operation in work.operations:
            self._links(operation)
        self._people()
        self._resources()
        self._air()

    def _number(self, name: str, hint: int | None = None) -> Any:
        variable = self.model.new_int_var(0, self.horizon, name)
        if hint is not None:
            self.model.add_hint(variable, min(hint, self.horizon))
        return variable

    def _literal(self, name: str, hint: bool) -> Any:
        literal = self.model.new_bool_var(name)
        self.model.add_hint(literal, hint)
        return literal

    def _variables(self, operation: Operation) -> None:
        name, assigned = operation.id, self.first[operation.id]
        self.start[name] = self._number(f"s {name}", assigned.start)
        self.end[name] = self._number(f"e {name}", assigned.end)
        self.hands[name] = self.end[name]
        self.model.add(self.start[name] >= self.calendar.working_at(operation.earliest))
        if len(operation.one_of) > 1:
            for who in operation.one_of:
                self.present[name, who] = self._literal(f"p {name} {who}", who == assigned.who)
            self.model.add_exactly_one(self.present[name, who] for who in operation.one_of)

    def _durations(self, operation: Operation) -> None:
        """Minutes by what is followed: one literal per saving predecessor, one for "none of them".

        What was done before all this may save too: then "none of them" takes the fewest minutes, so that
        bounds hold; the schedule is timed again afterwards.
        """
        full = min([self._worst(operation), *self._standing(operation)])
        savers = [
            (other, minutes)
            for other in self.work.operations
            if other.id != operation.id
            and set(other.one_of) & set(operation.one_of)
            and (minutes := minutes_after(self.work, other, operation)) < full
        ]
        slower = [
            (self.present.get((operation.id, who)), more)
            for who, more in operation.slower
            if who in operation.one_of
        ]
        extra = sum((more if there is None else more * there for there, more in slower), Minutes(0))
        if not savers:
            self.model.add(self.end[operation.id] == self.start[operation.id] + full + extra)
            self._whole(operation, full, [])
            return
        before_in_hint = self._hinted_before()
        chosen = []
        for other, minutes in savers:
            literal = self._literal(
                f"f {other.id} {operation.id}", before_in_hint.get(operation.id) == other.id
            )
            self.follows[other.id, operation.id] = literal
            chosen.append((literal, minutes))
        none = self._literal(
            f"n {operation.id}", before_in_hint.get(operation.id) not in [o.id for o, _ in savers]
        )
        self.model.add_exactly_one([*(literal for literal, _ in chosen), none])
        saved = sum((full - minutes) * literal for literal, minutes in chosen)
        self.model.add(self.end[operation.id] == self.start[operation.id] + full - saved + extra)
        for literal, minutes in (*chosen, (none, full)):
            self._whole(operation, minutes, [literal])

    def _standing(self, operation: Operation) -> list[Minutes]:
        first = self.work.first
        return [minutes_after(self.work, first[who], operation) for who in operation.one_of if who in first]

    def _worst(self, operation: Operation) -> Minutes:
        others = (
            minutes_after(self.work, o, operation) for o in self.work.operations if o.id != operation.id
        )
        return max(minutes_after(self.work, None, operation), *others, Minutes(0))

    def _hinted_before(self) -> dict[str, str]:
        last: dict[str, str] = {}
        before: dict[str, str] = {}
        for assignment in sorted(self.first.values(), key=lambda b: (b.start, b.end)):
            if assignment.who:
                if assignment.who in last:
                    before[assignment.operation] = last[assignment.who]
                last[assignment.who] = assignment.operation
        return before

    def _whole(self, operation: Operation, minutes: Minutes, held: list[Any]) -> None:
        """Work that is not broken off starts where it fits into one window; ``held``: where this counts."""
        if operation.splittable or self.calendar.always_open:
            return
        slower = dict(operation.slower)
        for who in operation.one_of if slower else ():
            there = self.present.get((operation.id, who))
            self._fits(
                operation, minutes + slower.get(who, Minutes(0)), held if there is None else [*held, there]
            )
        if not slower:
            self._fits(operation, minutes, held)

    def _fits(self, operation: Operation, minutes: Minutes, held: list[Any]) -> None:
        domain = self.cp.Domain.from_intervals(
            [list(span) for span in self.calendar.starts_for(minutes, self.horizon)]
        )
        row = self.model.add_linear_expression_in_domain(self.start[operation.id], domain)
        if held:
            row.only_enforce_if(held)

    def after_wait(self, operation: str, lag: Elapsed) -> Any:
        """A variable: the first working minute with ``lag`` elapsed minutes gone since the end."""
        if lag <= 0:
            return self.end[operation]
        if self.calendar.always_open:
            return self.end[operation] + lag
        if (operation, lag) not in self.waited:
            end, assigned = self.end[operation], self.first[operation]
            over = self._number(f"w {operation} {lag}", self.calendar.after_wait(assigned.end, lag))
            literals = []
            for number, piece in enumerate(self.calendar.pieces(lag, self.horizon)):
                if piece.value(piece.low) > self.horizon:
                    break
                inside = piece.low <= assigned.end <= piece.high
                literal = self._literal(f"c {operation} {lag} {number}", inside)
                self.model.add_linear_constraint(end, piece.low, piece.high).only_enforce_if(literal)
                self.model.add(over == piece.base + piece.slope * end).only_enforce_if(literal)
                literals.append(literal)
            self.model.add_exactly_one(literals)
            self.model.add(over >= end + self.calendar.least_wait(lag))
            self.waited[operation, lag] = over
        return self.waited[operation, lag]

    def _links(self, operation: Operation) -> None:
        for link in operation.after:
            lag = self.known[link.before].cure if link.lag is None else link.lag
            self.model.add(self.start[operation.id] >= self.after_wait(link.before, lag))

    def _people(self) -> None:
        leads: dict[str, list[Any]] = {}
        for (before, after), literal in self.follows.items():
            leads.setdefault(before, []).append((after, literal))
        for before, following in leads.items():
            self.model.add_at_most_one(literal for _, literal in following)
            hands = self._number(f"h {before}", None)
            self.model.add(hands >= self.end[before])
            self.hands[before] = hands
            for after, literal in following:
                self.model.add(self.start[after] == hands).only_enforce_if(literal)
                for who in self.known[before].one_of:
                    self._same_person(before, after, who, literal)
        busy: dict[str, list[Any]] = {}
        for operation in self.work.operations:
            for who in operation.one_of:
                busy.setdefault(who, []).append(self._interval(operation.id, who))
        for intervals in busy.values():
            self.model.add_no_overlap(intervals)
        for who, stretches in self.work.away.items():
            self._away(who, stretches)

    def _away(self, who: str, stretches: Sequence[tuple[Minutes, Minutes]]) -> None:
        """No work in these minutes; a set-up may well stand through them, so hands are not asked."""
        shut = [self.model.new_fixed_size_interval_var(a, b - a, f"away {who} {a}") for a, b in stretches]
        for o in self.work.operations:
            if who in o.one_of:
                size = self.model.new_int_var(0, self.horizon, f"y {o.id} {who}")
                there = self.present.get((o.id, who), True)
                shut.append(
                    self.model.new_optional_interval_var(
                        self.start[o.id], size, self.end[o.id], there, f"a {o.id} {who}"
                    )
                )
        self.model.add_no_overlap(shut)

    def _same_person(self, before: str, after: str, who: str, literal: Any) -> None:
        one = self.present.get((before, who), True)
        other = self.present.get((after, who), who in self.known[after].one_of)
        if one is True and other is True:
            return
        self.model.add(one == other).only_enforce_if(literal)

    def _interval(self, name: str, who: str) -> Any:
        start, hands = self.start[name], self.hands[name]
        size = self.model.new_int_var(0, self.horizon, f"z {name} {who}")
        if (name, who) in self.present:
            return self.model.new_optional_interval_var(
                start, size, hands, self.present[name, who], f"i {name} {who}"
            )
        return self.model.new_interval_var(start, size, hands, f"i {name} {who}")

    def _span(self, name: str, until: Any, label: str) -> Any:
        size = self.model.new_int_var(0, self.horizon, f"z {name} {label}")
        return self.model.new_interval_var(self.start[name], size, until, f"r {name} {label}")

    def _resources(self) -> None:
        claims: dict[str, list[tuple[Any, int]]] = {}
        alone: dict[str, set[tuple[str, ...]]] = {}
        for operation in self.work.operations:
            for name, amount in operation.needs:
                claims.setdefault(name, []).append(
                    (self._span(operation.id, self.end[operation.id], name), amount)
                )
                alone.setdefault(name, set()).add(operation.one_of)
            for name, amount in operation.holds:
                until = self.after_wait(operation.id, operation.cure)
                claims.setdefault(name, []).append((self._span(operation.id, until, name), amount))
                alone.setdefault(name, set()).add(("held",) if operation.cure else operation.one_of)
        for name, mine in claims.items():
            hands = alone[name]
            if len(hands) == 1 and len(next(iter(hands))) == 1 and hands != {("held",)}:
                continue  # one pair of hands does them all, so they cannot clash
            if self.work.resources[name] == 1:
                self.model.add_no_overlap(interval for interval, _ in mine)
            else:
                self.model.add_cumulative(
                    [i for i, _ in mine], [a for _, a in mine], self.work.resources[name]
                )

    def _air(self) -> None:
        wet = [o for o in self.work.operations if o.air == WET]
        dusty = [o for o in self.work.operations if o.air == DUSTY]
        for one in wet:
            for other in dusty:
                clouds = self._span(other.id, self.end[other.id], f"dust {one.id}")
                drying = self._span(one.id, self.after_wait(one.id, one.cure), f"wet {other.id}")
                self.model.add_no_overlap([clouds, drying])

    def done(self, job: str) -> Any:
        """A variable no earlier than the end of everything of a job, cures included."""
        variable = self._number(f"done {job}", None)
        for operation in self.work.operations:
            if operation.job == job:
                self.model.add(variable >= self.after_wait(operation.id, operation.cure))
        return variable
