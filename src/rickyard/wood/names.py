"""Reading a name as people type it: without regard to case, accents, hyphens, spaces or apostrophes."""

from __future__ import annotations

import re
import unicodedata

_REMARK = re.compile(r"\s*\((?P<words>[^)]*)\)")
_NO_NAME_OF_ITS_OWN = ("genus", "trade group", "wrong", "calque")
_KEPT = ("UK",)
_ANY_SPECIES = re.compile(r"\b(?:spp|ssp|sp)\b\.?", re.IGNORECASE)


def plain(name: str) -> str:
    """The letters and digits of a name, lower case and without accents: "Honey-Locust" and "honeylocust" agree.

    A trailing "spp." or "sp." is dropped, so that "Quercus spp." is the genus.
    """
    without = _ANY_SPECIES.sub(" ", name)
    spread = unicodedata.normalize("NFKD", without.replace("œ", "oe").replace("Œ", "oe").casefold())
    return "".join(sign for sign in spread if sign.isalnum())


def words(name: str) -> tuple[str, ...]:
    """The words of a name, each made plain."""
    return tuple(word for word in (plain(part) for part in re.split(r"[\s\-'’,/()]+", name)) if word)


def split_names(cell: str) -> list[str]:
    """The names in a cell that separates them with semicolons.

    A remark in brackets, such as "(popular)", is taken off.
    A name remarked to be that of the genus or of a trade group, wrong or a calque is left out; one that means
    the tree only in Britain keeps its remark, so that the bare name stays the American tree's.
    """
    names = []
    for part in cell.split(";"):
        name = part.strip()
        remark = _REMARK.search(name)
        if remark and any(word in remark["words"] for word in _NO_NAME_OF_ITS_OWN):
            continue
        if remark and remark["words"] not in _KEPT:
            name = _REMARK.sub("", name)
        if name:
            names.append(name)
    return names
