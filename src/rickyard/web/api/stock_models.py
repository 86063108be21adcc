"""What lay where on a day, as the API answers it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from rickyard.desk.past_stock import StockLine, summed
from rickyard.web.api.models import HarvestOut, Out, SpeciesOut


class StockLineOut(Out):
    """`place`: load or stack, `id` its id; oven-dry, below zero where more was taken than the book held by then."""

    place: str
    id: int
    name: str
    species: SpeciesOut
    form: str
    harvest: HarvestOut
    oven_dry_kg: float


class WoodSumOut(Out):
    """All of one species and form; `places`: at how many loads and stacks it lay."""

    species: SpeciesOut
    form: str
    oven_dry_kg: float
    places: int


class StockOut(Out):
    on: date
    oven_dry_kg: float
    by_wood: list[WoodSumOut]
    lines: list[StockLineOut]


def stock_out(on: date, lines: Sequence[StockLine]) -> StockOut:
    return StockOut(
        on=on,
        oven_dry_kg=sum(line.kg for line in lines),
        by_wood=[
            WoodSumOut(
                species=SpeciesOut.model_validate(wood.species),
                form=wood.form,
                oven_dry_kg=wood.kg,
                places=wood.places,
            )
            for wood in summed(lines)
        ],
        lines=[
            StockLineOut(
                place=line.kind,
                id=line.number,
                name=line.name,
                species=SpeciesOut.model_validate(line.species),
                form=line.form,
                harvest=HarvestOut.model_validate(line.harvest),
                oven_dry_kg=line.kg,
            )
            for line in lines
        ],
    )
