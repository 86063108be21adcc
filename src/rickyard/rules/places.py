"""Places the rules are kept for: countries and their subdivisions (ISO 3166), and what each inherits from."""

from __future__ import annotations

import difflib
import re
import unicodedata
from dataclasses import dataclass
from functools import cache
from typing import Literal

from rickyard.errors import UnknownNameError
from rickyard.rules.tables import table
from rickyard.text import T_

Standing = Literal["read", "part", "model", "none"]
"""`read`: the place's own rules were read. `part`: some of them. `model`: only a model regulation is shown.
`none`: nothing was read."""

COUNTRIES = frozenset(
    "AD AE AF AG AI AL AM AO AQ AR AS AT AU AW AX AZ BA BB BD BE BF BG BH BI BJ BL BM BN BO BQ BR BS BT BV BW BY BZ "
    "CA CC CD CF CG CH CI CK CL CM CN CO CR CU CV CW CX CY CZ DE DJ DK DM DO DZ EC EE EG EH ER ES ET FI FJ FK FM FO "
    "FR GA GB GD GE GF GG GH GI GL GM GN GP GQ GR GS GT GU GW GY HK HM HN HR HT HU ID IE IL IM IN IO IQ IR IS IT JE "
    "JM JO JP KE KG KH KI KM KN KP KR KW KY KZ LA LB LC LI LK LR LS LT LU LV LY MA MC MD ME MF MG MH MK ML MM MN MO "
    "MP MQ MR MS MT MU MV MW MX MY MZ NA NC NE NF NG NI NL NO NP NR NU NZ OM PA PE PF PG PH PK PL PM PN PR PS PT PW "
    "PY QA RE RO RS RU RW SA SB SC SD SE SG SH SI SJ SK SL SM SN SO SR SS ST SV SX SY SZ TC TD TF TG TH TJ TK TL TM "
    "TN TO TR TT TV TW TZ UA UG UM US UY UZ VA VC VE VG VI VN VU WF WS YE YT ZA ZM ZW".split()
)
"""ISO 3166-1 codes, from memory."""

_SAME = {"UK": "GB"}
_CODE = re.compile(r"([A-Z]{2})(?:-([A-Z0-9]{1,5}(?:-[A-Z]+)?))?")


@dataclass(frozen=True)
class Place:
    """A place the rules are kept for.

    Attributes
    ----------
    code
        ISO 3166 code of a country (`CA`) or subdivision (`CA-NB`), or ours for a city (`US-WA-EVERETT`).
    name
        In English.
    lineage
        The code, then the codes it inherits rules from.
    standing
        How far its rules were read.
    closed_list
        Whether only the units listed may be used: in `any` text, on a `ticket` only, or `no`.
    authority
        Whom to ask.
    note
        What the reading leaves open.
    """

    code: str
    name: str
    lineage: tuple[str, ...]
    standing: Standing
    closed_list: str
    authority: str
    note: str


def all_places() -> tuple[Place, ...]:
    """Every place in the tables, those of which nothing was read included."""
    return tuple(_known().values())


def find_place(text: str) -> Place:
    """The place of a code (`CA-NB`, `us_mn`, `UK-ENG`) or an English name in the tables.

    A country or subdivision that exists but is not in the tables gives a place with standing `none`.
    Raises UnknownNameError, with the nearest codes, for anything else.
    """
    wanted = _folded(text)
    by_name = _by_name()
    if wanted in by_name:
        return by_name[wanted]
    code = re.sub(r"[\s_]+", "-", text.strip().upper())
    country, dash, rest = code.partition("-")
    code = _SAME.get(country, country) + dash + rest
    if code in _known():
        return _known()[code]
    match = _CODE.fullmatch(code)
    if match is None or match[1] not in COUNTRIES:
        raise _unknown(text, list(_known()), by_name)
    listed = [known for known in _known() if known.startswith(match[1] + "-")]
    if match[2] and listed:
        raise _unknown(text, listed, by_name)
    return Place(
        code=code,
        name=code,
        lineage=(code,),
        standing="none",
        closed_list="no",
        authority="the weights and measures authority of the place",
        note="",
    )


@cache
def _known() -> dict[str, Place]:
    parents = {row["place"]: row["parent"] for row in table("places")}
    return {
        row["place"]: Place(
            code=row["place"],
            name=row["name"],
            lineage=_lineage(row["place"], parents),
            standing=_standing(row["standing"]),
            closed_list=row["closed_list"],
            authority=row["authority"],
            note=row["note"],
        )
        for row in table("places")
    }


@cache
def _by_name() -> dict[str, Place]:
    return {_folded(place.name): place for place in _known().values()}


def _lineage(code: str, parents: dict[str, str]) -> tuple[str, ...]:
    chain = [code]
    while parents[chain[-1]]:
        chain.append(parents[chain[-1]])
    return tuple(chain)


def _standing(text: str) -> Standing:
    standings: dict[str, Standing] = {"read": "read", "part": "part", "model": "model", "none": "none"}
    return standings[text]


def _folded(text: str) -> str:
    plain = unicodedata.normalize("NFKD", text)
    return " ".join("".join(sign for sign in plain if not unicodedata.combining(sign)).lower().split())


def _unknown(text: str, codes: list[str], by_name: dict[str, Place]) -> UnknownNameError:
    near = difflib.get_close_matches(text.strip().upper(), codes, n=4, cutoff=0.5)
    near += [
        f"{by_name[name].code} ({by_name[name].name})"
        for name in difflib.get_close_matches(_folded(text), list(by_name), n=3, cutoff=0.7)
    ]
    return UnknownNameError(
        "place",
        wanted=T_("a country or a country and subdivision, such as CA-NB or US-MN"),
        got=text,
        nearest=near,
    )
