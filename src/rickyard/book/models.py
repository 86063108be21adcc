"""The book's tables.

Every row belongs to a yard. Times are UTC (`UtcDateTime` refuses naive ones), days are the yard's own,
money is an integer of minor units, masses in the journal are integer grams of oven-dry wood.
Quantities typed in trade units are kept as typed beside the SI figure made from them.
No personal data stands in `entry` or `posting`.
"""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from sqlalchemy import ColumnElement, ForeignKey, Index, LargeBinary, String, UniqueConstraint, and_, select
from sqlalchemy.orm import Mapped, foreign, mapped_column, relationship

from rickyard.book.access_tables import HouseholdLink as HouseholdLink
from rickyard.book.access_tables import Password as Password
from rickyard.book.access_tables import SignIn as SignIn
from rickyard.book.access_tables import SignInTry as SignInTry
from rickyard.book.base import Base as Base
from rickyard.book.base import check as _check
from rickyard.book.base import one_of as _one_of
from rickyard.book.chain_tables import EntryLink as EntryLink
from rickyard.book.chain_tables import RowLink as RowLink
from rickyard.book.chain_tables import RowSeal as RowSeal
from rickyard.book.gauging_tables import LoadFollowing as LoadFollowing
from rickyard.book.gauging_tables import LoadMeasure as LoadMeasure
from rickyard.book.gauging_tables import PhotoGauging as PhotoGauging
from rickyard.book.measurements import StackLesson as StackLesson
from rickyard.book.measurements import Witness as Witness
from rickyard.book.measurements import WitnessWeight as WitnessWeight
from rickyard.book.naming_tables import Naming as Naming
from rickyard.book.naming_tables import NamingTruth as NamingTruth
from rickyard.book.offer_tables import Offer as Offer
from rickyard.book.offer_tables import YardCosts as YardCosts
from rickyard.book.sheet_tables import CutFinding as CutFinding
from rickyard.book.sheet_tables import CutSheet as CutSheet
from rickyard.book.sheet_tables import CutSheetLog as CutSheetLog
from rickyard.book.sheet_tables import CutTick as CutTick
from rickyard.book.sheet_tables import SplittingSheet as SplittingSheet
from rickyard.book.sheet_tables import WorkSession as WorkSession
from rickyard.book.types import WholeNumber
from rickyard.book.undoing_tables import Undoing as Undoing

SPOT_KINDS = ("load", "stack", "household", "gate", "own_use", "loss", "outside")
FORMS = ("log", "round", "split", "kindling", "bark", "kerf", "waste")
STACK_KINDS = ("stack", "heap", "bin")
LOAD_DETAILS = ("rough", "logs", "opening")
COVERS = ("none", "top", "shed")
EXPOSURES = ("sheltered", "normal", "windy")
GROUNDS = ("raised", "soil")
ORDER_STATES = ("asked", "promised", "delivered", "cancelled")
PROMISE_STATES = ("open", "kept", "released")
READING_KINDS = ("meter", "oven", "weighed")
READING_FACES = ("split", "surface")
READING_TRUSTS = ("", "right", "aside")
FORECAST_STATES = ("waiting", "running", "done", "failed")
PILED = ("ranked", "loose")
PIECE_FORMS = ("split", "round", "kindling")
PRICE_UNITS = ("cord", "stacked_m3", "loose_m3")
CLASH_SUBJECTS = ("stack", "reading", "load")
PHOTO_SUBJECTS = ("load", "stack", "reading", "ticket", "yard", "naming")
MEDIA_TYPES = ("image/jpeg", "image/png", "image/webp")


class Yard(Base):
    __tablename__ = "yard"
    __table_args__ = (
        _one_of("units", ("imperial", "metric")),
        _check("target_is_share", "target_mc_wet > 0 AND target_mc_wet < 1"),
        _check("tax_rate_is_share", "tax_rate >= 0 AND tax_rate < 1"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(String(120))
    address: Mapped[str] = mapped_column(String(300), default="")
    phone: Mapped[str] = mapped_column(String(40), default="")
    country: Mapped[str] = mapped_column(String(2))
    subdivision: Mapped[str] = mapped_column(String(8), default="")
    climate_place: Mapped[str] = mapped_column(String(80))
    timezone: Mapped[str] = mapped_column(String(60))
    currency: Mapped[str] = mapped_column(String(3))
    locale: Mapped[str] = mapped_column(String(12), default="en_CA")
    units: Mapped[str] = mapped_column(String(8), default="imperial")
    target_mc_wet: Mapped[float] = mapped_column(default=0.20)
    tax_rate: Mapped[float] = mapped_column(default=0.0)
    seed: Mapped[int] = mapped_column(default=0)
    is_demo: Mapped[bool] = mapped_column(default=False)
    created_at: Mapped[datetime]


class Person(Base):
    __tablename__ = "person"
    __table_args__ = (
        _one_of("role", ("owner", "helper", "driver", "bookkeeper")),
        Index("ix_person_name", "yard_id", "name", unique=True),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    yard_id: Mapped[int] = mapped_column(ForeignKey("yard.id"), index=True)
    name: Mapped[str] = mapped_column(String(120))
    role: Mapped[str] = mapped_column(String(12))


class Deed(Base):
    """One thing done through the desk. The same client key gives the first answer again.

    `told_at` is when it happened as the client said it, by its own clock: what tells the same report from another one
    under its key. `happened_at` is put right by our clock.
    """

    __tablename__ = "deed"
    __table_args__ = (
        UniqueConstraint("yard_id", "client_key"),
        Index("ix_deed_person", "yard_id", "person_id", "id"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    yard_id: Mapped[int] = mapped_column(ForeignKey("yard.id"), index=True)
    client_key: Mapped[str] = mapped_column(String(64))
    kind: Mapped[str] = mapped_column(String(40))
    body_hash: Mapped[str] = mapped_column(String(64))
    answer: Mapped[dict[str, Any]]
    person_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    happened_at: Mapped[datetime]
    recorded_at: Mapped[datetime]
    told_at: Mapped[datetime | None]


class Serial(Base):
    """The next number of each kind of paper; taken inside the deed's transaction, so without gaps."""

    __tablename__ = "serial"
    __table_args__ = (_check("next_from_one", "next >= 1"),)

    yard_id: Mapped[int] = mapped_column(ForeignKey("yard.id"), primary_key=True)
    kind: Mapped[str] = mapped_column(String(20), primary_key=True)
    next: Mapped[int] = mapped_column(default=1)


class Spot(Base):
    """Where wood can be in the journal: a load, a stack, heap or bin, a household, loss, outside, ..."""

    __tablename__ = "spot"
    __table_args__ = (_one_of("kind", SPOT_KINDS),)

    id: Mapped[int] = mapped_column(primary_key=True)
    yard_id: Mapped[int] = mapped_column(ForeignKey("yard.id"), index=True)
    kind: Mapped[str] = mapped_column(String(12))


class Lot(Base):
    """Where wood was harvested and how it was treated; follows the wood through every mixing."""

    __tablename__ = "lot"

    id: Mapped[int] = mapped_column(primary_key=True)
    yard_id: Mapped[int] = mapped_column(ForeignKey("yard.id"), index=True)
    country: Mapped[str] = mapped_column(String(2))
    subdivision: Mapped[str] = mapped_column(String(8), default="")
    county: Mapped[str] = mapped_column(String(80), default="")
    certificate: Mapped[str] = mapped_column(String(80), default="")


class Load(Base):
    """Wood that came in: rough ("10 cords, maple and birch"), as logs, or opening stock."""

    __tablename__ = "load"
    __table_args__ = (
        _one_of("detail", LOAD_DETAILS),
        UniqueConstraint("yard_id", "number"),
        _check("number_from_one", "number >= 1"),
        _check("mass_sd_not_negative", "mass_sd_share >= 0"),
        Index("ix_load_arrived", "yard_id", "arrived_on", "id"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    yard_id: Mapped[int] = mapped_column(ForeignKey("yard.id"), index=True)
    number: Mapped[int]
    spot_id: Mapped[int] = mapped_column(ForeignKey("spot.id"), unique=True)
    lot_id: Mapped[int] = mapped_column(ForeignKey("lot.id"))
    source: Mapped[str] = mapped_column(String(120))
    arrived_on: Mapped[date]
    detail: Mapped[str] = mapped_column(String(8))
    typed: Mapped[str] = mapped_column(String(200), default="")
    mass_sd_share: Mapped[float]
    paid_minor: Mapped[int | None] = mapped_column(WholeNumber)
    note: Mapped[str] = mapped_column(String(500), default="")

    logs: Mapped[list[LogPiece]] = relationship(back_populates="load", order_by="LogPiece.number")
    lot: Mapped[Lot] = relationship()


class LogPiece(Base):
    """One log as measured; `volume_m3` is its solid wood inside bark less defects, `gross_m3` with them.

    `defects` are {kind, from_m, to_m, diameter_m, share}, from the thick end.
    `bark_by_species`: the diameters were over bark, and the thickness is the species' own.
    """

    __tablename__ = "log_piece"
    __table_args__ = (
        UniqueConstraint("load_id", "number"),
        _check("number_from_one", "number >= 1"),
        _check("length_positive", "length_m > 0"),
        _check("volume_within_gross", "volume_m3 >= 0 AND gross_m3 > 0 AND volume_m3 <= gross_m3"),
        _check("bark_not_negative", "bark_thickness_m >= 0"),
        _check("sweep_not_negative", "sweep_m >= 0"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    yard_id: Mapped[int] = mapped_column(ForeignKey("yard.id"), index=True)
    load_id: Mapped[int] = mapped_column(ForeignKey("load.id"), index=True)
    number: Mapped[int]
    species_id: Mapped[str] = mapped_column(String(60))
    length_m: Mapped[float]
    small_d_m: Mapped[float | None]
    large_d_m: Mapped[float | None]
    mid_d_m: Mapped[float | None]
    bark_thickness_m: Mapped[float] = mapped_column(default=0.0)
    formula: Mapped[str] = mapped_column(String(12))
    volume_m3: Mapped[float]
    gross_m3: Mapped[float]
    sweep_m: Mapped[float] = mapped_column(default=0.0)
    defects: Mapped[list[Any]] = mapped_column(default=list)
    bark_by_species: Mapped[bool] = mapped_column(default=False)

    load: Mapped[Load] = relationship(back_populates="logs")


class Stack(Base):
    """Cut wood that stands together: a ranked stack, a loose heap or a bin."""

    __tablename__ = "stack"
    __table_args__ = (
        _one_of("kind", STACK_KINDS),
        _one_of("cover", COVERS),
        _one_of("exposure", EXPOSURES),
        _one_of("ground", GROUNDS),
        _one_of("form", PIECE_FORMS),
        UniqueConstraint("yard_id", "name"),
        _check("piece_length_positive", "piece_length_m > 0"),
        _check("thickness_positive", "thickness_m > 0"),
        _check("target_is_share", "target_mc_wet > 0 AND target_mc_wet < 1"),
        _check("start_is_share", "start_mc_wet > 0 AND start_mc_wet < 1"),
        Index("ix_stack_standing", "yard_id", "emptied_on", "name"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    yard_id: Mapped[int] = mapped_column(ForeignKey("yard.id"), index=True)
    spot_id: Mapped[int] = mapped_column(ForeignKey("spot.id"), unique=True)
    name: Mapped[str] = mapped_column(String(40))
    kind: Mapped[str] = mapped_column(String(8))
    form: Mapped[str] = mapped_column(String(12))
    piece_length_m: Mapped[float]
    thickness_m: Mapped[float]
    bark: Mapped[bool] = mapped_column(default=True)
    cover: Mapped[str] = mapped_column(String(8))
    exposure: Mapped[str] = mapped_column(String(12))
    ground: Mapped[str] = mapped_column(String(8), default="raised")
    stacked_on: Mapped[date]
    start_mc_wet: Mapped[float | None]
    target_mc_wet: Mapped[float]
    row_label: Mapped[str] = mapped_column(String(40), default="")
    x_m: Mapped[float | None]
    y_m: Mapped[float | None]
    emptied_on: Mapped[date | None]
    note: Mapped[str] = mapped_column(String(500), default="")

    # Those that count; to read only, for one that was taken back stays in its table.
    measures: Mapped[list[StackMeasure]] = relationship(
        primaryjoin=lambda: and_(Stack.id == foreign(StackMeasure.stack_id), StackMeasure.counts()),
        order_by="StackMeasure.happened_at, StackMeasure.id",
        viewonly=True,
    )
    readings: Mapped[list[Reading]] = relationship(
        back_populates="stack", order_by="Reading.happened_on, Reading.id"
    )


class StackMeasure(Base):
    """The outside of a stack as measured, and the oven-dry mass that stood in it just then.

    After a stock-taking the journal follows the measure; else the measure is only the journal's wood seen again.
    """

    __tablename__ = "stack_measure"
    __table_args__ = (
        _one_of("piled", PILED),
        _check("outside_positive", "outside_m3 > 0"),
        _check("length_positive", "length_m > 0"),
        _check("rows_from_one", "rows >= 1"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    yard_id: Mapped[int] = mapped_column(ForeignKey("yard.id"), index=True)
    stack_id: Mapped[int] = mapped_column(ForeignKey("stack.id"), index=True)
    deed_id: Mapped[int | None] = mapped_column(ForeignKey("deed.id"))
    happened_at: Mapped[datetime]
    piled: Mapped[str] = mapped_column(String(8))
    length_m: Mapped[float]
    heights_m: Mapped[list[Any]]
    rows: Mapped[int] = mapped_column(default=1)
    outside_m3: Mapped[float]
    mass_g: Mapped[int] = mapped_column(WholeNumber)
    stock_taking: Mapped[bool] = mapped_column(default=False)

    stack: Mapped[Stack] = relationship()

    @classmethod
    def counts(cls) -> ColumnElement[bool]:
        """The condition that it was not taken back."""
        return ~select(Undoing.id).where(Undoing.measure_id == cls.id).exists()


class Entry(Base):
    """One entry of the journal: postings that sum to zero. Never edited; a mistake is reversed."""

    __tablename__ = "entry"
    __table_args__ = (
        UniqueConstraint("yard_id", "number"),
        _check("number_from_one", "number >= 1"),
        _check("reverses_another", "reverses_id <> id"),
        # What happened since a day, or within a period, without reading the journal of ten years.
        Index("ix_entry_happened", "yard_id", "happened_at"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    yard_id: Mapped[int] = mapped_column(ForeignKey("yard.id"), index=True)
    number: Mapped[int]
    deed_id: Mapped[int | None] = mapped_column(ForeignKey("deed.id"))
    kind: Mapped[str] = mapped_column(String(24))
    reason: Mapped[str] = mapped_column(String(200), default="")
    happened_at: Mapped[datetime]
    recorded_at: Mapped[datetime]
    reverses_id: Mapped[int | None] = mapped_column(ForeignKey("entry.id"), unique=True)

    postings: Mapped[list[Posting]] = relationship(back_populates="entry", order_by="Posting.id")


class Posting(Base):
    """Oven-dry mass of one species, form and lot into (+) or out of (−) a spot, and how it was measured.

    `quantity` has no sign: the sign of the mass says which way it went.
    """

    __tablename__ = "posting"
    __table_args__ = (
        _one_of("form", FORMS),
        _check("mass_not_zero", "mass_g <> 0"),
        _check("sd_not_negative", "sd_share >= 0"),
        _check("density_positive", "basic_density_kg_m3 > 0"),
        # Holds all that the stock of a spot is summed from, so that the table itself need not be read.
        Index("ix_posting_stock", "spot_id", "species_id", "form", "lot_id", "mass_g"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    yard_id: Mapped[int] = mapped_column(ForeignKey("yard.id"), index=True)
    entry_id: Mapped[int] = mapped_column(ForeignKey("entry.id"), index=True)
    spot_id: Mapped[int] = mapped_column(ForeignKey("spot.id"))
    species_id: Mapped[str] = mapped_column(String(60))
    form: Mapped[str] = mapped_column(String(10))
    lot_id: Mapped[int] = mapped_column(ForeignKey("lot.id"))
    mass_g: Mapped[int] = mapped_column(WholeNumber)
    quantity: Mapped[float | None]
    unit: Mapped[str] = mapped_column(String(20), default="")
    method: Mapped[str] = mapped_column(String(40), default="")
    sd_share: Mapped[float | None]
    basic_density_kg_m3: Mapped[float | None]

    entry: Mapped[Entry] = relationship(back_populates="postings")


# An entry is sealed when its postings are there; nothing else in the tables says that order.
EntryLink.metadata.tables["entry_link"].add_is_dependent_on(EntryLink.metadata.tables["posting"])


class Reading(Base):
    """A moisture reading: pin meter (percent shown), oven (wet basis), weighed (ratio to the mass when marked).

    `value`, `pieces`, `scatter`, `since` and `step_share` of weighed pieces are reckoned from their weights, and
    again when a marking comes late; `pieces` 0: none of them counts. `own`: the oven sample was cut from the marked
    pieces. `trust`: what somebody said who looked again.
    """

    __tablename__ = "reading"
    __table_args__ = (
        _one_of("kind", READING_KINDS),
        _one_of("face", READING_FACES),
        _one_of("trust", READING_TRUSTS),
        _check("value_not_negative", "value >= 0"),
        _check("pieces_not_negative", "pieces >= 0"),
        _check("scatter_not_negative", "scatter >= 0"),
        _check("step_not_negative", "step_share >= 0"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    yard_id: Mapped[int] = mapped_column(ForeignKey("yard.id"), index=True)
    stack_id: Mapped[int] = mapped_column(ForeignKey("stack.id"), index=True)
    deed_id: Mapped[int | None] = mapped_column(ForeignKey("deed.id"))
    happened_on: Mapped[date]
    kind: Mapped[str] = mapped_column(String(8))
    species_id: Mapped[str | None] = mapped_column(String(60))
    value: Mapped[float]
    temp_c: Mapped[float | None]
    typed: Mapped[dict[str, Any]]
    note: Mapped[str] = mapped_column(String(300), default="")
    face: Mapped[str] = mapped_column(String(8), default="split")
    pieces: Mapped[int | None]
    scatter: Mapped[float | None]
    since: Mapped[date | None]
    step_share: Mapped[float | None]
    own: Mapped[bool] = mapped_column(default=False)
    wet: Mapped[bool] = mapped_column(default=False)
    trust: Mapped[str] = mapped_column(String(8), default="")
    judged_deed_id: Mapped[int | None] = mapped_column(ForeignKey("deed.id"))

    stack: Mapped[Stack] = relationship(back_populates="readings")
    weights: Mapped[list[WitnessWeight]] = relationship(order_by="WitnessWeight.id")


class Ware(Base):
    """A thing sold: length, class of wood, dryness, form, and its price."""

    __tablename__ = "ware"
    __table_args__ = (
        UniqueConstraint("yard_id", "name"),
        _one_of("price_unit", PRICE_UNITS),
        _one_of("form", PIECE_FORMS),
        _check("piece_length_positive", "piece_length_m > 0"),
        _check("tolerance_not_negative", "length_tolerance_m >= 0"),
        _check("max_mc_is_share", "max_mc_wet > 0 AND max_mc_wet < 1"),
        _check("price_not_negative", "price_minor >= 0"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    yard_id: Mapped[int] = mapped_column(ForeignKey("yard.id"), index=True)
    name: Mapped[str] = mapped_column(String(80))
    species_ids: Mapped[list[Any]]
    form: Mapped[str] = mapped_column(String(12))
    piece_length_m: Mapped[float]
    length_tolerance_m: Mapped[float] = mapped_column(default=0.05)
    max_mc_wet: Mapped[float | None]
    price_minor: Mapped[int] = mapped_column(WholeNumber)
    price_unit: Mapped[str] = mapped_column(String(12))
    active: Mapped[bool] = mapped_column(default=True)


class Household(Base):
    __tablename__ = "household"
    __table_args__ = (Index("ix_household_name", "yard_id", "name", "id"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    yard_id: Mapped[int] = mapped_column(ForeignKey("yard.id"), index=True)
    spot_id: Mapped[int] = mapped_column(ForeignKey("spot.id"), unique=True)
    name: Mapped[str] = mapped_column(String(120))
    address: Mapped[str] = mapped_column(String(300), default="")
    phone: Mapped[str] = mapped_column(String(40), default="")
    note: Mapped[str] = mapped_column(String(500), default="")


class Order(Base):
    """What a household asked for. `outside_m3` is ranked stack volume."""

    __tablename__ = "orders"
    __table_args__ = (
        _one_of("state", ORDER_STATES),
        UniqueConstraint("yard_id", "number"),
        _check("number_from_one", "number >= 1"),
        _check("outside_positive", "outside_m3 > 0"),
        _check("total_not_negative", "total_minor >= 0"),
        Index("ix_orders_wanted", "yard_id", "state", "wanted_by", "number"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    yard_id: Mapped[int] = mapped_column(ForeignKey("yard.id"), index=True)
    number: Mapped[int]
    household_id: Mapped[int] = mapped_column(ForeignKey("household.id"), index=True)
    ware_id: Mapped[int] = mapped_column(ForeignKey("ware.id"))
    typed: Mapped[str] = mapped_column(String(60))
    outside_m3: Mapped[float]
    asked_on: Mapped[date]
    wanted_by: Mapped[date]
    state: Mapped[str] = mapped_column(String(12))
    total_minor: Mapped[int] = mapped_column(WholeNumber)
    note: Mapped[str] = mapped_column(String(500), default="")

    household: Mapped[Household] = relationship()
    ware: Mapped[Ware] = relationship()
    promises: Mapped[list[Promise]] = relationship(back_populates="order", order_by="Promise.id")


class Promise(Base):
    """Wood of a stack reserved for an order, with the odds as they stood when it was promised."""

    __tablename__ = "promise"
    __table_args__ = (
        _one_of("state", PROMISE_STATES),
        _check("outside_positive", "outside_m3 > 0"),
        _check("odds_are_share", "odds >= 0 AND odds <= 1"),
        Index("ix_promise_state", "yard_id", "state", "stack_id", "outside_m3"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    yard_id: Mapped[int] = mapped_column(ForeignKey("yard.id"), index=True)
    order_id: Mapped[int] = mapped_column(ForeignKey("orders.id"), index=True)
    stack_id: Mapped[int] = mapped_column(ForeignKey("stack.id"), index=True)
    outside_m3: Mapped[float]
    odds: Mapped[float | None]
    made_at: Mapped[datetime]
    state: Mapped[str] = mapped_column(String(10))

    order: Mapped[Order] = relationship(back_populates="promises")
    stack: Mapped[Stack] = relationship()


class Ticket(Base):
    """A delivery or a sale at the gate. `facts` is what the paper says, frozen when it was issued."""

    __tablename__ = "ticket"
    __table_args__ = (
        UniqueConstraint("yard_id", "number"),
        _check("number_from_one", "number >= 1"),
        _check("outside_positive", "outside_m3 > 0"),
        _check("price_not_negative", "price_minor >= 0"),
        _check("tax_not_negative", "tax_minor >= 0"),
        _check("total_is_price_and_tax", "total_minor = price_minor + tax_minor"),
        Index("ix_ticket_order", "yard_id", "order_id", "number"),
        Index("ix_ticket_household", "yard_id", "household_id", "number"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    yard_id: Mapped[int] = mapped_column(ForeignKey("yard.id"), index=True)
    number: Mapped[int]
    order_id: Mapped[int | None] = mapped_column(ForeignKey("orders.id"), index=True)
    household_id: Mapped[int | None] = mapped_column(ForeignKey("household.id"), index=True)
    entry_id: Mapped[int] = mapped_column(ForeignKey("entry.id"), unique=True)
    issued_at: Mapped[datetime]
    delivered_on: Mapped[date]
    outside_m3: Mapped[float]
    price_minor: Mapped[int] = mapped_column(WholeNumber)
    tax_minor: Mapped[int] = mapped_column(WholeNumber)
    total_minor: Mapped[int] = mapped_column(WholeNumber)
    currency: Mapped[str] = mapped_column(String(3))
    facts: Mapped[dict[str, Any]]

    payments: Mapped[list[Payment]] = relationship(back_populates="ticket", order_by="Payment.id")
    household: Mapped[Household | None] = relationship()
    undoing: Mapped[Undoing | None] = relationship(back_populates="ticket")


class Payment(Base):
    __tablename__ = "payment"
    __table_args__ = (_check("amount_positive", "amount_minor > 0"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    yard_id: Mapped[int] = mapped_column(ForeignKey("yard.id"), index=True)
    ticket_id: Mapped[int] = mapped_column(ForeignKey("ticket.id"), index=True)
    amount_minor: Mapped[int] = mapped_column(WholeNumber)
    method: Mapped[str] = mapped_column(String(20))
    paid_on: Mapped[date]

    ticket: Mapped[Ticket] = relationship(back_populates="payments")
    undoing: Mapped[Undoing | None] = relationship(back_populates="payment")


class StackForecast(Base):
    """The newest forecast of a stack, kept until what it was made from changes (`fingerprint`)."""

    __tablename__ = "stack_forecast"
    __table_args__ = (_one_of("state", FORECAST_STATES), Index("ix_stack_forecast_state", "yard_id", "state"))

    id: Mapped[int] = mapped_column(primary_key=True)
    yard_id: Mapped[int] = mapped_column(ForeignKey("yard.id"), index=True)
    stack_id: Mapped[int] = mapped_column(ForeignKey("stack.id"), unique=True)
    fingerprint: Mapped[str] = mapped_column(String(64))
    state: Mapped[str] = mapped_column(String(8))
    error: Mapped[str] = mapped_column(String(500), default="")
    model: Mapped[str] = mapped_column(String(40), default="")
    made_at: Mapped[datetime | None]
    summary: Mapped[dict[str, Any]] = mapped_column(default=dict)
    members_mc: Mapped[bytes | None] = mapped_column(LargeBinary)


class Clash(Base):
    """A report that does not fit what the book says. It was taken as it came; somebody must look.

    `msgid` and `sentence_values` make the sentence in any language (`rickyard.text.Text`).
    """

    __tablename__ = "clash"
    __table_args__ = (
        _one_of("subject_kind", CLASH_SUBJECTS),
        _check("settled_by_a_deed", "(settled_at IS NULL) = (settled_deed_id IS NULL)"),
        Index("ix_clash_subject", "yard_id", "subject_kind", "subject_id"),
        Index("ix_clash_open", "yard_id", "settled_at", "raised_at"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    yard_id: Mapped[int] = mapped_column(ForeignKey("yard.id"), index=True)
    deed_id: Mapped[int] = mapped_column(ForeignKey("deed.id"), index=True)
    subject_kind: Mapped[str] = mapped_column(String(8))
    subject_id: Mapped[int]
    code: Mapped[str] = mapped_column(String(40))
    msgid: Mapped[str] = mapped_column(String(600))
    sentence_values: Mapped[dict[str, Any]]
    raised_at: Mapped[datetime]
    settled_at: Mapped[datetime | None]
    settled_deed_id: Mapped[int | None] = mapped_column(ForeignKey("deed.id"))
    note: Mapped[str] = mapped_column(String(300), default="")


class Photo(Base):
    """A photo of a load, a stack, a reading, a ticket, a named tree or the yard; its bytes lie beside the book by hash.

    Not append-only: somebody who is seen in one may ask that it be taken out.
    """

    __tablename__ = "photo"
    __table_args__ = (
        _one_of("subject_kind", PHOTO_SUBJECTS),
        _one_of("media_type", MEDIA_TYPES),
        _check("size_positive", "size_bytes > 0 AND width_px > 0 AND height_px > 0"),
        _check("latitude_on_earth", "latitude_deg >= -90 AND latitude_deg <= 90"),
        _check("longitude_on_earth", "longitude_deg >= -180 AND longitude_deg <= 180"),
        Index("ix_photo_subject", "yard_id", "subject_kind", "subject_id"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    yard_id: Mapped[int] = mapped_column(ForeignKey("yard.id"), index=True)
    deed_id: Mapped[int] = mapped_column(ForeignKey("deed.id"), index=True)
    sha256: Mapped[str] = mapped_column(String(64), index=True)
    media_type: Mapped[str] = mapped_column(String(20))
    size_bytes: Mapped[int]
    width_px: Mapped[int]
    height_px: Mapped[int]
    taken_at: Mapped[datetime | None]
    subject_kind: Mapped[str] = mapped_column(String(8))
    subject_id: Mapped[int]
    note: Mapped[str] = mapped_column(String(300), default="")
    latitude_deg: Mapped[float | None]
    longitude_deg: Mapped[float | None]
