"""The tables as one small JSON text, for the twin of this package in the browser (`web/static/js/identify`).

Cells are packed as what they are made of (weights and eps), each distinct one once a character, and looked up by
number, by character and row; the twin reckons the probabilities from them as `tables.chances` does.
"""

from __future__ import annotations

import json
from functools import cache
from typing import Any

from rickyard.identify import looks, posterior, verdict
from rickyard.identify.tables import NOT_APPLICABLE_P, REGIONS, SITUATIONS, Cell, Key, the_key

UNKNOWN = -1


def pack(key: Key) -> dict[str, Any]:
    """The tables and the method's constants, as plain values."""
    cells: list[list[list[float | int] | int]] = []
    columns: list[list[int]] = []
    for character in key.characters:
        distinct: dict[Cell, int] = {}
        column = []
        for row_id in key.row_ids:
            cell = key.cell(row_id, character.id)
            column.append(UNKNOWN if cell is None else distinct.setdefault(cell, len(distinct)))
        cells.append([[cell.eps, *cell.weights] if cell.applicable else 0 for cell in distinct])
        columns.append(column)
    return {
        "constants": {
            "mostError": posterior.MOST_ERROR,
            "notListed": posterior.NOT_LISTED_PRIOR,
            "region": posterior.REGION_WEIGHT,
            "streetPower": posterior.STREET_POWER,
            "planted": posterior.STREET_PLANTED,
            "grain": posterior.GRAIN,
            "notApplicable": NOT_APPLICABLE_P,
            "leastGain": looks.LEAST_GAIN_BITS,
            "inPlay": looks.IN_PLAY,
            "pairLeads": looks.PAIR_LEADS,
            "lensFirst": looks.LENS_FIRST,
            "named": verdict.NAMED,
            "notListedSays": verdict.NOT_LISTED_SAYS,
            "surprise": verdict.SURPRISE,
            "most": verdict.MOST_QUESTIONS,
        },
        "situations": SITUATIONS,
        "regions": list(REGIONS),
        "characters": [
            [c.id, c.situations, c.block, c.error, c.effort, list(c.states)] for c in key.characters
        ],
        "species": [
            [
                s.key_id,
                s.id,
                s.group,
                s.genus,
                "".join(s.regions.get(region, "-") for region in REGIONS),
                int(s.key_id in key.street),
            ]
            for s in key.species
        ],
        "variants": [[v.id, key.species_at[v.key_id], v.street_share] for v in key.variants],
        "pairs": [
            [*(key.species_at[name] for name in item.pair), [key.at[name] for name in item.settling]]
            for item in key.look_alikes
        ],
        "cells": cells,
        "columns": columns,
    }


@cache
def packed() -> bytes:
    """The packaged key as JSON."""
    return json.dumps(pack(the_key()), ensure_ascii=True, separators=(",", ":")).encode()
