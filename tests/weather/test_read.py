"""Weather files: the real ones are read right, and every trap is said plainly, with nothing half taken."""

from __future__ import annotations

import csv
import gzip
import json
import random
from contextlib import suppress
from datetime import date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.weather.makers import PLACE, START, humidity, logger_csv, temperature

from rickyard.errors import InputError
from rickyard.weather import FileMeaning, WeatherFileError, WeatherRecord, find_place, read_weather

FILES = Path(__file__).parent / "data" / "files"
EPW = "USA_PA_Pittsburgh-Allegheny.County.AP.725205_TMY3.epw.gz"
TMY3 = "USA_NC_Greensboro_723170TYA_TMY3.csv.gz"
KAMLOOPS = "ECCC_hourly_Kamloops_A_BC_2016.csv.gz"
MONCTON = FileMeaning(zone="America/Moncton")


def real(name: str) -> bytes:
    return (FILES / name).read_bytes()


def text_of(name: str) -> list[str]:
    return gzip.decompress(real(name)).decode().splitlines()


def faults_of(
    data: bytes, *, place: str | None = PLACE, meaning: FileMeaning | None = None
) -> dict[str, tuple[int, ...]]:
    """Codes of the faults, with their lines; the file must be refused."""
    with pytest.raises(WeatherFileError) as refused:
        read_weather(data, "file", place=find_place(place) if place else None, meaning=meaning)
    return {note.code: note.lines for note in refused.value.faults}


def notes_of(record: WeatherRecord) -> dict[str, tuple[int, ...]]:
    return {note.code: note.lines for note in record.notes}


# -- real files -----------------------------------------------------------------------------------


@pytest.mark.parametrize(("name", "key"), [(EPW, "epw"), (TMY3, "tmy3")])
def test_year_files_agree_with_pvlib(name: str, key: str) -> None:
    """Every 37th hour and the means of the year, as pvlib 0.16.1 reads them; the same digits, so float32 is all."""
    record = read_weather(real(name), name)
    columns = ("air_c", "rh_pct", "wind_m_s", "sun_w_m2")
    with (FILES / "pvlib_0.16.1.csv").open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["file"] == key]

    assert record.format == key
    assert record.kind == "typical"
    assert len(rows) == 238
    for row in rows:
        for column in columns:
            values = getattr(record, column)
            ours = (
                float(np.nanmean(values.astype(float)))
                if row["hour"] == "mean"
                else float(values[int(row["hour"])])
            )
            assert ours == pytest.approx(float(row[column]), abs=1e-4), (row["hour"], column)


def test_typical_years_say_so_and_have_no_rain() -> None:
    record = read_weather(real(EPW), EPW)

    assert "typical" in notes_of(record)
    assert (record.start, record.days) == (date(2001, 1, 1), 365)
    assert np.isnan(record.rain_mm).all()
    assert (record.lat, record.lon, record.elev_m) == (40.35, -79.92, 380.0)


def test_eccc_hours() -> None:
    """Values of single lines of the file, wind from km/h; four hours are missing and named."""
    record = read_weather(real(KAMLOOPS), KAMLOOPS, place=find_place("50.7,-120.45,345"))

    assert (record.format, record.kind, record.station) == ("eccc_hourly", "observed", "KAMLOOPS A")
    assert record.start == date(2016, 1, 1)
    assert float(record.air_c[1]) == pytest.approx(-9.6)
    assert float(record.rh_pct[1]) == 76.0
    assert float(record.wind_m_s[1]) == pytest.approx(20 / 3.6, rel=1e-6)
    assert record.complete > 0.99


def test_eccc_own_heads_in_both_languages() -> None:
    """ECCC's own heads (from memory); lines without values at the end of a running month are no gap."""
    rows = [row.split(",") for row in text_of(KAMLOOPS)[1 : 1 + 24 * 10]]
    heads = {
        "e": '"Longitude (x)","Latitude (y)","Station Name","Climate ID","Date/Time (LST)","Year","Month","Day","Time (LST)",'  # noqa: E501
        '"Flag","Temp (°C)","Temp Flag","Dew Point Temp (°C)","Dew Point Temp Flag","Rel Hum (%)","Rel Hum Flag",'
        '"Precip. Amount (mm)","Precip. Amount Flag","Wind Dir (10s deg)","Wind Dir Flag","Wind Spd (km/h)","Wind Spd Flag"',  # noqa: E501
        "f": '"Longitude (x)","Latitude (y)","Nom de la Station","ID climatologique","Date/Heure (HNL)","Année","Mois","Jour",'  # noqa: E501
        '"Heure (HNL)","Indicateur","Temp (°C)","Temp. Indicateur","Point de rosée (°C)","Point de rosée Indicateur",'
        '"Hum. rel (%)","Hum. rel. Indicateur","Hauteur de précip. (mm)","Hauteur de précip. Indicateur",'
        '"Dir. du vent (10s deg)","Dir. du vent Indicateur","Vit. du vent (km/h)","Vit. du vent Indicateur"',
    }
    for head in heads.values():
        lines = [head]
        for row in rows:
            time = row[5][:16]
            cells = ("-120.45", "50.7", "KAMLOOPS A", "1163781", time, time[:4], time[5:7], time[8:10], time[11:16], "",
                     row[6], "", row[7], "", row[8], "", row[9], "", row[10], "", row[11], "")  # fmt: skip
            lines.append(",".join(f'"{cell}"' for cell in cells))
        last = datetime.fromisoformat(rows[-1][5])
        for i in range(1, 100):
            time = (last + timedelta(hours=i)).strftime("%Y-%m-%d %H:%M")
            lines.append(f'"-120.45","50.7","KAMLOOPS A","1163781","{time}"' + ',""' * 17)
        record = read_weather(
            "\r\n".join(lines).encode("utf-8-sig"), "month.csv", place=find_place("50.7,-120.45,345")
        )
        assert record.format == "eccc_hourly"
        assert (record.lat, record.lon) == (50.7, -120.45)
        assert record.days == 10
        np.testing.assert_allclose(record.air_c[:3], [-9.1, -9.6, -9.9], rtol=1e-6)
        assert float(record.wind_m_s[0]) == pytest.approx(19 / 3.6, rel=1e-6)
        assert "long_gaps" not in notes_of(record)


def test_daily_files() -> None:
    kamloops = read_weather(
        real("ECCC_daily_Kamloops_A_BC_2016.csv.gz"), "d", place=find_place("50.7,-120.45,345")
    )
    boise = read_weather(
        real("GHCN-Daily_USC00106388_2000-2001.csv.gz"), "g", place=find_place("43.6,-116.2,820")
    )

    assert kamloops.format == "eccc_daily"
    assert (float(kamloops.high_c[0]), float(kamloops.low_c[0])) == (
        pytest.approx(-7.6),
        pytest.approx(-10.5),
    )
    assert boise.format == "ghcn_daily"
    assert boise.station == "USC00106388"
    assert not boise.hourly
    assert 700 < boise.days <= 731
    assert np.nanmin(boise.high_c - boise.low_c) >= 0
    assert "no_humidity" in notes_of(boise)


def test_a_flagged_value_of_ghcn_is_left_out_and_a_double_refused() -> None:
    lines = [f"USC00000001,202605{day:02d},{what},{value},,{flag},6,"
             for day in range(1, 11) for what, value, flag in (("TMAX", 170, ""), ("TMIN", 40, "X" if day == 3 else ""))]  # fmt: skip  # noqa: E501
    record = read_weather("\n".join(lines).encode(), "x", place=find_place(PLACE))

    assert np.isnan(record.low_c[2])
    assert "flagged" in notes_of(record)
    assert faults_of("\n".join([*lines, lines[0]]).encode()) == {"duplicated": (21,)}


# -- loggers in every dress -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("data", "meaning"),
    [
        (logger_csv(), None),
        (logger_csv(head="Timestamp;Température (°C);Humidité relative (%)"), None),
        (logger_csv(head="horodatage;Temp. air;HR %", when=lambda m: m.strftime("%d/%m/%Y %H:%M:%S")), None),
        (logger_csv(head="Date Time, GMT-03:00;Temp °F;RH %", temp=lambda m: temperature(m) * 1.8 + 32, when=lambda m: (m + timedelta(hours=1)).strftime("%m/%d/%Y %I:%M:%S %p")), MONCTON),  # noqa: E501
        (logger_csv(head="time,temp,rh", when=lambda m: (m + timedelta(hours=4)).isoformat() + "Z"), MONCTON),
        (logger_csv(head="time,temp_f,humidity", temp=lambda m: temperature(m) * 1.8 + 32), None),
        (logger_csv(rh=lambda m: humidity(m) / 100), FileMeaning(humidity_unit="fraction")),
        (logger_csv(clock=lambda m: m + timedelta(hours=1)), FileMeaning(zone="America/Moncton", clock="local")),
        (b'"Plot Title: woodshed"\n' + logger_csv(step_min=10), None),
        (logger_csv().decode().encode("utf-16"), None),
        (gzip.compress(logger_csv()), None),
    ],
    ids=["iso", "semicolons", "french", "fahrenheit-offset", "utc", "temp_f", "fraction", "local", "10min", "utf16", "gzip"],  # noqa: E501
)  # fmt: skip
def test_a_logger_is_read_whatever_it_wears(data: bytes, meaning: FileMeaning | None) -> None:
    record = read_weather(data, "logger.csv", place=find_place(PLACE), meaning=meaning)

    assert record.format == "logger"
    assert record.start == START.date()
    wanted = [temperature(START + timedelta(hours=h)) for h in range(24 * 12)]
    if "00:10" in data.decode("utf-8", "ignore")[:200]:
        wanted = [
            np.mean([temperature(START + timedelta(hours=h, minutes=10 * k)) for k in range(6)])
            for h in range(24 * 12)
        ]
    np.testing.assert_allclose(record.air_c, wanted, atol=0.02)
    assert record.complete == 1.0


def test_a_clock_that_follows_summer_time_is_put_to_standard_time() -> None:
    """Both changes of 2025: an hour left out in March, one that comes twice in November."""
    zone = ZoneInfo("America/Moncton")

    def shown(moment: datetime) -> datetime:
        utc = (moment + timedelta(hours=4)).replace(tzinfo=ZoneInfo("UTC"))
        return utc.astimezone(zone).replace(tzinfo=None)

    for start in (datetime(2025, 3, 4), datetime(2025, 10, 28)):  # noqa: DTZ001
        data = logger_csv(
            start=start,
            hours=24 * 10,
            clock=shown,
            temp=lambda m: temperature(m.replace(year=2026, month=5)) - 12,
        )
        record = read_weather(data, "l", meaning=MONCTON)
        assert "summer_time" in notes_of(record)
        assert record.start == start.date()
        assert record.complete == 1.0
        assert len(record.air_c) == 240
        # The same hours said to be without summer time are found out.
        wrong = FileMeaning(clock="standard")
        if start.month == 10:
            assert {"summer_time_unsaid", "duplicated"} & set(faults_of(data, place=None, meaning=wrong))


def test_a_clock_that_keeps_standard_time_through_march_is_known_by_it() -> None:
    data = logger_csv(
        start=datetime(2025, 3, 4),  # noqa: DTZ001
        hours=240,
        temp=lambda m: temperature(m.replace(year=2026, month=5)) - 12,
    )
    record = read_weather(data, "l", meaning=MONCTON)

    assert "clock_standard" in notes_of(record)
    assert record.complete == 1.0


def test_open_meteo_json_is_a_format_too() -> None:
    times = [(START + timedelta(hours=h + 4)).strftime("%Y-%m-%dT%H:%M") for h in range(72)]
    body = {
        "latitude": 45.95, "longitude": -66.64, "elevation": 20.0, "utc_offset_seconds": 0,
        "hourly_units": {"temperature_2m": "°C", "relative_humidity_2m": "%", "wind_speed_10m": "m/s"},
        "hourly": {
            "time": times,
            "temperature_2m": [temperature(START + timedelta(hours=h)) for h in range(72)],
            "relative_humidity_2m": [humidity(START + timedelta(hours=h)) for h in range(72)],
            "wind_speed_10m": [3.0] * 71 + [None],
        },
    }  # fmt: skip
    record = read_weather(json.dumps(body).encode(), "o", place=find_place(PLACE), meaning=MONCTON)

    assert record.start == START.date()
    assert float(record.air_c[15]) == pytest.approx(temperature(START + timedelta(hours=15)), abs=1e-3)
    assert np.isnan(record.wind_m_s[71])
    body["hourly"]["temperature_2m"].pop()  # type: ignore[index, attr-defined]
    assert "bad_column" in faults_of(json.dumps(body).encode())


# -- traps ----------------------------------------------------------------------------------------


def edited(change: dict[int, str], base: bytes | None = None) -> bytes:
    """The table with some of its lines (from 1) put otherwise."""
    lines = (logger_csv() if base is None else base).decode().splitlines()
    for number, line in change.items():
        lines[number - 1] = line
    return "\n".join(lines).encode()


def test_wrong_units_are_found_out_by_the_place() -> None:
    in_f = logger_csv(head="time,temperature,rh", temp=lambda m: round(temperature(m) * 1.8 + 32, 1))
    said_c = logger_csv(temp=lambda m: round(temperature(m) * 1.8 + 32, 1))
    said_f = logger_csv(head="time,temp °F,rh")
    fraction = logger_csv(rh=lambda m: humidity(m) / 100)

    assert "wrong_unit" in faults_of(in_f)
    assert "wrong_unit" in faults_of(said_c)
    assert "wrong_unit" in faults_of(said_f)
    assert "fraction" in faults_of(fraction, place=None)
    assert (
        read_weather(said_c, "x", place=find_place(PLACE), meaning=FileMeaning(temp_unit="F")).complete == 1.0
    )


def test_lines_that_cannot_be_read_are_all_named() -> None:
    data = edited({5: "2026-05-01 03:00,warm,80", 9: "yesterday,10,80", 12: "2026-05-01 10:00"})
    found = faults_of(data)

    assert found["short_line"] == (12,)
    assert found["bad_time"] == (9,)
    assert faults_of(edited({5: "2026-05-01 03:00,warm,80"})) == {"bad_number": (5,)}


def test_missing_hours_are_gaps_with_a_note() -> None:
    lines = logger_csv().decode().splitlines()
    short = "\n".join(lines[:30] + lines[32:]).encode()
    long = "\n".join(lines[:30] + lines[60:]).encode()

    assert "short_gaps" in notes_of(read_weather(short, "x"))
    record = read_weather(long, "x")
    assert "long_gaps" in notes_of(record)
    assert np.isnan(record.air_c[29:59]).all()
    assert np.isfinite(record.air_c[59])


def test_a_half_empty_file_is_refused() -> None:
    lines = logger_csv().decode().splitlines()

    assert "half_empty" in faults_of("\n".join(lines[:25] + lines[-24:]).encode())
    assert "half_empty" in faults_of(logger_csv(rh=lambda m: humidity(m) if m.day % 3 == 0 else ""))
    year = text_of(EPW)
    assert "half_empty" in faults_of("\n".join(year[:5000]).encode(), place=None)
    with pytest.raises(WeatherFileError, match="damaged"):
        read_weather(real(EPW)[:40_000], EPW)


def test_a_typical_year_with_an_hour_twice_or_none_is_refused() -> None:
    year = text_of(EPW)
    twice = [*year[:100], year[99], *year[100:]]

    assert faults_of("\n".join(twice).encode(), place=None)
    assert faults_of("\n".join([*year[:100], *year[101:]]).encode(), place=None)


def test_a_station_far_away_is_refused_unless_it_is_meant() -> None:
    found = faults_of(real(KAMLOOPS), place="Fredericton, NB")
    assert "far_station" in found
    near = read_weather(real(KAMLOOPS), "k", place=find_place("51.3,-120.45,345"))
    assert "far_station" in notes_of(near)
    meant = read_weather(
        real(KAMLOOPS), "k", place=find_place("49.9,-115.7"), meaning=FileMeaning(far_ok=True)
    )
    assert "far_station" in notes_of(meant)


def test_a_dew_point_above_the_temperature() -> None:
    head = "time,temp °C,rel hum %,dew point °C"

    def table(bad: int) -> bytes:
        rows = [head]
        for i in range(24 * 12):
            moment = START + timedelta(hours=i)
            warm, damp = temperature(moment), humidity(moment)
            dew = warm - (100 - damp) / 5 if i >= bad else warm + 3
            rows.append(f"{moment.isoformat()},{warm},{damp},{dew:.1f}")
        return "\n".join(rows).encode()

    record = read_weather(table(2), "x")
    assert notes_of(record)["dew_above"] == (2, 3)
    assert np.isnan(record.air_c[:2]).all()
    assert "dew_above" in faults_of(table(60))


def test_a_stuck_sensor() -> None:
    stuck = logger_csv(
        temp=lambda m: 12.3 if m.day == 3 else temperature(m),
        rh=lambda m: 70.0 if m.day == 3 else humidity(m),
    )
    record = read_weather(stuck, "x")
    assert len(notes_of(record)["stuck"]) == 24
    assert np.isnan(record.air_c[48:72]).all()
    assert "stuck" in faults_of(logger_csv(temp=lambda _: 12.3, rh=lambda _: 70.0))


def test_a_clock_turned_by_half_a_day_and_months_that_cannot_be() -> None:
    assert "clock_shift" in faults_of(logger_csv(clock=lambda m: m + timedelta(hours=8)))
    assert "far_from_normals" in faults_of(logger_csv(temp=lambda m: temperature(m) + 19))
    assert "far_from_normals" in faults_of(logger_csv(temp=lambda m: temperature(m) - 26))


def test_two_sensors_in_one_table_must_be_told_apart() -> None:
    head = "time,Temp 1 °C,rh,Temp 2 °C"
    rows = [head] + [f"{(START + timedelta(hours=i)).isoformat()},10,60,11" for i in range(200)]
    assert "two_columns" in faults_of("\n".join(rows).encode())
    out = read_weather(
        logger_csv(head="time,Outdoor temp °C,rh").replace(b"rh\n", b"rh,Indoor temp\n", 1), "x"
    )
    assert out.complete == 1.0


def test_what_is_no_weather_at_all() -> None:
    assert "unknown_format" in faults_of(b"%PDF-1.7 ...")
    assert "unknown_format" in faults_of(b"")
    assert "unknown_format" in faults_of(b'{"error": true, "reason": "nothing"}')
    assert "empty" in faults_of(b"time,temp,rh\n")
    with pytest.raises(InputError, match="clock"):
        read_weather(logger_csv(), "x", meaning=FileMeaning(clock="moon"))


def test_dates_that_can_be_read_two_ways_are_asked_about() -> None:
    start = datetime(2026, 5, 5)  # noqa: DTZ001
    one_day = logger_csv(start=start, hours=24, when=lambda m: m.strftime("%d/%m/%Y %H:%M"))
    assert "ambiguous_dates" in faults_of(one_day)
    month = logger_csv(when=lambda m: m.strftime("%m/%d/%Y %H:%M"), hours=24 * 20)
    assert read_weather(month, "x").start == date(2026, 5, 1)


# -- properties -----------------------------------------------------------------------------------


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    days=st.integers(2, 9),
    step=st.sampled_from([10, 15, 30, 60]),
    fahrenheit=st.booleans(),
    french=st.booleans(),
    seed=st.integers(0, 999),
)
def test_what_a_logger_wrote_comes_back(
    days: int, step: int, fahrenheit: bool, french: bool, seed: int
) -> None:
    """Round trip; and any two lines changed in place, or any line doubled, is found out."""
    chance = random.Random(seed)
    noise = {i: chance.gauss(0, 0.5) for i in range(24 * 10)}

    def own(moment: datetime) -> float:
        celsius = temperature(moment) + noise[int((moment - START).total_seconds() // 3600)]
        return celsius * 1.8 + 32 if fahrenheit else celsius

    unit = "°F" if fahrenheit else "°C"
    head = f"Horodatage;Température ({unit});Humidité (%)" if french else f"Date Time,Temp {unit},RH %"
    data = logger_csv(hours=24 * days, step_min=step, head=head, temp=own)
    record = read_weather(data, "x")
    for hour in (0, 7, 24 * days - 1):
        moments = [START + timedelta(hours=hour, minutes=step * k) for k in range(60 // step)]
        wanted = np.mean([(own(m) - 32) / 1.8 if fahrenheit else own(m) for m in moments])
        assert float(record.air_c[hour]) == pytest.approx(wanted, abs=1e-3)

    lines = data.decode().splitlines()
    i, j = sorted(chance.sample(range(1, len(lines)), 2))
    swapped = list(lines)
    swapped[i], swapped[j] = swapped[j], swapped[i]
    assert set(faults_of("\n".join(swapped).encode(), place=None)) & {"unsorted", "duplicated"}
    doubled = [*lines[: j + 1], lines[i], *lines[j + 1 :]]
    assert set(faults_of("\n".join(doubled).encode(), place=None)) & {"unsorted", "duplicated"}


SEEDS = (
    b"time,temp,rh\n2026-05-01 00:00,10,60\n2026-05-01 01:00,9,62\n",
    b"LOCATION,A,B,C,D,1,45,-66,-4,20\nDATA PERIODS\n2001,1,1,1,0,x,1,2,80,1,1,1,1,0,0,0,0,0,0,0,0,2\n",
    b"1,A,B,-5,45,-66,10\nDate (MM/DD/YYYY),Time (HH:MM),Dry-bulb (C),RHum (%)\n01/01/1999,01:00,2,80\n",
    b"USC00000001,20260501,TMAX,170,,,6,\nUSC00000001,20260501,TMIN,40,,,6,\n",
    b"date,max_temp,min_temp,total_precip\n2026-05-01,12,3,0\n2026-05-02,13,4,0\n",
    b'{"latitude": 45.9, "longitude": -66.6, "hourly": {"time": ["2026-05-01T00:00"], "temperature_2m": [1]}}',
)
JUNK = (b"9" * 500, b"1e999", b"\x00", b'"', b"\n", b"-", b"9999", b"null")


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(
    seed=st.sampled_from(SEEDS),
    at=st.floats(0, 1),
    junk=st.one_of(
        st.binary(max_size=8),
        st.sampled_from([b"9" * 500, b"1e999", b"\x00", b'"', b"\n", b"-", b"9999", b"null"]),
    ),
    drop=st.integers(0, 12),
)
def test_no_bytes_get_past_the_front_door(seed: bytes, at: float, junk: bytes, drop: int) -> None:
    """Mangled files are read or refused with words; nothing unforeseen comes out."""
    i = int(at * len(seed))
    data = seed[:i] + junk + seed[i + drop :]
    with suppress(WeatherFileError):
        assert read_weather(data, "x", place=find_place(PLACE), meaning=MONCTON).days >= 1


def test_packing_keeps_every_value() -> None:
    record = read_weather(real(KAMLOOPS), KAMLOOPS)
    again = WeatherRecord(
        record.format, record.kind, "", record.lat, record.lon, record.elev_m, record.start
    ).unpacked(record.packed())

    assert again.sha256 == record.sha256
    np.testing.assert_array_equal(again.air_c, record.air_c)
