"""The customer's page as one HTML file: no script, nothing fetched, made to be printed and read on a phone."""

from __future__ import annotations

from estimator.report.page.outline import outline_svg
from estimator.report.page.record import CustomerPage
from estimator.report.page.room import MANY, setting_for
from estimator.report.page.template import template


def page_html(page: CustomerPage, paper: str) -> str:
    """The page; ``paper``: A4 or Letter. It is set as close as one sheet of it asks for."""
    from markupsafe import Markup

    drawing = outline_svg(
        page.outline, page.strings, page.pickups, [(work.number, work.mark) for work in page.done]
    )
    taxed, materials = (
        any(getattr(offer, name) != "0.00" for offer in page.offers) for name in ("tax", "materials")
    )
    return template("quote.html").render(
        page=page,
        paper=paper,
        outline=Markup(drawing),
        taxed=taxed,
        materials=materials,
        density=setting_for(page, paper),
        many=MANY,
    )
