"""What every command does with its result: one JSON object, or lines for people."""

from __future__ import annotations

import dataclasses
import json
import math
from collections.abc import Iterable
from datetime import date, datetime
from typing import TYPE_CHECKING, Annotated, Any

import numpy as np
import typer

from rickyard.errors import InputError
from rickyard.show import Voice
from rickyard.text import T_

if TYPE_CHECKING:
    from rickyard.measure import Spread, StackMeasure

Json = Annotated[bool, typer.Option("--json", help="Print one JSON object and nothing else.")]
Seed = Annotated[int, typer.Option("--seed", help="Makes every random result repeatable.")]


def give(result: dict[str, Any], lines: Iterable[str], as_json: bool) -> None:
    """Prints the result as one JSON object, or the lines."""
    if as_json:
        typer.echo(json.dumps(plain(result), ensure_ascii=False, allow_nan=False))
    else:
        for line in lines:
            typer.echo(line)


def solid_range(volume_m3: Spread, digits: int = 3) -> str:
    """Solid wood with its 10th and 90th percentile, in cubic metres and in cubic feet."""
    from rickyard.measure import FT3_M3

    def said(spread: Spread, unit: str, places: int) -> str:
        return f"{spread.mid:.{places}f} {unit} ({spread.low:.{places}f} to {spread.high:.{places}f})"

    feet = said(volume_m3.scaled(1.0 / FT3_M3), "ft³", max(0, digits - 1))
    return f"{said(volume_m3, 'm³', digits)} = {feet}"


def solid_said(voice: Voice, volume_m3: Spread) -> str:
    """Solid wood or bark with its range, in the units of the voice alone."""
    return voice.range(volume_m3.low, volume_m3.mid, volume_m3.high, voice.volume_unit("solid"))


def mass_range(voice: Voice, kg: Spread) -> str:
    return f"{voice.mass(kg.mid)} ({voice.mass(kg.low)} to {voice.mass(kg.high)})"


def outside_lines(outside: StackMeasure) -> list[str]:
    """Outside volume with its range, in cords where it is ranked, in cubic metres and in cubic feet."""
    low, mid, high = outside.spread_m3.low, outside.spread_m3.mid, outside.spread_m3.high
    units = ("cord", "stacked_m3", "ft3") if outside.piled == "ranked" else ("loose_m3", "loose_ft3")
    voice = Voice()
    return ["outside: " + " = ".join(voice.range(low, mid, high, unit) for unit in units)]


def voice_of(units: str) -> Voice:
    if units not in ("imperial", "metric"):
        raise InputError(
            "units",
            wanted=T_("one of {names}", names="imperial, metric"),
            got=units,
            next_move=T_("Choose one of them."),
        )
    return Voice("en_CA", units)


def plain(value: Any) -> Any:
    """The value as JSON can carry it: dates as ISO, dataclasses as objects, numpy as plain numbers."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {item.name: plain(getattr(value, item.name)) for item in dataclasses.fields(value)}
    if isinstance(value, dict):
        return {str(name): plain(inner) for name, inner in value.items()}
    if isinstance(value, list | tuple):
        return [plain(inner) for inner in value]
    if isinstance(value, date | datetime):
        return value.isoformat()
    if isinstance(value, np.ndarray):
        return plain(value.tolist())
    if isinstance(value, np.generic):
        return plain(value.item())
    if isinstance(value, float) and not math.isfinite(value):
        return None
    if value is None or isinstance(value, bool | int | float | str):
        return value
    return str(value)


def table(rows: list[list[str]], heads: list[str]) -> list[str]:
    """Rows as aligned columns; the first column to the left, the others to the right."""
    widths = [max(len(row[i]) for row in [heads, *rows]) for i in range(len(heads))]

    def line(row: list[str]) -> str:
        cells = [row[0].ljust(widths[0])] + [
            cell.rjust(width) for cell, width in zip(row[1:], widths[1:], strict=True)
        ]
        return "  ".join(cells).rstrip()

    return [line(heads), *(line(row) for row in rows)]
