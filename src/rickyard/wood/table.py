"""From the packaged tables to the 179 species: which figure is taken, and with what spread.

How a figure is chosen where sources differ:

- A basic density that its source did not measure on the species (marked a proxy) gives way to a species estimate
  read elsewhere, if there is one. `decisions.csv` holds the few figures decided by hand, with the reason.
- Green moisture is the mean of the sources that have one: the Forest Service's mean, the Wood Handbook's
  heartwood and sapwood in equal parts, Record's samples.
  The Forest Service's national default is not used, nor a mean below fibre saturation, which fresh wood cannot
  have; the relatives or the group stand in.
- What is missing is taken from the mean of the genus, then of the hardwoods or softwoods, and says so.

How wide the spread is: the relative differences between sources, drawn towards what sources differ by over the
whole table (`_Spreads`), so that a species with one source is not thought exact.
"""

from __future__ import annotations

import csv
import math
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import cache
from importlib import resources
from statistics import fmean, median

from rickyard.wood.density import (
    SHRINKAGE_ESTIMATE_SD_PCT,
    estimated_shrinkage_pct,
    most_water_db,
)
from rickyard.wood.names import plain, split_names
from rickyard.wood.species import Group, Species

Row = Mapping[str, str]

POOL_WEIGHT = 2.0
"""How many sources the whole table's spread counts for beside a species' own."""

SAPWOOD_SPREAD = 0.6 / math.sqrt(12.0)
"""Standard deviation of the sapwood share of a load, taken as anything from 0.2 to 0.8: an assumption."""

FIBRE_SATURATION_TREES = 3
"""A species' own fibre saturation is used where so many trees were measured, else the general 30 %."""

DEFAULT_FIBRE_SATURATION_DB = 0.30

NATIONAL_DEFAULT = "FIA:26"
BRANCH_WOOD = "GWDD1:29"

DECAY_OF_EN350 = {"1": "R+", "2": "R", "3": "M", "4": "S", "5": "S"}
"""Our reading of the EN 350 classes on the handbook scale, for species without a US class."""


def read_rows(name: str) -> list[Row]:
    """The rows of a table packaged in this package's folder `data`."""
    text = resources.files("rickyard.wood").joinpath("data", name).read_text(encoding="utf-8")
    return list(csv.DictReader(text.splitlines()))


@cache
def species_table() -> tuple[Species, ...]:
    """The species, in the table's order."""
    return _Builder().species()


def cite(code: str) -> str:
    """A source code of the tables, such as "FIA:5" or "WH190 T4-3", in words."""
    return "; ".join(_cite_one(part.strip()) for part in code.split("; "))


@cache
def _citations() -> dict[str, str]:
    return {row["code"]: row["text"] for row in read_rows("citations.csv")}


def _cite_one(code: str) -> str:
    known = _citations()
    for length in range(len(code), 0, -1):
        if code[:length] in known and (length == len(code) or not code[length].isalnum()):
            rest = code[length:].strip(" :")
            proxy = "(proxy)" in rest
            rest = rest.replace("(proxy)", "").strip()
            if code[:length] == "FIA" and rest:
                rest = f"citation code {rest}"
            elif rest.startswith("T") and rest[1:2].isdigit():
                rest = "" if code[:length] == "MO312" else f"Table {rest[1:]}"
            elif code[:length] == "GWDD1" and rest:
                rest = f"reference {rest}"
            text = known[code[:length]] + (f", {rest}" if rest else "")
            return text + (": not measured on this species" if proxy else "")
    return code


def _number(row: Row, column: str) -> float | None:
    return float(row[column]) if row[column] else None


class _Spreads:
    """Relative differences between sources, pooled over the table."""

    def __init__(self) -> None:
        self._squares = 0.0
        self._freedom = 0.0

    def add(self, deviations: Iterable[float], freedom: float) -> None:
        self._squares += sum(d * d for d in deviations)
        self._freedom += freedom

    @property
    def pooled(self) -> float:
        return math.sqrt(self._squares / self._freedom)

    def of(self, deviations: Sequence[float]) -> float:
        """The spread of one species [relative], its own differences drawn towards the pooled one."""
        own = sum(d * d for d in deviations)
        return math.sqrt((POOL_WEIGHT * self.pooled**2 + own) / (POOL_WEIGHT + len(deviations)))


class _Builder:
    def __init__(self) -> None:
        self.rows = read_rows("species.csv")
        self.names = {row["species_id"]: row for row in read_rows("species_names.csv")}
        self.keys = {row["latin"]: row for row in read_rows("key_ids.csv")}
        self.decisions = {(row["species_id"], row["field"]): row for row in read_rows("decisions.csv")}
        self.extra: dict[str, list[str]] = defaultdict(list)
        for row in read_rows("extra_names.csv"):
            self.extra[row["species_id"]].append(row["name"])
        self.alternatives: dict[tuple[str, str], dict[str, list[float]]] = defaultdict(
            lambda: defaultdict(list)
        )
        self.estimate_sd: dict[str, float] = {}
        for row in read_rows("species_alt.csv"):
            self.alternatives[row["id"], row["quantity"]][row["source"]].append(float(row["value"]))
            if row["source"] == "GWDD2":
                self.estimate_sd[row["id"]] = float(row["sd"])
        self.density = {row["id"]: self._density_choice(row) for row in self.rows}
        self.density_spreads = self._pool_density()
        self.shrinkage_spreads = self._pool_shrinkage()
        self.green_sources = {row["id"]: self._green_sources(row) for row in self.rows}
        self.green_spreads = self._pool_green()
        self.bark_spread = self._pool_bark()

    def species(self) -> tuple[Species, ...]:
        return tuple(self._build(row) for row in self.rows)

    # -- basic density --------------------------------------------------------------------------
    def _others(self, species_id: str, quantity: str) -> dict[str, float]:
        """Mean per further source; branch or sapling wood left out."""
        found = self.alternatives[species_id, quantity]
        return {source: fmean(values) for source, values in found.items() if source != BRANCH_WOOD}

    def _density_choice(self, row: Row) -> tuple[float, str, list[float]]:
        """The density [kg/m³], its source, and the relative differences of the other sources from it."""
        printed, source = float(row["sg_basic"]) * 1000.0, row["sg_basic_src"]
        others = {name: value * 1000.0 for name, value in self._others(row["id"], "sg_basic").items()}
        if "(proxy)" in source and "GWDD2" in others:
            taken = others.pop("GWDD2")
            differences = [printed / taken - 1.0, self.estimate_sd[row["id"]] * 1000.0 / taken]
            return taken, "GWDD2", differences + [other / taken - 1.0 for other in others.values()]
        return printed, source, [other / printed - 1.0 for other in others.values()]

    def _pool_density(self) -> _Spreads:
        spreads = _Spreads()
        for row in self.rows:
            if "(proxy)" not in row["sg_basic_src"]:
                differences = self.density[row["id"]][2]
                spreads.add(differences, len(differences))
        return spreads

    # -- shrinkage ------------------------------------------------------------------------------
    def _pool_shrinkage(self) -> _Spreads:
        spreads = _Spreads()
        for row in self.rows:
            printed = _number(row, "shrink_volumetric")
            others = [
                value
                for source, value in self._others(row["id"], "shrink_volumetric").items()
                if not row["shrink_src"].startswith(source)
            ]
            if printed is not None:
                spreads.add([other / printed - 1.0 for other in others], len(others))
        return spreads

    # -- green moisture -------------------------------------------------------------------------
    def _green_sources(self, row: Row) -> dict[str, float]:
        """Green moisture of the stem by source [water / oven-dry mass]."""
        found: dict[str, float] = {}
        mean, mean_source = _number(row, "green_mc_wood_mean"), row["green_mc_wood_mean_src"]
        if mean is None or mean_source.startswith(NATIONAL_DEFAULT):
            mean = 0.0
        if mean / 100.0 >= DEFAULT_FIBRE_SATURATION_DB:
            found[mean_source] = mean / 100.0
        heart, sap = _number(row, "green_mc_heart"), _number(row, "green_mc_sap")
        if heart is not None and sap is not None:
            found[row["green_mc_hs_src"]] = (heart + sap) / 200.0
        for source, value in self._others(row["id"], "green_mc_wood_mean").items():
            found[source] = value / 100.0
        return found

    def _pool_green(self) -> _Spreads:
        spreads = _Spreads()
        for sources in self.green_sources.values():
            if len(sources) > 1:
                mean = fmean(sources.values())
                spreads.add([value / mean - 1.0 for value in sources.values()], len(sources) - 1)
        return spreads

    def _green(self, row: Row, density: float) -> tuple[float, float, str]:
        """Green moisture [water / oven-dry mass], its standard deviation, and where it comes from."""
        sources = self.green_sources[row["id"]]
        if sources:
            mean = fmean(sources.values())
            relative = self.green_spreads.of([value / mean - 1.0 for value in sources.values()][:-1])
            text = "; ".join(cite(source) for source in sources)
            text = f"mean of: {text}" if len(sources) > 1 else text
        else:
            kin = self._kin(row, lambda other: bool(self.green_sources[other["id"]]))
            if kin and kin[0]["scientific_name"].split()[0] == row["scientific_name"].split()[0]:
                mean = fmean(fmean(self.green_sources[other["id"]].values()) for other in kin)
                text = f"mean of the genus in this table ({len(kin)} species)"
            else:
                mean = 0.3 + median(map(self._fullness, kin)) * (most_water_db(density) - 0.3)
                text = (
                    f"from the density, by the usual share of full hollows in a {row['group']} of this table"
                )
            relative = self.green_spreads.pooled * math.sqrt(2.0)
        heart, sap = _number(row, "green_mc_heart"), _number(row, "green_mc_sap")
        sapwood = SAPWOOD_SPREAD * abs(sap - heart) / 100.0 if heart is not None and sap is not None else 0.0
        return min(mean, most_water_db(density)), math.hypot(relative * mean, sapwood), text

    def _fullness(self, row: Row) -> float:
        """Share of the hollows that hold water when green."""
        room = most_water_db(self.density[row["id"]][0]) - 0.3
        return (fmean(self.green_sources[row["id"]].values()) - 0.3) / room

    # -- bark and relatives ---------------------------------------------------------------------
    def _kin(self, row: Row, known: Callable[[Row], bool]) -> list[Row]:
        """The species of the genus for which something is known, else those of the whole hard- or softwoods."""
        genus = row["scientific_name"].split()[0]
        others = [other for other in self.rows if other["id"] != row["id"] and known(other)]
        near = [other for other in others if other["scientific_name"].split()[0] == genus]
        return near or [other for other in others if other["group"] == row["group"]]

    def _or_kin(self, row: Row, column: str) -> tuple[float, str]:
        value = _number(row, column)
        if value is not None:
            return value, cite(row[column + "_src"])
        kin = self._kin(row, lambda other: bool(other[column]))
        same = kin[0]["scientific_name"].split()[0] == row["scientific_name"].split()[0]
        circle = "genus" if same else f"{row['group']}s"
        return fmean(
            float(other[column]) for other in kin
        ), f"mean of the {circle} in this table ({len(kin)} species)"

    def _pool_bark(self) -> float:
        """Relative spread of the bark ratio between species of a genus [unitless]."""
        spreads, genera = _Spreads(), defaultdict(list)
        for row in self.rows:
            if row["bark_vol_pct_of_wood"] and "(proxy)" not in row["bark_vol_pct_of_wood_src"]:
                genera[row["scientific_name"].split()[0]].append(float(row["bark_vol_pct_of_wood"]))
        for values in genera.values():
            if len(values) > 1:
                mean = fmean(values)
                spreads.add([value / mean - 1.0 for value in values], len(values) - 1)
        return spreads.pooled

    # -- one species ----------------------------------------------------------------------------
    def _build(self, row: Row) -> Species:
        species_id = row["id"]
        density, density_source, differences = self.density[species_id]
        density_sd = self.density_spreads.of(differences) * density
        sources = {"basic_density_kg_m3": cite(density_source)}
        notes = [row["notes"]] if row["notes"] else []
        decided = self.decisions.get((species_id, "basic_density_kg_m3"))
        if decided:
            density, density_sd = float(decided["value"]), float(decided["sd"])
            sources["basic_density_kg_m3"] += f"; {decided['reason']}"
        shrinkage, shrinkage_sd = _number(row, "shrink_volumetric"), 0.0
        if shrinkage is None:
            shrinkage, shrinkage_sd = estimated_shrinkage_pct(density), SHRINKAGE_ESTIMATE_SD_PCT
            sources["shrinkage_vol_pct"] = (
                "26.5 times basic specific gravity (Stamm 1964; Wood Handbook Eq. 4-12)"
            )
        else:
            shrinkage_sd = self.shrinkage_spreads.pooled * shrinkage
            sources["shrinkage_vol_pct"] = cite(row["shrink_src"])
        saturation, sources["fibre_saturation_db"] = self._fibre_saturation(row)
        green, green_sd, sources["green_mc_db"] = self._green(row, density)
        bark_pct, sources["bark_volume_ratio"] = self._or_kin(row, "bark_vol_pct_of_wood")
        bark_gravity, sources["bark_basic_density_kg_m3"] = self._or_kin(row, "bark_sg")
        bark_green, sources["bark_green_mc_db"] = self._or_kin(row, "green_mc_bark")
        decay, sources["decay_class"] = _decay(row)
        if row["decay_class_en350"]:
            sources["decay_class_en350"] = cite(row["decay_en_src"])
        words = self.names[species_id]
        sources["common_en"] = "common name of the table"
        sources["common_fr"] = cite(words["source_ca"])
        common_en, other_names = self._names(row, words)
        heart, sap = _number(row, "green_mc_heart"), _number(row, "green_mc_sap")
        key = self.keys.get(row["scientific_name"])
        if words["note"]:
            notes.append(words["note"])
        return Species(
            id=species_id,
            key_id=key["key_id"] if key else None,
            scientific=row["scientific_name"],
            common_en=common_en,
            common_fr=words["french_ca"],
            common_fr_fr=words["french_fr"],
            other_names=other_names,
            rank="species",
            members=(species_id,),
            group=_group(row["group"]),
            basic_density_kg_m3=density,
            basic_density_sd_kg_m3=density_sd,
            shrinkage_vol_pct=shrinkage,
            shrinkage_vol_sd_pct=shrinkage_sd,
            shrinkage_radial_pct=_number(row, "shrink_radial"),
            shrinkage_tangential_pct=_number(row, "shrink_tangential"),
            fibre_saturation_db=saturation,
            green_mc_db=green,
            green_mc_db_sd=green_sd,
            green_mc_heart_db=None if heart is None else heart / 100.0,
            green_mc_sap_db=None if sap is None else sap / 100.0,
            bark_volume_ratio=bark_pct / 100.0,
            bark_volume_ratio_sd=self.bark_spread * bark_pct / 100.0,
            bark_basic_density_kg_m3=bark_gravity * 1000.0,
            bark_green_mc_db=bark_green / 100.0,
            decay_class=decay,
            decay_class_en350=row["decay_class_en350"] or None,
            sources=sources,
            notes=tuple(notes),
        )

    def _names(self, row: Row, words: Row) -> tuple[str, tuple[str, ...]]:
        common, _, bracket = words["english"].partition(" (")
        names = [bracket.rstrip(")")] if bracket else []
        for column in ("english_other", "french_ca_other", "french_fr", "french_fr_other"):
            names += split_names(words[column])
        names += self.extra[row["id"]]
        taken = {plain(common), plain(words["french_ca"]), plain(row["scientific_name"])}
        kept = []
        for name in names:
            if plain(name) not in taken:
                taken.add(plain(name))
                kept.append(name)
        return common, tuple(kept)

    def _fibre_saturation(self, row: Row) -> tuple[float, str]:
        if row["id"] == "robinia_pseudoacacia":
            return 0.22, cite("ROBN")
        trees = self.alternatives[row["id"], "fibre_saturation_point"]["CWDD"]
        if len(trees) >= FIBRE_SATURATION_TREES:
            return fmean(trees) / 100.0, f"{cite('CWDD')}, mean of {len(trees)} trees"
        return DEFAULT_FIBRE_SATURATION_DB, "mean over species: Wood Handbook 2010 (FPL-GTR-190), p. 4-2"


def _decay(row: Row) -> tuple[str | None, str]:
    if row["decay_class_us"]:
        return row["decay_class_us"], cite(row["decay_us_src"])
    if row["decay_class_en350"]:
        classes = [DECAY_OF_EN350[sign] for sign in row["decay_class_en350"] if sign in DECAY_OF_EN350]
        least = max(classes, key=("R+", "R", "M", "S").index)
        return (
            least,
            f"{cite(row['decay_en_src'])}: class {row['decay_class_en350']} (our reading of the scale)",
        )
    return None, "not found"


def _group(text: str) -> Group:
    return "softwood" if text == "softwood" else "hardwood"
