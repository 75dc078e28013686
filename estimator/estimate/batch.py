"""Set-up shared over a run: times of a batch, the least stable batch, the batch for a wanted rate."""

from __future__ import annotations

from math import ceil, floor


def batch_minutes(setup: float, run: float, pieces: int, repeat_share: float = 0.0) -> float:
    """Minutes of a run of ``pieces``: set-up x (1 + (n - 1) x repeat share) + n x run.

    ``repeat_share`` 0: one set-up for all; 1: a whole set-up for each. Nought pieces take nought.
    """
    if pieces < 0:
        raise ValueError("a run has no negative number of pieces")
    if pieces == 0:
        return 0.0
    return setup * (1.0 + (pieces - 1) * repeat_share) + pieces * run


def minutes_each(setup: float, run: float, pieces: int, repeat_share: float = 0.0) -> float:
    """Minutes per piece of a run of at least one piece; falls towards run + set-up x repeat share."""
    if pieces < 1:
        raise ValueError("minutes per piece need at least one piece")
    return batch_minutes(setup, run, pieces, repeat_share) / pieces


def minutes_saved(setup: float, pieces: int, repeat_share: float) -> float:
    """Minutes that a run saves against as many single jobs."""
    return setup * (pieces - 1) * (1.0 - repeat_share) if pieces > 1 else 0.0


def least_stable_batch(setup: float, arrivals: float, run: float) -> int:
    """The smallest batch that keeps up with ``arrivals`` pieces per unit of time.

    k > t_s r_a / (1 - r_a t_0) (Hopp and Spearman, Factory Physics, chapter 9). ValueError where the
    runs alone already fill the time.
    """
    busy = arrivals * run
    if busy >= 1.0:
        raise ValueError("the runs alone take all the time there is: no batch keeps up")
    return floor(setup * arrivals / (1.0 - busy)) + 1


def batch_for_rate(setup: float, run: float, minutes_per_piece: float) -> int:
    """The smallest batch whose capacity B / (set-up + B x run) reaches one piece in so many minutes.

    B = set-up / (minutes - run) (Cachon and Terwiesch, Matching Supply with Demand). ValueError where
    the run alone takes as long.
    """
    if minutes_per_piece <= run:
        raise ValueError("the run alone takes as long as a piece may take: no batch is large enough")
    exact = setup / (minutes_per_piece - run)
    near = round(exact)
    return max(1, near if abs(exact - near) < 1e-9 else ceil(exact))


def capacity(setup: float, run: float, pieces: int) -> float:
    """Pieces per minute of a cycle of one set-up and ``pieces`` runs."""
    return pieces / (setup + pieces * run)


#: unit time within one run of the same pattern against the first piece, pieces 1, 2, 3, then all (memory)
RHYTHM = (1.0, 0.97, 0.95, 0.94)


def rhythm(piece: int) -> float:
    """Run-time multiple of the n-th piece of a run of the same pattern."""
    if piece < 1:
        raise ValueError("pieces are counted from 1")
    return RHYTHM[min(piece, len(RHYTHM)) - 1]
