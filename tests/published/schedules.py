"""Published scheduling cases as operations of ``schedule.solve``."""

from __future__ import annotations

from collections.abc import Sequence

from estimator.schedule.records import Link, Operation

#: Fisher and Thompson 1963; data and optimum as collected in the public JSPLIB instance library
FT06 = """
2 1 0 3 1 6 3 7 5 3 4 6
1 8 2 5 4 10 5 10 0 10 3 4
2 5 3 4 5 8 0 9 1 1 4 7
1 5 0 5 2 5 3 3 4 8 5 9
2 9 1 3 4 5 5 4 0 3 3 1
1 3 3 3 5 9 0 10 4 4 2 1
"""
#: Lawrence 1984; the same library
LA01 = """
1 21 0 53 4 95 3 55 2 34
0 21 3 52 4 16 2 26 1 71
3 39 4 98 1 42 2 31 0 12
1 77 0 55 4 79 2 66 3 77
0 83 3 34 2 64 1 19 4 37
1 54 2 43 4 79 0 92 3 62
3 69 4 77 1 87 2 87 0 93
2 38 0 60 1 41 3 24 4 83
3 17 1 49 4 25 0 44 2 98
4 77 3 79 2 43 1 75 0 96
"""
#: Fisher and Thompson 1963; the same library
FT10 = """
0 29 1 78 2 9 3 36 4 49 5 11 6 62 7 56 8 44 9 21
0 43 2 90 4 75 9 11 3 69 1 28 6 46 5 46 7 72 8 30
1 91 0 85 3 39 2 74 8 90 5 10 7 12 6 89 9 45 4 33
1 81 2 95 0 71 4 99 6 9 8 52 7 85 3 98 9 22 5 43
2 14 0 6 1 22 5 61 3 26 4 69 8 21 7 49 9 72 6 53
2 84 1 2 5 52 3 95 8 48 9 72 0 47 6 65 4 6 7 25
1 46 0 37 3 61 2 13 6 32 5 21 9 32 8 89 7 30 4 55
2 31 0 86 1 46 5 74 4 32 6 88 8 19 9 48 7 36 3 79
0 76 1 69 3 76 5 51 2 85 9 11 6 40 7 89 4 26 8 74
1 85 0 13 2 61 6 7 8 64 9 76 5 47 3 52 4 90 7 45
"""
#: one optimal timetable of ft06 as printed beside its data: start times, operation by operation
FT06_STARTS = (
    (5, 6, 16, 30, 42, 49),
    (0, 8, 13, 28, 38, 48),
    (0, 5, 9, 18, 27, 42),
    (8, 13, 22, 27, 30, 45),
    (13, 22, 25, 38, 48, 52),
    (13, 16, 19, 28, 38, 42),
)


def job_shop(text: str) -> tuple[list[Operation], dict[str, int]]:
    """Rows of machine and time pairs, one job a row."""
    operations: list[Operation] = []
    machines: dict[str, int] = {}
    for number, line in enumerate(text.split("\n")[1:-1]):
        cells = list(map(int, line.split()))
        for step in range(len(cells) // 2):
            machine = f"machine {cells[2 * step]}"
            machines[machine] = 1
            after = (Link(f"{number}.{step - 1}"),) if step else ()
            operations.append(
                Operation(f"{number}.{step}", f"{number}", cells[2 * step + 1], after, ((machine, 1),))
            )
    return operations, machines


def project(
    capacity: Sequence[int], rows: Sequence[tuple[int, tuple[int, ...], tuple[int, ...]]]
) -> tuple[list[Operation], dict[str, int]]:
    """Activities as (duration, amounts, successors), numbered from 1."""
    resources = {f"resource {number}": there for number, there in enumerate(capacity)}
    before: dict[int, list[int]] = {number: [] for number in range(1, len(rows) + 1)}
    for number, (_, _, followers) in enumerate(rows, 1):
        for follower in followers:
            before[follower].append(number)
    operations = [
        Operation(
            str(number),
            "project",
            minutes,
            tuple(Link(str(b)) for b in before[number]),
            tuple((f"resource {r}", amount) for r, amount in enumerate(amounts) if amount),
        )
        for number, (minutes, amounts, _) in enumerate(rows, 1)
    ]
    return operations, resources


#: Patterson 1984, instance pat2; data and optimum seen in a public collection of scheduling instances
PAT2 = (
    (0, (0, 0, 0), (2, 3)),
    (1, (2, 2, 1), (4, 5)),
    (2, (0, 2, 1), (6,)),
    (2, (3, 3, 3), (7,)),
    (3, (2, 1, 3), (6,)),
    (2, (1, 1, 0), (7,)),
    (0, (0, 0, 0), ()),
)
#: Patterson 1984, instance pat7; the same collection
PAT7 = (
    (0, (0,), (2, 3, 8)),
    (3, (2,), (5,)),
    (3, (3,), (4, 6)),
    (1, (2,), (5,)),
    (2, (3,), (9,)),
    (2, (4,), (7,)),
    (3, (2,), (9,)),
    (3, (1,), (9,)),
    (0, (0,), ()),
)


def one_machine(
    heads: Sequence[int], times: Sequence[int], tails: Sequence[int]
) -> tuple[list[Operation], dict[str, int]]:
    """Jobs on one bench that arrive at ``heads`` and cure for ``tails``."""
    operations = [
        Operation(str(number), str(number), time, needs=(("bench", 1),), cure=tail, earliest=head)
        for number, (head, time, tail) in enumerate(zip(heads, times, tails, strict=True), 1)
    ]
    return operations, {"bench": 1}


def bench_cure_bench(jobs: Sequence[tuple[int, int, int]]) -> tuple[list[Operation], dict[str, int]]:
    """Jobs that take the bench, cure by themselves, and take the bench again."""
    operations = []
    for number, (first, cure, second) in enumerate(jobs, 1):
        operations += [
            Operation(f"{number} first", str(number), first, one_of=("hands",), cure=cure),
            Operation(f"{number} second", str(number), second, (Link(f"{number} first"),), one_of=("hands",)),
        ]
    return operations, {"hands": 1}


#: PSPLIB (R. Kolisch and A. Sprecher, European Journal of Operational Research 96, 1997), j301_1 as the
#: sources of the package psplib carry it: duration | amounts | successors, activities from 1
J301_1 = """
0 | 0 0 0 0 | 2 3 4
8 | 4 0 0 0 | 6 11 15
4 | 10 0 0 0 | 7 8 13
6 | 0 0 0 3 | 5 9 10
3 | 3 0 0 0 | 20
8 | 0 0 0 8 | 30
5 | 4 0 0 0 | 27
9 | 0 1 0 0 | 12 19 27
2 | 6 0 0 0 | 14
7 | 0 0 0 1 | 16 25
9 | 0 5 0 0 | 20 26
2 | 0 7 0 0 | 14
6 | 4 0 0 0 | 17 18
3 | 0 8 0 0 | 17
9 | 3 0 0 0 | 25
10 | 0 0 0 5 | 21 22
6 | 0 0 0 8 | 22
5 | 0 0 0 7 | 20 22
3 | 0 1 0 0 | 24 29
7 | 0 10 0 0 | 23 25
2 | 0 0 0 6 | 28
7 | 2 0 0 0 | 23
2 | 3 0 0 0 | 24
3 | 0 9 0 0 | 30
3 | 4 0 0 0 | 30
7 | 0 0 4 0 | 31
8 | 0 0 0 7 | 28
3 | 0 8 0 0 | 31
7 | 0 7 0 0 | 32
2 | 0 7 0 0 | 32
2 | 0 0 2 0 | 32
0 | 0 0 0 0 |
"""


def activities(text: str) -> list[tuple[int, tuple[int, ...], tuple[int, ...]]]:
    """Rows of duration, amounts and successors."""
    rows = []
    for line in text.strip().split("\n"):
        minutes, amounts, followers = (tuple(map(int, cell.split())) for cell in line.split("|"))
        rows.append((minutes[0], amounts, followers))
    return rows
