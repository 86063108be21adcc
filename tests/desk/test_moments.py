"""When it happened and who did it: wrong clocks put right, reports in any order, sent again and again."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import func, select

from rickyard.book.models import Deed, Reading
from rickyard.desk.context import CLOCK_TOLERANCE, Desk, new_key
from rickyard.desk.loads import load_page
from rickyard.desk.people import AddPerson, add_person
from rickyard.desk.readings import AddReading, add_reading
from rickyard.desk.stacks import stack_page
from rickyard.desk.wood_in import TakeInRough, take_in_rough
from rickyard.errors import ClashError, InputError

NOW = datetime(2026, 10, 1, 15, tzinfo=UTC)
# Many runs on one book are wanted here: each makes its own key.
MANY = settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
ZONES = st.integers(-12 * 60, 14 * 60).map(lambda minutes: timezone(timedelta(minutes=minutes)))
# Any clock a phone may show, far beyond what it should, in any zone.
CLOCKS = st.datetimes(datetime(2, 1, 1), datetime(9998, 1, 1), timezones=ZONES)  # noqa: DTZ001
SKEWS = st.timedeltas(timedelta(days=-4000), timedelta(days=4000))


def a_reading(stack: int, **changes: object) -> AddReading:
    command = AddReading(
        key=new_key(), stack_id=stack, kind="meter", value=22.0, happened_on=date(2026, 9, 1), species=""
    )
    return replace(command, **changes)  # type: ignore[arg-type]


def deed_of(desk: Desk, key: str) -> Deed:
    with desk.book.read() as session:
        return session.scalars(select(Deed).where(Deed.client_key == key)).one()


def count(desk: Desk, table: type) -> int:
    with desk.book.read() as session:
        return session.scalar(select(func.count()).select_from(table)) or 0


@MANY
@given(skew=SKEWS, age=st.timedeltas(timedelta(0), timedelta(days=60)), sendings=st.integers(1, 4))
def test_any_skew_and_any_repetition_is_one_deed_at_the_right_moment(
    desk: Desk, stack: int, skew: timedelta, age: timedelta, sendings: int
) -> None:
    """A phone whose clock is ahead by `skew` typed this `age` before it was first sent, and sends it again later."""
    readings = count(desk, Reading)
    typed_at = NOW + skew - age
    first = a_reading(stack, happened_at=typed_at, sent_at=NOW + skew)
    answers = []
    for sending in range(sendings):
        later = timedelta(minutes=7 * sending)
        again = replace(first, sent_at=NOW + skew + later)
        answers.append(add_reading(replace(desk, clock=lambda at=NOW + later: at), again))

    assert all(answer == answers[0] for answer in answers)
    assert count(desk, Reading) == readings + 1
    deed = deed_of(desk, first.key)
    error = timedelta(0) if abs(skew) > CLOCK_TOLERANCE else abs(skew)
    assert abs(deed.happened_at - (NOW - age)) <= error
    assert deed.happened_at <= deed.recorded_at


@MANY
@given(typed_at=CLOCKS, sent_at=CLOCKS, day=st.dates(date(1990, 1, 2), date(2026, 10, 1)))
def test_a_report_is_never_refused_for_its_moment(
    desk: Desk, stack: int, typed_at: datetime, sent_at: datetime, day: date
) -> None:
    command = a_reading(stack, happened_at=typed_at, sent_at=sent_at, happened_on=date(2026, 9, 30))

    add_reading(desk, command)

    deed = deed_of(desk, command.key)
    assert datetime(1990, 1, 1, tzinfo=UTC) <= deed.happened_at <= deed.recorded_at == NOW


@pytest.mark.parametrize("ahead", [timedelta(minutes=2), timedelta(minutes=2, seconds=1)])
def test_two_minutes_are_no_wrong_clock(desk: Desk, stack: int, ahead: timedelta) -> None:
    typed_at = NOW - timedelta(hours=1)
    command = a_reading(stack, happened_at=typed_at, sent_at=NOW + ahead)

    add_reading(desk, command)

    shifted = ahead > timedelta(minutes=2)
    assert deed_of(desk, command.key).happened_at == (typed_at - ahead if shifted else typed_at)


@pytest.mark.parametrize(
    "moment", [NOW + timedelta(seconds=1), datetime(2031, 1, 1, tzinfo=UTC), datetime(1, 1, 1, tzinfo=UTC)]
)
def test_without_sent_at_a_moment_to_come_is_a_slip(desk: Desk, stack: int, moment: datetime) -> None:
    with pytest.raises(InputError) as caught:
        add_reading(desk, a_reading(stack, happened_at=moment))

    assert caught.value.field == "happened_at"


@pytest.mark.parametrize("field", ["happened_at", "sent_at"])
def test_a_moment_without_its_zone_is_refused(desk: Desk, stack: int, field: str) -> None:
    naive = NOW.replace(tzinfo=None)

    with pytest.raises(InputError) as caught:
        add_reading(desk, a_reading(stack, **{"sent_at": NOW, field: naive}))

    assert caught.value.field == field


def test_other_contents_under_a_used_key_still_clash(desk: Desk, stack: int) -> None:
    first = a_reading(stack, happened_at=NOW, sent_at=NOW)
    add_reading(desk, first)

    with pytest.raises(ClashError) as caught:
        add_reading(desk, replace(first, value=23.0))

    assert caught.value.code == "key_used"


def test_the_day_shown_by_a_wrong_clock_means_the_day_it_was_typed(desk: Desk, stack: int) -> None:
    """The phone lives in 2031: its 'today' was yesterday. A day typed on purpose stays."""
    skew = timedelta(days=1700)
    typed_at = NOW - timedelta(days=1) + skew
    shown = typed_at.astimezone(UTC).date()
    moments = {"happened_at": typed_at, "sent_at": NOW + skew}

    add_reading(desk, a_reading(stack, happened_on=shown, **moments))
    add_reading(desk, a_reading(stack, happened_on=date(2026, 8, 3), **moments))

    with desk.book.read() as session:
        days = session.scalars(select(Reading.happened_on).order_by(Reading.id)).all()
    assert days == [date(2026, 9, 30), date(2026, 8, 3)]


def test_a_load_that_came_on_the_phones_tomorrow(desk: Desk, load: int) -> None:
    """A phone far to the east is a day ahead of the yard; a load years ahead stays nonsense."""
    command = TakeInRough(
        key=new_key(),
        source="Fernhollow woodlot",
        harvest=load_page(desk, load).harvest,
        arrived_on=date(2026, 10, 2),
        quantity=3.0,
        shares=(("sugar maple", 1.0),),
        happened_at=NOW,
        sent_at=NOW,
    )
    answer = take_in_rough(desk, command)

    assert load_page(desk, answer["load_id"]).row.arrived_on == date(2026, 10, 1)
    with pytest.raises(InputError) as caught:
        take_in_rough(desk, replace(command, key=new_key(), arrived_on=date(2031, 10, 2)))
    assert caught.value.field == "arrived_on"


def test_the_deed_knows_who_did_it(desk: Desk, stack: int) -> None:
    who = add_person(desk, AddPerson(key=new_key(), name="Isolde"))["person_id"]
    command = a_reading(stack, person_id=who)
    add_reading(desk, command)
    # The same report sent again from a phone that somebody else uses by now is still the same.
    again = add_reading(desk, replace(command, person_id=None))

    assert deed_of(desk, command.key).person_id == who
    assert again["reading_id"] > 0
    assert stack_page(desk, stack).clashes == ()


def test_a_stranger_does_nothing(desk: Desk, stack: int) -> None:
    with pytest.raises(InputError) as caught:
        add_reading(desk, a_reading(stack, person_id=999))

    assert caught.value.code == "unknown_person"
    assert count(desk, Reading) == 0
