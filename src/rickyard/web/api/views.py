"""Views: what the book says, by GET."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from starlette.responses import Response

from rickyard.desk import (
    clashes,
    forecasts,
    households,
    learning,
    load_measures,
    orders,
    past_stock,
    people,
    photos,
    readings,
    skies,
    stacks,
    tickets,
    wares,
    witness,
    yard_factor,
    yards,
)
from rickyard.desk import loads as desk_loads
from rickyard.desk.deliveries import gate_offers
from rickyard.desk.today import today
from rickyard.show import LOCALES
from rickyard.weather import suggest_places
from rickyard.web.api import gauging_models as g
from rickyard.web.api import models as m
from rickyard.web.api import stock_models as s
from rickyard.web.api import weather_models as w
from rickyard.web.api.bodies import PlainText
from rickyard.web.api.common import ERRORS, Limit, Number, RowId, TheDesk
from rickyard.web.permissions import access_of
from rickyard.wood import suggest_species

router = APIRouter(prefix="/api", responses=ERRORS)

OptionalId = Annotated[int | None, Query(ge=1, le=2**31 - 1)]
SubjectId = Annotated[int, Query(ge=1, le=2**31 - 1)]
SubjectKind = Annotated[str, Query(pattern="^(load|stack|reading|ticket|yard)$")]
State = Annotated[str, Query(pattern="^(asked|promised|delivered|cancelled)$")]


@router.get("/yard", tags=["yard"], response_model=m.YardOut)
def yard(desk: TheDesk) -> Any:
    """The yard's facts."""
    return yards.yard_facts(desk)


@router.get("/weather", tags=["yard"], response_model=w.WeatherOut)
def weather(desk: TheDesk) -> Any:
    """The place and how far its normals may be wrong, weather files, services, and what is known until when."""
    return w.weather_out(skies.sky_view(desk))


@router.get("/today", tags=["today"], response_model=m.TodayOut)
def what_needs_doing(desk: TheDesk, request: Request) -> Any:
    """Stacks about to be ready, promises at risk, deliveries due, readings wanted."""
    page = today(desk)
    return page if access_of(request).may("/api/orders") else page.without_orders()


@router.get("/forecasts/progress", tags=["stacks"], response_model=m.ProgressOut)
def progress(desk: TheDesk) -> Any:
    """How far the forecasts are."""
    return forecasts.progress(desk)


@router.get("/stock", tags=["wood in"], response_model=s.StockOut)
def stock(desk: TheDesk, on: date) -> Any:
    """What lay in loads and stacks at the end of a day of the past, by all that has been reported since."""
    return s.stock_out(on, past_stock.stock_on(desk, on))


@router.get("/loads", tags=["wood in"], response_model=list[m.LoadOut])
def loads(
    desk: TheDesk,
    with_wood_only: bool = False,
    search: PlainText = "",
    before: RowId = None,
    limit: Limit = None,
) -> Any:
    """All loads, newest first; `search` matches part of the source, quantity or note, or the number."""
    return desk_loads.loads(desk, with_wood_only=with_wood_only, search=search, before=before, limit=limit)


@router.get("/loads/{load_id}/measures", tags=["wood in"], response_model=g.LoadMeasuresOut)
def measures_of_load(desk: TheDesk, load_id: Number) -> Any:
    """A load measured more than one way: each measure, and what they come to together."""
    return load_measures.load_measures(desk, load_id)


@router.get("/loads/{load_id}", tags=["wood in"], response_model=m.LoadPageOut)
def load(
    desk: TheDesk,
    load_id: Number,
    piece_length_m: Annotated[float, Query(ge=0.05, le=2.6)] = 0.406,
    mc_wet: Annotated[float, Query(ge=0.0, le=0.5)] = 0.20,
) -> Any:
    """A load, what is left of it, and what to expect of it split at a piece length."""
    return desk_loads.load_page(
        desk,
        load_id,
        piece_length_m=piece_length_m,
        mc_wet=mc_wet,
        factor=yard_factor.yard_factor(desk),
    )


@router.get("/stacks", tags=["stacks"], response_model=list[m.StackOut])
def all_stacks(
    desk: TheDesk,
    standing_only: bool = True,
    search: PlainText = "",
    after: RowId = None,
    limit: Limit = None,
) -> Any:
    """Stacks by name, with what stands in them and what is promised; `search` matches part of name, row or note."""
    return stacks.stacks(desk, standing_only=standing_only, search=search, after=after, limit=limit)


@router.get("/stacks/{stack_id}", tags=["stacks"], response_model=m.StackPageOut)
def stack(desk: TheDesk, stack_id: Number) -> Any:
    """One stack with its part of the journal."""
    return stacks.stack_page(desk, stack_id)


@router.get("/stacks/{stack_id}/outlook", tags=["stacks"], response_model=m.OutlookOut)
def stack_outlook(desk: TheDesk, stack_id: Number) -> Any:
    """When a stack is dry: moisture by day, odds by week, each kind of wood."""
    stacks.stack_page(desk, stack_id)
    return forecasts.outlook(desk, stack_id)


@router.get("/stacks/{stack_id}/readings", tags=["stacks"], response_model=list[m.ReadingOut])
def stack_readings(desk: TheDesk, stack_id: Number) -> Any:
    """Readings of a stack, newest first."""
    return readings.readings(desk, stack_id)


@router.get("/stacks/{stack_id}/witness", tags=["stacks"], response_model=m.WitnessOut)
def stack_witness(desk: TheDesk, stack_id: Number) -> Any:
    """The marked pieces of a stack and their last weights."""
    return witness.witness_page(desk, stack_id)


@router.get("/taught", tags=["stacks"], response_model=m.TaughtOut)
def taught(desk: TheDesk) -> Any:
    """What readings have taught the yard of its wood and rows."""
    return learning.taught_page(desk)


@router.get("/clashes", tags=["today"], response_model=list[m.ClashOut])
def all_clashes(
    desk: TheDesk, open_only: bool = True, stack_id: OptionalId = None, load_id: OptionalId = None
) -> Any:
    """Reports that do not fit the book, newest first; of one stack and its readings, or of one load, if it is said."""
    return clashes.clashes(desk, open_only=open_only, stack_id=stack_id, load_id=load_id)


@router.get("/people", tags=["yard"], response_model=list[m.PersonOut])
def all_people(desk: TheDesk) -> Any:
    """Who works here, by name."""
    return people.people(desk)


@router.get("/photos", tags=["photos"], response_model=list[m.PhotoOut])
def photos_of(desk: TheDesk, subject_kind: SubjectKind, subject_id: SubjectId) -> Any:
    """Photos of one thing, newest first, without their bytes."""
    return photos.photos(desk, subject_kind, subject_id)


@router.get("/wares", tags=["what we sell"], response_model=list[m.WareOut])
def all_wares(desk: TheDesk, active_only: bool = True) -> Any:
    """What we sell, by name."""
    return wares.wares(desk, active_only=active_only)


@router.get("/wares/{ware_id}", tags=["what we sell"], response_model=m.WareOut)
def ware(desk: TheDesk, ware_id: Number) -> Any:
    """One thing we sell."""
    return wares.ware(desk, ware_id)


@router.get("/households", tags=["households"], response_model=list[m.HouseholdOut])
def all_households(desk: TheDesk, search: PlainText = "", after: RowId = None, limit: Limit = None) -> Any:
    """Households by name; `search` matches part of name, address or phone."""
    return households.households(desk, search=search, after=after, limit=limit)


@router.get("/households/{household_id}", tags=["households"], response_model=m.HouseholdOut)
def household(desk: TheDesk, household_id: Number) -> Any:
    """One household."""
    return households.household(desk, household_id)


@router.get("/orders", tags=["orders"], response_model=list[m.OrderOut])
def all_orders(
    desk: TheDesk,
    state: Annotated[list[State] | None, Query()] = None,
    search: PlainText = "",
    after: RowId = None,
    limit: Limit = None,
) -> Any:
    """Orders in these states (asked and promised, if none is said) by the day they are wanted.

    `search` matches part of the household's name or the note, or the number.
    """
    states = tuple(state or ("asked", "promised"))
    return orders.orders(desk, states=states, search=search, after=after, limit=limit)


@router.get("/orders/{order_id}", tags=["orders"], response_model=m.OrderOut)
def order(desk: TheDesk, order_id: Number) -> Any:
    """One order."""
    return orders.order(desk, order_id)


@router.get("/ask", tags=["orders"], response_model=m.ReplyOut)
def ask(
    desk: TheDesk,
    ware_id: Annotated[int, Query(ge=1, le=2**31 - 1)],
    ranked_m3: Annotated[float, Query(gt=0, le=400, allow_inf_nan=False)],
    wanted_by: date,
) -> Any:
    """What may be promised: from stock, open promises and the odds. Writes nothing."""
    return orders.ask(desk, ware_id, ranked_m3, wanted_by)


@router.get("/gate", tags=["deliveries"], response_model=list[m.GateOfferOut])
def gate(desk: TheDesk) -> Any:
    """What can be sold at the gate today, and from which stack."""
    return gate_offers(desk)


@router.get("/tickets", tags=["deliveries"], response_model=list[m.TicketOut])
def all_tickets(
    desk: TheDesk,
    limit: Annotated[int, Query(ge=1, le=1000)] = 200,
    search: PlainText = "",
    before: RowId = None,
) -> Any:
    """Tickets, newest first; `search` matches part of the buyer's name, or the number."""
    return tickets.tickets(desk, limit=limit, search=search, before=before)


@router.get("/tickets/{ticket_id}", tags=["deliveries"], response_model=m.TicketOut)
def ticket(desk: TheDesk, ticket_id: Number) -> Any:
    """One ticket."""
    return tickets.ticket(desk, ticket_id)


@router.get(
    "/tickets/{ticket_id}/pdf",
    tags=["deliveries"],
    response_class=Response,
    responses={200: {"content": {"application/pdf": {"schema": {"type": "string", "format": "binary"}}}}},
)
def ticket_pdf(
    desk: TheDesk,
    ticket_id: Number,
    lang: Annotated[str | None, Query(pattern=f"^({'|'.join(LOCALES)})$")] = None,
) -> Response:
    """The ticket's paper as it was issued, or printed in another language."""
    return Response(tickets.ticket_pdf(desk, ticket_id, locale=lang), media_type="application/pdf")


@router.get("/species", tags=["look up"], response_model=list[m.SpeciesOut])
def species(search: PlainText, limit: Annotated[int, Query(ge=1, le=50)] = 8) -> Any:
    """Kinds of wood whose names are nearest to what is typed."""
    return suggest_species(search, limit=limit)


@router.get("/places", tags=["look up"], response_model=list[m.PlaceOut])
def places(search: PlainText, limit: Annotated[int, Query(ge=1, le=50)] = 10) -> Any:
    """Places with weather normals whose names are nearest to what is typed."""
    return suggest_places(search, limit=limit)
