"""Fields of measuring that several forms have: a truck's bed, a weighbridge ticket."""

from __future__ import annotations

from rickyard.desk.load_measures import TruckFigures, WeightFigures
from rickyard.web.forms import Form

PILED = ("ranked", "loose")


def read_heights(form: Form, *, high: float = 6.0) -> tuple[float, ...]:
    """One to three heights [m]."""
    heights = [form.length("height", low=0.05, high=high)]
    heights += [
        height
        for name in ("height2", "height3")
        if (height := form.length_or_none(name, low=0.05, high=high)) is not None
    ]
    return tuple(heights)


def read_truck(form: Form) -> TruckFigures:
    """A load on the truck; complaints are kept in the form."""
    return TruckFigures(
        width_m=form.length("bed_width", low=0.5, high=6.0),
        fill_heights_m=read_heights(form),
        piece_length_m=form.length("lying_length", low=0.2, high=20.0),
        length_m=form.length_or_none("bed_length", low=0.5, high=30.0),
        tiers=form.count("tiers", low=1, high=20) if form.value("tiers").strip() else 1,
        piled=form.choice("lying", PILED, "ranked"),
    )


def read_weight(form: Form) -> WeightFigures:
    """A weighbridge ticket; complaints are kept in the form."""
    return WeightFigures(
        net_kg=form.mass("net_weight", low=20.0, high=200_000.0),
        mc_wet=form.percent_or_none("weighed_moisture", basis="wet", low=0.02, high=0.75),
        bark=form.choice("weighed_bark", ("on", "off"), "on") == "on",
    )
