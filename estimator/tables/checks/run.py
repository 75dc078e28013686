"""Checks across tables: a list of small functions, each yields complaints. Adding one touches no other."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence

from estimator.core.errors import Issue
from estimator.tables.checks import cycles, intake, methods, names, planning, ranges, references
from estimator.tables.checks.context import Tables
from estimator.tables.csv_rows import TableRow, shorten

TableCheck = Callable[[Tables], Iterator[Issue]]

CHECKS: tuple[TableCheck, ...] = (
    references.ids_exist,
    references.work_names_tasks_or_bundles,
    references.needless_work_says_why,
    references.upgrades_named_exist,
    references.menu_names_exist,
    references.effects_name_grades,
    references.upgrades_do_something,
    references.variants_differ,
    names.quantities_name_fields,
    names.shares_and_divisors,
    names.factor_codes_known,
    names.factor_levels_known,
    names.conditions_known,
    names.changes_known,
    names.fit_rules_known,
    names.faults_readable,
    names.fault_odds_known,
    names.mends_only_known,
    names.customer_words_are_used,
    names.customer_names_are_known,
    names.per_piece_values_known,
    names.neighbours_are_numbers,
    names.patterns_are_there,
    cycles.task_order,
    cycles.order_unless,
    cycles.bundles,
    cycles.attribute_limits,
    cycles.needs,
    ranges.three_points_rise,
    ranges.effects_suit_their_attribute,
    ranges.never_promised,
    ranges.attribute_limits_in_order,
    ranges.promise_rests_on_one,
    ranges.limits_say_one_thing,
    ranges.profile_weights,
    intake.ranges_in_order,
    intake.choices_listed,
    intake.defaults_readable,
    intake.templates_readable,
    intake.likely_readable,
    intake.together_readable,
    methods.one_is_usual,
    methods.figures_come_whole,
    methods.conditions_of_ways_known,
    methods.ways_are_of_the_task,
    planning.offers_name_classes,
    planning.breaks_are_sold,
    planning.stations_are_there,
    planning.waits_grow,
    planning.waits_keep_the_order,
    planning.putting_back_has_a_place,
    planning.bored_first_has_a_place,
    planning.lead_days_in_order,
)


def check_tables(rows: Mapping[str, Sequence[TableRow]]) -> list[Issue]:
    """Every complaint of every check, in the order of the list; long runs of a kind are shortened."""
    tables = Tables(rows)
    return shorten([issue for check in CHECKS for issue in check(tables)])
