"""What was seen of a tree, used for a load, confirmed and set right, on each kind of database."""

from __future__ import annotations

import io
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
import sqlalchemy as sa
from PIL import Image

from rickyard.book import Book, check, migrations, stock
from rickyard.book.engine import book_url, make_engine
from rickyard.book.models import Load
from rickyard.desk.context import Desk, new_key
from rickyard.desk.loads import load_page
from rickyard.desk.naming import ConfirmNaming, KeepSeen, NameWood, confirm_naming, keep_seen, name_wood
from rickyard.desk.people import AddPerson, add_person
from rickyard.desk.photos import AddPhoto, add_photo, photos_of_load, subject_of_deed
from rickyard.desk.seen import Seen, taught
from rickyard.desk.stacking import Dimensions, PiecesFacts, StackUp, stack_up
from rickyard.desk.trees import how_sure, load_parts, naming_page, namings
from rickyard.desk.wood_in import Harvest, TakeInLogs, TakeInRough, take_in_logs, take_in_rough
from rickyard.desk.yards import YardFacts, set_up_yard
from rickyard.errors import InputError, UnknownNameError
from rickyard.identify import LEAST_RECORDS, Answer, Prior, fit_exponent, posterior, the_key
from rickyard.identify.calibration import Confirmed
from rickyard.measure import LogRow
from rickyard.wood import UNNAMED, UNNAMED_HARDWOOD, get_species

NOW = datetime(2026, 10, 1, 15, tzinfo=UTC)
DAY = date(2026, 9, 20)
FACTS = YardFacts(
    name="Thornbeck Yard",
    country="CA",
    subdivision="NB",
    climate_place="Fredericton, NB",
    timezone="America/Moncton",
)
HARVEST = Harvest(country="CA", subdivision="NB")
OSAGE = Seen(answers=(Answer("fruit", ("green_ball",)),), situations=("leaf",), region="GP")
ACORN = Seen(answers=(Answer("fruit", ("acorn",)), Answer("porosity", ("ring",), 0.3)), region="NE")


@pytest.fixture
def desk(book: Book, tmp_path: Path) -> Iterator[Desk]:
    with Book.open(book.target, files=tmp_path / "photos") as with_files:  # type: ignore[attr-defined]
        yield set_up_yard(with_files, FACTS, clock=lambda: NOW)
        assert check(with_files).problems == ()


def a_load(desk: Desk, wood: str = UNNAMED_HARDWOOD.id) -> int:
    command = TakeInRough(
        key=new_key(),
        source="Saltbox hedge",
        harvest=HARVEST,
        arrived_on=DAY,
        quantity=10.0,
        shares=((wood, 1.0),),
    )
    return int(take_in_rough(desk, command)["load_id"])


def some_logs(desk: Desk, count: int = 4) -> int:
    log = LogRow(species_id=UNNAMED.id, length_m=3.0, mid_d_m=0.3, bark_thickness_m=0.01)
    command = TakeInLogs(
        key=new_key(), source="Saltbox hedge", harvest=HARVEST, arrived_on=DAY, logs=(log,) * count
    )
    return int(take_in_logs(desk, command)["load_id"])


def wood_of(desk: Desk, load_id: int) -> dict[str, float]:
    """Solid volume without bark by kind of wood [m³]: naming changes the mass, never the volume."""
    found: dict[str, float] = {}
    with desk.book.read() as session:
        for key, grams in stock(session, session.get_one(Load, load_id).spot_id).items():
            if key.form != "bark":
                wood = get_species(key.species_id)
                found[wood.id] = found.get(wood.id, 0.0) + grams / 1000 / wood.basic_density_kg_m3
    return found


def test_a_verdict_names_a_share_of_a_load_once(desk: Desk) -> None:
    person = int(add_person(desk, AddPerson(key=new_key(), name="Perpetua Ashgrove"))["person_id"])
    load = a_load(desk)
    (part,) = load_parts(desk)
    assert (part.load.id, part.wood, part.logs) == (load, UNNAMED_HARDWOOD, ())
    whole = sum(wood_of(desk, load).values())
    command = NameWood(
        key=new_key(),
        person_id=person,
        load_id=load,
        was=UNNAMED_HARDWOOD.id,
        now="osage-orange",
        share=0.25,
        seen=OSAGE,
        note="by the gate",
    )
    answer = name_wood(desk, command)
    assert answer["named"]
    assert name_wood(desk, command) == answer

    assert wood_of(desk, load) == pytest.approx(
        {"maclura_pomifera": whole / 4, UNNAMED_HARDWOOD.id: whole * 3 / 4}
    )
    (line,) = namings(desk, load_id=load)
    post = posterior(the_key(), OSAGE.answers, Prior(region="GP"))
    assert (line.level, line.person, line.booked_as, line.note) == (
        "species",
        "Perpetua Ashgrove",
        get_species("maclura_pomifera"),
        "by the gate",
    )
    assert line.odds == line.leader_odds == float(post.species.max())
    assert line.happened_at == NOW
    assert naming_page(desk, line.id).candidates[0] == (line.tree, line.odds)


def test_a_group_is_booked_as_the_group_and_only_some_logs(desk: Desk) -> None:
    load = some_logs(desk)
    answer = name_wood(
        desk,
        NameWood(key=new_key(), load_id=load, was=UNNAMED.id, now="red oak group", logs=(2, 4), seen=ACORN),
    )

    assert [log.species.common_en for log in load_page(desk, load).logs] == [
        UNNAMED.common_en,
        "red oak group",
        UNNAMED.common_en,
        "red oak group",
    ]
    volumes = wood_of(desk, load)
    assert volumes.pop(UNNAMED.id) == pytest.approx(sum(volumes.values()), rel=1e-5)
    assert naming_page(desk, answer["naming_id"]).line.logs == (2, 4)
    assert {part.wood.common_en: [number for number, *_ in part.logs] for part in load_parts(desk)} == {
        UNNAMED.common_en: [1, 3],
        "red oak group": [2, 4],
    }


def test_what_is_not_settled_or_of_no_load_yet_is_kept_and_used_later(desk: Desk) -> None:
    kept = keep_seen(desk, KeepSeen(key=new_key(), seen=ACORN))
    assert kept["load_id"] is None
    load = a_load(desk)
    use = NameWood(
        key=new_key(), load_id=load, was=UNNAMED_HARDWOOD.id, now="red oak group", naming_id=kept["naming_id"]
    )
    name_wood(desk, use)
    assert namings(desk)[0].load_number == 1
    with pytest.raises(InputError, match="belongs to no load yet"):
        name_wood(desk, NameWood(**{**vars(use), "key": new_key()}))
    assert list(wood_of(desk, load)) == ["red_oak_group"]


def test_only_the_number_of_the_load_is_known(desk: Desk) -> None:
    """What has no species' name in it is meant; the same report sent again is the same deed, though all is named."""
    load = a_load(desk)
    command = NameWood(key=new_key(), load_id=load, was="", now="osage-orange", seen=OSAGE)
    answer = name_wood(desk, command)
    assert answer["named"]
    assert list(wood_of(desk, load)) == ["maclura_pomifera"]
    assert name_wood(desk, command) == answer

    # Nothing is left to name: what was seen is kept all the same, a bare name is not.
    late = name_wood(desk, NameWood(**{**vars(command), "key": new_key()}))
    assert (late["named"], naming_page(desk, late["naming_id"]).line.load_number) == (False, 1)
    with pytest.raises(InputError, match="not named yet"):
        name_wood(desk, NameWood(key=new_key(), load_id=load, was="", now="white ash"))

    # Of what has no name and what has a group's, the first is meant.
    logs = some_logs(desk)
    name_wood(desk, NameWood(key=new_key(), load_id=logs, was=UNNAMED.id, now="red oak group", logs=(2, 4)))
    name_wood(desk, NameWood(key=new_key(), load_id=logs, was="", now="white ash"))
    assert set(wood_of(desk, logs)) == {"red_oak_group", "fraxinus_americana"}


def test_parts_to_name_of_some_loads(desk: Desk) -> None:
    first, second = a_load(desk), a_load(desk)
    name_wood(desk, NameWood(key=new_key(), load_id=second, was=UNNAMED_HARDWOOD.id, now="white ash"))
    third = a_load(desk)
    assert [part.load.id for part in load_parts(desk)] == [third, first]
    assert [part.load.id for part in load_parts(desk, 1)] == [third]


def test_a_late_report_is_kept_though_the_wood_is_cut(desk: Desk) -> None:
    """What was seen was seen; only without it is a name for wood that is gone refused."""
    load = a_load(desk)
    outside = Dimensions(length_m=4.0, heights_m=(1.5,), rows=4)
    pieces = PiecesFacts(name="A1", piece_length_m=0.4, thickness_m=0.1, stacked_on=date(2026, 9, 30))
    stack_up(desk, StackUp(key=new_key(), sources=((load, 1.0),), pieces=pieces, outside=outside))
    late = {"load_id": load, "was": UNNAMED_HARDWOOD.id, "now": "osage-orange"}
    with pytest.raises(InputError, match="still in this load"):
        name_wood(desk, NameWood(key=new_key(), **late))
    answer = name_wood(
        desk,
        NameWood(key=new_key(), seen=OSAGE, happened_at=NOW - timedelta(days=3), sent_at=NOW, **late),
    )

    assert not answer["named"]
    assert namings(desk, load_id=load)[0].booked_as is None


def test_bad_reports_are_refused_and_write_nothing(desk: Desk) -> None:
    load = a_load(desk)
    for seen in (Seen(answers=()), Seen(answers=(Answer("fruit", ("no such",)),))):
        with pytest.raises(InputError):
            keep_seen(desk, KeepSeen(key=new_key(), seen=seen))
    with pytest.raises(UnknownNameError):
        keep_seen(desk, KeepSeen(key=new_key(), seen=Seen(answers=OSAGE.answers, not_seen=("colour",))))
    with pytest.raises(InputError, match="exponent"):
        keep_seen(desk, KeepSeen(key=new_key(), seen=Seen(answers=OSAGE.answers, exponent=40.0)))
    with pytest.raises(InputError, match="share"):
        keep_seen(desk, KeepSeen(key=new_key(), seen=OSAGE, load_id=load, was=UNNAMED_HARDWOOD.id, share=0.0))
    assert namings(desk) == []


def test_confirmed_and_set_right_the_wood_follows(desk: Desk) -> None:
    load = a_load(desk)
    first = name_wood(
        desk,
        NameWood(
            key=new_key(), load_id=load, was=UNNAMED_HARDWOOD.id, now="osage-orange", share=0.5, seen=OSAGE
        ),
    )
    volume = wood_of(desk, load)["maclura_pomifera"]
    right = ConfirmNaming(
        key=new_key(), naming_id=first["naming_id"], tree="mapo", how="wood", by_whom="Quentin"
    )
    assert not confirm_naming(desk, right)["named"]
    assert taught(desk).counts == {"mapo": 1}

    again = ConfirmNaming(key=new_key(), naming_id=first["naming_id"], tree="black locust", how="leaf")
    assert confirm_naming(desk, again)["named"]
    assert confirm_naming(desk, again)["named"], "sent again, it is one deed"
    assert wood_of(desk, load)["robinia_pseudoacacia"] == pytest.approx(volume, rel=1e-4)
    assert taught(desk).counts == {"rops": 1}
    page = naming_page(desk, first["naming_id"])
    assert page.line.is_right is False
    assert [(truth.how, truth.by_whom) for truth in page.truths] == [("leaf", ""), ("wood", "Quentin")]


def test_a_tree_that_the_key_does_not_have_teaches_no_count(desk: Desk) -> None:
    kept = keep_seen(desk, KeepSeen(key=new_key(), seen=OSAGE))
    confirm_naming(desk, ConfirmNaming(key=new_key(), naming_id=kept["naming_id"], tree="", how="expert"))

    assert taught(desk).records == 0
    sure = how_sure(desk)
    assert (sure.confirmed, sure.not_in_key, sure.species) == (1, 1, (0, 1))
    assert [(line.right, line.bin.count) for line in sure.lines] == [(0, 1)]


def test_photos_of_what_was_seen_stand_with_the_load(desk: Desk) -> None:
    load = a_load(desk)
    deed = new_key()
    name_wood(
        desk,
        NameWood(key=deed, load_id=load, was=UNNAMED_HARDWOOD.id, now="osage-orange", seen=OSAGE),
    )
    subject = subject_of_deed(desk, deed)
    out = io.BytesIO()
    Image.new("RGB", (60, 30), (200, 30, 30)).save(out, "JPEG")
    add_photo(
        desk,
        AddPhoto(key=new_key(), content=out.getvalue(), subject_kind=subject.kind, subject_id=subject.id),
    )

    assert subject.kind == "naming"
    assert [photo.subject_kind for photo in photos_of_load(desk, load)] == ["naming"]


def test_enough_confirmed_records_give_the_yard_its_own_exponent(desk: Desk) -> None:
    """Counts and exponent come from confirmed records alone, each with the prior of its own day."""
    seen = Seen(answers=(Answer("fruit", ("acorn",)),), region="NE", counts=(), exponent=1.0)
    for number in range(LEAST_RECORDS):
        assert taught(desk).exponent == 1.0
        kept = keep_seen(desk, KeepSeen(key=new_key(), seen=seen))
        if number == 0:
            keep_seen(desk, KeepSeen(key=new_key(), seen=OSAGE))
        confirm_naming(
            desk, ConfirmNaming(key=new_key(), naming_id=kept["naming_id"], tree="quru", how="known")
        )

    known = taught(desk)
    wanted = fit_exponent(the_key(), [Confirmed(seen.answers, "quru", Prior(region="NE"))] * LEAST_RECORDS)
    assert known.counts == {"quru": LEAST_RECORDS}
    assert known.exponent == wanted != 1.0
    sure = how_sure(desk)
    assert sure.taught.is_fitted
    (line,) = sure.lines
    assert line.bin.count == LEAST_RECORDS
    assert line.low < line.right / line.bin.count < line.high or line.right in (0, LEAST_RECORDS)


def test_a_book_without_namings_gets_them_and_loses_them(book: Book, tmp_path: Path) -> None:
    """Down to 0005 the photos stay, with the load or the yard; up again the tables are those of the models."""
    target = book.target  # type: ignore[attr-defined]
    with Book.open(target, files=tmp_path / "photos") as with_files:
        desk = set_up_yard(with_files, FACTS, clock=lambda: NOW)
        load = a_load(desk)
        used = name_wood(
            desk,
            NameWood(key=new_key(), load_id=load, was=UNNAMED_HARDWOOD.id, now="osage-orange", seen=OSAGE),
        )
        kept = keep_seen(desk, KeepSeen(key=new_key(), seen=ACORN))
        for number, colour in enumerate(((200, 30, 30), (30, 200, 30))):
            out = io.BytesIO()
            Image.new("RGB", (60, 30), colour).save(out, "PNG")
            of = (used, kept)[number]["naming_id"]
            add_photo(
                desk, AddPhoto(key=new_key(), content=out.getvalue(), subject_kind="naming", subject_id=of)
            )
        yard = desk.yard_id
    engine = make_engine(book_url(target), writing=True, foreign_keys=False)
    with engine.begin() as connection:
        migrations.downgrade(connection, "0005")
        subjects = connection.execute(sa.text("SELECT subject_kind, subject_id FROM photo ORDER BY id")).all()
        assert [tuple(row) for row in subjects] == [("load", load), ("yard", yard)]
    with engine.begin() as connection:
        migrations.upgrade(connection)
        assert migrations.differences(connection) == []
    engine.dispose()
