"""Column types that behave the same on SQLite and PostgreSQL."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from sqlalchemy import BigInteger, DateTime, Dialect
from sqlalchemy.types import TypeDecorator


class UtcDateTime(TypeDecorator[datetime]):
    """A moment in UTC. SQLite drops time zones silently, so a naive value is refused on the way in
    and the zone is put back on the way out."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError(f"a moment without a time zone cannot be kept: {value!r}")
        return value.astimezone(UTC)

    def process_result_value(self, value: Any, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        if value.tzinfo is None:
            return value.replace(tzinfo=UTC)  # type: ignore[no-any-return]
        return value.astimezone(UTC)  # type: ignore[no-any-return]


class WholeNumber(TypeDecorator[int]):
    """A count of smallest units: cents of money, grams of wood.

    A decimal column is a binary float on SQLite, where ten times 0.10 sums to 0.9999999999999999;
    so sums are kept in whole smallest units, and anything else is refused on the way in.
    """

    impl = BigInteger
    cache_ok = True

    def process_bind_param(self, value: int | None, dialect: Dialect) -> int | None:
        if value is not None and type(value) is not int:
            raise TypeError(f"whole cents or grams are kept, not {value!r}")
        return value

    def process_result_value(self, value: Any, dialect: Dialect) -> int | None:
        # A sum of bigints is a numeric on PostgreSQL.
        return None if value is None else int(value)
