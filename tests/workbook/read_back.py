"""A workbook that was edited, opened and read in one go."""

from __future__ import annotations

from collections.abc import Collection
from pathlib import Path

from estimator.choose.study import Study
from estimator.workbook.read.costing import Edits, open_costing, read_edits


def read_costing(path: str | Path, study: Study, chosen: Collection[str]) -> Edits:
    """The changes in an edited workbook of this job; InputError carries every complaint, by sheet and cell."""
    return read_edits(open_costing(path, study), study, chosen)
