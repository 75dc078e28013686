"""When an attribute stands at a level or above, in rows.

A level comes about as max(base, active "to") + active "add", below every active cap and every fault not mended, below what
other attributes allow, and 0 where another that it needs is missing (see ``problem.Scale``).
"""

from __future__ import annotations

from estimator.choose.milp.linear import LOOSE, Linear, total_of
from estimator.choose.milp.variables import ALWAYS, Columns
from estimator.core.errors import EngineError
from estimator.model.problem import Scale

TOP_LEVEL = 40


class Levels:
    """Adds the rows that make ``level reached >= wanted`` true whenever a literal is 1."""

    def __init__(self, columns: Columns) -> None:
        self.columns = columns
        self.scales: dict[str, Scale] = {s.attribute: s for s in columns.problem.scales}
        self._done: set[tuple[str, int, str, int]] = set()

    def require(self, attribute: str, wanted: int, tag: str, when: Linear = ALWAYS) -> None:
        """Rows, tagged ``tag``, by which ``attribute`` reaches ``wanted`` tenths when ``when`` is 1.

        Raises EngineError if the problem knows no such attribute or attributes limit each other in a ring.
        """
        self._require(attribute, wanted, tag, when, ())

    def _require(self, attribute: str, wanted: int, tag: str, when: Linear, path: tuple[str, ...]) -> None:
        if wanted <= 0:
            return
        if attribute in path:
            ring = " -> ".join((*path, attribute))
            raise EngineError(f"attributes limit each other in a ring: {ring}; mend the table of limits")
        if attribute not in self.scales:
            raise EngineError(f"the choice knows no level attribute “{attribute}”")
        key = (attribute, wanted, tag, next(iter(when.terms), -1))
        if key in self._done:
            return
        self._done.add(key)
        scale = self.scales[attribute]
        model = self.columns.model
        if wanted > TOP_LEVEL:
            model.add(when, None, 0, tag)
            return
        for cap in scale.caps:
            if cap.value < wanted:
                model.add(self.columns.giver(cap).copy().add(when), None, 1, tag)
        for fault in scale.holds:
            if fault.value < wanted:
                # a fault lets the level rise only beside work that mends it
                lifted = [(self.columns.any_of(fault.lifted_by), 1)] if fault.lifted_by else []
                model.add(total_of([*lifted, (when, -1)]), 0, None, tag)
        self._raise(scale, wanted, tag, when)
        for other, plus in scale.limits:
            self._require(other, wanted - plus, tag, when, (*path, attribute))
        for other, level in scale.needs:
            self._require(other, level, tag, when, (*path, attribute))

    def _raise(self, scale: Scale, wanted: int, tag: str, when: Linear) -> None:
        columns, model = self.columns, self.columns.model
        adds = columns.effects(scale.adds)
        lowest_add, highest_add = model.bounds(adds)
        if scale.base + lowest_add >= wanted:
            return
        if (lowest_add, highest_add) == (0, 0):
            enough = [columns.giver(to) for to in scale.tos if to.value >= wanted]
            model.add(total_of([(g, 1) for g in enough] + [(when, -1)]), 0, None, tag)
            return
        steps: set[int] = {to.value for to in scale.tos if to.value > scale.base}
        if lowest_add >= 0:
            steps = {min(step, wanted) for step in steps if step <= wanted} | {
                wanted for step in steps if step > wanted
            }
        total = adds.copy()
        total.constant += scale.base
        one_step = Linear()
        for step in sorted(steps):
            literal = Linear({model.column("s", kind=LOOSE): 1})
            providers = [(columns.giver(to), 1) for to in scale.tos if to.value >= step]
            model.add(total_of([*providers, (literal, -1)]), 0, None, tag)
            total.add(literal, step - scale.base)
            one_step.add(literal)
        model.add(one_step, None, 1, tag)
        # total >= wanted when the literal is 1, and no more than total's own least when it is 0
        least = model.bounds(total)[0]
        model.add(total.add(when, least - wanted), least, None, tag)
