"""What is in the shop before a batch begins: one stock for all its jobs, of consumables and of parts."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

from msgspec.structs import replace

from estimator.core.errors import Issue, Origin, note
from estimator.model import Job, Part, Shop
from estimator.tables.counts import kinds_of


def shelf_of(shop: Shop, jobs: Mapping[str, Job], job: str, part: str) -> str:
    """The name under which pieces of a job's part lie: its id, which jobs that mean the same thing share.

    Where an id is another thing in another job (a ``[[part]]`` of its own), the job is named too.
    """
    own = jobs[job].parts.get(part)
    if own is None or things_called(shop, jobs, part) == [_thing(own)]:
        return part
    first = next(
        name for name, it in jobs.items() if part in it.parts and _thing(it.parts[part]) == _thing(own)
    )
    return f"{part} of {first}"


def things_called(shop: Shop, jobs: Mapping[str, Job], part: str) -> list[Part]:
    """The different things that have this id: in the shop's tables, or as a part of a job."""
    found: list[Part] = []
    for it in (shop.parts.get(part), *(job.parts.get(part) for job in jobs.values())):
        if it is not None and _thing(it) not in found:
            found.append(_thing(it))
    return found


def _thing(part: Part) -> Part:
    """A part but for where it was read, and what it bars from the choice."""
    return replace(part, origin=Origin(), only=False)


def stock_by_jobs(shop: Shop, jobs: Mapping[str, Job]) -> dict[str, dict[str, Decimal]]:
    """What the job files say is in stock: by name on the shelf, then by job."""
    found: dict[str, dict[str, Decimal]] = {}
    for name, job in jobs.items():
        for what, quantity in job.stock.items():
            is_part = what in job.parts or what in shop.parts
            shelf = shelf_of(shop, jobs, name, what) if is_part else what
            found.setdefault(shelf, {})[name] = quantity
    return found


def stock_of(shop: Shop, jobs: Mapping[str, Job], named: Mapping[str, Decimal]) -> dict[str, Decimal]:
    """All that is in stock: as the batch says (``named``), else the largest number that a job file says.

    The jobs of a batch are done in one shop: each of them tells of the same stock, which is there once.
    """
    return {what: max(told.values()) for what, told in stock_by_jobs(shop, jobs).items()} | dict(named)


def buys_its_own(job: Job) -> bool:
    """Whether a job pays for strings and the like itself, whatever is in stock: its own cash is limited.

    That limit has to hold whichever of the jobs takes what is there.
    """
    return job.budget.on == "cash" and job.budget.money is not None


def kept_from_stock(
    shop: Shop, jobs: Mapping[str, Job], named: Mapping[str, Decimal], where: Origin
) -> list[Issue]:
    """Warnings of jobs that buy strings and the like themselves though some are in stock."""
    uses = {name: _used_on(shop, job) for name, job in jobs.items() if buys_its_own(job)}
    issues: list[Issue] = []
    for what in sorted(shop.stocked_pieces(stock_of(shop, jobs, named))):
        own = [name for name, used in uses.items() if what in used]
        if own:
            note(
                issues,
                where,
                f"{what} in stock goes to the other jobs: these have a limit on their own cash, and are "
                "reckoned to buy their own",
                ", ".join(own),
                "a stock for jobs without a limit on their own cash; [batch] may limit the cash of all",
                "set the limit on the batch, or lay aside by hand what these jobs shall have of it",
                severity="warning",
            )
    return issues


def _used_on(shop: Shop, job: Job) -> set[str]:
    """What tasks may use up on the instrument of a job."""
    family = job.family
    found: set[str] = set()
    for rows in shop.task_consumables.values():
        kinds = kinds_of(family, job.instrument, {named for _, _, named in rows})
        found.update(what for what, _, named in rows if named in kinds)
    return found


def told_differently(
    shop: Shop, jobs: Mapping[str, Job], named: Mapping[str, Decimal], where: Origin
) -> list[Issue]:
    """Warnings where the batch and its job files do not tell the same number."""
    issues: list[Issue] = []
    stock = stock_of(shop, jobs, named)
    for what, told in stock_by_jobs(shop, jobs).items():
        if set(told.values()) == {stock[what]}:
            continue
        numbers = [f"{job} {quantity:f}" for job, quantity in told.items()]
        numbers += [f"the batch {named[what]:f}"] if what in named else []
        note(
            issues,
            where,
            f"{what} is not told alike: {stock[what]:f} is taken as the stock of all jobs together",
            ", ".join(numbers),
            "one stock for all jobs: what [[stock]] says, else the largest number of a job file",
            "name it under [[stock]], and take it out of the job files",
            severity="warning",
        )
    return issues
