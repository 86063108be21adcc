"""Photos of loads, stacks, readings, tickets, named trees, the yard: taken in by deeds, kept beside the book."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import Select, and_, or_, select
from sqlalchemy.orm import Session

from rickyard.book.models import PHOTO_SUBJECTS, Deed, Load, Naming, Photo, Reading, Stack, Ticket
from rickyard.desk.checks import one_of, some_text, within
from rickyard.desk.context import FIRST_MOMENT, Answer, Command, Desk, Stage, do
from rickyard.desk.pictures import read_picture, small_picture
from rickyard.errors import InputError
from rickyard.text import T_


@dataclass(frozen=True, kw_only=True)
class AddPhoto(Command):
    """A photo as the phone sent it (JPEG, PNG or WebP), and of what it is.

    The place that a phone writes into a photo is thrown away unless `keep_place`. A phone that draws a photo
    smaller before it sends it loses what is written there, and says it beside it: `taken_at` (by its own clock),
    `latitude_deg`, `longitude_deg`. What still stands in the photo goes before that.
    """

    content: bytes
    subject_kind: str
    subject_id: int
    note: str = ""
    keep_place: bool = False
    taken_at: datetime | None = None
    latitude_deg: float | None = None
    longitude_deg: float | None = None


@dataclass(frozen=True, kw_only=True)
class RemovePhoto(Command):
    """A photo that should not be kept: the wrong one, or somebody in it who does not wish it."""

    photo_id: int


@dataclass(frozen=True)
class PhotoCard:
    """A photo as the book has it, without its bytes."""

    id: int
    sha256: str
    media_type: str
    size_bytes: int
    width_px: int
    height_px: int
    taken_at: datetime | None
    added_at: datetime
    subject_kind: str
    subject_id: int
    note: str
    latitude_deg: float | None
    longitude_deg: float | None


@dataclass(frozen=True)
class Subject:
    """What a photo is of; `label` is a stack's name or a number, "" for the yard.

    `page_id`: on whose page it is shown; a reading stands on that of its stack.
    """

    kind: str
    id: int
    label: str
    page_id: int


def add_photo(desk: Desk, command: AddPhoto) -> Answer:
    """Takes a photo in. Answer: photo_id, sha256."""
    one_of("subject", command.subject_kind, PHOTO_SUBJECTS)
    note = some_text("note", command.note, 300, needed=False)

    if (command.latitude_deg is None) != (command.longitude_deg is None):
        raise InputError(
            "latitude" if command.latitude_deg is None else "longitude",
            wanted=T_("latitude and longitude together"),
            got=T_("one of them"),
            next_move=T_("Send both, or neither."),
        )
    for field, value, most in (
        ("latitude", command.latitude_deg, 90.0),
        ("longitude", command.longitude_deg, 180.0),
    ):
        if value is not None:
            within(field, value, (-most, most), "°")
    with desk.book.read() as session:
        zone = ZoneInfo(desk.yard(session).timezone)
    # Decoding takes a second: not while other writers wait.
    picture = read_picture(command.content, zone=zone, keep_place=command.keep_place)
    place = (picture.latitude_deg, picture.longitude_deg)
    if command.keep_place and picture.latitude_deg is None:
        place = (command.latitude_deg, command.longitude_deg)

    def run(stage: Stage) -> Answer:
        subject = _subject(stage.session, stage.yard.id, command.subject_kind, command.subject_id)
        # On the disk first: the book never speaks of a file that is not there.
        sha256 = desk.book.files.put(picture.content)
        photo = Photo(
            yard_id=stage.yard.id,
            deed_id=stage.deed.id,
            sha256=sha256,
            media_type=picture.media_type,
            size_bytes=len(picture.content),
            width_px=picture.width_px,
            height_px=picture.height_px,
            taken_at=_taken_at(stage, picture.taken_at or command.taken_at),
            subject_kind=subject.kind,
            subject_id=subject.id,
            note=note,
            latitude_deg=place[0],
            longitude_deg=place[1],
        )
        stage.session.add(photo)
        stage.session.flush()
        return {"photo_id": photo.id, "sha256": sha256}

    return do(desk, "add_photo", command, run)


def remove_photo(desk: Desk, command: RemovePhoto) -> Answer:
    """Takes a photo out of the book and its file off the disk. Answer: photo_id, subject_kind, subject_id.

    That there was one, and who took it out when, stays in the deeds; backups made before still hold it.
    """

    def run(stage: Stage) -> Answer:
        row = stage.session.get(Photo, command.photo_id)
        if row is None or row.yard_id != stage.yard.id:
            raise _unknown_photo(command.photo_id)
        removed.append(row.sha256)
        stage.session.delete(row)
        return {"photo_id": row.id, "subject_kind": row.subject_kind, "subject_id": row.subject_id}

    removed: list[str] = []
    answer = do(desk, "remove_photo", command, run)
    for sha256 in removed:
        # Only once the book no longer speaks of it, and while nobody can take the same bytes in again.
        with desk.book.write(desk.yard_id) as session:
            if session.scalar(select(Photo.id).where(Photo.sha256 == sha256).limit(1)) is None:
                desk.book.files.drop(sha256)
    return answer


def photos(desk: Desk, subject_kind: str, subject_id: int) -> list[PhotoCard]:
    """The photos of one thing, newest first."""
    with desk.book.read() as session:
        query = (
            select(Photo)
            .where(
                Photo.yard_id == desk.yard_id,
                Photo.subject_kind == subject_kind,
                Photo.subject_id == subject_id,
            )
            .order_by(Photo.id.desc())
        )
        return [_card(session, photo) for photo in session.scalars(query)]


def photos_of_stack(desk: Desk, stack_id: int) -> list[PhotoCard]:
    """The photos of a stack and of its readings, newest first."""
    of_readings = select(Reading.id).where(Reading.stack_id == stack_id)
    return _photos_with(desk, ("stack", stack_id), ("reading", of_readings))


def photos_of_load(desk: Desk, load_id: int) -> list[PhotoCard]:
    """The photos of a load and of what was seen of its trees, newest first."""
    of_namings = select(Naming.id).where(Naming.load_id == load_id)
    return _photos_with(desk, ("load", load_id), ("naming", of_namings))


def _photos_with(desk: Desk, whole: tuple[str, int], parts: tuple[str, Select[Any]]) -> list[PhotoCard]:
    """The photos of a thing and of what belongs to it."""
    (kind, number), (part_kind, part_ids) = whole, parts
    with desk.book.read() as session:
        query = (
            select(Photo)
            .where(
                Photo.yard_id == desk.yard_id,
                or_(
                    and_(Photo.subject_kind == kind, Photo.subject_id == number),
                    and_(Photo.subject_kind == part_kind, Photo.subject_id.in_(part_ids)),
                ),
            )
            .order_by(Photo.id.desc())
        )
        return [_card(session, photo) for photo in session.scalars(query)]


def photo(desk: Desk, photo_id: int) -> PhotoCard:
    with desk.book.read() as session:
        row = session.get(Photo, photo_id)
        if row is None or row.yard_id != desk.yard_id:
            raise _unknown_photo(photo_id)
        return _card(session, row)


def photo_bytes(desk: Desk, photo_id: int) -> tuple[PhotoCard, bytes]:
    """A photo as it is kept, proven against its hash."""
    card = photo(desk, photo_id)
    return card, desk.book.files.get(card.sha256)


def small_photo(desk: Desk, photo_id: int) -> bytes:
    """Its preview as JPEG; made the first time it is asked for."""
    return desk.book.files.made(photo(desk, photo_id).sha256, "480", small_picture)


def subject_of(desk: Desk, kind: str, subject_id: int) -> Subject:
    """What a photo may be of, if this yard has it; else InputError."""
    one_of("subject", kind, PHOTO_SUBJECTS)
    with desk.book.read() as session:
        return _subject(session, desk.yard_id, kind, subject_id)


def subject_of_deed(desk: Desk, key: str) -> Subject:
    """What a deed was about, by the key that the phone gave it: a photo may be taken before the load has a number."""
    with desk.book.read() as session:
        query = select(Deed.answer).where(Deed.yard_id == desk.yard_id, Deed.client_key == key)
        answer = session.scalar(query) or {}
        for kind in ("naming", "reading", "load", "ticket", "stack"):
            if answer.get(f"{kind}_id") is not None:
                return _subject(session, desk.yard_id, kind, int(answer[f"{kind}_id"]))
    raise _unknown_subject(f"deed {key}")


def _subject(session: Session, yard_id: int, kind: str, subject_id: int) -> Subject:
    if kind == "yard" and subject_id == yard_id:
        return Subject(kind, subject_id, "", subject_id)
    if kind in ("load", "ticket"):
        numbered = session.get(Load if kind == "load" else Ticket, subject_id)
        if isinstance(numbered, Load | Ticket) and numbered.yard_id == yard_id:
            return Subject(kind, numbered.id, str(numbered.number), numbered.id)
    if kind == "naming":
        naming = session.get(Naming, subject_id)
        if naming is not None and naming.yard_id == yard_id:
            return Subject(kind, naming.id, str(naming.id), naming.id)
    if kind == "reading":
        reading = session.get(Reading, subject_id)
        if reading is not None and reading.yard_id == yard_id:
            name = session.get_one(Stack, reading.stack_id).name
            return Subject(kind, reading.id, name, reading.stack_id)
    if kind == "stack":
        stack = session.get(Stack, subject_id)
        if stack is not None and stack.yard_id == yard_id:
            return Subject(kind, stack.id, stack.name, stack.id)
    raise _unknown_subject(f"{kind} {subject_id}")


def _unknown_photo(photo_id: int) -> InputError:
    return InputError(
        "photo",
        wanted=T_("a photo of this yard"),
        got=photo_id,
        next_move=T_("Open it from the page of its load or stack."),
        code="unknown_photo",
    )


def _unknown_subject(got: str) -> InputError:
    return InputError(
        "subject",
        wanted=T_("a load, stack, reading, ticket or named tree of this yard, or the yard"),
        got=got,
        next_move=T_("Start from the page of what is in the photo."),
        code="unknown_subject",
    )


def _taken_at(stage: Stage, said: datetime | None) -> datetime | None:
    """When it was taken, put right by what the phone's clock is wrong by; nothing that cannot have been."""
    # Only moments that can be shifted and kept: the years 1 and 9999 come from cameras that know no time.
    if said is None or said.tzinfo is None or not 1900 < said.year < 9000:
        return None
    try:
        taken_at = said + stage.shift
    except OverflowError:
        return None
    return taken_at if FIRST_MOMENT <= taken_at <= stage.recorded_at else None


def _card(session: Session, row: Photo) -> PhotoCard:
    return PhotoCard(
        id=row.id,
        sha256=row.sha256,
        media_type=row.media_type,
        size_bytes=row.size_bytes,
        width_px=row.width_px,
        height_px=row.height_px,
        taken_at=row.taken_at,
        added_at=session.get_one(Deed, row.deed_id).happened_at,
        subject_kind=row.subject_kind,
        subject_id=row.subject_id,
        note=row.note,
        latitude_deg=row.latitude_deg,
        longitude_deg=row.longitude_deg,
    )
