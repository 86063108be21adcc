"""What is done to a photo before the book takes it: looked at, turned upright, written anew without its secrets.

A phone writes into a photo where and when it was taken and with what. The picture is decoded and written again, so
that none of this, nor anything else that was hidden in the file, is kept; the time is kept beside it, and the place
only if the person wants that.
"""

from __future__ import annotations

import io
import math
import struct
from dataclasses import dataclass
from datetime import datetime, tzinfo
from typing import Any

from PIL import ExifTags, Image, ImageOps, UnidentifiedImageError

from rickyard.errors import InputError
from rickyard.text import T_, Text

MOST_BYTES = 8_000_000
# Phones take up to about 50 million; decoding takes four bytes each.
MOST_PIXELS = 60_000_000
LEAST_SIDE_PX = 2
SMALL_SIDE_PX = 480
QUALITY = 88
SMALL_QUALITY = 80
# The first bytes of what is taken, as the formats' own specifications have them.
_JPEG, _PNG, _RIFF, _WEBP = b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n", b"RIFF", b"WEBP"
_MEDIA = {"JPEG": "image/jpeg", "PNG": "image/png", "WEBP": "image/webp"}
# A colour profile is kept, but not one so large that it may be something else.
_MOST_PROFILE_BYTES = 20_000


@dataclass(frozen=True)
class Picture:
    """A photo as it is kept. `taken_at` is by the camera's own clock."""

    content: bytes
    media_type: str
    width_px: int
    height_px: int
    taken_at: datetime | None
    latitude_deg: float | None
    longitude_deg: float | None


def read_picture(content: bytes, *, zone: tzinfo, keep_place: bool = False) -> Picture:
    """Looks at a photo and writes it anew. `zone` is taken for a camera that does not say its own.

    Raises InputError if it is no JPEG, PNG or WebP, is broken, or too large.
    """
    kind = _kind(content)
    if len(content) > MOST_BYTES:
        raise _refusal(
            T_("at most {most:.0f} MB", most=MOST_BYTES / 1e6), T_("{size:.1f} MB", size=len(content) / 1e6)
        )
    try:
        with Image.open(io.BytesIO(content), formats=[kind]) as image:
            width, height = image.size
            if width * height > MOST_PIXELS:
                raise _too_many(width, height)
            if min(width, height) < LEAST_SIDE_PX:
                raise _refusal(T_("a photo"), T_("{width} × {height} pixels", width=width, height=height))
            exif = image.getexif()
            upright = ImageOps.exif_transpose(image)
            upright.load()
            written = _written(upright, kind)
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as error:
        raise _refusal(
            T_("at most {most:,} pixels", most=MOST_PIXELS), T_("many more"), code="photo_too_large"
        ) from error
    except (UnidentifiedImageError, OSError, SyntaxError, ValueError, EOFError, struct.error) as error:
        if isinstance(error, InputError):
            raise
        raise _refusal(T_("a photo that can be opened"), T_("a file that is broken")) from error
    latitude, longitude = _place(exif) if keep_place else (None, None)
    return Picture(
        content=written,
        media_type=_MEDIA[kind],
        width_px=upright.width,
        height_px=upright.height,
        taken_at=_taken_at(exif, zone),
        latitude_deg=latitude,
        longitude_deg=longitude,
    )


def small_picture(content: bytes) -> bytes:
    """A preview as JPEG, its longest side 480 pixels at most. The bytes are those of a kept photo."""
    with Image.open(io.BytesIO(content)) as image:
        shown = image.convert("RGB") if image.mode != "RGBA" else _on_white(image)
    shown.thumbnail((SMALL_SIDE_PX, SMALL_SIDE_PX))
    out = io.BytesIO()
    shown.save(out, "JPEG", quality=SMALL_QUALITY, optimize=True)
    return out.getvalue()


def _kind(content: bytes) -> str:
    """What the bytes say they are; names and headings of uploads are not believed."""
    if content.startswith(_JPEG):
        return "JPEG"
    if content.startswith(_PNG):
        return "PNG"
    if content.startswith(_RIFF) and content[8:12] == _WEBP:
        return "WEBP"
    raise _refusal(T_("a photo as JPEG, PNG or WebP"), T_("another file") if content else T_("nothing"))


def _written(image: Image.Image, kind: str) -> bytes:
    """The picture alone, in the same format."""
    settings: dict[str, Any] = {}
    if kind == "JPEG":
        image = image if image.mode in ("L", "RGB") else image.convert("RGB")
        settings = {"quality": QUALITY, "optimize": True}
    elif kind == "PNG":
        settings = {"optimize": True}
    else:
        settings = {"quality": QUALITY}
    profile = image.info.get("icc_profile")
    clean = image.copy()
    clean.info = {}
    if isinstance(profile, bytes) and len(profile) <= _MOST_PROFILE_BYTES and image.mode == "RGB":
        settings["icc_profile"] = profile
    if "transparency" in image.info and kind == "PNG":
        clean.info["transparency"] = image.info["transparency"]
    out = io.BytesIO()
    clean.save(out, kind, **settings)
    return out.getvalue()


def _on_white(image: Image.Image) -> Image.Image:
    ground = Image.new("RGB", image.size, "white")
    ground.paste(image, mask=image.getchannel("A"))
    return ground


def _taken_at(exif: Image.Exif, zone: tzinfo) -> datetime | None:
    """When the camera says the photo was taken; None where it does not say, or not so that it can be read."""
    inner = exif.get_ifd(ExifTags.IFD.Exif)
    written = str(inner.get(ExifTags.Base.DateTimeOriginal, "")).strip("\x00 ")
    offset = str(inner.get(ExifTags.Base.OffsetTimeOriginal, "")).strip("\x00 ")
    # Cameras write 2026:11:20 14:05:00.
    moment = written.replace(":", "-", 2)
    for text in (moment + offset, moment):
        try:
            taken_at = datetime.fromisoformat(text)
        except ValueError:
            continue  # cameras write blanks or zeros where they do not know
        return taken_at if taken_at.tzinfo is not None else taken_at.replace(tzinfo=zone)
    return None


def _place(exif: Image.Exif) -> tuple[float | None, float | None]:
    """Latitude and longitude [degrees], north and east positive; None where the photo does not say."""
    place = exif.get_ifd(ExifTags.IFD.GPSInfo)
    latitude = _degrees(place.get(ExifTags.GPS.GPSLatitude), place.get(ExifTags.GPS.GPSLatitudeRef), "S", 90)
    longitude = _degrees(
        place.get(ExifTags.GPS.GPSLongitude), place.get(ExifTags.GPS.GPSLongitudeRef), "W", 180
    )
    return (latitude, longitude) if latitude is not None and longitude is not None else (None, None)


def _degrees(parts: Any, side: Any, negative: str, most: float) -> float | None:
    try:
        degrees, minutes, seconds = (float(part) for part in parts)
    except (TypeError, ValueError, ZeroDivisionError):
        return None
    value = degrees + minutes / 60 + seconds / 3600
    if not math.isfinite(value) or not 0 <= value <= most:
        return None
    return -value if str(side).strip("\x00 ").upper() == negative else value


def _too_many(width: int, height: int) -> InputError:
    return _refusal(
        T_("at most {most:,} pixels", most=MOST_PIXELS),
        T_("{width} × {height} pixels", width=width, height=height),
        code="photo_too_large",
    )


def _refusal(wanted: Text, got: Text, *, code: str = "bad_photo") -> InputError:
    return InputError(
        "photo",
        wanted=wanted,
        got=got,
        next_move=T_("Take the photo again, or choose another file."),
        code=code,
    )
