"""How much wood a deed of `moving` would take, in stacked volume, before it is done; and what came back of tickets."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select

from rickyard.book import not_taken_back
from rickyard.book.models import Deed, Entry, Household, Posting, Stack, Ticket
from rickyard.desk.context import Desk
from rickyard.desk.loads import LoadPage
from rickyard.desk.moving import are_unlike
from rickyard.desk.spots import yard_spot
from rickyard.desk.stacks import StackCard
from rickyard.desk.tickets import TicketCard
from rickyard.measure import Spread, solid_share
from rickyard.text import T_, Text

# A sixteen-inch split, as tickets sell it unless they say otherwise [m].
STOVE_LENGTH_M = 0.4064
# Promises are kept to this volume [m³]; less is rounding.
LEAST_M3 = 0.01


@dataclass(frozen=True)
class Wood:
    """Wood in one place: the stacked volume that it fills when it is laid anew, and the pieces it would lie in."""

    ranked_m3: Spread
    form: str
    piece_length_m: float

    def ranked_of(self, m3: float, *, loose: bool) -> float:
        """An outside volume as stacked volume of such pieces [m³]."""
        if not loose:
            return m3
        thrown = solid_share("loose", self.form, self.piece_length_m).mid
        return m3 * thrown / solid_share("ranked", self.form, self.piece_length_m).mid


@dataclass(frozen=True)
class ReturnLine:
    """Wood of a ticket that came back: `share` of what the ticket says, `outside_m3` in the ticket's measure.

    The ticket is not known of returns that were entered before the book kept it.
    """

    ticket_id: int | None
    ticket_number: int | None
    happened_at: datetime
    stack_id: int
    stack_name: str
    share: float
    outside_m3: float | None
    oven_dry_kg: float
    reason: str


def wood_of_stack(card: StackCard) -> Wood:
    """The stacked volume is measured; moved, the same wood is laid anew, tighter or looser, as published."""
    return Wood(_laid_anew(card.ranked_m3, card.form, card.piece_length_m), card.form, card.piece_length_m)


def wood_when_split(card: StackCard, form: str, lost_share: float) -> Wood:
    """What is in a stack, as it fills a stack when it is split into such pieces, of which a share is lost."""
    solid = card.ranked_m3 * (1.0 - lost_share) * solid_share("ranked", card.form, card.piece_length_m).mid
    ranked = solid / solid_share("ranked", form, card.piece_length_m).mid
    return Wood(_laid_anew(ranked, form, card.piece_length_m), form, card.piece_length_m)


def wood_of_load(page: LoadPage) -> Wood:
    """What is left of a load, as it would be split and stacked."""
    total = page.left.total
    return Wood(total.ranked_m3 if total else Spread.exactly(0.0), "split", page.left.piece_length_m)


def wood_of_ticket(card: TicketCard) -> Wood:
    """What a ticket handed out, laid anew."""
    return Wood(_laid_anew(card.outside_m3, "split", STOVE_LENGTH_M), "split", STOVE_LENGTH_M)


def put_onto_notes(card: StackCard, onto: StackCard, share: float) -> tuple[Text, ...]:
    """What putting a share of one stack on another brings with it."""
    notes = []
    if onto.emptied_on is not None:
        notes.append(
            T_("Stack {name} is closed in the book. It opens again, and somebody must look.", name=onto.name)
        )
    if are_unlike(card, onto):
        notes.append(
            T_(
                "The pieces of {name} and {onto} are unlike in length, kind or age: the forecast will speak of those "
                "of {onto} alone.",
                name=card.name,
                onto=onto.name,
            )
        )
    if share == 1.0:
        notes.append(T_("Stack {name} is closed then.", name=card.name))
        if card.promised_m3 > LEAST_M3:
            notes.append(T_("What is promised from it is promised from {onto} then.", onto=onto.name))
    return tuple(notes) if share == 1.0 else (*notes, *promise_notes(card, share))


def promise_notes(card: StackCard, share: float) -> tuple[Text, ...]:
    """That less stays in a stack than is promised from it."""
    if card.promised_m3 <= card.ranked_m3 * (1.0 - share) + LEAST_M3:
        return ()
    return (T_("More is promised from {name} than stays there: look at the orders.", name=card.name),)


def returns(desk: Desk, *, ticket_id: int | None = None, household_id: int | None = None) -> list[ReturnLine]:
    """What came back of a ticket, or of all tickets of a household; newest first. Returns taken back are left out."""
    with desk.book.read() as session:
        if household_id is None:
            ticket = session.get(Ticket, ticket_id) if ticket_id is not None else None
            if ticket is None or ticket.yard_id != desk.yard_id:
                return []
            household_id = ticket.household_id
        if household_id is None:
            buyer = yard_spot(session, desk.yard_id, "gate")
        else:
            buyer = session.get_one(Household, household_id).spot_id
        gave = select(Posting.entry_id).where(Posting.spot_id == buyer, Posting.mass_g < 0)
        rows = session.execute(
            select(Entry, Deed.answer, Stack, Posting.quantity, Posting.unit, Posting.mass_g)
            .join(Deed, Deed.id == Entry.deed_id)
            .join(Posting, (Posting.entry_id == Entry.id) & (Posting.mass_g > 0))
            .join(Stack, Stack.spot_id == Posting.spot_id)
            .where(
                Entry.yard_id == desk.yard_id,
                Entry.kind == "return",
                Entry.id.in_(gave),
                not_taken_back(),
            )
            .order_by(Entry.happened_at.desc(), Entry.number.desc(), Posting.id)
        )
        lines: dict[int, ReturnLine] = {}
        for entry, answer, stack, quantity, unit, grams in rows:
            number = answer.get("ticket_id")
            if ticket_id is not None and number != ticket_id:
                continue
            known = lines.get(entry.id)
            of = session.get(Ticket, number) if number is not None else None
            share = quantity or 0.0
            if unit == "stacked_m3":
                share = share / of.outside_m3 if of else 0.0
            lines[entry.id] = ReturnLine(
                ticket_id=of.id if of else None,
                ticket_number=of.number if of else None,
                happened_at=entry.happened_at,
                stack_id=stack.id,
                stack_name=stack.name,
                share=share,
                outside_m3=of.outside_m3 * share if of else None,
                oven_dry_kg=grams / 1000 + (known.oven_dry_kg if known else 0.0),
                reason=entry.reason,
            )
        return list(lines.values())


def _laid_anew(ranked_m3: float, form: str, piece_length_m: float) -> Spread:
    content = solid_share("ranked", form, piece_length_m)
    return Spread(ranked_m3 * content.mid / content.high, ranked_m3, ranked_m3 * content.mid / content.low)
