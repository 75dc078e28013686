"""What the shop's own numbers say: estimate against actual, pay per hour by kind, cash by month."""

from __future__ import annotations

from fractions import Fraction

from estimator.core.money import half_up
from estimator.ledger.board import money_owed
from estimator.ledger.clock import kept_moment
from estimator.ledger.jobs import account
from estimator.ledger.states import DONE
from estimator.ledger.store import Ledger, Row


def estimate_against_actual(ledger: Ledger, job: str | None = None) -> list[Row]:
    """Per job and task: seconds planned by the accepted quote, seconds taken by hand; what has neither is left out."""
    # the job stands within each part, so that its indexes are used
    mine, its = ("", "") if job is None else (" WHERE job.id = :job", " AND job = :job")
    rows = ledger.rows(
        "WITH planned AS (SELECT job.id AS job, quote_task.task, quote_task.seconds FROM job"
        f" JOIN quote_task ON quote_task.quote = job.accepted_quote{mine}),"
        " taken AS (SELECT job, task, SUM(seconds) AS seconds FROM time_taken"
        f" WHERE kind = 'hands'{its} GROUP BY job, task),"
        " pairs AS (SELECT job, task FROM planned UNION SELECT job, task FROM taken)"
        " SELECT pairs.job, pairs.task, job.state, planned.seconds AS planned_s,"
        " COALESCE(taken.seconds, 0) AS taken_s FROM pairs JOIN job ON job.id = pairs.job"
        " LEFT JOIN planned ON planned.job = pairs.job AND planned.task = pairs.task"
        " LEFT JOIN taken ON taken.job = pairs.job AND taken.task = pairs.task"
        " ORDER BY pairs.job, pairs.task",
        {"job": job} if job is not None else {},
    )
    return [
        {**row, "beyond_s": None if row["planned_s"] is None else row["taken_s"] - row["planned_s"]}
        for row in rows
    ]


def by_task(ledger: Ledger) -> list[Row]:
    """Per task over the jobs that had it planned and done: seconds planned and taken, and how many times."""
    over = (*DONE, "ready", "told", "listed")
    rows = ledger.rows(
        "WITH taken AS (SELECT job, task, SUM(seconds) AS seconds FROM time_taken WHERE kind = 'hands'"
        " GROUP BY job, task)"
        " SELECT quote_task.task, COUNT(*) AS jobs, SUM(quote_task.seconds) AS planned_s, SUM(taken.seconds) AS taken_s"
        " FROM taken JOIN job ON job.id = taken.job"
        " JOIN quote_task ON quote_task.quote = job.accepted_quote AND quote_task.task = taken.task"
        f" WHERE job.state IN ({', '.join('?' * len(over))}) AND quote_task.seconds > 0 AND taken.seconds > 0"
        " GROUP BY quote_task.task ORDER BY quote_task.task",
        over,
    )
    return [{**of, "taken_percent": half_up(Fraction(100 * of["taken_s"], of["planned_s"]))} for of in rows]


def pay_per_hour(ledger: Ledger) -> list[Row]:
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
        "  - COALESCE(quote.materials_cents, 0)) AS left_cents,"
        " SUM((SELECT COALESCE(SUM(seconds), 0) FROM time_taken WHERE time_taken.job = job.id AND kind = 'hands'))"
        "  AS taken_s"
        " FROM job LEFT JOIN quote ON quote.number = job.accepted_quote"
        f" WHERE job.state IN ({marks}) AND (job.kind <> 'commission' OR quote.number IS NOT NULL)"
        " AND job.kind <> 'own' GROUP BY job.kind, job.currency ORDER BY job.kind, job.currency",
        DONE,
    )
    lowered = _lowered(ledger)
    rows = [
        {**row, "left_cents": row["left_cents"] - lowered.get(row["currency"], 0)}
        if row["kind"] == "commission"
        else row
        for row in rows
    ]
    return [
        {
            **row,
            "per_hour_cents": half_up(Fraction(row["left_cents"] * 3600, row["taken_s"]))
            if row["taken_s"]
            else None,
        }
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


def cash_by_month(ledger: Ledger) -> list[Row]:
    """By month of the shop's calendar: money in and out of the till for jobs, and spent on stock."""
    found: dict[tuple[str, str], Row] = {}
    for table, sign in (("payment", 1), ("stock_move", -1)):
        for row in ledger.rows(f"SELECT cents, currency, at, ahead_min FROM {table} WHERE cents <> 0"):
            month = f"{kept_moment(row['at'], row['ahead_min']).local:%Y-%m}"
            key = (month, row["currency"])
            of = found.setdefault(
                key,
                {
                    "month": month,
                    "currency": row["currency"],
                    "in_cents": 0,
                    "out_cents": 0,
                    "stock_cents": 0,
                },
            )
            if sign < 0:
                of["stock_cents"] += row["cents"]  # less than nothing where more was sent back than bought
            else:
                of["in_cents" if row["cents"] > 0 else "out_cents"] += abs(row["cents"])
    return [
        {**of, "left_cents": of["in_cents"] - of["out_cents"] - of["stock_cents"]}
        for _, of in sorted(found.items())
    ]


def hours_by_task(ledger: Ledger) -> list[Row]:
    """Where the hours at the bench went: seconds by task over all jobs, the most first, with the share in per cent."""
    rows = ledger.rows(
        "SELECT task, COUNT(DISTINCT job) AS jobs, SUM(seconds) AS taken_s FROM time_taken"
        " WHERE kind = 'hands' AND seconds > 0 GROUP BY task ORDER BY taken_s DESC, task"
    )
    whole = sum(row["taken_s"] for row in rows)
    return [{**row, "share_percent": half_up(Fraction(100 * row["taken_s"], whole))} for row in rows]


def hours_by_month(ledger: Ledger) -> list[Row]:
    """By month of the shop's calendar: seconds at the bench for customers, for what the shop owns, and under warranty."""
    found: dict[str, Row] = {}
    for row in ledger.rows(
        "WITH back AS (SELECT job, MIN(at) AS at FROM step WHERE state = 'returned' GROUP BY job)"
        " SELECT strftime('%Y-%m', taken.at, taken.ahead_min || ' minutes') AS month, SUM(taken.seconds) AS seconds,"
        " CASE WHEN taken.at >= back.at THEN 'warranty_s' WHEN job.kind = 'commission' THEN 'client_s'"
        " ELSE 'own_s' END AS whose"
        " FROM time_taken AS taken JOIN job ON job.id = taken.job LEFT JOIN back ON back.job = taken.job"
        " WHERE taken.kind = 'hands' AND taken.seconds > 0 GROUP BY month, whose"
    ):
        of = found.setdefault(
            row["month"], {"month": row["month"], "client_s": 0, "own_s": 0, "warranty_s": 0}
        )
        of[row["whose"]] += row["seconds"]
    return [of for _, of in sorted(found.items())]


HANDS_SINCE = "SELECT SUM(seconds) AS sum FROM time_taken WHERE job = ? AND at >= ? AND kind = 'hands'"
REFUNDS_SINCE = "SELECT SUM(cents) AS sum FROM payment WHERE job = ? AND at >= ? AND kind = 'refund'"


def warranty(ledger: Ledger) -> list[Row]:
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
    found: dict[str, Row] = {}
    materials: dict[str, Fraction] = {}
    for row in ledger.rows("SELECT id, kind, currency, state FROM job ORDER BY kind, id"):
        if row["id"] not in returned and row["state"] not in DONE:
            continue
        of = found.setdefault(
            row["kind"],
            {
                "kind": row["kind"],
                "currency": row["currency"],
                "jobs": 0,
                "returned": 0,
                "taken_s": 0,
                "refund_cents": 0,
                "unpriced": 0,
            },
        )
        of["jobs"] += 1
        since = returned.get(row["id"])
        if since is None:
            continue
        of["returned"] += 1
        mine = (row["id"], since)
        of["taken_s"] += _sum(ledger, HANDS_SINCE, mine)
        of["refund_cents"] -= _sum(ledger, REFUNDS_SINCE, mine)
        for used in ledger.rows(
            "SELECT item, -millionths AS many FROM stock_move WHERE job = ? AND at >= ? AND kind = 'used'",
            mine,
        ):
            price = each.get(used["item"])
            of["unpriced"] += price is None
            materials[row["kind"]] = materials.get(row["kind"], Fraction(0)) + (price or 0) * used["many"]
    return [
        {
            **of,
            "materials_cents": half_up(materials.get(kind, Fraction(0))),
            "returned_percent": half_up(Fraction(100 * of["returned"], of["jobs"])),
        }
        for kind, of in found.items()
    ]


def _returned(ledger: Ledger) -> dict[str, str]:
    """By job that came back under warranty: the moment it first did."""
    rows = ledger.rows("SELECT job, MIN(at) AS at FROM step WHERE state = 'returned' GROUP BY job")
    return {row["job"]: row["at"] for row in rows}


def _sum(ledger: Ledger, sql: str, values: tuple[str, str]) -> int:
    return int(ledger.rows(sql, values)[0]["sum"] or 0)


def all_reports(ledger: Ledger) -> dict[str, list[Row]]:
    """Every report over all jobs, by name."""
    return {
        "by_task": by_task(ledger),
        "hours_by_task": hours_by_task(ledger),
        "hours_by_month": hours_by_month(ledger),
        "pay_per_hour": pay_per_hour(ledger),
        "warranty": warranty(ledger),
        "money_owed": money_owed(ledger),
        "cash_by_month": cash_by_month(ledger),
    }
