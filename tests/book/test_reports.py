"""Late reports, clashes and photos through the desk's deeds, on each kind of database."""

from __future__ import annotations

import io
import threading
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from PIL import Image
from sqlalchemy import func, select

from rickyard.book import Book, check, stock
from rickyard.book.models import Clash, Deed, Stack
from rickyard.desk.clashes import SettleClash, clashes, settle_clash
from rickyard.desk.closing import EmptyStack, ReopenStack, empty_stack, reopen_stack
from rickyard.desk.context import Desk, new_key
from rickyard.desk.people import AddPerson, add_person
from rickyard.desk.photos import AddPhoto, add_photo, photo_bytes, photos, small_photo
from rickyard.desk.readings import AddReading, add_reading
from rickyard.desk.stacking import (
    Dimensions,
    MeasureStack,
    OpeningStack,
    PiecesFacts,
    measure_stack,
    opening_stack,
)
from rickyard.desk.stacks import stack_page
from rickyard.desk.wood_in import Harvest
from rickyard.desk.yards import YardFacts, set_up_yard

NOW = datetime(2026, 10, 1, 15, tzinfo=UTC)
FACTS = YardFacts(
    name="Thornbeck Yard",
    country="CA",
    subdivision="NB",
    climate_place="Fredericton, NB",
    timezone="America/Moncton",
)


@pytest.fixture
def desk(book: Book, tmp_path: Path) -> Iterator[Desk]:
    with Book.open(book.target, files=tmp_path / "photos") as with_files:  # type: ignore[attr-defined]
        desk = set_up_yard(with_files, FACTS, clock=lambda: NOW)
        yield desk
        assert check(with_files).problems == ()


def a_stack(desk: Desk, name: str) -> int:
    return int(
        opening_stack(
            desk,
            OpeningStack(
                key=new_key(),
                shares=(("sugar maple", 0.6), ("yellow birch", 0.4)),
                harvest=Harvest(country="CA", subdivision="NB"),
                pieces=PiecesFacts(
                    name=name, piece_length_m=0.406, thickness_m=0.1, stacked_on=date(2026, 4, 1)
                ),
                outside=Dimensions(length_m=8.0, heights_m=(1.5,), rows=3),
            ),
        )["stack_id"]
    )


def measured(stack: int, day: date, length_m: float) -> MeasureStack:
    outside = Dimensions(length_m=length_m, heights_m=(1.5,), rows=3)
    return MeasureStack(key=new_key(), stack_id=stack, outside=outside, measured_on=day)


def test_measures_in_any_order(desk: Desk) -> None:
    taken = [(date(2026, 6, 1), 7.0), (date(2026, 7, 1), 6.0), (date(2026, 8, 1), 6.5)]
    in_time, late = a_stack(desk, "A1"), a_stack(desk, "A2")
    for day, length_m in taken:
        measure_stack(desk, measured(in_time, day, length_m))
    for day, length_m in (taken[2], taken[0], taken[1]):
        measure_stack(desk, measured(late, day, length_m))

    with desk.book.read() as session:
        spots = [session.get_one(Stack, number).spot_id for number in (in_time, late)]
        for moment in (*(datetime(2026, month, 20, tzinfo=UTC) for month in (5, 6, 7, 8)), None):
            assert stock(session, spots[0], at=moment) == stock(session, spots[1], at=moment)


def test_a_clash_from_the_report_to_its_settling(desk: Desk) -> None:
    stack = a_stack(desk, "A1")
    who = add_person(desk, AddPerson(key=new_key(), name="Isolde"))["person_id"]
    empty_stack(desk, EmptyStack(key=new_key(), stack_id=stack, reason="burnt"))
    report = replace(
        measured(stack, date(2026, 10, 1), 4.0),
        happened_at=NOW + timedelta(days=9),
        sent_at=NOW + timedelta(days=9),
        person_id=who,
    )
    first = measure_stack(desk, report)
    assert measure_stack(desk, replace(report, sent_at=NOW + timedelta(days=10))) == first

    (line,) = clashes(desk)
    assert [line.id] == first["clashes"]
    assert line.text.values["closed"] == date(2026, 10, 1)
    reopen_stack(desk, ReopenStack(key=new_key(), stack_id=stack, reason="the wrong one"))
    settle_clash(desk, SettleClash(key=new_key(), clash_id=line.id, note="A3 was burnt"))

    assert clashes(desk) == []
    card = stack_page(desk, stack).card
    assert card.outside_m3 == pytest.approx(4.0 * 1.5 * 3 * 0.406, rel=1e-4)
    with desk.book.read() as session:
        deed = session.scalars(select(Deed).where(Deed.client_key == report.key)).one()
    assert (deed.person_id, deed.happened_at) == (who, NOW)


def test_many_phones_send_the_same_report_at_once(desk: Desk) -> None:
    """One deed, one clash, one answer, whatever each phone says of when it sent."""
    stack = a_stack(desk, "A1")
    report = AddReading(
        key=new_key(),
        stack_id=stack,
        kind="meter",
        value=22.0,
        happened_on=date(2026, 9, 1),
        species="white ash",
        happened_at=NOW,
    )
    answers: list[object] = []

    def send(number: int) -> None:
        answers.append(add_reading(desk, replace(report, sent_at=NOW + timedelta(hours=number))))

    threads = [threading.Thread(target=send, args=(number,)) for number in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert len(answers) == 8
    assert all(answer == answers[0] for answer in answers)
    with desk.book.read() as session:
        assert session.scalar(select(func.count()).select_from(Clash)) == 1


def test_a_photo(desk: Desk) -> None:
    stack = a_stack(desk, "A1")
    out = io.BytesIO()
    Image.new("RGB", (600, 300), (200, 30, 30)).save(out, "JPEG")
    command = AddPhoto(key=new_key(), content=out.getvalue(), subject_kind="stack", subject_id=stack)
    number = add_photo(desk, command)["photo_id"]
    assert add_photo(desk, command)["photo_id"] == number

    (card,) = photos(desk, "stack", stack)
    assert photo_bytes(desk, number) == (card, desk.book.files.get(card.sha256))
    assert Image.open(io.BytesIO(small_photo(desk, number))).size == (480, 240)
