"""The delivery ticket: what is said on it, in which words, and the printed page.

The fields are the union of what the sale laws read ask for: seller, buyer, dates, quantity and quantity
priced, price, identity, quality claim, place of harvest, who measured.
Which of them a place requires, and which words it forbids, is for `rickyard.rules` and the desk to say.
"""

from __future__ import annotations

import io
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from functools import lru_cache
from typing import Any, Literal

import segno

from rickyard.measure.units import FT3_M3
from rickyard.paper.typeset import frame, typeset
from rickyard.rules import movement_note
from rickyard.show.voice import Voice
from rickyard.text import T_, Text

PAGES_MM = {"half_letter": (139.7, 215.9), "a5": (148.0, 210.0)}
"""Paper sizes: width and height [mm]."""

CAUTIONS = (
    T_("Stack the wood off the ground, cover the top only, and leave the sides open to the air."),
    T_("Let it stand ventilated for a few weeks more under a roof; bring in what you burn in a few days."),
    T_("Burn it dry, in an appliance made for wood, with the chimney inspected and swept each year."),
    T_("Keep wood and kindling as far from the stove as its label says; ashes go in a lidded metal can."),
    T_("Have working smoke and carbon monoxide alarms. Local codes and your fire service come first."),
)
"""The usual cautions; they defer to local codes."""

FORMS: dict[str, Text] = {
    "log": T_("logs"),
    "round": T_("rounds"),
    "split": T_("split"),
    "kindling": T_("kindling"),
}
PILED: dict[str, Text] = {
    "ranked": T_("ranked and well stowed"),
    "loose": T_("loose, as thrown"),
}
CLAIMS: dict[str, Text] = {
    "seasoned": T_("seasoned"),
    "green": T_("green (not seasoned)"),
    "part": T_("partly seasoned"),
}
HOW_KNOWN: dict[str, Text] = {
    "forecast": T_("estimated from weather and wood since it was stacked"),
    "meter": T_("estimated from pin meter readings"),
    "oven": T_("oven-dry test of samples"),
    "weighed": T_("estimated from weighed samples"),
}
PRICED: dict[str, Text] = {
    "cord": T_("{price} per cord"),
    "stacked_m3": T_("{price} per stacked m³"),
    "loose_m3": T_("{price} per loose m³"),
    "ft3": T_("{price} per ft³"),
    "m3": T_("{price} per m³"),
    "solid_m3": T_("{price} per solid m³"),
    "kg": T_("{price} per kg"),
}


@dataclass(frozen=True, kw_only=True)
class Party:
    """Seller or buyer."""

    name: str
    address: str = ""
    phone: str = ""


@dataclass(frozen=True, kw_only=True)
class Dryness:
    """What is said of the moisture. Fractions of total mass; the spread is the 10th to 90th percentile.

    `claim` is a key of CLAIMS or empty; `how` a key of HOW_KNOWN or a sentence; `on` the day it is true for.
    """

    claim: str = ""
    low_mc_wet: float | None = None
    mid_mc_wet: float | None = None
    high_mc_wet: float | None = None
    on: date | None = None
    how: str | Text = ""


@dataclass(frozen=True, kw_only=True)
class TicketLine:
    """One sort of wood on the ticket.

    Parameters
    ----------
    ware
        What the yard calls it.
    species
        (name in the ticket's language, share of volume); shares sum to 1.
    quantities
        (unit id, value in that unit), all lawful at the place; the first is printed large.
    dimensions_m
        Length, height, piece length of the stack as measured [m]; empty if it was not measured so.
    measured
        How and when it was measured, and by whom.
    price_unit
        Unit id the price is for; empty if the price is for the whole.
    """

    ware: str
    species: tuple[tuple[str, float], ...]
    quantities: tuple[tuple[str, float], ...]
    form: str = "split"
    piece_length_m: float | None = None
    piled: str = "ranked"
    dimensions_m: tuple[float, ...] = ()
    measured: str | Text = ""
    dryness: Dryness | None = None
    unit_price_minor: int | None = None
    price_unit: str = ""


@dataclass(frozen=True, kw_only=True)
class TicketData:
    """All that a ticket says. `issued_at` is UTC-aware and the only time in the file.

    `harvests` are places as they should read ("York County, New Brunswick, Canada").
    `treatment` is the number of a heat-treatment certificate, or empty.
    `qr` is the text of the code; empty makes no code.
    `paid_minor` is what was paid on the spot; None leaves payment off the paper.
    `cancelled_at` says since when the ticket counts no more; it is written across the top.
    """

    seller: Party
    buyer: Party
    number: int
    issued_at: datetime
    delivered_on: date
    lines: tuple[TicketLine, ...]
    price_minor: int
    tax_minor: int
    total_minor: int
    paid_minor: int | None = None
    tax_rate: float | None = None
    currency: str = "CAD"
    order_number: int | None = None
    harvests: tuple[str, ...] = ()
    treatment: str = ""
    movement: str | Text = field(default_factory=movement_note)
    vehicle: str = ""
    driver: str = ""
    note: str = ""
    cancelled_at: datetime | None = None
    cautions: tuple[Text, ...] = CAUTIONS
    qr: str = ""
    place: str = ""
    locale: str = "en_CA"
    units: str = "imperial"
    timezone: str = "UTC"
    page: Literal["half_letter", "a5"] = "half_letter"

    @property
    def voice(self) -> Voice:
        return Voice(self.locale, self.units, self.currency, self.timezone)


def render_ticket(data: TicketData) -> bytes:
    """The ticket as a tagged PDF; the same data give the same bytes."""
    return typeset("ticket", _words(data), made_at=data.issued_at)[0]


def picture_ticket(data: TicketData, ppi: float = 144.0) -> list[bytes]:
    """The ticket's pages as PNG, for the screen."""
    return typeset("ticket", _words(data), made_at=data.issued_at, output="png", ppi=ppi)


def ticket_texts(data: TicketData) -> list[str]:
    """Every piece of wording that describes the goods, the quantity and the price, as printed.

    For the check of forbidden words; names and addresses of people are left out (Patrick is no measure).
    """
    words = _words(replace(data, qr=""))
    found: list[str] = [data.note]
    for good in words["goods"]:
        found += [good["quantity"]["value"], *good["quantity"]["also"], good["price"], good["ware"]["value"]]
        found += [f"{share['share']} {share['name']}".strip() for share in good["species"]]
        found += [f"{fact['label']}: {fact['value']} {fact['more']}".strip() for fact in good["facts"]]
    found += [fact["value"] for fact in words["origin"]["facts"] if fact["key"] in ("treatment", "movement")]
    found += words["cautions"]["items"]
    return [text for text in found if text]


# -- the words, in order of the page -----------------------------------------------------------------


def _words(data: TicketData) -> dict[str, Any]:
    """All strings of the page, translated and formatted, for the template."""
    if not data.lines:
        raise ValueError("a ticket without wood")
    voice = data.voice
    number = f"{data.number:04d}"
    title = voice.text(T_("Delivery ticket {number}", number=number))
    return frame(voice, PAGES_MM[data.page]) | {
        "title": title,
        "kind": voice.text(T_("Delivery ticket")),
        "number": number,
        "cancelled": _cancelled(data, voice),
        "seller": {"name": data.seller.name, "lines": _lines(data.seller.address, data.seller.phone)},
        "buyer": {
            "label": voice.text(T_("Delivered to")),
            "name": data.buyer.name or voice.text(T_("Buyer at the gate")),
            "lines": _lines(data.buyer.address, data.buyer.phone),
        },
        "dates": {"label": voice.text(T_("When")), "facts": _dates(data, voice)},
        "goods": [_good(line, voice) for line in data.lines],
        "origin": {"label": voice.text(T_("Origin and transport")), "facts": _origin(data, voice)},
        "money-label": voice.text(T_("Price")),
        "money": _money(data, voice),
        "cautions": {
            "label": voice.text(T_("Before you burn it")),
            "items": [voice.text(item) for item in data.cautions],
        },
        "signatures": [
            voice.text(T_("Received by")),
            voice.text(T_("Delivered by")),
            voice.text(T_("Day and hour")),
        ],
        "qr": _qr(data, title),
        "footer": _footer(data, voice),
    }


def _cancelled(data: TicketData, voice: Voice) -> dict[str, str]:
    if data.cancelled_at is None:
        return {"word": "", "more": ""}
    since = T_(
        "since {when}. This ticket was issued in error: no wood was sold on it, and nothing is to be paid.",
        when=voice.moment(data.cancelled_at),
    )
    return {"word": voice.text(T_("CANCELLED")), "more": voice.text(since)}


def _lines(address: str, phone: str) -> list[str]:
    return [*(part.strip() for part in address.splitlines()), phone.strip()]


def _fact(key: str, label: str, value: str, more: str = "") -> dict[str, str]:
    return {"key": key, "label": label, "value": value, "more": more}


def _shares(species: tuple[tuple[str, float], ...], voice: Voice) -> list[dict[str, str]]:
    """Largest first; a single species without its 100%."""
    ordered = sorted(species, key=lambda item: -item[1])
    if len(ordered) == 1:
        return [{"share": "", "name": ordered[0][0]}]
    return [{"share": voice.percent(share), "name": name} for name, share in ordered]


def _dates(data: TicketData, voice: Voice) -> list[dict[str, str]]:
    facts = [
        _fact("delivered", voice.text(T_("Delivered on")), voice.date(data.delivered_on, "long")),
        _fact("issued", voice.text(T_("Issued")), voice.moment(data.issued_at)),
    ]
    if data.order_number is not None:
        facts.append(_fact("order", voice.text(T_("Order")), str(data.order_number)))
    return facts


def _good(line: TicketLine, voice: Voice) -> dict[str, Any]:
    if not line.quantities:
        raise ValueError(f"no quantity for {line.ware!r}")
    said = [voice.quantity(value, unit) for unit, value in line.quantities]
    price = ""
    if line.unit_price_minor is not None:
        amount = voice.money(line.unit_price_minor)
        priced = PRICED.get(line.price_unit)
        price = voice.text(Text(priced.msgid, {"price": amount})) if priced else amount
    facts = [
        _fact("form", voice.text(T_("Form")), voice.text(FORMS[line.form])),
    ]
    if line.piece_length_m is not None:
        facts.append(_fact("length", voice.text(T_("Piece length")), voice.length(line.piece_length_m)))
    measured = [voice.dimensions(line.dimensions_m)] if line.dimensions_m else []
    if line.measured:
        measured.append(voice.text(line.measured))
    if measured:
        facts.append(_fact("measured", voice.text(T_("Measured")), "; ".join(measured)))
    if line.dryness is not None:
        facts.append(_dryness(line.dryness, voice))
    return {
        "quantity": {
            "label": voice.text(T_("Quantity")),
            "value": said[0],
            "fraction": "/" in said[0],
            "also": [*said[1:], voice.text(PILED[line.piled])],
        },
        "price": price,
        "ware": {"label": voice.text(T_("Wood")), "value": line.ware},
        "species": _shares(line.species, voice),
        "facts": facts,
    }


def _dryness(dryness: Dryness, voice: Voice) -> dict[str, str]:
    """The claim and the middle figure, with spread and origin in smaller print."""
    first = [voice.text(CLAIMS[dryness.claim])] if dryness.claim else []
    if dryness.mid_mc_wet is not None:
        first.append(voice.moisture(dryness.mid_mc_wet))
    more: list[str] = []
    if dryness.low_mc_wet is not None and dryness.high_mc_wet is not None:
        spread = T_(
            "8 chances in 10 that it lies between {low} and {high} of total mass",
            low=voice.percent(dryness.low_mc_wet),
            high=voice.percent(dryness.high_mc_wet),
        )
        more.append(voice.text(spread))
    if dryness.how:
        how = HOW_KNOWN.get(dryness.how, dryness.how) if isinstance(dryness.how, str) else dryness.how
        more.append(voice.text(how))
    if dryness.on is not None:
        more.append(voice.date(dryness.on))
    said = "; ".join(first) or voice.text(T_("not stated"))
    return _fact("dryness", voice.text(T_("Dryness")), said, "; ".join(more))


def _origin(data: TicketData, voice: Voice) -> list[dict[str, str]]:
    harvests = "; ".join(data.harvests) or voice.text(T_("not stated"))
    treatment = (
        voice.text(T_("certificate {number}", number=data.treatment))
        if data.treatment
        else voice.text(T_("none; the wood was not heat-treated"))
    )
    facts = [
        _fact("harvests", voice.text(T_("Harvested in")), harvests),
        _fact("treatment", voice.text(T_("Heat treatment")), treatment),
        _fact("movement", voice.text(T_("Movement")), voice.text(data.movement)),
    ]
    if data.vehicle:
        facts.append(_fact("vehicle", voice.text(T_("Vehicle")), data.vehicle))
    if data.driver:
        facts.append(_fact("driver", voice.text(T_("Driver")), data.driver))
    if data.note:
        facts.append(_fact("note", voice.text(T_("Note")), data.note))
    return facts


def _money(data: TicketData, voice: Voice) -> list[dict[str, Any]]:
    if data.price_minor + data.tax_minor != data.total_minor:
        raise ValueError(f"{data.price_minor} + {data.tax_minor} is not {data.total_minor}")
    rows: list[dict[str, Any]] = []

    def row(label: Text, minor: int, *, strong: bool = False) -> None:
        rows.append({"label": voice.text(label), "value": voice.money(minor), "strong": strong})

    if data.tax_minor:
        row(T_("Before tax"), data.price_minor)
        if data.tax_rate:
            exact = f"{data.tax_rate * 100:.4f}".rstrip("0")
            rate = voice.percent(data.tax_rate, len(exact.partition(".")[2]))
            row(T_("Tax ({rate})", rate=rate), data.tax_minor)
        else:
            row(T_("Tax"), data.tax_minor)
    else:
        rows.append({"label": voice.text(T_("No tax charged")), "value": "", "strong": False})
    row(T_("Total {currency}", currency=data.currency), data.total_minor, strong=True)
    if data.paid_minor is not None:
        row(T_("Paid"), data.paid_minor)
        row(T_("Owed"), data.total_minor - data.paid_minor)
    return rows


def _qr(data: TicketData, title: str) -> dict[str, str]:
    if not data.qr:
        return {"svg": "", "alt": ""}
    return {"svg": _square(data.qr), "alt": data.voice.text(T_("Square code of {title}", title=title))}


@lru_cache(maxsize=16)
def _square(text: str) -> str:
    """The code as a drawing; a ticket's words are asked for twice, to be checked and to be printed."""
    drawn = io.BytesIO()
    segno.make(text, error="m", micro=False).save(drawn, kind="svg", border=4, xmldecl=False, nl=False)
    return drawn.getvalue().decode("utf-8")


def _footer(data: TicketData, voice: Voice) -> str:
    said: list[str] = []
    cord_ft3 = _cord_ft3(data)
    if cord_ft3 is not None:
        cord = T_(
            "A cord here is {size} ft³ of ranked and well stowed wood, bark and air.",
            size=voice.whole(cord_ft3),
        )
        said.append(voice.text(cord))
    if any(line.dryness and line.dryness.mid_mc_wet is not None for line in data.lines):
        said.append(voice.text(T_("Percents of moisture are shares of the mass named beside them.")))
    return " ".join(said)


def _cord_ft3(data: TicketData) -> float | None:
    """What a cord measures at this place [ft³], from the quantities themselves; None where none is in cords.

    It is 128 nearly everywhere; Minnesota's law has 120 for wood sawed and split.
    """
    for line in data.lines:
        values = dict(line.quantities)
        if values.get("cord"):
            if "ft3" in values:
                return values["ft3"] / values["cord"]
            if "stacked_m3" in values:
                return values["stacked_m3"] / FT3_M3 / values["cord"]
    return None


def ticket_name(facts: Mapping[str, Any] | TicketData) -> str:
    """A file name for the ticket: ticket-0042.pdf."""
    number = facts.number if isinstance(facts, TicketData) else facts["number"]
    return f"ticket-{int(number):04d}.pdf"
