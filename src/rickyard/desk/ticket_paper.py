"""A ticket's facts as the paper wants them, and the check of its wording."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from rickyard.book.models import Ticket
from rickyard.errors import RefusedError
from rickyard.paper import Dryness, Party, TicketData, TicketLine, ticket_texts
from rickyard.rules import check_wording, place_rules, quantity_in_lawful_units
from rickyard.season import meter_mc
from rickyard.show import species_name
from rickyard.show.regions import place_name
from rickyard.text import T_
from rickyard.wood import get_species, wet_from_db

_REACH = 1.2816  # 10th and 90th percentile of a normal error
OVEN_SD_WET = 0.01


def data_of(ticket: Ticket) -> TicketData:
    """What the paper of a ticket needs, as it was issued; of one that froze how it is printed."""
    how = ticket.facts["paper"]
    return ticket_data(
        ticket.facts,
        number=ticket.number,
        issued_at=ticket.issued_at,
        delivered_on=ticket.delivered_on,
        price_minor=ticket.price_minor,
        tax_minor=ticket.tax_minor,
        total_minor=ticket.total_minor,
        currency=ticket.currency,
        locale=how["locale"],
        units=how["units"],
        timezone=how["timezone"],
    )


def ticket_data(
    facts: Mapping[str, Any],
    *,
    number: int,
    issued_at: datetime,
    delivered_on: date,
    price_minor: int,
    tax_minor: int,
    total_minor: int,
    currency: str,
    locale: str,
    units: str,
    timezone: str,
) -> TicketData:
    """What the paper needs, from the facts frozen when the ticket was issued.

    Payments are not on it: a ticket is not changed by what happens later.
    """
    place = _place(facts)
    seller, buyer = Party(**facts["seller"]), Party(**facts["buyer"])
    ranked = sum(line["ranked_m3"] for line in facts["lines"])
    lawful = quantity_in_lawful_units(place, ranked, form=facts["form"])
    first_unit, first_value = lawful[0]
    return TicketData(
        seller=seller,
        buyer=buyer,
        number=number,
        issued_at=issued_at,
        delivered_on=delivered_on,
        lines=tuple(_line(facts, line, locale, alone=len(facts["lines"]) == 1) for line in facts["lines"]),
        price_minor=price_minor,
        tax_minor=tax_minor,
        total_minor=total_minor,
        tax_rate=facts["tax_rate"],
        currency=currency,
        order_number=facts["order_number"],
        harvests=tuple(
            dict.fromkeys(
                place_name(item["country"], item["subdivision"], item["county"], locale)
                for item in facts["harvests"]
            )
        ),
        treatment=", ".join(
            dict.fromkeys(item["certificate"] for item in facts["harvests"] if item["certificate"])
        ),
        vehicle=facts["vehicle"],
        driver=facts["driver"],
        qr=f"{seller.name} | ticket {number} | {delivered_on.isoformat()} | {first_value:.3f} {first_unit}",
        place=place,
        locale=locale,
        units=units,
        timezone=timezone,
    )


def refuse_unlawful_words(data: TicketData, language: str) -> None:
    """RefusedError if any wording on the ticket is forbidden where it is handed out."""
    for text in ticket_texts(data):
        problems = check_wording(data.place, text, language, kind="words")
        if problems:
            first = problems[0]
            raise RefusedError(
                T_(
                    "The ticket would say “{word}”. {rule} {instead} Change the name of what is sold.",
                    word=first.word,
                    rule=first.rule,
                    instead=first.instead,
                ),
                code="unlawful_wording",
                field="ware",
            )


def _place(facts: Mapping[str, Any]) -> str:
    country, subdivision = facts["place"]["country"], facts["place"]["subdivision"]
    return f"{country}-{subdivision}" if subdivision else str(country)


def _line(facts: Mapping[str, Any], line: Mapping[str, Any], locale: str, *, alone: bool) -> TicketLine:
    place = _place(facts)
    priced = alone and facts["price_unit"] in place_rules(place).units_allowed
    return TicketLine(
        ware=facts["ware"],
        species=tuple((species_name(get_species(name), locale), share) for name, share in line["shares"]),
        quantities=tuple(quantity_in_lawful_units(place, line["ranked_m3"], form=facts["form"])),
        form=facts["form"],
        piece_length_m=line["piece_length_m"],
        piled=facts["piled"],
        measured=T_(
            "share of stack {name}, whose outside was measured on {day}",
            name=line["stack"],
            day=line["measured_on"],
        ),
        dryness=_dryness(facts, line["dryness"]),
        unit_price_minor=facts["unit_price_minor"] if priced else None,
        price_unit=facts["price_unit"] if priced else "",
    )


def _dryness(facts: Mapping[str, Any], known: Mapping[str, Any] | None) -> Dryness:
    wanted = facts["max_mc_wet"]
    if known is None:
        return Dryness(claim="green" if wanted is None else "")
    if known["how"] == "forecast":
        low, mid, high = known["mc_wet"]
    elif known["how"] == "oven":
        mid = known["value"]
        low, high = mid - _REACH * OVEN_SD_WET, mid + _REACH * OVEN_SD_WET
    else:
        read = meter_mc(get_species(known["species_id"]), known["value"], known["temp_c"])
        low, mid, high = (
            wet_from_db(max(0.01, read.mc_db + reach * read.sd_db)) for reach in (-_REACH, 0.0, _REACH)
        )
    claim = "green" if wanted is None else "seasoned" if mid <= wanted else "part"
    return Dryness(
        claim=claim,
        low_mc_wet=max(0.0, low),
        mid_mc_wet=mid,
        high_mc_wet=high,
        on=date.fromisoformat(known["on"]),
        how=known["how"],
    )
