"""Links for households: an address that shows one household what it ordered and got, and nothing else."""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import select, update

from rickyard.book.models import HouseholdLink
from rickyard.desk.access import hashed
from rickyard.desk.context import Answer, Command, Desk, Stage, do
from rickyard.desk.households import find_household
from rickyard.errors import InputError
from rickyard.text import T_

SEEN_EVERY = timedelta(hours=1)


@dataclass(frozen=True, kw_only=True)
class MakeLink(Command):
    """A new link for a household. Those it has stay good until they are ended."""

    household_id: int


@dataclass(frozen=True, kw_only=True)
class EndLink(Command):
    """A link stops working."""

    link_id: int


@dataclass(frozen=True)
class LinkRow:
    id: int
    made_at: datetime
    seen_at: datetime | None


def make_link(desk: Desk, command: MakeLink) -> tuple[Answer, str]:
    """Answer (link_id, household_id) and the secret part of the address.

    The secret is told once: the book keeps only its hash, so the same key sent again is told an empty one.
    """
    told: list[str] = []

    def run(stage: Stage) -> Answer:
        home = find_household(stage.session, stage.yard.id, command.household_id)
        token = secrets.token_urlsafe(24)
        row = HouseholdLink(
            yard_id=stage.yard.id,
            household_id=home.id,
            token_sha256=hashed(token),
            made_at=stage.recorded_at,
        )
        stage.session.add(row)
        stage.session.flush()
        told.append(token)
        return {"link_id": row.id, "household_id": home.id}

    answer = do(desk, "make_link", command, run)
    return answer, told[0] if told else ""


def end_link(desk: Desk, command: EndLink) -> Answer:
    """Answer: link_id, household_id."""

    def run(stage: Stage) -> Answer:
        row = stage.session.get(HouseholdLink, command.link_id)
        if row is None or row.yard_id != stage.yard.id:
            raise InputError(
                "link",
                wanted=T_("a link of this yard"),
                got=command.link_id,
                next_move=T_("Choose one from the household's page."),
                code="unknown_link",
            )
        row.ended_at = row.ended_at or stage.recorded_at
        return {"link_id": row.id, "household_id": row.household_id}

    return do(desk, "end_link", command, run)


def links_of(desk: Desk, household_id: int) -> list[LinkRow]:
    """Links that work, newest first."""
    with desk.book.read() as session:
        rows = session.scalars(
            select(HouseholdLink)
            .where(
                HouseholdLink.yard_id == desk.yard_id,
                HouseholdLink.household_id == household_id,
                HouseholdLink.ended_at.is_(None),
            )
            .order_by(HouseholdLink.id.desc())
        )
        return [LinkRow(row.id, row.made_at, row.seen_at) for row in rows]


def household_of_link(desk: Desk, token: str) -> int | None:
    """Which household a link's secret is for; None if it is none or was ended."""
    now = desk.now()
    with desk.book.read() as session:
        row = session.scalars(
            select(HouseholdLink).where(
                HouseholdLink.token_sha256 == hashed(token),
                HouseholdLink.yard_id == desk.yard_id,
                HouseholdLink.ended_at.is_(None),
            )
        ).one_or_none()
        if row is None:
            return None
        link_id, household_id = row.id, row.household_id
        stale = row.seen_at is None or now - row.seen_at > SEEN_EVERY
    if stale:
        with desk.book.write(desk.yard_id) as session:
            session.execute(update(HouseholdLink).where(HouseholdLink.id == link_id).values(seen_at=now))
    return household_id
