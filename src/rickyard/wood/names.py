"""Reading a name as people type it: without regard to case, accents, hyphens, spaces or apostrophes."""

from __future__ import annotations

import re
import unicodedata

_REMARK = re.compile(
    r"\s*\((?:popular|trade|genus|UK|Europe|calque|wrong|ambiguous|group|[,; ]|var\.[^)]*)+\)"
)
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
    """The names in a cell that separates them with semicolons, without remarks such as "(popular)"."""
    found = (_REMARK.sub("", part).strip() for part in cell.split(";"))
    return [name for name in found if name]
