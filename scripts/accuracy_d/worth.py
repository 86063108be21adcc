"""Worth of wood on offer: hours and margins against published figures that no assumption was made from."""

from __future__ import annotations

from typing import Any

from rickyard.measure import CORD_M3, Spread, solid_share
from rickyard.wood import find_species, mass_kg
from rickyard.worth import Costs, Margin, PricedWare, rough_wood, step_hours, worth_of

STOVE_M = 0.4064


def tables() -> list[dict[str, Any]]:
    return [_hours(), _books()]


def _rates(method: str) -> dict[str, Spread]:
    return {rate.step: rate.per_cord for rate in step_hours(Costs(method=method))}


def _sum(rates: dict[str, Spread], *steps: str) -> Spread:
    """Several steps together; their errors are taken as independent."""
    mid = sum(rates[step].mid for step in steps)
    below = sum((rates[step].mid - rates[step].low) ** 2 for step in steps) ** 0.5
    above = sum((rates[step].high - rates[step].mid) ** 2 for step in steps) ** 0.5
    return Spread(mid - below, mid, mid + above)


def _hours() -> dict[str, Any]:
    processor, hydraulic, maul = _rates("processor"), _rates("hydraulic_splitter"), _rates("splitting_maul")
    solid = CORD_M3 * solid_share("ranked", "split", STOVE_M).mid
    beech = find_species("american beech")
    green_t = mass_kg(beech, solid, beech.green_mc_db) / 1000.0
    rows = [
        _row(
            "processor, small oak logs, m³ solid an hour (Lombardini et al. 2014, abstract)",
            "1.4 to 4.9",
            processor["splitting"].into(solid),
            (1.4, 4.9),
        ),
        _row(
            "small processor, beech, green t an hour (Manzone and Spinelli 2014, abstract)",
            "1.1 to 2.1",
            processor["splitting"].into(green_t),
            (1.1, 2.1),
        ),
        _row(
            "low-end processor, whole business with delivery, h a cord (practitioners, TractorByNet 303328)",
            "3.0",
            _sum(processor, "splitting", "stacking", "loading", "delivering"),
            (3.0, 3.0),
        ),
        _row(
            "the same, sold from the machine: not stacked, not loaded again, h a cord",
            "3.0",
            _sum(processor, "splitting", "delivering"),
            (3.0, 3.0),
        ),
        _row(
            "three people, rented splitter, 4 to 5 cords in a day (taken as 8 h each), h a cord "
            "(practitioner, Hearth 33725)",
            "4.8 to 6.0",
            hydraulic["splitting"],
            (4.8, 6.0),
        ),
        _row(
            "an athlete with a maul, good red oak, h a cord (practitioners, Arborist Site 31784)",
            "1",
            maul["splitting"],
            (1.0, 1.0),
        ),
        _row(
            "a beginner's first cord with saw, tractor and splitter, stacked, h (practitioners, TractorByNet 303328)",
            "40 or more",
            _sum(hydraulic, "sawing", "splitting", "stacking"),
            (40.0, 40.0),
        ),
        _row(
            "one man, 10 cords cut and stacked in 8 part days (taken as 4 to 8 h), h a cord (blog, 2015)",
            "3.2 to 6.4",
            _sum(hydraulic, "sawing", "splitting", "stacking"),
            (3.2, 6.4),
        ),
    ]
    return {
        "title": "Hours that are assumed, against other reports",
        "source": "abstracts and single practitioners, as named in each row",
        "note": "Ours: middle, 10th to 90th percentile. The splitter's hours are from one book's test, those of "
        "the processor from one practitioner; sawing, stacking, loading and unloading are judgements. None of these "
        "rows was used for them. Most of the spread is between people: time your own.",
        "columns": ["case", "reported", "ours", "meets"],
        "rows": rows,
    }


def _row(case: str, said: str, ours: Spread, reported: tuple[float, float]) -> list[str]:
    meets = ours.low <= reported[1] and ours.high >= reported[0]
    return [case, said, f"{ours.mid:.2f} ({ours.low:.2f} to {ours.high:.2f})", "yes" if meets else "no"]


def _books() -> dict[str, Any]:
    """One practitioner's own books, put in as he told them: what is left for an hour, by our adding up."""
    rows = []
    for label, price, delivered in (
        ("sold at the gate, 80 a face cord", 240.0, 0.0),
        ("all delivered, 20 a face cord more", 300.0, 1.0),
    ):
        costs = Costs(
            wage_minor_h=0,
            machine_minor_h=0,
            fuel_minor_l=0,
            vehicle_minor_km=0,
            space_minor_cord_month=0,
            metal_minor=0,
            delivered_share=delivered,
            kerf_m=0.0,
            hours=(
                ("sawing", 1.0),
                ("splitting", 1.0),
                ("stacking", 1.0),
                ("loading", 0.0),
                ("delivering", 0.0),
            ),
        )
        ware = PricedWare("face cords", "split", 0.41, 100.0 * price / CORD_M3, 0.20)
        found = worth_of(
            rough_wood(10.0, "solid_m3", [(find_species("red oak"), 1.0)]),
            [ware],
            costs=costs,
            margin=Margin("load", 0.0),
        )
        # Logs 47 and supplies 3 a face cord, 30 a cord for the machine: what he paid.
        paid = round(100.0 * (3 * 50.0 + 30.0) * found.cords)
        earned = found.earned_per_hour(paid) or 0.0
        rows.append([label, "22.50", f"{earned / 100.0:.2f}"])
    return {
        "title": "One practitioner's books, added up",
        "source": "Practitioners, firewood costs, TractorByNet thread 303328: logs 47 and supplies 3 a face cord, the "
        "machine 3,000 a year over 100 cords, 300 hours for 100 cords, 22.50 USD net an hour",
        "note": "A check of the adding up, not of any assumption: his own figures are put in. He does not say how much "
        "he delivers; his answer lies between the two.",
        "columns": ["sold how", "he says, USD an hour", "ours"],
        "rows": rows,
    }
