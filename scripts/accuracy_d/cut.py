"""Cutting and splitting: cases with a proven best answer, what a plan gains over one length, thickness of wedges."""

from __future__ import annotations

import importlib.util
import json
import math
import sys
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
from scipy.special import jn_zeros, jnp_zeros

from rickyard.cut import CutLog, Saw, Ware, by_hand, plan_cuts, read_logs, read_wares, split_round
from rickyard.cut.shape import BARK_OFF, BARK_ON, drying_thickness
from rickyard.cut.split import patterns
from rickyard.season import Pieces

ROOT = Path(__file__).resolve().parents[2]
CASES = ROOT / "tests" / "cut" / "data"


def tables() -> list[dict[str, Any]]:
    return [_cases(), _gain(), _wedges(), _rounds()]


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
        closed = math.pi * math.sqrt(BARK_ON) / jnp_zeros(order, 1)[0]
        open_ = math.pi * math.sqrt(BARK_OFF) / jn_zeros(order, 1)[0]
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
        "note": "Thickness is the side of the square split that dries as slowly, with bark on (letting "
        "nothing through) and off. Beside it the side of a square of the same area, and the ruler across the thinnest "
        "way.",
        "columns": ["wedge", "bark on, exact", "ours", "bark off, exact", "ours", "same area", "ruler"],
        "rows": rows,
    }


def _rounds() -> dict[str, Any]:
    rows = []
    for diameter_cm in (12, 16, 20, 25, 30, 36, 45, 60, 80):
        diameter = diameter_cm / 100.0
        plan = split_round(diameter, 0.13)
        half = Pieces(species_id="fagus", form="half", length_m=0.4, thickness_m=diameter).shape
        as_square = math.sqrt(BARK_ON) * 2.0 * min(half.thickness_m, half.width_m)
        halves = next(p for p in patterns() if p.id == "halves").pieces[0]
        rows.append(
            [
                f"{diameter_cm}",
                plan.pattern.id.replace("_", " "),
                str(len(plan.pieces)),
                f"{100 * plan.thickness_mean_m:.1f}",
                f"{100 * plan.thickness_max_m:.1f}",
                f"{100 * drying_thickness(halves) * diameter / 2:.1f}",
                f"{100 * as_square:.1f}",
            ]
        )
    return {
        "title": "Splitting plans for pieces no thicker than 13 cm",
        "source": "our own; no published table of patterns was found",
        "note": "All in cm. The last two columns: a half as this package sees it, and the drying model's own box for "
        "halves, turned into the square that dries as slowly. The box's corners lie deeper than the round's.",
        "columns": [
            "diameter",
            "pattern",
            "pieces",
            "mean",
            "greatest",
            "a half, here",
            "a half, drying model",
        ],
        "rows": rows,
    }
