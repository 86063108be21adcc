"""Weather: whose climate, files of real weather, services; what is known until when."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.datastructures import FormData, UploadFile
from starlette.responses import Response

from rickyard.desk.skies import (
    MOST_BYTES,
    ChoosePlace,
    Look,
    TakeBackWeather,
    TakeInWeather,
    TurnService,
    UseOffsets,
    choose_place,
    look,
    sky_view,
    take_back_weather,
    take_in_weather,
    turn_service,
    use_offsets,
    weather_file_bytes,
)
from rickyard.errors import InputError
from rickyard.text import T_, Text
from rickyard.weather import FORMATS, Note, WeatherFileError, find_place, nearest_places, normals_at
from rickyard.web.forms import Form, FormProblem
from rickyard.web.sky_map import SIZE_PX, SPANS, MapView, clear, draw
from rickyard.web.visit import Here, Sent, Visit

router = APIRouter(include_in_schema=False)

CLOCKS: dict[str, Text] = {
    "": T_("find out"),
    "local": T_("the yard's clock, with summer time"),
    "standard": T_("standard time all year"),
    "utc": T_("UTC"),
}
TEMP_UNITS: dict[str, Text] = {"": T_("as the file says"), "C": T_("°C"), "F": T_("°F")}
HUMIDITY_UNITS: dict[str, Text] = {"": T_("percent"), "fraction": T_("a fraction, 0 to 1")}
STATES: dict[str, Text] = {
    "off": T_("off"),
    "waiting": T_("on, not asked yet"),
    "asking": T_("on, being asked"),
    "failing": T_("on, but the last answer was no good"),
    "good": T_("on, and answering"),
}
_NAMES = {
    "address": "service_address",
    "logger": "weather",
}


@router.get("/weather")
def weather_page(visit: Here) -> Response:
    return _page(visit)


@router.post("/weather/place")
def place(visit: Here, sent: Sent) -> Response:
    form = visit.sent(sent)
    try:
        typed = form.text("climate_place", needed=True)
        form.check()
        with form.asking(place="climate_place"):
            choose_place(visit.desk, ChoosePlace(**visit.told(form), place=typed))
    except FormProblem:
        return _page(visit, 422, place_form=form)
    visit.nudge()
    return visit.go("/weather", "place_chosen")


@router.get("/weather/map")
def map_page(
    visit: Here, lat: str = "", lon: str = "", span: str = "", pick: str = "", metres: str = ""
) -> Response:
    view = _view(visit, lat, lon, span, pick)
    tapped = visit.request.query_params
    if "tap.x" in tapped and "tap.y" in tapped:
        x, y = _number(tapped["tap.x"], SIZE_PX / 2), _number(tapped["tap.y"], SIZE_PX / 2)
        if (x, y) == (0, 0):
            # The keyboard presses the picture in its corner: its middle is meant.
            x = y = SIZE_PX / 2
        view = MapView(view.lat, view.lon, view.span, view.at(x, y))
    picked = None
    problem: Text | None = None
    if view.pick is not None:
        try:
            picked = find_place(f"{view.pick[0]},{view.pick[1]}" + (f",{metres}" if metres.strip() else ""))
        except InputError as error:
            problem = error.text
    near = [] if view.pick is None else nearest_places(*view.pick)
    return visit.page(
        "weather_map.html",
        view=view,
        picked=picked,
        near=near,
        problem=problem,
        error=None if picked is None else normals_at(picked).error,
        size=SIZE_PX,
        form=visit.form(
            latitude=view.pick[0] if view.pick else "", longitude=view.pick[1] if view.pick else ""
        ),
    )


@router.get("/weather/map.svg")
def map_picture(visit: Here, lat: str = "", lon: str = "", span: str = "", pick: str = "") -> Response:
    return Response(draw(_view(visit, lat, lon, span, pick)), media_type="image/svg+xml")


@router.post("/weather/look")
def look_at(visit: Here, sent: Sent) -> Response:
    """What a file holds, without taking it in."""
    form = visit.sent(sent)
    try:
        seen = look(visit.desk, _command(visit, form, sent))
    except WeatherFileError as error:
        return _page(visit, 422, file_form=form, faults=error.faults)
    except (InputError, FormProblem) as error:
        _complain(form, error)
        return _page(visit, 422, file_form=form)
    return _page(visit, file_form=form, seen=seen)


@router.post("/weather/files")
def take_in(visit: Here, sent: Sent) -> Response:
    form = visit.sent(sent)
    try:
        take_in_weather(visit.desk, _command(visit, form, sent))
    except WeatherFileError as error:
        return _page(visit, 422, file_form=form, faults=error.faults)
    except (InputError, FormProblem) as error:
        _complain(form, error)
        return _page(visit, 422, file_form=form)
    visit.nudge()
    return visit.go("/weather", "weather_in")


@router.get("/weather/files/{file_id:int}")
def original(visit: Here, file_id: int) -> Response:
    """The file as it was taken in."""
    _, content = weather_file_bytes(visit.desk, file_id)
    return Response(
        content,
        media_type="application/octet-stream",
        headers={"Content-Disposition": f'attachment; filename="weather-{file_id}"'},
    )


@router.post("/weather/files/{file_id:int}/back")
def take_back(visit: Here, file_id: int, sent: Sent) -> Response:
    form = visit.sent(sent)
    take_back_weather(visit.desk, TakeBackWeather(**visit.told(form), file_id=file_id))
    visit.nudge()
    return visit.go("/weather", "weather_back")


@router.post("/weather/files/{file_id:int}/offsets")
def offsets(visit: Here, file_id: int, sent: Sent) -> Response:
    form = visit.sent(sent)
    use_offsets(visit.desk, UseOffsets(**visit.told(form), file_id=file_id, use=form.value("use") == "on"))
    visit.nudge()
    return visit.go("/weather", "offsets_changed")


@router.post("/weather/services/{service}")
def service(visit: Here, service: str, sent: Sent) -> Response:
    form = visit.sent(sent)
    on = form.value("turn") == "on"
    try:
        command = TurnService(
            **visit.told(form),
            service=service,
            on=on,
            agreed=form.ticked("agreed"),
            address=form.text("service_address"),
            history_address=form.text("history_address"),
            access_key=form.text("access_key"),
            station=form.text("station"),
        )
        form.check()
        with form.asking(address="service_address", key="access_key"):
            turn_service(visit.desk, command)
    except FormProblem:
        return _page(visit, 422, service_form=(service, form))
    visit.nudge()
    return visit.go("/weather", "service_on" if on else "service_off")


def _page(
    visit: Visit,
    status: int = 200,
    *,
    place_form: Form | None = None,
    file_form: Form | None = None,
    service_form: tuple[str, Form] | None = None,
    faults: tuple[Note, ...] = (),
    seen: Look | None = None,
) -> Response:
    view = sky_view(visit.desk)
    forms = {
        card.id: visit.form(
            service_address=card.address, history_address=card.history_address, station=card.station
        )
        for card in view.services
    }
    if service_form is not None:
        forms[service_form[0]] = service_form[1]
    return visit.page(
        "weather.html",
        status,
        sky=view,
        place_form=place_form or visit.form(),
        file_form=file_form or visit.form(use_offsets=True),
        service_forms=forms,
        formats=FORMATS,
        states=STATES,
        clocks=[(value, visit.voice.text(words)) for value, words in CLOCKS.items()],
        temp_units=[(value, visit.voice.text(words)) for value, words in TEMP_UNITS.items()],
        humidity_units=[(value, visit.voice.text(words)) for value, words in HUMIDITY_UNITS.items()],
        faults=faults,
        seen=seen,
        most_mb=MOST_BYTES // 1_000_000,
    )


def _command(visit: Visit, form: Form, sent: FormData) -> TakeInWeather:
    upload = sent.get("weather")
    content, name = b"", ""
    if isinstance(upload, UploadFile) and upload.filename:
        # One byte more than is taken, so that the desk can say that it is too large.
        content, name = upload.file.read(MOST_BYTES + 1), upload.filename
    else:
        form.complain(
            InputError("weather", wanted=T_("a file"), got=T_("nothing"), next_move=T_("Choose a file."))
        )
    command = TakeInWeather(
        **visit.told(form),
        content=content,
        name=name,
        clock_kept=form.choice("clock_kept", tuple(CLOCKS)),
        temp_unit=form.choice("temp_unit", tuple(TEMP_UNITS)),
        humidity_unit=form.choice("humidity_unit", tuple(HUMIDITY_UNITS)),
        far_ok=form.ticked("far_ok"),
        use_offsets=form.ticked("use_offsets"),
    )
    form.check()
    return command


def _complain(form: Form, error: Exception) -> None:
    if isinstance(error, InputError):
        form.complain(error, _NAMES)


def _view(visit: Visit, lat: str, lon: str, span: str, pick: str) -> MapView:
    here = find_place(visit.facts.climate_place)
    point: tuple[float, float] | None = None
    parts = pick.split(",")
    if len(parts) == 2:
        there = (_number(parts[0], 999.0), _number(parts[1], 999.0))
        if abs(there[0]) <= 90 and abs(there[1]) <= 180:
            point = there
    if not lat.strip() and not lon.strip() and point is None:
        point = (here.lat, here.lon)
    middle = (
        point if point is not None and not lat.strip() else (_number(lat, here.lat), _number(lon, here.lon))
    )
    return clear(MapView(middle[0], middle[1], _number(span, SPANS[2]), point))


def _number(text: str, otherwise: float) -> float:
    try:
        return float(text.strip().replace(",", "."))
    except ValueError:
        return otherwise
