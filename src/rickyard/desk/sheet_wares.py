"""The wares of a cut sheet: as they are asked for, as they are planned with, and as the sheet keeps them."""

from __future__ import annotations

from dataclasses import dataclass, replace

from sqlalchemy.orm import Session

from rickyard.book.models import CutSheet, Ware
from rickyard.cut import Ware as CutWare
from rickyard.cut.logs import MOST_TOLERANCE
from rickyard.desk.checks import some_text
from rickyard.desk.sheet_values import value_of
from rickyard.desk.wares import priced_ware, unknown_ware, ware_card
from rickyard.errors import InputError
from rickyard.text import T_
from rickyard.worth import PricedWare
from rickyard.worth.wares import FORMS


@dataclass(frozen=True, kw_only=True)
class SheetWare:
    """What is cut for: something we sell (`ware_id`: name, length and value come from there), or a length said here.

    Its value is net of its work, yard space and waiting, as offers are reckoned. A length said here has a
    `minor_per_ranked_m3`, the price of a ranked cubic metre of it, split and dry. `value_per_m3`, if given, is taken
    as it is: in the yard's money for a solid cubic metre. `wanted_m3` is solid, None: as much as there is.
    `tolerance_m`: by how much its pieces may be shorter or longer; None: not at all, or as the price list has it
    where the sheet is made `within_tolerance`.
    """

    ware_id: int | None = None
    name: str = ""
    piece_length_m: float | None = None
    value_per_m3: float | None = None
    minor_per_ranked_m3: float | None = None
    wanted_m3: float | None = None
    min_d_m: float | None = None
    max_d_m: float | None = None
    tolerance_m: float | None = None


@dataclass(frozen=True)
class AskedWare:
    """A ware on its way into a sheet; `priced`: what its worth is reckoned from, None: by `value` as it was told."""

    name: str
    length_m: float
    told: SheetWare
    priced: PricedWare | None
    value: float
    tolerance_m: float


def asked_ware(session: Session, yard_id: int, asked: SheetWare, within_tolerance: bool) -> AskedWare:
    name, length, value, priced = asked.name, asked.piece_length_m, asked.value_per_m3, None
    tolerance = asked.tolerance_m
    if asked.ware_id is not None:
        row = session.get(Ware, asked.ware_id)
        if row is None or row.yard_id != yard_id:
            raise unknown_ware(asked.ware_id)
        card = ware_card(row)
        name = name or card.name
        length = card.piece_length_m if length is None else length
        if tolerance is None and within_tolerance:
            tolerance = min(card.length_tolerance_m, MOST_TOLERANCE * length)
        if value is None and card.form in FORMS:
            priced = replace(priced_ware(card), piece_length_m=length)
        # What kindling takes of work nobody timed: it counts by its price.
        value = value_of(card) if value is None else value
    elif value is None and length is not None and asked.minor_per_ranked_m3 is not None:
        priced = PricedWare(name, "split", length, asked.minor_per_ranked_m3)
    if length is None or (value is None and priced is None):
        raise InputError(
            "wares",
            wanted=T_("something we sell, or a length and its value"),
            got=name or T_("nothing"),
            next_move=T_("Choose it from what we sell, or type both."),
        )
    return AskedWare(some_text("ware", name, 80), length, asked, priced, value or 0.0, tolerance or 0.0)


def ware_row(ware: CutWare, ware_id: int | None) -> dict[str, object]:
    return {
        "name": ware.name,
        "ware_id": ware_id,
        "length_m": ware.length_m,
        "value_per_m3": ware.value_per_m3,
        "wanted_m3": ware.wanted_m3,
        "min_d_m": ware.min_d_m,
        "max_d_m": ware.max_d_m,
        "tolerance_m": ware.tolerance_m,
    }


def wares_of(sheet: CutSheet) -> list[CutWare]:
    return [
        CutWare(
            str(ware["name"]),
            float(ware["length_m"]),
            float(ware["value_per_m3"]),
            ware["wanted_m3"],
            ware["min_d_m"],
            ware["max_d_m"],
            # Sheets of before it could be said cut each piece as long as its ware.
            float(ware.get("tolerance_m", 0.0)),
        )
        for ware in sheet.wares
    ]
