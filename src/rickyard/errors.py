"""What can go wrong, as one small tree.

RickyardError
├── InputError            what was typed or given makes no sense
│   └── UnknownNameError  a name that is not in the list; carries the nearest ones
├── RefusedError          the yard's own rules or stock forbid it (promises and sales only)
├── ClashError            the same key with another body, or a record changed meanwhile
├── BookError             the book's file or server: missing, newer, corrupt, full
└── FeedError             a service of the outside world: late, cut, busy, refusing, not as documented

An error names the thing (`field`), what was wanted, what came, and the next move.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rickyard.text import T_, Quantity, Text


class RickyardError(Exception):
    """Base of all errors that Rickyard raises on purpose. `code` is stable, for programs."""

    code = "error"

    def __init__(self, text: Text, *, code: str | None = None, field: str = "") -> None:
        super().__init__(text)
        self.text = text
        self.field = field
        if code is not None:
            self.code = code

    def __str__(self) -> str:
        return str(self.text)

    def as_dict(self) -> dict[str, Any]:
        """The error object of the commands and the API: code, field, message (English)."""
        return {"code": self.code, "field": self.field, "message": str(self.text)}


class InputError(RickyardError, ValueError):
    """Something typed or given makes no sense.

    Parameters
    ----------
    field
        Name of the option, column or form field, as the user knows it.
    wanted, next_move
        What would have been accepted, and what to do now.
    got
        What came, as text.
    """

    code = "bad_input"

    def __init__(
        self, field: str, *, wanted: Text, got: object, next_move: Text, code: str | None = None
    ) -> None:
        text = T_(
            "{field}: wanted {wanted}, got {got}. {next_move}",
            field=field,
            wanted=wanted,
            got=got if isinstance(got, Text | Quantity) else str(got),
            next_move=next_move,
        )
        super().__init__(text, code=code, field=field)
        self.wanted = wanted
        self.got = got
        self.next_move = next_move


class UnknownNameError(InputError):
    """A name that is not in the list (species, place, appliance, ...); `nearest` holds the closest."""

    code = "unknown_name"

    def __init__(self, field: str, *, wanted: Text, got: str, nearest: Sequence[str]) -> None:
        self.nearest = tuple(nearest)
        if self.nearest:
            move = T_("Nearest: {names}.", names="; ".join(self.nearest))
        else:
            move = T_("Nothing in the list is close; check the spelling.")
        super().__init__(field, wanted=wanted, got=got, next_move=move)


class RefusedError(RickyardError):
    """A promise or a sale that stock, odds or the law do not allow."""

    code = "refused"


class ClashError(RickyardError):
    """The same client key with another body, or a record that changed since it was read."""

    code = "clash"


class BookError(RickyardError):
    """The book cannot be opened or written: missing, from a newer version, corrupt, locked, disk full."""

    code = "book"


class FeedError(RickyardError):
    """A service of the outside world did not give what was asked; `again_s` says whether and when to ask again.

    Codes: `feed_unreachable`, `feed_late`, `feed_cut`, `feed_busy`, `feed_failed`, `feed_refused`, `feed_nonsense`.
    """

    code = "feed"

    def __init__(self, text: Text, *, code: str, again_s: float | None = None) -> None:
        super().__init__(text, code=code)
        self.again_s = again_s
