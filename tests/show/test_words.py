"""Catalogues, `Text` values, Jinja's functions."""

from __future__ import annotations

import io
from datetime import date

import jinja2
import pytest
from babel.messages.catalog import Catalog
from babel.messages.pofile import write_po

from rickyard.errors import InputError, UnknownNameError
from rickyard.show import LOCALES, Voice, jinja_callables, ngettext, pgettext, translate, words
from rickyard.text import T_, Text


@pytest.fixture
def french(monkeypatch):
    """A small French catalogue in place of the real one."""
    made = Catalog(locale="fr")
    made.add("length", "longueur")
    made.add(
        "{field}: wanted {wanted}, got {got}. {next_move}",
        "{field} : il faut {wanted}, reçu {got}. {next_move}",
    )
    made.add("{low} to {high} {unit}", "de {low} à {high} {unit}")
    made.add("Check the figure and its unit.", "Vérifiez le nombre et l’unité.")
    made.add(("{amount} cord", "{amount} cords"), ("{amount} corde", "{amount} cordes"))
    made.add("Open", "Ouvrir", context="button")
    made.add("Open", "Ouverte", context="state of an order")
    made.add("Hello %(name)s", "Bonjour %(name)s")
    made.add("unsure", "incertain", flags=["fuzzy"])
    written = io.BytesIO()
    write_po(written, made)
    compiled = words._compiled(written.getvalue(), "fr")
    real = words.catalogue
    monkeypatch.setattr(
        words, "catalogue", lambda locale: compiled if locale.startswith("fr") else real(locale)
    )


def test_english_is_the_message_itself():
    text = T_("{field}: wanted {wanted}", field=T_("length"), wanted=3)
    assert translate(text, "en_CA") == str(text) == "length: wanted 3"


def test_sentences_within_sentences_are_translated_too(french):
    error = InputError(
        "longueur",
        wanted=T_("{low} to {high} {unit}", low=0.5, high=1200, unit="po"),
        got="2000",
        next_move=T_("Check the figure and its unit."),
    )
    assert translate(error.text, "fr_CA") == (
        "longueur : il faut de 0,5 à 1200 po, reçu 2000. Vérifiez le nombre et l’unité."
    )


def test_numbers_and_days_in_a_sentence_follow_the_locale():
    text = T_("{a:.2f} {b:,} {c:.0%} {d} {e}", a=3.14159, b=12345, c=0.3, d=date(2026, 11, 5), e=0.1 + 0.2)
    assert translate(text, "en_CA") == "3.14 12,345 30% Nov 5, 2026 0.3"
    assert translate(text, "fr_CA") == "3,14 12\u00a0345 30\u00a0% 5 nov. 2026 0,3"


def test_a_year_or_a_number_of_an_order_is_not_grouped():
    assert translate(T_("Order {number}", number=2026), "fr_CA").endswith("2026")


def test_a_plain_string_is_data_even_with_braces():
    assert translate("{left} as typed", "en_XA") == "{left} as typed"
    assert translate(T_("got {what}", what="{x}"), "en_CA") == "got {x}"


def test_lists_in_a_sentence():
    assert translate(T_("Nearest: {names}.", names=["a", "b"]), "en_CA") == "Nearest: a, b."
    error = UnknownNameError("species", wanted=T_("a tree"), got="mapel", nearest=["red maple"])
    assert "Nearest: red maple." in translate(error.text, "en_CA")


def test_plurals_by_language(french):
    """French is singular below 2, so for 0 and 1.5 (Unicode CLDR plural rules)."""
    assert ngettext("{amount} cord", "{amount} cords", 0, "fr_CA") == "{amount} corde"
    assert ngettext("{amount} cord", "{amount} cords", 2, "fr_CA") == "{amount} cordes"
    said = [Voice("fr_CA").quantity(n, "cord").replace("\u00a0", " ") for n in (0, 1.2, 1.5, 2)]
    assert said == ["0 corde", "1,2 corde", "1 1/2 corde", "2 cordes"]


def test_context_parts_words_that_look_alike(french):
    assert pgettext("button", "Open", "fr_CA") == "Ouvrir"
    assert pgettext("state of an order", "Open", "fr_CA") == "Ouverte"
    assert pgettext("button", "Open", "en_CA") == "Open"


def test_unsure_translations_are_not_shown(french):
    assert words.gettext("unsure", "fr_CA") == "unsure"


def test_an_untranslated_message_stays_english():
    assert words.gettext("a sentence nobody will translate", "fr_CA") == "a sentence nobody will translate"


def test_the_empty_message_does_not_give_the_headers():
    assert words.gettext("", "fr_CA") == ""


@pytest.mark.parametrize("locale", LOCALES)
def test_every_locale_has_a_catalogue_and_cldr_data(locale):
    assert words.catalogue(locale) is words.catalogue(locale)
    assert words.babel_locale(locale).language in ("en", "fr")


def test_the_french_catalogue_is_read_from_the_source_tree():
    """The .po file itself, without a compiled one beside it."""
    assert words.catalogue("fr_CA").info()["language"] == "fr"
    assert words.catalogue("fr_FR").info()["plural-forms"].startswith("nplurals=2")


TEMPLATE = (
    "{% trans name=who %}Hello {{ name }}{% endtrans %}|"
    "{% trans count=n %}{{ count }} stack{% pluralize %}{{ count }} stacks{% endtrans %}|{{ _('Open &amp; shut') }}"
)


def render(locale: str) -> str:
    environment = jinja2.Environment(extensions=["jinja2.ext.i18n"], autoescape=True)
    environment.install_gettext_callables(**jinja_callables(locale), newstyle=True)  # type: ignore[attr-defined]
    return environment.from_string(TEMPLATE).render(who="<Zoé>", n=3)


def test_templates(french):
    assert render("en_CA") == "Hello &lt;Zoé&gt;|3 stacks|Open &amp; shut"
    assert render("fr_CA").startswith("Bonjour &lt;Zoé&gt;|3 stacks")
    assert render("en_XA") == "⟦Ĥéĺĺó &lt;Zoé&gt;⟧|⟦3 šţáçķš⟧|⟦Óþéñ &amp; šĥúţ⟧"


def test_a_missing_value_is_a_mistake_not_a_blank():
    with pytest.raises(KeyError):
        translate(Text("{a} {b}", {"a": 1}), "en_CA")
