"""What is of no use is in no best set: by a search over all subsets, and on jobs where it is known what is of use."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from estimator.choose.build import with_work_of
from estimator.choose.of_use import among_useful, of_use
from estimator.choose.study import study_job
from estimator.model.problem import Giver, Rule, Scale, Source
from tests.choose.examples import piece, two_bridges
from tests.choose.strategies import allowed, best, with_freight, with_packs
from tests.drawn_jobs import example, the_shop

AIMS = (("price", "cost"), ("cost",), ("cash", "price"), ("minutes", "cost"))
some = settings(max_examples=150, deadline=None, derandomize=True)


@some
@given(with_packs(), st.sampled_from(AIMS))
def test_the_best_set_is_among_what_is_of_use(problem, aims):
    if problem.z_minutes < 0:
        assert among_useful(problem) is problem
        return
    told = best(allowed(among_useful(problem)), *aims)
    known = best(allowed(problem), *aims)
    assert (told and told.chosen) == (known and known.chosen)
    if told is not None and known is not None:
        assert [getattr(told, aim) for aim in aims] == [getattr(known, aim) for aim in aims]


@pytest.mark.slow
@settings(some, max_examples=3000)
@given(with_packs(), st.sampled_from(AIMS))
def test_the_best_set_is_among_what_is_of_use_in_many_more(problem, aims):
    problem = replace(problem, z_minutes=abs(problem.z_minutes))
    told, known = best(allowed(among_useful(problem)), *aims), best(allowed(problem), *aims)
    assert (told and told.chosen) == (known and known.chosen)


@some
@given(with_freight())
def test_where_freight_is_counted_nothing_is_left_out(problem):
    assert among_useful(problem) is problem


def test_what_only_costs_is_of_no_use_and_what_saves_is():
    """A polish costs 500; a bridge costs 700 and makes 900 of the wanted one's work needless, another but 600 of it."""
    problem = replace(
        two_bridges(),
        options=("bridge", "dear", "frets", "jack", "pearl", "polish", "thrifty"),
        slots=(),
        prerequisites=(("frets", ("jack", "pearl")),),
        conflicts=(),
        pieces=(
            piece("frets", ("frets",), cost=5000, minutes=500),
            piece("polish", ("polish",), cost=500, minutes=100),
            piece("thrifty", ("thrifty",), cost=700, minutes=100),
            piece("thrifty saves", ("thrifty",), cost=-900, minutes=-90),
            piece("dear", ("dear",), cost=700, minutes=100),
            piece("dear saves", ("dear",), cost=-600, minutes=-90),
            piece("bridge", ("bridge",), cost=900, minutes=100),
            piece("together", ("bridge", "polish"), cost=300, minutes=50),
        ),
        scales=(Scale("level", 0, (Giver(20, ("frets",)),), (), (Giver(10, ("bridge",)),)),),
        amounts=(),
        rules=(
            Rule(Source.WISH, "level", "level", "level", 20, of="level"),
            Rule(Source.REFUSED, "refused", "pearl", upgrades=("pearl",), of="pearl"),
        ),
        packs=(),
    )
    assert of_use(problem) == {"frets", "jack", "thrifty"}
    # a spread taken off counts as much as the minutes that hold it at the surety
    less_spread = replace(
        problem,
        z_minutes=1.0,
        pieces=(*problem.pieces, piece("steady", ("dear",), minutes=0, sd=-0.2)),
    )
    assert of_use(less_spread) == {"frets", "jack", "thrifty", "dear"}
    assert set(among_useful(problem).options) == of_use(problem)
    assert {one.id for one in among_useful(problem).pieces} == {"frets", "thrifty", "thrifty saves"}


def test_of_an_example_a_good_part_is_left_out_with_its_work():
    study = study_job(the_shop(), example("tight-commission"), ways_open=True)
    least = study.least.costed
    assert least is not None
    problem = with_work_of(study.frame, least)
    useful = among_useful(problem)
    assert len(useful.options) < len(problem.options) / 2
    assert len(useful.pieces) < len(problem.pieces)
    wished = {rule.attribute for rule in problem.rules if rule.attribute}
    raising = {
        name
        for scale in problem.scales
        if scale.attribute in wished
        for giver in scale.tos
        for name in giver.given_by
    }
    refused = {name for rule in problem.rules if rule.kind == "refused" for name in rule.upgrades}
    assert raising - refused <= set(useful.options)
