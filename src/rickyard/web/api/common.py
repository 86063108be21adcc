"""What all parts of the API share: the desk of a request, the errors it may answer, ids in paths."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated, Any, TypeVar

from fastapi import Depends, Path, Query, Request

from rickyard.desk.context import Command, Desk
from rickyard.web.api.models import ErrorOut
from rickyard.web.permissions import access_of
from rickyard.web.visit import NoYardError

C = TypeVar("C", bound=Command)

ERRORS: dict[int | str, dict[str, Any]] = {
    400: {"model": ErrorOut, "description": "The request could not be read."},
    401: {"model": ErrorOut, "description": "The book is locked and nobody is signed in."},
    403: {
        "model": ErrorOut,
        "description": "A change sent by a page that is not this yard's own, or not for the role of the one signed in.",
    },
    404: {"model": ErrorOut, "description": "There is no such thing in this book."},
    409: {
        "model": ErrorOut,
        "description": "The book has no yard, the key was used, or stock or odds forbid it.",
    },
    422: {"model": ErrorOut, "description": "Something given makes no sense; `field` says what."},
    503: {"model": ErrorOut, "description": "The book cannot be read or written just now."},
}


def _desk(request: Request) -> Desk:
    desk: Desk | None = request.app.state.desk()
    if desk is None:
        raise NoYardError
    return desk


def by_whoever_is_signed_in(request: Request, command: C) -> C:
    """The command, done by whoever is signed in, whatever the body says; while the book is open, as the body says."""
    comer = access_of(request).comer
    return command if comer is None else replace(command, person_id=comer.person_id)


TheDesk = Annotated[Desk, Depends(_desk)]
Number = Annotated[int, Path(ge=1, le=2**31 - 1)]
# A list goes on after the row with this id; `before` where it runs from the newest back. Without a limit it is whole.
RowId = Annotated[int | None, Query(ge=1, le=2**31 - 1)]
Limit = Annotated[int | None, Query(ge=1, le=1000)]
