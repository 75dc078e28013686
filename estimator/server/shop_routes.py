"""The pages of the shop: the jobs with what they ask for now, a new job, prices and reports."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from estimator.server import pages
from estimator.server.app import html
from estimator.server.board import jobs_values
from estimator.server.desk import Desk

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response


def jobs(desk: Desk, request: Request) -> Response:
    """Every job of the folder, and what the ledger says of those that are booked."""
    return html(
        pages.page("jobs.html", here="jobs", shop_name=desk.shop.terms.shop_name, **jobs_values(desk))
    )


SHOWN: dict[str, Callable[[Desk, Request], Response]] = {"/": jobs}
SENT: dict[str, Callable[[Desk, Request], Response]] = {}
