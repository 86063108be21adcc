"""What a text must say and does not: the fields of a ticket, and the statements an offer or a label owes."""

from __future__ import annotations

import re
from typing import Literal

from rickyard.rules.amounts import Amount
from rickyard.rules.places import Place
from rickyard.rules.tables import rows_along, rows_for
from rickyard.rules.terms import flat

_LABEL = re.compile(
    r"^[ ]*(?:label|etiquette)\b|\b(?:label|etiquette)[ ]?:|\bpacked by\b|\bquantite nette\b"
    r"|\bnet (?:quantity|contents?|volume|qty)\b"
)
_TICKET = re.compile(
    r"\b(?:delivery ticket|ticket|bill of sale|invoice|receipt|delivery slip|bon de livraison|billet|facture|recu)\b"
    r"|\b(?:delivered|quantity|livre|quantite)[ ]?:"
)
_MONTH = r"(?:jan|feb|fev|mar|apr|avr|may|mai|jun|juin|jul|juil|aug|aout|sep|oct|nov|dec)[a-z]*\.?"

_WOODS = (
    "oak|maple|birch|ash|beech|hickory|elm|cherry|locust|hornbeam|ironwood|walnut|poplar|aspen|cottonwood|alder"
    "|willow|basswood|sycamore|hackberry|mulberry|apple|pecan|mesquite|juniper|almond|eucalyptus|pine|spruce|fir"
    "|hemlock|larch|tamarack|cedar|redwood|hardwoods?|softwoods?|deciduous|conifer(?:ous|s)?|mixed wood|fruitwood"
    "|osage|hedge|gum|chestnut|butternut|dogwood|madrone|tanoak|pinyon|pinon"
    "|chene|erable|bouleau|merisier|frene|hetre|orme|cerisier|charme|noyer|peuplier|tremble|saule|tilleul|pin"
    "|epinette|sapin|pruche|meleze|cedre|feuillus?|bois franc|bois mou|resineux"
)
_ADDRESS = (
    r"\d+[a-z]?[ ][a-z'.-]+(?:[ ][a-z'.-]+){0,2}[ ]"
    r"(?:street|st\.?|road|rd\.?|lane|ln\.?|avenue|ave\.?|drive|dr\.?|hill|way|court|highway|hwy|route|place|circle"
    r"|trail|boulevard|blvd)\b"
    r"|\d+,?[ ](?:rue|chemin|route|rang|avenue|boulevard)\b"
)
_FINDS: dict[str, re.Pattern[str]] = {
    "seller_name": re.compile(r"\b(?:seller|sold by|vendor|vendeur|vendu par|supplied by|from:)"),
    "seller_address": re.compile(_ADDRESS),
    "buyer_name": re.compile(
        r"\b(?:buyer|sold to|customer|purchaser|acheteur|client|vendu a|deliver(?:ed)? to|bill to|ship to)\b"
    ),
    "buyer_address": re.compile(_ADDRESS),
    "date_delivered": re.compile(
        rf"\b\d{{1,2}}(?:er)?[ ]{_MONTH}[ ,]*\d{{4}}|\b{_MONTH}[ ]\d{{1,2}}(?:st|nd|rd|th)?,?[ ]\d{{4}}"
        r"|\b\d{4}-\d{2}-\d{2}\b|\b\d{1,2}[/.]\d{1,2}[/.]\d{2,4}\b"
    ),
    "price": re.compile(
        r"[$€£][ ]?\d|\d[ ]?[$€£]|\b\d+(?:[.,]\d\d)?[ ](?:dollars|usd|cad|euros?|pounds)\b|\bprice[d: ]|\bprix\b"
    ),
    "identity_species": re.compile(rf"\b(?:{_WOODS})\b"),
    "species_group": re.compile(rf"\b(?:{_WOODS})\b"),
    "green_or_dry": re.compile(
        r"\b(?:green|unseasoned|seasoned|dry|(?:kiln|air)?[- ]?dried|fresh(?:ly)?[- ]cut|wet|vert|sec|seche)\b"
    ),
    "harvest_county_state": re.compile(
        r"\b(?:harvest(?:ed)?|felled|logged|grown|cut|origin|sourced?)\b[^;\n]{0,60}\b(?:count(?:y|ies)|co\.)"
        r"|\bcount(?:y|ies) (?:and state )?of harvest\b"
    ),
    "measured_by_name_address": re.compile(r"\b(?:measured by|measurer|mesure par|scaled by)\b"),
    "net_quantity_dm3": re.compile(r"\d[ ]?(?:dm(?:3|³|\^3)|cubic decimet|decimetres? cubes?)"),
    "ready_to_burn": re.compile(r"\bready[ -]to[ -]burn\b"),
    "certificate_number": re.compile(
        r"\b(?:certificat(?:e|ion)|cert\.?|supplier|licen[cs]e|registration)[ ](?:no\.?|number|#)?[ ]?:?[ ]?"
        r"[a-z]{0,4}[ -]?\d"
        r"|\b(?:number|no\.?)[ ]?:?[ ]?[a-z]{1,4}[ -]?\d{2,}"
    ),
}  # fmt: skip


def kind_of(text: str) -> Literal["ad", "ticket", "label"]:
    """Whether a text is a ticket or a label by its own words; else an advertisement."""
    plain = flat(text)
    if _TICKET.search(plain):
        return "ticket"
    return "label" if _LABEL.search(plain) else "ad"


def missing_statements(
    place: Place, text: str, kind: str, said: list[Amount], *, inferred: bool
) -> list[tuple[str, str]]:
    """What a whole text must say at a place and does not: (field, source ids).

    A text that is a ticket only by its own words is taken for a whole one if it also says two of date, price,
    seller, buyer and who measured; a text that names no amount offers nothing.
    Names and addresses are only looked for as words such as "seller" and as a street address.
    """
    plain = flat(text)
    if kind != "label" and not said:
        return []
    missing = []
    if kind == "ticket" and not (inferred and _fragment(plain)):
        for row in rows_for("ticket_fields", place.lineage):
            if row["required"] != "yes" or row["when"] or row["basis"] != "law":
                continue
            if not _says(row["field"], plain, said):
                missing.append((row["field"], row["source"]))
    for row in rows_along("statements", place.lineage):
        if row["kind"] not in ("any", kind) or (row["kind"] == "any" and not _offers(plain)):
            continue
        if row["field"] in ("ready_to_burn", "certificate_number") and _large(said):
            continue
        if not _says(row["field"], plain, said):
            missing.append((row["field"], row["source"]))
    return missing


def _says(field: str, plain: str, said: list[Amount]) -> bool:
    if field == "quantity_delivered":
        return any(amount.count is not None for amount in said) or bool(said)
    if field == "seller_address":
        return bool(_FINDS[field].search(plain))
    if field == "buyer_address":
        return len(_FINDS[field].findall(plain)) >= 2 or not _FINDS["seller_name"].search(plain)
    if field in ("identity_species", "species_group"):
        return bool(_FINDS[field].search(_FINDS["seller_address"].sub(" ", plain)))  # Elm Street is no elm
    return bool(_FINDS[field].search(plain))


def _fragment(plain: str) -> bool:
    told = ("date_delivered", "price", "seller_name", "buyer_name", "measured_by_name_address")
    return sum(bool(_FINDS[field].search(plain)) for field in told) < 2


def _offers(plain: str) -> bool:
    """Whether a text with an amount in it offers wood: it names a price, a wood or a delivery."""
    return bool(
        _FINDS["price"].search(plain)
        or _says("species_group", plain, [])
        or re.search(r"\b(?:for sale|deliver(?:ed|y)?|available|pick ?up|firewood)\b", plain)
    )


def _large(said: list[Amount]) -> bool:
    return any(
        amount.unit in ("stacked_m3", "loose_m3") and amount.count is not None and amount.count >= 2.0
        for amount in said
    )
