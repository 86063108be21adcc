"""The packaged tables keep the rules, the rules can fail, and the arrays are the tables."""

from __future__ import annotations

import csv
import json
from collections.abc import Callable
from importlib.resources import files

import pytest

from rickyard.identify import packed
from rickyard.identify.schema import problems
from rickyard.identify.tables import SITUATIONS, Cell, Row, chances, read_tables
from rickyard.wood import find_species

Tables = dict[str, list[Row]]


@pytest.fixture
def tables() -> Tables:
    """A copy that a test may spoil."""
    return {name: [dict(row) for row in rows] for name, rows in read_tables().items()}


def test_the_tables_keep_every_rule(tables: Tables) -> None:
    assert problems(tables) == []


def test_nothing_received_is_lost(key) -> None:
    assert len(key.characters) >= 70
    assert sum(len(character.states) for character in key.characters) >= 323
    assert len(key.species) >= 103
    assert len(key.look_alikes) >= 87


def first(rows: list[Row], **wanted: str) -> Row:
    return next(row for row in rows if all(row[name] == value for name, value in wanted.items()))


def spoil_p(t: Tables) -> None:
    first(t["species_characters"], species_id="acsa3", character_id="arr")["p"] = "0.5"


def spoil_state(t: Tables) -> None:
    first(t["species_characters"], species_id="acsa3", character_id="arr")["state_id"] = "sideways"


def spoil_source(t: Tables) -> None:
    first(t["species_characters"], species_id="acsa3", character_id="arr")["source"] = "QQ"


def spoil_basis(t: Tables) -> None:
    first(t["species_characters"], species_id="acsa3", character_id="arr")["basis"] = "logic"


def spoil_absent(t: Tables) -> None:
    first(t["species_characters"], frequency="not applicable")["state_id"] = "alternate"


def spoil_twice(t: Tables) -> None:
    t["species_characters"].append(
        dict(first(t["species_characters"], species_id="acsa3", character_id="arr"))
    )


def spoil_region(t: Tables) -> None:
    t["species"][0]["regions"] = "XX:c"


def spoil_effort(t: Tables) -> None:
    t["efforts"].pop()


def spoil_settling(t: Tables) -> None:
    """Both spruces have square needles, so nothing would settle the pair."""
    row = first(t["lookalikes"], species_a="pigl", species_b="piab")
    row["settling_characters"] = "needle_form: square = pigl"


def spoil_side(t: Tables) -> None:
    row = first(t["lookalikes"], species_a="rops", species_b="gltr")
    row["settling_characters"] = "pod: long_twist = rops, short_thin = gltr"


def spoil_bare(t: Tables) -> None:
    ends = {row["character_id"] for row in t["characters"] if "e" in row["situations"]}
    t["species_characters"] = [
        row
        for row in t["species_characters"]
        if not (row["species_id"] == "acsa3" and row["character_id"] in ends)
    ]


def spoil_basic(t: Tables) -> None:
    t["species_characters"] = [
        row
        for row in t["species_characters"]
        if not (row["species_id"] == "acsa3" and row["character_id"] == "arr")
    ]


def spoil_same(t: Tables) -> None:
    kept = [row for row in t["species_characters"] if row["species_id"] != "pogr4"]
    copied = [{**row, "species_id": "pogr4"} for row in kept if row["species_id"] == "potr5"]
    t["species_characters"] = kept + copied
    t["lookalikes"] = [row for row in t["lookalikes"] if "pogr4" not in (row["species_a"], row["species_b"])]


def spoil_variant(t: Tables) -> None:
    t["variants"][0]["street_share"] = "1.5"


def spoil_columns(t: Tables) -> None:
    for row in t["sources"]:
        del row["citation"]


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (spoil_p, "its class says"),
        (spoil_state, "no state sideways"),
        (spoil_source, "not in sources.csv"),
        (spoil_basis, "with a state"),
        (spoil_absent, "stands alone"),
        (spoil_twice, "stands twice"),
        (spoil_region, "has region"),
        (spoil_effort, "do not both have"),
        (spoil_settling, "nothing clearly speaks"),
        (spoil_side, "is less likely in rops"),
        (spoil_bare, "no reason in gaps.csv"),
        (spoil_basic, "acsa3 has no arr"),
        (spoil_same, "the same in every cell"),
        (spoil_variant, "shares of gltr"),
        (spoil_columns, "no column citation"),
    ],
)
def test_each_rule_can_fail(tables: Tables, spoil: Callable[[Tables], None], said: str) -> None:
    spoil(tables)

    assert any(said in text for text in problems(tables))


def test_a_gap_with_a_reason_is_allowed(tables: Tables) -> None:
    spoil_bare(tables)
    tables["gaps"].append({"species_id": "acsa3", "situation": "lens", "reason": "not described"})

    assert not any("gaps.csv" in text for text in problems(tables))


def test_the_array_is_the_table(key) -> None:
    """Every p of the table (three places) stands at its place; what a cell does not list shares eps."""
    text = files("rickyard.identify").joinpath("data", "species_characters.csv").read_text(encoding="utf-8")
    seen = 0
    for row in csv.DictReader(text.splitlines()):
        place, span = key.species_at[row["species_id"]], key.span[row["character_id"]]
        states = key.characters[key.at[row["character_id"]]].states
        if row["frequency"] == "not applicable":
            assert (key.p[place, span] == 0.02).all()
        else:
            found = key.p[place, span.start + states.index(row["state_id"])]
            assert found == pytest.approx(float(row["p"]), abs=0.0011), row
        seen += 1
    assert seen > 8_000
    known = key.known[: len(key.species)]
    for place in range(len(key.species)):
        for column, character in enumerate(key.characters):
            if known[place, column]:
                assert key.p[place, key.span[character.id]].sum() == pytest.approx(1.0, abs=1e-12)


def test_unknown_and_absent_are_kept_apart(key) -> None:
    """A sugar maple has no acorn cup; what the inner bark of most trees looks like nobody has read."""
    maple = key.species_at["acsa3"]
    unknown = [
        place for place in range(len(key.species)) if key.cell(key.row_ids[place], "inner_bark") is None
    ]

    assert (key.p[maple, key.span["acorn_cup"]] == 0.02).all()
    assert not key.applicable[maple, key.at["acorn_cup"]]
    assert len(unknown) > 20
    assert (key.p[unknown[0], key.span["inner_bark"]] == 0.25).all()
    assert key.applicable[unknown[0], key.at["inner_bark"]]


def test_chances_by_hand() -> None:
    """8 : 3 : 1 share 1 - eps, the two unlisted share eps; nothing is left over when all are listed."""
    assert chances((8, 0, 3, 0), 0.03) == pytest.approx((0.97 * 8 / 11, 0.015, 0.97 * 3 / 11, 0.015))
    assert chances((8, 3, 1), 0.08) == pytest.approx((8 / 12, 3 / 12, 1 / 12))
    assert Cell((0, 0, 0), 0.0, applicable=False).p == (0.02, 0.02, 0.02)


def test_every_species_is_one_of_the_houses(key) -> None:
    """The id is the slug of the scientific name, and what the house knows of the wood stands beside it."""
    assert len({species.id for species in key.species}) == len(key.species)
    by_key = {species.key_id: species for species in key.species}
    assert by_key["acsa3"].id == "acer_saccharum"
    assert by_key["acsa3"].wood.id == "acer_saccharum"
    assert by_key["acsa3"].common_fr == "érable à sucre"
    assert by_key["abgr"].wood.id == "grand_and_white_fir"
    assert by_key["pyca80"].id == "pyrus_calleryana"
    assert by_key["pyca80"].wood.id == "apple_and_pear"
    for species in key.species:
        # A tree that the wood table has no row for is booked as the next wider name that it has.
        if species.wood.rank == "species":
            assert find_species(species.id) == species.wood
            assert species.scientific == species.wood.scientific
        else:
            assert species.wood.group == species.kind


def test_a_species_is_found_by_name(key) -> None:
    for name in (
        "rops",
        "robinia_pseudoacacia",
        "black locust",
        "Robinia pseudoacacia",
        "robinier faux-acacia",
    ):
        assert key.named(name).key_id == "rops"
    assert key.named("oak") is None
    assert key.named("baobab") is None


def test_every_situation_has_questions(key) -> None:
    for letter in SITUATIONS.values():
        assert sum(letter in character.situations for character in key.characters) >= 10
    assert {character.effort for character in key.characters} == {1, 2, 3}


def test_the_packed_table_is_small_and_plain() -> None:
    """What a phone keeps of the key: under 100 kB, and the same bytes each time."""
    assert len(packed()) < 100_000
    assert json.loads(packed())["situations"] == SITUATIONS
    assert packed.__wrapped__() == packed()
