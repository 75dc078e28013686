"""Why no work is chosen, and how to come to some."""

from __future__ import annotations

from estimator.choose.study import Choice, spec_rows


def met_already(choice: Choice, next_step: str = "") -> str:
    """That nothing needs doing for what is wished, and on what nobody looked at that rests; blank where nothing is wished.

    ``next_step`` says how to look, and stands with what was not looked at.
    """
    wished = {rule.attribute for rule in choice.study.problem.rules if rule.attribute}
    if not wished:
        return ""
    guessed = [
        row.attribute.replace("-", " ")
        for row in spec_rows(choice.study, ())
        if row.attribute in wished and row.now_assumed
    ]
    if not guessed:
        return "the instrument already meets the wish"
    unseen = "; ".join(words for words in (f"not looked at: {', '.join(guessed)}", next_step) if words)
    return f"the instrument already meets the wish as far as is assumed ({unseen})"


def why_nothing(choice: Choice) -> str:
    """Why the best set is empty; where the instrument is to be sold, what tells the work that pays."""
    job = choice.study.job
    if met := met_already(choice, f"estimator measure {job.file} tells what to look at"):
        return met
    sold = f"; what pays before a sale: estimator sell {job.file}" if job.kind == "resale" else ""
    return f"no wish is stated in [wish]{sold}"


def nothing_lines(choice: Choice, named: bool) -> list[str]:
    """That a quote holds no work, where nobody named a set; none where it holds some."""
    if choice.estimate.chosen or named:
        return []
    return [f"no work is in it: {why_nothing(choice)}; --with ID names the work"]
