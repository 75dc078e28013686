"""What the shop's own numbers say: estimate against actual, pay per hour by kind, cash by month."""

from __future__ import annotations

from fractions import Fraction

from estimator.core.amounts import Cents, Seconds
from estimator.core.money import half_up
from estimator.ledger.board import money_owed
from estimator.ledger.clock import kept_moment
from estimator.ledger.jobs import PAYMENTS, account
from estimator.ledger.records import (
    MonthCash,
    MonthHours,
    PayPerHour,
    Reports,
    TaskHours,
    TaskOverall,
    TaskTimes,
    WarrantyWork,
)
from estimator.ledger.states import DONE
from estimator.ledger.store import Ledger

PERCENT = "(200 * {of} + {whole}) / (2 * {whole})"
"""Whole numbers above zero as whole per cent of another, rounded half up."""


def estimate_against_actual(ledger: Ledger, job: str | None = None) -> list[TaskTimes]:
    """Per job and task: seconds planned by the accepted quote, seconds taken by hand; what has neither is left out."""
    # the job stands within each part, so that its indexes are used
    mine, its = ("", "") if job is None else (" WHERE job.id = :job", " AND job = :job")
    return ledger.told(
        TaskTimes,
        "WITH planned AS (SELECT job.id AS job, quote_task.task, quote_task.seconds FROM job"
        f" JOIN quote_task ON quote_task.quote = job.accepted_quote{mine}),"
        " taken AS (SELECT job, task, SUM(seconds) AS seconds FROM time_taken"
        f" WHERE kind = 'hands'{its} GROUP BY job, task),"
        " pairs AS (SELECT job, task FROM planned UNION SELECT job, task FROM taken)"
        " SELECT pairs.job, pairs.task, job.state, planned.seconds AS planned_s,"
        " COALESCE(taken.seconds, 0) AS taken_s, COALESCE(taken.seconds, 0) - planned.seconds AS beyond_s"
        " FROM pairs JOIN job ON job.id = pairs.job"
        " LEFT JOIN planned ON planned.job = pairs.job AND planned.task = pairs.task"
        " LEFT JOIN taken ON taken.job = pairs.job AND taken.task = pairs.task"
        " ORDER BY pairs.job, pairs.task",
        {"job": job} if job is not None else {},
    )


def by_task(ledger: Ledger) -> list[TaskOverall]:
    """Per task over the jobs that had it planned and done: seconds planned and taken, and how many times."""
    over = (*DONE, "ready", "told", "listed")
    return ledger.told(
        TaskOverall,
        "WITH taken AS (SELECT job, task, SUM(seconds) AS seconds FROM time_taken WHERE kind = 'hands'"
        " GROUP BY job, task)"
        " SELECT quote_task.task, COUNT(*) AS jobs, SUM(quote_task.seconds) AS planned_s, SUM(taken.seconds) AS taken_s,"
        f" {PERCENT.format(of='SUM(taken.seconds)', whole='SUM(quote_task.seconds)')} AS taken_percent"
        " FROM taken JOIN job ON job.id = taken.job"
        " JOIN quote_task ON quote_task.quote = job.accepted_quote AND quote_task.task = taken.task"
        f" WHERE job.state IN ({', '.join('?' * len(over))}) AND quote_task.seconds > 0 AND taken.seconds > 0"
        " GROUP BY quote_task.task ORDER BY quote_task.task",
        over,
    )


def pay_per_hour(ledger: Ledger) -> list[PayPerHour]:
    """By kind of job, over jobs that are done: what is left for the work, the hours it took, and their quotient.

    Left of client work: the agreed price before tax, less what was taken off it afterwards (its tax apart) and its
    materials at cost, as they were quoted. Left of
    what was sold: all that came in less all that went out for it, less materials of its accepted quote.
    """
    marks = ", ".join("?" * len(DONE))
    rows = ledger.rows(
        "SELECT job.kind, job.currency, COUNT(*) AS jobs,"
        " SUM(CASE WHEN job.kind = 'commission' THEN quote.price_cents"
        "  ELSE (SELECT COALESCE(SUM(cents), 0) FROM payment WHERE payment.job = job.id) END"
        "  - COALESCE(quote.materials_cents, 0)) AS left_,"
        " SUM((SELECT COALESCE(SUM(seconds), 0) FROM time_taken WHERE time_taken.job = job.id AND kind = 'hands'))"
        "  AS taken_s,"
        " SUM((SELECT COALESCE(SUM(seconds), 0) FROM quote_task WHERE quote_task.quote = job.accepted_quote))"
        "  AS planned_s"
        " FROM job LEFT JOIN quote ON quote.number = job.accepted_quote"
        f" WHERE job.state IN ({marks}) AND (job.kind <> 'commission' OR quote.number IS NOT NULL)"
        " AND job.kind <> 'own' GROUP BY job.kind, job.currency ORDER BY job.kind, job.currency",
        DONE,
    )
    lowered = _lowered(ledger)
    rows = [
        {**row, "left_": row["left_"] - lowered.get(row["currency"], 0)}
        if row["kind"] == "commission"
        else row
        for row in rows
    ]
    return [
        PayPerHour(
            row["kind"],
            row["currency"],
            row["jobs"],
            row["left_"],
            row["planned_s"],
            row["taken_s"],
            Cents(half_up(Fraction(row["left_"] * 3600, row["taken_s"]))) if row["taken_s"] else None,
        )
        for row in rows
    ]


def _lowered(ledger: Ledger) -> dict[str, int]:
    """By currency what was given back of the price of client work that is done, before tax."""
    marks = ", ".join("?" * len(DONE))
    found: dict[str, int] = {}
    for row in ledger.rows(
        "SELECT job.id, job.currency, quote.price_cents, quote.to_pay_cents FROM job"
        " JOIN quote ON quote.number = job.accepted_quote"
        f" WHERE job.state IN ({marks}) AND job.kind = 'commission' AND quote.to_pay_cents > 0"
        " AND EXISTS (SELECT 1 FROM payment WHERE payment.job = job.id AND payment.cents < 0)",
        DONE,
    ):
        share = Fraction(row["price_cents"], row["to_pay_cents"])
        back = half_up(account(ledger, row["id"]).lowered * share)
        found[row["currency"]] = found.get(row["currency"], 0) + back
    return found


def cash_by_month(ledger: Ledger) -> list[MonthCash]:
    """By month of the shop's calendar: money in and out of the till for jobs, and spent on stock."""
    found: dict[tuple[str, str], MonthCash] = {}
    for table in ("payment", "stock_move"):
        for row in ledger.rows(f"SELECT kind, cents, currency, at, ahead_min FROM {table} WHERE cents <> 0"):
            month = f"{kept_moment(row['at'], row['ahead_min']).local:%Y-%m}"
            key = (month, row["currency"])
            of = found.setdefault(key, MonthCash(month, row["currency"]))
            cents = Cents(row["cents"])
            if table == "stock_move":
                of.stock += cents  # less than nothing where more was sent back than bought
            elif PAYMENTS[row["kind"]] > 0:
                of.came_in += cents  # less what was struck as mistyped
            else:
                of.out -= cents
    for of in found.values():
        of.left = of.came_in - of.out - of.stock
    return [of for _, of in sorted(found.items())]


def hours_by_task(ledger: Ledger) -> list[TaskHours]:
    """Where the hours at the bench went: seconds by task over all jobs, the most first, with the share in per cent."""
    return ledger.told(
        TaskHours,
        "SELECT task, COUNT(DISTINCT job) AS jobs, SUM(seconds) AS taken_s,"
        f" {PERCENT.format(of='SUM(seconds)', whole='SUM(SUM(seconds)) OVER ()')} AS share_percent FROM time_taken"
        " WHERE kind = 'hands' AND seconds > 0 GROUP BY task ORDER BY taken_s DESC, task",
    )


def hours_by_month(ledger: Ledger) -> list[MonthHours]:
    """By month of the shop's calendar: seconds at the bench for customers, for what the shop owns, and under warranty."""
    found: dict[str, MonthHours] = {}
    for row in ledger.rows(
        "WITH back AS (SELECT job, MIN(at) AS at FROM step WHERE state = 'returned' GROUP BY job)"
        " SELECT strftime('%Y-%m', taken.at, taken.ahead_min || ' minutes') AS month, SUM(taken.seconds) AS seconds,"
        " CASE WHEN taken.at >= back.at THEN 'warranty' WHEN job.kind = 'commission' THEN 'client'"
        " ELSE 'own' END AS whose"
        " FROM time_taken AS taken JOIN job ON job.id = taken.job LEFT JOIN back ON back.job = taken.job"
        " WHERE taken.kind = 'hands' AND taken.seconds > 0 GROUP BY month, whose"
    ):
        of, seconds = found.setdefault(row["month"], MonthHours(row["month"])), Seconds(row["seconds"])
        if row["whose"] == "warranty":
            of.warranty_s += seconds
        elif row["whose"] == "client":
            of.client_s += seconds
        else:
            of.own_s += seconds
    return [of for _, of in sorted(found.items())]


HANDS_SINCE = "SELECT SUM(seconds) AS sum FROM time_taken WHERE job = ? AND at >= ? AND kind = 'hands'"
REFUNDS_SINCE = "SELECT SUM(cents) AS sum FROM payment WHERE job = ? AND at >= ? AND kind = 'refund'"


def warranty(ledger: Ledger) -> list[WarrantyWork]:
    """By kind of job: how many came back, and what that took after they did: hours, money given back, materials.

    Materials stand at what the item cost on average when it was bought; ``unpriced`` counts what was used
    and was never bought at a price.
    """
    returned = _returned(ledger)
    each = {
        row["item"]: Fraction(row["cents"], row["many"])
        for row in ledger.rows(
            "SELECT item, SUM(cents) AS cents, SUM(millionths) AS many FROM stock_move"
            " WHERE kind = 'bought' AND cents > 0 GROUP BY item"
        )
    }
    found: dict[str, WarrantyWork] = {}
    materials: dict[str, Fraction] = {}
    for row in ledger.rows("SELECT id, kind, currency, state FROM job ORDER BY kind, id"):
        if row["id"] not in returned and row["state"] not in DONE:
            continue
        of = found.setdefault(row["kind"], WarrantyWork(row["kind"], row["currency"]))
        of.jobs += 1
        since = returned.get(row["id"])
        if since is None:
            continue
        of.returned += 1
        mine = (row["id"], since)
        of.taken_s += Seconds(_sum(ledger, HANDS_SINCE, mine))
        of.refund -= Cents(_sum(ledger, REFUNDS_SINCE, mine))
        for used in ledger.rows(
            "SELECT item, -millionths AS many FROM stock_move WHERE job = ? AND at >= ? AND kind = 'used'",
            mine,
        ):
            price = each.get(used["item"])
            of.unpriced += price is None
            materials[row["kind"]] = materials.get(row["kind"], Fraction(0)) + (price or 0) * used["many"]
    for kind, of in found.items():
        of.materials = Cents(half_up(materials.get(kind, Fraction(0))))
        of.returned_percent = half_up(Fraction(100 * of.returned, of.jobs))
    return list(found.values())


def _returned(ledger: Ledger) -> dict[str, str]:
    """By job that came back under warranty: the moment it first did."""
    rows = ledger.rows("SELECT job, MIN(at) AS at FROM step WHERE state = 'returned' GROUP BY job")
    return {row["job"]: row["at"] for row in rows}


def _sum(ledger: Ledger, sql: str, values: tuple[str, str]) -> int:
    return int(ledger.rows(sql, values)[0]["sum"] or 0)


def all_reports(ledger: Ledger) -> Reports:
    """Every report over all jobs."""
    return Reports(
        by_task(ledger),
        hours_by_task(ledger),
        hours_by_month(ledger),
        pay_per_hour(ledger),
        warranty(ledger),
        money_owed(ledger),
        cash_by_month(ledger),
    )
