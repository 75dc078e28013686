"""Why no work is chosen, and how to come to some."""

from __future__ import annotations

from estimator.choose.study import Choice


def why_nothing(choice: Choice) -> str:
    """Why the best set is empty; where the instrument is to be sold, what tells the work that pays."""
    if any(rule.attribute for rule in choice.study.problem.rules):
        return "the instrument already meets the wish"
    job = choice.study.job
    sold = f"; what pays before a sale: estimator sell {job.file}" if job.kind == "resale" else ""
    return f"no wish is stated in [wish]{sold}"


def nothing_lines(choice: Choice, named: bool) -> list[str]:
    """That a quote holds no work, where nobody named a set; none where it holds some."""
    if choice.estimate.chosen or named:
        return []
    return [f"no work is in it: {why_nothing(choice)}; --with ID names the work"]
