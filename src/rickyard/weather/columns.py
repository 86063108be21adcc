"""Columns of weather tables, known by what their heads say in English or French, with or without accents and units."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

KMH_M_S, MPH_M_S, KNOT_M_S, INCH_MM = 1.0 / 3.6, 0.44704, 0.514444, 25.4

# What a head must hold, and what it must not. The order matters: dew points are temperatures too.
_WORDS: tuple[tuple[str, str, str], ...] = (
    (
        "time",
        r"\bdate.?(/|_|-|\s|,)?.?(time|heure)|datetime|timestamp|horodat|\btime.hour\b|date_?heure",
        r"flag",
    ),
    ("dew", r"\bdew|rosee|dewp", r"flag|indic|quality|qualite"),
    (
        "temp",
        r"\btemp|\btemperature|\bair_?t\b|\bt_?air\b|^t$|\bcelsius\b|\bfahrenheit\b",
        r"flag|indic|quality|qualite|\bmax|\bmin|wet|humide|soil|sol\b|water|eau\b|chill|ressentie|feels|apparent|time|heat",
    ),
    (
        "rh",
        r"\bhum|\brh\b|\bhr\b|rel_?hum|relative_?humid|\brel\.?\s*hum",
        r"flag|indic|humidex|absol|quality|qualite|specif|soil|sol\b",
    ),
    (
        "wind",
        r"\bwind|\bvent\b|vit.*vent",
        r"dir|flag|indic|gust|rafale|chill|quality|qualite|\bmax|eolien",
    ),
    ("rain", r"precip|\brain|pluie", r"flag|indic|prob|quality|qualite|type|\bmax|rate|intensi"),
    ("sun", r"solar|\bghi\b|rayonn|radiation|irradi", r"flag|indic|source|uncert|quality|qualite|\buv\b"),
    ("low", r"\bmin", r"flag|indic|date|hum|time|heure"),
    ("high", r"\bmax", r"flag|indic|date|hum|vent|wind|gust|rafale|time|heure"),
    ("lat", r"^latitude|^lat$|^lat\b", r"flag"),
    ("lon", r"^longitude|^lon$|^long?\b", r"flag"),
    ("elev", r"^elev|^altitude|^alt$", r"flag"),
    ("station", r"^station.?name|^nom de la station|^station$|^origin$|^name$", r"flag"),
    ("date", r"^date\b|^jour\b|^day$", r"flag|indic"),
    ("clock", r"^time\b|^heure\b|^hour\b", r"flag|indic"),
)
_OUTSIDE = re.compile(r"\bout|\bext|\bdehors|\bair\b|\bambi|\bsheltered|\bdry")
_INSIDE = re.compile(r"\bin\b|\bindoor|\bint\b|\binter|\bdedans")


@dataclass(frozen=True)
class Columns:
    """Place of each known column in a row, the units their heads say, and heads that two columns claim."""

    at: dict[str, int]
    units: dict[str, str]
    clash: dict[str, tuple[str, ...]]


def plain(text: str) -> str:
    """Small letters without accents; underscores become blanks where words are looked for."""
    folded = unicodedata.normalize("NFKD", text.casefold().replace("\u00ba", "\u00b0"))
    return "".join(sign for sign in folded if not unicodedata.combining(sign)).strip()


def find_columns(heads: list[str]) -> Columns:
    """Which column holds what."""
    claims: dict[str, list[int]] = {}
    for i, head in enumerate(heads):
        words = plain(head).replace("_", " ")
        for name, must, must_not in _WORDS:
            if re.search(must, words) and not re.search(must_not, words):
                claims.setdefault(name, []).append(i)
                break
    at: dict[str, int] = {}
    clash: dict[str, tuple[str, ...]] = {}
    for name, found in claims.items():
        chosen = found
        if len(found) > 1 and name in ("temp", "rh", "dew"):
            outside = [i for i in found if _OUTSIDE.search(plain(heads[i]).replace("_", " "))]
            chosen = outside or [i for i in found if not _INSIDE.search(plain(heads[i]).replace("_", " "))]
            if len(chosen) != 1:
                clash[name] = tuple(heads[i].strip() for i in found)
                continue
        if name in ("low", "high"):
            # Daily extremes of temperature; a bare Max or Min will do.
            named = [i for i in found if "temp" in plain(heads[i])]
            chosen = named or found
        at[name] = chosen[0]
    units = {name: unit_of(heads[i], name) for name, i in at.items()}
    return Columns(at, units, clash)


def unit_of(head: str, name: str) -> str:
    """The unit in a head, in our own short words; "" if it says none."""
    words = plain(head)
    if name in ("temp", "dew", "low", "high"):
        if re.search(r"°\s*f|\(f\)|\bdeg\s*f|fahrenheit|_f$|\bf$", words):
            return "F"
        if re.search(r"°\s*c|\(c\)|\bdeg\s*c|celsius|_c$|\bc$", words):
            return "C"
    if name == "rh" and re.search(r"%|percent|pct|pour ?cent", words):
        return "percent"
    if name == "wind":
        for unit, must in (
            ("km/h", r"km.?/?.?h|kph"),
            ("mph", r"mph|mi/h"),
            ("kn", r"\bkn\b|\bkt|knots|noeud"),
            ("m/s", r"m/s|m\.s|_ms\b|\bms\b|m s-1"),
        ):
            if re.search(must, words):
                return unit
    if name == "rain":
        return (
            "mm" if re.search(r"mm", words) else "in" if re.search(r"\(in\b|inch|\bpo\b|_in$", words) else ""
        )
    if name == "sun" and re.search(r"w\s*/?\s*m", words):
        return "W/m2"
    return ""


WIND_FACTORS = {"km/h": KMH_M_S, "mph": MPH_M_S, "kn": KNOT_M_S, "m/s": 1.0}
RAIN_FACTORS = {"mm": 1.0, "in": INCH_MM}
