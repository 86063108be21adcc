"""What splitting sheets say, and what the yard has learnt of hours and pieces a cord, beside the published figures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import func, select
from sqlalchemy.orm import Session, joinedload

from rickyard.book.models import SplittingSheet, WorkSession
from rickyard.cut import (
    Cord,
    Ease,
    Learnt,
    SplitPlan,
    advice,
    cord_of,
    ease_of,
    expected_pieces,
    kindling_words,
    learn_splitting,
    methods,
)
from rickyard.cut import Session as Timed
from rickyard.cut.hours import TIMED_LENGTH_M, TIMED_THICKNESS_M, Method
from rickyard.desk.context import Desk
from rickyard.desk.costs import cost_facts
from rickyard.desk.cut_sheets import people_of, who
from rickyard.desk.paging import after_row
from rickyard.desk.splitting import (
    find_splitting_sheet,
    mean_thickness_m,
    split_of,
)
from rickyard.desk.timed import rounds_split, sheets_of, timed_of, timed_sessions
from rickyard.measure import Spread
from rickyard.text import Text
from rickyard.wood import Species, get_species
from rickyard.worth import StepHours, step_hours


@dataclass(frozen=True)
class SplittingCard:
    """One line of the list. `limit_m`: the greatest thickness found, None while it is reckoned (`waiting`)."""

    id: int
    number: int
    load_id: int
    load_number: int
    species: Species
    made_at: datetime
    made_by: str
    wanted_by: date
    odds: float
    state: str
    limit_m: float | None
    classes: int


@dataclass(frozen=True)
class SplitClass:
    """One class of round: its thickest, how many and how much solid wood (None: not measured), and how it is split.

    `plan` is None while the limit is reckoned, and where no pattern keeps the limits: then `problem` says why.
    """

    diameter_m: float
    rounds: int | None
    solid_m3: float | None
    plan: SplitPlan | None
    problem: str


@dataclass(frozen=True)
class Worked:
    """What a cord of these pieces takes: pieces and hours, with what they stand on. Rounds left whole are in the cord
    and take no hours."""

    method: Method
    learnt: Learnt
    cord: Cord
    pieces: Spread
    hours: Spread


@dataclass(frozen=True)
class SplittingPage:
    """A sheet. `thickness_m`: mean over the wood of all classes, for the stack's forecast."""

    card: SplittingCard
    piece_length_m: float
    stacked_on: date
    target_mc_wet: float
    cover: str
    exposure: str
    firebox_m: float | None
    hand_m: float | None
    knotty: bool
    measured: bool
    model: str
    limit_odds: float | None
    note: str
    classes: tuple[SplitClass, ...]
    thickness_m: float | None
    ease: Ease
    first: tuple[Text, ...]
    kindling: tuple[Text, ...]
    work: Worked | None


@dataclass(frozen=True)
class TimedLine:
    """Work that was timed, with the cords it is taken as."""

    id: int
    worked_on: date
    step: str
    method: str
    cords: float
    solid_m3: float | None
    hours: float
    pieces: int | None
    thickness_m: float | None
    species: Species | None
    sheet_id: int | None
    sheet_number: int | None
    person: str
    note: str


@dataclass(frozen=True)
class MethodLine:
    """A way of splitting: the published hours a cord, and what the yard's own sessions have made of them, for pieces
    of the size that the published cords are taken to be of; `pieces` in such a cord."""

    method: Method
    learnt: Learnt
    pieces: Spread


@dataclass(frozen=True)
class WorkLearnt:
    """Hours a cord by step, of pieces as thick as the yard makes them; hours and pieces of splitting by method, of
    pieces of one size, that which the published figures are taken to be of. `own_method`: the one the yard uses."""

    steps: tuple[StepHours, ...]
    methods: tuple[MethodLine, ...]
    own_method: MethodLine
    expected_pieces: float
    thickness_m: float
    length_m: float
    timed: int


def splitting_sheets(
    desk: Desk,
    *,
    load_id: int | None = None,
    sheet_id: int | None = None,
    before: int | None = None,
    limit: int | None = None,
) -> list[SplittingCard]:
    """All sheets, those of a load, or one, newest first; those after the sheet `before` in that order, at most `limit`.

    None for a `sheet_id` that is not there.
    """
    with desk.book.read() as session:
        query = select(SplittingSheet).where(SplittingSheet.yard_id == desk.yard_id)
        if load_id is not None:
            query = query.where(SplittingSheet.load_id == load_id)
        if sheet_id is not None:
            query = query.where(SplittingSheet.id == sheet_id)
        query = after_row(
            query, SplittingSheet, before, SplittingSheet.number, SplittingSheet.id, descending=True
        ).limit(limit)
        whole = (joinedload(SplittingSheet.load), joinedload(SplittingSheet.deed))
        rows = session.scalars(query.options(*whole)).all()
        people = people_of(session, desk.yard_id)
        return [_card(row, people) for row in rows]


def count_splitting_sheets(desk: Desk) -> int:
    with desk.book.read() as session:
        query = select(func.count()).select_from(SplittingSheet).where(SplittingSheet.yard_id == desk.yard_id)
        return session.scalar(query) or 0


def splitting_sheet(desk: Desk, sheet_id: int) -> SplittingPage:
    with desk.book.read() as session:
        sheet = find_splitting_sheet(session, desk.yard_id, sheet_id)
        wood = get_species(sheet.species_id)
        classes = tuple(_class(sheet, place) for place in range(len(sheet.rounds)))
        thickness = mean_thickness_m(sheet.patterns, sheet.rounds) if sheet.patterns else None
        timed = timed_sessions(session, desk.yard_id)
        ease = ease_of(wood)
        return SplittingPage(
            card=_card(sheet, people_of(session, desk.yard_id)),
            piece_length_m=sheet.piece_length_m,
            stacked_on=sheet.stacked_on,
            target_mc_wet=sheet.target_mc_wet,
            cover=sheet.cover,
            exposure=sheet.exposure,
            firebox_m=sheet.firebox_m,
            hand_m=sheet.hand_m,
            knotty=sheet.knotty,
            measured=sheet.measured,
            model=sheet.model,
            limit_odds=sheet.limit_odds,
            note=sheet.note,
            classes=classes,
            thickness_m=thickness,
            ease=ease,
            first=advice(ease, knotty=sheet.knotty),
            kindling=kindling_words(wood),
            work=_work(sheet, timed),
        )


def open_splitting_sheets(desk: Desk, most: int = 10) -> list[int]:
    """Ids of the newest sheets of loads: those that somebody stands at the splitter with."""
    return [card.id for card in splitting_sheets(desk, limit=most)]


def work_learnt(desk: Desk) -> WorkLearnt:
    """What timed work has taught: hours a cord of each step and method, pieces a cord; how much was timed."""
    costs = cost_facts(desk).costs()
    with desk.book.read() as session:
        timed = timed_sessions(session, desk.yard_id)
        by_size = expected_pieces(TIMED_THICKNESS_M, TIMED_LENGTH_M)
        lines = tuple(
            MethodLine(method, learnt, learnt.pieces_for(by_size))
            for method in methods().values()
            for learnt in (learn_splitting(method.id, timed),)
        )
        return WorkLearnt(
            steps=step_hours(costs, timed),
            methods=lines,
            own_method=next(line for line in lines if line.method.id == costs.method),
            expected_pieces=by_size,
            thickness_m=TIMED_THICKNESS_M,
            length_m=TIMED_LENGTH_M,
            timed=len(timed),
        )


def work_sessions(desk: Desk, *, before: int | None = None, limit: int | None = None) -> list[TimedLine]:
    """Hours that were timed, newest first; those after the session `before` in that order, at most `limit`."""
    with desk.book.read() as session:
        query = select(WorkSession).where(WorkSession.yard_id == desk.yard_id)
        query = after_row(
            query, WorkSession, before, WorkSession.worked_on, WorkSession.id, descending=True
        ).limit(limit)
        return _sessions(session, desk.yard_id, session.scalars(query).all())


def _sessions(session: Session, yard_id: int, rows: Sequence[WorkSession]) -> list[TimedLine]:
    people = people_of(session, yard_id)
    sheets = sheets_of(session, rows)
    return [
        TimedLine(
            row.id,
            row.worked_on,
            row.step,
            row.method,
            timed_of(row).cords,
            row.solid_m3,
            row.hours,
            row.pieces,
            row.thickness_m,
            get_species(row.species_id) if row.species_id else None,
            row.sheet_id,
            sheets[row.sheet_id].number if row.sheet_id is not None else None,
            who(row.deed, people),
            row.note,
        )
        for row in rows
    ]


def _card(sheet: SplittingSheet, people: dict[int, str]) -> SplittingCard:
    return SplittingCard(
        id=sheet.id,
        number=sheet.number,
        load_id=sheet.load_id,
        load_number=sheet.load.number,
        species=get_species(sheet.species_id),
        made_at=sheet.deed.happened_at,
        made_by=who(sheet.deed, people),
        wanted_by=sheet.wanted_by,
        odds=sheet.odds,
        state=sheet.state,
        limit_m=sheet.limit_m,
        classes=len(sheet.rounds),
    )


def _class(sheet: SplittingSheet, place: int) -> SplitClass:
    one = sheet.rounds[place]
    diameter = float(one["diameter_m"])
    pattern = sheet.patterns[place] if sheet.patterns else {"problem": ""}
    problem = str(pattern.get("problem", ""))
    plan = split_of(sheet, diameter) if "problem" not in pattern else None
    return SplitClass(diameter, one["rounds"], one["solid_m3"], plan, problem)


def _work(sheet: SplittingSheet, timed: list[Timed]) -> Worked | None:
    """A cord of the wood of all classes, with what it takes."""
    made = rounds_split(sheet)
    if not made:
        return None
    learnt = learn_splitting(sheet.method, timed)
    cord = cord_of(made, sheet.piece_length_m)
    return Worked(methods()[sheet.method], learnt, cord, cord.pieces(learnt), cord.hours(learnt))
