"""What a species is here: one row of figures with its spreads and where they come from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from rickyard.text import TreeName

Rank = Literal["species", "genus", "trade_group", "unnamed"]
Group = Literal["hardwood", "softwood", "mixed"]


@dataclass(frozen=True, eq=False)
class Species:
    """A species, or a wider name (genus, trade group, not named yet) with wider spreads.

    Two are the same when their `id` is the same.
    A spread (`..._sd...`) is one standard deviation of the mean of a load about the figure: it holds what
    sources disagree about and, for a wider name, what its members differ by.

    Attributes
    ----------
    id
        Slug of the scientific name (`acer_saccharum`), of the genus (`acer`) or of the trade name (`hard_maple`).
    key_id
        Short id of the tree key; None where the key does not know it.
    scientific
        Latin name; "Quercus spp." for a trade group within one genus, empty for one across genera.
    common_en, common_fr, common_fr_fr
        Names in English, in French as written in Canada, in French as written in France.
    other_names
        Further English and French names.
    rank, members, group
        What kind of name it is; ids of the species it covers (itself for a species); hardwood, softwood or mixed.
    basic_density_kg_m3, basic_density_sd_kg_m3
        Oven-dry mass per green volume of wood without bark [kg/m³].
    shrinkage_vol_pct, shrinkage_vol_sd_pct
        Shrinkage of volume, green to oven dry [% of green volume].
    shrinkage_radial_pct, shrinkage_tangential_pct
        The same along the radius and along the ring [% of green dimension]; None where not found.
    fibre_saturation_db
        Moisture below which wood shrinks [water / oven-dry mass], at 20 °C.
    green_mc_db, green_mc_db_sd
        Moisture of fresh-felled wood [water / oven-dry mass], mean of the stem.
    green_mc_heart_db, green_mc_sap_db
        The same of heartwood and of sapwood; None where not found.
    bark_volume_ratio, bark_volume_ratio_sd
        Volume of bark / volume of wood.
    bark_basic_density_kg_m3, bark_green_mc_db
        As for wood, of the bark.
    decay_class
        How heartwood resists decay: R+ exceptionally, R resistant, M moderately, S slightly or not; None unknown.
        Sapwood of every species is S.
    decay_class_en350
        Class of EN 350, 1 best to 5 worst, as printed; None where not found.
    sources
        Where each figure comes from, by field name.
    notes
        What the sources say against a figure.
    """

    id: str
    key_id: str | None
    scientific: str
    common_en: str
    common_fr: str
    common_fr_fr: str
    other_names: tuple[str, ...]
    rank: Rank
    members: tuple[str, ...]
    group: Group
    basic_density_kg_m3: float
    basic_density_sd_kg_m3: float
    shrinkage_vol_pct: float
    shrinkage_vol_sd_pct: float
    shrinkage_radial_pct: float | None
    shrinkage_tangential_pct: float | None
    fibre_saturation_db: float
    green_mc_db: float
    green_mc_db_sd: float
    green_mc_heart_db: float | None
    green_mc_sap_db: float | None
    bark_volume_ratio: float
    bark_volume_ratio_sd: float
    bark_basic_density_kg_m3: float
    bark_green_mc_db: float
    decay_class: str | None
    decay_class_en350: str | None
    sources: Mapping[str, str] = field(default_factory=dict)
    notes: tuple[str, ...] = ()

    @property
    def names(self) -> TreeName:
        """To fill a place of a sentence: the reader sees the name of their language."""
        return TreeName(self.scientific, self.common_en, self.common_fr)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Species) and other.id == self.id

    def __hash__(self) -> int:
        return hash(self.id)
