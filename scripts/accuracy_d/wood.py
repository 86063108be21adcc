"""How well `rickyard.wood` gives back what is published."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

import numpy as np

from rickyard.wood import (
    all_species,
    density_at,
    density_kg_m3,
    emc_db,
    estimated_shrinkage_pct,
    get_species,
    green_to_dry_with_bark,
    most_water_db,
)

DATA = Path(__file__).resolve().parents[2] / "tests" / "wood" / "data"
LB_FT3 = 0.45359237 / 0.3048**3
SHIPPED = {
    "Douglas-fir": "pseudotsuga_menziesii",
    "western larch": "larix_occidentalis",
    "Engelmann spruce": "picea_engelmannii",
    "western hemlock": "tsuga_heterophylla",
    "noble fir": "abies_procera",
    "grand fir": "abies_grandis",
    "subalpine fir": "abies_lasiocarpa",
    "Pacific silver fir": "abies_amabilis",
    "California red fir": "abies_magnifica",
}


def tables() -> list[dict[str, Any]]:
    return [
        _sorption(),
        _cold(),
        _density(),
        _shipping(),
        _green_weight(),
        _shrinkage(),
        _most_water(),
        _density_spread(),
    ]


def _rows(name: str) -> list[dict[str, str]]:
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def _sorption() -> dict[str, Any]:
    rows = _rows("emc.csv")
    temp_c = (np.array([float(row["temp_f"]) for row in rows]) - 32.0) / 1.8
    rh = np.array([float(row["rh_pct"]) for row in rows]) / 100.0
    printed = np.array([float(row["emc_pct"]) for row in rows])
    lines = []
    for curve, name in (
        ("simpson_f", "Simpson 1973, °F coefficients (used)"),
        ("simpson_c", "Simpson 1973, °C coefficients"),
        ("glass", "Glass et al. 2014"),
    ):
        off = 100.0 * emc_db(rh, temp_c, curve=curve) - printed
        lines.append(
            [
                name,
                str(len(rows)),
                str(int((np.abs(off) <= 0.05).sum())),
                str(int((np.abs(off) <= 0.1).sum())),
                f"{np.abs(off).max():.3f}",
                f"{off.mean():+.3f}",
            ]
        )
    return {
        "title": "Equilibrium moisture, 342 cells",
        "source": "Glass and Zelinka 2010, Wood Handbook (FPL-GTR-190), Table 4-2, 30 to 200 °F, 5 to 95 %",
        "note": "Points of moisture, dry basis. The third curve is a rival, not a fit to this table.",
        "columns": ["curve", "cells", "within 0.05", "within 0.1", "worst", "mean"],
        "rows": lines,
    }


def _cold() -> dict[str, Any]:
    lines = []
    for row in _rows("emc_check.csv"):
        rh, temp_c = float(row["rh_fraction"]), float(row["temp_c"])
        simpson, glass = (100.0 * emc_db(rh, temp_c, curve=curve) for curve in ("simpson_f", "glass"))
        lines.append(
            [
                f"{temp_c:.1f}",
                f"{100 * rh:.0f}",
                row["emc_hh_F_form"],
                f"{simpson:.2f}",
                row["emc_glass2014"],
                f"{glass:.2f}",
                f"{glass - simpson:+.1f}",
            ]
        )
    return {
        "title": "Equilibrium moisture, worked values, and where the curves part",
        "source": "Wood Handbook 2021 (FPL-GTR-282) Eq. 4-5 and 4-6, worked apart from this program",
        "note": "Percent, dry basis. Which curve is right in the cold is not known.",
        "columns": ["°C", "% RH", "Simpson", "ours", "Glass", "ours", "apart"],
        "rows": lines,
    }


def _density() -> dict[str, Any]:
    lines = []
    for row in _rows("density_check.csv"):
        if row["kind"] != "published" or not row["sg_basic_or_Gx"]:
            continue
        got = density_at(1000.0 * float(row["sg_basic_or_Gx"]), 0.0, float(row["mc_pct"]) / 100.0)
        got = got / LB_FT3 if row["unit"] == "lb/ft3" else got
        lines.append([row["case"], f"{float(row['expected']):.3f}", f"{got:.3f}", row["unit"]])
    grid = [
        row
        for row in _rows("density_check.csv")
        if row["case"] == "Gb with S0=26.5*Gb" and row["unit"] == "lb/ft3"
    ]
    off = []
    for row in grid:
        basic = 1000.0 * float(row["sg_basic_or_Gx"])
        got = density_at(basic, estimated_shrinkage_pct(basic), float(row["mc_pct"]) / 100.0) / LB_FT3
        off.append(abs(got / float(row["expected"]) - 1.0))
    lines.append(
        [
            f"grid of the handbook's equations, {len(grid)} cells, worst relative miss",
            "0",
            f"{max(off):.4%}",
            "",
        ]
    )
    return {
        "title": "Density at a moisture",
        "source": "University of Missouri wood density page, 2015; Wood Handbook 2021 Eq. 4-9 to 4-14",
        "note": "The grid was worked from the equations apart from this program; it checks arithmetic, not wood.",
        "columns": ["case", "printed", "ours", "unit"],
        "rows": lines,
    }


def _shipping() -> dict[str, Any]:
    printed: dict[str, dict[str, float]] = {}
    for row in _rows("density_check.csv"):
        name, _, what = row["case"].partition(": average shipping weight, ")
        if what:
            printed.setdefault(name, {})[what] = float(row["expected"])
    lines = []
    for name, weights in printed.items():
        species = get_species(SHIPPED[name])
        dry = density_kg_m3(species, 0.12) / LB_FT3
        green = density_kg_m3(species, species.green_mc_db) / LB_FT3
        lines.append(
            [
                name,
                f"{weights['air dry']:.0f}",
                f"{dry:.1f}",
                f"{dry / weights['air dry'] - 1:+.0%}",
                f"{weights['green']:.0f}",
                f"{green:.1f}",
                f"{green / weights['green'] - 1:+.0%}",
            ]
        )
    return {
        "title": "Average shipping weights",
        "source": "Oregon State University, Table of relative working and physical properties",
        "note": "lb/ft³. The air-dry moisture is not stated (12 % taken); the green figures are those of the trade.",
        "columns": ["species", "air dry", "ours at 12 %", "off", "green", "ours", "off"],
        "rows": lines,
    }


def _green_weight() -> dict[str, Any]:
    rows, off = _rows("green_weight_check.csv"), []
    for row in rows:
        got = green_to_dry_with_bark(
            float(row["sg_basic"]),
            float(row["bark_sg"]),
            float(row["bark_vol_pct_of_wood"]) / 100.0,
            float(row["mc_wood"]) / 100.0,
            float(row["mc_bark"]) / 100.0,
        )
        off.append(abs(got - float(row["published_green_to_dry_weight_ratio"])))
    return {
        "title": "Green over dry weight of wood and bark",
        "source": "USDA Forest Service, FIA database, table REF_SPECIES",
        "note": "From the agency's own gravities and moistures: a check of the formula and of how bark is counted.",
        "columns": ["species", "within 0.002", "worst"],
        "rows": [[str(len(rows)), str(sum(value <= 0.002 for value in off)), f"{max(off):.5f}"]],
    }


def _shrinkage() -> dict[str, Any]:
    lines = []
    for name, start in (
        ("Wood Handbook Table 4-3", "Wood Handbook"),
        ("Cirad wood density database", "Vieilledent"),
    ):
        measured = [s for s in all_species() if s.sources["shrinkage_vol_pct"].startswith(start)]
        off = np.array(
            [s.shrinkage_vol_pct - estimated_shrinkage_pct(s.basic_density_kg_m3) for s in measured]
        )
        lines.append(
            [
                name,
                str(len(measured)),
                f"{off.mean():+.2f}",
                f"{off.std():.2f}",
                f"{off.min():+.1f}",
                f"{off.max():+.1f}",
            ]
        )
    return {
        "title": "Stamm's rule (26.5 × basic gravity) against measured volume shrinkage",
        "source": "as named; about a quarter of the handbook rows are from memory",
        "note": "Measured less the rule, points. The rule stands in for the 59 species without a measured value.",
        "columns": ["measured", "species", "mean", "sd", "least", "most"],
        "rows": lines,
    }


def _most_water() -> dict[str, Any]:
    printed = {300.0: 267.0, 900.0: 44.0}
    return {
        "title": "Most water that wood can hold",
        "source": "Wood Handbook, text beside Eq. 4-3",
        "note": "Percent, dry basis. The equation's cell wall of 1.54 does not give the printed figures; 1.50 would.",
        "columns": ["basic density kg/m³", "printed", "ours"],
        "rows": [
            [f"{basic:.0f}", f"{value:.0f}", f"{100 * most_water_db(basic):.0f}"]
            for basic, value in printed.items()
        ],
    }


def _density_spread() -> dict[str, Any]:
    lines = []
    for kind in ("hardwood", "softwood"):
        own = [s for s in all_species() if s.group == kind]
        share = [s.basic_density_sd_kg_m3 / s.basic_density_kg_m3 for s in own]
        water = [s.green_mc_db_sd / s.green_mc_db for s in own]
        lines.append(
            [
                kind,
                str(len(own)),
                f"{np.median(share):.1%}",
                f"{max(share):.1%}",
                f"{np.median(water):.1%}",
                f"{max(water):.1%}",
            ]
        )
    return {
        "title": "Spread carried with density and green moisture",
        "source": "differences between the sources of the species table",
        "note": "One standard deviation. Made from the table's own second values: a fit, not a check.",
        "columns": ["group", "species", "density, median", "most", "green moisture, median", "most"],
        "rows": lines,
    }
