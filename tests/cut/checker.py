"""Says what is wrong with a cutting plan. Reads the lists and the answer themselves; shares no code with the package.

The rules are those of data/README.md, by their numbers there.
"""

from __future__ import annotations

import csv
import math
from pathlib import Path
from typing import Any

TOL_M = 1e-6
TOL_M3 = 1e-7


def check(folder: Path, answer: dict[str, Any], kerf_mm: float, trim_cm: float) -> tuple[list[str], float]:
    """(what is wrong, the value by the rules)."""
    wrong: list[str] = []
    wares = {row["ware"]: row for row in _rows(folder / "wares.csv")}
    logs = {row["log_id"]: row for row in _rows(folder / "logs.csv")}
    made = dict.fromkeys(wares, 0.0)
    if [log["log_id"] for log in answer["logs"]] != list(logs):
        wrong.append("not the logs that were given")
    for log in answer["logs"]:
        row = logs[log["log_id"]]
        length = float(row["length_m"])
        large, small = float(row["d_large_cm"]) / 100, float(row["d_small_cm"]) / 100
        bad = [_defect(text) for text in row["defects"].split(";") if text.strip()]

        def across(x: float, large: float = large, small: float = small, length: float = length) -> float:
            return large + (small - large) * x / length

        total = 0.0
        last = None
        for piece in sorted(log["pieces"], key=lambda piece: piece["from_m"]):
            a, b, ware = piece["from_m"], piece["to_m"], wares[piece["ware"]]
            where = f"{log['log_id']} {a:.4f}-{b:.4f} {piece['ware']}"
            d1, d2 = across(a), across(b)
            volume = math.pi * (b - a) / 12 * (d1 * d1 + d1 * d2 + d2 * d2)
            total += volume
            made[piece["ware"]] += volume
            if abs(volume - piece["solid_m3"]) > TOL_M3:
                wrong.append(f"3 {where}: {piece['solid_m3']} m³ should be {volume}")
            if abs(b - a - float(ware["piece_length_cm"]) / 100) > TOL_M:
                wrong.append(f"4 {where}: not as long as the ware")
            if last is not None and a - last < kerf_mm / 1000 - TOL_M:
                wrong.append(f"5 {where}: no room for the kerf")
            if a < trim_cm / 100 - TOL_M or b > length - trim_cm / 100 + TOL_M:
                wrong.append(f"6 {where}: in the trim")
            wrong += [f"7 {where}: in a defect" for s, e in bad if a < e - TOL_M and b > s + TOL_M and e > s]
            slope = max((large - small) / length, 1e-9)
            if ware["min_d_cm"] and d2 < float(ware["min_d_cm"]) / 100 - slope * TOL_M - 1e-9:
                wrong.append(f"8 {where}: too thin")
            if ware["max_d_cm"] and d1 > float(ware["max_d_cm"]) / 100 + slope * TOL_M + 1e-9:
                wrong.append(f"8 {where}: too thick")
            last = b
        whole = math.pi * length / 12 * (large * large + large * small + small * small)
        if abs(whole - total - log["waste_m3"]) > TOL_M3:
            wrong.append(f"11 {log['log_id']}: waste {log['waste_m3']} should be {whole - total}")
    value = 0.0
    for ware in answer["wares"]:
        row = wares[ware["ware"]]
        wanted = float(row["wanted_solid_m3"]) if row["wanted_solid_m3"] else None
        if ware["wanted_solid_m3"] != wanted:
            wrong.append(f"10 {ware['ware']}: wanted {ware['wanted_solid_m3']}, not {wanted}")
        if abs(ware["solid_m3"] - made[ware["ware"]]) > TOL_M3:
            wrong.append(f"3 {ware['ware']}: {ware['solid_m3']} m³, pieces come to {made[ware['ware']]}")
        counted = made[ware["ware"]] if wanted is None else min(wanted, made[ware["ware"]])
        value += float(row["value_per_solid_m3"]) * counted
    if abs(value - answer["value"]) > 1e-6 * max(1.0, value):
        wrong.append(f"10: value {answer['value']} should be {value}")
    return wrong, value


def _rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def _defect(text: str) -> tuple[float, float]:
    span = text.split(":")[0]
    start, end = span.split("-")
    return float(start), float(end)
