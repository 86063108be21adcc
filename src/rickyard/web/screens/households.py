"""Households: who buys, what they asked for, what they got and owe."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.responses import Response

from rickyard.desk.household_links import EndLink, MakeLink, end_link, links_of, make_link
from rickyard.desk.households import (
    HouseholdCard,
    SetHousehold,
    count_households,
    household,
    households,
    set_household,
)
from rickyard.desk.moving_views import returns
from rickyard.desk.orders import orders
from rickyard.desk.paging import A_PAGE, MOST_SEARCH, one_page
from rickyard.desk.tickets import tickets
from rickyard.web.forms import Form, FormProblem
from rickyard.web.visit import Here, Last, Sent, Visit

router = APIRouter(include_in_schema=False)


@router.get("/households")
def households_page(visit: Here, search: str = "", after: Last = 0) -> Response:
    search = search[:MOST_SEARCH]
    found, more = one_page(households(visit.desk, search=search, after=after or None, limit=A_PAGE + 1))
    return visit.page(
        "households.html",
        cards=found,
        search=search,
        count=count_households(visit.desk),
        last=found[-1].id if more else 0,
    )


@router.get("/households/new")
def new_household(visit: Here) -> Response:
    return visit.page("household_form.html", form=visit.form(), home=None)


@router.post("/households/new")
def add_household(visit: Here, sent: Sent) -> Response:
    form = visit.sent(sent)
    try:
        household_id = _set(visit, form, None)
    except FormProblem:
        return visit.page("household_form.html", 422, form=form, home=None)
    return visit.go(f"/households/{household_id}", "household_set")


@router.get("/households/{household_id:int}")
def one_household(visit: Here, household_id: int) -> Response:
    return visit.page(
        "household.html",
        home=household(visit.desk, household_id),
        open_orders=orders(visit.desk, household_id=household_id),
        tickets=tickets(visit.desk, household_id=household_id),
        back=returns(visit.desk, household_id=household_id),
        links=links_of(visit.desk, household_id),
    )


@router.get("/households/{household_id:int}/change")
def change_page(visit: Here, household_id: int) -> Response:
    home = household(visit.desk, household_id)
    return visit.page("household_form.html", form=_form_of(visit, home), home=home)


@router.post("/households/{household_id:int}/change")
def change(visit: Here, household_id: int, sent: Sent) -> Response:
    form = visit.sent(sent)
    try:
        _set(visit, form, household_id)
    except FormProblem:
        home = household(visit.desk, household_id)
        if form.is_clash:
            form.compare(_form_of(visit, home))
        return visit.page("household_form.html", 422, form=form, home=home)
    return visit.go(f"/households/{household_id}", "household_set")


@router.post("/households/{household_id:int}/link")
def new_link(visit: Here, household_id: int, sent: Sent) -> Response:
    """The address is shown this once: the book keeps only what it can be recognised by."""
    form = visit.sent(sent)
    command = MakeLink(**visit.told(form), household_id=household_id)
    answer, token = make_link(visit.desk, command)
    address = f"{visit.request.base_url}h/{token}" if token else ""
    return visit.page(
        "household_link.html", home=household(visit.desk, int(answer["household_id"])), address=address
    )


@router.post("/households/{household_id:int}/link/{link_id:int}/end")
def no_link(visit: Here, household_id: int, link_id: int, sent: Sent) -> Response:
    form = visit.sent(sent)
    end_link(visit.desk, EndLink(**visit.told(form), link_id=link_id))
    return visit.go(f"/households/{household_id}", "link_ended")


def _form_of(visit: Visit, home: HouseholdCard) -> Form:
    return visit.form(name=home.name, address=home.address, phone=home.phone, note=home.note, seen=home.state)


def _set(visit: Visit, form: Form, household_id: int | None) -> int:
    command = SetHousehold(
        key=form.key,
        name=form.text("name", needed=True),
        address=form.text("address"),
        phone=form.text("phone"),
        note=form.text("note"),
        household_id=household_id,
        seen=form.value("seen"),
    )
    form.check()
    with form.asking():
        return int(set_household(visit.desk, command)["household_id"])
