"""What we sell: wares by length, class of wood, dryness and form, with their prices."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal

from sqlalchemy import select

from rickyard.book.models import Ware
from rickyard.desk.checks import PIECE_LENGTH_M, one_of, some_text, within
from rickyard.desk.context import Answer, Command, Desk, Stage, do
from rickyard.desk.editing import must_be_as_seen, state_of
from rickyard.desk.stacks import StackCard
from rickyard.errors import InputError
from rickyard.measure import CORD_M3, solid_share
from rickyard.text import T_
from rickyard.wood import Species, find_species, get_species
from rickyard.worth import PricedWare
from rickyard.worth.wares import FORMS

PRICE_UNITS = ("cord", "stacked_m3", "loose_m3")
# A stated mix of species must be right within a tenth: the tolerance that US ticket laws state.
SPECIES_TOLERANCE = 0.10


_FACTS = (
    "name",
    "form",
    "piece_length_m",
    "length_tolerance_m",
    "max_mc_wet",
    "price_minor",
    "price_unit",
    "active",
)


@dataclass(frozen=True, kw_only=True)
class WareFacts:
    """`species` lists species, genera or groups that belong to the ware; none means any wood.

    `max_mc_wet` is the moisture (of total mass) at or below which it is sold; None means green.
    """

    name: str
    species: tuple[str, ...] = ()
    form: str = "split"
    piece_length_m: float
    length_tolerance_m: float = 0.05
    max_mc_wet: float | None = 0.20
    price_minor: int
    price_unit: str = "cord"
    active: bool = True


@dataclass(frozen=True, kw_only=True)
class SetWare(Command):
    """A new ware, or (with `ware_id`) a changed one. Orders keep the price they were made at.

    `seen` as in `desk.editing`.
    """

    facts: WareFacts
    ware_id: int | None = None
    seen: str = ""


@dataclass(frozen=True)
class WareCard:
    id: int
    name: str
    species: tuple[Species, ...]
    form: str
    piece_length_m: float
    length_tolerance_m: float
    max_mc_wet: float | None
    price_minor: int
    price_unit: str
    active: bool

    @property
    def state(self) -> str:
        """What a form that changes this ware has seen."""
        facts = {name: getattr(self, name) for name in _FACTS}
        return state_of(facts | {"species": [wood.id for wood in self.species]})

    def fits_pieces(self, stack: StackCard) -> bool:
        """Form, length and species right, whatever the dryness."""
        return (
            stack.form == self.form
            and abs(stack.piece_length_m - self.piece_length_m) <= self.length_tolerance_m + 1e-9
            and self.species_share(stack) >= 1 - SPECIES_TOLERANCE - 1e-9
        )

    def species_share(self, stack: StackCard) -> float:
        """Share of the stack's wood that belongs to this ware."""
        if not self.species:
            return 1.0
        wanted = {wood.id for wood in self.species} | {m for wood in self.species for m in wood.members}
        return sum(share for species, share in stack.shares if species.id in wanted)

    def price_of(self, ranked_m3: float) -> int:
        """Price in minor units of a ranked volume, rounded once."""
        volume = Decimal(repr(ranked_m3))
        if self.price_unit == "cord":
            volume /= Decimal(repr(CORD_M3))
        elif self.price_unit == "loose_m3":
            ranked = solid_share("ranked", self.form, self.piece_length_m).mid
            loose = solid_share("loose", self.form, self.piece_length_m).mid
            volume *= Decimal(repr(ranked / loose))
        return int((volume * self.price_minor).to_integral_value(rounding=ROUND_HALF_EVEN))


def set_ware(desk: Desk, command: SetWare) -> Answer:
    """Answer: ware_id."""
    return do(desk, "set_ware", command, lambda stage: setting_ware(command, stage.yard.currency)(stage))


def setting_ware(command: SetWare, currency: str) -> Callable[[Stage], Answer]:
    """What setting a ware does, for a deed that does more than that; `currency` is the yard's."""
    facts = command.facts
    name = some_text("name", facts.name, 80)
    species = [find_species(item, field="species").id for item in facts.species]
    within("piece_length", facts.piece_length_m, PIECE_LENGTH_M, "m")
    within("length_tolerance", facts.length_tolerance_m, (0.0, 0.5), "m")
    if facts.max_mc_wet is not None:
        within("moisture", facts.max_mc_wet, (0.05, 0.60), "of total mass")
    within("price", facts.price_minor / 100, (0.0, 100_000.0), currency)
    for field, value, allowed in (
        ("form", facts.form, ("split", "round", "kindling")),
        ("price_unit", facts.price_unit, PRICE_UNITS),
    ):
        one_of(field, value, allowed)

    def run(stage: Stage) -> Answer:
        twin = stage.session.scalar(
            select(Ware.id).where(
                Ware.yard_id == stage.yard.id, Ware.name == name, Ware.id != (command.ware_id or 0)
            )
        )
        if twin is not None:
            raise InputError(
                "name",
                wanted=T_("a name that no other ware has"),
                got=name,
                next_move=T_("Give this ware another name."),
                code="name_taken",
            )
        if command.ware_id is None:
            ware = Ware(yard_id=stage.yard.id)
            stage.session.add(ware)
        else:
            ware = _ware(stage, command.ware_id)
            before = {field: getattr(ware, field) for field in _FACTS}
            must_be_as_seen(command.seen, before | {"species": list(ware.species_ids)})
        ware.name, ware.species_ids, ware.form = name, list(species), facts.form
        ware.piece_length_m, ware.length_tolerance_m = facts.piece_length_m, facts.length_tolerance_m
        ware.max_mc_wet, ware.price_minor = facts.max_mc_wet, facts.price_minor
        ware.price_unit, ware.active = facts.price_unit, facts.active
        stage.session.flush()
        return {"ware_id": ware.id}

    return run


def wares(desk: Desk, *, active_only: bool = True) -> list[WareCard]:
    with desk.book.read() as session:
        query = select(Ware).where(Ware.yard_id == desk.yard_id).order_by(Ware.name)
        if active_only:
            query = query.where(Ware.active)
        return [ware_card(ware) for ware in session.scalars(query)]


def ware(desk: Desk, ware_id: int) -> WareCard:
    with desk.book.read() as session:
        found = session.get(Ware, ware_id)
        if found is None or found.yard_id != desk.yard_id:
            raise unknown_ware(ware_id)
        return ware_card(found)


def ware_card(ware: Ware) -> WareCard:
    return WareCard(
        id=ware.id,
        name=ware.name,
        species=tuple(get_species(item) for item in ware.species_ids),
        form=ware.form,
        piece_length_m=ware.piece_length_m,
        length_tolerance_m=ware.length_tolerance_m,
        max_mc_wet=ware.max_mc_wet,
        price_minor=ware.price_minor,
        price_unit=ware.price_unit,
        active=ware.active,
    )


def priced_wares(cards: Sequence[WareCard]) -> tuple[PricedWare, ...]:
    """The price list as the worth of wood is reckoned with; kindling is left out."""
    return tuple(priced_ware(card) for card in cards if card.form in FORMS)


def priced_ware(card: WareCard) -> PricedWare:
    """One ware of the price list, as the worth of wood is reckoned with; InputError for kindling."""
    return PricedWare(
        card.name,
        card.form,
        card.piece_length_m,
        _minor_per_m3(card),
        card.max_mc_wet,
        frozenset(name for wood in card.species for name in (wood.id, *wood.members))
        if card.species
        else None,
    )


def _minor_per_m3(card: WareCard) -> float:
    if card.price_unit == "cord":
        return card.price_minor / CORD_M3
    if card.price_unit == "loose_m3":
        ranked = solid_share("ranked", card.form, card.piece_length_m).mid
        return card.price_minor * ranked / solid_share("loose", card.form, card.piece_length_m).mid
    return float(card.price_minor)


def unknown_ware(ware_id: int) -> InputError:
    return InputError(
        "ware",
        wanted=T_("one of the things this yard sells"),
        got=ware_id,
        next_move=T_("Choose it from the list of what we sell."),
        code="unknown_ware",
    )


def _ware(stage: Stage, ware_id: int) -> Ware:
    found = stage.session.get(Ware, ware_id)
    if found is None or found.yard_id != stage.yard.id:
        raise unknown_ware(ware_id)
    return found
