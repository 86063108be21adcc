"""Wood on offer: what is it worth, take it, say no; offers side by side; what the yard's work and means cost."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from fastapi import APIRouter
from starlette.responses import Response

from rickyard.cut import methods
from rickyard.desk.costs import SetCosts, cost_facts, set_costs
from rickyard.desk.editing import plain_facts, state_of
from rickyard.desk.loads import loads, sources
from rickyard.desk.mixes import read_mix
from rickyard.desk.offer_views import (
    FEWEST_COMPARED,
    MOST_COMPARED,
    OfferCard,
    compare,
    count_settled_offers,
    hurried,
    months_of,
    months_question,
    offer,
    offer_facts,
    offered_woods,
    offers,
    settled_offers,
)
from rickyard.desk.offers import (
    MOST_LISTED,
    ChangeOffer,
    NoteOffer,
    OfferFacts,
    RefuseOffer,
    TakeOffer,
    TreeFacts,
    change_offer,
    note_offer,
    refuse_offer,
    take_offer,
)
from rickyard.desk.paging import A_PAGE, one_page
from rickyard.errors import InputError
from rickyard.measure import LogListError, LogRow, read_log_list
from rickyard.text import T_
from rickyard.web.cost_forms import costs_form, margin_kinds, read_costs, units_of, usual_costs
from rickyard.web.forms import Complaint, Form, FormProblem
from rickyard.web.labels import LABELS
from rickyard.web.names import NAMES
from rickyard.web.offer_words import assumed_words, short_most, verdict, worth_words
from rickyard.web.offline import works_offline
from rickyard.web.regions import BY_CODE
from rickyard.web.screens.answers import answers_of
from rickyard.web.screens.wood_in import harvest_of, harvest_presets, quantity_of
from rickyard.web.sheets import thickness_m
from rickyard.web.visit import Here, Last, Sent, Visit
from rickyard.wood import UNNAMED, find_species, get_species
from rickyard.worth import ORIGINS, STEPS, Months, method_words, step_words

router = APIRouter(include_in_schema=False)

TREE_LINES = 3
MOST_TREE_LINES = 40
_NAMES = {
    "shares": "wood",
    "species": "wood",
    "country": "harvest_region",
    "rot_share": "rot",
    "dbh": "dbh-0",
    "height": "tree_height-0",
    "logs": "paste",
    "defects": "paste",
    "quantity_kind": "quantity",
}


@router.get("/offers")
@works_offline()
def offers_page(visit: Here, before: Last = 0) -> Response:
    months, _ = _months(visit, look=False)
    settled, more = one_page(settled_offers(visit.desk, before=before or None, limit=A_PAGE + 1))
    return visit.page(
        "offers.html",
        still=offers(visit.desk, open_only=True, months=months),
        settled=settled,
        settled_count=count_settled_offers(visit.desk),
        older=settled[-1].id if more else 0,
        most=lambda card: short_most(visit.voice, card.worth) if card.worth else "",
        verdict=verdict,
    )


@router.get("/offers/new")
@works_offline(queues=T_("an offer"))
def new_offer(visit: Here) -> Response:
    form = visit.form(
        offered_on=visit.today, origin="forest", **harvest_presets(visit, loads(visit.desk, limit=1))
    )
    return _form_page(visit, form)


@router.post("/offers/new")
def note(visit: Here, sent: Sent) -> Response:
    form = visit.sent(sent)
    if _more(form):
        return _form_page(visit, form)
    try:
        facts = _facts(visit, form)
        with form.asking(**_NAMES):
            answer = note_offer(visit.desk, NoteOffer(**visit.told(form), facts=facts))
    except FormProblem:
        return _form_page(visit, form, status=422)
    return visit.go(f"/offers/{answer['offer_id']}", "offer_noted")


@router.get("/offers/compare")
def compare_page(visit: Here) -> Response:
    """Two to four offers side by side; without a choice, the list to choose from."""
    asked = visit.request.query_params.getlist("of")
    form = visit.form()
    cards: list[OfferCard] = []
    ahead: int | None = None
    if asked:
        ids = [int(one) for one in asked if one.isdigit() and len(one) < 10]
        try:
            with form.asking(of="offers"):
                months, ahead = _months(visit, ids)
                cards = compare(visit.desk, ids, months=months)
        except FormProblem:
            cards = []
    return visit.page(
        "offers_compare.html",
        422 if form.complaints else 200,
        form=form,
        cards=cards,
        told=[worth_words(visit.voice, card) for card in cards],
        best=_best(cards),
        ahead=ahead,
        here=f"{visit.request.url.path}?{visit.request.url.query}",
        choices=[] if cards else offers(visit.desk, open_only=True, months=_months(visit, look=False)[0]),
        most=lambda card: short_most(visit.voice, card.worth) if card.worth else "",
        few=FEWEST_COMPARED,
        many=MOST_COMPARED,
    )


@router.get("/offers/{offer_id:int}")
def one_offer(visit: Here, offer_id: int) -> Response:
    return _offer_page(visit, offer_id, None, None)


@router.get("/offers/{offer_id:int}/change")
def change_page(visit: Here, offer_id: int) -> Response:
    facts = offer_facts(visit.desk, offer_id)
    return _form_page(visit, _form_of(visit, facts), offer_id=offer_id)


@router.post("/offers/{offer_id:int}/change")
def change(visit: Here, offer_id: int, sent: Sent) -> Response:
    form = visit.sent(sent)
    if _more(form):
        return _form_page(visit, form, offer_id=offer_id)
    try:
        facts = _facts(visit, form, before=offer_facts(visit.desk, offer_id))
        with form.asking(**_NAMES):
            command = ChangeOffer(**visit.told(form), offer_id=offer_id, facts=facts, seen=form.value("seen"))
            change_offer(visit.desk, command)
    except FormProblem:
        if form.is_clash:
            form.compare(_form_of(visit, offer_facts(visit.desk, offer_id)))
        return _form_page(visit, form, offer_id=offer_id, status=422)
    return visit.go(f"/offers/{offer_id}", "offer_changed")


@router.post("/offers/{offer_id:int}/take")
def take(visit: Here, offer_id: int, sent: Sent) -> Response:
    """Yes: one step from the offer to the load in the book."""
    form = visit.sent(sent)
    try:
        command = TakeOffer(
            **visit.told(form),
            offer_id=offer_id,
            arrived_on=form.day("arrived_on", visit.today),
            paid_minor=form.money_or_none("paid", low_minor=-100_000_000),
        )
        form.check()
        with form.asking(**_NAMES):
            answer = take_offer(visit.desk, command)
    except FormProblem:
        return _offer_page(visit, offer_id, form, None, 422)
    return visit.go(f"/wood-in/{answer['load_id']}", "offer_taken")


@router.post("/offers/{offer_id:int}/refuse")
def refuse(visit: Here, offer_id: int, sent: Sent) -> Response:
    form = visit.sent(sent)
    try:
        command = RefuseOffer(**visit.told(form), offer_id=offer_id, reason=form.text("refusal"))
        form.check()
        with form.asking(reason="refusal"):
            refuse_offer(visit.desk, command)
    except FormProblem:
        return _offer_page(visit, offer_id, None, form, 422)
    return visit.go("/offers", "offer_refused")


@router.get("/yard/costs")
def costs_page(visit: Here) -> Response:
    return _costs_page(visit, costs_form(visit, cost_facts(visit.desk)))


@router.post("/yard/costs")
def save_costs(visit: Here, sent: Sent) -> Response:
    form = visit.sent(sent)
    try:
        facts = read_costs(visit, form, cost_facts(visit.desk))
        with form.asking(**units_of(visit).names):
            set_costs(visit.desk, SetCosts(**visit.told(form), facts=facts, seen=form.value("seen")))
    except FormProblem:
        if form.is_clash:
            form.compare(costs_form(visit, cost_facts(visit.desk)))
        return _costs_page(visit, form, 422)
    return visit.go("/yard/costs", "costs_set")


# -- the pages ---------------------------------------------------------------------------------------


def _offer_page(
    visit: Visit, offer_id: int, taking: Form | None, refusing: Form | None, status: int = 200
) -> Response:
    months, ahead = _months(visit, [offer_id])
    card = offer(visit.desk, offer_id, months=months)
    paid = card.asked_minor
    return visit.page(
        "offer.html",
        status,
        card=card,
        facts_=card.facts,
        told=worth_words(visit.voice, card),
        ahead=ahead,
        here=f"/offers/{offer_id}",
        taking=taking
        or visit.form(arrived_on=visit.today, paid=None if paid is None else visit.voice.typed_amount(paid)),
        refusing=refusing or visit.form(),
        form=taking or refusing or visit.form(),
        assumed=assumed_words(visit.voice, cost_facts(visit.desk).costs().assumed_names, card.worth),
        others=len(offers_open(visit, offer_id)),
    )


def offers_open(visit: Visit, but: int) -> list[int]:
    """Other open offers, to compare with."""
    from rickyard.desk.offer_views import open_offers

    return [card.id for card in open_offers(visit.desk) if card.id != but]


def _months(
    visit: Visit, ids: Sequence[int] = (), *, look: bool = True
) -> tuple[Mapping[str, Months], int | None]:
    """Months to sale of the woods in these offers, as far as they are worked out; how many questions come before
    those that are not, None if nothing is waited for.

    `look`: somebody looks at it; otherwise it is worked out after all else, and where nothing is worked out behind
    the page, it is not asked at all.
    """
    answers = answers_of(visit)
    found: dict[str, Months] = {}
    ahead: int | None = None
    for wood in offered_woods(visit.desk, ids):
        question = months_question(visit.desk, wood, thickness_m(visit.facts.units))
        known = answers.peek(question)
        if known is None and (look or answers.background):
            known = answers.get(hurried(question) if look else question)
        if known is None or known.state == "failed":
            continue
        if known.state == "ready":
            found[wood.id] = months_of(known.value, visit.today)
        elif look:
            ahead = max(ahead or 0, known.ahead)
    return found, ahead


def _best(cards: Sequence[OfferCard]) -> int | None:
    """The offer that leaves most beyond the chosen margin for each hour of work at what is asked (or at nothing)."""
    rated = [
        (card.worth.margin_minor(card.asked_minor) / card.worth.hours.mid, card.id)
        for card in cards
        if card.worth is not None and card.asked_minor is not None and card.worth.hours.mid > 0.0
    ]
    return max(rated)[1] if len(rated) == len(cards) > 1 else None


# -- the form of an offer ----------------------------------------------------------------------------


def _form_page(visit: Visit, form: Form, *, offer_id: int | None = None, status: int = 200) -> Response:
    return visit.page(
        "offer_form.html",
        status,
        form=form,
        offer_id=offer_id,
        lines=_lines(form),
        most_listed=MOST_LISTED,
        sources=sources(visit.desk),
        origins=[(name, visit.voice.text(NAMES["origin"][name])) for name in ORIGINS],
    )


def _more(form: Form) -> bool:
    """More lines for trees were asked for."""
    if not form.value("more"):
        return False
    form.typed["lines"] = [str(min(MOST_TREE_LINES, _lines(form) + TREE_LINES))]
    return True


def _lines(form: Form) -> int:
    typed = form.value("lines")
    return min(MOST_TREE_LINES, int(typed)) if typed.isdigit() and len(typed) < 6 else TREE_LINES


def _facts(visit: Visit, form: Form, before: OfferFacts | None = None) -> OfferFacts:
    """What was said in the form.

    Of an offer that is changed (as it was `before`) the logs stay if no other list is given, and what was not typed
    anew stays exactly: the form shows it rounded, in the reader's units.
    """
    shown = None if before is None else _form_of(visit, before)

    def as_shown(*names: str) -> bool:
        return shown is not None and all(form.value(name) == shown.value(name) for name in names)

    old_trees = () if before is None else before.trees
    trees = tuple(
        tree
        for index in range(_lines(form))
        if (
            tree := old_trees[index]
            if index < len(old_trees) and as_shown(*_tree_names(index).values())
            else _tree(form, index)
        )
        is not None
    )
    logs = _logs(form) or (before.logs if before is not None and form.value("keep_logs") else ())
    quantity, kind, typed = None, "stacked_m3", form.text("quantity")
    shares: tuple[tuple[str, float], ...] = ()
    if typed or not (trees or logs or form.errors("paste")):
        quantity, kind = quantity_of(form)
        try:
            shares = read_mix(form.value("wood"), "wood")
        except InputError as error:
            form.complain(error)
    rot = form.percent_or_none("rot", high=0.9)
    facts = OfferFacts(
        source=form.text("source", needed=True),
        harvest=harvest_of(form),
        offered_on=form.day("offered_on", visit.today),
        quantity=quantity,
        quantity_kind=kind,
        shares=shares,
        logs=logs,
        trees=trees,
        typed=typed,
        asked_minor=form.money_or_none("asked", low_minor=-100_000_000),
        haul_minor=form.money_or_none("haul") or 0,
        origin=form.choice("origin", ORIGINS, "forest"),
        rot_share=rot or 0.0,
        note=form.text("note"),
    )
    form.check()
    if before is not None:
        if facts.shares and as_shown("wood"):
            facts = replace(facts, shares=before.shares)
        if facts.quantity is not None and as_shown("quantity"):
            facts = replace(
                facts, quantity=before.quantity, quantity_kind=before.quantity_kind, typed=before.typed
            )
        if as_shown("rot"):
            facts = replace(facts, rot_share=before.rot_share)
    return facts


def _tree_names(index: int) -> dict[str, str]:
    return {name: f"{name}-{index}" for name in ("tree_species", "dbh", "tree_height", "tree_count")}


def _tree(form: Form, index: int) -> TreeFacts | None:
    names = _tree_names(index)
    if not any(form.value(names[name]).strip() for name in ("tree_species", "dbh", "tree_height")):
        return None
    species_id = UNNAMED.id
    if form.value(names["tree_species"]).strip():
        try:
            species_id = find_species(form.value(names["tree_species"]), field=names["tree_species"]).id
        except InputError as error:
            form.complain(error)
    count = form.count(names["tree_count"], low=1, high=200) if form.value(names["tree_count"]).strip() else 1
    return TreeFacts(
        species=species_id,
        dbh_m=form.length(names["dbh"], low=0.025, high=3.0, small=True),
        height_m=form.length_or_none(names["tree_height"], low=1.4, high=120.0),
        count=count,
    )


def _logs(form: Form) -> tuple[LogRow, ...]:
    if not form.value("paste").strip():
        return ()
    try:
        return tuple(read_log_list(form.value("paste"), default_species=UNNAMED.id, defects=True))
    except LogListError as error:
        form.complaints += [Complaint("paste", LABELS["paste"], problem.text) for problem in error.problems]
        return ()


def _form_of(visit: Visit, facts: OfferFacts) -> Form:
    """An offer to be changed; a list of logs stays as it is unless another one is pasted."""
    voice = visit.voice
    big, small = (1.0, 0.01) if voice.metric else (0.3048, 0.0254)
    trees: dict[str, str] = {}
    for at, tree in enumerate(facts.trees):
        trees |= {
            f"tree_species-{at}": voice.species(get_species(tree.species)),
            f"dbh-{at}": voice.decimal(tree.dbh_m / small, 1, strip=True),
            f"tree_height-{at}": ""
            if tree.height_m is None
            else voice.decimal(tree.height_m / big, 1, strip=True),
            f"tree_count-{at}": str(tree.count),
        }
    region = f"{facts.harvest.country}-{facts.harvest.subdivision}"
    return visit.form(
        quantity=facts.typed or _quantity_words(facts),
        wood=voice.shares([(voice.species(get_species(name)), share) for name, share in facts.shares]),
        source=facts.source,
        offered_on=facts.offered_on,
        asked=None if facts.asked_minor is None else voice.typed_amount(facts.asked_minor),
        haul=voice.typed_amount(facts.haul_minor) if facts.haul_minor else None,
        origin=facts.origin,
        rot=voice.decimal(100 * facts.rot_share, 1, strip=True) if facts.rot_share else None,
        note=facts.note,
        harvest_region=region if region in BY_CODE else "",
        county=facts.harvest.county,
        certificate=facts.harvest.certificate,
        lines=max(TREE_LINES, len(facts.trees)),
        keep_logs=bool(facts.logs),
        seen=state_of(plain_facts(facts)),
        **trees,
    )


def _quantity_words(facts: OfferFacts) -> str:
    """A quantity that came without words, such as by the API."""
    if facts.quantity is None:
        return ""
    unit = {"stacked_m3": "stacked m³", "loose_m3": "loose m³", "solid_m3": "solid m³", "green_kg": "kg"}
    return f"{facts.quantity:g} {unit[facts.quantity_kind]}"


# -- what the yard's work and means cost -------------------------------------------------------------


def _costs_page(visit: Visit, form: Form, status: int = 200) -> Response:
    voice, units = visit.voice, units_of(visit)
    return visit.page(
        "costs.html",
        status,
        form=form,
        units=units,
        usual=usual_costs(visit),
        margins=[(kind, voice.text(NAMES["margin_kind"][kind])) for kind in margin_kinds(units)],
        distance_unit=voice.text(T_("km") if voice.metric else T_("mi")),
        methods=[(name, voice.text(method_words(name))) for name in methods()],
        steps=[(step, voice.text(step_words(step))) for step in STEPS],
    )
