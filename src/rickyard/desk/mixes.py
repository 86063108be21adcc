"""Reads how a load's wood is said in a breath: "maple and birch 60/40", "80% red oak, ash", "not named yet".

The names go to the species list as they are; this only finds names and shares.
"""

from __future__ import annotations

import re
from functools import cache

from rickyard.errors import InputError
from rickyard.text import T_
from rickyard.wood import UNNAMED, all_groups, all_species, find_species

_RATIO = re.compile(r"(\d{1,3}(?:\s*[/:]\s*\d{1,3})+)\s*%?$")
_RATIO_FIRST = re.compile(r"^(\d{1,3}(?:\s*[/:]\s*\d{1,3})+)\s*%?\s+")
_SHARE_BEFORE = re.compile(r"^(\d{1,3})\s*%?\s+(?=\D)")
_SHARE_AFTER = re.compile(r"\s+(\d{1,3})\s*%?$")
# "and" between two names; in French too. A slash or a plus does as well.
_BETWEEN = re.compile(r"\s*[,;+&/]\s*|\s+(?:and|et|with|avec)\s+", re.IGNORECASE)


def read_mix(text: str, field: str = "wood") -> tuple[tuple[str, float], ...]:
    """(species id, share by volume) of each kind of wood, summing to one.

    Shares may stand as a ratio at the end or the beginning, before or after each name, or for all names but
    one, which then gets the rest; without any share all count the same. A name that joins several itself ("apple, pear
    and hawthorn") is that one kind where it stands alone, or where its parts make no sense.

    Raises InputError if a name is not known, or the shares do not fit the names.
    """
    said = " ".join(text.split())
    if not said:
        raise InputError(
            field,
            wanted=T_("kinds of wood, such as: maple and birch 60/40"),
            got=T_("nothing"),
            next_move=T_("Type the names, or choose 'not named yet'."),
        )
    as_one = _as_one(said)
    if as_one != said and not _BETWEEN.search(as_one) and not re.search(r"[\s\d]", as_one):
        return ((as_one, 1.0),)
    refused: list[InputError] = []
    for words in dict.fromkeys((said, as_one)):
        try:
            return _read(field, said, words)
        except InputError as error:
            refused.append(error)
    raise refused[0]


def names_of(text: str) -> list[str]:
    """Names of wood that stand below each other, or after commas where these are not part of a name."""
    found: list[str] = []
    for line in text.splitlines():
        own = _as_one(line)
        found += [name for part in own.split(",") if (name := part.strip())]
    return found


def _read(field: str, said: str, words: str) -> tuple[tuple[str, float], ...]:
    ratio = _RATIO.search(words) or _RATIO_FIRST.search(words)
    if ratio:
        names = _BETWEEN.split((words[: ratio.start()] + words[ratio.end() :]).strip(" ,:"))
        shares: list[float | None] = [float(part) for part in re.split(r"\s*[/:]\s*", ratio[1])]
        if len(names) != len(shares):
            raise InputError(
                field,
                wanted=T_("as many shares as kinds of wood"),
                got=T_("{names} kinds and {shares} shares", names=len(names), shares=len(shares)),
                next_move=T_("Say one share for each kind, such as: maple, birch and ash 50/30/20."),
            )
    else:
        names, shares = [], []
        for part in _BETWEEN.split(words):
            name, share = _name_and_share(part.strip())
            names.append(name)
            shares.append(share)
    woods = [find_species(name, field=field).id if name else UNNAMED.id for name in names]
    if len(set(woods)) != len(woods):
        raise InputError(
            field,
            wanted=T_("each kind of wood once"),
            got=said,
            next_move=T_("Add the shares of the same wood together."),
        )
    return tuple(zip(woods, _to_one(field, said, shares), strict=True))


def _as_one(said: str) -> str:
    """What was said, with the id of the wood for each name that joins several."""
    for name, wood_id in _joined_names():
        said = name.sub(wood_id, said)
    return said


@cache
def _joined_names() -> tuple[tuple[re.Pattern[str], str], ...]:
    """The longest first."""
    found: dict[str, str] = {}
    for wood in (*all_species(), *all_groups()):
        for name in (wood.common_en, wood.common_fr, wood.common_fr_fr, *wood.other_names):
            if _BETWEEN.search(name):
                found.setdefault(name, wood.id)
    longest = sorted(found, key=len, reverse=True)
    return tuple((re.compile(rf"\b{re.escape(name)}\b", re.IGNORECASE), found[name]) for name in longest)


def _name_and_share(part: str) -> tuple[str, float | None]:
    for pattern in (_SHARE_BEFORE, _SHARE_AFTER):
        found = pattern.search(part)
        if found:
            return pattern.sub("", part).strip(), float(found[1])
    return part, None


def _to_one(field: str, said: str, shares: list[float | None]) -> list[float]:
    known = [share for share in shares if share is not None]
    open_count = len(shares) - len(known)
    if not known:
        return [1 / len(shares)] * len(shares)
    rest = 100.0 - sum(known)
    fits = abs(rest) <= 1.0 if open_count == 0 else open_count == 1 and rest > 0
    if not fits or any(share <= 0 for share in known):
        raise InputError(
            field,
            wanted=T_("shares that sum to 100 percent"),
            got=said,
            next_move=T_("Change one of the shares, or leave one open for the rest."),
        )
    total = 100.0 if open_count else sum(known)
    return [(rest if share is None else share) / total for share in shares]
