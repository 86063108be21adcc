"""Tables of the saw and the splitter: cut sheets with what was ticked off and found, splitting sheets, timed work.

None of them moves wood: what they say stands beside the journal, which follows when a stack is made.
"""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any

from sqlalchemy import ForeignKey, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from rickyard.book.base import Base, check, one_of

if TYPE_CHECKING:
    from rickyard.book.models import Deed, Load

CUT_METHODS = ("single", "every_sequence", "columns", "prices")
TICK_KINDS = ("cut", "undo")
FOUND_KINDS = ("rot", "metal", "fork", "crack", "crook", "other")
WORK_STEPS = ("sawing", "splitting", "stacking", "loading", "delivering")
LIMIT_STATES = ("waiting", "found", "always", "never")


class CutSheet(Base):
    """Where to cut logs of a load. Who made it and when stands in its deed.

    `wares` are {name, ware_id, length_m, value_per_m3, wanted_m3, min_d_m, max_d_m, tolerance_m} in the order of
    their letters, the value in the yard's money; those of before tolerances have no tolerance_m, each piece being as
    long as its ware. Those whose worth was reckoned have net and gross too, [low, mid, high] a solid m³, and
    months_known. `small_cores`: whether pieces may hold a small hollow or rotten core. `method` and `bound` (no plan
    is worth more) are empty until the plan is reckoned.
    """

    __tablename__ = "cut_sheet"
    __table_args__ = (
        UniqueConstraint("yard_id", "number"),
        check("number_from_one", "number >= 1"),
        check("kerf_not_negative", "kerf_m >= 0"),
        check("trim_not_negative", "trim_m >= 0"),
        check("bound_not_negative", "bound >= 0"),
        one_of("method", ("", *CUT_METHODS)),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    yard_id: Mapped[int] = mapped_column(ForeignKey("yard.id"), index=True)
    deed_id: Mapped[int] = mapped_column(ForeignKey("deed.id"))
    load_id: Mapped[int] = mapped_column(ForeignKey("load.id"), index=True)
    number: Mapped[int]
    wares: Mapped[list[Any]]
    kerf_m: Mapped[float]
    trim_m: Mapped[float]
    small_cores: Mapped[bool] = mapped_column(default=False)
    method: Mapped[str] = mapped_column(String(16), default="")
    bound: Mapped[float | None]
    note: Mapped[str] = mapped_column(String(300), default="")

    deed: Mapped[Deed] = relationship()
    load: Mapped[Load] = relationship()
    logs: Mapped[list[CutSheetLog]] = relationship(back_populates="sheet", order_by="CutSheetLog.number")


class CutSheetLog(Base):
    """A log of a cut sheet as it was planned: diameters of the wood without bark.

    `log_number` is its number in the load, if it was measured there. `defects` are [from_m, to_m, kind], `cuts`
    [from_m, to_m, place of the ware, solid_m3] from the thick end on. What was found later stands in `CutFinding`.
    """

    __tablename__ = "cut_sheet_log"
    __table_args__ = (
        UniqueConstraint("sheet_id", "number"),
        check("number_from_one", "number >= 1"),
        check("length_positive", "length_m > 0"),
        check("ends_in_order", "small_d_m > 0 AND large_d_m >= small_d_m"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    yard_id: Mapped[int] = mapped_column(ForeignKey("yard.id"), index=True)
    sheet_id: Mapped[int] = mapped_column(ForeignKey("cut_sheet.id"), index=True)
    number: Mapped[int]
    log_number: Mapped[int | None]
    label: Mapped[str] = mapped_column(String(40))
    species_id: Mapped[str] = mapped_column(String(60), default="")
    length_m: Mapped[float]
    large_d_m: Mapped[float]
    small_d_m: Mapped[float]
    mid_only: Mapped[bool] = mapped_column(default=False)
    defects: Mapped[list[Any]]
    cuts: Mapped[list[Any]]

    sheet: Mapped[CutSheet] = relationship(back_populates="logs")
    ticks: Mapped[list[CutTick]] = relationship(order_by="CutTick.id")
    findings: Mapped[list[CutFinding]] = relationship(order_by="CutFinding.id")


class CutTick(Base):
    """A log, or a piece of it by its place, was cut; or that was said by mistake. When and by whom: its deed.

    Reports come in any order. Of those about a piece the one that happened last counts.
    """

    __tablename__ = "cut_tick"
    __table_args__ = (
        one_of("kind", TICK_KINDS),
        check("piece_from_to", "(from_m IS NULL) = (to_m IS NULL)"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    yard_id: Mapped[int] = mapped_column(ForeignKey("yard.id"), index=True)
    log_id: Mapped[int] = mapped_column(ForeignKey("cut_sheet_log.id"), index=True)
    deed_id: Mapped[int] = mapped_column(ForeignKey("deed.id"))
    kind: Mapped[str] = mapped_column(String(4))
    from_m: Mapped[float | None]
    to_m: Mapped[float | None]

    deed: Mapped[Deed] = relationship()


class CutFinding(Base):
    """A log came out otherwise: what was found in it, how far it was cut by then, and the plan as it was before."""

    __tablename__ = "cut_finding"
    __table_args__ = (
        one_of("kind", FOUND_KINDS),
        check("place_in_order", "from_m >= 0 AND to_m > from_m"),
        check("cut_not_negative", "cut_to_m >= 0"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    yard_id: Mapped[int] = mapped_column(ForeignKey("yard.id"), index=True)
    log_id: Mapped[int] = mapped_column(ForeignKey("cut_sheet_log.id"), index=True)
    deed_id: Mapped[int] = mapped_column(ForeignKey("deed.id"))
    kind: Mapped[str] = mapped_column(String(8))
    from_m: Mapped[float]
    to_m: Mapped[float]
    cut_to_m: Mapped[float] = mapped_column(default=0.0)
    note: Mapped[str] = mapped_column(String(300), default="")
    cuts_before: Mapped[list[Any]]

    deed: Mapped[Deed] = relationship()


class SplittingSheet(Base):
    """How thick to split the rounds of a load to have them dry by a day, and into what.

    `limit_m`: the greatest thickness found for `state` `found`; for `always` the thickest and for `never` the
    thinnest that was looked at. `rounds` are {diameter_m, rounds, solid_m3}: the classes of round that were there.
    `patterns`, one for each, are {pattern, pieces, mean_m, max_m} or {problem}: empty until the limit is reckoned.
    """

    __tablename__ = "splitting_sheet"
    __table_args__ = (
        UniqueConstraint("yard_id", "number"),
        one_of("state", LIMIT_STATES),
        check("number_from_one", "number >= 1"),
        check("length_positive", "piece_length_m > 0"),
        check("odds_are_share", "odds > 0 AND odds < 1"),
        check("target_is_share", "target_mc_wet > 0 AND target_mc_wet < 1"),
        check("limit_positive", "limit_m > 0"),
        check("limit_or_waiting", "(state = 'waiting') = (limit_m IS NULL)"),
        check("firebox_positive", "firebox_m > 0"),
        check("hand_positive", "hand_m > 0"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    yard_id: Mapped[int] = mapped_column(ForeignKey("yard.id"), index=True)
    deed_id: Mapped[int] = mapped_column(ForeignKey("deed.id"))
    load_id: Mapped[int] = mapped_column(ForeignKey("load.id"), index=True)
    number: Mapped[int]
    species_id: Mapped[str] = mapped_column(String(60))
    piece_length_m: Mapped[float]
    stacked_on: Mapped[date]
    wanted_by: Mapped[date]
    odds: Mapped[float]
    target_mc_wet: Mapped[float]
    cover: Mapped[str] = mapped_column(String(8))
    exposure: Mapped[str] = mapped_column(String(12))
    firebox_m: Mapped[float | None]
    hand_m: Mapped[float | None]
    knotty: Mapped[bool] = mapped_column(default=False)
    method: Mapped[str] = mapped_column(String(24))
    measured: Mapped[bool] = mapped_column(default=False)
    state: Mapped[str] = mapped_column(String(8), default="waiting")
    limit_m: Mapped[float | None]
    limit_odds: Mapped[float | None]
    model: Mapped[str] = mapped_column(String(60), default="")
    rounds: Mapped[list[Any]]
    patterns: Mapped[list[Any]]
    note: Mapped[str] = mapped_column(String(300), default="")

    deed: Mapped[Deed] = relationship()
    load: Mapped[Load] = relationship()


class WorkSession(Base):
    """Work that was timed: a step, the wood it was done with, the hours of all who worked, pieces if they were counted.

    `method` is how it was split, and empty for the other steps. `thickness_m`: of its splits, if somebody said;
    else a session with a sheet has that of the sheet.
    """

    __tablename__ = "work_session"
    __table_args__ = (
        check("one_amount", "(cords IS NULL) <> (solid_m3 IS NULL)"),
        one_of("step", WORK_STEPS),
        check("method_of_splitting", "(step = 'splitting') = (method <> '')"),
        check("cords_positive", "cords > 0"),
        check("solid_positive", "solid_m3 > 0"),
        check("hours_positive", "hours > 0"),
        check("pieces_from_one", "pieces >= 1"),
        check("length_positive", "piece_length_m > 0"),
        check("thickness_positive", "thickness_m > 0"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    yard_id: Mapped[int] = mapped_column(ForeignKey("yard.id"), index=True)
    deed_id: Mapped[int] = mapped_column(ForeignKey("deed.id"))
    sheet_id: Mapped[int | None] = mapped_column(ForeignKey("splitting_sheet.id"), index=True)
    species_id: Mapped[str | None] = mapped_column(String(60))
    step: Mapped[str] = mapped_column(String(12))
    method: Mapped[str] = mapped_column(String(24), default="")
    worked_on: Mapped[date]
    cords: Mapped[float | None]
    solid_m3: Mapped[float | None]
    piece_length_m: Mapped[float]
    thickness_m: Mapped[float | None]
    hours: Mapped[float]
    pieces: Mapped[int | None]
    typed: Mapped[str] = mapped_column(String(40), default="")
    note: Mapped[str] = mapped_column(String(300), default="")

    deed: Mapped[Deed] = relationship()
