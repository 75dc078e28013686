"""Shared money split fairly: in proportion to what each job brings about, exact to the cent."""

from __future__ import annotations

from collections.abc import Mapping

from estimator.core.amounts import Cents

RULE = (
    "parts to the job that asked for them; a pack by the quantity each job uses of it; freight by the "
    "value each job has in the parcel; a tool in equal shares by the jobs that need it; a spare by the good pieces each job has. Shares are cut "
    "to the cent; cents left over go one each to the largest cut-off rests, ties in the order of the jobs"
)


def split(cents: Cents, weights: Mapping[str, int]) -> dict[str, Cents]:
    """Whole cents in proportion to weights, by largest remainders; adds up exactly.

    Weights of zero take nothing; if all are zero, the split is equal. ValueError for no one.
    """
    if not weights or any(weight < 0 for weight in weights.values()):
        raise ValueError("money is split among somebody, by weights that are not negative")
    total = sum(weights.values())
    shares = dict(weights) if total else dict.fromkeys(weights, 1)
    total = total or len(weights)
    exact = {name: cents * weight for name, weight in shares.items()}
    got = {name: value // total for name, value in exact.items()}
    left = cents - sum(got.values())
    order = {name: number for number, name in enumerate(shares)}
    for name in sorted(exact, key=lambda n: (-(exact[n] % total), order[n]))[:left]:
        got[name] += 1
    return {name: Cents(value) for name, value in got.items()}
