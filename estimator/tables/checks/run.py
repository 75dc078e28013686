"""Checks across tables: a list of small functions, each yields complaints. Adding one touches no other."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence

from estimator.core.errors import Issue
from estimator.tables.checks import cycles as check_circles
from estimator.tables.checks import intake as check_intake
from estimator.tables.checks import names as check_names
from estimator.tables.checks import planning as check_plan
from estimator.tables.checks import ranges as check_ranges
from estimator.tables.checks import references as check_links
from estimator.tables.checks.context import Tables
from estimator.tables.csv_rows import Row, shorten

Check = Callable[[Tables], Iterator[Issue]]

CHECKS: tuple[Check, ...] = (
    check_links.ids_exist,
    check_links.work_names_tasks_or_bundles,
    check_links.upgrades_named_exist,
    check_links.effects_name_grades,
    check_links.upgrades_do_something,
    check_links.variants_differ,
    check_names.quantities_name_fields,
    check_names.factor_codes_known,
    check_names.factor_levels_known,
    check_names.conditions_known,
    check_names.fit_rules_known,
    check_circles.task_order,
    check_circles.bundles,
    check_circles.attribute_limits,
    check_circles.needs,
    check_ranges.three_points_rise,
    check_ranges.effects_suit_their_attribute,
    check_ranges.never_promised,
    check_ranges.attribute_limits_in_order,
    check_ranges.limits_say_one_thing,
    check_ranges.profile_weights,
    check_intake.ranges_in_order,
    check_intake.choices_listed,
    check_intake.defaults_readable,
    check_intake.likely_readable,
    check_plan.offers_name_classes,
    check_plan.breaks_are_sold,
    check_plan.waits_grow,
    check_plan.waits_keep_the_order,
    check_plan.lead_days_in_order,
)


def check_tables(rows: Mapping[str, Sequence[Row]]) -> list[Issue]:
    """Every complaint of every check, in the order of the list; long runs of a kind are shortened."""
    tables = Tables(rows)
    return shorten([issue for check in CHECKS for issue in check(tables)])
