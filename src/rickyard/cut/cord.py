"""A ranked cord of what rounds become: how many pieces by their size, how much of it is split, what work it takes.

Wood that is left whole lies in the stack as rounds do and takes no splitting.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from rickyard.cut.hours import Learnt
from rickyard.measure import CORD_M3, Spread, solid_share


@dataclass(frozen=True)
class Rounds:
    """Rounds that are split alike: diameter [m], into how many pieces each (1: left whole), solid wood [m³]."""

    diameter_m: float
    pieces: int
    solid_m3: float = 1.0


@dataclass(frozen=True)
class Cord:
    """Attributes
    ----------
    split_share
        Of its outside volume, what is split; the rest is left whole.
    split_pieces
        Pieces in a cord of what is split, by their size; 0 where nothing is.
    whole_rounds
        Rounds in a cord of what is left whole, by their size and how tight rounds lie; 0 where nothing is.
    """

    split_share: float
    split_pieces: float
    whole_rounds: Spread

    def pieces(self, learnt: Learnt) -> Spread:
        """Pieces in it: splits as the yard counts them, whole rounds by their size."""
        whole = self.whole_rounds.scaled(1.0 - self.split_share)
        split = learnt.pieces_for(self.split_share * self.split_pieces)
        return Spread(split.low + whole.low, split.mid + whole.mid, split.high + whole.high)

    def hours(self, learnt: Learnt) -> Spread:
        """Hours of one person for splitting what of it is split; none for the rest."""
        return learnt.hours_for(self.split_share * self.split_pieces)


def cord_of(rounds: Sequence[Rounds], piece_length_m: float) -> Cord:
    """Each class of round counts by its wood: pieces by their mean section, the room they take by the published
    solid content of splits or of rounds."""
    ranked = {"split": 0.0, "round": 0.0}
    count = {"split": 0.0, "round": 0.0}
    for one in rounds:
        form = "round" if one.pieces == 1 else "split"
        section_m2 = math.pi / 4.0 * one.diameter_m**2 / one.pieces
        ranked[form] += one.solid_m3 / solid_share("ranked", form, piece_length_m).mid
        count[form] += one.solid_m3 / (section_m2 * piece_length_m)
    a_cord = {form: CORD_M3 * count[form] / m3 if m3 > 0.0 else 0.0 for form, m3 in ranked.items()}
    lie = solid_share("ranked", "round", piece_length_m)
    return Cord(
        ranked["split"] / sum(ranked.values()), a_cord["split"], lie.scaled(a_cord["round"] / lie.mid)
    )
