"""Decide, price and plan upgrades of fretted electric instruments at one bench.

The library is usable without the command line::

    from estimator import load_shop, load_job, study_job, make_choice

    shop = load_shop()
    choice = make_choice(study_job(shop, load_job("job.toml", shop)))

Public names are loaded on first use, so that importing the package costs next to nothing.
"""

from __future__ import annotations

from importlib import import_module

__version__ = "0.1.0"

_HOME = {
    "load_shop": "estimator.tables.load",
    "load_job": "estimator.input.job.load",
    "study_job": "estimator.choose.study",
    "make_estimate": "estimator.choose.study",
    "make_choice": "estimator.choose.study",
    "price_work": "estimator.estimate.work_list",
    "to_frames": "estimator.report.frames",
    "write_quote": "estimator.workbook.write.quote",
    "InputError": "estimator.core.errors",
    "Issue": "estimator.core.errors",
    "Exit": "estimator.core.errors",
}

__all__ = ["__version__", *sorted(_HOME)]


def __getattr__(name: str) -> object:
    if name in _HOME:
        return getattr(import_module(_HOME[name]), name)
    raise AttributeError(f"module 'estimator' has no public name {name!r}")
