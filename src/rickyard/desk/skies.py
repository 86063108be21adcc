"""The weather over the yard: files taken in and taken back, services turned on and off, the place chosen.

`sky_rows.sky_of` gives all that is known as one `weather.Sky`; forecasts are made with it and keep its fingerprint.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass, field
from datetime import date, datetime, timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from rickyard.book.sky_tables import WeatherFile, WeatherHours, WeatherIssue, WeatherService
from rickyard.desk.checks import some_text
from rickyard.desk.context import Answer, Command, Desk, Stage, do
from rickyard.desk.sky_rows import notes_json, notes_of, put_hours, service_row, sky_of
from rickyard.desk.texts import text_from_json
from rickyard.errors import InputError
from rickyard.feeds import SERVICES, Access, Service
from rickyard.feeds.services import check_access
from rickyard.text import T_, Text
from rickyard.weather import (
    FileMeaning,
    NormalsError,
    Note,
    Offsets,
    Place,
    WeatherRecord,
    find_place,
    nearest_places,
    normals_at,
    offsets_of,
    read_weather,
    sky_notes,
)

MOST_BYTES = 20_000_000


@dataclass(frozen=True, kw_only=True)
class TakeInWeather(Command):
    """A weather file, and what was said of it. `use_offsets`: a logger's month moves the place's normals."""

    content: bytes
    name: str
    clock_kept: str = ""
    temp_unit: str = ""
    humidity_unit: str = ""
    far_ok: bool = False
    use_offsets: bool = True


@dataclass(frozen=True, kw_only=True)
class TakeBackWeather(Command):
    """Nothing is to hang on this file any more."""

    file_id: int


@dataclass(frozen=True, kw_only=True)
class UseOffsets(Command):
    """Whether a logger's offsets move the place's normals."""

    file_id: int
    use: bool


@dataclass(frozen=True, kw_only=True)
class TurnService(Command):
    """A service on or off. `agreed`: the owner has read its terms; needed to turn it on."""

    service: str
    on: bool
    agreed: bool = False
    address: str = ""
    history_address: str = ""
    access_key: str = ""
    station: str = ""


@dataclass(frozen=True, kw_only=True)
class ChoosePlace(Command):
    """Whose climate counts: a name, or `LAT,LON[,METRES]`."""

    place: str


@dataclass(frozen=True)
class Look:
    """What a file holds, before it is taken in."""

    record: WeatherRecord
    offsets: Offsets | None
    months: tuple[tuple[str, float | None, float | None], ...]


@dataclass(frozen=True)
class FileCard:
    """A weather file in the book."""

    id: int
    name: str
    format: str
    kind: str
    station: str
    first_day: date
    last_day: date
    complete: float
    notes: tuple[Note, ...]
    offsets: Offsets | None
    use_offsets: bool
    added_at: datetime
    sha256: str


@dataclass(frozen=True)
class ServiceCard:
    """A service (`about`: what it gives, its terms) and how it goes. `key_said`: a key is entered, and never shown."""

    id: str
    about: Service
    is_on: bool
    address: str
    history_address: str
    key_said: bool
    station: str
    asked_at: datetime | None
    answered_at: datetime | None
    again_at: datetime | None
    error: Text | None
    issued_at: datetime | None
    observed_until: date | None

    @property
    def state(self) -> str:
        """`off`, `waiting`, `asking`, `failing` or `good`."""
        if not self.is_on:
            return "off"
        if self.error is not None:
            return "failing"
        if self.asked_at is None:
            return "waiting"
        if self.answered_at is None or self.answered_at < self.asked_at:
            return "asking"
        return "good"


@dataclass(frozen=True)
class SkyView:
    """The weather page: the place and how far its normals may be wrong, files, services, what is known."""

    place: Place
    nearest: tuple[tuple[Place, float], ...]
    error: NormalsError
    offsets: Offsets | None
    files: tuple[FileCard, ...]
    services: tuple[ServiceCard, ...]
    observed_until: date | None
    notes: tuple[Text, ...] = field(default=())


def look(desk: Desk, command: TakeInWeather) -> Look:
    """Reads a file as it would be taken in. Raises WeatherFileError with all its faults."""
    with desk.book.read() as session:
        yard = desk.yard(session)
        place, zone = find_place(yard.climate_place), yard.timezone
    record = _read(command, place, zone)
    return Look(record, _offsets(record, place), _months(record))


def take_in_weather(desk: Desk, command: TakeInWeather) -> Answer:
    """Takes a weather file in, whole or not at all. Answer: weather_file_id, notes."""
    seen = look(desk, command)
    record = seen.record
    name = some_text("weather", command.name[-200:], 200)

    def run(stage: Stage) -> Answer:
        # On the disk first: the book never speaks of a file that is not there.
        sha256 = desk.book.files.put(command.content)
        same = stage.session.scalar(
            select(WeatherFile.id).where(
                WeatherFile.yard_id == stage.yard.id,
                WeatherFile.sha256 == sha256,
                WeatherFile.taken_back_at.is_(None),
            )
        )
        if same is not None:
            raise InputError(
                "weather",
                wanted=T_("a file that is not in the book yet"),
                got=name,
                next_move=T_("It stands below already; take it back first to read it otherwise."),
                code="taken_in_already",
            )
        row = WeatherFile(
            yard_id=stage.yard.id,
            deed_id=stage.deed.id,
            sha256=sha256,
            name=name,
            format=record.format,
            kind=record.kind,
            station=record.station[:200],
            first_day=record.start,
            last_day=record.last,
            complete=record.complete,
            meaning=asdict(_meaning(command, stage.yard.timezone)),
            notes=notes_json(record.notes),
            offsets={} if seen.offsets is None else asdict(seen.offsets),
            use_offsets=command.use_offsets and seen.offsets is not None,
            added_at=stage.recorded_at,
        )
        stage.session.add(row)
        stage.session.flush()
        put_hours(stage.session, stage.yard.id, f"file-{row.id}", record, stage.recorded_at, file_id=row.id)
        return {"weather_file_id": row.id, "notes": [str(note.text) for note in record.notes]}

    return do(desk, "take_in_weather", command, run)


def take_back_weather(desk: Desk, command: TakeBackWeather) -> Answer:
    """Takes a file back: its hours go, its original and the row that speaks of it stay."""

    def run(stage: Stage) -> Answer:
        row = _file(stage.session, stage.yard.id, command.file_id)
        row.taken_back_at, row.use_offsets = stage.recorded_at, False
        hours = stage.session.scalar(
            select(WeatherHours).where(
                WeatherHours.yard_id == stage.yard.id, WeatherHours.source == f"file-{row.id}"
            )
        )
        if hours is not None:
            stage.session.delete(hours)
        return {"weather_file_id": row.id}

    return do(desk, "take_back_weather", command, run)


def use_offsets(desk: Desk, command: UseOffsets) -> Answer:
    def run(stage: Stage) -> Answer:
        row = _file(stage.session, stage.yard.id, command.file_id)
        if command.use and not row.offsets:
            raise InputError(
                "offsets",
                wanted=T_("a logger's file of at least five whole days"),
                got=row.name,
                next_move=T_("Take in a longer one."),
            )
        row.use_offsets = command.use
        return {"weather_file_id": row.id, "use_offsets": command.use}

    return do(desk, "use_offsets", command, run)


def turn_service(desk: Desk, command: TurnService) -> Answer:
    """Turns a service on or off. An empty key leaves the one that was entered before."""
    service = SERVICES.get(command.service)
    if service is None:
        raise _no_service(command.service)
    if command.on:
        if not command.agreed:
            raise InputError(
                "agreed",
                wanted=T_("a tick that the service's terms were read"),
                got=T_("nothing"),
                next_move=T_("Read the terms and tick the box."),
            )
        check_access(
            service, Access(command.address, command.history_address, command.access_key, command.station)
        )

    def run(stage: Stage) -> Answer:
        row = service_row(stage.session, stage.yard.id, command.service)
        row.is_on = command.on
        if command.on:
            row.address, row.history_address = command.address.strip(), command.history_address.strip()
            row.station = command.station.strip()
            row.access_key = command.access_key.strip() or row.access_key
            row.again_at, row.error_code, row.error, row.history_at = None, "", {}, None
        return {"service": command.service, "on": command.on}

    return do(desk, "turn_service", command, run)


def choose_place(desk: Desk, command: ChoosePlace) -> Answer:
    """Whose climate counts from now on; all forecasts become stale."""
    place = find_place(command.place)

    def run(stage: Stage) -> Answer:
        stage.yard.climate_place = place.id
        return {"place": place.id}

    return do(desk, "choose_place", command, run)


def sky_view(desk: Desk) -> SkyView:
    """The weather page."""
    with desk.book.read() as session:
        yard = desk.yard(session)
        sky = sky_of(session, yard)
        today = desk.now().date()
        files = tuple(
            _card(row)
            for row in session.scalars(
                select(WeatherFile)
                .where(WeatherFile.yard_id == yard.id, WeatherFile.taken_back_at.is_(None))
                .order_by(WeatherFile.id.desc())
            )
        )
        services = tuple(_service_card(session, yard.id, service_id) for service_id in SERVICES)
    until = [
        record.start + timedelta(hours=record.end_hour - 1) for record in sky.observed if record.hours_held
    ]
    usual = normals_at(sky.place)
    if sky.offsets is not None:
        usual = sky.offsets.on(usual)
    first = min([record.start for record in sky.observed], default=today)
    return SkyView(
        place=sky.place,
        nearest=tuple(nearest_places(sky.place.lat, sky.place.lon, 4)),
        error=usual.error,
        offsets=sky.offsets,
        files=files,
        services=services,
        observed_until=max(until, default=None),
        notes=sky_notes(sky, first, max((today - first).days + 30, 1), as_of=today),
    )


def weather_file_bytes(desk: Desk, file_id: int) -> tuple[str, bytes]:
    """Name and original of a file, proven against its hash."""
    with desk.book.read() as session:
        row = _file(session, desk.yard_id, file_id, also_back=True)
        return row.name, desk.book.files.get(row.sha256)


def _meaning(command: TakeInWeather, zone: str) -> FileMeaning:
    return FileMeaning(
        zone=zone,
        clock=command.clock_kept,
        temp_unit=command.temp_unit,
        humidity_unit=command.humidity_unit,
        far_ok=command.far_ok,
    )


def _read(command: TakeInWeather, place: Place, zone: str) -> WeatherRecord:
    if len(command.content) > MOST_BYTES:
        raise InputError(
            "weather",
            wanted=T_("a file of {most} MB or less", most=MOST_BYTES // 1_000_000),
            got=T_("{size} MB", size=len(command.content) // 1_000_000),
            next_move=T_("Cut it into years, or pack it with gzip."),
        )
    return read_weather(command.content, command.name, place=place, meaning=_meaning(command, zone))


def _offsets(record: WeatherRecord, place: Place) -> Offsets | None:
    """What a logger's month says of the place; None if it is no logger's, or too short. A wild one is noted there."""
    if record.format != "logger":
        return None
    try:
        return offsets_of(record, place)
    except InputError:
        # Too short, or no climate at all: its hours may still be of use, and the page shows that it gives no offsets.
        return None


def _file(session: Session, yard_id: int, file_id: int, *, also_back: bool = False) -> WeatherFile:
    row = session.get(WeatherFile, file_id)
    if row is None or row.yard_id != yard_id or (row.taken_back_at is not None and not also_back):
        raise InputError(
            "weather",
            wanted=T_("a weather file of this yard"),
            got=file_id,
            next_move=T_("Choose one from the list."),
            code="unknown_weather_file",
        )
    return row


def _no_service(got: str) -> InputError:
    return InputError(
        "service",
        wanted=T_("one of {choices}", choices=", ".join(SERVICES)),
        got=got,
        next_move=T_("Choose one from the list."),
        code="unknown_service",
    )


def _card(row: WeatherFile) -> FileCard:
    return FileCard(
        id=row.id,
        name=row.name,
        format=row.format,
        kind=row.kind,
        station=row.station,
        first_day=row.first_day,
        last_day=row.last_day,
        complete=row.complete,
        notes=notes_of(row.notes),
        offsets=Offsets(**row.offsets) if row.offsets else None,
        use_offsets=row.use_offsets,
        added_at=row.added_at,
        sha256=row.sha256,
    )


def _service_card(session: Session, yard_id: int, service: str) -> ServiceCard:
    row = session.scalar(
        select(WeatherService).where(WeatherService.yard_id == yard_id, WeatherService.service == service)
    )
    issued = session.scalar(
        select(WeatherIssue.issued_at)
        .where(WeatherIssue.yard_id == yard_id, WeatherIssue.service == service)
        .order_by(WeatherIssue.issued_at.desc())
        .limit(1)
    )
    until = session.scalar(
        select(WeatherHours.last_day).where(WeatherHours.yard_id == yard_id, WeatherHours.source == service)
    )
    if row is None:
        return ServiceCard(
            service, SERVICES[service], False, "", "", False, "", None, None, None, None, issued, until
        )
    return ServiceCard(
        id=service,
        about=SERVICES[service],
        is_on=row.is_on,
        address=row.address,
        history_address=row.history_address,
        key_said=bool(row.access_key),
        station=row.station,
        asked_at=row.asked_at,
        answered_at=row.answered_at,
        again_at=row.again_at,
        error=text_from_json(row.error) if row.error else None,
        issued_at=issued,
        observed_until=until,
    )


def _months(record: WeatherRecord) -> tuple[tuple[str, float | None, float | None], ...]:
    """Year and month, mean temperature and humidity, for looking at."""
    return tuple((row.month, row.temp_c, row.rh_pct) for row in record.months())
