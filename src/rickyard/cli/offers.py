"""`rickyard offer worth`: what wood on offer is worth, from figures alone; no book is opened."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from rickyard.cli.output import Json, Seed, give, table
from rickyard.errors import InputError
from rickyard.show import Voice
from rickyard.text import T_

if TYPE_CHECKING:
    from rickyard.measure import Spread
    from rickyard.worth import Costs, Margin, Offered, PricedWare, Worth

PIECES = 4  # NAME:LENGTH:PRICE:dry|green


def add_to(app: typer.Typer) -> None:
    offer = typer.Typer(help="Wood on offer.", no_args_is_help=True, rich_markup_mode=None)
    offer.command("worth")(worth)

    # With one command alone Typer would leave its name out.
    @offer.callback()
    def _group() -> None:
        """Wood on offer."""

    app.add_typer(offer, name="offer")


def worth(
    quantity: Annotated[
        str | None,
        typer.Option(help="How much, e.g. '10 cords', '24 stacked m3', '40 loose m3', '6 solid m3', '12 t'."),
    ] = None,
    species: Annotated[
        list[str] | None,
        typer.Option(help="NAME or NAME:SHARE by volume; may be repeated.", metavar="NAME[:SHARE]"),
    ] = None,
    logs: Annotated[
        Path | None, typer.Option(help="CSV of logs instead of a quantity, as `measure list` reads it.")
    ] = None,
    tree: Annotated[
        list[str] | None,
        typer.Option(
            help="A standing tree instead: NAME:DIAMETER[:HEIGHT[:COUNT]], e.g. 'red oak:18in:60ft:2'; "
            "may be repeated.",
            metavar="NAME:DIAMETER[:HEIGHT[:COUNT]]",
        ),
    ] = None,
    ware: Annotated[
        list[str] | None,
        typer.Option(
            help="What is sold: NAME:LENGTH:PRICE_PER_CORD:dry|green, e.g. 'stove:16in:380:dry'; may be repeated.",
            metavar="NAME:LENGTH:PRICE:dry|green",
        ),
    ] = None,
    asked: Annotated[str | None, typer.Option(help="What they ask; below zero if they pay.")] = None,
    haul: Annotated[str, typer.Option(help="What it costs to bring it here.")] = "0",
    origin: Annotated[
        str, typer.Option(help="forest, or yard for a street, a garden or a farmyard.")
    ] = "forest",
    rot: Annotated[str, typer.Option(help="Rotten share of the wood, e.g. 10%.")] = "0",
    months: Annotated[
        str | None,
        typer.Option(help="Months until it is sold dry: MIDDLE or LOW,MIDDLE,HIGH; usual ones if not said."),
    ] = None,
    margin: Annotated[
        str, typer.Option(help="To be left: 15% of the value, or an amount with /cord, /load or /hour.")
    ] = "15%",
    wage: Annotated[str | None, typer.Option(help="An hour of work.")] = None,
    machine: Annotated[str | None, typer.Option(help="Saw and splitter, an hour.")] = None,
    fuel: Annotated[str | None, typer.Option(help="A litre of fuel.")] = None,
    vehicle: Annotated[str | None, typer.Option(help="Delivery vehicle, a kilometre.")] = None,
    space: Annotated[str | None, typer.Option(help="A cord's space in the yard, a month.")] = None,
    interest: Annotated[str, typer.Option(help="What money tied up costs a year, e.g. 6%.")] = "0",
    method: Annotated[str, typer.Option(help="How it is split.")] = "hydraulic_splitter",
    delivery_km: Annotated[float | None, typer.Option(help="Way to a household, one way [km].")] = None,
    delivered: Annotated[
        str, typer.Option(help="Share of what is sold that is brought, e.g. 100%.")
    ] = "100%",
    hours: Annotated[
        list[str] | None,
        typer.Option(help="Own hours a cord, STEP:HOURS; may be repeated.", metavar="STEP:HOURS"),
    ] = None,
    country: Annotated[str, typer.Option(help="Whose tree equations: US or CA.")] = "US",
    currency: Annotated[str, typer.Option(help="Of all amounts.")] = "CAD",
    seed: Seed = 0,
    json_: Json = False,
) -> None:
    """What wood on offer is worth: wares, hours, costs, and the most to pay for a chosen margin, with its range."""
    from rickyard.show import parse_money
    from rickyard.worth import Months, worth_of

    def money(text: str, field: str, low_minor: int = 0) -> int:
        return parse_money(text, field, currency=currency, low_minor=low_minor)

    costs = _costs(
        {
            "wage_minor_h": wage,
            "machine_minor_h": machine,
            "fuel_minor_l": fuel,
            "vehicle_minor_km": vehicle,
            "space_minor_cord_month": space,
        },
        money,
        interest=interest,
        method=method,
        delivery_km=delivery_km,
        delivered=delivered,
        hours=hours or [],
    )
    offered = _offered(quantity, species or [], logs, tree or [], _share(rot, "rot"), origin, country)
    price = None if asked is None else money(asked, "asked", -(10**9))
    wares = [_ware(text, money) for text in ware or []]
    if not wares:
        raise InputError(
            "ware",
            wanted=T_("at least one thing that is sold, such as stove:16in:380:dry"),
            got=T_("none"),
            next_move=T_("Give --ware NAME:LENGTH:PRICE_PER_CORD:dry or green."),
        )
    dry = None if months is None else Months(_months(months))
    found = worth_of(
        offered,
        wares,
        costs=costs,
        margin=_margin(margin, money),
        haul_minor=money(haul, "haul"),
        months={} if dry is None else {wood.id: dry for wood, _ in offered.parts},
        seed=seed,
    )
    give(_result(found, costs, price, currency), _lines(found, price, Voice(currency=currency)), json_)


def _result(found: Worth, costs: Costs, price: int | None, currency: str) -> dict[str, Any]:
    from rickyard.measure import CORD_M3
    from rickyard.worth import driver_words

    at = found.most_to_pay.mid if price is None else price
    return {
        "kind": found.offered.kind,
        "currency": currency,
        "solid_m3": found.offered.solid_m3,
        "cords": found.ranked_m3.scaled(1.0 / CORD_M3),
        "value_minor": found.value,
        "cost_minor": found.cost,
        "costs_minor": {part.kind: part.minor for part in found.parts},
        "margin_wanted_minor": found.wanted_minor,
        "most_to_pay_minor": found.most_to_pay,
        "most_to_pay_per_cord_minor": found.most_to_pay.mid / found.cords,
        "asked_minor": price,
        "odds_margin_left": None if price is None else found.odds(price),
        "margin_minor": found.margin_range(at),
        "margin_at": "most_to_pay" if price is None else "asked",
        "margin_per_cord_minor": found.margin_per_cord(at),
        "margin_per_hour_minor": found.margin_per_hour(at),
        "earned_per_hour_minor": found.earned_per_hour(at),
        "hours": found.hours,
        "steps": [
            {
                "step": step.rate.step,
                "hours": step.hours,
                "hours_per_cord": step.rate.per_cord,
                "own": step.rate.own,
                "basis": step.rate.basis,
                "source": step.rate.source,
            }
            for step in found.steps
        ],
        "months": found.months,
        "months_known": found.months_known,
        "wares": [
            {
                "ware": one.ware.name,
                "species": one.wood.id,
                "solid_m3": one.solid_m3,
                "cords": one.ranked_m3 / CORD_M3,
                "value_minor": one.minor,
            }
            for one in found.yields
        ],
        "drivers": [
            {"input": one.name, "words": str(driver_words(one.name)), "share": one.share}
            for one in found.drivers
        ],
        "assumed": list(costs.assumed_names),
        "warnings": [str(note) for note in found.notes],
    }


def _lines(found: Worth, price: int | None, voice: Voice) -> list[str]:
    from rickyard.worth import cost_words, driver_words, main_drivers, step_words

    most = found.most_to_pay
    money = voice.money_about
    lines = [
        f"it gives {voice.volume_range(found.ranked_m3.low, found.ranked_m3.mid, found.ranked_m3.high)}, "
        f"sells for {money(found.value.mid)} ({money(found.value.low)} to {money(found.value.high)})",
    ]
    lines += table(
        [[str(cost_words(part.kind)), money(part.minor)] for part in found.parts if part.minor],
        ["cost", ""],
    )
    lines += table(
        [
            [
                str(step_words(step.rate.step)),
                voice.number(step.hours, 3),
                voice.number(step.rate.per_cord.mid, 3),
                "own" if step.rate.own >= 0.5 else "assumed",
            ]
            for step in found.steps
        ],
        ["work", "hours", "a cord", "from"],
    )
    lines.append(
        f"costs without the wood: {money(found.cost_minor)}; margin wanted: {money(found.wanted_minor)}"
    )
    if most.mid >= 0:
        lines.append(f"pay at most {money(most.mid)} ({money(most.low)} to {money(most.high)})")
    else:
        lines.append(
            f"take it only if they pay {money(-most.mid)} ({money(-most.high)} to {money(-most.low)})"
        )
    if price is not None:
        per_hour = found.earned_per_hour(price)
        lines.append(
            f"at {money(price)}: margin {money(found.margin_minor(price))}, "
            f"{money(found.margin_per_cord(price))} a cord"
            + ("" if per_hour is None else f", an hour of work brings in {money(per_hour)}")
            + f"; the margin wanted is left with odds of {voice.odds(found.odds(price))}"
        )
    lines += [
        f"unsure by: {driver_words(one.name)}, {voice.percent(one.share)}" for one in main_drivers(found)
    ]
    return lines + [f"note: {note}" for note in found.notes]


def _offered(
    quantity: str | None,
    species: list[str],
    logs: Path | None,
    trees: list[str],
    rot_share: float,
    origin: str,
    country: str,
) -> Offered:
    from rickyard.measure import read_log_list
    from rickyard.wood import find_species
    from rickyard.worth import logs_wood, rough_wood, trees_wood

    if sum((quantity is not None, logs is not None, bool(trees))) != 1:
        raise InputError(
            "quantity",
            wanted=T_("one of --quantity, --logs and --tree"),
            got=T_("none or several"),
            next_move=T_("Say in one way how much it is."),
        )
    if logs is not None:
        try:
            text = logs.read_text(encoding="utf-8-sig")
        except (OSError, UnicodeDecodeError) as error:
            raise InputError(
                "logs",
                wanted=T_("a readable CSV file"),
                got=f"{logs} ({type(error).__name__})",
                next_move=T_("Check the path."),
            ) from error
        default = find_species(species[0], field="species").id if species else None
        rows = read_log_list(text, default_species=default, defects=True)
        return logs_wood(rows, rot_share=rot_share, origin=origin)
    if trees:
        return trees_wood(
            [_tree(text) for text in trees], country=country.upper(), rot_share=rot_share, origin=origin
        )
    amount, kind = _quantity(quantity or "")
    shares = [_named(text) for text in species]
    return rough_wood(amount, kind, shares, rot_share=rot_share, origin=origin)


def _quantity(text: str) -> tuple[float, str]:
    from rickyard.show import parse_mass, parse_volume

    try:
        kg = parse_mass(text, "quantity", unit="kg")
        if not text.strip().replace(".", "").isdigit():
            return kg, "green_kg"
    except InputError:
        # No mass, so it must be a volume, whose complaint is the more helpful one.
        pass
    units = ("cord", "stacked_m3", "loose_m3", "solid_m3", "ft3", "loose_ft3")
    volume = parse_volume(text, "quantity", unit="cord", allowed=units)
    kinds = {"loose_m3": "loose_m3", "loose_ft3": "loose_m3", "solid_m3": "solid_m3"}
    return volume.m3, kinds.get(volume.unit, "stacked_m3")


def _named(text: str) -> tuple[Any, float]:
    from rickyard.wood import find_species

    name, _, share = text.partition(":")
    return find_species(name, field="species"), _share(share, "species") if share else 1.0


def _tree(text: str) -> Any:
    from rickyard.show.units import parse_count, parse_length
    from rickyard.wood import find_species
    from rickyard.worth import OfferedTree

    parts = text.split(":")
    if not 2 <= len(parts) <= 4:
        raise _shape("tree", "NAME:DIAMETER[:HEIGHT[:COUNT]]", text)
    return OfferedTree(
        find_species(parts[0], field="tree"),
        parse_length(parts[1], "tree"),
        parse_length(parts[2], "tree") if len(parts) > 2 and parts[2] else None,
        parse_count(parts[3], "tree", low=1) if len(parts) > 3 else 1,
    )


def _ware(text: str, money: Any) -> PricedWare:
    from rickyard.measure import CORD_M3
    from rickyard.show.units import parse_length
    from rickyard.worth import PricedWare

    parts = text.split(":")
    if len(parts) != PIECES or parts[3] not in ("dry", "green"):
        raise _shape("ware", "NAME:LENGTH:PRICE_PER_CORD:dry|green", text)
    return PricedWare(
        parts[0],
        "split",
        parse_length(parts[1], "ware"),
        money(parts[2], "ware") / CORD_M3,
        0.20 if parts[3] == "dry" else None,
    )


def _costs(
    amounts: dict[str, str | None],
    money: Any,
    *,
    interest: str,
    method: str,
    delivery_km: float | None,
    delivered: str,
    hours: list[str],
) -> Costs:
    from rickyard.show import parse_number
    from rickyard.worth import Costs

    own = []
    for text in hours:
        step, mark, count = text.partition(":")
        if not mark:
            raise _shape("hours", "STEP:HOURS", text)
        own.append((step, parse_number(count, "hours", low=0.0)))
    told: dict[str, Any] = {
        name: None if text is None else money(text, name.split("_minor")[0]) for name, text in amounts.items()
    }
    return Costs(
        **told,
        interest_year=_share(interest, "interest"),
        method=method,
        delivery_km=delivery_km,
        delivered_share=_share(delivered, "delivered"),
        hours=tuple(own),
    )


def _margin(text: str, money: Any) -> Margin:
    from rickyard.worth import Margin

    if text.endswith("%"):
        return Margin("share", _share(text, "margin"))
    amount, mark, each = text.partition("/")
    if not mark or each not in ("cord", "load", "hour"):
        raise _shape("margin", "15%, 60/cord, 500/load or 10/hour", text)
    return Margin(each, float(money(amount, "margin")))


def _months(text: str) -> Spread:
    from rickyard.measure import Spread
    from rickyard.show import parse_number

    parts = [parse_number(part, "months", low=0.0, high=60.0) for part in text.split(",")]
    if len(parts) == 1:
        return Spread.exactly(parts[0])
    if len(parts) != 3 or sorted(parts) != parts:
        raise _shape("months", "MIDDLE or LOW,MIDDLE,HIGH, rising", text)
    return Spread(parts[0], parts[1], parts[2])


def _share(text: str, field: str) -> float:
    from rickyard.show import parse_percent

    return parse_percent(text, field)


def _shape(field: str, wanted: str, got: str) -> InputError:
    return InputError(
        field,
        wanted=T_("{shape}", shape=wanted),
        got=got,
        next_move=T_("Write it so, with colons or commas as shown."),
    )
