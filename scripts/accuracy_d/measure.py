"""How well `rickyard.measure` gives back what is published."""

from __future__ import annotations

import csv
import importlib.util
from pathlib import Path
from types import ModuleType
from typing import Any

from rickyard.measure import (
    CORD_M3,
    DM3_M3,
    FT3_M3,
    FT_M,
    IN3_M3,
    IN_M,
    bin_measure,
    cone_frustum_m3,
    expect_from_solid,
    face_m3,
    neiloid_frustum_m3,
    smalian_m3,
    solid_share,
    stack_measure,
)

DATA = Path(__file__).resolve().parents[2] / "tests" / "measure" / "data"


HERE = Path(__file__).resolve().parent


def tables() -> list[dict[str, Any]]:
    return [
        _examples(),
        _units(),
        _shares(),
        _conversions(),
        _shortening(),
        *_more("measure_trees").tables(),
        *_more("measure_photo").tables(),
    ]


def _more(name: str) -> ModuleType:
    """A module beside this one: the folder is not a package."""
    spec = importlib.util.spec_from_file_location(f"accuracy_of_{name}", HERE / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def _rows(name: str) -> list[dict[str, str]]:
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def _examples() -> dict[str, Any]:
    sizes = (16 * FT_M, 10 * IN_M, 12 * IN_M)
    lines = [
        ["Smalian, ends 10 and 12 in, 16 ft", "10.647", f"{smalian_m3(*sizes) / FT3_M3:.4f}", "ft³"],
        ["frustum of a cone", "10.588", f"{cone_frustum_m3(*sizes) / FT3_M3:.4f}", "ft³"],
        ["frustum of a neiloid", "10.568", f"{neiloid_frustum_m3(*sizes) / FT3_M3:.4f}", "ft³"],
        ["box 120 × 60 × 60 cm", "432", f"{bin_measure(1.2, 0.6, 0.6).outside_m3 / DM3_M3:.1f}", "dm³"],
        ["stack 4 × 4 × 8 ft", "1", f"{stack_measure(8 * FT_M, 4 * FT_M, 4 * FT_M).cords:.6f}", "cord"],
        ["stack 2 × 4 × 16 ft", "1", f"{stack_measure(16 * FT_M, 4 * FT_M, 2 * FT_M).cords:.6f}", "cord"],
    ]
    return {
        "title": "Worked examples",
        "source": "D. R. Larsen, University of Missouri; Measurement Canada; NIST Handbook 130; Canadian notice, 1993",
        "note": "The neiloid misses by 0.0009 ft³: the print seems cut, not rounded.",
        "columns": ["case", "printed", "ours", "unit"],
        "rows": lines,
    }


def _units() -> dict[str, Any]:
    ours = {
        ("cubic foot", "m3"): FT3_M3,
        ("cord", "ft3"): CORD_M3 / FT3_M3,
        ("cord", "stacked m3"): CORD_M3,
        ("stacked cubic metre", "ft3"): 1.0 / FT3_M3,
        ("stacked cubic metre", "cord"): 1.0 / CORD_M3,
        ("cubic decimetre", "in3"): DM3_M3 / IN3_M3,
        ("cubic inch", "in3 per ft3"): FT3_M3 / IN3_M3,
    } | {
        (f"face cord, {inches} in pieces", "ft3"): face_m3(inches * IN_M) / FT3_M3
        for inches in (12, 16, 18, 20, 24)
    }
    lines = []
    for row in _rows("units.csv"):
        if (row["unit"], row["in"]) in ours:
            lines.append([row["unit"], row["value"], f"{ours[row['unit'], row['in']]:.9g}", row["in"]])
    return {
        "title": "Units",
        "source": "NIST Handbook 130, Measurement Canada, Maine Forest Service, and the definitions",
        "note": "",
        "columns": ["unit", "printed", "ours", "in"],
        "rows": lines,
    }


def _shares() -> dict[str, Any]:
    cord = 128.0
    cases = [
        (
            "4 ft rounds, cord of pulpwood, average",
            "ranked",
            "round",
            4 * FT_M,
            79 / cord,
            "Woodland Stewardship, Minnesota",
        ),
        (
            "4 ft rounds, least of eight regional averages",
            "ranked",
            "round",
            4 * FT_M,
            75 / cord,
            "Southern Regional Extension Forestry",
        ),
        (
            "4 ft rounds, most of eight regional averages",
            "ranked",
            "round",
            4 * FT_M,
            82 / cord,
            "Southern Regional Extension Forestry",
        ),
        ("Central hardwoods, wood only", "ranked", "round", 4 * FT_M, 76 / cord, "Beers 1964"),
        ("split firewood, stacked", "ranked", "split", 0.33, 0.67, "Bioenergy Advice, Finland"),
        ("split logs, well stacked", "ranked", "split", 0.33, 0.70, "United Kingdom"),
        ("1 m splits, stacked", "ranked", "split", 1.0, 0.70, "Niedersächsische Landesforsten"),
        ("stove length, stacked", "ranked", "split", 0.33, 0.85, "Niedersächsische Landesforsten"),
        ("split firewood, loose", "loose", "split", 0.33, 0.40, "Bioenergy Advice, Finland"),
        ("logs, loose", "loose", "split", 0.33, 0.40, "United Kingdom (0.40 or less)"),
        ("stove length, loose", "loose", "split", 0.33, 0.50, "Niedersächsische Landesforsten"),
        ("loose, least", "loose", "split", 0.33, 0.42, "German guide value"),
        ("loose, most", "loose", "split", 0.33, 0.50, "German guide value"),
        ("logs, loose, most", "loose", "split", 0.33, 0.65, "Poland"),
    ]
    lines = []
    for what, piled, form, length, share, source in cases:
        ours = solid_share(piled, form, length)
        inside = "yes" if ours.low <= share <= ours.high + 1e-9 else "no"
        lines.append(
            [what, f"{share:.3f}", f"{ours.mid:.3f}", f"{ours.low:.2f} to {ours.high:.2f}", inside, source]
        )
    return {
        "title": "Solid wood in a pile",
        "source": "as named in each row",
        "note": (
            "Ours: wood without bark over outside volume. "
            "Most European figures do not say whether bark counts as wood. "
            "Made from, and so no check: Maine's 80 to 90 ft³ for firewood, the Minnesota statute's steps, "
            "the loose range 0.38 to 0.50."
        ),
        "columns": ["what", "published", "ours", "10th to 90th", "inside", "source"],
        "rows": lines,
    }


def _conversions() -> dict[str, Any]:
    stove = expect_from_solid(1.0, "split", 0.33)
    metre = expect_from_solid(1.0, "split", 1.0)
    ours = {
        ("Finland", "solid m3", "stacked m3"): stove.ranked_m3.mid,
        ("Finland", "solid m3", "loose m3"): stove.loose_m3.mid,
        ("Finland", "stacked m3", "solid m3"): 1.0 / stove.ranked_m3.mid,
        ("Finland", "loose m3", "solid m3"): 1.0 / stove.loose_m3.mid,
        ("Lower Saxony", "solid m3", "stacked m3 of 1 m pieces"): metre.ranked_m3.mid,
        ("Lower Saxony", "solid m3", "stacked m3 of stove pieces"): stove.ranked_m3.mid,
        ("Lower Saxony", "solid m3", "loose m3 of stove pieces"): stove.loose_m3.mid,
        ("Lower Saxony", "stacked m3 of 1 m pieces", "loose m3 of stove pieces"): stove.loose_m3.mid
        / metre.ranked_m3.mid,
        ("Lower Saxony", "stacked m3 of stove pieces", "loose m3 of stove pieces"): stove.loose_m3.mid
        / stove.ranked_m3.mid,
        ("Lower Saxony", "loose m3 of stove pieces", "solid m3"): 1.0 / stove.loose_m3.mid,
    }
    lines = []
    for row in _rows("volume_conversions_eu.csv"):
        key = (row["country"], row["from"], row["to"])
        if key in ours:
            printed = float(row["factor"])
            lines.append([*key, row["factor"], f"{ours[key]:.2f}", f"{ours[key] / printed - 1:+.0%}"])
    return {
        "title": "European conversions between solid, stacked and loose",
        "source": "Bioenergy Advice (Finland); Niedersächsische Landesforsten",
        "note": "Stove pieces taken as 33 cm splits. Not used to make our figures.",
        "columns": ["country", "from", "to", "published", "ours", "off"],
        "rows": lines,
    }


def _shortening() -> dict[str, Any]:
    def stack(length_m: float) -> float:
        return expect_from_solid(1.0, "split", length_m).ranked_m3.mid

    cases = [
        ("1 m pieces cut to 50 cm", 0.50, 0.80, "Habitat naturel, France"),
        ("1 m pieces cut to 33 cm", 0.33, 0.70, "Habitat naturel; Flamme Verte, France"),
        ("1 m pieces cut to stove length", 0.33, 0.80, "Niedersächsische Landesforsten"),
    ]
    lines = [
        [
            what,
            f"{printed:.2f}",
            f"{stack(length) / stack(1.0):.2f}",
            f"{stack(length) / stack(1.0) / printed - 1:+.0%}",
            source,
        ]
        for what, length, printed, source in cases
    ]
    return {
        "title": "How much smaller a stack gets when its pieces are cut shorter",
        "source": "as named in each row",
        "note": "Ours follows the Minnesota statute (128 to 110 ft³), which knows a smaller step: a miss that stays.",
        "columns": ["case", "published", "ours", "off", "source"],
        "rows": lines,
    }
