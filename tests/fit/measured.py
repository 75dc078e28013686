"""A job as it would be, had one field been measured."""

from __future__ import annotations

from types import MappingProxyType

from msgspec.structs import replace

from estimator.fit.otherwise import with_defaults, with_value
from estimator.model import Job, Shop
from estimator.tables.quantities import Value as AnyValue


def measured_as(shop: Shop, job: Job, field: str, value: AnyValue) -> Job:
    """The job, had the field been measured so: every default that comes out otherwise then, whatever it is."""
    measured = with_value(job, field, value)
    before, after = with_defaults(shop, job), with_defaults(shop, measured)
    moved = {
        name: after[name]
        for name, reading in measured.instrument.items()
        if reading.assumed and after[name].value != before[name].value
    }
    return replace(measured, instrument=MappingProxyType({**measured.instrument, **moved}))
