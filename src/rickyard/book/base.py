"""What the modules of the book's tables share: the base class, names of constraints, types, small checks."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import JSON, CheckConstraint, MetaData
from sqlalchemy.orm import DeclarativeBase

from rickyard.book.types import UtcDateTime


def one_of(column: str, values: tuple[str, ...]) -> CheckConstraint:
    quoted = ", ".join(f"'{value}'" for value in values)
    return CheckConstraint(f"{column} IN ({quoted})", name=f"{column}_known")


def check(name: str, condition: str) -> CheckConstraint:
    """A condition on one row, the same words on both databases. NULL passes, as CHECKs do."""
    return CheckConstraint(condition, name=name)


class Base(DeclarativeBase):
    metadata = MetaData(
        naming_convention={
            "ix": "ix_%(column_0_label)s",
            "uq": "uq_%(table_name)s_%(column_0_name)s",
            "ck": "ck_%(table_name)s_%(constraint_name)s",
            "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
            "pk": "pk_%(table_name)s",
        }
    )
    type_annotation_map = {datetime: UtcDateTime, dict[str, Any]: JSON, list[Any]: JSON}  # noqa: RUF012
