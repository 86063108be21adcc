"""A small yard with everything a page can show, an application on it, and a page of the system's browser.

Forecasts are made up here (an exponential towards a floor, with a spread): these tests are about pages, not
about drying, and must not wait for the model.
"""

from __future__ import annotations

import importlib.util
import io
import shutil
import threading
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from types import ModuleType
from typing import Any

import httpx
import numpy as np
import pytest
import uvicorn
from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat
from cryptography.x509.oid import ExtendedKeyUsageOID
from fastapi import FastAPI
from PIL import Image, ImageDraw
from playwright.sync_api import Browser, BrowserContext, Page

from rickyard.desk import answers as desk_answers
from rickyard.desk import forecasts, tickets
from rickyard.desk.context import Desk, new_key
from rickyard.desk.cutting import (
    FoundInLog,
    MakeCutSheet,
    TickOff,
    found_in_log,
    make_cut_sheet,
    tick_off,
)
from rickyard.desk.deliveries import Deliver, deliver
from rickyard.desk.forecast_inputs import ForecastInputs
from rickyard.desk.household_links import MakeLink, make_link
from rickyard.desk.households import SetHousehold, set_household
from rickyard.desk.housekeeping import new_book, open_book
from rickyard.desk.moving import TakeAway, take_away
from rickyard.desk.naming import ConfirmNaming, KeepSeen, confirm_naming, keep_seen
from rickyard.desk.offers import NoteOffer, OfferFacts, RefuseOffer, TreeFacts, note_offer, refuse_offer
from rickyard.desk.orders import PlaceOrder, place_order
from rickyard.desk.photos import AddPhoto, add_photo
from rickyard.desk.readings import AddReading, add_reading
from rickyard.desk.seen import Seen
from rickyard.desk.sheet_wares import SheetWare
from rickyard.desk.splitting import (
    MakeSplittingSheet,
    ReckonSplittingSheet,
    TimeWork,
    make_splitting_sheet,
    reckon_splitting_sheet,
    time_work,
)
from rickyard.desk.stacking import Dimensions, OpeningStack, PiecesFacts, StackUp, opening_stack, stack_up
from rickyard.desk.stacks import stack_page
from rickyard.desk.tickets import Pay, pay
from rickyard.desk.wares import SetWare, WareFacts, set_ware
from rickyard.desk.witness import MarkPieces, WeighPieces, mark_pieces, weigh_pieces
from rickyard.desk.wood_in import Harvest, TakeInLogs, TakeInRough, take_in_logs, take_in_rough
from rickyard.desk.yards import YardFacts, open_desk, set_up_yard
from rickyard.identify import Answer
from rickyard.jobs import Answers
from rickyard.measure import CORD_M3, LogRow
from rickyard.season import Backwards, StartLimit, ThicknessLimit
from rickyard.web.app import create_app
from rickyard.web.authority import Authority
from rickyard.wood import UNNAMED

TODAY = date(2026, 11, 24)
HARVEST = Harvest(country="CA", subdivision="NB", county="York")
# Everything that people typed into the small yard; a page may show it as it is.
TYPED = (
    "Brindlemoor Yard",
    "Fredericton, NB",
    "12 Heron Flats Road",
    "506-555-0190",
    "York",
    "Saltbox woodlot",
    "Thistledown Tree Care",
    "Perpetua Ashgrove",
    "Quentin Marlowe-Pye",
    "4 Quarry Hollow Road",
    "Dry hardwood, 16 in",
    "Green hardwood, 16 in",
    "Back row",
    "Rickyard",
)


def clock() -> datetime:
    return datetime(TODAY.year, TODAY.month, TODAY.day, 18, tzinfo=UTC)


def at(day: date) -> Callable[[], datetime]:
    return lambda: datetime(day.year, day.month, day.day, 18, tzinfo=UTC)


# A page comes in a tenth of a second; a machine that does other things as well needs longer.
PATIENCE_S = 30.0


@dataclass(frozen=True)
class SmallYard:
    """The book, and the ids of what is in it."""

    target: str
    mixed: int
    dry: int
    heap: int
    rough_load: int
    logs_load: int
    home: int
    ware: int
    asked: int
    promised: int
    delivered: int
    ticket: int
    clash: int
    photo: int
    seen: int
    kept: int
    link: str
    offer: int
    refused: int
    logs_offer: int
    cut: int
    split: int
    waiting: int
    gone: int
    payment: int


def draw_photo(width: int = 640, height: int = 400, kind: str = "JPEG") -> bytes:
    """A drawn picture: a round of wood on grass."""
    image = Image.new("RGB", (width, height), (96, 128, 72))
    draw = ImageDraw.Draw(image)
    side = min(width, height)
    draw.ellipse((side // 8, side // 8, side - side // 8, side - side // 8), (214, 178, 120), (90, 60, 30), 4)
    out = io.BytesIO()
    image.save(out, kind)
    return out.getvalue()


def make_small_yard(target: str) -> SmallYard:
    """A yard of three stacks, two loads with wood left, three orders and a ticket, made by deeds."""
    new_book(target)
    book = open_book(target)
    facts = YardFacts(
        name="Brindlemoor Yard",
        address="12 Heron Flats Road",
        phone="506-555-0190",
        country="CA",
        subdivision="NB",
        climate_place="Fredericton, NB",
        timezone="America/Moncton",
        tax_rate=0.15,
    )
    desk = set_up_yard(book, facts, owner="Perpetua Ashgrove", seed=5, clock=at(date(2025, 1, 2)))
    desk = Desk(book, desk.yard_id, clock)
    wares = [
        int(
            set_ware(
                desk,
                SetWare(
                    key=new_key(),
                    facts=WareFacts(
                        name=name,
                        species=("sugar maple", "red maple", "yellow birch", "white ash"),
                        piece_length_m=0.4064,
                        max_mc_wet=dry,
                        price_minor=price,
                    ),
                ),
            )["ware_id"]
        )
        for name, dry, price in (("Dry hardwood, 16 in", 0.20, 38000), ("Green hardwood, 16 in", None, 29000))
    ]
    homes = [
        int(
            set_household(
                desk,
                SetHousehold(key=new_key(), name=name, address="4 Quarry Hollow Road", phone="506-555-0190"),
            )["household_id"]
        )
        for name in ("Perpetua Ashgrove", "Quentin Marlowe-Pye")
    ]
    rough = int(
        take_in_rough(
            desk,
            TakeInRough(
                key=new_key(),
                source="Saltbox woodlot",
                harvest=HARVEST,
                arrived_on=date(2026, 2, 3),
                quantity=10 * CORD_M3,
                shares=(("sugar maple", 60.0), ("yellow birch", 40.0)),
                typed="10 cords",
                paid_minor=120000,
                note="Back row",
            ),
        )["load_id"]
    )
    log = LogRow(species_id=UNNAMED.id, length_m=3.6, mid_d_m=0.3, bark_thickness_m=0.01)
    logs_load = int(
        take_in_logs(
            desk,
            TakeInLogs(
                key=new_key(),
                source="Thistledown Tree Care",
                harvest=HARVEST,
                arrived_on=date(2026, 10, 1),
                logs=(log,) * 6,
            ),
        )["load_id"]
    )
    mixed = int(
        stack_up(
            desk,
            StackUp(
                key=new_key(),
                sources=((rough, 0.6),),
                pieces=PiecesFacts(
                    name="B2",
                    piece_length_m=0.4064,
                    thickness_m=0.11,
                    stacked_on=date(2026, 4, 20),
                    row_label="Back row",
                    x_m=3.0,
                    y_m=8.0,
                    note="Back row",
                ),
                outside=Dimensions(length_m=9.0, heights_m=(1.5, 1.45), rows=4),
            ),
        )["stack_id"]
    )
    dry, heap = (
        int(
            opening_stack(
                desk,
                OpeningStack(
                    key=new_key(),
                    shares=shares,
                    harvest=HARVEST,
                    pieces=PiecesFacts(
                        name=name,
                        kind=kind,
                        piece_length_m=0.4064,
                        thickness_m=0.10,
                        stacked_on=date(2025, 3, 1),
                        x_m=x_m,
                        y_m=3.0 if x_m is not None else None,
                    ),
                    outside=Dimensions(length_m=8.0, heights_m=(1.5,), rows=3 if kind == "stack" else 4),
                ),
            )["stack_id"]
        )
        for name, kind, shares, x_m in (
            ("A1", "stack", (("white ash", 1.0),), 3.0),
            ("C3", "heap", (("red spruce", 0.5), ("balsam fir", 0.5)), None),
        )
    )
    make_up_forecasts(desk)
    for kind, value, species, temp in (
        ("meter", 24.0, "sugar maple", 12.0),
        ("oven", 0.24, "yellow birch", None),
        ("weighed", 0.8, "", None),
    ):
        add_reading(
            desk,
            AddReading(
                key=new_key(),
                stack_id=mixed,
                kind=kind,
                value=value,
                happened_on=date(2026, 10, 15),
                species=species,
                temp_c=temp,
            ),
        )
    mark_pieces(
        desk,
        MarkPieces(key=new_key(), stack_id=heap, pieces=(("1", 2.0), ("2", 2.5)), marked_on=date(2026, 9, 1)),
    )
    weigh_pieces(
        desk,
        WeighPieces(
            key=new_key(), stack_id=heap, weights=(("1", 1.8), ("2", 2.3)), happened_on=date(2026, 10, 1)
        ),
    )
    take_away(desk, TakeAway(key=new_key(), left_for="lost", stack_id=heap, share=0.002, reason="Back row"))
    gone = stack_page(desk, heap).journal[0].number
    make_up_forecasts(desk)
    asked, promised, delivered = (
        int(
            place_order(
                desk,
                PlaceOrder(
                    key=new_key(),
                    household_id=home,
                    ware_id=wares[0],
                    ranked_m3=cords * CORD_M3,
                    wanted_by=day,
                    typed=f"{cords:g} cords",
                    portions=((stack, cords * CORD_M3),) if stack else (),
                    despite_odds=True,
                ),
            )["order_id"]
        )
        for home, cords, day, stack in (
            (homes[0], 2.0, TODAY + timedelta(days=40), None),
            (homes[1], 1.5, TODAY + timedelta(days=5), mixed),
            (homes[0], 1.0, TODAY, dry),
        )
    )
    early = AddReading(
        key=new_key(),
        stack_id=heap,
        kind="oven",
        value=0.3,
        happened_on=date(2025, 2, 1),
        species="red spruce",
    )
    (clash,) = add_reading(desk, early)["clashes"]
    photo = int(
        add_photo(
            desk,
            AddPhoto(
                key=new_key(), content=draw_photo(), subject_kind="stack", subject_id=mixed, note="Back row"
            ),
        )["photo_id"]
    )
    ticket = int(
        deliver(
            desk, Deliver(key=new_key(), order_id=delivered, delivered_on=TODAY, driver="Quentin Marlowe-Pye")
        )["ticket_id"]
    )
    pay(desk, Pay(key=new_key(), ticket_id=ticket, amount_minor=5000, paid_on=TODAY))
    (payment,) = (line.id for line in tickets.ticket(desk, ticket).payments)
    acorn = Seen(answers=(Answer("fruit", ("acorn",)), Answer("porosity", ("ring",), 0.3)), region="NE")
    seen = int(
        keep_seen(
            desk,
            KeepSeen(
                key=new_key(), seen=acorn, load_id=logs_load, was=UNNAMED.id, logs=(2,), note="Back row"
            ),
        )["naming_id"]
    )
    confirm_naming(
        desk,
        ConfirmNaming(
            key=new_key(),
            naming_id=seen,
            tree="quru",
            how="leaf",
            by_whom="Quentin Marlowe-Pye",
            rename=False,
        ),
    )
    kept = int(keep_seen(desk, KeepSeen(key=new_key(), seen=acorn))["naming_id"])
    link = make_link(desk, MakeLink(key=new_key(), household_id=homes[0]))[1]
    offered = [
        int(note_offer(desk, NoteOffer(key=new_key(), facts=facts))["offer_id"])
        for facts in (
            OfferFacts(
                source="Saltbox woodlot",
                harvest=HARVEST,
                offered_on=TODAY,
                quantity=8 * CORD_M3,
                shares=(("sugar maple", 0.7), ("yellow birch", 0.3)),
                asked_minor=50000,
                note="Back row",
            ),
            OfferFacts(
                source="Thistledown Tree Care",
                harvest=HARVEST,
                offered_on=TODAY,
                trees=(TreeFacts(species="red spruce", dbh_m=0.5),),
                origin="yard",
                asked_minor=0,
            ),
            OfferFacts(
                source="Thistledown Tree Care",
                harvest=HARVEST,
                offered_on=TODAY,
                logs=(LogRow(species_id="acer_saccharum", length_m=3.0, mid_d_m=0.3),) * 9,
            ),
        )
    ]
    refuse_offer(desk, RefuseOffer(key=new_key(), offer_id=offered[1], reason="Back row"))
    cut, split, waiting = make_sheets(desk, logs_load, rough, wares[0])
    make_up_forecasts(desk)
    book.close()
    return SmallYard(
        target,
        mixed,
        dry,
        heap,
        rough,
        logs_load,
        homes[0],
        wares[0],
        asked,
        promised,
        delivered,
        ticket,
        int(clash),
        photo,
        seen,
        kept,
        link,
        *offered,
        cut,
        split,
        waiting,
        gone,
        payment,
    )


def make_sheets(desk: Desk, logs_load: int, rough: int, ware: int) -> tuple[int, int, int]:
    """A cut sheet with a log ticked off and one that held a nail; a splitting sheet, and one that waits."""
    cut = int(
        make_cut_sheet(
            desk,
            MakeCutSheet(
                key=new_key(),
                load_id=logs_load,
                wares=(SheetWare(ware_id=ware, min_d_m=0.08),),
                note="Back row",
            ),
        )["sheet_id"]
    )
    tick_off(desk, TickOff(key=new_key(), sheet_id=cut, log=1))
    found_in_log(
        desk, FoundInLog(key=new_key(), sheet_id=cut, log=2, kind="metal", from_m=1.0, note="Back row")
    )
    split, waiting = (
        int(
            make_splitting_sheet(
                desk,
                MakeSplittingSheet(
                    key=new_key(),
                    load_id=load,
                    species=wood,
                    piece_length_m=0.4064,
                    stacked_on=TODAY,
                    wanted_by=date(2027, 10, 1),
                    diameters_m=sizes,
                    hand_m=0.18,
                ),
            )["sheet_id"]
        )
        for load, wood, sizes in ((rough, "sugar maple", (0.2, 0.36)), (logs_load, UNNAMED.id, ()))
    )
    reckon_splitting_sheet(
        desk, ReckonSplittingSheet(key=new_key(), sheet_id=split), made_up_limit(thickness_m=0.118)
    )
    time_work(
        desk,
        TimeWork(
            key=new_key(),
            method="hydraulic_splitter",
            hours=3.0,
            cords=1.2,
            pieces=800,
            worked_on=TODAY,
            sheet_id=split,
            note="Back row",
        ),
    )
    return cut, split, waiting


def made_up_limit(thickness_m: float) -> Backwards:
    """What the drying model would say of how thick and how late; made up."""
    by = date(2027, 10, 1)
    return Backwards(
        by=by,
        odds=0.9,
        target_mc_wet=0.2,
        thickness=ThicknessLimit("found", thickness_m, 0.91),
        start=StartLimit("found", date(2027, 4, 1), 0.9),
        model="made up",
        members=40,
    )


def make_up_forecasts(desk: Desk) -> None:
    """Keeps a made-up forecast for every stale stack: dry stacks stay dry, new ones dry over a summer."""
    for inputs, fresh in forecasts.wanted(desk):
        if not fresh:
            forecasts.keep(desk, inputs, *_made_up(inputs))


def _made_up(inputs: ForecastInputs) -> tuple[dict[str, object], bytes]:
    start: date = inputs.pieces["stacked_on"]
    count = (inputs.until - start).days + 1
    days = np.arange(count)[:, None]
    pace = np.linspace(70, 160, inputs.members)[None, :]
    mc_db = 0.17 + 0.6 * np.exp(-days / pace)
    mc_wet = np.sort(mc_db / (1 + mc_db), axis=1)
    quantiles = [np.quantile(mc_wet, share, axis=1) for share in (0.1, 0.5, 0.9)]
    target_db = inputs.target_mc_wet / (1 - inputs.target_mc_wet)
    below = mc_db <= target_db
    firsts = [int(np.argmax(quantile <= inputs.target_mc_wet)) for quantile in quantiles]
    ready = [(start + timedelta(days=first)).isoformat() if first else None for first in firsts]
    summary: dict[str, object] = {
        "dates": [start.isoformat(), count],
        "p10": [round(float(x), 4) for x in quantiles[0]],
        "p50": [round(float(x), 4) for x in quantiles[1]],
        "p90": [round(float(x), 4) for x in quantiles[2]],
        "ready": ready,
        "odds": [
            [(start + timedelta(days=week)).isoformat(), round(float(below[week].mean()), 4)]
            for week in range(0, count, 7)
        ],
        "parts": [
            {
                "species_id": species_id,
                "share": share,
                "ready": ready,
                "p50": [round(float(x), 4) for x in quantiles[1]],
            }
            for species_id, share in inputs.shares
        ],
        "layers": [
            {"name": name, "ready": ready, "weeks": [[round(float(x), 4) for x in q[::7]] for q in quantiles]}
            for name in ("top", "middle", "bottom")
        ],
        "warnings": [],
        # The first reading is questioned, and the first wood is learnt of: pages show both.
        "doubted": [int(reading.ref) for _, reading in inputs.readings[:1]],
        "lessons": [
            {
                "species_id": inputs.shares[0][0],
                "thickness_class": "middle",
                "row": inputs.row,
                "pace": 0.2,
                "exposure": 0.1,
                "precision": (30.0, 0.0, 4.0),
            }
        ][: len(inputs.readings)],
    }
    packed = io.BytesIO()
    np.savez_compressed(packed, mc_db=np.round(mc_db * 10000).astype(np.uint16))
    return summary, packed.getvalue()


@pytest.fixture(scope="session")
def small_yard_file(tmp_path_factory: pytest.TempPathFactory) -> SmallYard:
    return make_small_yard(str(tmp_path_factory.mktemp("yard") / "book.sqlite"))


@pytest.fixture
def small_yard(small_yard_file: SmallYard, tmp_path: Path) -> SmallYard:
    """A copy of the small yard that the test may change."""
    target = tmp_path / "book.sqlite"
    target.write_bytes(Path(small_yard_file.target).read_bytes())
    shutil.copytree(f"{small_yard_file.target}.files", f"{target}.files")
    return SmallYard(str(target), *list(vars(small_yard_file).values())[1:])


def paths_of(yard: SmallYard) -> dict[str, str]:
    """Route to an address of it that shows something, for every page of the application."""
    ask = f"/orders/new?ware={yard.ware}&household={yard.home}&order_quantity="
    return {
        "/": "/",
        "/progress": "/progress",
        "/wood-in": "/wood-in",
        "/wood-in/new": "/wood-in/new",
        "/wood-in/logs": "/wood-in/logs",
        "/wood-in/{load_id:int}": f"/wood-in/{yard.rough_load}",
        "/wood-in/{load_id:int} logs": f"/wood-in/{yard.logs_load}",
        "/wood-in/{load_id:int}/lying": f"/wood-in/{yard.logs_load}/lying",
        "/offers": "/offers",
        "/offers/new": "/offers/new",
        "/offers/{offer_id:int}": f"/offers/{yard.offer}",
        "/offers/{offer_id:int} refused": f"/offers/{yard.refused}",
        "/offers/{offer_id:int} logs": f"/offers/{yard.logs_offer}",
        "/offers/{offer_id:int}/change": f"/offers/{yard.offer}/change",
        "/offers/compare": "/offers/compare",
        "/offers/compare made": f"/offers/compare?of={yard.offer}&of={yard.logs_offer}",
        "/yard/costs": "/yard/costs",
        "/stacks": "/stacks",
        "/stacks plan": "/stacks?show=plan",
        "/stacks/new": f"/stacks/new?load={yard.rough_load}",
        "/stacks/opening": "/stacks/opening",
        "/stacks/{stack_id:int}": f"/stacks/{yard.mixed}",
        "/stacks/{stack_id:int} heap": f"/stacks/{yard.heap}",
        "/entries/{number:int}": "/entries/1",
        "/stacks/{stack_id:int}/measure": f"/stacks/{yard.mixed}/measure",
        "/stacks/{stack_id:int}/move": f"/stacks/{yard.mixed}/move",
        "/stacks/{stack_id:int}/empty": f"/stacks/{yard.mixed}/empty",
        "/stacks/{stack_id:int}/what-if": f"/stacks/{yard.mixed}/what-if?by=2027-06-01",
        "/stacks/{stack_id:int}/section": f"/stacks/{yard.mixed}/section?at=2",
        "/what-if": "/what-if",
        "/what-if answered": "/what-if?wood=white+ash&piece_form=split&thickness=12+cm&piece_length=41+cm"
        "&cover=top&exposure=normal&stacked_on=2026-11-25&wanted_by=2027-08-01&odds=0.9",
        "/calendar": "/calendar",
        "/calendar made": "/calendar?wood=white+ash&thicknesses=10cm&cover=top",
        "/cutting": "/cutting",
        "/cutting/new": f"/cutting/new?load={yard.logs_load}",
        "/cutting/new rough": f"/cutting/new?load={yard.rough_load}&fill=orders",
        "/cutting/{sheet_id:int}": f"/cutting/{yard.cut}",
        "/splitting/new": f"/splitting/new?load={yard.logs_load}",
        "/splitting/{sheet_id:int}": f"/splitting/{yard.split}",
        "/splitting/{sheet_id:int} waiting": f"/splitting/{yard.waiting}",
        "/splitting/times": f"/splitting/times?sheet={yard.split}",
        "/stacks/new split": f"/stacks/new?split={yard.split}",
        "/readings/new": "/readings/new",
        "/stacks/{stack_id:int}/reading": f"/stacks/{yard.mixed}/reading",
        "/stacks/{stack_id:int}/reading oven": f"/stacks/{yard.mixed}/reading?kind=oven",
        "/stacks/{stack_id:int}/reading weighed": f"/stacks/{yard.mixed}/reading?kind=weighed",
        "/stacks/{stack_id:int}/mark": f"/stacks/{yard.mixed}/mark",
        "/stacks/{stack_id:int}/weigh": f"/stacks/{yard.mixed}/weigh",
        "/yard/taught": "/yard/taught",
        "/wood/{subject}/{number:int}/way": f"/wood/stack/{yard.mixed}/way",
        "/stock": "/stock?on=2026-11-20",
        "/wood/{subject}/{number:int}/way load": f"/wood/load/{yard.rough_load}/way",
        "/wood/{subject}/{number:int}/way ticket": f"/wood/ticket/{yard.ticket}/way",
        "/wood/{subject}/{number:int}/way household": f"/wood/household/{yard.home}/way",
        "/stacks/{stack_id:int}/onto": f"/stacks/{yard.mixed}/onto?to={yard.heap}",
        "/stacks/{stack_id:int}/fill": f"/stacks/{yard.heap}/fill",
        "/stacks/{stack_id:int}/divide": f"/stacks/{yard.mixed}/divide",
        "/stacks/{stack_id:int}/split": f"/stacks/{yard.mixed}/split",
        "/stacks/{stack_id:int}/gone": f"/stacks/{yard.mixed}/gone",
        "/stacks/{stack_id:int}/came-back": f"/stacks/{yard.mixed}/came-back",
        "/wood-in/{load_id:int}/gone": f"/wood-in/{yard.logs_load}/gone",
        "/wood-in/{load_id:int}/undo": f"/wood-in/{yard.logs_load}/undo",
        "/wood-in/{load_id:int}/undo hangs": f"/wood-in/{yard.rough_load}/undo",
        "/stacks/{stack_id:int}/undo": f"/stacks/{yard.mixed}/undo",
        "/measures/{measure_id:int}/undo": "/measures/1/undo",
        "/journal/{number:int}/undo": f"/journal/{yard.gone}/undo",
        "/tickets/{ticket_id:int}/undo": f"/tickets/{yard.ticket}/undo",
        "/payments/{payment_id:int}/undo": f"/payments/{yard.payment}/undo",
        "/wood-in/{load_id:int}/back": f"/wood-in/{yard.rough_load}/back",
        "/tickets/{ticket_id:int}/came-back": f"/tickets/{yard.ticket}/came-back",
        "/household-options": "/household-options?home_name=Quent",
        "/load-options": "/load-options?load_search=Saltbox",
        "/households": "/households",
        "/households/new": "/households/new",
        "/households/{household_id:int}": f"/households/{yard.home}",
        "/households/{household_id:int}/forget": f"/households/{yard.home}/forget",
        "/tickets/{ticket_id:int}/forget": f"/tickets/{yard.ticket}/forget",
        "/households/{household_id:int}/change": f"/households/{yard.home}/change",
        "/orders": "/orders",
        "/orders delivered": "/orders?show=delivered",
        "/orders/new": "/orders/new",
        "/orders/new yes": f"{ask}0.5 cord&wanted_by=2026-12-20",
        "/orders/new short": f"{ask}90 cords&wanted_by=2026-12-20",
        "/orders/{order_id:int} asked": f"/orders/{yard.asked}",
        "/orders/{order_id:int} promised": f"/orders/{yard.promised}",
        "/orders/{order_id:int}": f"/orders/{yard.delivered}",
        "/orders/{order_id:int}/deliver": f"/orders/{yard.promised}/deliver",
        "/gate": "/gate",
        "/tickets": "/tickets",
        "/tickets/{ticket_id:int}": f"/tickets/{yard.ticket}",
        "/wares": "/wares",
        "/wares/new": "/wares/new",
        "/wares/{ware_id:int}": f"/wares/{yard.ware}",
        "/lists": "/lists",
        "/lists prices": "/lists?kind=prices",
        "/yard": "/yard",
        "/weather": "/weather",
        "/weather/map": "/weather/map",
        "/tree": "/tree",
        "/tree/seen": "/tree/seen",
        "/tree/seen/{naming_id:int}": f"/tree/seen/{yard.seen}",
        "/tree/seen/{naming_id:int} kept": f"/tree/seen/{yard.kept}",
        "/tree/trust": "/tree/trust",
        "/species": "/species",
        "/species/sheet": "/species/sheet",
        "/species/{name}": "/species/robinia_pseudoacacia",
        "/species/{name} compare": "/species/compare?of=rops&of=gltr",
        "/wood-in/{load_id:int}/measure": f"/wood-in/{yard.rough_load}/measure?by=weight",
        "/wood-in/{load_id:int}/measure truck": f"/wood-in/{yard.rough_load}/measure?by=truck",
        "/wood-in/{load_id:int}/measure logs": f"/wood-in/{yard.logs_load}/measure?by=logs",
        "/wood-in/{load_id:int}/follow": f"/wood-in/{yard.rough_load}/follow",
        "/how-much": "/how-much?of=tree&tree_species=sugar+maple&girth=120+cm&grown=open&ask=1",
        "/how-much truck": "/how-much?of=truck&bed_width=2.4+m&height=1.2+m&lying_length=2.5+m&tiers=2&ask=1",
        "/how-much weight": "/how-much?of=weight&wood=red+oak&net_weight=9000+kg&ask=1",
        "/how-much row": "/how-much?of=row&length=5+m&height=1.4+m&piece_length=40+cm&rows=2&crisscross=0.4+m&ask=1",
        "/yard/taught/stacking": "/yard/taught/stacking",
        "/stacks/{stack_id:int}/photo": f"/stacks/{yard.mixed}/photo",
        "/stacks/{stack_id:int}/photo marking": f"/stacks/{yard.mixed}/photo?photo={yard.photo}",
        "/outbox": "/outbox",
        "/offline": "/offline",
        "/offline/away": "/offline/away",
        "/phone": "/phone",
        "/who": "/who",
        "/sign-in": "/sign-in",
        "/people": "/people",
        "/people/deeds": "/people/deeds",
        "/downloads": "/downloads",
        "/h/{token}": f"/h/{yard.link}",
        "/clashes/{clash_id:int}": f"/clashes/{yard.clash}",
        "/photos/new": f"/photos/new?of=stack-{yard.mixed}",
        "/photos/{photo_id:int}/remove": f"/photos/{yard.photo}/remove",
        "/species-options": "/species-options?wood=map",
        "/place-options": "/place-options?climate_place=Freder",
    }


@pytest.fixture
def a_photo() -> Callable[..., bytes]:
    """Draws a picture: width, height and format may be said."""
    return draw_photo


@pytest.fixture
def paths(small_yard: SmallYard, worked_out: dict[str, str]) -> dict[str, str]:
    return worked_out | paths_of(small_yard)


@pytest.fixture
def typed() -> tuple[str, ...]:
    """What people typed into the small yard."""
    return TYPED


@pytest.fixture(scope="session")
def answers() -> Iterator[Answers]:
    """Answers worked out once for all tests, by few members: the small yard's questions are the same in every copy."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(desk_answers, "MEMBERS", 8)
        patch.setattr(desk_answers, "CALENDAR_MEMBERS", 8)
        yield Answers(background=False)


@pytest.fixture(scope="session")
def worked_out(small_yard_file: SmallYard, answers: Answers) -> dict[str, str]:
    """The paths of pages with answers, and these worked out beforehand, so that no test waits for them."""
    paths = paths_of(small_yard_file)
    app = create_app(small_yard_file.target, worker=False, clock=clock, hosts=(), answers=answers)
    with served(app) as address, httpx.Client(base_url=address, timeout=300) as client:
        for name in (
            "/stacks/{stack_id:int}/what-if",
            "/stacks/{stack_id:int}/section",
            "/wood-in/{load_id:int}/lying",
            "/offers/{offer_id:int}",
            "/what-if answered",
            "/calendar made",
        ):
            assert client.get(paths[name]).status_code == 200
        assert client.get(f"{paths['/species/{name}']}/drying.json").json()["state"] == "ready"
    return paths


@pytest.fixture
def app(small_yard: SmallYard, answers: Answers) -> FastAPI:
    return create_app(small_yard.target, worker=False, clock=clock, hosts=(), answers=answers)


@pytest.fixture
def make_forecasts(desk_of: Desk) -> Callable[[], None]:
    """Makes up what is stale, as the worker would."""
    return lambda: make_up_forecasts(desk_of)


@contextmanager
def served(app: FastAPI) -> Iterator[str]:
    """The application on a free port; its address."""
    server = uvicorn.Server(uvicorn.Config(app, port=0, log_level="critical"))
    thread = threading.Thread(target=server.run)
    thread.start()
    while not server.started:
        thread.join(0.02)
        assert thread.is_alive(), "the server did not start"
    yield f"http://127.0.0.1:{server.servers[0].sockets[0].getsockname()[1]}"
    server.should_exit = True
    thread.join()


@pytest.fixture
def serve() -> Callable[[FastAPI], AbstractContextManager[str]]:
    """Serves an application of the test's own."""
    return served


@pytest.fixture
def road(address: str) -> Iterator[Any]:
    """The application at the end of a bad road (`road.py`)."""
    with _module("road").bad_road(address) as road:
        yield road


def _module(name: str) -> ModuleType:
    """A helper beside this file; tests are imported one by one, without their folder on the path."""
    spec = importlib.util.spec_from_file_location(f"web_{name}", Path(__file__).with_name(f"{name}.py"))
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture
def now() -> Callable[[], datetime]:
    """The small yard's present moment."""
    return clock


@pytest.fixture
def address(app: FastAPI) -> Iterator[str]:
    """The application on the small yard, served."""
    with served(app) as address:
        yield address


@pytest.fixture
def client(address: str) -> Iterator[httpx.Client]:
    """Plain HTTP, no browser, redirects not followed."""
    with httpx.Client(base_url=address, timeout=PATIENCE_S) as client:
        yield client


@pytest.fixture
def empty_client(tmp_path: Path) -> Iterator[httpx.Client]:
    """An application on a book that has no yard yet."""
    target = str(tmp_path / "empty.sqlite")
    new_book(target)
    app = create_app(target, worker=False, clock=clock, hosts=())
    with served(app) as address, httpx.Client(base_url=address, timeout=PATIENCE_S) as client:
        yield client


@pytest.fixture
def desk_of(small_yard: SmallYard) -> Iterator[Desk]:
    """The desk behind the application, to look at what a page did."""
    book = open_book(small_yard.target)
    desk = open_desk(book, clock)
    assert desk is not None
    yield desk
    book.close()


@pytest.fixture
def phone(browser: Browser, address: str) -> Iterator[BrowserContext]:
    """A phone's browser, 390 by 844."""
    context = browser.new_context(
        base_url=address, viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True
    )
    yield context
    context.close()


@pytest.fixture
def page(phone: BrowserContext) -> Iterator[Page]:
    """A page on the phone; script errors and whatever the content-security policy stops fail the test."""
    page = phone.new_page()
    page.set_default_timeout(1000 * PATIENCE_S)
    complaints: list[str] = []
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.on(
        "console",
        lambda message: (
            complaints.append(message.text) if "Content Security Policy" in message.text else None
        ),
    )
    yield page
    assert complaints == []


@pytest.fixture
def forge() -> Callable[..., tuple[x509.Certificate, bytes]]:
    """What a thief of an authority's key makes: a certificate for any name, and the file to serve with it."""

    def make(authority: Authority, name: x509.DNSName | x509.IPAddress) -> tuple[x509.Certificate, bytes]:
        key = ec.generate_private_key(ec.SECP256R1())
        issuer = authority.certificate
        of_issuer = issuer.extensions.get_extension_for_class(x509.SubjectKeyIdentifier).value
        certificate = (
            x509.CertificateBuilder()
            .subject_name(x509.Name([]))
            .issuer_name(issuer.subject)
            .public_key(key.public_key())
            .serial_number(x509.random_serial_number())
            .not_valid_before(issuer.not_valid_before_utc)
            .not_valid_after(issuer.not_valid_before_utc + timedelta(days=30))
            .add_extension(x509.SubjectAlternativeName([name]), critical=True)
            .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
            .add_extension(
                x509.AuthorityKeyIdentifier.from_issuer_subject_key_identifier(of_issuer), critical=False
            )
            .sign(authority.key, hashes.SHA256())
        )
        pem = key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
        return certificate, pem + certificate.public_bytes(Encoding.PEM)

    return make
