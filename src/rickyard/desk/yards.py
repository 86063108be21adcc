"""The yard itself: set up, looked at, changed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, dataclass
from datetime import datetime
from zoneinfo import ZoneInfo, available_timezones

from sqlalchemy import select

from rickyard.book import Book
from rickyard.book.models import Person, Spot, Yard
from rickyard.desk.checks import one_of, some_text, within
from rickyard.desk.context import Answer, Command, Desk, Stage, _utc_now, do
from rickyard.desk.editing import must_be_as_seen, state_of
from rickyard.errors import InputError
from rickyard.rules import place_rules
from rickyard.text import T_
from rickyard.weather import find_place

CURRENCIES = ("CAD", "USD", "EUR", "GBP")
LOCALES = ("en_CA", "fr_CA", "en_US", "en_GB", "fr_FR", "en_XA")


@dataclass(frozen=True, kw_only=True)
class YardFacts:
    """What is asked once. `country` and `subdivision` decide the law, `climate_place` the weather."""

    name: str
    address: str = ""
    phone: str = ""
    country: str
    subdivision: str = ""
    climate_place: str
    timezone: str
    currency: str = "CAD"
    locale: str = "en_CA"
    units: str = "imperial"
    target_mc_wet: float = 0.20
    tax_rate: float = 0.0


@dataclass(frozen=True, kw_only=True)
class ChangeYard(Command):
    """Other facts of the yard; `seen` as in `desk.editing`."""

    facts: YardFacts
    seen: str = ""


def set_up_yard(
    book: Book,
    facts: YardFacts,
    *,
    owner: str = "",
    seed: int = 0,
    is_demo: bool = False,
    clock: Callable[[], datetime] = _utc_now,
) -> Desk:
    """Founds a yard in a book that has none yet, and gives its desk.

    Raises InputError if a fact makes no sense or the book already has a yard.
    """
    checked = _checked(facts)
    with book.write() as session:
        if session.scalar(select(Yard.id).limit(1)) is not None:
            raise InputError(
                "book",
                wanted=T_("a book without a yard"),
                got=T_("a book that has one"),
                next_move=T_("Open it, or make a new book in another file."),
            )
        yard = Yard(created_at=clock(), seed=seed, is_demo=is_demo, **checked)
        session.add(yard)
        session.flush()
        session.add(Person(yard_id=yard.id, name=some_text("owner", owner, 120, needed=False), role="owner"))
        for kind in ("outside", "loss", "gate", "own_use"):
            session.add(Spot(yard_id=yard.id, kind=kind))
        return Desk(book, yard.id, clock)


def open_desk(book: Book, clock: Callable[[], datetime] = _utc_now) -> Desk | None:
    """The desk of the book's yard, or None while the book has no yard."""
    with book.read() as session:
        yard_id = session.scalar(select(Yard.id).order_by(Yard.id).limit(1))
    return None if yard_id is None else Desk(book, yard_id, clock)


def yard_facts(desk: Desk) -> YardFacts:
    with desk.book.read() as session:
        yard = desk.yard(session)
        return YardFacts(
            name=yard.name,
            address=yard.address,
            phone=yard.phone,
            country=yard.country,
            subdivision=yard.subdivision,
            climate_place=yard.climate_place,
            timezone=yard.timezone,
            currency=yard.currency,
            locale=yard.locale,
            units=yard.units,
            target_mc_wet=yard.target_mc_wet,
            tax_rate=yard.tax_rate,
        )


def yard_state(facts: YardFacts) -> str:
    """What a form that changes the yard's facts has seen."""
    return state_of(asdict(facts))


def change_yard(desk: Desk, command: ChangeYard) -> Answer:
    checked = _checked(command.facts)

    def run(stage: Stage) -> Answer:
        must_be_as_seen(command.seen, {name: getattr(stage.yard, name) for name in checked})
        for name, value in checked.items():
            setattr(stage.yard, name, value)
        return {"yard_id": stage.yard.id}

    return do(desk, "change_yard", command, run)


def place_code(country: str, subdivision: str) -> str:
    """`CA-NB`, or `CA` where no subdivision is said."""
    return f"{country}-{subdivision}" if subdivision else country


def _checked(facts: YardFacts) -> dict[str, str | float]:
    country = some_text("country", facts.country, 2).upper()
    subdivision = some_text("subdivision", facts.subdivision, 8, needed=False).upper()
    place_rules(place_code(country, subdivision))
    if facts.timezone not in available_timezones():
        raise InputError(
            "timezone",
            wanted=T_("a time zone name such as America/Moncton"),
            got=facts.timezone,
            next_move=T_("Choose one from the list."),
        )
    ZoneInfo(facts.timezone)
    for field, value, allowed in (
        ("currency", facts.currency, CURRENCIES),
        ("locale", facts.locale, LOCALES),
        ("units", facts.units, ("imperial", "metric")),
    ):
        one_of(field, value, allowed)
    return {
        "name": some_text("name", facts.name, 120),
        "address": some_text("address", facts.address, 300, needed=False),
        "phone": some_text("phone", facts.phone, 40, needed=False),
        "country": country,
        "subdivision": subdivision,
        "climate_place": find_place(facts.climate_place).id,
        "timezone": facts.timezone,
        "currency": facts.currency,
        "locale": facts.locale,
        "units": facts.units,
        "target_mc_wet": within("target_mc_wet", facts.target_mc_wet, (0.08, 0.35), "of total mass"),
        "tax_rate": within("tax_rate", facts.tax_rate, (0.0, 0.3), "of the price"),
    }
