"""What we sell: wares and their prices."""

from __future__ import annotations

from dataclasses import replace

from fastapi import APIRouter
from starlette.responses import Response

from rickyard.desk.mixes import names_of
from rickyard.desk.wares import PRICE_UNITS, SetWare, WareCard, WareFacts, set_ware, ware, wares
from rickyard.errors import InputError
from rickyard.web.forms import Form, FormProblem
from rickyard.web.screens.stacking import FORMS
from rickyard.web.visit import Here, Sent, Visit
from rickyard.wood import find_species

router = APIRouter(include_in_schema=False)

_NAMES = {
    "name": "ware_name",
    "species": "ware_species",
    "form": "piece_form",
}


@router.get("/wares")
def wares_page(visit: Here) -> Response:
    return visit.page("wares.html", cards=wares(visit.desk, active_only=False))


@router.get("/wares/new")
def new_ware(visit: Here) -> Response:
    imperial = not visit.voice.metric
    form = visit.form(
        piece_form="split",
        dry="on",
        moisture=visit.voice.decimal(100 * visit.facts.target_mc_wet, 1, strip=True),
        piece_length="16" if imperial else "40",
        length_tolerance="2" if imperial else "5",
        price_unit="cord" if imperial else "stacked_m3",
        active=True,
    )
    return visit.page("ware_form.html", form=form, card=None)


@router.post("/wares/new")
def add_ware(visit: Here, sent: Sent) -> Response:
    form = visit.sent(sent)
    try:
        _set(visit, form, None)
    except FormProblem:
        return visit.page("ware_form.html", 422, form=form, card=None)
    return visit.go("/wares", "ware_set")


@router.get("/wares/{ware_id:int}")
def one_ware(visit: Here, ware_id: int) -> Response:
    card = ware(visit.desk, ware_id)
    return visit.page("ware_form.html", form=_form_of(visit, card), card=card)


@router.post("/wares/{ware_id:int}")
def change_ware(visit: Here, ware_id: int, sent: Sent) -> Response:
    form = visit.sent(sent)
    try:
        _set(visit, form, ware_id)
    except FormProblem:
        card = ware(visit.desk, ware_id)
        if form.is_clash:
            form.compare(_form_of(visit, card))
        return visit.page("ware_form.html", 422, form=form, card=card)
    return visit.go("/wares", "ware_set")


def _form_of(visit: Visit, card: WareCard) -> Form:
    voice = visit.voice
    small = 0.01 if voice.metric else 0.0254
    return visit.form(
        ware_name=card.name,
        ware_species="\n".join(voice.species(species) for species in card.species),
        piece_form=card.form,
        piece_length=voice.decimal(card.piece_length_m / small, 1, strip=True),
        length_tolerance=voice.decimal(card.length_tolerance_m / small, 1, strip=True),
        dry=card.max_mc_wet is not None,
        moisture=voice.decimal(100 * (card.max_mc_wet or visit.facts.target_mc_wet), 1, strip=True),
        price=voice.typed_amount(card.price_minor),
        price_unit=card.price_unit,
        active=card.active,
        seen=card.state,
    )


def _set(visit: Visit, form: Form, ware_id: int | None) -> None:
    species: list[str] = []
    for name in names_of(form.value("ware_species")):
        try:
            species.append(find_species(name, field="ware_species").id)
        except InputError as error:
            form.complain(error)
    dry = form.ticked("dry")
    facts = WareFacts(
        name=form.text("ware_name", needed=True),
        species=tuple(dict.fromkeys(species)),
        form=form.choice("piece_form", FORMS),
        piece_length_m=form.length("piece_length", low=0.05, high=2.6, small=True),
        length_tolerance_m=form.length("length_tolerance", low=0.0, high=0.5, small=True),
        max_mc_wet=form.percent("moisture", basis="wet", low=0.05, high=0.6) if dry else None,
        price_minor=form.money("price"),
        price_unit=form.choice("price_unit", PRICE_UNITS),
        active=form.ticked("active"),
    )
    form.check()
    if ware_id is not None:
        facts = _not_rounded(visit, form, facts, ware(visit.desk, ware_id))
    with form.asking(**_NAMES):
        set_ware(visit.desk, SetWare(key=form.key, facts=facts, ware_id=ware_id, seen=form.value("seen")))


def _not_rounded(visit: Visit, form: Form, facts: WareFacts, before: WareCard) -> WareFacts:
    """What was not typed anew stays exactly: the form shows 5 cm as 2 in, which are a little more."""
    shown = _form_of(visit, before)
    fields = {
        "piece_length": "piece_length_m",
        "length_tolerance": "length_tolerance_m",
        "moisture": "max_mc_wet",
    }
    same = {
        name: getattr(before, name)
        for field, name in fields.items()
        if form.value(field) == shown.value(field)
        and None not in (getattr(before, name), getattr(facts, name))
    }
    return replace(facts, **same)
