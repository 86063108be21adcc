"""Wood on offer by GET: what each is worth, with the months that are worked out by now."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request

from rickyard.desk import costs, offer_views
from rickyard.desk.context import Desk
from rickyard.desk.yards import yard_facts
from rickyard.jobs import Answers
from rickyard.web.api import offer_models as o
from rickyard.web.api.common import ERRORS, Number, TheDesk
from rickyard.web.sheets import thickness_m
from rickyard.worth import Months

router = APIRouter(prefix="/api", tags=["wood on offer"], responses=ERRORS)


@router.get("/offers", response_model=list[o.OfferOut])
def all_offers(request: Request, desk: TheDesk, open_only: bool = False) -> Any:
    """Offers, the open ones first, each kind newest first."""
    cards = offer_views.offers(desk, open_only=open_only, months=_known(request, desk))
    return [o.offer_out(card) for card in cards]


@router.get("/offers/{offer_id}", response_model=o.OfferOut)
def one_offer(request: Request, desk: TheDesk, offer_id: Number) -> Any:
    """One offer."""
    return o.offer_out(offer_views.offer(desk, offer_id, months=_known(request, desk, offer_id)))


@router.get("/costs", response_model=o.CostsOut)
def all_costs(desk: TheDesk) -> Any:
    """What the yard said of its costs; what is null is assumed."""
    return o.costs_out(costs.cost_facts(desk))


def _known(request: Request, desk: Desk, *offer_ids: int) -> dict[str, Months]:
    """Months that were worked out already; nothing is asked."""
    answers: Answers = request.app.state.answers
    found = {}
    thick, today = thickness_m(yard_facts(desk).units), desk.today()
    for wood in offer_views.offered_woods(desk, offer_ids):
        known = answers.peek(offer_views.months_question(desk, wood, thick))
        if known is not None and known.state == "ready":
            found[wood.id] = offer_views.months_of(known.value, today)
    return found
