"""Rounds that lay in a heap are split, splits become kindling: nothing is lost but what fell, and all can go back."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from tests.book.test_measurements import made_up

from rickyard.book import check, stock
from rickyard.book.models import Entry, Posting, Spot, Stack
from rickyard.desk import forecasts
from rickyard.desk.context import Desk, new_key
from rickyard.desk.households import SetHousehold, set_household
from rickyard.desk.orders import PlaceOrder, order, place_order
from rickyard.desk.split_stacks import SplitStack, split_stack
from rickyard.desk.stacking import Dimensions, PiecesFacts, StackUp, stack_up
from rickyard.desk.stacks import stack_page
from rickyard.desk.undoing import UndoStackUp, undo_stack_up
from rickyard.desk.wares import SetWare, WareFacts, set_ware
from rickyard.desk.ways import way_of
from rickyard.errors import InputError, RefusedError
from rickyard.measure import solid_share


@pytest.fixture
def heap(desk: Desk, load: int, pieces: PiecesFacts) -> int:
    """All of the load, sawn into rounds that lie in a heap."""
    facts = replace(pieces, name="Rounds", kind="heap", form="round", thickness_m=0.3)
    command = StackUp(
        key=new_key(),
        sources=((load, 1.0),),
        pieces=facts,
        outside=Dimensions(length_m=6.0, heights_m=(1.2,), rows=5),
    )
    return int(stack_up(desk, command)["stack_id"])


def held(desk: Desk, stack_id: int) -> dict[tuple[str, str], int]:
    with desk.book.read() as session:
        found: dict[tuple[str, str], int] = {}
        for key, grams in stock(session, session.get_one(Stack, stack_id).spot_id).items():
            found[key.species_id, key.form] = found.get((key.species_id, key.form), 0) + grams
        return found


def lost(desk: Desk) -> int:
    with desk.book.read() as session:
        return sum(
            sum(stock(session, spot.id).values()) for spot in session.query(Spot).filter_by(kind="loss")
        )


def split(desk: Desk, stack: int, **facts: object):
    values: dict[str, object] = {"name": "S1", "kind": "stack", "thickness_m": 0.1} | facts
    return split_stack(desk, SplitStack(key=new_key(), stack_id=stack, **values))  # type: ignore[arg-type]


def test_a_heap_of_rounds_becomes_a_stack_of_splits(desk: Desk, heap: int) -> None:
    before, gone = held(desk, heap), lost(desk)
    assert {form for _, form in before} == {"round", "bark"}
    solid = stack_page(desk, heap).card
    answer = split(desk, heap)

    after, card = held(desk, answer["stack_id"]), stack_page(desk, answer["stack_id"]).card
    assert held(desk, heap) == {}
    assert answer["closed"] == [heap]
    assert answer["clashes"] == []
    assert answer["mass_g"] == sum(after.values())
    assert sum(before.values()) == sum(after.values()) + lost(desk) - gone
    for (species, form), grams in before.items():
        kept = after[species, "bark" if form == "bark" else "split"]
        assert kept == round(grams * 0.85) if form == "bark" else kept == grams - round(grams * 0.01)
    assert (card.form, card.piled, card.stacked_on) == ("split", "ranked", date(2026, 10, 1))
    assert card.piece_length_m == solid.piece_length_m
    # The same solid wood less the splinters, laid as splits in a stack.
    content = [solid_share("ranked", form, card.piece_length_m).mid for form in ("round", "split")]
    assert card.ranked_m3 == pytest.approx(solid.ranked_m3 * 0.99 * content[0] / content[1], rel=1e-6)
    with desk.book.read() as session:
        entry = session.query(Entry).order_by(Entry.number.desc()).first()
        assert entry is not None
        assert entry.kind == "split"
        told = session.query(Posting).filter_by(entry_id=entry.id).all()
        assert {(line.unit, line.method) for line in told if line.mass_g < 0} == {("share", "share as told")}
        assert {line.method for line in told if line.mass_g > 0} == {
            "what the stack gave",
            "share of the wood",
            "bark kept",
            "bark fallen",
        }
        assert all(line.sd_share and line.basic_density_kg_m3 for line in told)
    assert check(desk.book).problems == ()


def test_splits_become_kindling_and_a_part_stays(desk: Desk, heap: int) -> None:
    whole = split(desk, heap)["stack_id"]
    before, outside = sum(held(desk, whole).values()), stack_page(desk, whole).card.ranked_m3
    made = split(
        desk, whole, name="Bin", kind="bin", form="kindling", share=0.25, thickness_m=0.02, bark=False
    )

    assert {form for _, form in held(desk, made["stack_id"])} == {"kindling"}
    assert sum(held(desk, whole).values()) == pytest.approx(0.75 * before, abs=3)
    assert stack_page(desk, whole).card.ranked_m3 == pytest.approx(0.75 * outside, rel=1e-4)
    assert made["closed"] == []
    with pytest.raises(InputError, match="kindling"):
        split(desk, made["stack_id"], name="S3")
    # A volume that is told goes before the share.
    told = split(desk, whole, name="S2", ranked_m3=stack_page(desk, whole).card.ranked_m3 / 3)
    assert told["mass_g"] < 0.34 * 0.75 * before
    assert check(desk.book).problems == ()


def test_the_new_stack_dries_from_what_the_forecast_said(desk: Desk, heap: int) -> None:
    for inputs, _ in forecasts.wanted(desk):
        forecasts.keep(desk, inputs, *made_up(inputs, np.full(64, 0.4)))
    now = forecasts.outlook(desk, heap).moisture_on(desk.today())
    assert now is not None
    first = split(desk, heap, share=0.5)["stack_id"]
    said = split(desk, heap, name="S2", start_mc_wet=0.31)["stack_id"]

    with desk.book.read() as session:
        assert session.get_one(Stack, first).start_mc_wet == pytest.approx(now[1])
        assert session.get_one(Stack, said).start_mc_wet == 0.31


def test_it_goes_back_as_it_was(desk: Desk, heap: int) -> None:
    before, gone = held(desk, heap), lost(desk)
    made = split(desk, heap)["stack_id"]
    with pytest.raises(RefusedError, match="S1 was split from wood of Rounds"):
        undo_stack_up(desk, UndoStackUp(key=new_key(), stack_id=heap, reason="another load"))
    undo_stack_up(desk, UndoStackUp(key=new_key(), stack_id=made, reason="not yet split"))

    assert (held(desk, heap), held(desk, made), lost(desk)) == (before, {}, gone)
    assert stack_page(desk, heap).card.emptied_on is None
    assert check(desk.book).problems == ()


def test_what_is_promised_goes_along_with_the_wood(desk: Desk, heap: int) -> None:
    home = int(set_household(desk, SetHousehold(key=new_key(), name="Somebody"))["household_id"])
    facts = WareFacts(
        name="Rounds",
        species=("sugar maple", "yellow birch"),
        form="round",
        piece_length_m=0.406,
        max_mc_wet=None,
        price_minor=1,
    )
    ware = int(set_ware(desk, SetWare(key=new_key(), facts=facts))["ware_id"])
    asked = PlaceOrder(
        key=new_key(),
        household_id=home,
        ware_id=ware,
        ranked_m3=1.0,
        wanted_by=date(2026, 11, 1),
        portions=((heap, 1.0),),
    )
    placed = int(place_order(desk, asked)["order_id"])
    made = split(desk, heap)["stack_id"]

    assert [line.stack_id for line in order(desk, placed).promises] == [made]


def test_its_way_leads_from_the_load_to_the_splits(desk: Desk, heap: int, load: int) -> None:
    made = split(desk, heap)["stack_id"]
    way = way_of(desk, "stack", made)

    assert [place.kind for place in way.places if place.kind == "load"] == ["load"]
    assert [place.at.id for place in way.lying] == [way.focus.id]
    assert {(step.start.kind, step.end.kind) for step in way.steps} >= {("load", "stack"), ("stack", "stack")}


def test_a_split_that_was_told_of_an_empty_heap_is_taken(desk: Desk, heap: int) -> None:
    split(desk, heap)
    again = split(desk, heap, name="S2")

    assert again["mass_g"] == 0
    assert len(again["clashes"]) == 1


def test_a_bad_report_writes_nothing(desk: Desk, heap: int) -> None:
    with desk.book.read() as session:
        before = session.query(Entry).count()
    for facts in (
        {"thickness_m": 9.0},
        {"form": "round"},
        {"name": ""},
        {"share": 2.0},
        {"start_mc_wet": 0.9},
        {"splinter_share": 0.9},
        {"kind": "pile"},
    ):
        with pytest.raises(InputError):
            split(desk, heap, **facts)
    with desk.book.read() as session:
        assert session.query(Entry).count() == before
