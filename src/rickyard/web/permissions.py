"""Who may use which page: one table of every route, asked before any of them answers.

A route that is not in the table is for owners alone, and a test fails until it is put in.
While the book is open (no owner has a password) everybody is treated as the owner; it is then served on this
computer alone.
"""

from __future__ import annotations

import ipaddress
import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Final
from urllib.parse import quote

from fastapi import Request
from fastapi.routing import APIRoute
from starlette.routing import compile_path

from rickyard.desk.access import Comer, is_locked, signed_in
from rickyard.desk.context import Desk
from rickyard.errors import RickyardError
from rickyard.text import T_

SESSION_COOKIE: Final = "session"

_OWNER = frozenset({"owner"})
_ALL = frozenset({"owner", "helper", "driver", "bookkeeper"})
_WORK = frozenset({"owner", "helper"})
_WORK_SEEN = frozenset({"owner", "helper", "bookkeeper"})
_SALES = frozenset({"owner", "driver"})
_SALES_SEEN = frozenset({"owner", "driver", "bookkeeper"})
_MONEY_SEEN = frozenset({"owner", "bookkeeper"})
_GATE = frozenset({"owner", "helper", "driver"})

#: Answers that say nothing of the book, or ask who comes; the links of households carry their own secret.
OPEN: Final = frozenset(
    {
        "GET /static/{version}/{name:path}",
        "GET /health",
        "GET /sw.js",
        "GET /offline/away",
        "GET /sign-in",
        "POST /sign-in",
        "POST /sign-out",
        "GET /phone",
        "GET /rickyard.crt",
        "GET /qr/{name}.svg",
        "GET /h/{token}",
        "GET /h/{token}/tickets/{ticket_id:int}.pdf",
    }
)

_GROUPS: tuple[tuple[frozenset[str], str], ...] = (
    # What everybody who works here may look at.
    (
        _ALL,
        """
        GET /
        GET /progress
        GET /manifest.webmanifest
        GET /outbox
        GET /offline
        GET /offline/keep.json
        GET /who
        POST /who
        POST /this-device
        GET /species
        GET /species/sheet
        GET /species/table.json
        GET /species/{name}/drying.json
        GET /species/{name}.pdf
        GET /species/{name}
        GET /tree
        GET /tree/trust
        GET /species-options
        GET /place-options
        GET /calendar
        GET /calendar.pdf
        GET /what-if
        GET /stacks
        GET /stacks/{stack_id:int}
        GET /stacks/{stack_id:int}/what-if
        GET /stacks/{stack_id:int}/section
        GET /photos/{photo_id:int}
        GET /photos/{photo_id:int}/small
        GET /weather
        GET /weather/map
        GET /weather/map.svg
        GET /api/yard
        GET /api/weather
        GET /api/today
        GET /api/forecasts/progress
        GET /api/stacks
        GET /api/stacks/{stack_id}
        GET /api/stacks/{stack_id}/outlook
        GET /api/stacks/{stack_id}/readings
        GET /api/stacks/{stack_id}/witness
        GET /api/stacks/{stack_id}/fan
        GET /api/taught
        GET /api/photos
        GET /api/species
        GET /api/species/{name}
        GET /api/places
        GET /api/heat
        GET /api/measure/log
        GET /api/measure/stack
        GET /api/season/meter
        GET /api/rules/measure/{place}
        GET /api/rules/wording/{place}
        GET /api/identify
        GET /how-much
        """,
    ),
    # The yard's own work, seen and done.
    (
        _WORK_SEEN,
        """
        GET /wood-in
        GET /wood-in/{load_id:int}
        GET /wood-in/{load_id:int}/lying
        GET /wood/{subject}/{number:int}/way
        GET /stock
        GET /api/stock
        GET /entries/{number:int}
        GET /tree/seen
        GET /tree/seen/{naming_id:int}
        GET /yard/taught
        GET /clashes/{clash_id:int}
        GET /api/loads
        GET /api/loads/{load_id}
        GET /api/clashes
        GET /api/cut-sheets
        GET /api/cut-sheets/{sheet_id}
        GET /api/splitting-sheets
        GET /api/splitting-sheets/{sheet_id}
        GET /api/work-times
        GET /cutting
        GET /cutting/{sheet_id:int}
        GET /cutting/{sheet_id:int}/sheet.pdf
        GET /splitting/times
        GET /splitting/{sheet_id:int}
        GET /splitting/{sheet_id:int}/sheet.pdf
        GET /api/loads/{load_id}/measures
        GET /yard/taught/stacking
        GET /api/people
        """,
    ),
    (
        _WORK,
        """
        GET /wood-in/new
        POST /wood-in/new
        POST /wood-in/expect
        GET /wood-in/logs
        POST /wood-in/logs
        POST /wood-in/{load_id:int}/name
        POST /tree/seen
        POST /tree/seen/{naming_id:int}/confirm
        POST /tree/seen/{naming_id:int}/use
        GET /load-options
        GET /stacks/new
        POST /stacks/new
        GET /stacks/opening
        POST /stacks/opening
        GET /stacks/{stack_id:int}/measure
        POST /stacks/{stack_id:int}/measure
        GET /stacks/{stack_id:int}/move
        POST /stacks/{stack_id:int}/move
        GET /stacks/{stack_id:int}/empty
        POST /stacks/{stack_id:int}/empty
        POST /stacks/{stack_id:int}/reopen
        GET /stacks/{stack_id:int}/onto
        POST /stacks/{stack_id:int}/onto
        GET /stacks/{stack_id:int}/fill
        GET /stacks/{stack_id:int}/divide
        POST /stacks/{stack_id:int}/divide
        GET /stacks/{stack_id:int}/split
        POST /stacks/{stack_id:int}/split
        GET /stacks/{stack_id:int}/gone
        POST /stacks/{stack_id:int}/gone
        GET /wood-in/{load_id:int}/gone
        POST /wood-in/{load_id:int}/gone
        GET /wood-in/{load_id:int}/back
        POST /wood-in/{load_id:int}/back
        GET /readings/new
        GET /stacks/{stack_id:int}/reading
        POST /stacks/{stack_id:int}/reading
        POST /readings/{reading_id:int}/judge
        GET /stacks/{stack_id:int}/mark
        POST /stacks/{stack_id:int}/mark
        GET /stacks/{stack_id:int}/weigh
        POST /stacks/{stack_id:int}/weigh
        POST /clashes/{clash_id:int}/settle
        GET /photos/{photo_id:int}/remove
        POST /photos/{photo_id:int}/remove
        POST /api/deeds/take-in-rough
        POST /api/deeds/take-in-logs
        POST /api/deeds/name-wood
        POST /api/deeds/keep-seen
        POST /api/deeds/confirm-naming
        POST /api/deeds/stack-up
        POST /api/deeds/opening-stack
        POST /api/deeds/measure-stack
        POST /api/deeds/move-stack
        POST /api/deeds/empty-stack
        POST /api/deeds/add-reading
        POST /api/deeds/judge-reading
        POST /api/deeds/mark-pieces
        POST /api/deeds/weigh-pieces
        POST /api/deeds/reopen-stack
        POST /api/deeds/reject-load
        POST /api/deeds/put-onto
        POST /api/deeds/divide-stack
        POST /api/deeds/split-stack
        POST /api/deeds/take-away
        POST /api/deeds/settle-clash
        GET /wood-in/{load_id:int}/undo
        POST /wood-in/{load_id:int}/undo
        GET /stacks/{stack_id:int}/undo
        POST /stacks/{stack_id:int}/undo
        GET /measures/{measure_id:int}/undo
        POST /measures/{measure_id:int}/undo
        POST /api/deeds/undo-measure
        GET /journal/{number:int}/undo
        POST /journal/{number:int}/undo
        POST /api/deeds/undo-take-in
        POST /api/deeds/undo-stack-up
        POST /api/deeds/undo-moving
        GET /cutting/new
        GET /splitting/new
        POST /api/deeds/found-in-log
        POST /api/deeds/make-cut-sheet
        POST /api/deeds/make-splitting-sheet
        POST /api/deeds/plan-cut-sheet
        POST /api/deeds/reckon-splitting-sheet
        POST /api/deeds/tick-off
        POST /api/deeds/time-work
        POST /cutting/new
        POST /cutting/{sheet_id:int}/log/{log:int}/found
        POST /cutting/{sheet_id:int}/log/{log:int}/tick
        POST /cutting/{sheet_id:int}/log/{log:int}/undo
        POST /cutting/{sheet_id:int}/plan
        POST /splitting/new
        POST /splitting/times
        POST /splitting/{sheet_id:int}/reckon
        GET /stacks/{stack_id:int}/photo
        POST /stacks/{stack_id:int}/photo
        GET /wood-in/{load_id:int}/follow
        POST /wood-in/{load_id:int}/follow
        GET /wood-in/{load_id:int}/measure
        POST /wood-in/{load_id:int}/measure
        POST /wood-in/{load_id:int}/measure/{measure_id:int}/aside
        POST /api/deeds/follow-measures
        POST /api/deeds/measure-by-photo
        POST /api/deeds/note-measure
        POST /api/deeds/set-measure-aside
        POST /api/deeds/remove-photo
        """,
    ),
    # Whoever carries a phone may add a photo; whoever stands at the gate may sell there; wood comes back by truck.
    (
        _GATE,
        """
        GET /photos/new
        POST /photos/new
        POST /api/deeds/add-photo
        GET /gate
        POST /gate
        GET /api/gate
        POST /api/deeds/sell-at-gate
        GET /stacks/{stack_id:int}/came-back
        POST /stacks/{stack_id:int}/came-back
        POST /api/deeds/return-wood
        """,
    ),
    # Deliveries: who, where, what, and what was paid at the door.
    (
        _SALES_SEEN,
        """
        GET /orders
        GET /orders/{order_id:int}
        GET /households
        GET /households/{household_id:int}
        GET /tickets
        GET /tickets/{ticket_id:int}
        GET /tickets/{ticket_id:int}.pdf
        GET /wares
        GET /api/orders
        GET /api/orders/{order_id}
        GET /api/households
        GET /api/households/{household_id}
        GET /api/tickets
        GET /api/tickets/{ticket_id}
        GET /api/tickets/{ticket_id}/pdf
        GET /api/wares
        GET /api/wares/{ware_id}
        """,
    ),
    (
        _SALES,
        """
        GET /orders/{order_id:int}/deliver
        POST /orders/{order_id:int}/deliver
        POST /tickets/{ticket_id:int}/pay
        GET /tickets/{ticket_id:int}/came-back
        POST /tickets/{ticket_id:int}/came-back
        POST /api/deeds/deliver
        POST /api/deeds/pay
        GET /tickets/{ticket_id:int}/undo
        POST /tickets/{ticket_id:int}/undo
        GET /payments/{payment_id:int}/undo
        POST /payments/{payment_id:int}/undo
        POST /api/deeds/undo-delivery
        POST /api/deeds/undo-payment
        """,
    ),
    (
        _MONEY_SEEN,
        """
        GET /people/deeds
        GET /downloads
        GET /downloads/bookkeeping.zip
        GET /api/downloads/bookkeeping.zip
        GET /api/ask
        GET /api/costs
        GET /api/offers
        GET /api/offers/{offer_id}
        GET /offers
        GET /offers/compare
        GET /offers/{offer_id:int}
        """,
    ),
    # Promises, prices, the yard's facts and its people are the owner's.
    (
        _OWNER,
        """
        GET /downloads/backup.zip
        GET /downloads/book.zip
        GET /api/downloads/backup.zip
        GET /api/downloads/book.zip
        GET /household-options
        GET /orders/new
        POST /orders/new
        POST /orders/{order_id:int}/promise
        POST /orders/{order_id:int}/cancel
        GET /households/new
        POST /households/new
        GET /households/{household_id:int}/change
        POST /households/{household_id:int}/change
        POST /households/{household_id:int}/link
        POST /households/{household_id:int}/link/{link_id:int}/end
        GET /lists
        POST /lists/look
        POST /lists/take
        GET /lists/example/{kind}.{ending}
        GET /wares/new
        POST /wares/new
        GET /wares/{ware_id:int}
        POST /wares/{ware_id:int}
        GET /set-up
        POST /set-up
        GET /yard
        POST /yard
        POST /yard/taught/forget
        POST /weather/place
        POST /weather/look
        POST /weather/files
        GET /weather/files/{file_id:int}
        POST /weather/files/{file_id:int}/back
        POST /weather/files/{file_id:int}/offsets
        POST /weather/services/{service}
        GET /people
        POST /people/new
        POST /people/{person_id:int}/role
        POST /people/{person_id:int}/password
        POST /people/{person_id:int}/lock-out
        POST /people/sign-ins/{sign_in_id:int}/end
        POST /who/new
        POST /who/rename
        POST /api/deeds/change-yard
        GET /households/{household_id:int}/forget
        POST /households/{household_id:int}/forget
        GET /tickets/{ticket_id:int}/forget
        POST /tickets/{ticket_id:int}/forget
        POST /api/deeds/forget-buyer
        POST /api/deeds/forget-household
        POST /api/deeds/forget-lessons
        POST /api/deeds/forget-reason
        POST /api/deeds/add-person
        POST /api/deeds/rename-person
        POST /api/deeds/set-role
        POST /api/deeds/set-password
        POST /api/deeds/lock-out
        POST /api/deeds/end-sign-in
        POST /api/deeds/make-link
        POST /api/deeds/end-link
        POST /api/deeds/set-ware
        POST /api/deeds/take-in-list
        GET /offers/new
        GET /offers/{offer_id:int}/change
        GET /yard/costs
        POST /api/deeds/change-offer
        POST /api/deeds/note-offer
        POST /api/deeds/refuse-offer
        POST /api/deeds/set-costs
        POST /api/deeds/take-offer
        POST /offers/new
        POST /offers/{offer_id:int}/change
        POST /offers/{offer_id:int}/refuse
        POST /offers/{offer_id:int}/take
        POST /yard/costs
        POST /api/deeds/set-household
        POST /api/deeds/place-order
        POST /api/deeds/promise-order
        POST /api/deeds/cancel-order
        POST /api/deeds/take-in-weather
        POST /api/deeds/take-back-weather
        POST /api/deeds/use-offsets
        POST /api/deeds/turn-service
        POST /api/deeds/choose-place
        """,
    ),
)


def _table() -> dict[str, frozenset[str]]:
    found: dict[str, frozenset[str]] = {}
    for roles, routes in _GROUPS:
        for line in routes.split("\n"):
            if route := line.strip():
                if route in found or route in OPEN:
                    raise RuntimeError(f"{route} stands twice in the table of permissions")
                found[route] = roles
    return found


PERMISSIONS: Final = _table()
"""Method and path of a route: the roles that may use it."""


_FIXED: Final = frozenset(name for name in (*PERMISSIONS, *OPEN) if "{" not in name)
# In the order of the table: a route that another one would swallow stands before it there.
_PATTERNS: Final = tuple(
    (method, path, compile_path(path)[0])
    for method, path in (name.split(" ", 1) for name in (*PERMISSIONS, *OPEN) if "{" in name)
)


def route_of(method: str, address: str) -> str | None:
    """The path, as the table writes it, of the route that answers this address."""
    # All things of a kind are answered alike, so a long list is looked up once.
    return _route_of(method, re.sub(r"\d+", "1", address))


@lru_cache(maxsize=4096)
def _route_of(method: str, address: str) -> str | None:
    if f"{method} {address}" in _FIXED:
        return address
    return next((path for of, path, pattern in _PATTERNS if of == method and pattern.match(address)), None)


class SignInNeededError(Exception):
    """Nobody is signed in; `back` is where to go on afterwards."""

    def __init__(self, back: str) -> None:
        super().__init__(back)
        self.back = back


class NotAllowedError(RickyardError):
    """The role of whoever is signed in does not do that."""

    code = "not_allowed"


@dataclass(frozen=True)
class Access:
    """How a request stands to the book: whether it is locked, and who comes."""

    locked: bool
    comer: Comer | None

    def may(self, path: str, method: str = "GET") -> bool:
        """Whether this person may use a route, by its path as the table writes it."""
        if not self.locked or f"{method} {path}" in OPEN:
            return True
        return self.comer is not None and self.comer.role in PERMISSIONS.get(f"{method} {path}", _OWNER)

    def opens(self, address: str, method: str = "GET") -> bool:
        """Whether this person may use an address of the yard, without its query. What no route answers is open."""
        route = route_of(method, address)
        return route is None or self.may(route, method)

    @property
    def may_all(self) -> bool:
        return not self.locked or (self.comer is not None and self.comer.role == "owner")


def access_of(request: Request) -> Access:
    """Looked up once a request."""
    if not hasattr(request.state, "access"):
        desk: Desk | None = request.app.state.desk()
        if desk is None:
            request.state.access = Access(locked=False, comer=None)
        else:
            comer = signed_in(desk, request.cookies.get(SESSION_COOKIE, ""))
            # Somebody who is signed in: then an owner has a password, which need not be looked up.
            request.state.access = Access(comer is not None or is_locked(desk), comer)
    found: Access = request.state.access
    return found


def permit(request: Request) -> None:
    """Stands before every route; raises SignInNeededError, NotAllowedError."""
    route = request.scope.get("route")
    path = route.path if isinstance(route, APIRoute) else ""
    method = "GET" if request.method == "HEAD" else request.method
    if f"{method} {path}" in OPEN:
        return
    access = access_of(request)
    if not access.locked:
        _on_this_computer(request)
        return
    if access.comer is None:
        raise SignInNeededError(_back(request))
    if access.comer.role not in PERMISSIONS.get(f"{method} {path}", _OWNER):
        raise NotAllowedError(
            T_("This is not for a {role} to do or see. Ask an owner.", role=ROLE_WORDS[access.comer.role])
        )


ROLE_WORDS: Final = {
    "owner": T_("owner"),
    "helper": T_("helper"),
    "driver": T_("driver"),
    "bookkeeper": T_("bookkeeper"),
}


def _on_this_computer(request: Request) -> None:
    """A book without an owner's password answers nobody from elsewhere, however it came to be served there."""
    try:
        loopback = request.client is None or ipaddress.ip_address(request.client.host).is_loopback
    except ValueError:
        # Not an address: the connection does not come over a network.
        loopback = True
    if not loopback:
        raise NotAllowedError(
            T_("This book has no owner's password yet, so it answers on its own computer only."),
            code="no_owner_password",
        )


def _back(request: Request) -> str:
    """Where somebody wanted to go; after a form, the page it stood on is not known: the first page."""
    if request.method not in ("GET", "HEAD"):
        return "/"
    query = f"?{request.url.query}" if request.url.query else ""
    return quote(request.url.path + query, safe="/?=&%")
