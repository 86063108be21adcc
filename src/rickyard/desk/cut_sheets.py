"""What cut sheets say: how far each is, one log after the other, and what of a load lies cut and not stacked yet."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import func, select
from sqlalchemy.orm import Session, joinedload, selectinload

from rickyard.book import StockKey, stock
from rickyard.book.models import CutSheet, CutSheetLog, CutTick, Deed, Load, Order, Person
from rickyard.cut import (
    CutPlan,
    Defect,
    LogPlan,
    Saw,
    Sums,
    cautions_of,
    method_note,
    sound_share,
    sums_of,
)
from rickyard.desk.context import Desk
from rickyard.desk.cutting import (
    find_sheet,
    logs_cut,
    measured_log,
    plan_of_log,
    state_of,
)
from rickyard.desk.loads import LoadPage, came_in, load_page
from rickyard.desk.log_lists import row_of
from rickyard.desk.paging import A_PAGE, after_row
from rickyard.desk.sheet_values import SheetWorth, sheet_worth, worth_notes
from rickyard.desk.sheet_wares import wares_of
from rickyard.desk.wares import SPECIES_TOLERANCE, WareCard, wares
from rickyard.desk.yard_factor import yard_factor
from rickyard.measure import kind_of
from rickyard.text import T_, Text
from rickyard.wood import Species, get_species

# A sheet's card counts what is ticked off of every log: all of it is read at once, not log by log.
_WHOLE_SHEET = (
    joinedload(CutSheet.load),
    joinedload(CutSheet.deed),
    selectinload(CutSheet.logs).selectinload(CutSheetLog.ticks).joinedload(CutTick.deed),
)


@dataclass(frozen=True)
class CutSheetCard:
    """One line of the list. Volumes are solid, without bark [m³]; nothing is `planned` until the plan is reckoned."""

    id: int
    number: int
    load_id: int
    load_number: int
    made_at: datetime
    made_by: str
    note: str
    planned: bool
    logs: int
    logs_done: int
    pieces: int
    pieces_done: int
    solid_m3: float
    done_m3: float

    @property
    def done(self) -> bool:
        """Whether every log of it is cut."""
        return self.planned and self.logs_done >= self.logs


@dataclass(frozen=True)
class FoundLine:
    """What was found in a log, where, and how far the log was cut by then [m from the thick end]."""

    kind: str
    from_m: float
    to_m: float
    cut_to_m: float
    note: str
    happened_at: datetime
    person: str


@dataclass(frozen=True)
class CutLogLine:
    """A log of a sheet: its plan by now, which pieces are cut, who ticked it off last and when.

    `known` is what was known of it when it was planned, `found` what came to light at the saw.
    """

    number: int
    label: str
    species: Species | None
    plan: LogPlan
    pieces_done: tuple[bool, ...]
    done: bool
    cut_at: datetime | None
    cut_by: str
    known: tuple[Defect, ...]
    found: tuple[FoundLine, ...]
    mid_only: bool


@dataclass(frozen=True)
class CutSheetPage:
    """A sheet. `plan`, `sums` and `worth` are None until the plan is reckoned."""

    card: CutSheetCard
    lines: tuple[CutLogLine, ...]
    plan: CutPlan | None
    sums: Sums | None
    worth: SheetWorth | None
    notes: tuple[Text, ...]


@dataclass(frozen=True)
class CutOfLoad:
    """Solid wood of a load by what its sheets say [m³]: planned, ticked off, and of that not in a stack yet."""

    planned_m3: float
    cut_m3: float
    lying_m3: float


@dataclass(frozen=True)
class WareChoice:
    """Something we sell, as what a load may be cut for.

    `share`: of the load's wood that belongs to it; `fits` if nearly all does. `asked_m3`: ranked, of orders that are
    noted and not promised from a stack. `content`: solid wood in a ranked volume of it, as this yard stacks.
    """

    ware: WareCard
    share: float
    fits: bool
    asked_m3: float
    content: float

    def solid_m3(self, ranked_m3: float) -> float:
        """Solid content of a ranked volume of it."""
        return ranked_m3 * self.content


def cut_sheets(
    desk: Desk, *, load_id: int | None = None, before: int | None = None, limit: int | None = None
) -> list[CutSheetCard]:
    """All sheets, or those of a load, newest first; those after the sheet `before` in that order, at most `limit`."""
    with desk.book.read() as session:
        query = select(CutSheet).where(CutSheet.yard_id == desk.yard_id)
        if load_id is not None:
            query = query.where(CutSheet.load_id == load_id)
        query = after_row(query, CutSheet, before, CutSheet.number, CutSheet.id, descending=True).limit(limit)
        rows = session.scalars(query.options(*_WHOLE_SHEET)).all()
        people = people_of(session, desk.yard_id)
        return [_card(row, people) for row in rows]


def count_cut_sheets(desk: Desk) -> int:
    with desk.book.read() as session:
        query = select(func.count()).select_from(CutSheet).where(CutSheet.yard_id == desk.yard_id)
        return session.scalar(query) or 0


def cut_sheet(desk: Desk, sheet_id: int) -> CutSheetPage:
    with desk.book.read() as session:
        sheet = find_sheet(session, desk.yard_id, sheet_id)
        people = people_of(session, desk.yard_id)
        lines = tuple(_line(row, people) for row in sheet.logs)
        plan = None
        if sheet.method:
            saw, made = Saw(sheet.kerf_m, sheet.trim_m), tuple(line.plan for line in lines)
            plan = CutPlan(made, tuple(wares_of(sheet)), saw, sheet.bound or 0.0, sheet.method)  # type: ignore[arg-type]
        return CutSheetPage(
            card=_card(sheet, people),
            lines=lines,
            plan=plan,
            sums=None if plan is None else sums_of(plan),
            worth=None if plan is None else sheet_worth(sheet.wares, plan),
            notes=(
                *_notes(plan, lines),
                *_core_notes(sheet),
                *worth_notes(sheet.wares, len({row.species_id for row in sheet.logs if row.species_id}) > 1),
            ),
        )


def open_cut_sheets(desk: Desk, among: int = A_PAGE) -> list[int]:
    """Ids of sheets on which something is still to be cut, among the newest so many."""
    return [card.id for card in cut_sheets(desk, limit=among) if card.logs_done < card.logs]


def cut_of_load(desk: Desk, load_id: int) -> CutOfLoad | None:
    """How much of a load is cut by its sheets; None if it has no sheet.

    What left the load since, to be stacked, is taken to have been cut before what lies there.
    """
    with desk.book.read() as session:
        sheets = session.scalars(
            select(CutSheet).where(CutSheet.load_id == load_id, CutSheet.yard_id == desk.yard_id)
        ).all()
        if not sheets:
            return None
        load = session.get_one(Load, load_id)
        came = came_in(session, desk.yard_id, (load.spot_id,)).get(load.spot_id, {})
        gone = _solid_m3(came) - _solid_m3(stock(session, load.spot_id))
        states = [state_of(row) for sheet in sheets for row in sheet.logs]
        planned = sum(state.solid_m3 for state in states)
        done = sum(state.done_m3 for state in states)
        return CutOfLoad(planned, done, max(0.0, done - max(0.0, gone)))


def logs_to_cut(desk: Desk, load_id: int) -> list[tuple[int, Species, float, float, float]]:
    """Measured logs of a load that no sheet has ticked off: number, wood, length, ends without bark [m]."""
    with desk.book.read() as session:
        load = session.get(Load, load_id)
        if load is None or load.yard_id != desk.yard_id:
            return []
        gone = logs_cut(session, load_id)
        rows = [(piece, measured_log(piece).log) for piece in load.logs if piece.number not in gone]
        return [
            (piece.number, get_species(piece.species_id), log.length_m, log.large_d_m, log.small_d_m)
            for piece, log in rows
        ]


def ware_choices(desk: Desk, load_id: int) -> list[WareChoice]:
    """What we sell, what fits the load's wood first."""
    page: LoadPage = load_page(desk, load_id)
    with desk.book.read() as session:
        noted = session.scalars(
            select(Order).where(Order.yard_id == desk.yard_id, Order.state == "asked")
        ).all()
        asked: dict[int, float] = {}
        for order in noted:
            asked[order.ware_id] = asked.get(order.ware_id, 0.0) + order.outside_m3
    found = []
    factor = yard_factor(desk)
    for card in wares(desk):
        wanted = {wood.id for wood in card.species} | {m for wood in card.species for m in wood.members}
        share = sum(part for wood, part in page.row.shares if not wanted or _belongs(wood, wanted))
        found.append(
            WareChoice(
                card,
                share,
                share >= 1.0 - SPECIES_TOLERANCE - 1e-9,
                asked.get(card.id, 0.0),
                sum(
                    share * factor.share("ranked", card.form, card.piece_length_m, kind_of(wood)).mid
                    for wood, share in page.row.shares
                ),
            )
        )
    return sorted(found, key=lambda choice: (not choice.fits, -choice.share, choice.ware.name))


def people_of(session: Session, yard_id: int) -> dict[int, str]:
    return {
        person.id: person.name for person in session.scalars(select(Person).where(Person.yard_id == yard_id))
    }


def who(deed: Deed, people: dict[int, str]) -> str:
    return "" if deed.person_id is None else people.get(deed.person_id, "")


def _belongs(wood: Species, wanted: set[str]) -> bool:
    """Whether wood is of a ware: itself, or a wider name all of whose members are."""
    return wood.id in wanted or (bool(wood.members) and set(wood.members) <= wanted)


def _notes(plan: CutPlan | None, lines: Iterable[CutLogLine]) -> tuple[Text, ...]:
    """What to know of the sheet: of how its plan was found, and of its logs."""
    lines = list(lines)
    said: list[Text] = []
    if plan is not None:
        said += cautions_of([line.plan.log for line in lines], plan.wares, plan.saw)
        how = None if any(line.found for line in lines) else method_note(plan)
        said += [how] if how is not None else []
    flat = [line.label for line in lines if line.mid_only]
    if flat:
        names = ", ".join(flat[:12]) + (", ..." if len(flat) > 12 else "")
        said.append(
            T_(
                "Without both ends measured a log is planned as thick all along: {logs}. Look before you cut the thin "
                "end.",
                logs=names,
            )
        )
    return tuple(said)


def _core_notes(sheet: CutSheet) -> tuple[Text, ...]:
    """Of measured logs with a small core of rot or a hollow: pieces are cut through it, or it is left out."""
    measured = {piece.number: piece for piece in sheet.load.logs}
    cores = [
        (row.label, 1.0 - sound_share(row_of(measured[row.log_number])))
        for row in sheet.logs
        if row.log_number in measured
    ]
    gone = [(label, share) for label, share in cores if share > 0.0]
    if not gone:
        return ()
    if not sheet.small_cores:
        return (
            T_(
                "A core of rot or a hollow takes less than half the cut of these logs, and no piece is cut where it "
                "lies: {logs}. A sheet may be told to take pieces with a small core.",
                logs=", ".join(label for label, _ in gone[:12]) + (", ..." if len(gone) > 12 else ""),
            ),
        )
    return (
        T_(
            "A core of rot or a hollow runs through pieces of these logs, and their sound wood is up to "
            "{share:.0f} percent less than this sheet says: {logs}.",
            share=100.0 * max(share for _, share in gone),
            logs=", ".join(label for label, _ in gone[:12]) + (", ..." if len(gone) > 12 else ""),
        ),
    )


def _card(sheet: CutSheet, people: dict[int, str]) -> CutSheetCard:
    states = [state_of(row) for row in sheet.logs]
    return CutSheetCard(
        id=sheet.id,
        number=sheet.number,
        load_id=sheet.load_id,
        load_number=sheet.load.number,
        made_at=sheet.deed.happened_at,
        made_by=who(sheet.deed, people),
        note=sheet.note,
        planned=bool(sheet.method),
        logs=len(states),
        logs_done=sum(state.done for state in states),
        pieces=sum(len(state.cuts) for state in states),
        pieces_done=sum(sum(state.pieces_done) for state in states),
        solid_m3=sum(state.solid_m3 for state in states),
        done_m3=sum(state.done_m3 for state in states),
    )


def _line(row: CutSheetLog, people: dict[int, str]) -> CutLogLine:
    state = state_of(row)
    return CutLogLine(
        number=row.number,
        label=row.label,
        species=get_species(row.species_id) if row.species_id else None,
        plan=plan_of_log(row),
        pieces_done=state.pieces_done,
        done=state.done,
        cut_at=None if state.last is None else state.last.deed.happened_at,
        cut_by="" if state.last is None else who(state.last.deed, people),
        known=tuple(Defect(float(start), float(end), str(kind)) for start, end, kind in row.defects),
        found=tuple(
            FoundLine(
                one.kind,
                one.from_m,
                one.to_m,
                one.cut_to_m,
                one.note,
                one.deed.happened_at,
                who(one.deed, people),
            )
            for one in sorted(row.findings, key=lambda one: (one.deed.happened_at, one.id))
        ),
        mid_only=row.mid_only,
    )


def _solid_m3(grams: dict[StockKey, int]) -> float:
    """Solid volume without bark."""
    return sum(
        mass / 1000 / get_species(key.species_id).basic_density_kg_m3
        for key, mass in grams.items()
        if key.form != "bark"
    )
