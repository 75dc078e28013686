"""Which measurement next: what each value that nobody took could change, and the money at stake.

Every assumed value is put, alone, to what the intake table says that it may turn out to be (see
``fit.otherwise``; ``risk`` tries the same values). The chosen set is priced again with each; where one
of it no longer fits, another upgrade becomes possible or an attribute turns out to stand elsewhere, the
choice is made again. Worth = chance that the assumption is wrong x money at stake. Where the wish cannot
be met as things are assumed there is no set to price: then what would make it possible comes first, and
what turns most verdicts next.

Approximations, so that the answer comes within seconds: one value at a time (no two wrong at once); the
chance is the field's own (``fit_chance_pct`` or ``spread``); at most ``solves`` choices are made again,
those that promise most first.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence
from decimal import Decimal

from msgspec import Struct
from msgspec.structs import replace

from estimator.choose.infeasible.conflicts import misses
from estimator.choose.questions.chosen_again import ChosenAgain
from estimator.choose.study import Choice, Known, Study, study_job, study_of_set
from estimator.core.amounts import Cents
from estimator.core.text import value_text
from estimator.estimate.baseline import level_limits, level_now
from estimator.estimate.labour import Lines
from estimator.estimate.risk.anew import Anew
from estimator.estimate.risk.look_ahead import fields_behind
from estimator.estimate.ways import upgrades_in
from estimator.fit.otherwise import Otherwise, Sketch, Turn, Value, distance
from estimator.fit.verdicts import Nearby
from estimator.model import Job
from estimator.model.problem import LIMITS
from estimator.tables.likely import chance_wrong
from estimator.tables.quantities import Value as AnyValue

#: how many values of one field are priced and looked into
LOOKED_INTO = 6
#: how many upgrades of a kind are named
NAMED = 2


class WorthMeasuring(Struct, frozen=True):
    """A value worth measuring: what is assumed, what it could be, what that would change.

    ``chance`` is a fraction; ``stake`` and ``worth`` are cents of cost: the largest change, and the
    chance times it. ``changes`` says in words what would become of verdicts and choice; ``turns`` are the
    upgrades whose outcome or work would be another; ``rescues`` tells that a wish that cannot be met could;
    ``wished`` counts what bears on the wish: levels that stand elsewhere, upgrades that raise what is wished.
    """

    field: str
    what: str
    how: str
    assumed: str
    could_be: str
    chance: Decimal
    stake: Cents
    worth: Cents
    changes: str
    value: Value
    turns: tuple[Turn, ...]
    rescues: bool = False
    wished: int = 0


class _Trial(Struct, frozen=True):
    """One field put to one other value: the verdicts that turn, whether levels do, whether the set's work may."""

    field: str
    value: Value
    turns: tuple[Turn, ...]
    levels: bool
    touches: bool


class _Look(Struct, frozen=True):
    """The same at a first look: what turns, in short."""

    value: Value
    sketch: Sketch
    levels: bool
    touches: bool


class _Tried(Struct, frozen=True):
    """What one value tried leaves for the next: verdicts that turn, the chosen set priced, the choice made again."""

    otherwise: Otherwise
    anew: Anew
    chosen: ChosenAgain
    known: Known


class MeasuringAdvice(Struct, frozen=True):
    """What was looked at: values worth measuring, the most worth first; how many were tried; what was not."""

    worths: tuple[WorthMeasuring, ...]
    tried: int
    taken_for_seen: tuple[str, ...]


def look_into(
    choice: Choice, solves: int = 12, progress: Callable[[int, int], None] | None = None
) -> MeasuringAdvice:
    """Every assumed value tried, with what was taken for certain."""
    study = choice.study
    otherwise = Otherwise(choice.open_study.shop, study.job)
    lines = study.costing.setting.lines
    anew = Anew(study.shop, study.job, frozenset(choice.estimate.chosen), lines)
    known = Known(Nearby(otherwise), lines or Lines())
    tried = _Tried(otherwise, anew, ChosenAgain(choice, known), known)
    trials: list[_Trial] = []
    fields = otherwise.assumed
    behind = fields_behind(study.costing, _looked_at(choice))
    for number, name in enumerate(fields, start=1):
        if progress:
            progress(number, 2 * len(fields))
        trials.extend(_trials(choice, otherwise, name, behind))
    trials.sort(key=lambda t: (-_promise(choice, t), t.field, str(t.value)))
    found: dict[str, WorthMeasuring] = {}
    solved = 0
    for number, trial in enumerate(trials, start=1):
        if progress:
            progress(len(trials) + number, 2 * len(trials))
        eases = not choice.found and trial.touches
        may_solve = solved < solves and (trial.levels or eases or _opens_something(choice, trial))
        solved += may_solve
        worth = _worth(choice, tried, trial, may_solve)
        if worth and (trial.field not in found or _rank(worth) < _rank(found[trial.field])):
            found[trial.field] = worth
    return MeasuringAdvice(tuple(sorted(found.values(), key=_rank)), len(fields), otherwise.taken_for_seen)


def _rank(worth: WorthMeasuring) -> tuple[object, ...]:
    turned = sum(1 for turn in worth.turns if turn.fits_otherwise)
    return (
        -worth.worth,
        not worth.rescues,
        not worth.wished,
        -worth.chance * worth.wished,
        -worth.chance * turned,
        -worth.chance * len(worth.turns),
        worth.field,
    )


def _wished(study: Study, trial: _Trial) -> int:
    """How much of what a value changes bears on the wish."""
    wanted = {rule.attribute for rule in study.problem.rules if rule.attribute}
    raising = {
        turn.row
        for turn in trial.turns
        if turn.fits_otherwise
        and not wanted.isdisjoint(effect.attribute for effect in study.shop.upgrade_effects.get(turn.row, ()))
    }
    return len(raising) + (len(_attributes_told(study, trial.field)) if trial.levels else 0)


def _trials(choice: Choice, otherwise: Otherwise, field: str, behind: Collection[str]) -> list[_Trial]:
    """The values of a field that change anything: of each pattern of changes the one nearest to the assumed.

    ``behind``: the fields that the work looked at rests on.
    """
    study = choice.study
    attributes = _attributes_told(study, field)
    limits = [
        limit for name in attributes for limit in level_limits(study.shop.attributes[name], study.job.is_bass)
    ]
    touches = not {field, *otherwise.followers(field)}.isdisjoint(behind)
    looks = []
    for value in otherwise.values(field, limits):
        sketch = otherwise.sketch(field, value)
        levels = any(
            level_now(study.shop, study.shop.attributes[name], study.job)[0]
            != level_now(study.shop, study.shop.attributes[name], otherwise.changed(field, value))[0]
            for name in attributes
        )
        if sketch or levels or touches:
            looks.append(_Look(value, sketch, levels, touches))
    kept = _few(looks, study.job.instrument[field].value)
    trials = [
        _Trial(field, one.value, otherwise.turns(field, one.value), one.levels, touches) for one in kept
    ]
    return [trial for trial in trials if trial.turns or trial.levels or touches]


def _looked_at(choice: Choice) -> frozenset[str]:
    """The upgrades whose work matters: of the chosen set, else of the sets that come nearest to the wish."""
    if choice.found:
        return frozenset(choice.estimate.chosen)
    answer = choice.answer
    near = [way.chosen for way in answer.ways_out]
    near += [c.chosen for c in (answer.whole_wish, answer.within_limits, answer.together) if c is not None]
    return frozenset(upgrade for chosen in near for upgrade in upgrades_in(chosen))


def _few(looks: Sequence[_Look], assumed: AnyValue) -> list[_Look]:
    patterns: dict[object, _Look] = {}
    for look in sorted(looks, key=lambda one: distance(one.value, assumed)):
        # what is merely more or less of the same work is looked at where it is most
        patterns.setdefault((frozenset(turned for turned in look.sketch if turned[2]), look.levels), look)
    strongest = sorted(
        patterns.values(),
        key=lambda one: (-sum(before != after for _, (before, after), _ in one.sketch), -len(one.sketch)),
    )
    ends = (looks[0], looks[-1]) if looks else ()
    # numbers make work more or less between their ends; of words each may be the quickest
    words = [look for look in looks if look.touches and isinstance(look.value, str)]
    kept = {str(look.value): look for look in (*ends, *strongest[:LOOKED_INTO], *words[:LOOKED_INTO])}
    return list(kept.values())


def _attributes_told(study: Study, field: str) -> tuple[str, ...]:
    """The wished attributes whose standing today a field tells."""
    wanted = sorted({rule.attribute for rule in study.problem.rules if rule.attribute})
    signs = {sign.attribute for sign in study.shop.attribute_signs if sign.field == field}
    return tuple(n for n in wanted if study.shop.attributes[n].intake_field == field or n in signs)


def _chance(study: Study, field: str) -> Decimal:
    return chance_wrong(study.shop.intake[field])


def _promise(choice: Choice, trial: _Trial) -> Decimal:
    """A rough rank before anything is priced: the chance, more if the chosen set or a level is touched."""
    chosen = set(choice.estimate.chosen)
    touched = sum(1 for turn in trial.turns if turn.upgrade in chosen and turn.fits_otherwise)
    gained = 0 if choice.found else sum(1 for turn in trial.turns if not turn.was_open and not turn.lost)
    eases = 2 if not choice.found and trial.touches else 0
    return _chance(choice.study, trial.field) * (
        1 + 4 * touched + (2 if trial.levels else 0) + eases + gained
    )


def _opens_something(choice: Choice, trial: _Trial) -> bool:
    """Whether a chosen upgrade stops fitting, or another becomes possible or less work."""
    chosen = set(choice.estimate.chosen) if choice.found else set()
    for turn in trial.turns:
        if turn.upgrade in chosen and turn.lost:
            return True
        if turn.upgrade not in chosen and not turn.lost and (not turn.was_open or _less_work(turn)):
            return True
    return False


def _less_work(turn: Turn) -> bool:
    before = len(turn.before.demands) if turn.before else 0
    return turn.after is not None and len(turn.after.demands) < before


def _worth(choice: Choice, tried: _Tried, trial: _Trial, may_solve: bool) -> WorthMeasuring | None:
    study = choice.study
    stake, words, rescues = Cents(0), list[str](), False
    if choice.found:
        stake, words = _of_chosen_set(choice, tried, trial, may_solve)
    elif may_solve:
        words = _of_wish(tried, trial)
        rescues = bool(words)
    words += _in_words(trial.turns)
    if trial.levels:
        told = ", ".join(_attributes_told(study, trial.field))
        words.append(f"{told} would stand elsewhere today")
    if not words:
        return None
    spec, reading = study.shop.intake[trial.field], study.job.instrument[trial.field]
    chance = _chance(study, trial.field)
    return WorthMeasuring(
        trial.field,
        spec.what,
        spec.how,
        value_text(reading.value, spec.unit),
        value_text(trial.value, spec.unit),
        chance,
        stake,
        Cents(int(chance * stake)),
        "; ".join(words),
        trial.value,
        trial.turns,
        rescues,
        _wished(study, trial),
    )


def _of_chosen_set(choice: Choice, tried: _Tried, trial: _Trial, may_solve: bool) -> tuple[Cents, list[str]]:
    """Money at stake and what becomes of the chosen set."""
    words: list[str] = []
    beyond: list[str] = []
    stake = Cents(0)
    lost = {turn.upgrade for turn in trial.turns if turn.lost} & set(choice.estimate.chosen)
    again = choice.estimate.totals.cost
    if not lost and (trial.touches or any(t.upgrade in choice.estimate.chosen for t in trial.turns)):
        job = tried.otherwise.changed(trial.field, trial.value)
        priced = tried.anew.priced(job)
        again = priced[1] if priced else again
        if priced:
            beyond = _beyond(choice, job, tried.known)
    if again != choice.estimate.totals.cost:
        stake = abs(again - choice.estimate.totals.cost)
        more = again > choice.estimate.totals.cost
        words.append("the same set takes " + ("more" if more else "less") + " work")
    words += [f"it would go beyond this: {limit}" for limit in beyond]
    if may_solve or lost or beyond:
        stake, words = _choose_again(choice, tried, trial, stake, words)
    if lost and not stake:
        # nothing better is known: lost are the parts that do not fit
        stake = sum((part.cost for part in choice.estimate.parts if part.upgrade in lost), Cents(0))
    return stake, words


def _beyond(choice: Choice, job: Job, known: Known) -> list[str]:
    """The limits on money and time that the chosen set would not keep on a changed job, in words."""
    if not job.wanted_by and all(rule.kind not in LIMITS for rule in choice.study.problem.rules):
        return []
    chosen = choice.estimate.chosen
    if job.kind == "resale":  # what its sale can bring is made of all that may be done
        study = study_job(choice.study.shop, job, known=known)
    else:
        study = study_of_set(choice.study, job, chosen, known)
    rules = tuple(rule for rule in study.problem.rules if rule.kind in LIMITS)
    missed = misses(replace(study.problem, rules=rules), chosen, study.measure(chosen))
    return [one.words for one in missed]


def _choose_again(
    choice: Choice, tried: _Tried, trial: _Trial, stake: Cents, words: list[str]
) -> tuple[Cents, list[str]]:
    again = tried.chosen.on(tried.otherwise.changed(trial.field, trial.value))
    if again is not None and again.cost is None and again.status != "infeasible":
        return stake, words  # no answer in the time given says nothing
    if again is None or again.cost is None:
        # what is lost for certain are the parts, bought for a set that will not do
        return max(stake, choice.estimate.totals.money.parts), [*words, "the wish could not be met"]
    gone = sorted(set(choice.estimate.chosen) - set(again.chosen))
    come = sorted(set(again.chosen) - set(choice.estimate.chosen))
    if gone or come:
        swap = " and ".join(
            part
            for part in (f"out: {', '.join(gone)}" if gone else "", f"in: {', '.join(come)}" if come else "")
            if part
        )
        words = [*words, f"another set would be best ({swap})"]
    return max(stake, abs(again.cost - choice.estimate.totals.cost)), words


def _of_wish(tried: _Tried, trial: _Trial) -> list[str]:
    """Whether the wish that cannot be met as things are assumed could be met then."""
    again = tried.chosen.on(tried.otherwise.changed(trial.field, trial.value))
    if again is None or again.cost is None:
        return []
    return ["the wish could be met with " + (", ".join(again.chosen) or "no upgrade at all")]


def _in_words(turns: Iterable[Turn]) -> list[str]:
    """What becomes of verdicts, each kind of change once, with the upgrades it befalls."""
    kinds: dict[str, dict[str, None]] = {}
    for turn in turns:
        kinds.setdefault(_kind(turn), {}).setdefault(turn.row)
    words = []
    for kind in (
        "no longer fits",
        "no longer called for",
        "would fit",
        "would be called for",
        "fits after more work",
        "fits without further work",
        "other work",
    ):
        rows = list(kinds.get(kind, ()))
        if rows:
            more = f" and {len(rows) - NAMED} more" if len(rows) > NAMED else ""
            words.append(f"{kind}: {', '.join(rows[:NAMED])}{more}")
    return words


def _kind(turn: Turn) -> str:
    if turn.was_open and turn.lost:
        return "no longer fits" if turn.after else "no longer called for"
    if not turn.was_open and not turn.lost:
        return "would fit" if turn.before else "would be called for"
    before, after = turn.outcomes
    if before == "fits" and after == "fits-after":
        return "fits after more work"
    if before == "fits-after" and after == "fits":
        return "fits without further work"
    return "other work"
