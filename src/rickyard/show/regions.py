"""Names of countries and their states and provinces, as they are written on papers.

Countries come from CLDR through Babel; states and provinces are official names, from memory.
"""

from __future__ import annotations

from rickyard.show.pseudo import PSEUDO_LOCALE, accent
from rickyard.show.words import babel_locale

_CANADA = {
    "AB": ("Alberta", "Alberta"),
    "BC": ("British Columbia", "Colombie-Britannique"),
    "MB": ("Manitoba", "Manitoba"),
    "NB": ("New Brunswick", "Nouveau-Brunswick"),
    "NL": ("Newfoundland and Labrador", "Terre-Neuve-et-Labrador"),
    "NS": ("Nova Scotia", "Nouvelle-Écosse"),
    "NT": ("Northwest Territories", "Territoires du Nord-Ouest"),
    "NU": ("Nunavut", "Nunavut"),
    "ON": ("Ontario", "Ontario"),
    "PE": ("Prince Edward Island", "Île-du-Prince-Édouard"),
    "QC": ("Quebec", "Québec"),
    "SK": ("Saskatchewan", "Saskatchewan"),
    "YT": ("Yukon", "Yukon"),
}
_STATES = (
    "AL Alabama;AK Alaska;AZ Arizona;AR Arkansas;CA California;CO Colorado;CT Connecticut;DE Delaware;"
    "DC District of Columbia;FL Florida;GA Georgia;HI Hawaii;ID Idaho;IL Illinois;IN Indiana;IA Iowa;KS Kansas;"
    "KY Kentucky;LA Louisiana;ME Maine;MD Maryland;MA Massachusetts;MI Michigan;MN Minnesota;MS Mississippi;"
    "MO Missouri;MT Montana;NE Nebraska;NV Nevada;NH New Hampshire;NJ New Jersey;NM New Mexico;NY New York;"
    "NC North Carolina;ND North Dakota;OH Ohio;OK Oklahoma;OR Oregon;PA Pennsylvania;RI Rhode Island;"
    "SC South Carolina;SD South Dakota;TN Tennessee;TX Texas;UT Utah;VT Vermont;VA Virginia;WA Washington;"
    "WV West Virginia;WI Wisconsin;WY Wyoming"
)
# Those that have a name of their own in French.
_STATES_FR = {
    "CA": "Californie",
    "DC": "district de Columbia",
    "FL": "Floride",
    "GA": "Géorgie",
    "HI": "Hawaï",
    "LA": "Louisiane",
    "NC": "Caroline du Nord",
    "ND": "Dakota du Nord",
    "NM": "Nouveau-Mexique",
    "PA": "Pennsylvanie",
    "SC": "Caroline du Sud",
    "SD": "Dakota du Sud",
    "VA": "Virginie",
    "WV": "Virginie-Occidentale",
}
_UNITED_STATES = {item[:2]: (item[3:], _STATES_FR.get(item[:2], item[3:])) for item in _STATES.split(";")}
_GREAT_BRITAIN = {
    "ENG": ("England", "Angleterre"),
    "SCT": ("Scotland", "Écosse"),
    "WLS": ("Wales", "Pays de Galles"),
    "NIR": ("Northern Ireland", "Irlande du Nord"),
}
SUBDIVISIONS = {"CA": _CANADA, "US": _UNITED_STATES, "GB": _GREAT_BRITAIN}


def country_name(country: str, locale: str) -> str:
    """Canada; the code itself if it is unknown."""
    name = babel_locale(locale).territories.get(country, country)
    return accent(name) if locale == PSEUDO_LOCALE else name


def subdivision_name(country: str, subdivision: str, locale: str) -> str:
    """New Brunswick, or Nouveau-Brunswick in French; the code itself if it is unknown."""
    names = SUBDIVISIONS.get(country, {}).get(subdivision)
    if names is None:
        return subdivision
    name = names[1] if locale.startswith("fr") else names[0]
    return accent(name) if locale == PSEUDO_LOCALE else name


def place_name(country: str, subdivision: str, county: str, locale: str) -> str:
    """York, New Brunswick, Canada: from the small to the large, what is known of it."""
    parts = [county, subdivision_name(country, subdivision, locale), country_name(country, locale)]
    return ", ".join(part for part in parts if part)
