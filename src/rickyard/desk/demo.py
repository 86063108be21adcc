"""The demo yard: an invented yard in the country around Fredericton, New Brunswick, with four winters behind it.

Everything is done by the desk's own deeds, in order of time, with a fixed seed; no row is inserted by hand.
Names of people and firms, addresses, prices and readings are invented. It ends on the day it is made (`as_of`).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np

from rickyard.book import Book, filled
from rickyard.desk.context import Desk
from rickyard.desk.demo_facts import COUNTIES, FIRST, HANDS, HARDWOODS, LAST, MIXES, ROADS, SOFTWOOD, SOURCES
from rickyard.desk.demo_offers import offers_come
from rickyard.desk.demo_sales import deliver_order, order_comes, sale_at_gate
from rickyard.desk.demo_sheets import add_sheets
from rickyard.desk.demo_story import Story
from rickyard.desk.demo_trees import confirmed_on, seen_of
from rickyard.desk.households import SetHousehold, set_household
from rickyard.desk.loads import left_of_load
from rickyard.desk.naming import ConfirmNaming, KeepSeen, NameWood, confirm_naming, keep_seen, name_wood
from rickyard.desk.people import AddPerson, add_person
from rickyard.desk.readings import AddReading, add_reading
from rickyard.desk.stacking import (
    Dimensions,
    MeasureStack,
    OpeningStack,
    PiecesFacts,
    StackUp,
    measure_stack,
    opening_stack,
    stack_up,
)
from rickyard.desk.stacks import StackCard, stacks, standing_names
from rickyard.desk.tickets import Pay, pay, tickets
from rickyard.desk.wares import SetWare, WareFacts, set_ware
from rickyard.desk.wood_in import Harvest, TakeInLogs, TakeInRough, take_in_logs, take_in_rough
from rickyard.desk.yards import YardFacts, set_up_yard
from rickyard.measure import CORD_M3, LogRow
from rickyard.wood import UNNAMED_HARDWOOD, wet_from_db

SEED = 20
YEARS = 4
IN_M = 0.0254
TIMEZONE = "America/Moncton"


def demo_day(now: datetime) -> date:
    """The last day of the demo's history, if none is said: what day it is in its yard, wherever the computer stands."""
    return now.astimezone(ZoneInfo(TIMEZONE)).date()


def make_demo(
    target: str | Path,
    *,
    as_of: date,
    seed: int = SEED,
    say: Callable[[str], None] = lambda _line: None,
) -> Desk:
    """Makes a new book with the demo yard and gives its desk (clock: now).

    Parameters
    ----------
    target
        Path or database URL of a book that does not exist yet.
    as_of
        The last day of the demo's history.
    say
        Called with a line of progress now and then.
    """
    yard_id = filled(target, lambda book: _tell(book, as_of, seed, say))
    return Desk(Book.open(target), yard_id)


def _tell(book: Book, as_of: date, seed: int, say: Callable[[str], None]) -> int:
    """The whole history, in a book that is empty; gives the yard's id."""
    first = as_of - timedelta(days=365 * YEARS)
    rng = np.random.default_rng(seed)
    founded = datetime(first.year, first.month, first.day, 9, tzinfo=UTC)
    desk = set_up_yard(
        book,
        YardFacts(
            name="Tanglebrook Wood Yard",
            address="114 Old Sawpit Road, Keswick Ridge, New Brunswick",
            phone="506-555-0114",
            country="CA",
            subdivision="NB",
            climate_place="Fredericton, NB",
            timezone=TIMEZONE,
            currency="CAD",
            locale="en_CA",
            units="imperial",
            tax_rate=0.15,
        ),
        owner="Hesper Rookwell",
        seed=seed,
        is_demo=True,
        clock=lambda: founded,
    )
    story = Story(desk, rng, as_of, say)
    _found(story, first)
    day = first + timedelta(days=1)
    while day <= as_of:
        _live_a_day(story, day)
        if day.day == 1 and day.month % 3 == 1:
            say(f"demo yard: {day.isoformat()}")
        day += timedelta(days=1)
    _end(story)
    add_sheets(story.at(as_of, hour=20), as_of)
    return desk.yard_id


def _found(story: Story, first: date) -> None:
    desk = story.at(first)
    for name in HANDS:
        add_person(desk, AddPerson(key=f"demo-person-{name}", name=name))
    hard = tuple(HARDWOODS)
    for name, species, length_in, dry, price, form in (
        ("Dry hardwood, 16 in", hard, 16, 0.20, 38000, "split"),
        ("Dry hardwood, 12 in", hard, 12, 0.20, 42000, "split"),
        (
            "Dry birch, 18 in for fireplaces",
            ("betula_papyrifera", "betula_alleghaniensis"),
            18,
            0.20,
            40000,
            "split",
        ),
        ("Dry softwood, 16 in", tuple(sorted(SOFTWOOD)), 16, 0.20, 26000, "split"),
        ("Green hardwood, 16 in", hard, 16, None, 29000, "split"),
        (
            "Shoulder-season poplar, 16 in",
            ("populus_tremuloides", "populus_grandidentata"),
            16,
            0.20,
            22000,
            "split",
        ),
    ):
        facts = WareFacts(
            name=name,
            species=species,
            form=form,
            piece_length_m=length_in * IN_M,
            max_mc_wet=dry,
            price_minor=price,
            price_unit="cord",
        )
        set_ware(desk, SetWare(key=story.key(), facts=facts))
    for number in range(60):
        first_name, last = FIRST[number % len(FIRST)], LAST[(number * 7 + number // 30) % len(LAST)]
        road = ROADS[number % len(ROADS)]
        answer = set_household(
            desk,
            SetHousehold(
                key=story.key(),
                name=f"{first_name} {last}",
                address=f"{11 + 13 * number} {road}, near Fredericton, New Brunswick",
                phone=f"506-555-01{number:02d}",
            ),
        )
        story.homes.append(int(answer["household_id"]))
    for shares, length_in, age in (
        ((("acer_saccharum", 0.7), ("betula_alleghaniensis", 0.3)), 16, 330),
        ((("acer_rubrum", 0.5), ("fraxinus_americana", 0.5)), 16, 240),
        ((("betula_papyrifera", 1.0),), 18, 300),
        ((("picea_rubens", 0.6), ("abies_balsamea", 0.4)), 16, 200),
    ):
        pieces = replace(_pieces(story, first, length_in, 0.11), stacked_on=first - timedelta(days=age))
        stood = opening_stack(
            desk,
            OpeningStack(
                key=story.key(),
                shares=shares,
                harvest=Harvest(country="CA", subdivision="NB", county="York"),
                pieces=pieces,
                outside=Dimensions(length_m=9.0, heights_m=(1.5, 1.45, 1.5), rows=4),
            ),
        )
        story.places[int(stood["stack_id"])] = pieces.x_m, pieces.y_m


def _live_a_day(story: Story, day: date) -> None:
    rng = story.rng
    # Logs come in winter, storm falls and removals in late summer.
    monthly = {
        11: 1.6,
        12: 1.8,
        1: 2.2,
        2: 2.2,
        3: 1.4,
        4: 0.3,
        5: 0.2,
        6: 0.2,
        7: 0.2,
        8: 0.5,
        9: 0.6,
        10: 0.8,
    }
    if rng.random() < 1.25 * monthly[day.month] / 30:
        _load_comes(story, day)
    # Cutting and splitting: from January to June, and what is left in the autumn.
    if story.unsplit and day.weekday() < 6 and day.month != 8:
        eager = {1: 0.07, 2: 0.11, 3: 0.15, 4: 0.20, 5: 0.20, 6: 0.10}.get(day.month, 0.10)
        if rng.random() < eager:
            _cut_a_load(story, day)
    # Households ask from July to January.
    asking = {7: 5, 8: 8, 9: 9, 10: 8, 11: 5, 12: 3, 1: 2, 2: 1}.get(day.month, 0.3)
    for _ in range(int(rng.poisson(asking / 30 * 1.1))):
        order_comes(story, day)
    _confirm_trees(story, day)
    for due in [order for order in story.open_orders if order.wanted_by <= day]:
        deliver_order(story, due, day)
    if day.weekday() == 5 and rng.random() < 0.12:
        sale_at_gate(story, day)
    if day.day in (4, 19) and day.month in (4, 5, 6, 7, 8, 9, 10, 11):
        _read_a_stack(story, day)
    if day.month == 7 and day.day == 15:
        _take_stock(story, day)


def _load_comes(story: Story, day: date) -> None:
    rng = story.rng
    weights = np.array([weight for _, weight in MIXES], dtype=float)
    shares = MIXES[int(rng.choice(len(MIXES), p=weights / weights.sum()))][0]
    harvest = Harvest(country="CA", subdivision="NB", county=str(rng.choice(COUNTIES)))
    source = str(rng.choice(SOURCES))
    cords = float(rng.choice([6, 7, 8, 10, 10, 12]))
    paid = round(cords * float(rng.choice([0, 110, 130, 145]))) * 100
    softwood = shares[0][0] in SOFTWOOD
    desk = story.at(day)
    story.load_number += 1
    if story.load_number % 3 == 0:
        logs = _logs(story, shares, cords)
        answer = take_in_logs(
            desk,
            TakeInLogs(
                key=story.key(), source=source, harvest=harvest, arrived_on=day, logs=logs, paid_minor=paid
            ),
        )
    else:
        unnamed = story.load_number % 7 == 1
        answer = take_in_rough(
            desk,
            TakeInRough(
                key=story.key(),
                source=source,
                harvest=harvest,
                arrived_on=day,
                quantity=cords * CORD_M3,
                shares=((UNNAMED_HARDWOOD.id, 1.0),) if unnamed and not softwood else shares,
                typed=f"{cords:g} cords",
                paid_minor=paid,
            ),
        )
        if unnamed and not softwood and day + timedelta(days=3) <= story.as_of:
            named = name_wood(
                story.at(day + timedelta(days=3)),
                NameWood(
                    key=story.key(),
                    load_id=int(answer["load_id"]),
                    was=UNNAMED_HARDWOOD.id,
                    now=shares[0][0],
                    seen=seen_of(shares[0][0], story.load_number),
                ),
            )
            story.seen.append((int(named["naming_id"]), shares[0][0], confirmed_on(day)))
    story.unsplit.append((int(answer["load_id"]), day))


def _confirm_trees(story: Story, day: date) -> None:
    """Trees that were named from their logs are known by the wood, or by leaves that were found, in the next summer."""
    for item in [item for item in story.seen if item[2] == day]:
        story.seen.remove(item)
        naming_id, wood_id, _ = item
        confirm_naming(
            story.at(day),
            ConfirmNaming(
                key=story.key(),
                naming_id=naming_id,
                tree=wood_id,
                how="leaf" if naming_id % 2 else "wood",
                by_whom="Hesper Rookwell",
            ),
        )


def _logs(story: Story, shares: tuple[tuple[str, float], ...], cords: float) -> tuple[LogRow, ...]:
    """Logs until the solid volume is about that of so many cords of round wood."""
    rng = story.rng
    wanted = cords * CORD_M3 * 0.63
    names, odds = [name for name, _ in shares], [share for _, share in shares]
    rows: list[LogRow] = []
    volume = 0.0
    while volume < wanted:
        length = float(rng.choice([2.44, 3.66, 4.88]))
        middle = round(float(np.clip(rng.lognormal(np.log(0.24), 0.28), 0.12, 0.60)), 3)
        taper = round(0.004 * length, 3)
        with_ends = rng.random() < 0.4
        rows.append(
            LogRow(
                species_id=str(rng.choice(names, p=odds)),
                length_m=length,
                mid_d_m=None if with_ends else middle,
                small_d_m=round(middle - taper, 3) if with_ends else None,
                large_d_m=round(middle + taper, 3) if with_ends else None,
                bark_thickness_m=0.008,
            )
        )
        volume += np.pi / 4 * (middle - 0.016) ** 2 * length
    return tuple(rows)


def _pieces(story: Story, day: date, length_in: int, thickness_m: float) -> PiecesFacts:
    """A new stack in the first free place of the yard: rows of six, lettered, a year in the name."""
    rng = story.rng
    taken = {story.places[stack_id] for stack_id, _, _ in standing_names(story.at(day))}
    row, place = next(
        (row, place) for row in range(12) for place in range(6) if _spot(row, place) not in taken
    )
    name = f"{'ABCDEFGHJKLM'[row]}{place + 1}-{day.year % 100:02d}"
    while name in story.names:
        name += "b"
    story.names.add(name)
    x_m, y_m = _spot(row, place)
    return PiecesFacts(
        name=name,
        piece_length_m=length_in * IN_M,
        thickness_m=thickness_m,
        cover=str(rng.choice(["top", "top", "top", "none", "shed"])),
        exposure=str(rng.choice(["normal", "normal", "windy", "sheltered"])),
        stacked_on=day,
        row_label="ABCDEFGHJKLM"[row],
        x_m=x_m,
        y_m=y_m,
    )


def _spot(row: int, place: int) -> tuple[float, float]:
    return 4.0 + 13.0 * place, 4.0 + 5.0 * row


def _cut_a_load(story: Story, day: date) -> None:
    """A load becomes one or two stacks, or now and then a heap."""
    rng = story.rng
    load_id, arrived = story.unsplit[0]
    if day <= arrived:
        return
    story.unsplit.pop(0)
    left = left_of_load(story.at(day), load_id)
    if left.total is None:
        return
    species = {item.species.id for item in left.species}
    birch = species <= {"betula_papyrifera", "betula_alleghaniensis"}
    length_in = 18 if birch else (12 if rng.random() < 0.2 and not species & SOFTWOOD else 16)
    thickness = float(rng.choice([0.09, 0.10, 0.11, 0.12, 0.13]))
    story.stack_number += 1
    heap = story.stack_number % 9 == 0
    shares = (1.0,) if heap or left.total.ranked_m3.mid < 16 else (0.5, 1.0)
    for share in shares:
        _stack(story, day, load_id, share, _pieces(story, day, length_in, thickness), heap)


def _stack(story: Story, day: date, load_id: int, share: float, pieces: PiecesFacts, heap: bool) -> None:
    rng = story.rng
    desk = story.at(day)
    if heap:
        pieces = replace(pieces, kind="heap", cover="none")
    total = left_of_load(desk, load_id, piece_length_m=pieces.piece_length_m).total
    if total is None:
        return
    # What a load gives differs from what is expected of it; the demo's own chance decides by how much.
    outside = (total.loose_m3 if heap else total.ranked_m3).mid * share * 0.95 * float(rng.normal(1.0, 0.06))
    rows = 4 if outside > 14 else 3 if outside > 8 else 2
    height = float(rng.choice([1.4, 1.5, 1.6]))
    heights = tuple(round(height * float(rng.normal(1, 0.02)), 2) for _ in range(3))
    stood = stack_up(
        desk,
        StackUp(
            key=story.key(),
            sources=((load_id, share),),
            pieces=pieces,
            outside=Dimensions(
                length_m=round(outside / (height * pieces.piece_length_m * rows), 2),
                heights_m=heights,
                rows=rows,
            ),
        ),
    )
    story.places[int(stood["stack_id"])] = pieces.x_m, pieces.y_m


def _read_a_stack(story: Story, day: date) -> None:
    rng = story.rng
    desk = story.at(day)
    cards = [card for card in stacks(desk) if 30 < (day - card.stacked_on).days < 900]
    if not cards:
        return
    for index in rng.choice(len(cards), size=min(2, len(cards)), replace=False):
        card = cards[int(index)]
        mc_db = _invented_mc_db(card, day) * float(rng.normal(1.0, 0.06))
        if mc_db < 0.30:
            shown = round(float(np.clip(100 * mc_db, 7, 30)) * 2) / 2
            command = AddReading(
                key=story.key(),
                stack_id=card.id,
                kind="meter",
                value=shown,
                happened_on=day,
                species=card.shares[0][0].id,
                temp_c=15.0,
            )
        else:
            command = AddReading(
                key=story.key(),
                stack_id=card.id,
                kind="oven",
                value=round(wet_from_db(mc_db), 3),
                happened_on=day,
                species=card.shares[0][0].id,
            )
        add_reading(desk, command)


def _invented_mc_db(card: StackCard, day: date) -> float:
    """A made-up drying curve for the demo's readings; the forecast knows nothing of it."""
    start = float(np.mean([species.green_mc_db * share for species, share in card.shares])) * len(card.shares)
    summer_days = sum(
        1.0 if (card.stacked_on + timedelta(days=d)).month in (5, 6, 7, 8, 9) else 0.35
        for d in range((day - card.stacked_on).days)
    )
    slow = 1.6 if any(species.id == "quercus_rubra" for species, _ in card.shares) else 1.0
    tau = 62.0 * (card.thickness_m / 0.11) ** 1.5 * slow
    return 0.17 + (start - 0.17) * float(np.exp(-summer_days / tau))


def _take_stock(story: Story, day: date) -> None:
    desk = story.at(day)
    for card in stacks(desk)[:6]:
        if card.piled == "ranked" and card.ranked_m3 > 2 and card.promised_m3 < 0.01:
            now = card.length_m * card.outside_m3 / (card.length_m * card.height_m * card.depth_m)
            measure_stack(
                desk,
                MeasureStack(
                    key=story.key(),
                    stack_id=card.id,
                    outside=Dimensions(
                        length_m=round(now * 0.98, 2), heights_m=(round(card.height_m, 2),), rows=card.rows
                    ),
                ),
            )


def _end(story: Story) -> None:
    """Old tickets are paid on the last day, so that money stands open and paid; logs came that nobody has named yet."""
    desk = story.at(story.as_of, hour=19)
    take_in_logs(
        desk,
        TakeInLogs(
            key=story.key(),
            source=SOURCES[4],
            harvest=Harvest(country="CA", subdivision="NB", county=COUNTIES[0]),
            arrived_on=story.as_of,
            logs=tuple(
                LogRow(species_id=UNNAMED_HARDWOOD.id, length_m=2.44, mid_d_m=middle, bark_thickness_m=0.01)
                for middle in (0.31, 0.29, 0.27, 0.34, 0.22, 0.26)
            ),
        ),
    )
    keep_seen(desk, KeepSeen(key=story.key(), seen=seen_of("quercus_rubra", story.deeds)))
    open_tickets = [
        ticket for ticket in tickets(desk, limit=60) if ticket.owed_minor > 0 and ticket.household_id
    ]
    for ticket in open_tickets[5:25]:
        pay(
            desk,
            Pay(
                key=story.key(),
                ticket_id=ticket.id,
                amount_minor=ticket.owed_minor,
                method="transfer",
                paid_on=story.as_of,
            ),
        )
    offers_come(story)
    story.say(f"demo yard: done, {story.deeds} deeds")
