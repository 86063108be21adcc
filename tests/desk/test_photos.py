"""Photos: real pictures through Pillow, kept by hash, without what a phone writes into them in secret."""

from __future__ import annotations

import hashlib
import io
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import ExifTags, Image, PngImagePlugin
from sqlalchemy import func, select

from rickyard.book import check
from rickyard.book.models import Photo
from rickyard.desk import pictures
from rickyard.desk.context import Desk, new_key
from rickyard.desk.photos import (
    AddPhoto,
    RemovePhoto,
    add_photo,
    photo,
    photo_bytes,
    photos,
    remove_photo,
    small_photo,
    subject_of,
)
from rickyard.desk.pictures import MOST_BYTES, read_picture
from rickyard.desk.readings import AddReading, add_reading
from rickyard.errors import BookError, ClashError, InputError

SECRET = b"Halfmoon camera 9, serial 4711"


def drawn(
    kind: str = "JPEG", size: tuple[int, int] = (300, 200), mode: str = "RGB", **settings: object
) -> bytes:
    """A picture whose left half is red and whose right half is blue."""
    image = Image.new("RGB", size, (200, 30, 30))
    image.paste((30, 30, 200), (size[0] // 2, 0, size[0], size[1]))
    out = io.BytesIO()
    image.convert(mode).save(out, kind, **settings)
    return out.getvalue()


def with_exif(**wanted: object) -> bytes:
    exif = Image.Exif()
    exif[ExifTags.Base.Make] = SECRET.decode()
    if "orientation" in wanted:
        exif[ExifTags.Base.Orientation] = wanted["orientation"]
    inner = exif.get_ifd(ExifTags.IFD.Exif)
    for name, tag in (
        ("taken", ExifTags.Base.DateTimeOriginal),
        ("offset", ExifTags.Base.OffsetTimeOriginal),
    ):
        if name in wanted:
            inner[tag] = wanted[name]
    if "place" in wanted:
        exif.get_ifd(ExifTags.IFD.GPSInfo).update(wanted["place"])  # type: ignore[call-overload]
    return drawn(exif=exif)


PLACE = {
    ExifTags.GPS.GPSLatitudeRef: "N",
    ExifTags.GPS.GPSLatitude: (45.0, 57.0, 36.0),
    ExifTags.GPS.GPSLongitudeRef: "W",
    ExifTags.GPS.GPSLongitude: (66.0, 38.0, 24.0),
}


def of_stack(stack: int, **changes: object) -> AddPhoto:
    command = AddPhoto(key=new_key(), content=drawn(), subject_kind="stack", subject_id=stack)
    return replace(command, **changes)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("kind", "mode"),
    [
        ("JPEG", "RGB"),
        ("JPEG", "L"),
        ("JPEG", "CMYK"),
        ("PNG", "RGB"),
        ("PNG", "RGBA"),
        ("PNG", "P"),
        ("WEBP", "RGB"),
    ],
)
def test_a_photo_is_kept_and_shown(desk: Desk, stack: int, kind: str, mode: str) -> None:
    answer = add_photo(desk, of_stack(stack, content=drawn(kind, mode=mode), note="the north end"))

    card, content = photo_bytes(desk, answer["photo_id"])
    assert card.sha256 == hashlib.sha256(content).hexdigest() == answer["sha256"]
    assert (card.width_px, card.height_px, card.size_bytes) == (300, 200, len(content))
    assert card.media_type == f"image/{kind.lower()}"
    assert photos(desk, "stack", stack) == [card]
    assert card.note == "the north end"
    with Image.open(io.BytesIO(content)) as image:
        left, right = (image.convert("RGB").getpixel((x, 100)) for x in (20, 280))
    if mode != "L":
        assert left[0] > left[2] + 50  # type: ignore[index]
        assert right[2] > right[0] + 50  # type: ignore[index]


def test_the_file_lies_beside_the_book(desk: Desk, stack: int) -> None:
    sha256 = add_photo(desk, of_stack(stack))["sha256"]

    path = Path(desk.book.url + ".files") / sha256[:2] / sha256[2:]
    assert hashlib.sha256(path.read_bytes()).hexdigest() == sha256
    assert check(desk.book).ok


def test_a_preview_is_small_and_made_once(desk: Desk, stack: int) -> None:
    number = add_photo(desk, of_stack(stack, content=drawn(size=(1600, 900))))["photo_id"]

    first = small_photo(desk, number)

    with Image.open(io.BytesIO(first)) as image:
        assert (image.format, image.size) == ("JPEG", (480, 270))
    # The file itself is not needed for the second look.
    desk.book.files.path(photo(desk, number).sha256).rename(Path(desk.book.url + ".aside"))
    assert small_photo(desk, number) == first
    Path(desk.book.url + ".aside").rename(desk.book.files.path(photo(desk, number).sha256))


def test_what_a_phone_writes_in_secret_is_gone(desk: Desk, stack: int) -> None:
    sent = with_exif(taken="2026:09:30 14:05:00", offset="-03:00", place=PLACE)
    assert SECRET in sent
    number = add_photo(desk, of_stack(stack, content=sent))["photo_id"]

    card, content = photo_bytes(desk, number)
    assert SECRET not in content
    with Image.open(io.BytesIO(content)) as image:
        assert dict(image.getexif()) == {}
    assert card.taken_at == datetime(2026, 9, 30, 17, 5, tzinfo=UTC)
    assert (card.latitude_deg, card.longitude_deg) == (None, None)


def test_texts_of_a_png_are_gone() -> None:
    texts = PngImagePlugin.PngInfo()
    texts.add_text("Comment", SECRET.decode())
    sent = drawn("PNG", pnginfo=texts)
    assert SECRET in sent

    assert SECRET not in read_picture(sent, zone=UTC).content


def test_what_is_glued_behind_a_picture_is_gone() -> None:
    assert b"<script>" not in read_picture(drawn() + b"<script>alert(1)</script>", zone=UTC).content


def test_the_place_is_kept_when_it_is_wanted(desk: Desk, stack: int) -> None:
    command = of_stack(stack, content=with_exif(place=PLACE), keep_place=True)
    number = add_photo(desk, command)["photo_id"]

    card, content = photo_bytes(desk, number)
    assert card.latitude_deg == pytest.approx(45 + 57 / 60 + 36 / 3600)
    assert card.longitude_deg == pytest.approx(-(66 + 38 / 60 + 24 / 3600))
    assert SECRET not in content


@pytest.mark.parametrize(
    ("taken", "offset", "wanted"),
    [
        ("2026:09:30 14:05:00", "", datetime(2026, 9, 30, 17, 5, tzinfo=UTC)),  # the yard's own zone
        ("2026:09:30 14:05:00", "+02:00", datetime(2026, 9, 30, 12, 5, tzinfo=UTC)),
        ("2026:09:30 14:05:00", "somewhere", datetime(2026, 9, 30, 17, 5, tzinfo=UTC)),
        ("0000:00:00 00:00:00", "", None),
        ("    :  :     :  :  ", "", None),
        ("yesterday", "", None),
        ("2031:09:30 14:05:00", "", None),
        ("1904:01:01 00:00:00", "", None),
    ],
)
def test_when_it_was_taken(desk: Desk, stack: int, taken: str, offset: str, wanted: datetime | None) -> None:
    number = add_photo(desk, of_stack(stack, content=with_exif(taken=taken, offset=offset)))["photo_id"]

    assert photo(desk, number).taken_at == wanted


def test_a_wrong_clock_is_put_right_in_the_photo_too(desk: Desk, stack: int) -> None:
    fast = timedelta(days=400)
    command = of_stack(
        stack,
        content=with_exif(taken="2027:11:04 12:00:00", offset="+00:00"),
        happened_at=desk.now() + fast,
        sent_at=desk.now() + fast,
    )
    number = add_photo(desk, command)["photo_id"]

    assert photo(desk, number).taken_at == datetime(2027, 11, 4, 12, tzinfo=UTC) - fast


def test_a_photo_taken_sideways_stands_upright() -> None:
    picture = read_picture(with_exif(orientation=6), zone=UTC)

    assert (picture.width_px, picture.height_px) == (200, 300)
    with Image.open(io.BytesIO(picture.content)) as image:
        assert image.size == (200, 300)
        top = image.convert("RGB").getpixel((100, 20))
    assert top[0] > top[2]  # type: ignore[index]


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"no picture at all",
        b"GIF89a" + bytes(40),
        b"<svg xmlns='http://www.w3.org/2000/svg'/>",
        b"\xff\xd8\xff" + bytes(200),
        b"\x89PNG\r\n\x1a\n" + bytes(200),
        b"RIFF" + bytes(4) + b"WEBP" + bytes(200),
        drawn()[:400],
        drawn("PNG")[:80],
        drawn("WEBP")[:60],
        drawn("PNG").replace(b"IHDR", b"IHDX"),
        drawn(size=(1, 1)),
        drawn("BMP"),
    ],
    ids=lambda content: repr(content[:8]) + str(len(content)),
)
def test_what_is_no_photo_is_refused(desk: Desk, stack: int, content: bytes) -> None:
    with pytest.raises(InputError) as caught:
        add_photo(desk, of_stack(stack, content=content))

    assert (caught.value.field, caught.value.code) == ("photo", "bad_photo")
    assert list(desk.book.files.all()) == []


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    kind=st.sampled_from(["JPEG", "PNG", "WEBP"]),
    at=st.integers(0, 10_000),
    junk=st.binary(min_size=1, max_size=12),
)
def test_a_spoilt_file_is_refused_or_read(kind: str, at: int, junk: bytes) -> None:
    """Bytes written over at any place: a picture, or a complaint of ours; nothing else."""
    content = bytearray(drawn(kind, size=(40, 30)))
    start = at % len(content)
    content[start : start + len(junk)] = junk
    try:
        picture = read_picture(bytes(content), zone=UTC)
    except InputError as error:
        refused = error.field
    else:
        refused = "photo" if picture.width_px >= 2 else "nothing was read"
    assert refused == "photo"


def test_too_many_bytes_and_too_many_pixels(monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(InputError) as heavy:
        read_picture(drawn() + bytes(MOST_BYTES), zone=UTC)
    assert "8 MB" in str(heavy.value)
    # A small file can hold a huge picture: it is refused before it is decoded.
    out = io.BytesIO()
    Image.new("1", (9000, 7000)).save(out, "PNG")
    bomb = out.getvalue()
    assert len(bomb) < 100_000
    with pytest.raises(InputError) as wide:
        read_picture(bomb, zone=UTC)
    assert wide.value.code == "photo_too_large"
    monkeypatch.setattr(pictures.Image, "MAX_IMAGE_PIXELS", 100)
    with pytest.raises(InputError) as bombed:
        read_picture(drawn(), zone=UTC)
    assert bombed.value.code == "photo_too_large"


def test_sent_again_it_is_one_photo(desk: Desk, stack: int) -> None:
    command = of_stack(stack, happened_at=desk.now(), sent_at=desk.now())
    first = add_photo(desk, command)
    again = add_photo(desk, replace(command, sent_at=desk.now() - timedelta(minutes=9)))
    with pytest.raises(ClashError):
        add_photo(desk, replace(command, content=drawn("PNG")))

    assert first == again
    assert len(photos(desk, "stack", stack)) == 1


def test_the_same_photo_of_two_things_is_one_file(desk: Desk, stack: int, load: int) -> None:
    add_photo(desk, of_stack(stack))
    add_photo(desk, of_stack(load, subject_kind="load"))

    assert len(list(desk.book.files.all())) == 1
    assert len(photos(desk, "load", load)) == 1


def test_everything_that_can_be_in_a_photo(desk: Desk, stack: int, load: int) -> None:
    reading = add_reading(
        desk,
        AddReading(key=new_key(), stack_id=stack, kind="meter", value=20.0, happened_on=desk.today()),
    )["reading_id"]
    for kind, number, page in (
        ("load", load, load),
        ("stack", stack, stack),
        ("reading", reading, stack),
        ("yard", desk.yard_id, desk.yard_id),
    ):
        add_photo(desk, of_stack(number, subject_kind=kind))
        assert subject_of(desk, kind, number).page_id == page


@pytest.mark.parametrize("kind", ["load", "stack", "reading", "ticket", "yard"])
def test_of_what_is_not_there(desk: Desk, kind: str) -> None:
    with pytest.raises(InputError) as caught:
        add_photo(desk, of_stack(999, subject_kind=kind))

    assert caught.value.code == "unknown_subject"
    with desk.book.read() as session:
        assert session.scalar(select(func.count()).select_from(Photo)) == 0


def test_a_lost_or_spoilt_file_says_so(desk: Desk, stack: int) -> None:
    number = add_photo(desk, of_stack(stack))["photo_id"]
    path = desk.book.files.path(photo(desk, number).sha256)
    kept = path.read_bytes()

    path.write_bytes(kept + b"x")
    with pytest.raises(BookError) as spoilt:
        photo_bytes(desk, number)
    path.unlink()
    with pytest.raises(BookError) as lost:
        photo_bytes(desk, number)

    path.write_bytes(kept)
    assert (spoilt.value.code, lost.value.code) == ("file_damaged", "file_missing")


def test_a_photo_taken_out_is_gone_from_book_and_disk(desk: Desk, stack: int) -> None:
    added = add_photo(desk, of_stack(stack))
    small_photo(desk, added["photo_id"])
    command = RemovePhoto(key=new_key(), photo_id=added["photo_id"])

    answer = remove_photo(desk, command)

    assert (answer["subject_kind"], answer["subject_id"]) == ("stack", stack)
    assert photos(desk, "stack", stack) == []
    assert [path for path in desk.book.files.folder.rglob("*") if path.is_file()] == []
    assert check(desk.book).ok
    assert remove_photo(desk, command) == answer, "the same key, the first answer"
    with pytest.raises(InputError, match="a photo of this yard"):
        remove_photo(desk, RemovePhoto(key=new_key(), photo_id=added["photo_id"]))


def test_a_file_that_another_photo_needs_stays(desk: Desk, stack: int, load: int) -> None:
    first = add_photo(desk, of_stack(stack))
    second = add_photo(desk, AddPhoto(key=new_key(), content=drawn(), subject_kind="load", subject_id=load))

    remove_photo(desk, RemovePhoto(key=new_key(), photo_id=first["photo_id"]))

    assert photo_bytes(desk, second["photo_id"])[0].subject_kind == "load"
    assert check(desk.book).ok
