"""The chain over the journal: each entry is sealed with a hash that hangs on the entry before it.

Whoever changes a posting, an entry or the place of harvest of its wood by other means breaks the chain, and
`check` says at which entry. Whoever makes the whole chain anew does not; therefore `book check` and every backup
say the last entry's hash, to be kept elsewhere: a later book must still hold it.

No personal data is hashed: of an entry its yard, number, kind, moments, deed and reversal, of each posting the spot,
the wood and the measurement. Spots are numbers; the reason is there by a salted hash of its own (`EntryLink`) and
can be taken out by a deed.
"""

from __future__ import annotations

import hashlib
import json
import secrets
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from itertools import groupby
from typing import Any

from sqlalchemy import JSON, BigInteger, Connection, Double, Row, text

from rickyard.book.types import UtcDateTime

# Form of the text that is hashed. One that was used is never changed: books were sealed with it.
FORM = 1


@dataclass(frozen=True)
class Seal:
    """What is kept of an entry in the chain."""

    entry_id: int
    yard_id: int
    number: int
    previous: str
    hash: str
    reason_salt: str
    reason_hash: str


@dataclass(frozen=True)
class Break:
    """Where the chain does not hold. `what`: "unsealed", "changed", "reason" or "order"; "gone" for a lost entry."""

    yard_id: int
    number: int
    what: str


def seal_entry(connection: Connection, entry_id: int) -> str:
    """Seals the entry, all of whose postings are written; gives its hash. The writer holds the yard's turn."""
    entry = connection.execute(_ENTRIES_OF_ONE, {"entry_id": entry_id}).one()
    postings = connection.execute(_POSTINGS_OF_ONE, {"entry_id": entry_id}).all()
    previous = connection.execute(_LAST, {"yard_id": entry.yard_id, "number": entry.number}).scalar()
    seal = _seal(previous or "", entry, postings)
    connection.execute(_INSERT, asdict(seal))
    return seal.hash


def seal_all(connection: Connection) -> None:
    """Seals every entry of a book that has no chain yet, in the order of their numbers."""
    yard_id, previous = None, ""
    seals: list[dict[str, Any]] = []
    for entry, postings in _journal(connection):
        if entry.yard_id != yard_id:
            yard_id, previous = entry.yard_id, ""
        seal = _seal(previous, entry, postings)
        previous = seal.hash
        seals.append(asdict(seal))
    if seals:
        connection.execute(_INSERT, seals)


def breaks(connection: Connection) -> Iterator[Break]:
    """Walks the whole journal and says where an entry is not what was sealed."""
    seals = {row.entry_id: row for row in connection.execute(_SEALS)}
    forgotten = {(row.yard_id, row.answer.get("entry")) for row in connection.execute(_FORGOTTEN)}
    yard_id, previous = None, ""
    for entry, postings in _journal(connection):
        if entry.yard_id != yard_id:
            yard_id, previous = entry.yard_id, ""
        seal = seals.pop(entry.id, None)
        if seal is None:
            yield Break(entry.yard_id, entry.number, "unsealed")
            continue
        if (seal.yard_id, seal.number, seal.previous) != (entry.yard_id, entry.number, previous):
            yield Break(entry.yard_id, entry.number, "order")
        elif entry_hash(seal.previous, entry, postings, seal.reason_hash) != seal.hash:
            yield Break(entry.yard_id, entry.number, "changed")
        elif seal.reason_hash != reason_hash(seal.reason_salt, entry.reason) and (
            # Text and salt both gone, by a deed: taken out because it named somebody.
            entry.reason or seal.reason_salt or (entry.yard_id, entry.number) not in forgotten
        ):
            yield Break(entry.yard_id, entry.number, "reason")
        previous = seal.hash
    for seal in seals.values():
        yield Break(seal.yard_id, seal.number, "gone")


def heads(connection: Connection) -> dict[int, tuple[int, str]]:
    """The last entry's number and hash of each yard that has entries."""
    return {row.yard_id: (row.number, row.hash) for row in connection.execute(_HEADS)}


def hash_of(connection: Connection, yard_id: int, number: int) -> str | None:
    """The hash that an entry is sealed with; None if there is no such entry."""
    found: str | None = connection.execute(_HASH, {"yard_id": yard_id, "number": number}).scalar()
    return found


def entry_hash(previous: str, entry: Row[Any], postings: Sequence[Row[Any]], hash_of_reason: str) -> str:
    """SHA-256 of one canonical JSON text: the same on every database, in whatever order the postings come."""
    rows = [
        [
            row.spot_id,
            row.species_id,
            row.form,
            [row.lot_id, row.country, row.subdivision, row.county, row.certificate],
            row.mass_g,
            _number(row.quantity),
            row.unit,
            row.method,
            _number(row.sd_share),
            _number(row.basic_density_kg_m3),
        ]
        for row in postings
    ]
    whole = [
        FORM,
        previous,
        entry.yard_id,
        entry.number,
        entry.kind,
        _moment(entry.happened_at),
        _moment(entry.recorded_at),
        entry.deed_id,
        entry.reverses_id,
        hash_of_reason,
        sorted(rows, key=_canonical),
    ]
    return hashlib.sha256(_canonical(whole).encode()).hexdigest()


def reason_hash(salt: str, reason: str) -> str:
    """Empty for no reason. The salt keeps a short reason from being guessed once it is taken out."""
    return hashlib.sha256(f"{salt} {reason}".encode()).hexdigest() if reason else ""


def _seal(previous: str, entry: Row[Any], postings: Sequence[Row[Any]]) -> Seal:
    salt = secrets.token_hex(16) if entry.reason else ""
    hashed = reason_hash(salt, entry.reason)
    made = entry_hash(previous, entry, postings, hashed)
    return Seal(entry.id, entry.yard_id, entry.number, previous, made, salt, hashed)


def _canonical(value: Any) -> str:
    return json.dumps(value, separators=(",", ":"), ensure_ascii=True, allow_nan=False)


def _number(value: float | None) -> float | None:
    return None if value is None else float(value)


def _moment(value: datetime) -> str:
    return value.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def _journal(connection: Connection) -> Iterator[tuple[Row[Any], Sequence[Row[Any]]]]:
    """Every entry with its postings, yard by yard in the order of the numbers."""
    rows = groupby(connection.execute(_POSTINGS), key=lambda row: row.entry_id)
    following = next(rows, None)
    for entry in connection.execute(_ENTRIES).all():
        if following is not None and following[0] == entry.id:
            yield entry, list(following[1])
            following = next(rows, None)
        else:
            yield entry, []


_ENTRY = "SELECT id, yard_id, number, kind, reason, happened_at, recorded_at, deed_id, reverses_id FROM entry"
_POSTING = (
    "SELECT posting.entry_id, posting.spot_id, posting.species_id, posting.form, posting.lot_id, posting.mass_g, "
    "posting.quantity, posting.unit, posting.method, posting.sd_share, posting.basic_density_kg_m3, "
    "lot.country, lot.subdivision, lot.county, lot.certificate "
    "FROM posting LEFT JOIN lot ON lot.id = posting.lot_id"
)
_MOMENTS: dict[str, Any] = {"happened_at": UtcDateTime(), "recorded_at": UtcDateTime()}
_MEASURES: dict[str, Any] = {
    "mass_g": BigInteger(),
    "quantity": Double(),
    "sd_share": Double(),
    "basic_density_kg_m3": Double(),
}
# In the words of the tables, because the journal is sealed while a book is upgraded, when the models do not fit it.
_ENTRIES = text(f"{_ENTRY} ORDER BY yard_id, number, id").columns(**_MOMENTS)
_ENTRIES_OF_ONE = text(f"{_ENTRY} WHERE id = :entry_id").columns(**_MOMENTS)
_POSTINGS = text(
    f"{_POSTING} JOIN entry ON entry.id = posting.entry_id ORDER BY entry.yard_id, entry.number, entry.id"
).columns(**_MEASURES)
_POSTINGS_OF_ONE = text(f"{_POSTING} WHERE posting.entry_id = :entry_id").columns(**_MEASURES)
_SEALS = text("SELECT * FROM entry_link ORDER BY yard_id, number")
_FORGOTTEN = text("SELECT yard_id, answer FROM deed WHERE kind = 'forget_reason'").columns(answer=JSON())
_LAST = text(
    "SELECT hash FROM entry_link WHERE yard_id = :yard_id AND number < :number ORDER BY number DESC LIMIT 1"
)
_HASH = text("SELECT hash FROM entry_link WHERE yard_id = :yard_id AND number = :number")
_HEADS = text(
    "SELECT yard_id, number, hash FROM entry_link AS last WHERE number = "
    "(SELECT max(number) FROM entry_link WHERE yard_id = last.yard_id) ORDER BY yard_id"
)
_INSERT = text(
    "INSERT INTO entry_link (entry_id, yard_id, number, previous, hash, reason_salt, reason_hash) "
    "VALUES (:entry_id, :yard_id, :number, :previous, :hash, :reason_salt, :reason_hash)"
)
