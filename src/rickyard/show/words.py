"""Words in the user's language: catalogues, `Text` values, names of species.

The language of the source is English; a message is its own key.
The catalogues are the `.po` files under `locale/`, read when first wanted, so that a source checkout needs
no compiling. `scripts/words.py` collects the messages.
"""

from __future__ import annotations

import io
import string
from collections.abc import Callable, Mapping
from datetime import date, datetime
from functools import lru_cache
from gettext import NullTranslations
from importlib.resources import files
from typing import Any, Protocol

from babel import Locale, numbers
from babel.dates import format_date
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po
from babel.support import Translations

from rickyard.show.pseudo import PSEUDO_LOCALE, accent, pseudo
from rickyard.text import Text, TreeName

DOMAIN = "rickyard"
LOCALES = ("en_CA", "fr_CA", "en_US", "fr_FR", "en_GB", PSEUDO_LOCALE)
"""Locales the screens and papers can be shown in."""


def babel_locale(locale: str) -> Locale:
    """The CLDR data for one of our locales; the pseudo-language uses Canadian English."""
    return _babel_locale(locale)


@lru_cache(maxsize=32)
def _babel_locale(locale: str) -> Locale:
    return Locale.parse("en_CA" if locale == PSEUDO_LOCALE else locale.replace("-", "_"))


class _Pseudo(NullTranslations):
    """Every message in the pseudo-language."""

    def gettext(self, message: str) -> str:
        return pseudo(message)

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        return pseudo(msgid1 if n == 1 else msgid2)

    def pgettext(self, context: str, message: str) -> str:
        return pseudo(message)

    def npgettext(self, context: str, msgid1: str, msgid2: str, n: int) -> str:
        return pseudo(msgid1 if n == 1 else msgid2)


@lru_cache(maxsize=32)
def catalogue(locale: str) -> NullTranslations:
    """The catalogue for a locale: `fr_CA` if there is one, else `fr`, else English itself."""
    if locale == PSEUDO_LOCALE:
        return _Pseudo()
    name = locale.replace("-", "_")
    for folder in dict.fromkeys((name, name.partition("_")[0])):
        source = files("rickyard.show") / "locale" / folder / "LC_MESSAGES" / f"{DOMAIN}.po"
        if source.is_file():
            return _compiled(source.read_bytes(), folder)
    return NullTranslations()


def _compiled(po: bytes, locale: str) -> NullTranslations:
    """A catalogue from the text of a `.po` file. Entries marked fuzzy are left out, as msgfmt does."""
    compiled = io.BytesIO()
    write_mo(compiled, read_po(io.BytesIO(po), locale=locale, domain=DOMAIN), use_fuzzy=False)
    compiled.seek(0)
    return Translations(compiled, domain=DOMAIN)


def gettext(message: str, locale: str) -> str:
    """The message in the locale's language; English if the catalogue does not have it."""
    return catalogue(locale).gettext(message) if message else ""


def ngettext(singular: str, plural: str, n: int, locale: str) -> str:
    """As `gettext`, by number."""
    return catalogue(locale).ngettext(singular, plural, n)


def pgettext(context: str, message: str, locale: str) -> str:
    """As `gettext`, for a message that means different things in different places."""
    return catalogue(locale).pgettext(context, message)


def npgettext(context: str, singular: str, plural: str, n: int, locale: str) -> str:
    """As `ngettext`, with a context."""
    return catalogue(locale).npgettext(context, singular, plural, n)


def jinja_callables(locale: str) -> dict[str, Callable[..., str]]:
    """gettext, ngettext, pgettext, npgettext bound to a locale.

    For `Environment.install_gettext_callables(**jinja_callables(locale), newstyle=True)`.
    """
    of = catalogue(locale)
    return {
        "gettext": of.gettext,
        "ngettext": of.ngettext,
        "pgettext": of.pgettext,
        "npgettext": of.npgettext,
    }


def translate(text: Text | str, locale: str) -> str:
    """A sentence in the locale's language, values filled in, numbers as the locale writes them.

    A plain string is data (a name, what was typed) and comes back as it is.
    """
    if isinstance(text, str):
        return text
    message = gettext(text.msgid, locale)
    return _fill(message, text.values, locale) if text.values else message


def _fill(message: str, values: Mapping[str, Any], locale: str) -> str:
    formatter = string.Formatter()
    parts: list[str] = []
    for literal, place, spec, conversion in formatter.parse(message):
        parts.append(literal)
        if place is None:
            continue
        value, _ = formatter.get_field(place, (), values)
        if conversion:
            value = formatter.convert_field(value, conversion)
        parts.append(_value(value, spec or "", locale))
    return "".join(parts)


def _value(value: Any, spec: str, locale: str) -> str:
    if isinstance(value, Text):
        return translate(value, locale)
    if isinstance(value, TreeName):
        return species_name(value, locale)
    if isinstance(value, (list, tuple)):
        return ", ".join(_value(item, spec, locale) for item in value)
    if isinstance(value, bool) or value is None:
        return format(value, spec)
    if isinstance(value, (int, float)):
        return _number(value, spec, locale)
    if isinstance(value, date) and not spec:
        day = value.date() if isinstance(value, datetime) else value
        shown = format_date(day, "medium", locale=babel_locale(locale))
        return accent(shown) if locale == PSEUDO_LOCALE else shown
    return format(value, spec)


def _number(value: float, spec: str, locale: str) -> str:
    """A number as Python's format specification asks, with the locale's own signs.

    Only a comma in the specification groups thousands, so that a year or an order's number stays whole.
    """
    if isinstance(value, float) and not spec:
        spec = ".6g" if abs(value) < 1e6 else ".0f"
    shown = format(value, spec)
    symbols = numbers.get_decimal_symbol(babel_locale(locale)), numbers.get_group_symbol(babel_locale(locale))
    percent = shown.endswith("%")
    swapped = shown.rstrip("%").translate({ord("."): symbols[0], ord(","): symbols[1]})
    if not percent:
        return swapped
    pattern = babel_locale(locale).percent_formats[None].pattern
    return swapped + ("\xa0%" if "\xa0" in pattern else "%")


class HasNames(Protocol):
    """What carries the names of a kind of tree (`rickyard.wood.Species`)."""

    @property
    def scientific(self) -> str: ...
    @property
    def common_en(self) -> str: ...
    @property
    def common_fr(self) -> str: ...


def species_name(species: HasNames, locale: str) -> str:
    """The common name in the locale's language; the scientific one where there is none."""
    if locale == PSEUDO_LOCALE:
        return pseudo(species.common_en) if species.common_en else species.scientific
    name = species.common_fr if locale.startswith("fr") else species.common_en
    return name or species.scientific
