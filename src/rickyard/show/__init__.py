"""Units, numbers, dates, money and words in the user's language.

- `Voice` says things: numbers, measures, moistures, odds, days, money, names.
- `parse_*` read what was typed, at the edge, into SI floats, and refuse what makes no sense.
- `translate`, `gettext`, ... and `jinja_callables` give words from the catalogues.
- `pseudo` makes the pseudo-language `en_XA` and finds English that went round the catalogue.
"""

from rickyard.show.days import parse_date
from rickyard.show.pseudo import PSEUDO_LOCALE, find_raw_english, pseudo
from rickyard.show.units import (
    Volume,
    parse_count,
    parse_length,
    parse_lengths,
    parse_mass,
    parse_money,
    parse_number,
    parse_percent,
    parse_temperature,
    parse_volume,
)
from rickyard.show.voice import Voice, voice_for
from rickyard.show.words import (
    LOCALES,
    gettext,
    jinja_callables,
    ngettext,
    npgettext,
    pgettext,
    species_name,
    translate,
)

__all__ = [
    "LOCALES",
    "PSEUDO_LOCALE",
    "Voice",
    "Volume",
    "find_raw_english",
    "gettext",
    "jinja_callables",
    "ngettext",
    "npgettext",
    "parse_count",
    "parse_date",
    "parse_length",
    "parse_lengths",
    "parse_mass",
    "parse_money",
    "parse_number",
    "parse_percent",
    "parse_temperature",
    "parse_volume",
    "pgettext",
    "pseudo",
    "species_name",
    "translate",
    "voice_for",
]
