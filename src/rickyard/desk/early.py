"""Wood that by the days that were told left a stack or a load before it had come there: taken, and somebody looks.

Most often a day was typed wrong, or another stack was meant. `check` says so too, until the clash is settled.
"""

from __future__ import annotations

from sqlalchemy import select

from rickyard.book.models import Clash, Load, Stack
from rickyard.book.running import worsened_by
from rickyard.desk.clashes import raise_clash
from rickyard.desk.context import Stage
from rickyard.text import T_, Text


def look_for_early(stage: Stage, place: Stack | Load) -> list[int]:
    """Clashes (ids) where this deed took wood from a stack or load, by its day, before the wood was there."""
    stage.session.flush()
    found = worsened_by(stage.session, stage.yard.id, stage.yard.timezone, place.spot_id, stage.deed.id)
    if not found:
        return []
    kind = "stack" if isinstance(place, Stack) else "load"
    began = place.stacked_on if isinstance(place, Stack) else place.arrived_on
    day = min(short.day for short in found)
    kg = sum(short.missing_g for short in found) / 1000
    if day < began:
        code = "before_stacking" if kind == "stack" else "before_arrival"
    else:
        code = "before_it_was_there"
    for row in stage.session.scalars(
        select(Clash).where(
            Clash.subject_kind == kind,
            Clash.subject_id == place.id,
            Clash.code == code,
            Clash.deed_id == stage.deed.id,
        )
    ):
        return [row.id]
    return [raise_clash(stage, kind, place.id, code, _words(place, code, kg, day))]


def _words(place: Stack | Load, code: str, kg: float, day: object) -> Text:
    if isinstance(place, Load):
        if code == "before_arrival":
            return T_(
                "By {day} {kg:.0f} kg (oven-dry) had left load {number}, which came only on {came}. It is in the book "
                "as it was told. Look at both days, and whether another load was meant.",
                day=day,
                kg=kg,
                number=place.number,
                came=place.arrived_on,
            )
        return T_(
            "By {day} {kg:.0f} kg more (oven-dry) had left load {number} than it held until then. It is in the book as "
            "it was told. Look at the days, and whether another load was meant.",
            day=day,
            kg=kg,
            number=place.number,
        )
    if code == "before_stacking":
        return T_(
            "By {day} {kg:.0f} kg (oven-dry) had left stack {name}, which was stacked only on {stacked}. It is in the "
            "book as it was told. Look at both days, and whether another stack was meant.",
            day=day,
            kg=kg,
            name=place.name,
            stacked=place.stacked_on,
        )
    return T_(
        "By {day} {kg:.0f} kg more (oven-dry) had left stack {name} than it held until then. It is in the book as it "
        "was told. Look at the days, and whether another stack was meant.",
        day=day,
        kg=kg,
        name=place.name,
    )
