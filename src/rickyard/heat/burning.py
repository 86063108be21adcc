"""How a wood splits, lights, smokes, sparks and keeps coals, as its sources rate it; they often disagree.

Ratings are judgements printed in tables, not measurements. Several of the tables copy one another, so a count
of sources is no vote. Sources that are no handbook, agency or society stay in the table and off the screen.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from rickyard.text import T_, Text
from rickyard.wood import Species, all_groups, get_species

QUALITIES: dict[str, Text] = {
    "splitting": T_("Splitting"),
    "starting": T_("Lighting"),
    "burning": T_("Keeping alight"),
    "smoke": T_("Smoke"),
    "sparks": T_("Sparks"),
    "coals": T_("Coals"),
    "fragrance": T_("Smell of the fire"),
    "overall": T_("As firewood"),
}

RATINGS: dict[str, dict[str, Text]] = {
    "splitting": {"easy": T_("easy"), "medium": T_("middling"), "hard": T_("hard")},
    "starting": {"easy": T_("easy"), "medium": T_("middling"), "hard": T_("hard")},
    "burning": {"easy": T_("easy"), "medium": T_("middling"), "hard": T_("hard")},
    "smoke": {"low": T_("little"), "medium": T_("some"), "high": T_("much")},
    "sparks": {"few": T_("few"), "moderate": T_("some of them"), "many": T_("many")},
    "coals": {
        "poor": T_("poor"),
        "fair": T_("fair"),
        "good": T_("good"),
        "good-excellent": T_("good to excellent"),
        "excellent": T_("excellent"),
    },
    "fragrance": {
        "bad": T_("bad"),
        "slight": T_("slight"),
        "fair": T_("fair"),
        "good": T_("good"),
        "excellent": T_("excellent"),
    },
    "overall": {
        "poor": T_("poor"),
        "poor/fair": T_("poor to fair"),
        "fair": T_("fair"),
        "good when seasoned": T_("good when seasoned"),
        "good": T_("good"),
        "excellent": T_("excellent"),
    },
}
"""Ratings on a common scale, the worst or least first where there is such an order."""


@dataclass(frozen=True)
class BurningSource:
    """Who rates: a short name for screens, the citation, how it was read, whether screens may cite it."""

    id: str
    short: str
    citation: str
    how_read: str
    on_screen: bool


@dataclass(frozen=True)
class Rating:
    """One printed rating.

    Attributes
    ----------
    quality, rating
        Keys of `QUALITIES` and of `RATINGS`.
    as_printed, printed
        The rating and the name of the wood as the source prints them.
    woods
        Ids of species, genera or groups of the house that the printed name stands for; none where unsure.
    source
        Who says so.
    """

    quality: str
    rating: str
    as_printed: str
    printed: str
    woods: tuple[str, ...]
    source: BurningSource


def _rows(name: str) -> Iterator[dict[str, str]]:
    text = files("rickyard.heat").joinpath("data", f"{name}.csv").read_text(encoding="utf-8")
    return csv.DictReader(text.splitlines())


@cache
def burning_sources() -> dict[str, BurningSource]:
    """All sources by id."""
    return {
        row["id"]: BurningSource(
            row["id"], row["short"], row["citation"], row["how_read"], row["on_screen"] == "yes"
        )
        for row in _rows("burning_sources")
    }


@cache
def all_ratings() -> tuple[Rating, ...]:
    """The whole table."""
    sources = burning_sources()
    return tuple(
        Rating(
            row["quality"],
            row["rating"],
            row["as_printed"],
            row["printed"],
            tuple(name.strip() for name in row["wood"].split(";") if name.strip()),
            sources[row["source"]],
        )
        for row in _rows("burning")
    )


def burning(species: Species, *, on_screen: bool = True) -> dict[str, list[tuple[Rating, Species]]]:
    """By quality: the ratings of a wood, each with the wood that its source speaks of.

    Ratings of the species itself, or else those of a wider name that holds it (a trade group, its genus).
    `on_screen` leaves out sources that screens do not cite.
    """
    wider = [wide.id for wide in all_groups() if wide.rank != "unnamed" and species.id in wide.members]
    found: dict[str, list[tuple[Rating, Species]]] = {}
    for quality in QUALITIES:
        mine = [rating for rating in all_ratings() if rating.quality == quality]
        if on_screen:
            mine = [rating for rating in mine if rating.source.on_screen]
        own = [(rating, species) for rating in mine if species.id in rating.woods]
        said = own or [
            (rating, get_species(name)) for rating in mine for name in rating.woods if name in wider
        ]
        if said:
            found[quality] = said
    return found


def by_rating(ratings: list[tuple[Rating, Species]]) -> list[tuple[str, list[tuple[Rating, Species]]]]:
    """The same grouped by what they say, the worst or least first; more than one means that they disagree."""
    quality = ratings[0][0].quality
    grouped = {
        name: [(rating, of) for rating, of in ratings if rating.rating == name] for name in RATINGS[quality]
    }
    return [(name, said) for name, said in grouped.items() if said]
