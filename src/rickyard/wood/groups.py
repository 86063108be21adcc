"""Wider names, genus, trade group, not named yet: the mean of their members with the spread between them."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Sequence
from functools import cache
from statistics import fmean

from rickyard.wood.names import split_names
from rickyard.wood.species import Group, Rank, Species
from rickyard.wood.table import Row, read_rows, species_table

SPREAD_WEIGHT = 1.0
"""How many members the spread usual within a genus counts for beside those in the table."""

_RANKS: dict[str, Rank] = {"genus": "genus", "trade_group": "trade_group", "unnamed": "unnamed"}


@cache
def group_table() -> tuple[Species, ...]:
    """The wider names, in the table's order."""
    usual = _usual_spread(lambda s: s.basic_density_kg_m3), _usual_spread(lambda s: s.green_mc_db)
    return tuple(_widen(row, *usual) for row in read_rows("groups.csv"))


def _usual_spread(read: Callable[[Species], float]) -> float:
    """Relative spread of a figure between species of a genus, pooled over the table."""
    genera: dict[str, list[float]] = defaultdict(list)
    for species in species_table():
        genera[species.scientific.split()[0]].append(read(species))
    squares = freedom = 0.0
    for values in genera.values():
        mean = fmean(values)
        squares += sum((value / mean - 1.0) ** 2 for value in values)
        freedom += len(values) - 1
    return math.sqrt(squares / freedom)


def _members(row: Row) -> list[Species]:
    wanted = row["members"]
    if wanted.startswith("*"):
        return [s for s in species_table() if wanted in ("*", "*" + s.group)]
    if wanted:
        ids = wanted.split(";")
        found = {s.id: s for s in species_table()}
        return [found[species_id] for species_id in ids]
    return [s for s in species_table() if s.scientific.split()[0].casefold() == row["id"]]


def _pooled(values: Sequence[float], spreads: Sequence[float], usual: float) -> tuple[float, float]:
    """Mean and spread of a group: its members' own spread, and what they differ by among themselves.

    The latter is drawn towards what species of a genus usually differ by, so that a genus of which the table
    holds one species is wider than that species.
    """
    mean = fmean(values)
    between = sum((value - mean) ** 2 for value in values) + SPREAD_WEIGHT * (usual * mean) ** 2
    own = fmean(spread * spread for spread in spreads)
    return mean, math.sqrt(own + between / (len(values) - 1 + SPREAD_WEIGHT))


def _mean_or_none(values: Sequence[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return fmean(known) if known else None


def _agreed(values: Sequence[str | None]) -> str | None:
    """A class that all members share; None if they differ or one is not known."""
    return values[0] if len(set(values)) == 1 else None


def _scientific(row: Row, members: Sequence[Species]) -> str:
    genera = {s.scientific.split()[0] for s in members}
    if row["rank"] == "genus":
        return genera.pop()
    return f"{genera.pop()} spp." if len(genera) == 1 else ""


def _widen(row: Row, usual_density: float, usual_green: float) -> Species:
    members = _members(row)
    density, density_sd = _pooled(
        [s.basic_density_kg_m3 for s in members], [s.basic_density_sd_kg_m3 for s in members], usual_density
    )
    green, green_sd = _pooled(
        [s.green_mc_db for s in members], [s.green_mc_db_sd for s in members], usual_green
    )
    shrinkage, shrinkage_sd = _pooled(
        [s.shrinkage_vol_pct for s in members], [s.shrinkage_vol_sd_pct for s in members], 0.0
    )
    bark, bark_sd = _pooled(
        [s.bark_volume_ratio for s in members], [s.bark_volume_ratio_sd for s in members], 0.0
    )
    kinds = {s.group for s in members}
    group: Group = kinds.pop() if len(kinds) == 1 else "mixed"
    source = (
        f"mean of {len(members)} species of this table" if len(members) > 1 else f"as {members[0].scientific}"
    )
    names = row["source"] or "house name"
    return Species(
        id=row["id"],
        key_id=row["key_id"].split(";")[0] or None,
        scientific=_scientific(row, members),
        common_en=row["name_en"],
        common_fr=row["name_fr_ca"],
        common_fr_fr=row["name_fr_fr"],
        other_names=tuple(split_names(row["other_names"])),
        rank=_RANKS[row["rank"]],
        members=tuple(s.id for s in members),
        group=group,
        basic_density_kg_m3=density,
        basic_density_sd_kg_m3=density_sd,
        shrinkage_vol_pct=shrinkage,
        shrinkage_vol_sd_pct=shrinkage_sd,
        shrinkage_radial_pct=_mean_or_none([s.shrinkage_radial_pct for s in members]),
        shrinkage_tangential_pct=_mean_or_none([s.shrinkage_tangential_pct for s in members]),
        fibre_saturation_db=fmean(s.fibre_saturation_db for s in members),
        green_mc_db=green,
        green_mc_db_sd=green_sd,
        green_mc_heart_db=_mean_or_none([s.green_mc_heart_db for s in members]),
        green_mc_sap_db=_mean_or_none([s.green_mc_sap_db for s in members]),
        bark_volume_ratio=bark,
        bark_volume_ratio_sd=bark_sd,
        bark_basic_density_kg_m3=fmean(s.bark_basic_density_kg_m3 for s in members),
        bark_green_mc_db=fmean(s.bark_green_mc_db for s in members),
        decay_class=_agreed([s.decay_class for s in members]),
        decay_class_en350=_agreed([s.decay_class_en350 for s in members]),
        sources={
            **dict.fromkeys(
                (
                    "basic_density_kg_m3",
                    "shrinkage_vol_pct",
                    "fibre_saturation_db",
                    "green_mc_db",
                    "bark_volume_ratio",
                    "bark_basic_density_kg_m3",
                    "bark_green_mc_db",
                    "decay_class",
                ),
                source,
            ),
            "common_en": names,
            "common_fr": names,
            "members": names,
        },
        notes=(),
    )


def spare_key_ids() -> dict[str, str]:
    """Short ids of the tree key that no species of the table answers to, and the wider name that does."""
    return {key: row["id"] for row in read_rows("groups.csv") for key in split_names(row["key_id"])}
