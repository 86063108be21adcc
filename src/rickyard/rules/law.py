"""A place's rules of measure: units, words, sizes of a cord, ticket fields."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date

from rickyard.errors import InputError
from rickyard.measure import CORD_FT3, FT3_M3
from rickyard.rules.places import Place, Standing, find_place
from rickyard.rules.tables import Row, rows_along, rows_for, table
from rickyard.text import T_, Text

UNREAD_UNITS = ("stacked_m3",)
"""Units shown where nothing was read: the one that no rule read forbids outside the United States."""

FIELD_LABELS: dict[str, Text] = {
    "seller_name": T_("seller's name"),
    "seller_address": T_("seller's address"),
    "seller_telephone": T_("seller's telephone"),
    "buyer_name": T_("buyer's name"),
    "buyer_address": T_("buyer's address"),
    "date_delivered": T_("date of delivery"),
    "quantity_delivered": T_("quantity delivered"),
    "quantity_price_is_based_on": T_("quantity the price is based on"),
    "price": T_("price"),
    "identity_species": T_("kind of wood"),
    "quality_claim_or_moisture": T_("any claim of quality or moisture"),
    "count_of_packages": T_("number of packages"),
    "harvest_county_state": T_("county and state of harvest"),
    "measured_by_name_address": T_("name and address of who measured"),
    "vehicle_plate": T_("licence plate of the vehicle"),
    "green_or_dry": T_("green (unseasoned) or dry"),
    "species_group": T_("species group"),
    "net_quantity_dm3": T_("net quantity in cubic decimetres"),
    "ready_to_burn": T_("the words Ready to Burn"),
    "certificate_number": T_("certificate number"),
}


@dataclass(frozen=True)
class Source:
    """What a rule was read in, and how."""

    id: str
    citation: str
    edition: str
    address: str
    how_read: str


@dataclass(frozen=True)
class Rule:
    """One rule in our words, with the id of its source, how it was read and when it was put in."""

    place: str
    subject: str
    text: str
    source: str
    how_known: str
    read_on: date


@dataclass(frozen=True)
class TicketField:
    """Something a ticket must, or need not, say at a place.

    `when` is empty if it is required always, else the condition ("if it differs from the quantity delivered").
    `basis` is law, or advice where the authority only tells buyers to ask for it.
    """

    name: str
    required: bool
    when: str
    basis: str
    label: Text
    source: str
    note: str
    read_on: date


@dataclass(frozen=True)
class MeasureRules:
    """What was read of a place's law of measure.

    Attributes
    ----------
    place, name, standing
        Code, English name, and how far its rules were read: `read`, `part`, `model` or `none`.
    units_allowed
        Unit ids for wood sold in bulk, the preferred first: cord, stacked_m3, ft3, loose_cord, unit_load.
    words_forbidden
        Measure words that may not be used to advertise, offer or sell.
    words_unsettled
        Measure words that the sources read do not settle.
    cord_ft3
        Outside volume of a cord [ft³] by form: `ranked` (any length, in Minnesota four-foot lengths), `loose`
        (split stove wood thrown loose), and others named for what they are. Empty where a cord is no unit.
    ticket_fields
        What a delivery ticket holds.
    rules
        The rules in our words.
    sources
        What they were read in.
    read_on
        Day on which the rules were put into the tables.
    authority
        Whom to ask.
    advice
        That this is no legal advice, how far it was read, and whom to ask.
    """

    place: str
    name: str
    standing: Standing
    units_allowed: tuple[str, ...]
    words_forbidden: tuple[str, ...]
    words_unsettled: tuple[str, ...]
    cord_ft3: dict[str, float]
    ticket_fields: tuple[TicketField, ...]
    rules: tuple[Rule, ...]
    sources: tuple[Source, ...]
    read_on: date
    authority: str
    note: str
    advice: Text

    @property
    def known(self) -> bool:
        """Whether any rule of the place itself was read."""
        return self.standing in ("read", "part")


def place_rules(place: str) -> MeasureRules:
    """The rules of measure of a country or subdivision (`CA-NB`, `US-MN`), or of an English name in the tables.

    A subdivision inherits from its country, and a state that adopts the model regulation from that.
    Where nothing was read the result says so (`standing` is `none`, or `model` in the United States) and carries
    the cautious default.
    Raises UnknownNameError for what is no country or subdivision.
    """
    return _rules(find_place(place))


def ticket_fields(place: str) -> tuple[TicketField, ...]:
    """What a delivery ticket must or need not say at a place; empty where no list was read."""
    return place_rules(place).ticket_fields


def quantity_in_lawful_units(
    place: str, stacked_m3: float, *, form: str = "split"
) -> list[tuple[str, float]]:
    """The units a ticket at a place should print, the first largest, with the value in each.

    Parameters
    ----------
    stacked_m3
        Outside volume ranked and well stowed [m³].
    form
        split, round or log; Minnesota's cord is 120 ft³ sawed and split, 110 sawed, 128 in four-foot lengths.

    Raises UnknownNameError for the place, InputError for a volume or form that makes no sense.
    """
    if not (0.0 <= stacked_m3 < math.inf):
        raise InputError(
            "stacked_m3",
            wanted=T_("a stacked volume, zero or more"),
            got=f"{stacked_m3:g}",
            next_move=T_("Measure the stack: length, height and length of the pieces."),
        )
    if form not in ("split", "round", "log", "kindling"):
        raise InputError(
            "form",
            wanted=T_("split, round, log or kindling"),
            got=form,
            next_move=T_("Say what the wood is cut to."),
        )
    found = find_place(place)
    rows = rows_for("units", found.lineage)
    units = [row["unit"] for row in rows if row["on_ticket"] == "yes"] or list(UNREAD_UNITS)
    sizes_m3 = {
        "stacked_m3": 1.0,
        "ft3": FT3_M3,
        "cord": ranked_cord_ft3(_cord_sizes(found), form) * FT3_M3,
    }
    return [(unit, stacked_m3 / sizes_m3[unit]) for unit in units]


def ranked_cord_ft3(sizes: dict[str, float], form: str) -> float:
    """Outside volume of a ranked cord [ft³] of wood in a form, from a place's sizes; 128 where none was read."""
    named = {"round": "ranked_sawed", "split": "ranked_sawed_split", "kindling": "ranked_sawed_split"}
    return sizes.get(named.get(form, "ranked"), sizes.get("ranked", CORD_FT3))


def weight_notes(place: str) -> tuple[Text, ...]:
    """What the rules read for a place say of weight: agreed, turned into volume, or the measure of a cord.

    Where nothing was read of it, that the measure of sale is the volume stacked.
    Raises UnknownNameError for the place.
    """
    found = find_place(place)
    said = tuple(
        T_(
            "{place}: {rule} ({source}).",
            place=found.name,
            rule=row["rule_in_our_words"],
            source=row["source"],
        )
        for row in rows_along("law_rules", found.lineage)
        if row["subject"] == "weight"
    )
    if said:
        return said
    return (
        T_(
            "{place}: no rule on weight was read; the measure of sale is the stacked volume. Ask {authority}.",
            place=found.name,
            authority=found.authority,
        ),
    )


def movement_note() -> Text:
    """What a ticket says until the rules on moving wood are checked."""
    return T_(
        "Movement not checked: insects travel in firewood, and moving it may be restricted. "
        "Ask your plant-health agency before this wood leaves the area it came from."
    )


def _rules(place: Place) -> MeasureRules:
    lineage = place.lineage
    units = rows_for("units", lineage)
    terms = [row for row in rows_along("forbidden_terms", lineage) if row["scope"] != "unsettled"]
    open_terms = [row for row in rows_along("forbidden_terms", lineage) if row["scope"] == "unsettled"]
    fields = tuple(_field(row) for row in rows_for("ticket_fields", lineage))
    cords = rows_for("legal_cord_volumes", lineage)
    laws = rows_along("law_rules", lineage)
    statements = rows_along("statements", lineage)
    every = [*units, *terms, *open_terms, *rows_for("ticket_fields", lineage), *cords, *laws, *statements]
    days = [date.fromisoformat(row["read_on"]) for row in every]
    return MeasureRules(
        place=place.code,
        name=place.name,
        standing=place.standing,
        units_allowed=tuple(row["unit"] for row in units) or UNREAD_UNITS,
        words_forbidden=tuple(dict.fromkeys(row["term"] for row in terms)),
        words_unsettled=tuple(
            dict.fromkeys(
                row["term"] for row in open_terms if row["term"] not in {term["term"] for term in terms}
            )
        ),
        cord_ft3=_cord_sizes(place),
        ticket_fields=fields,
        rules=tuple(_rule(row) for row in laws),
        sources=_sources(every),
        read_on=max(days, default=_last_day()),
        authority=place.authority,
        note=place.note,
        advice=advice(place),
    )


def advice(place: Place) -> Text:
    """That this is no legal advice, how far the place's rules were read, and whom to ask."""
    if place.standing == "read":
        return T_(
            "Not legal advice: rules of {place} as read and put in by {day}. Ask {authority} before you rely on it.",
            place=place.name,
            day=_last_day().isoformat(),
            authority=place.authority,
        )
    if place.standing == "part":
        return T_(
            "Not legal advice: only part of the rules of {place} was read, by {day}. Ask {authority}.",
            place=place.name,
            day=_last_day().isoformat(),
            authority=place.authority,
        )
    if place.standing == "model":
        return T_(
            "Not legal advice: the rules of {place} were not read; the model regulation of NIST Handbook 130 is "
            "shown. Ask {authority}.",
            place=place.name,
            authority=place.authority,
        )
    return T_(
        "Not legal advice: no rules were read for {place}; the stacked cubic metre is shown. Ask {authority}.",
        place=place.name,
        authority=place.authority,
    )


def _cord_sizes(place: Place) -> dict[str, float]:
    return {row["key"]: float(row["ft3"]) for row in rows_for("legal_cord_volumes", place.lineage)}


def _field(row: Row) -> TicketField:
    return TicketField(
        name=row["field"],
        required=row["required"] == "yes",
        when=row["when"],
        basis=row["basis"],
        label=FIELD_LABELS[row["field"]],
        source=row["source"],
        note=row["note"],
        read_on=date.fromisoformat(row["read_on"]),
    )


def _rule(row: Row) -> Rule:
    return Rule(
        place=row["place"],
        subject=row["subject"],
        text=row["rule_in_our_words"],
        source=row["source"],
        how_known=row["how_known"],
        read_on=date.fromisoformat(row["read_on"]),
    )


def source_ids(text: str) -> list[str]:
    """The ids in a source column such as `HB130-PA+HB130-AZ`."""
    return [name.strip() for name in text.replace(";", "+").split("+")]


def _sources(rows: list[Row]) -> tuple[Source, ...]:
    wanted = {name for row in rows for name in source_ids(row["source"])}
    return tuple(
        Source(row["id"], row["citation"], row["edition"], row["address"], row["how_read"])
        for row in table("sources")
        if row["id"] in wanted
    )


def _last_day() -> date:
    return max(date.fromisoformat(row["read_on"]) for row in table("law_rules"))
