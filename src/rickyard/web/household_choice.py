"""Choosing a household by typing its name: the book searches, however many there are.

The form has two fields: `home_name` as typed, and `household`, the number of the one that was meant. The number counts
only as long as the name beside it is its own, so that a name typed over it is never booked to somebody else.
"""

from __future__ import annotations

from rickyard.desk.households import HouseholdChoice, household, households_like, households_named
from rickyard.errors import InputError
from rickyard.text import T_
from rickyard.web.forms import Form
from rickyard.web.visit import Visit, data

OPTIONS = 12


def choose_household(visit: Visit, form: Form, *, needed: bool) -> list[tuple[int, object]]:
    """Puts the household that is meant into the form's `household`; where several may be, gives them to choose from.

    What cannot be told is a complaint, if a household is `needed` or something was typed.
    """
    name = form.text("home_name")
    number = form.value("household")
    if number.isdigit() and len(number) < 10:
        known = _known(visit, int(number))
        if known is not None and (not name or _same(known.name, name)):
            form.typed["home_name"] = [known.name]
            return []
        # A choice among those that were shown for what was typed before.
        if known is not None and any(choice.id == known.id for choice in _like(visit, name)):
            form.typed["home_name"] = [known.name]
            return []
    form.typed["household"] = []
    if not name:
        if needed:
            _complain(form, T_("nothing"))
        return []
    named = households_named(visit.desk, name)
    if len(named) == 1:
        form.typed["household"] = [str(named[0].id)]
        form.typed["home_name"] = [named[0].name]
        return []
    found = _like(visit, name)
    if needed or not found:
        _complain(form, name)
    return [(choice.id, data(_words(choice))) for choice in found]


def _complain(form: Form, got: object) -> None:
    form.complain(
        InputError(
            "home_name",
            wanted=T_("one household of this book"),
            got=got,
            next_move=T_("Type a part of the name, then choose; add it first if it is new."),
        )
    )


def _like(visit: Visit, name: str) -> list[HouseholdChoice]:
    return households_like(visit.desk, name, OPTIONS)


def _known(visit: Visit, number: int) -> HouseholdChoice | None:
    try:
        card = household(visit.desk, number)
    except InputError:
        # Gone, or of another yard: as if none had been said.
        return None
    return HouseholdChoice(card.id, card.name, card.address)


def _same(one: str, other: str) -> bool:
    return one.strip().casefold() == other.strip().casefold()


def _words(choice: HouseholdChoice) -> str:
    return f"{choice.name} · {choice.address}" if choice.address else choice.name
