"""A stack measured on a photo: the marks are kept with the photo, and the measure is one like any other."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlalchemy import select

from rickyard.book.models import Photo, PhotoGauging, Stack, StackMeasure
from rickyard.desk.checks import STACK_SIDE_M, within
from rickyard.desk.context import Answer, Command, Desk, Stage, do, local_day
from rickyard.desk.photos import PhotoCard, photo
from rickyard.desk.stacking import Dimensions, MeasureStack, take_measure
from rickyard.desk.stacks import StackCard, find_stack, stack_page
from rickyard.desk.yard_factor import yard_factor
from rickyard.errors import InputError
from rickyard.measure import Spread, YardFactor, product
from rickyard.measure.photo import PhotoMeasure, photo_measure
from rickyard.text import T_

Point = tuple[float, float]


@dataclass(frozen=True, kw_only=True)
class Marks:
    """What a person marked on a photo of a stack's face, in pixels of the photo as the book keeps it.

    `mark_sd_px`: how far a mark is off, by how much the photo was enlarged; None if that is not known.
    """

    photo_id: int
    board_width_m: float
    board_height_m: float
    corners_px: tuple[Point, ...]
    outline_px: tuple[Point, ...]
    mark_sd_px: float | None = None


@dataclass(frozen=True, kw_only=True)
class MeasureByPhoto(Command):
    """A stack measured on a photo of it. The book follows, as with a tape.

    `measured_on`: the day; without it the day when the photo was taken, if that is known, else when it happened.
    """

    stack_id: int
    marks: Marks
    rows: int = 1
    stock_taking: bool = True
    measured_on: date | None = None


@dataclass(frozen=True)
class ByPhoto:
    """What marks come to: the face, and the stack behind it."""

    measure: PhotoMeasure
    outside_m3: Spread
    solid_m3: Spread
    factor: YardFactor


@dataclass(frozen=True)
class PhotoMarks:
    """Marks that were kept: from when, and the face they gave."""

    measure_id: int
    photo_id: int | None
    marks: Marks
    area_m2: Spread


def look_by_photo(desk: Desk, stack_id: int, marks: Marks, rows: int = 1) -> ByPhoto:
    """What the marks come to; writes nothing."""
    card = stack_page(desk, stack_id).card
    found = _measured(_photo_of(desk, stack_id, marks.photo_id), marks)
    outside = found.outside_m3(card.piece_length_m, _rows(rows))
    factor = yard_factor(desk)
    share = factor.share("ranked" if card.kind == "stack" else "loose", card.form, card.piece_length_m)
    return ByPhoto(found, outside, product(outside, share), factor)


def measure_by_photo(desk: Desk, command: MeasureByPhoto) -> Answer:
    """Measures a stack on a photo.

    Answer: stack_id, measure_id, area_m2, outside_m3, difference_g, clashes (ids).
    """
    found = _measured(_photo_of(desk, command.stack_id, command.marks.photo_id), command.marks)
    rows = _rows(command.rows)
    within("outline", found.length_m, STACK_SIDE_M, "m")

    def run(stage: Stage) -> Answer:
        stack = find_stack(stage, command.stack_id)
        taken = stage.session.get_one(Photo, command.marks.photo_id)
        day = command.measured_on
        if day is None and taken.taken_at is not None:
            day = max(stack.stacked_on, min(stage.happened_on, local_day(stage.yard, taken.taken_at)))
        measure, answer = take_measure(
            stage,
            MeasureStack(
                key=command.key,
                stack_id=stack.id,
                # The face as a box of the same length and area, so that its volume is that of the marks.
                outside=Dimensions(
                    length_m=found.length_m,
                    heights_m=(found.area_m2.mid / found.length_m,),
                    rows=rows,
                ),
                stock_taking=command.stock_taking,
                measured_on=day,
            ),
        )
        stage.session.flush()
        _keep(stage, stack, measure, command.marks, found)
        return answer | {"area_m2": found.area_m2.mid}

    return do(desk, "measure_by_photo", command, run)


def marks_of_stack(desk: Desk, stack_id: int) -> dict[int, PhotoMarks]:
    """The marks that measures of a stack that count were made from, by the id of the measure."""
    with desk.book.read() as session:
        rows = session.scalars(
            select(PhotoGauging)
            .join(StackMeasure, StackMeasure.id == PhotoGauging.measure_id)
            .where(
                StackMeasure.stack_id == stack_id,
                PhotoGauging.yard_id == desk.yard_id,
                StackMeasure.counts(),
            )
            .order_by(PhotoGauging.id)
        )
        return {row.measure_id: _kept(row) for row in rows}


def last_marks(desk: Desk, stack_id: int, photo_id: int) -> PhotoMarks | None:
    """The marks that were last made on a photo, to begin with."""
    found = [kept for kept in marks_of_stack(desk, stack_id).values() if kept.photo_id == photo_id]
    return found[-1] if found else None


def stack_and_photo(desk: Desk, stack_id: int, photo_id: int) -> tuple[StackCard, PhotoCard]:
    """A stack and a photo of it; InputError if the photo is of something else."""
    return stack_page(desk, stack_id).card, _photo_of(desk, stack_id, photo_id)


def _photo_of(desk: Desk, stack_id: int, photo_id: int) -> PhotoCard:
    card = photo(desk, photo_id)
    if (card.subject_kind, card.subject_id) != ("stack", stack_id):
        raise InputError(
            "photo",
            wanted=T_("a photo of this stack"),
            got=photo_id,
            next_move=T_("Choose one on the stack's page, or add it there."),
            code="photo_of_another",
        )
    return card


def _measured(card: PhotoCard, marks: Marks) -> PhotoMeasure:
    return photo_measure(
        (marks.board_width_m, marks.board_height_m),
        marks.corners_px,
        marks.outline_px,
        picture_px=(card.width_px, card.height_px),
        mark_sd_px=marks.mark_sd_px,
    )


def _rows(rows: int) -> int:
    return int(within("rows", rows, (1, 40), "rows"))


def _keep(stage: Stage, stack: Stack, measure: StackMeasure, marks: Marks, found: PhotoMeasure) -> None:
    stage.session.add(
        PhotoGauging(
            yard_id=stage.yard.id,
            measure_id=measure.id,
            photo_id=marks.photo_id,
            board_width_m=marks.board_width_m,
            board_height_m=marks.board_height_m,
            corners_px=[list(point) for point in marks.corners_px],
            outline_px=[list(point) for point in marks.outline_px],
            area_m2=found.area_m2.mid,
            low_m2=found.area_m2.low,
            high_m2=found.area_m2.high,
        )
    )


def _kept(row: PhotoGauging) -> PhotoMarks:
    def points(kept: list[list[float]]) -> tuple[Point, ...]:
        return tuple((x, y) for x, y in kept)

    marks = Marks(
        photo_id=row.photo_id or 0,
        board_width_m=row.board_width_m,
        board_height_m=row.board_height_m,
        corners_px=points(row.corners_px),
        outline_px=points(row.outline_px),
    )
    return PhotoMarks(row.measure_id, row.photo_id, marks, Spread(row.low_m2, row.area_m2, row.high_m2))
