"""Long lists: a page at a time by where the last one ended, and searched by the database.

A page is asked for by the row before it (its id), not by its number, so that rows which come in meanwhile neither
show a row twice nor hide one.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, TypeVar

from sqlalchemy import ColumnElement, Select, and_, func, or_, select
from sqlalchemy.orm import InstrumentedAttribute

A_PAGE = 40
# A search that is longer finds nothing that a shorter one would not.
MOST_SEARCH = 80

_Row = TypeVar("_Row")
_Query = TypeVar("_Query", bound=Select[*tuple[Any, ...]])
_Column = InstrumentedAttribute[Any]


def one_page(rows: Sequence[_Row], size: int = A_PAGE) -> tuple[list[_Row], bool]:
    """The rows of a page out of those asked for (one more than a page), and whether there are others after it."""
    return list(rows[:size]), len(rows) > size


def after_row(
    query: _Query, table: type[Any], row_id: int | None, *columns: _Column, descending: bool
) -> _Query:
    """Only what comes after the row with this id in the order of `columns` (the last one is the id), ordered so.

    Nothing comes after a row that is not there.
    """
    order = [column.desc() if descending else column.asc() for column in columns]
    query = query.order_by(*order)
    if row_id is None:
        return query
    mark = [select(column).where(table.id == row_id).scalar_subquery() for column in columns[:-1]] + [row_id]
    steps: list[ColumnElement[bool]] = []
    for place, column in enumerate(columns):
        beyond = column < mark[place] if descending else column > mark[place]
        steps.append(and_(*(columns[level] == mark[level] for level in range(place)), beyond))
    return query.where(or_(*steps), select(table.id).where(table.id == row_id).exists())


def contains(search: str, *columns: ColumnElement[Any] | _Column) -> ColumnElement[bool]:
    """Whether one of the columns holds what was typed, wherever it stands.

    Capitals do not matter in ASCII. The databases fold other letters each in its own way or not at all: those are
    looked for as typed, small, large, and with a capital first.
    """
    patterns = spellings(search)
    found = [func.lower(column).contains(one, autoescape=True) for column in columns for one in patterns]
    return or_(*found)


def spellings(search: str) -> list[str]:
    """What is looked for, with small letters as far as ASCII goes; a database takes no NUL in a text."""
    term = search.replace("\0", "").strip()[:MOST_SEARCH]
    return sorted(
        {ascii_lower(one) for one in (term, term.lower(), term.upper(), term.capitalize(), term.title())}
    )


def ascii_lower(text: str) -> str:
    return "".join(letter.lower() if letter.isascii() else letter for letter in text)


def is_number(search: str) -> bool:
    """Whether what was typed may be the number of a paper."""
    return search.isascii() and search.isdigit() and len(search) < 10
