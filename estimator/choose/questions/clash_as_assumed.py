"""What stands in the clashes of a wish only because something is assumed, and whether measuring it could help."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from msgspec import Struct

from estimator.choose.as_assumed import Guess, RefusedAsAssumed, named_as_assumed, values_of
from estimator.choose.questions.chosen_again import ChosenAgain
from estimator.choose.study import Choice, Known
from estimator.fit.otherwise import Following
from estimator.model.problem import Rule, Source

MOST = 8
"""For so many sets of other readings at most the choice is made again."""


class Rescue(Struct, frozen=True):
    """An upgrade refused as assumed, and the set with which the wish can be met were these of its guesses otherwise."""

    refused: RefusedAsAssumed
    guesses: tuple[Guess, ...]
    chosen: tuple[str, ...]


class ClashAsAssumed(Struct, frozen=True):
    """What of the clashes rests on assumed values; ``rescues``: those with which the wish can be met, solved again."""

    refused: tuple[RefusedAsAssumed, ...] = ()
    rescues: tuple[Rescue, ...] = ()

    def met_with(self, refused: RefusedAsAssumed) -> tuple[str, ...] | None:
        """The set that meets the wish with the values of one otherwise; None where none was found."""
        return next((one.chosen for one in self.rescues if one.refused is refused), None)

    def within(self, rules: Iterable[Rule]) -> tuple[RefusedAsAssumed, ...]:
        """Those of one clash."""
        named = unfit_in(rules)
        return tuple(one for one in self.refused if one.upgrade in named)


NO_CLASH = ClashAsAssumed()


def unfit_in(rules: Iterable[Rule]) -> set[str]:
    """The upgrades that do not fit, of some rules."""
    return {rule.of for rule in rules if rule.source == Source.UNFIT}


def clash_as_assumed(choice: Choice) -> ClashAsAssumed:
    """What of the clashes rests on assumed values; nothing where a set was found."""
    named = unfit_in(rule for conflict in choice.answer.conflicts for rule in conflict.rules)
    if choice.found or not named:
        return NO_CLASH
    refused = named_as_assumed(choice.open_study, named)
    return ClashAsAssumed(refused, tuple(_rescues(choice, refused)))


def _rescues(choice: Choice, refused: Iterable[RefusedAsAssumed]) -> Iterator[Rescue]:
    """The choice made again with the values of each, the same values once."""
    study = choice.open_study
    again, following = ChosenAgain(choice, Known()), Following(study.shop, study.job)
    known: dict[object, tuple[str, ...] | None] = {}
    for one in refused:
        for guesses in one.trials():
            key = tuple((guess.name, guess.value) for guess in guesses)
            if key not in known:
                if len(known) >= MOST:
                    return
                found = again.on(following.all_changed(values_of(guesses)))
                known[key] = None if found is None or found.cost is None else found.chosen
            if (chosen := known[key]) is not None:
                yield Rescue(one, guesses, chosen)
                break
