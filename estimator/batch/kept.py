"""Jobs of a batch whose wish nothing else meets: what stays as it is is given up for them, as little as can be."""

from __future__ import annotations

from collections.abc import Collection

from msgspec.structs import replace

from estimator.batch.build import BatchStudy, with_given_up
from estimator.choose.study import given_up_for


def opened(study: BatchStudy, jobs: Collection[str]) -> BatchStudy:
    """The batch in which each of these jobs that cannot meet its own wish and limits may be changed for it."""
    changed = dict(study.changed)
    for name in jobs:
        if given_up := given_up_for(study.studies[name]):
            changed[name] = given_up
    return replace(study, batch=with_given_up(study.batch, changed), changed=changed)
