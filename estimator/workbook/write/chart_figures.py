"""What the charts and the offers side by side of a workbook are fed with."""

from __future__ import annotations

from estimator.choose.study import Choice
from estimator.price.client.three_offers import CustomerOffer, Offers
from estimator.workbook.write.sheets.charts import FrontierPoint


def frontier_points(choice: Choice) -> tuple[FrontierPoint, ...]:
    """The frontier of cost against score of a job, named by what each set adds to the one before."""
    from estimator.choose.questions.all import Wanted
    from estimator.choose.questions.ask import deeper

    frontier = deeper(choice, Wanted(frontier=True)).frontier
    points = []
    before: set[str] = set()
    for point in frontier.points if frontier else ():
        added = [name for name in point.chosen if name not in before]
        name = "+ " + ", ".join(added[:2]) + (" ..." if len(added) > 2 else "") if added else "less"
        points.append(FrontierPoint(name, point.cost, round(point.score / 10)))
        before = set(point.chosen)
    return tuple(points)


def offers_by_name(offers: Offers) -> dict[str, Choice]:
    """The offers that can be made, the cheapest first, by the name a customer reads."""
    return {name_of(offer): offer.choice for offer in offers.made}


def name_of(offer: CustomerOffer) -> str:
    """The name of an offer as a customer reads it."""
    return offer.name.replace("-", " ").capitalize()
