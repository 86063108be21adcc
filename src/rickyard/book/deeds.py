"""Deeds: what is done through the desk is done once, however often a phone sends it."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Any

from sqlalchemy import bindparam, select, update
from sqlalchemy.orm import Session
from sqlalchemy.orm.attributes import set_committed_value

from rickyard.book.base import Base
from rickyard.book.models import Deed
from rickyard.errors import ClashError
from rickyard.text import T_

Answer = dict[str, Any]


def do_once(
    session: Session,
    yard_id: int,
    *,
    client_key: str,
    kind: str,
    body: Mapping[str, Any],
    happened_at: datetime,
    recorded_at: datetime,
    run: Callable[[Deed], Answer],
    person_id: int | None = None,
    told_at: datetime | None = None,
) -> Answer:
    """Runs a deed, unless the yard has done it under this key; then gives the first answer again.

    Parameters
    ----------
    client_key
        Made by the client, once for each thing it wants done.
    body
        What was asked, as JSON would carry it; it decides whether a second request is the same one.
    told_at
        When it happened as the client says it. Said twice it must be the same, for the same deed; a request that did
        not say it (the first try of a form that the outbox sends again) is compared without.
    run
        Does the work in the session and gives an answer that JSON can carry.

    Raises
    ------
    ClashError
        If the key was used for something else (`key_used`).
        What `run` raises passes, and the key stays unused if the transaction is undone.
    """
    asked = body_hash(kind, body)
    known = session.scalar(_KNOWN, {"yard_id": yard_id, "client_key": client_key})
    if known is not None:
        other_time = None not in (told_at, known.told_at) and told_at != known.told_at
        if known.body_hash != asked or other_time:
            raise ClashError(
                T_(
                    'This was sent before with other contents, as "{kind}", and that was done. '
                    "Look at what is in the book now, then enter the change as a new one.",
                    kind=known.kind,
                ),
                code="key_used",
            )
        return known.answer
    deed = Deed(
        yard_id=yard_id,
        client_key=client_key,
        kind=kind,
        body_hash=asked,
        answer={},
        person_id=person_id,
        happened_at=happened_at,
        recorded_at=recorded_at,
        told_at=told_at,
    )
    session.add(deed)
    session.flush()
    # Through JSON and back, so that the first answer is the very thing that later ones are.
    answer: Answer = json.loads(json.dumps(run(deed), allow_nan=False))
    # What the deed wrote first: its answer may name it. Then the one column, which is told to the session as written.
    session.flush()
    session.execute(_ANSWER, {"of_deed": deed.id, "given": answer})
    set_committed_value(deed, "answer", answer)
    return answer


# Made once, for every deed asks.
_KNOWN = select(Deed).where(Deed.yard_id == bindparam("yard_id"), Deed.client_key == bindparam("client_key"))
_DEED = Base.metadata.tables[Deed.__tablename__]
_ANSWER = (
    update(_DEED)
    .where(_DEED.c.id == bindparam("of_deed"))
    .values(answer=bindparam("given", type_=_DEED.c.answer.type))
)


def body_hash(kind: str, body: Mapping[str, Any]) -> str:
    """SHA-256 of a deed's kind and body in one canonical JSON: keys sorted, 1.0 the same number as 1.

    Raises ValueError or TypeError for what JSON cannot carry (NaN, dates, ...).
    """
    canonical = json.dumps(
        [kind, _canonical(body)],
        sort_keys=True,
        separators=(",", ":"),
        ensure_ascii=False,
        allow_nan=False,
    )
    return hashlib.sha256(canonical.encode()).hexdigest()


def _canonical(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {str(name): _canonical(inner) for name, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_canonical(inner) for inner in value]
    if isinstance(value, float) and value.is_integer():
        return int(value)
    return value
