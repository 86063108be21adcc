"""The French catalogue: whole, filled and marked up as the English, set as French is set in Canada.

The signs are those of the Office québécois de la langue française as CLDR has them (no-break space before a colon
and inside guillemets, none before ; ? !).
"""

from __future__ import annotations

import io
import re
from importlib.resources import files

import pytest
from babel.messages.catalog import Catalog, Message
from babel.messages.pofile import read_po

from rickyard.errors import InputError
from rickyard.show import Voice, translate
from rickyard.show.units import parse_percent
from rickyard.text import T_
from rickyard.wood import get_species

PLACE = re.compile(r"\{[^{}]*\}|%\(\w+\)s")
TAG = re.compile(r"</?[a-z][^>]*>|&\w+;")


@pytest.fixture(scope="module")
def catalogue() -> Catalog:
    po = files("rickyard.show") / "locale" / "fr" / "LC_MESSAGES" / "rickyard.po"
    return read_po(io.BytesIO(po.read_bytes()), locale="fr", domain="rickyard")


def forms(of: object) -> tuple[str, ...]:
    return tuple(of) if isinstance(of, (tuple, list)) else (str(of),)


def wrong(message: Message) -> list[str]:
    english, french = forms(message.id), forms(message.string)
    found = []
    if message.fuzzy or not all(french):
        return ["not translated"]
    for text in french:
        if sorted(TAG.findall(english[0])) != sorted(TAG.findall(text)):
            found.append("other tags")
        if text[:1].isspace() != english[0][:1].isspace() or text[-1:].isspace() != english[0][-1:].isspace():
            found.append("other space at its ends")
        bare = PLACE.sub("X", text)
        if "'" in bare and "'" not in "".join(english):
            found.append("straight apostrophe")
        if re.search(r" [:»%]|« |«(?!\u00a0)|(?<!\u00a0)»", bare):
            found.append("no no-break space before : » % or after «")
        if re.search(r"\s[?!;](?!\w)", bare):
            found.append("space before ? ! ;")
    return found


def test_every_sentence_is_french_and_set_as_french_is(catalogue: Catalog) -> None:
    bad = {forms(one.id)[0]: faults for one in catalogue if one.id and (faults := wrong(one))}

    assert bad == {}
    assert len(catalogue) > 4000


@pytest.mark.parametrize(
    "translation",
    [
        "",
        "l'arbre {count}",
        "arbre : {count}",
        "arbre\u00a0: {count} ?",
        "<b>arbre</b> {count}",
        "«arbre» {count}",
    ],
)
def test_what_is_set_wrongly_would_be_found(translation: str) -> None:
    assert wrong(Message("tree {count}", string=translation))


def test_a_tree_in_a_sentence_has_its_french_name() -> None:
    text = T_("{wood} is wet", wood=get_species("acer_saccharum").names)

    assert translate(text, "fr_CA") == "érable à sucre is wet"
    assert translate(text, "en_CA") == str(text) == "sugar maple is wet"


def test_what_french_pages_say_of_moisture_can_be_typed() -> None:
    """The very words of a moisture, as shown, are taken back."""
    voice = Voice("fr_CA")
    for text, share in (
        ("20 % base humide", 0.2),
        ("20 % de la masse totale", 0.2),
        ("25 % base sèche", 0.2),
    ):
        assert parse_percent(text, basis="wet", locale="fr_CA") == pytest.approx(share)
    for shown in (voice.moisture_short(0.2), voice.moisture_dry(0.25)):
        assert parse_percent(shown, basis="wet", locale="fr_CA") == pytest.approx(0.2), shown


def test_units_that_are_words_follow_french_numbers() -> None:
    """Singular below 2 (Unicode CLDR plural rules)."""
    voice = Voice("fr_CA", units="metric")
    assert voice.quantity(0.9, "stacked_m3").replace("\u00a0", " ") == "0,9 m³ apparent"
    assert voice.quantity(2.5, "stacked_m3").replace("\u00a0", " ") == "2,5 m³ apparents"


def test_an_error_in_french_names_the_thing_the_wanted_the_got_and_the_next_move() -> None:
    error = InputError(
        "longueur",
        wanted=T_("a percent"),
        got="vingt",
        next_move=T_("Check the figure and its unit."),
    )
    said = translate(error.text, "fr_CA").replace("\u00a0", " ")
    assert said.startswith("longueur. Attendu : un pourcentage; reçu : vingt. Vérifiez")
