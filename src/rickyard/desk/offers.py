"""Wood on offer: noted as it was said, changed, taken (and then it is a load in the book) or refused."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any

from rickyard.book import next_number
from rickyard.book.models import Offer
from rickyard.desk.checks import (
    EARLIEST,
    LOAD_GREEN_KG,
    LOAD_OUTSIDE_M3,
    day_between,
    one_of,
    shares_to_one,
    some_text,
    within,
)
from rickyard.desk.context import Answer, Command, Desk, Stage, do
from rickyard.desk.editing import must_be_as_seen, plain_facts
from rickyard.desk.wood_in import (
    QUANTITY_KINDS,
    Harvest,
    TakeInLogs,
    TakeInRough,
    taking_in_logs,
    taking_in_rough,
)
from rickyard.errors import InputError
from rickyard.measure import Defect, LogRow
from rickyard.text import T_
from rickyard.wood import find_species, get_species
from rickyard.worth import (
    ORIGINS,
    Offered,
    OfferedTree,
    logs_wood,
    rough_wood,
    trees_wood,
)

MOST_MONEY = 1e6
MOST_LISTED = 2000


@dataclass(frozen=True, kw_only=True)
class TreeFacts:
    """Standing trees of one kind and size: diameter over bark at breast height, height if known [m]."""

    species: str
    dbh_m: float
    height_m: float | None = None
    count: int = 1


@dataclass(frozen=True, kw_only=True)
class OfferFacts:
    """What was said of wood on offer: either a `quantity` of a `quantity_kind` with `shares` of species by volume,
    or `logs`, or standing `trees`.

    `asked_minor` is what is asked for all of it, below zero if they pay for taking it; None: nothing was said.
    `haul_minor` is what it costs us to bring it here. `origin` is where the trees stand or stood: in a forest, or in
    a yard or street. `rot_share` is what is rotten beyond what the logs say. `typed` keeps the words.
    """

    source: str
    harvest: Harvest
    offered_on: date
    quantity: float | None = None
    quantity_kind: str = "stacked_m3"
    shares: tuple[tuple[str, float], ...] = ()
    logs: tuple[LogRow, ...] = ()
    trees: tuple[TreeFacts, ...] = ()
    typed: str = ""
    asked_minor: int | None = None
    haul_minor: int = 0
    origin: str = "forest"
    rot_share: float = 0.0
    note: str = ""

    @property
    def kind(self) -> str:
        if self.logs:
            return "logs"
        return "trees" if self.trees else "rough"


@dataclass(frozen=True, kw_only=True)
class NoteOffer(Command):
    """Somebody offers wood."""

    facts: OfferFacts


@dataclass(frozen=True, kw_only=True)
class ChangeOffer(Command):
    """What was said of an open offer is put right, or another price is asked; `seen` as in `desk.editing`."""

    offer_id: int
    facts: OfferFacts
    seen: str = ""


@dataclass(frozen=True, kw_only=True)
class TakeOffer(Command):
    """Yes: the wood came. It is taken in as a load, with what was paid (below zero: what we were paid)."""

    offer_id: int
    arrived_on: date
    paid_minor: int | None = None
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class RefuseOffer(Command):
    """No, with the reason if there is one to remember."""

    offer_id: int
    reason: str = ""


def note_offer(desk: Desk, command: NoteOffer) -> Answer:
    """Answer: offer_id, number."""

    def run(stage: Stage) -> Answer:
        checked_offer(command.facts, stage.yard.currency)
        row = Offer(
            yard_id=stage.yard.id,
            deed_id=stage.deed.id,
            number=next_number(stage.session, stage.yard.id, "offer"),
        )
        _write(stage, row, command.facts)
        stage.session.add(row)
        stage.session.flush()
        return {"offer_id": row.id, "number": row.number}

    return do(desk, "note_offer", command, run)


def change_offer(desk: Desk, command: ChangeOffer) -> Answer:
    """Answer: offer_id, number. An offer that was taken or refused is not changed."""

    def run(stage: Stage) -> Answer:
        checked_offer(command.facts, stage.yard.currency)
        row = _open(find_offer(stage, command.offer_id))
        must_be_as_seen(command.seen, plain_facts(facts_of(row)))
        _write(stage, row, command.facts)
        return {"offer_id": row.id, "number": row.number}

    return do(desk, "change_offer", command, run)


def take_offer(desk: Desk, command: TakeOffer) -> Answer:
    """The load is in the book with what was paid, and the offer is taken: both or neither.

    Answer: offer_id, load_id, number (of the load).
    """

    def run(stage: Stage) -> Answer:
        row = _open(find_offer(stage, command.offer_id))
        answer = _taking_in(row, command, stage.yard.country)(stage)
        row.state, row.load_id, row.settled_deed_id = "taken", int(answer["load_id"]), stage.deed.id
        return {"offer_id": row.id, **answer}

    return do(desk, "take_offer", command, run)


def refuse_offer(desk: Desk, command: RefuseOffer) -> Answer:
    """Answer: offer_id."""
    reason = some_text("reason", command.reason, 300, needed=False)

    def run(stage: Stage) -> Answer:
        row = _open(find_offer(stage, command.offer_id))
        row.state, row.reason, row.settled_deed_id = "refused", reason, stage.deed.id
        return {"offer_id": row.id}

    return do(desk, "refuse_offer", command, run)


def find_offer(stage: Stage, offer_id: int) -> Offer:
    row = stage.session.get(Offer, offer_id)
    if row is None or row.yard_id != stage.yard.id:
        raise unknown_offer(offer_id)
    return row


def unknown_offer(offer_id: int) -> InputError:
    return InputError(
        "offer",
        wanted=T_("an offer made to this yard"),
        got=offer_id,
        next_move=T_("Choose it from the list of offers."),
        code="unknown_offer",
    )


def facts_of(row: Offer) -> OfferFacts:
    """What was said, as it stands in the book."""
    return OfferFacts(
        source=row.source,
        harvest=Harvest(**row.harvest),
        offered_on=row.offered_on,
        quantity=row.quantity,
        quantity_kind=row.quantity_kind or "stacked_m3",
        shares=tuple((str(name), float(share)) for name, share in row.shares),
        logs=tuple(_log_from(item) for item in row.logs),
        trees=tuple(TreeFacts(**item) for item in row.trees),
        typed=row.typed,
        asked_minor=row.asked_minor,
        haul_minor=row.haul_minor,
        origin=row.origin,
        rot_share=row.rot_share,
        note=row.note,
    )


def wood_of(facts: OfferFacts, *, country: str = "US") -> Offered:
    """The wood on offer, measured. Raises InputError for what makes no sense."""
    how: dict[str, Any] = {"rot_share": facts.rot_share, "origin": facts.origin}
    if facts.kind == "logs":
        return logs_wood(facts.logs, **how)
    if facts.kind == "trees":
        return trees_wood(
            [
                OfferedTree(
                    find_species(tree.species, field="tree_species"), tree.dbh_m, tree.height_m, tree.count
                )
                for tree in facts.trees
            ],
            country="CA" if country == "CA" else "US",
            **how,
        )
    shares = [(find_species(name, field="shares"), share) for name, share in facts.shares]
    return rough_wood(facts.quantity or 0.0, facts.quantity_kind, shares, **how)


def checked_offer(facts: OfferFacts, currency: str) -> None:
    """Raises InputError for the field that makes no sense; said in more than one way is nonsense too."""
    ways = [facts.quantity is not None, bool(facts.logs), bool(facts.trees)]
    if sum(ways) != 1:
        raise InputError(
            "quantity",
            wanted=T_("a quantity, or a list of logs, or standing trees"),
            got=T_("{count} of them", count=sum(ways)),
            next_move=T_("Say in one way how much it is."),
        )
    one_of("origin", facts.origin, ORIGINS)
    if facts.kind == "rough":
        shares_to_one("shares", facts.shares)
        one_of("quantity_kind", facts.quantity_kind, QUANTITY_KINDS)
        kg = facts.quantity_kind == "green_kg"
        within(
            "quantity", facts.quantity or 0.0, LOAD_GREEN_KG if kg else LOAD_OUTSIDE_M3, "kg" if kg else "m³"
        )
    if len(facts.logs) > MOST_LISTED:
        raise InputError(
            "logs",
            wanted=T_("at most {count} logs in an offer", count=MOST_LISTED),
            got=str(len(facts.logs)),
            next_move=T_("Note it as several offers, or by its quantity."),
        )
    for name, minor in (("asked", facts.asked_minor), ("haul", facts.haul_minor)):
        if minor is not None:
            within(name, minor / 100, (0.0 if name == "haul" else -MOST_MONEY, MOST_MONEY), currency)
    wood_of(facts)


def _write(stage: Stage, row: Offer, facts: OfferFacts) -> None:
    offered_on = stage.day_said(facts.offered_on)
    day_between("offered_on", offered_on, EARLIEST, stage.last_day)
    rough = facts.kind == "rough"
    row.source = some_text("source", facts.source, 120)
    row.offered_on = offered_on
    row.kind = facts.kind
    row.typed = some_text("quantity", facts.typed, 200, needed=False)
    row.quantity = facts.quantity if rough else None
    row.quantity_kind = facts.quantity_kind if rough else None
    row.shares = [
        [find_species(name, field="shares").id, share]
        for name, share in (shares_to_one("shares", facts.shares) if rough else ())
    ]
    row.logs = [asdict(log) for log in facts.logs]
    row.trees = [
        {**asdict(tree), "species": find_species(tree.species, field="tree_species").id}
        for tree in facts.trees
    ]
    row.harvest = _checked_harvest(facts.harvest)
    row.origin, row.rot_share = facts.origin, facts.rot_share
    row.asked_minor, row.haul_minor = facts.asked_minor, facts.haul_minor
    row.note = some_text("note", facts.note, 500, needed=False)


def _checked_harvest(harvest: Harvest) -> dict[str, str]:
    """Where the trees stand, as a load's lot will have it."""
    return {
        "country": some_text("country", harvest.country, 2).upper(),
        "subdivision": some_text("subdivision", harvest.subdivision, 8, needed=False).upper(),
        "county": some_text("county", harvest.county, 80, needed=False),
        "certificate": some_text("certificate", harvest.certificate, 80, needed=False),
    }


def _taking_in(row: Offer, command: TakeOffer, country: str) -> Callable[[Stage], Answer]:
    """What takes the wood of an offer in, as the load it was offered as; standing trees by their solid wood."""
    facts = facts_of(row)
    told: dict[str, Any] = {
        "key": command.key,
        "source": facts.source,
        "harvest": facts.harvest,
        "arrived_on": command.arrived_on,
        "paid_minor": command.paid_minor,
        "note": command.note or facts.note,
    }
    if facts.kind == "logs":
        return taking_in_logs(TakeInLogs(logs=facts.logs, **told))
    if facts.kind == "rough":
        return taking_in_rough(
            TakeInRough(
                quantity=facts.quantity or 0.0,
                quantity_kind=facts.quantity_kind,
                shares=facts.shares,
                typed=facts.typed,
                **told,
            )
        )
    found = wood_of(facts, country=country)
    return taking_in_rough(
        TakeInRough(
            quantity=found.solid_m3.mid,
            quantity_kind="solid_m3",
            shares=tuple((wood.id, volume / found.solid_m3.mid) for wood, volume in found.parts),
            typed=facts.typed,
            **told,
        )
    )


def _open(row: Offer) -> Offer:
    if row.state != "open":
        raise InputError(
            "offer",
            wanted=T_("an offer that is still open"),
            got=T_("one that was taken") if row.state == "taken" else T_("one that was refused"),
            next_move=T_("Open it to see what became of it; note a new one if it was made again."),
            code="offer_settled",
        )
    return row


def _log_from(item: dict[str, Any]) -> LogRow:
    defects = tuple(Defect(**one) for one in item["defects"])
    return LogRow(**{**item, "defects": defects})


def woods_of(facts: OfferFacts) -> tuple[str, ...]:
    """Ids of the kinds of wood on offer."""
    names = [name for name, _ in facts.shares]
    names += [log.species_id for log in facts.logs]
    names += [find_species(tree.species, field="tree_species").id for tree in facts.trees]
    return tuple(dict.fromkeys(get_species(name).id for name in names))
