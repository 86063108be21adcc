"""How hard a wood is to split, as far as anybody has said, and what to do with the worst of it.

Forks, crotches, spiral grain and open-grown trees count for more than the species. The sources rate by word, not by
force, and they disagree; all that was found stands in data/splitting_ease.csv, row by row.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from importlib import resources

from rickyard.text import T_, Text
from rickyard.wood import Species, all_species

EXCELLENT, GOOD, FAIR, POOR = 1, 2, 3, 4

WORDS: dict[int, Text] = {
    EXCELLENT: T_("very easy to split"),
    GOOD: T_("easy to split"),
    FAIR: T_("middling to split"),
    POOR: T_("hard to split"),
}
OF_RELATIVES: dict[int, Text] = {
    EXCELLENT: T_("Said of its group or of relatives, not of itself: very easy to split."),
    GOOD: T_("Said of its group or of relatives, not of itself: easy to split."),
    FAIR: T_("Said of its group or of relatives, not of itself: middling to split."),
    POOR: T_("Said of its group or of relatives, not of itself: hard to split."),
}
ONE_WORD: dict[int, Text] = {
    EXCELLENT: T_("It is very easy to split."),
    GOOD: T_("It is easy to split."),
    FAIR: T_("It is middling to split."),
    POOR: T_("It is hard to split."),
}


@dataclass(frozen=True)
class Rating:
    """What one source says: 1 the easiest, 4 the hardest, its own words, and of which wood it speaks."""

    species_id: str
    rating: int
    kind: str
    words: str
    source: str


@dataclass(frozen=True)
class Ease:
    """Attributes
    ----------
    ratings
        All that was found, the easiest first; empty if nothing was.
    related
        True if they are of the genus or of relatives, not of the wood itself.
    """

    ratings: tuple[Rating, ...]
    related: bool

    @property
    def easiest(self) -> int | None:
        return min((found.rating for found in self.ratings), default=None)

    @property
    def hardest(self) -> int | None:
        return max((found.rating for found in self.ratings), default=None)

    @property
    def disagree(self) -> bool:
        """Two steps or more between the sources."""
        return bool(self.ratings) and (self.hardest or 0) - (self.easiest or 0) >= 2


@cache
def _table() -> dict[str, tuple[Rating, ...]]:
    text = resources.files("rickyard.cut").joinpath("data", "splitting_ease.csv").read_text(encoding="utf-8")
    found: dict[str, list[Rating]] = {}
    for row in csv.DictReader(text.splitlines()):
        rating = Rating(row["species_id"], int(row["rating"]), row["kind"], row["words"], row["source"])
        found.setdefault(rating.species_id, []).append(rating)
    return {id_: tuple(sorted(rows, key=lambda row: row.rating)) for id_, rows in found.items()}


@cache
def _wider() -> dict[str, tuple[str, ...]]:
    """For each rated genus or group the species in it."""
    from rickyard.wood import get_species

    wider = (get_species(id_) for id_ in _table())
    return {species.id: species.members for species in wider if species.rank != "species"}


def ease_of(species: Species) -> Ease:
    """What is known of a wood: of itself, else of a rated genus or group it belongs to, else of its genus's others."""
    table = _table()
    if species.id in table:
        return Ease(table[species.id], related=False)
    wider = [id_ for id_, members in _wider().items() if species.id in members]
    if wider:
        return _gathered(wider)
    if species.rank != "species":
        return _gathered([id_ for id_ in species.members if id_ in table])
    genus = species.id.split("_")[0]
    return _gathered(
        [other.id for other in all_species() if other.id.startswith(genus + "_") and other.id in table]
    )


def _gathered(ids: list[str]) -> Ease:
    found = [rating for id_ in ids for rating in _table()[id_]]
    return Ease(tuple(sorted(found, key=lambda row: row.rating)), related=True)


def ease_words(ease: Ease) -> Text:
    """One sentence: the range, whether the sources disagree, and whether they speak of other woods than this."""
    if ease.easiest is None or ease.hardest is None:
        return T_("How it splits was not found.")
    if ease.related:
        if ease.hardest > ease.easiest:
            return T_(
                "Said of its group or of relatives, not of itself: {easiest} of one, {hardest} of another.",
                easiest=WORDS[ease.easiest],
                hardest=WORDS[ease.hardest],
            )
        return OF_RELATIVES[ease.hardest]
    if ease.disagree:
        return T_(
            "Sources disagree: {easiest} by one, {hardest} by another.",
            easiest=WORDS[ease.easiest],
            hardest=WORDS[ease.hardest],
        )
    return ONE_WORD[ease.hardest]


HOURS_BLIND = T_(
    "The hours are of any wood: how much longer a hard or knotty one takes was not found, only that it does."
)
"""What is rated by word is not turned into hours."""


def advice(ease: Ease | None, *, knotty: bool = False) -> tuple[Text, ...]:
    """What to look at first, and what to leave: forks and knots before the species."""
    said = [
        T_(
            "Forks, knots and twisted grain make more difference than the species: sort them out first, and split "
            "round them from the outside, along checks that are there already."
        )
    ]
    if knotty:
        said.append(
            T_(
                "This one is forked or knotty: leave it for the noodle saw, or sell it as it is for a campfire."
            )
        )
    if ease is not None:
        said.append(ease_words(ease))
        # What is said of another wood is no reason to give up on this one.
        if ease.hardest == POOR and not ease.related and not knotty:
            said.append(T_("Leave the worst rounds for the noodle saw, or sell them as they are, unsplit."))
    return tuple(said)


LIGHTING: dict[str, Text] = {
    "gleditsia_triacanthos": T_("Honey locust is very hard and lights slowly: lay softer wood under it."),
    "robinia_pseudoacacia": T_(
        "The bark and wood of black locust start a fire well: keep them for lighting."
    ),
}
"""What the trade says of lighting with a wood: common practice, no source."""


def kindling_words(species: Species | None = None) -> tuple[Text, ...]:
    """What kindling is made from, and what is said of lighting with this wood."""
    said = (
        T_(
            "Kindling: straight, knot-free outer pieces and sound short ends, split once dry; softwood lights best."
        ),
        T_("Bark and splinters swept up dry do for lighting too."),
    )
    own = None if species is None else LIGHTING.get(species.id)
    return said if own is None else (*said, own)


CAUTIONS_SAW = (
    T_("Saw: leg protection, boots, helmet with face and hearing protection, as the local rules say."),
    T_("Saw at the marks only with the log held still, and stand beside the bar, not behind it."),
)
CAUTIONS_SPLITTER = (
    T_("Splitter: one person loads and works the lever. Hands on the sides of the piece, never on the ends."),
    T_("Stand aside: frozen and straight pieces fly. Keep others away."),
)
CAUTIONS_WEDGE = (
    T_("Wedge and maul: eye protection, nobody in front or behind, and no wedge with a mushroomed head."),
)
CAUTIONS_ALL = (
    T_("This is no training. Felling, climbing and work that needs a licence are for those who have it."),
    T_("Local codes and the makers' manuals come first."),
)
"""Sources: OSHA 29 CFR 1910.266(d)(1) (leg, foot, head, eye and hearing protection; part of it from memory); reports
of splitter injuries, practitioners 2008 to 2024, and US Army Risk Management magazine, 2017 (hands, flying pieces,
one person). Wedges, stance at the saw and licences: common practice, from memory."""
