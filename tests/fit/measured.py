"""A job as it would be, had one field been measured."""

from __future__ import annotations

from estimator.fit.otherwise import follow, with_defaults, with_value
from estimator.model import Job, Shop
from estimator.tables.quantities import Value as AnyValue


def measured_as(shop: Shop, job: Job, field: str, value: AnyValue) -> Job:
    """The job, had the field been measured so: with the defaults that follow from it."""
    return follow(shop, with_defaults(shop, job), with_value(job, field, value))
