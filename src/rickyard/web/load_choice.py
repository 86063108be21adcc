"""Choosing loads with wood left: the last ones stand in the form, every other is found by number or source.

The form's `load_search` holds what was typed. The number of a load says which one is meant and ticks it; anything else
only brings loads into the list, to be ticked by whoever asked.
"""

from __future__ import annotations

from collections.abc import Sequence

from rickyard.desk.loads import LoadRow, loads
from rickyard.desk.paging import is_number
from rickyard.errors import InputError
from rickyard.text import T_
from rickyard.web.forms import Form
from rickyard.web.visit import Visit

SHOWN = 12


def search_loads(visit: Visit, form: Form) -> list[LoadRow]:
    """Loads that were searched for, to choose from; none once a number has said which one is meant."""
    typed = form.text("load_search")
    if not typed:
        return []
    found = loads_like(visit, typed)
    meant = next((row for row in found if is_number(typed) and row.number == int(typed)), None)
    if meant is not None:
        form.typed["load"] = list(dict.fromkeys([*form.values("load"), str(meant.id)]))
        form.typed["load_search"] = []
        return []
    if not found:
        form.complain(
            InputError(
                "load_search",
                wanted=T_("a load with wood left"),
                got=typed,
                next_move=T_("Type its number, or a part of where it came from."),
            )
        )
    return found


def one_meant(form: Form, found: Sequence[LoadRow]) -> None:
    """A complaint if the form is sent while what was searched for is still to be ticked."""
    chosen = form.values("load")
    if found and not any(str(row.id) in chosen for row in found):
        form.complain(
            InputError(
                "load_search",
                wanted=T_("the number of a load, or one that is ticked"),
                got=form.text("load_search"),
                next_move=T_("Tick the load that you mean; those that were found are first in the list."),
            )
        )


def loads_to_tick(visit: Visit, form: Form, found: Sequence[LoadRow]) -> list[LoadRow]:
    """What the form lists: loads that are ticked, those that were found, then the last ones."""
    ticked = [int(text) for text in form.values("load") if text.isdigit() and len(text) < 10]
    rows = loads(visit.desk, with_wood_only=True, ids=ticked) if ticked else []
    rows += [*found, *loads(visit.desk, with_wood_only=True, limit=SHOWN)]
    return list({row.id: row for row in rows}.values())


def loads_like(visit: Visit, typed: str) -> list[LoadRow]:
    """Loads with wood left: the one of that number first, then those with that in their source, quantity or note."""
    rows = loads(visit.desk, with_wood_only=True, number=int(typed)) if is_number(typed) else []
    rows += loads(visit.desk, with_wood_only=True, search=typed, limit=SHOWN)
    return list({row.id: row for row in rows}.values())
