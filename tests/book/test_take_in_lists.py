"""Lists taken into real books on both engines: what each line becomes, every bad line, all or nothing, once."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rickyard.book import Book, check
from rickyard.desk.context import Desk, new_key
from rickyard.desk.households import SetHousehold, household, households, set_household
from rickyard.desk.lists import Asked
from rickyard.desk.lists.examples import ENDINGS, example_list
from rickyard.desk.lists.taking import ListPlan, TakeInList, look_at_list, take_in_list
from rickyard.desk.stacks import stacks
from rickyard.desk.wares import SetWare, WareFacts, set_ware, wares
from rickyard.desk.yards import YardFacts, set_up_yard
from rickyard.errors import ClashError, InputError
from rickyard.measure import LogListError

FACTS = YardFacts(
    name="Thornbeck Yard",
    country="CA",
    subdivision="NB",
    climate_place="Fredericton, NB",
    timezone="America/Moncton",
)


def make_desk(book: Book) -> Desk:
    return set_up_yard(book, FACTS, clock=lambda: datetime(2026, 10, 1, 15, tzinfo=UTC))


@pytest.fixture
def desk(book: Book) -> Desk:
    return make_desk(book)


@pytest.fixture(scope="session")
def file_desk(tmp_path_factory: pytest.TempPathFactory, empty_file_book: object) -> Callable[[], Desk]:
    """Desks on empty SQLite books, for properties: a fixture of the engine's would be made once for all examples."""
    import shutil

    def make() -> Desk:
        target = tmp_path_factory.mktemp("list") / "book.sqlite"
        shutil.copy(str(empty_file_book), target)
        return make_desk(Book.open(target))

    return make


def listed(kind: str, text: str | bytes, **asked: object) -> TakeInList:
    content = text.encode() if isinstance(text, str) else text
    return TakeInList(key=new_key(), kind=kind, content=content, asked=Asked(**asked))  # type: ignore[arg-type]


def told(plan: ListPlan) -> list[tuple[int, str]]:
    return [(problem.line, problem.field) for problem in plan.problems]


HOMES = (
    "Customer,Street,Town,Mobile,E-mail,Remarks\n"
    "Alder Brook,1 Mill Lane,Riverbank,506 555 0100,a@example.org,dog\n"
    "Birch Fell,2 Mill Lane,Riverbank,,,\n"
)


def test_households_new_changed_and_the_same(desk: Desk) -> None:
    old = set_household(
        desk, SetHousehold(key=new_key(), name="Alder brook", address="1 Mill Lane, Riverbank", note="cat")
    )["household_id"]
    plan = look_at_list(desk, listed("households", HOMES))

    assert [(line.line, line.state) for line in plan.lines] == [(2, "change"), (3, "new")]
    assert [(fact.id, fact.was, fact.value) for fact in plan.lines[0].changes] == [
        ("phone", "", "506 555 0100"),
        ("note", "cat", "dog"),
    ]
    assert [item.head for item in plan.not_taken] == ["E-mail"]
    assert len(households(desk)) == 1

    answer = take_in_list(desk, replace(listed("households", HOMES), seen=plan.seen))
    assert (answer["new"], answer["changed"], answer["same"]) == (1, 1, 0)
    assert household(desk, old).note == "dog"
    assert household(desk, old).name == "Alder brook"
    again = look_at_list(desk, listed("households", HOMES))
    assert [line.state for line in again.lines] == ["same", "same"]
    # An empty cell takes nothing away.
    bare = look_at_list(desk, listed("households", "name,address,phone\nAlder Brook,,\n"))
    assert [line.state for line in bare.lines] == ["same"]
    assert check(desk.book).problems == ()


def test_every_bad_line_is_named_and_nothing_is_written(desk: Desk) -> None:
    text = (
        "name;address;phone\nAlder;1 Lane;\n;2 Lane;\nAlder;1  lane;\nBirch;;"
        + "5" * 50
        + "\nAsh;3 Lane;1;2\n"
    )
    plan = look_at_list(desk, listed("households", text))
    assert told(plan) == [(3, "name"), (4, "name"), (5, "phone"), (6, "D")]
    with pytest.raises(LogListError) as refused:
        take_in_list(desk, listed("households", text))
    assert len(refused.value.problems) == 4
    assert "Line 5, phone: wanted at most 40 characters, got 555" in str(refused.value)
    assert households(desk) == []


def test_of_two_of_a_name_the_address_tells(desk: Desk) -> None:
    for address in ("1 Lane", "2 Lane"):
        set_household(desk, SetHousehold(key=new_key(), name="Alder", address=address))
    plan = look_at_list(desk, listed("households", "name,address\nAlder,\nAlder,2 lane\nAlder,9 Lane\n"))

    assert told(plan) == [(2, "name")]
    assert [(line.line, line.state, len(line.notes)) for line in plan.lines] == [
        (3, "same", 0),
        (4, "new", 1),
    ]


def test_the_same_key_gives_the_first_answer_and_another_body_is_refused(desk: Desk) -> None:
    command = listed("households", HOMES)
    first = take_in_list(desk, command)
    # By now the lines are in the book, and by itself the list would do nothing.
    assert take_in_list(desk, command) == first
    assert len(households(desk)) == 2
    with pytest.raises(ClashError, match="other contents"):
        take_in_list(desk, replace(command, content=HOMES.encode() + b"Ash,3 Lane,,,,\n"))


def test_a_book_that_changed_since_it_was_looked_at_is_a_clash(desk: Desk) -> None:
    home = set_household(
        desk, SetHousehold(key=new_key(), name="Birch Fell", address="2 Mill Lane, Riverbank")
    )
    seen = look_at_list(desk, listed("households", HOMES)).seen
    set_household(
        desk,
        SetHousehold(
            key=new_key(),
            name="Birch Fell",
            address="2 Mill Lane, Riverbank",
            phone="1",
            household_id=home["household_id"],
        ),
    )
    with pytest.raises(ClashError) as clash:
        take_in_list(desk, replace(listed("households", HOMES), seen=seen))
    assert clash.value.code == "changed_meanwhile"
    assert len(households(desk)) == 1


STOCK = (
    "Corde;Essence;Longueur des morceaux (cm);Épaisseur;Longueur;Hauteur;Rangs;Volume;Empilé le;Humidité;"
    "Récolté à;Comté;Certificat;Couverture\n"
    "N1;érable à sucre et bouleau jaune 60/40;40;12,5 cm;6,1 m;1,35 m;2;;2026-04-18;35 % sur brut;CA-NB;York;;bâche\n"
    "N2;frêne blanc;40;12 cm;;;;2 cordes;2026-05-02;;US-ME;;HT-7;non\n"
    "N3;chêne rouge;40;12 cm;;;;3 m³ en vrac;2026-05-02;50 % sec;CA-NB;York;;\n"
)


def test_opening_stock_in_french_by_sides_and_by_volume(desk: Desk) -> None:
    plan = look_at_list(desk, listed("stock", STOCK))
    assert plan.problems == ()
    assert plan.decimal_comma
    facts = [{fact.id: fact.value for fact in line.facts} for line in plan.lines]
    assert facts[0]["volume"][0] == pytest.approx(6.1 * 1.35 * 0.4 * 2)
    assert facts[0]["start_moisture"] == pytest.approx(0.35)
    assert (facts[0]["cover"], facts[1]["cover"]) == ("top", "none")
    assert facts[1]["volume"] == (pytest.approx(2 * 3.624556), "ranked")
    assert facts[1]["harvest"] == ("US", "ME", "", "HT-7")
    assert facts[2]["volume"] == (pytest.approx(3.0), "loose")
    assert facts[2]["start_moisture"] == pytest.approx(1 / 3)
    assert "2 cordes" in facts[1]["note"]

    answer = take_in_list(desk, listed("stock", STOCK))
    assert answer["new"] == 3
    assert {card.name for card in stacks(desk)} == {"N1", "N2", "N3"}
    report = check(desk.book)
    assert (report.problems, report.balance_g) == ((), 0)
    assert [line.state for line in look_at_list(desk, listed("stock", STOCK)).lines] == ["same"] * 3
    other = look_at_list(desk, listed("stock", STOCK.replace("6,1 m", "7,1 m")))
    assert told(other) == [(2, "Corde")]


def test_bad_stock(desk: Desk) -> None:
    text = (
        "name,wood,piece length,thickness,length,height,volume,stacked on,piled as\n"
        "A,purple tree,16 in,5 in,20 ft,4 ft,,2026-04-01,\n"
        "B,white ash,16,5 in,20 ft,4 ft,,2026-04-01,\n"
        "C,white ash,16 in,5 in,20 ft,4 ft,9 cords,2026-04-01,\n"
        "D,white ash,16 in,5 in,,,2 face cords,2027-04-01,\n"
        "E,white ash,16 in,5 in,,,2 cords,2026-04-01,heap\n"
        "F,white ash,16 in,5 in,20 ft,,,2026-04-01,sideways\n"
        "A,white ash,16 in,5 in,20 ft,4 ft,,04/05/2026,\n"
    )
    plan = look_at_list(desk, listed("stock", text, harvest="CA-NB"))
    assert told(plan) == [
        *((2, "wood"), (3, "piece length"), (4, "volume"), (5, "stacked on"), (5, "volume"), (6, "volume")),
        *((7, "piled as"), (7, "height"), (8, "name"), (8, "stacked on")),
    ]
    unit = look_at_list(desk, listed("stock", text, harvest="CA-NB", short_unit="in"))
    assert (3, "piece length") not in told(unit)
    assert {field for _, field in told(look_at_list(desk, listed("stock", text)))} >= {
        "Where the trees stood"
    }
    with pytest.raises(LogListError):
        take_in_list(desk, listed("stock", text, harvest="CA-NB"))
    assert stacks(desk) == []


PRICES = (
    "What,Wood,Length (in),Moisture (wet),Price per cord\n"
    "Stove wood,sugar maple; yellow birch,16,20,430\nCamp wood,any wood,14,green,$300.50\n"
)


def test_a_price_list(desk: Desk) -> None:
    facts = WareFacts(name="stove wood", piece_length_m=0.4064, price_minor=40000, active=False)
    set_ware(desk, SetWare(key=new_key(), facts=facts))
    plan = look_at_list(desk, listed("prices", PRICES))
    assert [(line.title, line.state) for line in plan.lines] == [
        ("stove wood", "change"),
        ("Camp wood", "new"),
    ]
    assert {fact.id for fact in plan.lines[0].changes} == {"wood", "price"}

    take_in_list(desk, listed("prices", PRICES))
    camp, stove = wares(desk, active_only=False)
    assert (camp.name, camp.price_minor, camp.max_mc_wet, camp.price_unit) == (
        "Camp wood",
        30050,
        None,
        "cord",
    )
    # What the list does not say stays.
    assert (stove.price_minor, stove.active) == (43000, False)


def test_a_price_list_says_basis_and_unit(desk: Desk) -> None:
    text = "name,length,moisture,price\nA,16 in,20,430\nB,16 in,20 % wet,430 $ / cord\nC,16 in,,430 per face cord\n"
    plan = look_at_list(desk, listed("prices", text))
    assert told(plan) == [(2, "moisture"), (4, "Price for one")]
    assert [line.line for line in plan.lines] == [3]
    chosen = look_at_list(
        desk, listed("prices", text.replace(",430\n", ",430/cord\n"), columns=(("moisture", "moisture_dry"),))
    )
    dry = {fact.id: fact.value for fact in chosen.lines[0].facts}
    assert dry["moisture"] == pytest.approx(0.2 / 1.2)


def test_columns_are_chosen_and_must_be_there(desk: Desk) -> None:
    text = "A,B,C\nAlder,1 Lane,x\n"
    assert told(look_at_list(desk, listed("households", text))) == [(1, "name")]
    chosen = (("A", "name"), ("#2", "address"))
    plan = look_at_list(desk, listed("households", text, columns=chosen))
    assert [line.title for line in plan.lines] == ["Alder"]
    assert [item.head for item in plan.not_taken] == ["C"]
    for wrong in (("D", "name"), ("#4", "name"), ("A", "colour")):
        with pytest.raises(InputError, match="column: wanted"):
            look_at_list(desk, listed("households", text, columns=(wrong,)))
    # Choices that were made for another list are not heard.
    heads = look_at_list(desk, listed("households", "name,B\nAlder,1 Lane\n")).heads
    other = look_at_list(desk, listed("households", HOMES, columns=(("#1", "note"),), heads=heads))
    assert [line.title for line in other.lines] == ["Alder Brook", "Birch Fell"]
    double = look_at_list(
        desk,
        listed(
            "prices", "name,length,price,rate\nA,16 in,1,2\n", columns=(("rate", "price"), ("price", "price"))
        ),
    )
    assert told(double) == [(1, "price, rate")]


@pytest.mark.parametrize("locale", ["en_CA", "fr_CA"])
def test_the_examples_are_taken_as_they_stand(desk: Desk, locale: str) -> None:
    for kind in ("households", "stock", "prices"):
        for ending in ENDINGS:
            command = listed(kind, example_list(kind, ending, locale))
            plan = look_at_list(desk, command)
            assert plan.problems == (), (kind, ending)
            assert plan.not_taken == ()
            # The second file says the same as the first.
            assert [line.state for line in plan.lines] == ["new" if ending == "csv" else "same"]
            take_in_list(desk, command)
    assert check(desk.book).problems == ()


WORDS = st.text(alphabet="abcXYZ éÜ'-,;\"0123456789\n\t", min_size=1, max_size=20).map(
    lambda t: " ".join(t.split())
)
PEOPLE = st.lists(
    st.tuples(WORDS.filter(lambda name: any(sign.isalpha() for sign in name)), WORDS, WORDS, WORDS),
    min_size=1,
    max_size=6,
    unique_by=lambda row: (row[0].casefold(), row[1].casefold()),
)


@settings(max_examples=25)
@given(
    rows=PEOPLE,
    separator=st.sampled_from(",;\t"),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "cp1252"]),
)
def test_a_list_of_households_comes_back_as_it_was_written(
    file_desk: Callable[[], Desk], rows: list[tuple[str, ...]], separator: str, encoding: str
) -> None:
    out = io.StringIO(newline="")
    csv.writer(out, delimiter=separator).writerows([("name", "address", "phone", "note"), *rows])
    desk = file_desk()
    command = listed("households", out.getvalue().encode(encoding))
    plan = look_at_list(desk, command)
    if plan.problems:
        # Names that differ by accents alone are one household's.
        assert all("each household once" in str(problem.text) for problem in plan.problems)
    else:
        take_in_list(desk, command)
        found = sorted((home.name, home.address, home.phone, home.note) for home in households(desk))
        assert found == sorted(rows)
        assert {line.state for line in look_at_list(desk, command).lines} == {"same"}
    desk.book.close()
