"""Heat per kilogram of wood: gross and net, at any moisture, with what is known of the species.

Net from gross follows the form of ISO 18125 (EN 14918); its constants are from memory.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Literal

from rickyard.errors import InputError
from rickyard.measure import BTU_J, LB_KG
from rickyard.text import T_
from rickyard.wood import Species, get_species

Basis = Literal["net", "gross"]
"""`gross`: the water of combustion is condensed (HHV). `net`: all water leaves as vapour (LHV)."""

HYDROGEN_MJ_KG_PCT = 0.2122
"""Heat kept by the vapour that 1 % of hydrogen burns to [MJ per kg dry wood per %]; ISO 18125, from memory."""

OXYGEN_NITROGEN_MJ_KG_PCT = 0.0008
"""Correction to constant pressure [MJ per kg dry wood per % of oxygen and nitrogen]; ISO 18125, from memory."""

VAPORISATION_MJ_KG = 2.443
"""Heat to evaporate water at 25 °C [MJ/kg]; ISO 18125, from memory. The AIEL handbook (2008) has 2.44."""

WETTEST_WET = 0.80
"""A limit for nonsense [water / total mass]; greener wood than this does not burn."""


@dataclass(frozen=True)
class HeatValue:
    """Gross heat of oven-dry wood without bark [MJ/kg], its standard deviation, and what net heat needs.

    Attributes
    ----------
    hhv_mj_kg, sd_mj_kg
        Gross heat per kilogram of oven-dry wood, and its standard deviation [MJ/kg].
    hydrogen_pct, oxygen_nitrogen_pct
        Shares of the oven-dry mass [%].
    source
        Where the figure comes from.
    """

    hhv_mj_kg: float
    sd_mj_kg: float
    hydrogen_pct: float
    oxygen_nitrogen_pct: float
    source: str

    def mj_per_kg(self, mc_wet: float, basis: Basis) -> float:
        """Heat per kilogram as fired [MJ/kg] at a moisture [water / total mass]."""
        if checked_basis(basis) == "gross":
            return gross_mj_per_kg(self.hhv_mj_kg, mc_wet)
        return net_mj_per_kg(self.hhv_mj_kg, mc_wet, self.hydrogen_pct, self.oxygen_nitrogen_pct)

    def sd_share(self, mc_wet: float, basis: Basis) -> float:
        """Standard deviation of `mj_per_kg` as a share of it; water and hydrogen are taken as known."""
        return self.sd_mj_kg * (1.0 - mc_wet) / self.mj_per_kg(mc_wet, basis)


def gross_mj_per_kg(hhv_mj_kg: float, mc_wet: float) -> float:
    """Gross heat per kilogram as fired [MJ/kg].

    From that of oven-dry wood [MJ/kg] and the moisture [water / total mass].
    """
    return hhv_mj_kg * (1.0 - checked_moisture(mc_wet))


def net_mj_per_kg(
    hhv_mj_kg: float, mc_wet: float, hydrogen_pct: float = 6.0, oxygen_nitrogen_pct: float = 43.5
) -> float:
    """Net heat per kilogram as fired [MJ/kg].

    Parameters
    ----------
    hhv_mj_kg
        Gross heat of oven-dry wood [MJ/kg].
    mc_wet
        Moisture [water / total mass].
    hydrogen_pct, oxygen_nitrogen_pct
        Shares of the oven-dry mass [%]; 6.0 and 43.5 are usual for hardwood (from memory).

    Form of ISO 18125 with constants from memory:
    net = (HHV - 0.2122 H - 0.0008 (O + N)) (1 - w) - 2.443 w.
    """
    dry = hhv_mj_kg - HYDROGEN_MJ_KG_PCT * hydrogen_pct - OXYGEN_NITROGEN_MJ_KG_PCT * oxygen_nitrogen_pct
    wet = checked_moisture(mc_wet)
    return dry * (1.0 - wet) - VAPORISATION_MJ_KG * wet


@cache
def heat_value(species: Species) -> HeatValue:
    """Gross heat of a species' oven-dry wood, or of a wider name's, with its spread.

    A species without a determination of its own, its trade group or its genus has the mean and the spread of its
    class (hardwood, softwood).
    One that has, has the mean of the class and the determination, each counted once:
    one laboratory's figure from a few trees lies as far from the next as species lie apart, so neither is
    trusted over the other, and the spread is the class spread / sqrt 2.
    A wider name has the mean of its members, and their differences are added to its spread.
    """
    if species.rank == "unnamed" or not species.members:
        return _class_value(species.group)
    members = [_species_value(member) for member in species.members]
    mean = math.fsum(value.hhv_mj_kg for value in members) / len(members)
    spread = math.fsum(value.sd_mj_kg**2 + (value.hhv_mj_kg - mean) ** 2 for value in members) / len(members)
    shared = _class_value(species.group)
    return HeatValue(
        hhv_mj_kg=mean,
        sd_mj_kg=math.sqrt(spread),
        hydrogen_pct=shared.hydrogen_pct,
        oxygen_nitrogen_pct=shared.oxygen_nitrogen_pct,
        source="; ".join(dict.fromkeys(value.source for value in members)),
    )


def checked_basis(basis: str) -> Basis:
    """The basis if it is one, else InputError."""
    if basis == "net":
        return "net"
    if basis == "gross":
        return "gross"
    raise InputError(
        "basis",
        wanted=T_("net or gross"),
        got=basis,
        next_move=T_("Say net for heat with the water leaving as vapour, gross for the laboratory figure."),
    )


def checked_moisture(mc_wet: float) -> float:
    """The moisture if it can be that of wood to burn, else InputError."""
    if 0.0 <= mc_wet <= WETTEST_WET:
        return mc_wet
    raise InputError(
        "moisture_wet",
        wanted=T_("a fraction of total mass from 0 to {most:g}", most=WETTEST_WET),
        got=f"{mc_wet:g}",
        next_move=T_("Type 0.20 for 20 % wet basis; 25 % dry basis is the same."),
    )


def _species_value(species_id: str) -> HeatValue:
    shared = _class_value(get_species(species_id).group)
    found = _determination(species_id)
    if found is None:
        return shared
    own, source = found
    return HeatValue(
        hhv_mj_kg=(shared.hhv_mj_kg + own) / 2.0,
        sd_mj_kg=shared.sd_mj_kg / math.sqrt(2.0),
        hydrogen_pct=shared.hydrogen_pct,
        oxygen_nitrogen_pct=shared.oxygen_nitrogen_pct,
        source=f"mean of {source} ({own:.2f} MJ/kg) and {shared.source}",
    )


def _determination(species_id: str) -> tuple[float, str] | None:
    """The nearest figure to a species: its own, else that of its trade group, else that of its genus."""
    known = _determinations()
    for name in (species_id, *_trade_groups_of(species_id), species_id.partition("_")[0]):
        if name in known:
            return known[name]
    return None


@cache
def _trade_groups_of(species_id: str) -> tuple[str, ...]:
    wide = (name for name in _determinations() if get_species(name).rank == "trade_group")
    return tuple(name for name in wide if species_id in get_species(name).members)


@cache
def _determinations() -> dict[str, tuple[float, str]]:
    rows: dict[str, list[dict[str, str]]] = {}
    for row in _table("hhv_determinations.csv"):
        if row["used"] == "yes":
            rows.setdefault(row["id"], []).append(row)
    return {
        name: (
            math.fsum(_mj_kg(row) for row in found) / len(found),
            " and ".join(dict.fromkeys(row["citation"] for row in found)),
        )
        for name, found in rows.items()
    }


def _mj_kg(row: dict[str, str]) -> float:
    printed = float(row["printed"])
    return printed * BTU_J / LB_KG / 1e6 if row["unit"] == "Btu/lb" else printed


@cache
def _class_value(group: str) -> HeatValue:
    return _classes()[group]


@cache
def _classes() -> dict[str, HeatValue]:
    return {
        row["group"]: HeatValue(
            hhv_mj_kg=float(row["hhv_mj_kg"]),
            sd_mj_kg=float(row["sd_mj_kg"]),
            hydrogen_pct=float(row["hydrogen_pct"]),
            oxygen_nitrogen_pct=float(row["oxygen_nitrogen_pct"]),
            source=row["source"],
        )
        for row in _table("classes.csv")
    }


def _table(name: str) -> Iterator[dict[str, str]]:
    text = files("rickyard.heat").joinpath("data", name).read_text(encoding="utf-8")
    lines: Iterable[str] = text.splitlines()
    return iter(csv.DictReader(lines))
