"""Wood on offer: noted, changed, taken in one step, refused; the yard's costs; on each kind of database."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime

import pytest
import sqlalchemy as sa

from rickyard.book import Book, check, migrations
from rickyard.book.engine import book_url, make_engine
from rickyard.desk.context import Desk, new_key
from rickyard.desk.costs import CostFacts, SetCosts, cost_facts, set_costs
from rickyard.desk.loads import load_page, loads
from rickyard.desk.offer_views import (
    compare,
    months_of,
    offer,
    offer_facts,
    offer_of_load,
    offered_woods,
    offers,
    open_offers,
)
from rickyard.desk.offers import (
    ChangeOffer,
    NoteOffer,
    OfferFacts,
    RefuseOffer,
    TakeOffer,
    TreeFacts,
    change_offer,
    note_offer,
    refuse_offer,
    take_offer,
)
from rickyard.desk.wares import SetWare, WareFacts, set_ware
from rickyard.desk.wood_in import Harvest
from rickyard.desk.yards import YardFacts, set_up_yard
from rickyard.errors import ClashError, InputError
from rickyard.measure import CORD_M3, Defect, LogRow, Spread, measure_tree
from rickyard.season import CalendarCell, CalendarRow
from rickyard.wood import get_species
from rickyard.worth import Months

NOW = datetime(2026, 11, 20, 15, tzinfo=UTC)
DAY = date(2026, 11, 20)
FACTS = YardFacts(
    name="Thornbeck Yard",
    country="CA",
    subdivision="NB",
    climate_place="Fredericton, NB",
    timezone="America/Moncton",
)
ROUGH = OfferFacts(
    source="Saltbox woodlot",
    harvest=Harvest(country="CA", subdivision="NB", county="York"),
    offered_on=DAY,
    quantity=10 * CORD_M3,
    shares=(("sugar maple", 60.0), ("yellow birch", 40.0)),
    typed="10 cords",
    asked_minor=90000,
)
LOG = LogRow(species_id="acer_saccharum", length_m=3.0, mid_d_m=0.3, bark_thickness_m=0.01)


@pytest.fixture
def desk(book: Book) -> Iterator[Desk]:
    desk = set_up_yard(book, FACTS, clock=lambda: NOW)
    facts = WareFacts(name="Dry stove wood", piece_length_m=0.4064, price_minor=38000)
    set_ware(desk, SetWare(key=new_key(), facts=facts))
    yield desk
    assert check(book).problems == ()


def noted(desk: Desk, facts: OfferFacts = ROUGH) -> int:
    return int(note_offer(desk, NoteOffer(key=new_key(), facts=facts))["offer_id"])


def test_an_offer_is_noted_once_reckoned_and_taken_once(desk: Desk) -> None:
    command = NoteOffer(key=new_key(), facts=ROUGH)
    answer = note_offer(desk, command)
    assert note_offer(desk, command) == answer
    assert answer["number"] == 1
    (card,) = offers(desk)
    assert (card.state, card.facts.typed, card.asked_minor) == ("open", "10 cords", 90000)
    assert card.worth is not None
    assert card.worth.margin_minor(card.worth.most_to_pay.mid) == card.worth.wanted_minor
    assert offers(desk)[0].worth is card.worth, "reckoned once"

    take = TakeOffer(key=new_key(), offer_id=card.id, arrived_on=DAY, paid_minor=85000)
    taken = take_offer(desk, take)
    assert take_offer(desk, take) == taken, "sent again, it is one load"
    assert len(loads(desk)) == 1
    page = load_page(desk, taken["load_id"])
    assert (page.paid_minor, page.row.typed, page.row.source) == (85000, "10 cords", "Saltbox woodlot")
    assert {species.id for species, _ in page.row.shares} == {"acer_saccharum", "betula_alleghaniensis"}
    assert page.harvest.county == "York"
    assert offer_of_load(desk, taken["load_id"]) == card.id
    assert open_offers(desk) == []
    with pytest.raises(InputError, match="still open"):
        take_offer(desk, TakeOffer(key=new_key(), offer_id=card.id, arrived_on=DAY))
    with pytest.raises(ClashError):
        take_offer(desk, replace(take, paid_minor=1))


def test_logs_and_trees_come_in_as_what_they_were_offered(desk: Desk) -> None:
    logs = noted(desk, replace(ROUGH, quantity=None, shares=(), typed="", logs=(LOG, LOG)))
    trees = noted(
        desk,
        replace(
            ROUGH,
            quantity=None,
            shares=(),
            typed="",
            trees=(TreeFacts(species="red maple", dbh_m=0.4, height_m=18.0, count=2),),
        ),
    )
    load = take_offer(desk, TakeOffer(key=new_key(), offer_id=logs, arrived_on=DAY, paid_minor=-5000))
    assert [log.length_m for log in load_page(desk, load["load_id"]).logs] == [3.0, 3.0]
    assert load_page(desk, load["load_id"]).paid_minor == -5000

    load = take_offer(desk, TakeOffer(key=new_key(), offer_id=trees, arrived_on=DAY))
    total = load_page(desk, load["load_id"]).as_arrived.total
    one = measure_tree(get_species("acer_rubrum"), 0.4, 18.0, country="CA")
    assert total is not None
    assert total.solid_m3.mid == pytest.approx(2 * one.usable_m3, rel=1e-4)


def test_logs_with_defects_are_kept_as_told(desk: Desk) -> None:
    nailed = replace(
        LOG, sweep_m=0.05, defects=(Defect("metal", 1.0, 1.3), Defect("rot", 0.0, 0.5, share=0.2))
    )
    facts = replace(ROUGH, quantity=None, shares=(), typed="", logs=(nailed,))
    assert offer_facts(desk, noted(desk, facts)) == facts


def test_changed_while_open_and_refused_with_a_reason(desk: Desk) -> None:
    number = noted(desk)
    cheaper = replace(offer_facts(desk, number), asked_minor=-20000, haul_minor=15000)
    change_offer(desk, ChangeOffer(key=new_key(), offer_id=number, facts=cheaper))
    card = offer(desk, number)
    assert card.asked_minor == -20000
    assert card.worth is not None
    assert {part.kind: part.minor for part in card.worth.parts}["haul"] == 15000

    refuse_offer(desk, RefuseOffer(key=new_key(), offer_id=number, reason="nails"))
    assert (offer(desk, number).state, offer(desk, number).reason) == ("refused", "nails")
    for late in (
        lambda: change_offer(desk, ChangeOffer(key=new_key(), offer_id=number, facts=cheaper)),
        lambda: refuse_offer(desk, RefuseOffer(key=new_key(), offer_id=number)),
    ):
        with pytest.raises(InputError, match="refused"):
            late()
    assert loads(desk) == []


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"quantity": None, "shares": ()}, "one way"),
        ({"logs": (LOG,)}, "one way"),
        ({"quantity": 0.0}, "quantity"),
        ({"quantity_kind": "bushel"}, "quantity_kind"),
        ({"shares": (("maple", 30.0),)}, "100 percent"),
        ({"shares": (("grey poplin", 100.0),)}, "poplin"),
        ({"rot_share": 2.0}, "rot_share"),
        ({"origin": "moon"}, "origin"),
        ({"asked_minor": 10**12}, "asked"),
        ({"haul_minor": -1}, "haul"),
        ({"source": " "}, "source"),
        ({"offered_on": date(2027, 5, 1)}, "offered_on"),
    ],
)
def test_nonsense_is_refused_and_writes_nothing(desk: Desk, wrong: dict[str, object], said: str) -> None:
    with pytest.raises(InputError, match=said):
        noted(desk, replace(ROUGH, **wrong))
    assert offers(desk) == []
    assert noted(desk) == 1


def test_costs_and_months_move_the_worth(desk: Desk) -> None:
    number = noted(desk)
    assert cost_facts(desk) == CostFacts()
    usual = offer(desk, number).worth
    facts = CostFacts(
        wage_minor_h=0,
        interest_year=0.1,
        hours=(("splitting", 1.0),),
        margin_kind="hour",
        margin=500.0,
        delivery_km=10.0,
    )
    set_costs(desk, SetCosts(key=new_key(), facts=facts))
    set_costs(desk, SetCosts(key=new_key(), facts=facts))
    assert cost_facts(desk) == facts
    ours = offer(desk, number).worth
    assert usual is not None
    assert ours is not None
    assert ours.wages_minor == 0
    assert ours.wanted_minor == round(500.0 * ours.hours.mid)
    long = {"acer_saccharum": Months(Spread(20.0, 24.0, 28.0))}
    slow = offer(desk, number, months=long).worth
    assert slow is not None
    assert slow.most_to_pay.mid < ours.most_to_pay.mid
    assert not slow.months_known, "the birch's are still the usual ones"
    with pytest.raises(InputError, match="step"):
        set_costs(desk, SetCosts(key=new_key(), facts=CostFacts(hours=(("felling", 1.0),))))
    assert cost_facts(desk) == facts


def test_months_are_counted_from_today_through_the_calendar() -> None:
    cells = tuple(
        CalendarCell(month, date(2001, month, 1), date(2001, 12, 31), None, False) for month in range(1, 13)
    )
    found = months_of(CalendarRow("acer_saccharum", 0.1, cells, "m", 8), DAY)
    assert found.known
    assert found.spread.low == pytest.approx(11 / 30.4375)
    assert found.spread.mid == pytest.approx((11 + 30) / 30.4375)
    assert found.spread.high == pytest.approx((11 + 540) / 30.4375)


def test_money_out_of_bounds_is_said_with_its_currency(desk: Desk) -> None:
    with pytest.raises(InputError, match=r"asked: wanted .* CAD, got 2e\+06 CAD"):
        noted(desk, replace(ROUGH, asked_minor=200_000_000))
    facts = WareFacts(name="Gold", piece_length_m=0.4, price_minor=20_000_000)
    with pytest.raises(InputError, match=r"price: wanted 0.0 to 100000.0 CAD, got 200000 CAD"):
        set_ware(desk, SetWare(key=new_key(), facts=facts))


def test_compared_side_by_side_and_what_nobody_buys(desk: Desk) -> None:
    first, second = noted(desk), noted(desk, replace(ROUGH, quantity=5 * CORD_M3))
    assert [card.id for card in compare(desk, [second, first, second])] == [second, first]
    assert [wood.id for wood in offered_woods(desk)] == ["acer_saccharum", "betula_alleghaniensis"]
    with pytest.raises(InputError, match="two to four"):
        compare(desk, [first])
    with pytest.raises(InputError, match="an offer made"):
        compare(desk, [first, 999])
    facts = WareFacts(name="Dry stove wood", species=("red spruce",), piece_length_m=0.4, price_minor=1)
    set_ware(desk, SetWare(key=new_key(), ware_id=1, facts=facts))
    card = offer(desk, first)
    assert card.worth is None
    assert "something sold" in str(card.trouble)


def test_a_book_without_offers_gets_them_and_loses_them(book: Book) -> None:
    """Down one version loads that were taken stay; up again the tables are those of the models."""
    target = book.target  # type: ignore[attr-defined]
    desk = set_up_yard(book, FACTS, clock=lambda: NOW)
    take_offer(desk, TakeOffer(key=new_key(), offer_id=noted(desk), arrived_on=DAY, paid_minor=-100))
    book.close()
    mine = next(
        one for one in migrations.script_directory().walk_revisions() if "Wood on offer" in (one.doc or "")
    )
    engine = make_engine(book_url(target), writing=True, foreign_keys=False)
    with engine.begin() as connection:
        migrations.downgrade(connection, mine.down_revision)
        assert not sa.inspect(connection).has_table("offer")
        assert connection.execute(sa.text("SELECT paid_minor FROM load")).all() == [(None,)]
        assert connection.execute(sa.text("SELECT count(*) FROM serial WHERE kind = 'offer'")).scalar() == 0
    with engine.begin() as connection:
        migrations.upgrade(connection)
        assert migrations.differences(connection) == []
    engine.dispose()
