"""What a cut sheet's wares are worth, by the same reckoning as an offer's: prices, the yard's own hours and stacks,
dry or green, and the months until it is sold."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from rickyard.cut import ByHand, CutPlan, by_hand
from rickyard.desk.context import Desk
from rickyard.desk.costs import cost_facts
from rickyard.desk.timed import timed_sessions
from rickyard.desk.wares import WareCard
from rickyard.desk.yard_factor import yard_factor
from rickyard.measure import Spread, solid_share
from rickyard.text import T_, Text
from rickyard.wood import Species
from rickyard.worth import Months, Netted, PricedWare, assumed, netted, of_mix, step_hours, usual_months


@dataclass(frozen=True)
class SheetWorth:
    """A plan in the yard's money: `net` of what hangs on the choice of ware, `gross` by its prices (None: of a sheet
    or a ware of which no more was said than a value); `hand`: the same logs at one length, in value and in wood."""

    net: Spread | None
    gross: Spread | None
    hand: ByHand


def netted_wares(
    desk: Desk,
    asked: Sequence[PricedWare],
    woods: Sequence[tuple[Species, float]],
    months: Mapping[str, Months],
) -> list[Netted]:
    """Each ware for a mix of woods with their volumes."""
    costs = cost_facts(desk).costs()
    with desk.book.read() as session:
        timed = timed_sessions(session, desk.yard_id)
    rates = {rate.step: rate for rate in step_hours(costs, timed)}
    factor = yard_factor(desk)
    return [
        of_mix(
            [
                (netted(wood, ware, costs, rates, months.get(wood.id) or usual_months(), factor), volume)
                for wood, volume in woods
            ]
        )
        for ware in asked
    ]


def as_kept(found: Netted, months_known: bool) -> dict[str, Any]:
    """What a sheet keeps of a ware's worth, in the yard's money."""
    return {
        "net": [found.net.low / 100.0, found.net.mid / 100.0, found.net.high / 100.0],
        "gross": [found.gross.low / 100.0, found.gross.mid / 100.0, found.gross.high / 100.0],
        "months_known": months_known,
    }


def planned_values(wares: Sequence[Netted | None], told: Sequence[float]) -> list[float]:
    """Values to plan by [money/m³]: net; by price alone where no ware pays its work, so that something is cut."""
    net = [
        value if one is None else max(0.0, one.net.mid / 100.0)
        for one, value in zip(wares, told, strict=True)
    ]
    if any(net):
        return net
    return [value if one is None else one.gross.mid / 100.0 for one, value in zip(wares, told, strict=True)]


def sheet_worth(rows: Sequence[Mapping[str, Any]], plan: CutPlan) -> SheetWorth:
    """Sums over the wood that counts; ranges of several wares taken to move together."""
    return SheetWorth(_sum(rows, plan, "net"), _sum(rows, plan, "gross"), by_hand(plan))


def worth_notes(rows: Sequence[Mapping[str, Any]], mixed: bool) -> tuple[Text, ...]:
    """What to know of the values of a sheet."""
    said: list[Text] = []
    reckoned = [row for row in rows if "net" in row]
    if not reckoned:
        return ()
    if len(reckoned) == len(rows) and all(row["net"][1] <= 0.0 for row in rows):
        said.append(
            T_(
                "Nothing of this pays its work: it is planned by price alone. Look at prices, hours and costs."
            )
        )
    if mixed:
        said.append(
            T_(
                "Values are of the mix of woods on this sheet. An offer plans each wood by itself; for that make a "
                "sheet for each."
            )
        )
    if not all(row["months_known"] for row in reckoned):
        said.append(
            T_(
                "Months to sale are the usual ones ({months:.1f}), not this wood's own yet.",
                months=assumed()["usual_months"].value,
            )
        )
    other = [str(row["name"]) for row in rows if "net" not in row]
    if other:
        said.append(T_("Valued as it was told, without its work: {wares}.", wares=", ".join(other)))
    return tuple(said)


def value_of(card: WareCard) -> float:
    """What a solid cubic metre of a ware sells for, in the yard's money: by the price and the published content."""
    return card.price_of(1.0 / solid_share("ranked", card.form, card.piece_length_m).mid) / 100.0


def loss_share() -> float:
    """Of planned wood, what is lost after the saw, as offers take it off."""
    return assumed()["loss_listed"].value


def _sum(rows: Sequence[Mapping[str, Any]], plan: CutPlan, name: str) -> Spread | None:
    if not all(name in row for row in rows):
        return None
    low, mid, high = (
        sum(row[name][side] * counted for row, counted in zip(rows, plan.counted_m3, strict=True))
        for side in range(3)
    )
    return Spread(min(low, mid), mid, max(mid, high))
