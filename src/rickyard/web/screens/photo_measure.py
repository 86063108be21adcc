"""A stack measured on a photo: a person marks a board and the outline of the face; the page says what that comes to."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.responses import Response

from rickyard.desk.photo_measure import (
    ByPhoto,
    Marks,
    MeasureByPhoto,
    last_marks,
    look_by_photo,
    marks_of_stack,
    measure_by_photo,
    stack_and_photo,
)
from rickyard.desk.photos import photos
from rickyard.desk.stacks import stack_page
from rickyard.errors import InputError
from rickyard.measure import FT2_M2, Spread
from rickyard.measure.photo import Point, points_from
from rickyard.text import T_
from rickyard.web.forms import Form, FormProblem
from rickyard.web.visit import Here, Sent, Visit

router = APIRouter(include_in_schema=False)

# How far a finger or a mouse is off on the screen, one standard deviation in the screen's own dots: a judgement.
FINGER_SD_DOTS = 1.5
_NAMES = {"board": "board_width"}


@router.get("/stacks/{stack_id:int}/photo")
def choose_or_mark(visit: Here, stack_id: int, photo: int = 0) -> Response:
    if not photo:
        return visit.page(
            "stack_photo.html",
            card=stack_page(visit.desk, stack_id).card,
            photo=None,
            photos=photos(visit.desk, "stack", stack_id),
            kept=list(reversed(marks_of_stack(visit.desk, stack_id).values())),
            areas=lambda area: _areas(visit, area),
            form=visit.form(),
        )
    card, picture = stack_and_photo(visit.desk, stack_id, photo)
    before = last_marks(visit.desk, stack_id, photo)
    every = marks_of_stack(visit.desk, stack_id).values()
    board = before or (list(every)[-1] if every else None)
    small = 0.01 if visit.voice.metric else 0.0254
    day = picture.taken_at or picture.added_at
    form = visit.form(
        rows=card.rows,
        measured_on=min(visit.today, max(card.stacked_on, day.date())),
        board_width=visit.voice.decimal(board.marks.board_width_m / small, 2, strip=True) if board else None,
        board_height=visit.voice.decimal(board.marks.board_height_m / small, 2, strip=True)
        if board
        else None,
        corners=_written(before.marks.corners_px) if before else "",
        outline=_written(before.marks.outline_px) if before else "",
    )
    return _page(visit, stack_id, photo, form)


@router.post("/stacks/{stack_id:int}/photo")
def measure(visit: Here, stack_id: int, sent: Sent) -> Response:
    form = visit.sent(sent)
    photo_id = form.number_id("photo")
    try:
        form.check()
        marks = _marks(form, photo_id)
        rows = form.count("rows", low=1, high=40)
        day = form.day("measured_on", visit.today)
        form.check()
        if form.value("look"):
            with form.asking(**_NAMES):
                found = look_by_photo(visit.desk, stack_id, marks, rows)
            return _page(visit, stack_id, photo_id, form, found=found)
        command = MeasureByPhoto(
            **visit.told(form), stack_id=stack_id, marks=marks, rows=rows, measured_on=day
        )
        form.check()
        with form.asking(**_NAMES):
            answer = measure_by_photo(visit.desk, command)
    except FormProblem:
        return _page(visit, stack_id, photo_id, form, status=422)
    visit.nudge()
    return visit.go(f"/stacks/{stack_id}", "measured_clash" if answer["clashes"] else "measured")


def _marks(form: Form, photo_id: int) -> Marks:
    corners, outline = _points(form, "corners"), _points(form, "outline")
    typed = form.value("px_per_dot")
    # What the page's script says of how much the photo was enlarged; without it the usual is taken.
    known = typed.replace(".", "", 1).isdigit() and len(typed) < 12
    return Marks(
        photo_id=photo_id,
        board_width_m=form.length("board_width", low=0.05, high=6.0, small=True),
        board_height_m=form.length("board_height", low=0.05, high=6.0, small=True),
        corners_px=corners,
        outline_px=outline,
        mark_sd_px=FINGER_SD_DOTS * min(100.0, float(typed)) if known else None,
    )


def _points(form: Form, name: str) -> tuple[Point, ...]:
    try:
        return points_from(form.value(name), name)
    except InputError as error:
        form.complain(error)
        return ()


def _written(points: tuple[Point, ...]) -> str:
    return " ".join(f"{x:.1f},{y:.1f}" for x, y in points)


def _page(
    visit: Visit, stack_id: int, photo_id: int, form: Form, *, found: ByPhoto | None = None, status: int = 200
) -> Response:
    card, picture = stack_and_photo(visit.desk, stack_id, photo_id)
    return visit.page(
        "stack_photo.html",
        status,
        form=form,
        card=card,
        photo=picture,
        found=found,
        areas=lambda area: _areas(visit, area),
        words=_words(visit),
    )


def _areas(visit: Visit, area: Spread) -> str:
    """Square metres, or square feet, with the range."""
    voice = visit.voice
    size = 1.0 if voice.metric else FT2_M2
    digits = 2 if voice.metric else 1
    figures = {
        name: voice.decimal(value / size, digits)
        for name, value in (("low", area.low), ("mid", area.mid), ("high", area.high))
    }
    return voice.text(
        T_("{mid} m² ({low} to {high})", **figures)
        if voice.metric
        else T_("{mid} ft² ({low} to {high})", **figures)
    )


def _words(visit: Visit) -> dict[str, str]:
    """What the script says, in the user's language; {number} is put in there."""
    voice = visit.voice
    return {
        "corner": voice.text(T_("Corner {number} of the board", number="{number}")),
        "point": voice.text(T_("Point {number} of the outline", number="{number}")),
        "corners": voice.text(T_("Tap corner {number} of the board.", number="{number}")),
        "outline": voice.text(T_("Tap round the stack; {number} points so far.", number="{number}")),
        "full": voice.text(T_("The board has its four corners. Drag them, or mark the stack.")),
    }
