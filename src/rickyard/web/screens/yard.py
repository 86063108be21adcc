"""The yard: set up on an empty book, looked at, changed."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from rickyard.desk.photos import photos
from rickyard.desk.yards import ChangeYard, YardFacts, change_yard, set_up_yard, yard_facts, yard_state
from rickyard.errors import InputError
from rickyard.show import Voice
from rickyard.weather import find_place
from rickyard.web.forms import Form, FormProblem
from rickyard.web.names import NAMES
from rickyard.web.regions import BY_CODE, CURRENCY, TIMEZONES
from rickyard.web.visit import Here, Sent, Visit, go, render, voice_of

router = APIRouter(include_in_schema=False)

# The desk's names of a yard's facts, as our fields.
_NAMES = {
    "country": "region",
    "subdivision": "region",
    "place": "climate_place",
    "target_mc_wet": "target",
}
ZONES = [(zone, zone, True) for zone in TIMEZONES]
_UNITS = ("imperial", "metric")


@router.get("/set-up")
def set_up_page(request: Request) -> Response:
    if request.app.state.desk() is not None:
        return RedirectResponse("/", 303)
    form = Form.fresh(voice_of(request, None), region="CA-NB", units="imperial", target="20")
    return _set_up(request, form)


@router.post("/set-up")
def set_up(request: Request, sent: Sent) -> Response:
    if request.app.state.desk() is not None:
        # Sent twice: the first one has founded the yard.
        return go(request, "/")
    form = Form.sent(voice_of(request, None), sent)
    try:
        facts = _facts(form, None)
        with form.asking(**_NAMES):
            set_up_yard(
                request.app.state.office.book,
                facts,
                owner=form.text("owner"),
                clock=request.app.state.office.clock,
            )
    except FormProblem:
        return _set_up(request, form, 422)
    return go(request, "/", "yard_set_up")


@router.get("/yard")
def yard_page(visit: Here) -> Response:
    return _yard(visit, _form_of(visit.voice, visit.facts))


@router.post("/yard")
def change(visit: Here, sent: Sent) -> Response:
    form = visit.sent(sent)
    try:
        facts = _facts(form, visit.facts)
        with form.asking(**_NAMES):
            change_yard(visit.desk, ChangeYard(key=form.key, facts=facts, seen=form.value("seen")))
    except FormProblem:
        if form.is_clash:
            form.compare(_form_of(visit.voice, yard_facts(visit.desk)))
        return _yard(visit, form, 422)
    visit.nudge()
    return visit.go("/yard", "yard_changed")


@router.post("/this-device")
def this_device(visit: Here, sent: Sent) -> Response:
    """Language and units of this phone alone, kept in its cookies."""
    answer = visit.go("/yard")
    for name, allowed in (("lang", tuple(NAMES["locale"])), ("units", _UNITS)):
        choice = str(sent.get(name, ""))
        if choice in allowed:
            answer.set_cookie(name, choice, max_age=31_536_000, samesite="lax", httponly=True)
        else:
            answer.delete_cookie(name)
    return answer


def _yard(visit: Visit, form: Form, status: int = 200) -> Response:
    pictures = photos(visit.desk, "yard", visit.desk.yard_id)
    return visit.page("yard.html", status, form=form, zones=ZONES, photos=pictures)


def _set_up(request: Request, form: Form, status: int = 200) -> Response:
    return render(request, form.voice, None, "set_up.html", status, form=form)


def _form_of(voice: Voice, facts: YardFacts) -> Form:
    return Form.fresh(
        voice,
        name=facts.name,
        address=facts.address,
        phone=facts.phone,
        region=f"{facts.country}-{facts.subdivision}",
        climate_place=_place_words(facts.climate_place),
        timezone=facts.timezone,
        currency=facts.currency,
        locale=facts.locale,
        units=facts.units,
        target=voice.decimal(100 * facts.target_mc_wet, 1, strip=True),
        tax_rate=voice.decimal(100 * facts.tax_rate, 3, strip=True),
        seen=yard_state(facts),
    )


def _place_words(place_id: str) -> str:
    """The weather place as a person knows it, if that leads back to the same place; else its id."""
    label = find_place(place_id).label
    try:
        return label if find_place(label).id == place_id else place_id
    except InputError:
        # The label alone is ambiguous.
        return place_id


def _facts(form: Form, before: YardFacts | None) -> YardFacts:
    region = BY_CODE.get(form.choice("region", tuple(BY_CODE)))
    country = region.country if region else "CA"
    facts = YardFacts(
        name=form.text("name", needed=True),
        address=form.text("address"),
        phone=form.text("phone"),
        country=country,
        subdivision=region.subdivision if region else "",
        climate_place=form.text("climate_place", needed=True),
        timezone=form.value("timezone") or (region.timezone if region else "UTC"),
        currency=form.value("currency") or CURRENCY[country],
        locale=form.value("locale") or (before.locale if before else f"en_{country}"),
        units=form.choice("units", _UNITS),
        target_mc_wet=form.percent("target", basis="wet", low=0.08, high=0.35),
        tax_rate=form.percent_or_none("tax_rate", low=0.0, high=0.3) or 0.0,
    )
    form.check()
    return facts
