"""Cutting and splitting: cases with a proven best answer, what a plan gains over one length, thickness of wedges."""

from __future__ import annotations

import importlib.util
import json
import math
import sys
from datetime import date
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
from scipy.special import jn_zeros, jnp_zeros

from rickyard.cut import CutLog, Saw, Ware, by_hand, plan_cuts, read_logs, read_wares, split_round
from rickyard.cut.shape import TIGHT, USUAL, drying_thickness, whole_round
from rickyard.cut.split import has_tight_bark, patterns
from rickyard.season import REDUCED, Pieces, forecast
from rickyard.weather import constant_air

ROOT = Path(__file__).resolve().parents[2]
CASES = ROOT / "tests" / "cut" / "data"


def tables() -> list[dict[str, Any]]:
    return [_cases(), _gain(), _wedges(), _halves(), _second_world(), _rounds()]


def _cases() -> dict[str, Any]:
    rows = []
    for folder in sorted([*(CASES / "single").iterdir(), *(CASES / "multi").iterdir()]):
        expected = json.loads((folder / "expected.json").read_text(encoding="utf-8"))
        plan = plan_cuts(
            read_logs((folder / "logs.csv").read_text(encoding="utf-8")).logs,
            read_wares((folder / "wares.csv").read_text(encoding="utf-8")).wares,
            Saw(expected["kerf_mm"] / 1000.0, expected["trim_cm"] / 100.0),
        )
        off = 0.0 if not expected["value"] else plan.value / expected["value"] - 1.0
        rows.append(
            [
                folder.name,
                expected.get("kind", f"{len(plan.logs)} logs, quotas"),
                f"{expected['value']:.4f}",
                f"{plan.value:.4f}",
                f"{1e6 * off:+.1f}",
                f"{1e6 * plan.gap:.1f}",
                plan.method,
            ]
        )
    return {
        "title": "Cutting plans against proven best answers",
        "source": "tests/cut/data: invented logs and wares; answers by trying everything, or by an integer programme "
        "over all sequences with gap 0",
        "note": "Off and gap in millionths. Nothing was tuned to them.",
        "columns": ["case", "kind", "best", "ours", "off", "gap", "way"],
        "rows": rows,
    }


def _benchmark() -> ModuleType:
    name = "cutting_benchmark"
    if name not in sys.modules:
        spec = importlib.util.spec_from_file_location(name, ROOT / "benchmarks" / "cutting.py")
        assert spec is not None
        assert spec.loader is not None
        module = importlib.util.module_from_spec(spec)
        sys.modules[name] = module
        spec.loader.exec_module(module)
    return sys.modules[name]


def demo_logs(count: int) -> list[CutLog]:
    """Logs drawn as the demo yard draws its own (rickyard.desk.demo), inside the bark."""
    rng = np.random.default_rng(4)
    logs = []
    for number in range(count):
        length = float(rng.choice([2.44, 3.66, 4.88]))
        middle = round(float(np.clip(rng.lognormal(np.log(0.24), 0.28), 0.12, 0.60)), 3) - 0.016
        taper = round(0.004 * length, 3)
        logs.append(CutLog(f"D{number}", length, middle + taper, middle - taper))
    return logs


def _gain() -> dict[str, Any]:
    bench = _benchmark()
    saw = Saw(0.008, 0.02)
    equal = [Ware(f"{cm} cm", cm / 100.0, 100.0) for cm in (30, 33, 40, 46, 50)]
    priced = [
        Ware("stove 33 cm", 0.33, 135.0, None, 0.08),
        Ware("stove 40 cm", 0.40, 125.0, None, 0.08),
        Ware("hearth 46 cm", 0.46, 120.0, None, 0.12, 0.45),
        Ware("boiler 100 cm", 1.00, 80.0, None, None, 0.40),
    ]
    rows = []
    populations = [("the demo's logs", demo_logs(100))]
    populations += [(kind.name, bench.population(kind, 100, 21)) for kind in bench.KINDS]
    for name, logs in populations:
        for label, wares in (
            ("one price for all lengths", equal),
            ("four wares", priced),
            ("six wares, five with wanted amounts", bench.wares(0.18, logs)),
        ):
            plan = plan_cuts(logs, wares, saw)
            hand = by_hand(plan)
            rows.append(
                [
                    name,
                    label,
                    f"{100 * (hand.value_gain or 0.0):+.1f}",
                    f"{100 * (hand.plan_solid_m3 / hand.solid_m3 - 1.0):+.1f}",
                    f"{100 * (hand.each_value_gain or 0.0):+.1f}",
                    f"{100 * (hand.plan_solid_m3 / hand.each_solid_m3 - 1.0):+.1f}",
                    f"{100 * plan.gap:.2f}",
                ]
            )
    return {
        "title": "What a cutting plan gains over one length from the butt on",
        "source": "invented logs: 100 of each kind, limits in benchmarks/cutting.py, judgements and no survey; the "
        "demo's logs drawn as the demo yard draws them",
        "note": "In percent: value and solid volume of the pieces over all logs cut at the one best length; then over "
        "each log cut at its own best length; then the gap left. Kerf 8 mm, trim 2 cm. Prices are invented: the gain "
        "hangs on them. With wanted amounts one length alone earns little once its amount is full, so the first "
        "figure is large; the second comparison is the fair one. Volume may fall where dear pieces are worth more.",
        "columns": ["logs", "wares", "value", "volume", "value, each log", "volume, each log", "gap"],
        "rows": rows,
    }


def _wedges() -> dict[str, Any]:
    rows = []
    for count in (2, 4, 6, 8):
        piece = next(p for p in patterns() if p.first == count and len(p.pieces) == count).pieces[0]
        order = count // 2
        least, _ = piece.calipers
        closed = math.pi * math.sqrt(TIGHT) / jnp_zeros(order, 1)[0]
        open_ = math.pi * math.sqrt(USUAL) / jn_zeros(order, 1)[0]
        rows.append(
            [
                f"1/{count}",
                f"{closed / 2:.4f}",
                f"{drying_thickness(piece, True) / 2:.4f}",
                f"{open_ / 2:.4f}",
                f"{drying_thickness(piece, False) / 2:.4f}",
                f"{math.sqrt(piece.area) / 2:.4f}",
                f"{least / 2:.4f}",
            ]
        )
    return {
        "title": "Thickness of a wedge, as a share of the round's diameter",
        "source": "zeros of Bessel functions and of their slopes (closed form for a sector of a circle); scipy.special",
        "note": "Thickness is the side of the square split that dries as slowly; tight bark (birch) lets nothing "
        "through. Beside it the side of a square of the same area, and the ruler across the thinnest way.",
        "columns": ["wedge", "tight bark, exact", "ours", "usual, exact", "ours", "same area", "ruler"],
        "rows": rows,
    }


def _rounds() -> dict[str, Any]:
    rows = []
    for diameter_cm in (12, 16, 20, 25, 30, 36, 45, 60, 80):
        cells = [f"{diameter_cm}"]
        for tight in (False, True):
            plan = split_round(diameter_cm / 100.0, 0.13, tight_bark=tight)
            cells += [
                plan.pattern.id.replace("_", " "),
                str(len(plan.pieces)),
                f"{100 * plan.thickness_mean_m:.1f}",
                f"{100 * plan.thickness_max_m:.1f}",
            ]
        rows.append(cells)
    return {
        "title": "Splitting plans for pieces no thicker than 13 cm",
        "source": "our own; no published table of patterns was found",
        "note": "In cm: diameter; pattern, pieces, mean and greatest thickness with usual bark; the same, tight bark.",
        "columns": ["diameter", *("pattern", "pieces", "mean", "greatest") * 2],
        "rows": rows,
    }


def _halves() -> dict[str, Any]:
    """A half of the drying model beside its splits: as slow as a split of what share of the diameter?"""
    start = date(2026, 4, 1)
    air = constant_air(20.0, 65.0, start, 540)
    half = next(p for p in patterns() if p.id == "halves").pieces[0]

    def days(species: str, form: str, thickness: float) -> int:
        pieces = Pieces(species_id=species, form=form, length_m=0.41, thickness_m=thickness, stacked_on=start)
        made = forecast(pieces, air, members=8, seed=0, model=REDUCED)
        return int(np.argmax(np.median(made.mc_db, axis=1) <= 0.25))

    rows = []
    sizes = np.arange(0.08, 0.29, 0.02)
    for species in ("fraxinus_americana", "acer_saccharum", "betula_papyrifera"):
        splits = [days(species, "split", float(size)) for size in sizes]
        tight = has_tight_bark(species)
        for diameter in (0.16, 0.24):
            as_split = float(np.interp(days(species, "half", diameter), splits, sizes))
            rows.append(
                [
                    species,
                    f"{100 * diameter:.0f}",
                    f"{as_split / diameter:.2f}",
                    f"{drying_thickness(half, tight) / 2:.2f}",
                    "tight" if tight else "usual",
                ]
            )
    return {
        "title": "A half as the drying model has it",
        "source": "rickyard.season, its reduced model, constant air of 20 °C and 65 %, to 25 % dry basis",
        "note": "Share of the round's diameter that a split has which dries as slowly. By this usual bark was taken as "
        "open, birch bark as closed: a fit, no check.",
        "columns": ["species", "diameter, cm", "drying model", "here", "bark"],
        "rows": rows,
    }


ANGLES = (45.0, 60.0, 90.0, 120.0, 180.0)


def _second_world() -> dict[str, Any]:
    """Wedges of several angles, made equal by three meanings of thickness, dried by the second drying model."""
    sys.path.insert(0, str(ROOT / "scripts"))
    try:
        from truth import wedge
    finally:
        sys.path.pop(0)
    side = 0.12
    rows = []
    rules = {
        "thickness as here": lambda shape: drying_thickness(shape),
        "thickness as here, tight bark": lambda shape: drying_thickness(shape, True),
        "same area": lambda shape: math.sqrt(shape.area),
        "ruler, the thinnest way": lambda shape: shape.calipers[0],
    }
    whole = whole_round()
    for name, rule in rules.items():
        radii = []
        for angle in ANGLES:
            turn = math.radians(angle)
            shape = whole.cut(0.0, 1.0, 0.0)
            assert shape is not None
            if angle < 180.0:
                shape = shape.cut(math.sin(turn), -math.cos(turn), 0.0)
                assert shape is not None
            radii.append(side / rule(shape))
        days = _dried(wedge, np.array(radii))
        spread = float(np.std(days) / np.mean(days))
        rows.append(
            [name, *(f"{100 * r:.1f}" for r in radii), *(f"{d:.0f}" for d in days), f"{100 * spread:.0f} %"]
        )
    return {
        "title": "Wedges made equal: do they dry alike?",
        "source": "scripts/truth: the second drying model, wedges on a polar grid, which shares no code with ours",
        "note": "Wood of gravity 0.48 in constant air (20 °C, 65 %), 41 cm long, bark letting 5 % through, thickness "
        "12 cm by three meanings of the word, and ours with tight bark. Radius of each wedge in cm, days from 80 % to "
        "25 % dry basis, and their spread. The less they spread, the better the meaning. Nothing was tuned to it; "
        "that usual bark counts as open was chosen by the drying model's own halves, above.",
        "columns": [
            "meaning",
            *(f"radius, {a:.0f}°" for a in ANGLES),
            *(f"days, {a:.0f}°" for a in ANGLES),
            "spread",
        ],
        "rows": rows,
    }


def _dried(wedge: ModuleType, radius_m: np.ndarray[Any, Any]) -> np.ndarray[Any, Any]:
    """Days until the mean is at 25 % dry basis; each wedge in a stack of its own."""
    count, days = len(radius_m), 900

    def same(value: float) -> np.ndarray[Any, Any]:
        return np.full(count, value)

    pieces = wedge.Pieces(
        stack=np.arange(count),
        radius_m=radius_m,
        angle_rad=np.radians(ANGLES),
        length_m=same(0.41),
        gravity=same(0.48),
        oak=np.zeros(count, dtype=bool),
        across=same(0.6),
        along=same(1.0),
        free_heart=same(1.0),
        free_sap=same(1.0),
        heart_db=same(0.8),
        sap_db=same(0.8),
        sap_from=same(0.7),
        sorption=same(1.0),
        frozen=same(0.5),
        bark=same(0.05),
    )
    place = wedge.Stacks(
        open_share=same(0.7),
        wind_share=same(0.2),
        depth_m=same(0.4),
        sun_share=same(0.0),
        rain_share=same(0.0),
    )
    hours = np.full((24 * days, count), 1.0)
    sky = wedge.Sky(20.0 * hours, 0.65 * 2339.0 * hours, 2.0 * hours, 0.0 * hours, 0.0 * hours)
    mean = wedge.dry(pieces, place, sky, days, None).mean_db
    return np.array([int(np.argmax(mean[:, n] <= 0.25)) for n in range(count)], dtype=float)
