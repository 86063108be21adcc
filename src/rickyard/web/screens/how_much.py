"""How much is it: a standing tree, a truck, a weight, a row; reckoned for whoever stands before it, nothing is kept."""

from __future__ import annotations

import math
from typing import Any

from fastapi import APIRouter
from starlette.responses import Response

from rickyard.desk.expectations import kind_of_volumes
from rickyard.desk.mixes import read_mix
from rickyard.desk.yard_factor import yard_factor
from rickyard.desk.yards import place_code
from rickyard.errors import InputError
from rickyard.measure import (
    CORD_M3,
    Spread,
    log_spread,
    measure_tree,
    product,
    row_measure,
    truck_measure,
    weighed_load,
)
from rickyard.measure.trees import COUNTRIES, DBH_M, GROWN, TREE_HEIGHT_M
from rickyard.rules import weight_notes
from rickyard.text import T_
from rickyard.web.forms import Form, FormProblem
from rickyard.web.gauge_forms import read_heights, read_truck, read_weight
from rickyard.web.visit import Here, Visit
from rickyard.wood import UNNAMED, Species, find_species, get_species

router = APIRouter(include_in_schema=False)

THINGS = ("tree", "truck", "weight", "row")
_NAMES = {
    "dbh": "dbh",
    "height": "tree_height",
    "width": "bed_width",
    "piece_length": "lying_length",
    "net": "net_weight",
    "mc_wet": "weighed_moisture",
}
_ROW_NAMES = {"piece_length": "piece_length"}


@router.get("/how-much")
def how_much(visit: Here, of: str = "tree") -> Response:
    thing = of if of in THINGS else "tree"
    asked = visit.request.query_params
    presets: dict[str, Any] = {
        "grown": "forest",
        "tiers": "1",
        "lying": "ranked",
        "weighed_bark": "on",
        "rows": "1",
    }
    presets |= {name: asked.getlist(name) for name in asked if name != "of"}
    form = visit.form(**presets)
    found: dict[str, Any] | None = None
    # A page that was only opened holds no question yet.
    if "ask" in asked:
        try:
            found = _ASK[thing](visit, form)
        except FormProblem:
            found = None
    return visit.page(
        "how_much.html",
        422 if form.complaints else 200,
        form=form,
        thing=thing,
        things=THINGS,
        found=found,
    )


def _tree(visit: Visit, form: Form) -> dict[str, Any]:
    wood = _wood(form, "tree_species")
    dbh = form.length_or_none("dbh", low=DBH_M[0], high=DBH_M[1], small=True)
    girth = form.length_or_none("girth", low=DBH_M[0] * math.pi, high=DBH_M[1] * math.pi, small=True)
    if (dbh is None) == (girth is None) and not form.complaints:
        form.complain(
            InputError(
                "dbh",
                wanted=T_("the diameter or the girth at breast height"),
                got=T_("both") if dbh else T_("neither"),
                next_move=T_("Measure at 1.3 m (4.5 ft) from the ground, and give one of them."),
            )
        )
    height = form.length_or_none("tree_height", low=TREE_HEIGHT_M[0], high=TREE_HEIGHT_M[1])
    grown = form.choice("grown", GROWN, "forest")
    form.check()
    country = visit.facts.country if visit.facts.country in COUNTRIES else "US"
    with form.asking(**_NAMES):
        tree = measure_tree(
            wood, dbh if dbh is not None else (girth or 0.0) / math.pi, height, country=country, grown=grown
        )
    green = tree.green_kg / tree.oven_dry_kg
    return {
        "tree": tree,
        "wood": wood,
        "wood_m3": log_spread(tree.wood_m3, tree.log_sd),
        "bark_m3": log_spread(tree.bark_m3, tree.log_sd),
        "green_kg": tree.oven_dry_spread_kg.scaled(green),
        "stacked_m3": tree.cords.scaled(CORD_M3),
        "branches_m3": tree.branch_cords_most * CORD_M3,
        "warnings": tree.warnings,
    }


def _truck(visit: Visit, form: Form) -> dict[str, Any]:
    figures = read_truck(form)
    form.check()
    with form.asking(**_NAMES):
        truck = truck_measure(
            figures.width_m,
            figures.fill_heights_m,
            figures.piece_length_m,
            length_m=figures.length_m,
            tiers=figures.tiers,
            piled=figures.piled,
        )
    return {
        "outside": truck.outside,
        "solid_m3": truck.solid_m3,
        "stacked_m3": _stacked(visit, truck.solid_m3, None),
        "warnings": truck.notes,
    }


def _weight(visit: Visit, form: Form) -> dict[str, Any]:
    shares: list[tuple[Species, float]] = []
    try:
        shares = [(get_species(name), share) for name, share in read_mix(form.value("wood"), "wood")]
    except InputError as error:
        form.complain(error)
    figures = read_weight(form)
    form.check()
    with form.asking(**_NAMES):
        load = weighed_load(figures.net_kg, shares, mc_wet=figures.mc_wet, bark=figures.bark)
    place = place_code(visit.facts.country, visit.facts.subdivision)
    return {
        "solid_m3": load.solid_m3,
        "oven_dry_kg": load.oven_dry_kg,
        "stacked_m3": _stacked(visit, load.solid_m3, kind_of_volumes(dict(shares))[0]),
        "warnings": (*load.warnings, *weight_notes(place)),
    }


def _row(visit: Visit, form: Form) -> dict[str, Any]:
    length = form.length("length", low=0.1, high=100.0)
    heights = read_heights(form)
    piece = form.length("piece_length", low=0.05, high=2.6, small=True)
    ends = [
        end
        for name in ("crisscross", "crisscross2")
        if (end := form.length_or_none(name, low=0.0, high=10.0))
    ]
    rows = form.count("rows", low=1, high=40)
    form.check()
    with form.asking(**_ROW_NAMES):
        row = row_measure(length, heights, piece, crisscross_m=ends, rows=rows)
    factor = yard_factor(visit.desk)
    return {
        "outside": row.outside,
        "solid_m3": product(row.outside.spread_m3, factor.share("ranked", "split", piece)),
        "factor": factor,
        "warnings": row.notes,
    }


def _stacked(visit: Visit, solid: Spread, kind: str | None) -> Spread:
    """What so much solid wood fills, split and stacked at stove length: by the yard's own factor, where it has one."""
    share = yard_factor(visit.desk).share("ranked", "split", 0.4064, kind or "")
    return product(solid, share.into(1.0))


def _wood(form: Form, name: str) -> Species:
    typed = form.text(name, needed=True)
    if not typed:
        return UNNAMED
    try:
        return find_species(typed, field=name)
    except InputError as error:
        form.complain(error)
        return UNNAMED


_ASK = {"tree": _tree, "truck": _truck, "weight": _weight, "row": _row}
