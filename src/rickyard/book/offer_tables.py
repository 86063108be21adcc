"""Tables of wood on offer, and of what the yard's work and means cost."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any

from sqlalchemy import ForeignKey, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from rickyard.book.base import Base, check, one_of
from rickyard.book.types import WholeNumber

if TYPE_CHECKING:
    from rickyard.book.models import Deed, Load

OFFER_KINDS = ("rough", "logs", "trees")
OFFER_STATES = ("open", "taken", "refused")
OFFER_ORIGINS = ("forest", "yard")
OFFER_QUANTITIES = ("stacked_m3", "loose_m3", "solid_m3", "green_kg")
MARGIN_KINDS = ("share", "cord", "load", "hour")


class Offer(Base):
    """Wood that somebody offered, as it was said. Who noted it and when stands in its deed.

    A rough offer has a `quantity` of a `quantity_kind` and `shares` of species by volume; the others have `logs`
    or `trees`, one object each in SI. `asked_minor` is what is asked for it, below zero if they pay for taking it.
    `harvest` says where the trees stand. A taken offer has its load; a refused one may have a reason.
    """

    __tablename__ = "offer"
    __table_args__ = (
        UniqueConstraint("yard_id", "number"),
        one_of("kind", OFFER_KINDS),
        one_of("state", OFFER_STATES),
        one_of("origin", OFFER_ORIGINS),
        one_of("quantity_kind", OFFER_QUANTITIES),
        check("quantity_with_kind", "(quantity IS NULL) = (quantity_kind IS NULL)"),
        check("rough_has_quantity", "(kind = 'rough') = (quantity IS NOT NULL)"),
        check("quantity_above_zero", "quantity > 0"),
        check("taken_has_load", "(state = 'taken') = (load_id IS NOT NULL)"),
        check("rot_is_share", "rot_share >= 0 AND rot_share < 1"),
        check("haul_not_negative", "haul_minor >= 0"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    yard_id: Mapped[int] = mapped_column(ForeignKey("yard.id"), index=True)
    deed_id: Mapped[int] = mapped_column(ForeignKey("deed.id"))
    number: Mapped[int]
    source: Mapped[str] = mapped_column(String(120))
    offered_on: Mapped[date]
    kind: Mapped[str] = mapped_column(String(8))
    typed: Mapped[str] = mapped_column(String(200), default="")
    quantity: Mapped[float | None]
    quantity_kind: Mapped[str | None] = mapped_column(String(12))
    shares: Mapped[list[Any]]
    logs: Mapped[list[Any]]
    trees: Mapped[list[Any]]
    harvest: Mapped[dict[str, Any]]
    origin: Mapped[str] = mapped_column(String(8), default="forest")
    rot_share: Mapped[float] = mapped_column(default=0.0)
    asked_minor: Mapped[int | None] = mapped_column(WholeNumber)
    haul_minor: Mapped[int] = mapped_column(WholeNumber, default=0)
    note: Mapped[str] = mapped_column(String(500), default="")
    state: Mapped[str] = mapped_column(String(8), default="open")
    settled_deed_id: Mapped[int | None] = mapped_column(ForeignKey("deed.id"))
    reason: Mapped[str] = mapped_column(String(300), default="")
    load_id: Mapped[int | None] = mapped_column(ForeignKey("load.id"), unique=True)

    deed: Mapped[Deed] = relationship(foreign_keys=[deed_id])
    settled: Mapped[Deed | None] = relationship(foreign_keys=[settled_deed_id])
    load: Mapped[Load | None] = relationship()


class YardCosts(Base):
    """What the yard's work and means cost, and the margin wanted; one row a yard, none before anything was said.

    What is empty is assumed. A litre, a kilometre, a cord and month are no whole numbers of cents where they were told
    for a gallon, a mile or a cubic metre. `hours` are hours a cord by step. `margin` is a share, or minor units a cord,
    load or hour, by `margin_kind`.
    """

    __tablename__ = "yard_costs"
    __table_args__ = (
        one_of("margin_kind", MARGIN_KINDS),
        check("margin_not_negative", "margin >= 0"),
        check("delivered_is_share", "delivered_share >= 0 AND delivered_share <= 1"),
        check("interest_is_share", "interest_year >= 0 AND interest_year <= 1"),
    )

    yard_id: Mapped[int] = mapped_column(ForeignKey("yard.id"), primary_key=True)
    deed_id: Mapped[int] = mapped_column(ForeignKey("deed.id"))
    wage_minor_h: Mapped[int | None] = mapped_column(WholeNumber)
    machine_minor_h: Mapped[int | None] = mapped_column(WholeNumber)
    fuel_minor_l: Mapped[float | None]
    vehicle_minor_km: Mapped[float | None]
    space_minor_cord_month: Mapped[float | None]
    metal_minor: Mapped[int | None] = mapped_column(WholeNumber)
    interest_year: Mapped[float] = mapped_column(default=0.0)
    method: Mapped[str] = mapped_column(String(40))
    delivery_km: Mapped[float | None]
    trip_cords: Mapped[float | None]
    delivered_share: Mapped[float] = mapped_column(default=1.0)
    kerf_m: Mapped[float]
    hours: Mapped[dict[str, Any]]
    margin_kind: Mapped[str] = mapped_column(String(8))
    margin: Mapped[float]
