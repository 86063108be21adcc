"""A yard with a row in nearly every kind of table, to be copied about. Run as a script, it makes the sample books."""

from __future__ import annotations

import gzip
import shutil
import sys
import tempfile
from datetime import timedelta
from pathlib import Path

from sqlalchemy import select

from rickyard.book import Book, Move, migrations, next_number, post, reverse
from rickyard.book.engine import book_url, make_engine
from rickyard.book.models import (
    Clash,
    CutFinding,
    CutSheet,
    CutSheetLog,
    CutTick,
    Deed,
    HouseholdLink,
    Load,
    LoadFollowing,
    LoadMeasure,
    LogPiece,
    Naming,
    NamingTruth,
    Offer,
    Order,
    Password,
    Payment,
    Person,
    Photo,
    PhotoGauging,
    Promise,
    Reading,
    SignIn,
    SignInTry,
    SplittingSheet,
    StackForecast,
    StackMeasure,
    Ticket,
    Undoing,
    Witness,
    WorkSession,
    YardCosts,
)
from rickyard.book.sky_tables import WeatherFile, WeatherHours

SAMPLES = Path(__file__).parent / "samples"
ACER, OAK = "acer_saccharum", "quercus_rubra"
# What spreadsheets, CSV and databases like to spoil.
HARD = "a\tb, \"c\"\r\nd\\n 'é' 木\u2028 \\N =1+1 "


def fill(yard, *, words: str = HARD, tenths: float = 0.1) -> None:
    """Rows of every kind in a yard that was just founded; sound, with the photo and the weather file in the store."""
    book, start = yard.book, yard.start
    later = start + timedelta(hours=1, microseconds=123456)
    when = {"happened_at": start, "recorded_at": later}
    own = {"yard_id": yard.yard_id}
    photo = book.files.put(b"\xff\xd8 as if a photo") if book.has_files else "0" * 64
    sky = book.files.put(words.encode()) if book.has_files else "1" * 64
    with book.write() as session:
        person = Person(name=words, role="owner", **own)
        session.add(person)
        session.flush()
        deed = Deed(
            client_key="a key of a phone",
            kind="take_in",
            body_hash="b" * 64,
            answer={"words": words, "number": 1e-17, "list": [1, 2.5, None, True]},
            person_id=person.id,
            told_at=later,
            **own,
            **when,
        )
        session.add(deed)
        load = Load(
            number=next_number(session, yard.yard_id, "load"),
            spot_id=yard.load,
            lot_id=yard.lot,
            source=words,
            arrived_on=start.date(),
            detail="logs",
            mass_sd_share=tenths,
            paid_minor=12_345_678_901,
            note="",
            **own,
        )
        session.add(load)
        session.flush()
        session.add(
            LogPiece(
                load_id=load.id,
                number=1,
                species_id=OAK,
                length_m=tenths,
                small_d_m=0.2 + tenths,
                formula="smalian",
                volume_m3=1 / 3,
                gross_m3=1 / 2,
                sweep_m=tenths,
                defects=[[0.0, tenths, "rot", None, 0.5]],
                **own,
            )
        )
        for species, grams in ((ACER, 4_000_000), (OAK, 1_000_001)):
            post(
                session,
                yard.yard_id,
                kind="take_in",
                reason=words,
                deed_id=deed.id,
                moves=[
                    Move(yard.outside, species, "log", yard.lot, -grams),
                    Move(
                        yard.load, species, "log", yard.lot, grams, tenths, "solid_m3", "tape", tenths, 560.0
                    ),
                ],
                **when,
            )
        post(
            session,
            yard.yard_id,
            kind="stack",
            moves=[
                Move(yard.load, ACER, "log", yard.lot, -4_000_000),
                Move(yard.stack, ACER, "split", yard.lot, 3_600_000),
                Move(yard.loss, ACER, "kerf", yard.lot, 400_000),
            ],
            **when,
        )
        mistake = post(session, yard.yard_id, kind="opening", moves=yard.came_in(50), **when)
        reverse(session, mistake, reason="not mine", **when)
        measure = {"stack_id": yard.stack_id, "piled": "ranked", "length_m": 6.0, "heights_m": [1.5, tenths]}
        session.add(
            StackMeasure(
                happened_at=start, outside_m3=9.0, mass_g=3_600_000, stock_taking=False, **measure, **own
            )
        )
        order = Order(
            number=next_number(session, yard.yard_id, "order"),
            household_id=yard.household_id,
            ware_id=yard.ware_id,
            typed="½ cord",
            outside_m3=3.0,
            asked_on=start.date(),
            wanted_by=start.date(),
            state="delivered",
            total_minor=30_000,
            note=words,
            **own,
        )
        session.add(order)
        session.flush()
        session.add(
            Promise(
                order_id=order.id,
                stack_id=yard.stack_id,
                outside_m3=3.0,
                odds=tenths,
                made_at=later,
                state="kept",
                **own,
            )
        )
        sold = post(
            session,
            yard.yard_id,
            kind="deliver",
            moves=[
                Move(yard.stack, ACER, "split", yard.lot, -1_200_000),
                Move(yard.home, ACER, "split", yard.lot, 1_200_000, 3.0, "stacked_m3"),
            ],
            **when,
        )
        ticket = Ticket(
            number=next_number(session, yard.yard_id, "ticket"),
            order_id=order.id,
            household_id=yard.household_id,
            entry_id=sold.id,
            issued_at=later,
            delivered_on=start.date(),
            outside_m3=3.0,
            price_minor=30_000,
            tax_minor=4_500,
            total_minor=34_500,
            currency="CAD",
            facts={"words": words, "nothing": None},
            **own,
        )
        reading = Reading(
            stack_id=yard.stack_id,
            happened_on=start.date(),
            kind="meter",
            value=31.0 + tenths,
            typed={"value": "31,1"},
            wet=True,
            **own,
        )
        session.add_all([ticket, reading])
        session.flush()
        naming = Naming(
            deed_id=deed.id,
            load_id=load.id,
            logs=[1],
            situations=[],
            answers=[],
            not_seen=[],
            counts={},
            exponent=0.5,
            tables="abc",
            level="species",
            odds=tenths,
            leader="acsa",
            leader_odds=0.9,
            **own,
        )
        session.add(naming)
        session.flush()
        session.add_all(
            [
                NamingTruth(naming_id=naming.id, deed_id=deed.id, key_id=None, how="leaf", **own),
                Payment(ticket_id=ticket.id, amount_minor=34_000, method="cash", paid_on=start.date(), **own),
                Witness(
                    stack_id=yard.stack_id,
                    deed_id=deed.id,
                    label="7",
                    start_kg=3 + tenths,
                    marked_on=start.date(),
                    **own,
                ),
                StackForecast(
                    stack_id=yard.stack_id,
                    fingerprint="f" * 64,
                    state="done",
                    made_at=later,
                    summary={"p50": [tenths]},
                    members_mc=bytes(range(256)) * 900,
                    **own,
                ),
                Clash(
                    deed_id=deed.id,
                    subject_kind="stack",
                    subject_id=yard.stack_id,
                    code="odd",
                    msgid="{what}",
                    sentence_values={"what": words},
                    raised_at=later,
                    settled_at=None,
                    **own,
                ),
                Photo(
                    deed_id=deed.id,
                    sha256=photo,
                    media_type="image/jpeg",
                    size_bytes=17,
                    width_px=4,
                    height_px=3,
                    taken_at=None,
                    subject_kind="load",
                    subject_id=load.id,
                    latitude_deg=45 + tenths,
                    **own,
                ),
                WeatherFile(
                    deed_id=deed.id,
                    sha256=sky,
                    name="sky.csv",
                    format="table",
                    kind="observed",
                    station="here",
                    first_day=start.date(),
                    last_day=start.date(),
                    complete=1.0,
                    meaning={},
                    notes=[],
                    offsets={},
                    added_at=later,
                    **own,
                ),
                WeatherHours(
                    source="file",
                    format="table",
                    kind="observed",
                    station="here",
                    first_day=start.date(),
                    last_day=start.date(),
                    digest="d" * 64,
                    notes=[],
                    packed=b"\x00\xff",
                    updated_at=later,
                    **own,
                ),
            ]
        )

    with book.write() as session:
        _taken_back(session, yard, later)
        _access(session, yard, later)
        _measures_and_offers(session, yard, later)
        _sheets(session, yard, later)


def _taken_back(session, yard, later) -> None:
    own = {"yard_id": yard.yard_id}
    deed, ticket = (session.scalars(select(table).limit(1)).one() for table in (Deed, Ticket))
    twice = Payment(ticket_id=ticket.id, amount_minor=500, method="cash", paid_on=later.date(), **own)
    measured = StackMeasure(
        stack_id=session.scalars(select(StackMeasure.stack_id).limit(1)).one(),
        deed_id=deed.id,
        happened_at=later,
        piled="ranked",
        length_m=0.1,
        heights_m=[1.0],
        outside_m3=0.04,
        mass_g=1,
        **own,
    )
    session.add_all([twice, measured])
    session.flush()
    for what in ({"payment_id": twice.id}, {"measure_id": measured.id}):
        session.add(Undoing(deed_id=deed.id, undone_at=later, reason="entered twice", **what, **own))


def _access(session, yard, later) -> None:
    own = {"yard_id": yard.yard_id}
    person = session.scalars(select(Person).limit(1)).one()
    session.add_all(
        [
            Password(
                person_id=person.id, argon2="$argon2id$v=19$m=1,t=1,p=1$c2FsdA$aGFzaA", set_at=later, **own
            ),
            SignIn(
                person_id=person.id,
                token_sha256="e" * 64,
                device="Firefox · Linux",
                begun_at=later,
                seen_at=later,
                expires_at=later + timedelta(days=30),
                **own,
            ),
            SignInTry(kind="pair", of="f" * 64, at=later, **own),
            HouseholdLink(household_id=yard.household_id, token_sha256="a" * 64, made_at=later, **own),
        ]
    )


def _measures_and_offers(session, yard, later) -> None:
    own = {"yard_id": yard.yard_id}
    deed, load = (session.scalars(select(table).limit(1)).one() for table in (Deed, Load))
    measure, photo = (session.scalars(select(table).limit(1)).one() for table in (StackMeasure, Photo))
    spread = {"low_m3": 0.9, "mid_m3": 1.0, "high_m3": 1.1}
    session.add_all(
        [
            LoadMeasure(
                load_id=load.id, deed_id=deed.id, kind="truck", told={"width_m": 0.1}, **spread, **own
            ),
            LoadFollowing(load_id=load.id, deed_id=deed.id, reason="two measures together", **spread, **own),
            PhotoGauging(
                measure_id=measure.id,
                photo_id=photo.id,
                board_width_m=0.1,
                board_height_m=0.2,
                corners_px=[[0, 0.1]],
                outline_px=[],
                area_m2=2.0,
                low_m2=1.9,
                high_m2=2.1,
                **own,
            ),
            Offer(
                deed_id=deed.id,
                number=next_number(session, yard.yard_id, "offer"),
                source="Sample",
                offered_on=later.date(),
                kind="rough",
                quantity=1 / 3,
                quantity_kind="solid_m3",
                shares=[[ACER, 1.0]],
                logs=[],
                trees=[],
                harvest={"country": "CA"},
                asked_minor=-500,
                **own,
            ),
            YardCosts(
                deed_id=deed.id,
                wage_minor_h=2_500,
                fuel_minor_l=419 / 3.785411784,
                method="hydraulic_splitter",
                kerf_m=0.008,
                hours={"stacking": 0.1},
                margin_kind="share",
                margin=0.1,
                **own,
            ),
        ]
    )


def _sheets(session, yard, later) -> None:
    own = {"yard_id": yard.yard_id}
    deed, load = (session.scalars(select(table).limit(1)).one() for table in (Deed, Load))
    sheet = CutSheet(
        deed_id=deed.id,
        load_id=load.id,
        number=next_number(session, yard.yard_id, "cut_sheet"),
        wares=[{"name": "Sample", "length_m": 0.4064}],
        kerf_m=0.008,
        trim_m=0.0,
        bound=0.1,
        **own,
    )
    splitting = SplittingSheet(
        deed_id=deed.id,
        load_id=load.id,
        number=next_number(session, yard.yard_id, "splitting_sheet"),
        species_id=ACER,
        piece_length_m=0.4064,
        stacked_on=later.date(),
        wanted_by=later.date(),
        odds=0.9,
        target_mc_wet=0.2,
        cover="top",
        exposure="normal",
        method="hydraulic_splitter",
        rounds=[],
        patterns=[],
        **own,
    )
    session.add_all([sheet, splitting])
    session.flush()
    log = CutSheetLog(
        sheet_id=sheet.id,
        number=1,
        label="1",
        length_m=3.0,
        large_d_m=0.3,
        small_d_m=0.1 + 0.1,
        defects=[],
        cuts=[[0.0, 0.4064, 0, 0.1]],
        **own,
    )
    session.add(log)
    session.flush()
    session.add_all(
        [
            CutTick(log_id=log.id, deed_id=deed.id, kind="cut", **own),
            CutFinding(
                log_id=log.id, deed_id=deed.id, kind="metal", from_m=0.1, to_m=0.2, cuts_before=[], **own
            ),
            WorkSession(
                deed_id=deed.id,
                sheet_id=splitting.id,
                step="splitting",
                method="hydraulic_splitter",
                worked_on=later.date(),
                cords=0.1,
                piece_length_m=0.4064,
                thickness_m=0.1,
                hours=1 / 3,
                **own,
            ),
            WorkSession(
                deed_id=deed.id,
                step="stacking",
                worked_on=later.date(),
                solid_m3=2.5,
                piece_length_m=0.4064,
                hours=1.5,
                **own,
            ),
        ]
    )


def main(found) -> None:
    """Makes a sample book of every version: the rows of `fill`, taken down to it by the migrations.

    This version's too: it is an earlier one when the next migration comes. One that is there stays as it is.
    """
    SAMPLES.mkdir(exist_ok=True)
    for revision in migrations.REVISIONS:
        path = SAMPLES / f"{revision}.sqlite.gz"
        if path.exists():
            continue
        with tempfile.TemporaryDirectory() as folder:
            target = Path(folder) / "book.sqlite"
            with Book.open(target, create=True) as book:
                fill(found(book), words="Sample")
            made = make_engine(book_url(target), writing=True, foreign_keys=False)
            if revision != migrations.HEAD:
                with made.begin() as connection:
                    migrations.downgrade(connection, revision)
            made.dispose()
            with target.open("rb") as plain, gzip.GzipFile(path, "wb", mtime=0) as packed:
                shutil.copyfileobj(plain, packed)


if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[2]))
    from tests.book.conftest import found_yard

    main(found_yard)
