"""What a sheet is made of: parts with rows and looks, and the numbers that stand for sources."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class Claim:
    """Something said, and the numbers of the sources that say it."""

    words: str
    refs: tuple[int, ...] = ()


@dataclass(frozen=True)
class Row:
    """A labelled line. `key` names what it is about, so that sheets can be laid side by side.

    Several claims in a row are what different sources say; `note` is said once under them.
    """

    key: str
    label: str
    claims: tuple[Claim, ...]
    note: str = ""


@dataclass(frozen=True)
class Look:
    """A character as a tree shows it: the states it usually and those it now and then has."""

    character: str
    usual: tuple[str, ...]
    also: tuple[str, ...]
    refs: tuple[int, ...]


@dataclass(frozen=True)
class Part:
    """A part of a sheet with its title; `notes` are sentences that hold for all of it."""

    id: str
    title: str
    rows: tuple[Row, ...] = ()
    looks: tuple[Look, ...] = ()
    notes: tuple[str, ...] = ()


class Footnotes:
    """Numbers sources in the order in which they are first named. Pages of one work are gathered under its number."""

    def __init__(self, works: Mapping[str, str]) -> None:
        self._works = works
        self._pages: dict[str, dict[str, None]] = {}

    def text(self, citation: str) -> int:
        """The number of a citation."""
        self._pages.setdefault(citation, {})
        return list(self._pages).index(citation) + 1

    def codes(self, codes: str, pages: str) -> tuple[int, ...]:
        """Numbers of works given by their codes ("O N"); `pages` ("O p.181; N p.40") goes under the work it names."""
        numbers = []
        for code in codes.split():
            citation = self._works[code]
            numbers.append(self.text(citation))
            for page in pages.split(";"):
                named, _, where = page.strip().partition(" ")
                if where and named == code:
                    self._pages[citation][where] = None
        return tuple(numbers)

    def listed(self) -> tuple[str, ...]:
        """The citations in the order of their numbers, with their pages."""
        return tuple(
            f"{citation} [{', '.join(pages)}]" if pages else citation
            for citation, pages in self._pages.items()
        )
