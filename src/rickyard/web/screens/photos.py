"""Photos: taken with the phone, looked at, shown small beside what they are of."""

from __future__ import annotations

import re
from datetime import datetime
from zoneinfo import ZoneInfo

from fastapi import APIRouter
from starlette.datastructures import FormData, UploadFile
from starlette.responses import Response

from rickyard.desk.photos import (
    AddPhoto,
    PhotoCard,
    RemovePhoto,
    Subject,
    add_photo,
    photo,
    photo_bytes,
    remove_photo,
    small_photo,
    subject_of,
    subject_of_deed,
)
from rickyard.desk.pictures import MOST_BYTES
from rickyard.errors import InputError
from rickyard.text import T_
from rickyard.web.forms import Form, FormProblem
from rickyard.web.offline import works_offline
from rickyard.web.visit import Here, Sent, Visit

router = APIRouter(include_in_schema=False)

# The bytes under an address never change: a browser need not ask again for a year.
_DEGREES = re.compile(r"-?\d{1,3}(\.\d{1,9})?")
_KEPT = {"Cache-Control": "private, max-age=31536000, immutable"}


@router.get("/photos/new")
@works_offline(each="stack", queries=("?of=stack-{stack_id}",), queues=T_("a photo"))
def new_photo(visit: Here, of: str = "yard") -> Response:
    return _page(visit, visit.form(subject=of), _subject(visit, of))


@router.post("/photos/new")
def take_photo(visit: Here, sent: Sent) -> Response:
    form = visit.sent(sent)
    subject = _subject(visit, form.value("subject"))
    try:
        content = _content(form, sent)
        told = visit.told(form)
        taken_at, latitude, longitude = _beside(visit, form)
        form.check()
        command = AddPhoto(
            **told,
            content=content,
            subject_kind=subject.kind,
            subject_id=subject.id,
            note=form.text("note"),
            # A phone sends the place beside the photo only where it is wanted.
            keep_place=form.ticked("keep_place") or latitude is not None,
            taken_at=taken_at,
            latitude_deg=latitude,
            longitude_deg=longitude,
        )
        with form.asking():
            add_photo(visit.desk, command)
    except FormProblem:
        return _page(visit, form, subject, 422)
    return visit.go(place_of(visit, subject), "photo_added")


@router.get("/photos/{photo_id:int}")
def whole(visit: Here, photo_id: int) -> Response:
    card, content = photo_bytes(visit.desk, photo_id)
    return Response(content, media_type=card.media_type, headers=_KEPT)


@router.get("/photos/{photo_id:int}/small")
def small(visit: Here, photo_id: int) -> Response:
    return Response(small_photo(visit.desk, photo_id), media_type="image/jpeg", headers=_KEPT)


@router.get("/photos/{photo_id:int}/remove")
def removing(visit: Here, photo_id: int) -> Response:
    return _removing(visit, visit.form(), photo(visit.desk, photo_id))


@router.post("/photos/{photo_id:int}/remove")
def remove(visit: Here, sent: Sent, photo_id: int) -> Response:
    form = visit.sent(sent)
    try:
        command = RemovePhoto(**visit.told(form), photo_id=photo_id)
        form.check()
        with form.asking():
            answer = remove_photo(visit.desk, command)
    except FormProblem:
        return _removing(visit, form, photo(visit.desk, photo_id), 422)
    subject = subject_of(visit.desk, answer["subject_kind"], answer["subject_id"])
    return visit.go(place_of(visit, subject), "photo_removed")


def _removing(visit: Visit, form: Form, card: PhotoCard, status: int = 200) -> Response:
    subject = subject_of(visit.desk, card.subject_kind, card.subject_id)
    return visit.page("photo_remove.html", status, form=form, card=card, back=place_of(visit, subject))


def place_of(visit: Visit, subject: Subject) -> str:
    """The page of what a photo is of."""
    return {
        "load": f"/wood-in/{subject.id}",
        "stack": f"/stacks/{subject.id}",
        "reading": f"/stacks/{subject.page_id}",
        "ticket": f"/tickets/{subject.id}",
        "naming": f"/tree/seen/{subject.id}",
        "yard": "/yard",
    }[subject.kind]


def _subject(visit: Visit, typed: str) -> Subject:
    """`stack-3` as the thing itself; `yard` alone is the yard; `deed-KEY` is what the deed under that key was about."""
    if typed == "yard":
        return subject_of(visit.desk, "yard", visit.desk.yard_id)
    kind, _, number = typed.partition("-")
    if kind == "deed":
        return subject_of_deed(visit.desk, number)
    if not number.isdigit() or len(number) > 9:
        number = "0"
    return subject_of(visit.desk, kind, int(number))


def _beside(visit: Visit, form: Form) -> tuple[datetime | None, float | None, float | None]:
    """What a phone says beside a photo that it drew smaller: when (by its own clock and zone) and where."""
    taken_at: datetime | None = None
    typed = form.value("taken_at").strip()
    if typed:
        try:
            taken_at = datetime.fromisoformat(typed)
        except ValueError:
            # Cameras that know no time write zeros: the photo is none the worse.
            taken_at = None
        if taken_at is not None and taken_at.tzinfo is None:
            taken_at = taken_at.replace(tzinfo=ZoneInfo(visit.facts.timezone))
    place = [
        float(form.value(name)) if _DEGREES.fullmatch(form.value(name)) else None
        for name in ("latitude", "longitude")
    ]
    if None in place or abs(place[0] or 0.0) > 90 or abs(place[1] or 0.0) > 180:
        place = [None, None]
    return taken_at, place[0], place[1]


def _content(form: Form, sent: FormData) -> bytes:
    upload = sent.get("photo")
    if not isinstance(upload, UploadFile) or not upload.filename:
        form.complain(
            InputError(
                "photo",
                wanted=T_("a photo"),
                got=T_("nothing"),
                next_move=T_("Take one, or choose a file."),
            )
        )
        return b""
    # One byte more than is taken, so that the desk can say that it is too large.
    return upload.file.read(MOST_BYTES + 1)


def _page(visit: Visit, form: Form, subject: Subject, status: int = 200) -> Response:
    return visit.page("photo_new.html", status, form=form, subject=subject, back=place_of(visit, subject))
