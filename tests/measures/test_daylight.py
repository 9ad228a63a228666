"""Sun, moon and the three nights against Skyfield with JPL DE421, the reference file, and astral."""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from functools import cache
from importlib.resources import as_file, files
from typing import Any

import numpy as np
import pytest

from riskboard.measures.daylight import (
    SunEvents,
    is_night_for_currency,
    is_night_for_lights,
    is_night_for_logging,
    minutes_to_night,
    sun_event_times_s,
    sun_events,
)
from riskboard.measures.moon import moon_elevation_deg, moon_illumination_pct, moonlight_pct
from riskboard.measures.sun import elevation_deg, elevation_track_deg, sun_elevation_deg
from tests.measures.reference import Case, params, topic

EVENTS = ("civil_dawn", "sunrise", "sunset", "civil_dusk")
LIMITS = {"civil_dawn": -6.0, "sunrise": -0.8333, "sunset": -0.8333, "civil_dusk": -6.0}


@cache
def sky() -> tuple[Any, Any, Any]:
    api = pytest.importorskip("skyfield.api", reason="skyfield is a test extra and not installed")
    pytest.importorskip("skyfield_data", reason="skyfield-data is a test extra and not installed")
    with as_file(files("skyfield_data") / "data" / "de421.bsp") as path:
        planets = api.load_file(str(path))
    return planets, api.load.timescale(builtin=True), api.wgs84


@pytest.mark.parametrize("case", topic("atmosphere", "sun_events"), ids=lambda case: case["place"])
def test_sun_events(case: Case) -> None:
    given = case["inputs"]
    found = sun_events(given["latitude_deg"], given["longitude_deg"], date.fromisoformat(given["date"]))
    for name in EVENTS:
        expected, ours = case["expected"][name], getattr(found, name)
        if expected is None:
            assert ours is None
        else:
            assert ours.tzinfo is UTC
            assert abs((ours - datetime.fromisoformat(expected)).total_seconds()) <= case["tolerance"]["seconds"]


def skyfield_events(latitude: float, longitude: float, day: date) -> dict[str, float | None]:
    """Crossings in the 12 h on either side of the true local noon, by Skyfield alone; as the reference file defines."""
    from skyfield import almanac  # noqa: PLC0415  - a test extra, asked for by sky()

    planets, timescale, wgs84 = sky()
    site = wgs84.latlon(latitude, longitude)
    middle = datetime(day.year, day.month, day.day, 12, tzinfo=UTC) - timedelta(hours=longitude / 15.0)
    hour = timedelta(hours=1)
    seen = (planets["earth"] + site).at(timescale.from_datetime(middle)).observe(planets["sun"]).apparent()
    noon = middle - (seen.hadec()[0].hours + 12.0) % 24.0 * hour + 12.0 * hour
    times, states = almanac.find_discrete(
        timescale.from_datetime(noon - 12 * hour), timescale.from_datetime(noon + 12 * hour),
        almanac.dark_twilight_day(planets, site),
    )  # fmt: skip
    found: dict[str, float | None] = dict.fromkeys(EVENTS)
    before = int(almanac.dark_twilight_day(planets, site)(timescale.from_datetime(noon - 12 * hour)))
    for time, state in zip(times, states, strict=True):
        moment, change = time.utc_datetime(), (before, int(state))
        morning = moment < noon
        for name, pair, early in (
            ("civil_dawn", (2, 3), True),
            ("sunrise", (3, 4), True),
            ("sunset", (4, 3), False),
            ("civil_dusk", (3, 2), False),
        ):
            if change == pair and morning is early:
                found[name] = moment.timestamp()
        before = int(state)
    return found


def extremes(latitude: float, longitude: float, day: date) -> tuple[float, float]:
    """The sun's lowest and highest of the day, by Skyfield: within half an hour of mean midnight and noon."""
    planets, timescale, wgs84 = sky()
    middle = datetime(day.year, day.month, day.day, 12, tzinfo=UTC).timestamp() - longitude * 240.0
    steps = (*range(-740, -699, 4), *range(-20, 21, 4), *range(700, 741, 4))
    moments = timescale.from_datetimes([datetime.fromtimestamp(middle + 60.0 * step, UTC) for step in steps])
    seen = (planets["earth"] + wgs84.latlon(latitude, longitude)).at(moments).observe(planets["sun"])
    height = seen.apparent().altaz()[0].degrees
    return float(height.min()), float(height.max())


def test_sun_events_against_skyfield_over_two_hundred_site_days() -> None:
    """All latitudes and seasons; 90 s below 60 deg and 180 s above, as the reference file allows."""
    rng = np.random.default_rng(2026)
    worst, compared, absent = 0.0, 0, 0
    for latitude, longitude, offset in zip(
        rng.uniform(-88.0, 88.0, 210), rng.uniform(-180.0, 180.0, 210), rng.integers(0, 9000, 210), strict=True
    ):
        day = date(2016, 1, 1) + timedelta(days=int(offset))
        ours, theirs = sun_events(latitude, longitude, day), skyfield_events(latitude, longitude, day)
        lowest, highest = extremes(latitude, longitude, day) if abs(latitude) > 50.0 else (-90.0, 90.0)
        for name in EVENTS:
            mine, other, limit = getattr(ours, name), theirs[name], LIMITS[name]
            # Where the sun only grazes a limit within 0.05 deg, seconds mean nothing.
            if abs(lowest - limit) < 0.05 or abs(highest - limit) < 0.05:
                continue
            if other is None:
                assert mine is None, (latitude, longitude, day, name)
                absent += 1
                continue
            assert mine is not None, (latitude, longitude, day, name)
            seconds = abs(mine.timestamp() - other)
            assert seconds <= (90.0 if abs(latitude) < 60.0 else 180.0), (latitude, longitude, day, name)
            worst, compared = max(worst, seconds if abs(latitude) < 60.0 else 0.0), compared + 1
    assert compared > 500
    assert absent > 50
    # The module claims 2 to 4 s at middle latitudes; 15 s is what 0.01 deg can cost at 60 deg in midsummer.
    assert worst <= 15.0


def random_instants(size: int) -> tuple[Any, Any, Any]:
    rng = np.random.default_rng(17)
    latitude = np.degrees(np.arcsin(rng.uniform(-1.0, 1.0, size)))
    return latitude, rng.uniform(-180.0, 180.0, size), rng.uniform(1.2e9, 2.4e9, size)


@cache
def seen_by_skyfield() -> tuple[Any, Any, Any]:
    planets, timescale, wgs84 = sky()
    latitude, longitude, at = random_instants(300)
    sun, moon, lit = [], [], []
    for place in zip(latitude, longitude, at, strict=True):
        time = timescale.from_datetime(datetime.fromtimestamp(place[2], UTC))
        site = (planets["earth"] + wgs84.latlon(place[0], place[1])).at(time)
        apparent = site.observe(planets["moon"]).apparent()
        sun.append(site.observe(planets["sun"]).apparent().altaz()[0].degrees)
        moon.append(apparent.altaz()[0].degrees)
        lit.append(100.0 * apparent.fraction_illuminated(planets["sun"]))
    return np.asarray(sun), np.asarray(moon), np.asarray(lit)


def test_sun_elevation_against_skyfield() -> None:
    ours = np.asarray(sun_elevation_deg(*random_instants(300)))
    assert np.abs(ours - seen_by_skyfield()[0]).max() < 0.02


def test_moon_elevation_against_skyfield() -> None:
    ours = np.asarray(moon_elevation_deg(*random_instants(300)))
    assert np.abs(ours - seen_by_skyfield()[1]).max() < 0.1


def test_moon_illumination_against_skyfield() -> None:
    # Skyfield's is seen from the site, ours from the earth's centre: up to 1 deg of parallax, 0.9 points at half moon.
    ours = np.asarray(moon_illumination_pct(random_instants(300)[2]))
    assert np.abs(ours - seen_by_skyfield()[2]).max() < 1.0


def test_moonlight_is_the_lit_part_above_the_horizon() -> None:
    latitude, longitude, at = random_instants(300)
    light = np.asarray(moonlight_pct(latitude, longitude, at))
    _, elevation, lit = seen_by_skyfield()
    clear = np.abs(elevation) > 0.2
    assert np.all(light[clear & (elevation < 0.0)] == 0.0)
    up = clear & (elevation > 0.0)
    assert np.abs(light[up] - lit[up]).max() < 1.0


def test_astral_agrees_in_the_middle_latitudes() -> None:
    # A third program; the reference file shows it 10 to 20 s away from Skyfield at such places.
    astral = pytest.importorskip("astral.sun", reason="astral is not installed")
    observer = pytest.importorskip("astral").Observer(44.0, -70.0, 0.0)
    for month in range(1, 13):
        day = date(2027, month, 15)
        ours = sun_events(44.0, -70.0, day)
        assert ours.sunrise is not None
        assert abs((ours.sunrise - astral.sunrise(observer, day)).total_seconds()) < 60.0
        assert ours.civil_dawn is not None
        assert abs((ours.civil_dawn - astral.dawn(observer, day)).total_seconds()) < 60.0


def test_the_straight_track_follows_the_sun() -> None:
    # Its own claim of 0.002 deg, against the full position that is itself compared with Skyfield above.
    latitude, longitude, start = random_instants(300)
    at = start[:, np.newaxis] + np.linspace(-13.0, 13.0, 27) * 3600.0
    track = elevation_track_deg(latitude, longitude, start, at)
    full = elevation_deg(latitude[:, np.newaxis], longitude[:, np.newaxis], at)
    assert np.abs(track - full).max() < 0.002


def minutes(clock: str) -> int:
    hour, minute = clock.split(":")
    return 60 * int(hour) + int(minute)


def evening_like(case: Case) -> tuple[float, SunEvents]:
    """A place and day whose twilight is as long as the case's: the clock times of the case are invented."""
    wanted = abs(minutes(case["inputs"].get("civil_dusk", case["inputs"].get("civil_dawn"))) - minutes(
        case["inputs"].get("sunset", case["inputs"].get("sunrise"))
    ))  # fmt: skip
    for latitude in np.arange(30.0, 64.0, 0.25):
        events = sun_events(float(latitude), 0.0, date(2026, 6, 10))
        if events.sunset is None or events.civil_dusk is None:
            continue
        if (events.civil_dusk - events.sunset).total_seconds() / 60.0 >= wanted:
            return float(latitude), events
    raise AssertionError("no latitude has such a twilight")


@pytest.mark.parametrize("case", params(topic("rules_more", "three_nights")))
def test_three_nights(case: Case) -> None:
    given, expected = case["inputs"], case["expected"]
    latitude, events = evening_like(case)
    anchor = "sunset" if "sunset" in given else "sunrise"
    moment = getattr(events, anchor) + timedelta(minutes=minutes(given["at"]) - minutes(given[anchor]))
    assert is_night_for_lights(latitude, 0.0, moment) == float(expected["position_lights_needed"])
    assert is_night_for_logging(latitude, 0.0, moment) == float(expected["night_for_logging"])
    assert is_night_for_currency(latitude, 0.0, moment) == float(expected["night_for_passenger_currency"])


def test_nights_begin_and_end_where_their_rules_say() -> None:
    """14 CFR 1.1, 61.57(b), 91.209: each flag turns within 2 s of its event, which is rounded to 1 s."""
    events = sun_events(40.0, -75.0, date(2026, 10, 10))
    hour = timedelta(hours=1)
    assert None not in events
    for function, evening, morning in (
        (is_night_for_lights, events.sunset, events.sunrise),
        (is_night_for_logging, events.civil_dusk, events.civil_dawn),
        (is_night_for_currency, events.sunset and events.sunset + hour, events.sunrise and events.sunrise - hour),
    ):
        assert evening is not None
        assert morning is not None
        gap = timedelta(seconds=2)
        flags = function(40.0, -75.0, [evening - gap, evening + gap, morning - gap, morning + gap])
        assert np.asarray(flags).tolist() == [0.0, 1.0, 1.0, 0.0]


def test_minutes_to_night_counts_down_to_each_night_and_on_from_it() -> None:
    events = sun_events(40.0, -75.0, date(2026, 10, 10))
    assert events.sunset is not None
    assert events.civil_dusk is not None
    starts = {
        "lights": events.sunset,
        "logging": events.civil_dusk,
        "currency": events.sunset + timedelta(hours=1),
    }
    for night, start in starts.items():
        for offset in (-600, -90, -1, 1, 45, 500):
            left = minutes_to_night(40.0, -75.0, start + timedelta(minutes=offset), night)  # type: ignore[arg-type]
            assert left == pytest.approx(-offset, abs=0.02), (night, offset)


def test_before_dawn_it_is_still_the_night_of_the_evening_before() -> None:
    evening = sun_events(40.0, -75.0, date(2026, 10, 9)).civil_dusk
    dawn = sun_events(40.0, -75.0, date(2026, 10, 10)).civil_dawn
    assert evening is not None
    assert dawn is not None
    early = dawn - timedelta(minutes=10)
    assert minutes_to_night(40.0, -75.0, early) == pytest.approx((evening - early).total_seconds() / 60.0, abs=0.05)


def test_minutes_to_night_is_never_positive_in_the_dark_nor_negative_in_the_light() -> None:
    latitude, longitude, at = random_instants(4000)
    flags: dict[str, Callable[..., Any]] = {
        "lights": is_night_for_lights,
        "logging": is_night_for_logging,
        "currency": is_night_for_currency,
    }
    for night, function in flags.items():
        dark = np.asarray(function(latitude, longitude, at)) == 1.0
        left = np.asarray(minutes_to_night(latitude, longitude, at, night))  # type: ignore[arg-type]
        assert np.all(left[dark] <= 0.0)
        assert np.all(left[~dark] >= 0.0)
        assert np.all(np.abs(left) <= 1440.0)


def test_polar_day_and_polar_night() -> None:
    summer, winter = datetime(2026, 6, 21, 22, tzinfo=UTC), datetime(2026, 12, 21, 12, tzinfo=UTC)
    assert is_night_for_lights(80.0, 0.0, summer) == 0.0
    assert minutes_to_night(80.0, 0.0, summer) == 1440.0
    assert is_night_for_logging(80.0, 0.0, winter) == 1.0
    assert minutes_to_night(80.0, 0.0, winter) == -1440.0
    assert sun_events(80.0, 0.0, date(2026, 12, 21)) == (None, None, None, None)
    # 68 N in midwinter: the sun stays down but it gets light enough for civil twilight.
    dusk = sun_events(68.0, 0.0, date(2026, 12, 21))
    assert dusk.sunrise is None
    assert dusk.civil_dawn is not None
    assert is_night_for_logging(68.0, 0.0, winter) == 0.0
    assert is_night_for_currency(68.0, 0.0, winter) == 1.0


def site_with(shorter_than: timedelta, day: date, *, darkness: bool) -> tuple[float, SunEvents]:
    """The first latitude going north whose daylight (or darkness) on a day is that short but not nothing."""
    for tenth in range(600, 690):
        events = sun_events(tenth / 10.0, 0.0, day)
        if events.sunrise is None or events.sunset is None:
            continue
        light = events.sunset - events.sunrise
        if (timedelta(days=1) - light if darkness else light) < shorter_than:
            return tenth / 10.0, events
    raise AssertionError("no such latitude found")


def test_a_short_polar_day_has_no_currency_night_close_to_it() -> None:
    latitude, events = site_with(timedelta(minutes=50), date(2026, 12, 21), darkness=False)
    assert events.sunrise is not None
    assert events.sunset is not None
    # Five minutes off, the whole day lies inside the hour: the sun is down now, an hour ago and in an hour.
    for gap in (5, 30):
        before, after = events.sunrise - timedelta(minutes=gap), events.sunset + timedelta(minutes=gap)
        assert is_night_for_lights(latitude, 0.0, after) == 1.0
        assert np.asarray(is_night_for_currency(latitude, 0.0, [before, after])).tolist() == [0.0, 0.0]


def test_a_summer_darkness_under_two_hours_holds_no_currency_night() -> None:
    # 14 CFR 61.57(b): an hour after sunset is then less than an hour before sunrise.
    latitude, events = site_with(timedelta(minutes=110), date(2026, 6, 21), darkness=True)
    assert events.sunset is not None
    midnight = events.sunset + timedelta(minutes=50)
    assert is_night_for_lights(latitude, 0.0, midnight) == 1.0
    assert is_night_for_currency(latitude, 0.0, midnight) == 0.0
    noon = datetime(2026, 6, 21, 12, tzinfo=UTC)
    assert minutes_to_night(latitude, 0.0, noon, "currency") == 1440.0
    assert minutes_to_night(latitude, 0.0, noon, "lights") < 800.0


def test_grazing_events_lie_on_their_limit() -> None:
    """Near the polar circles the quick solution fails and the bracket takes over; what it gives must be a crossing."""
    rng = np.random.default_rng(3)
    latitude, longitude = rng.uniform(57.0, 75.0, 6000), rng.uniform(-180.0, 180.0, 6000)
    near = datetime(2026, 1, 1, tzinfo=UTC).timestamp() + rng.uniform(0.0, 365.0, 6000) * 86_400.0
    times = sun_event_times_s(latitude, longitude, near)
    for name, limit in LIMITS.items():
        moments = np.asarray(getattr(times, f"{name}_s"))
        found = ~np.isnan(moments)
        height = elevation_deg(latitude[found], longitude[found], moments[found])
        assert np.abs(height - limit).max() < 1e-4, name


def test_the_antimeridian_gives_the_same_sun_on_both_signs() -> None:
    west, east = sun_events(10.0, -180.0, date(2026, 3, 2)), sun_events(10.0, 180.0, date(2026, 3, 3))
    assert west.sunrise is not None
    assert east.sunrise is not None
    assert abs((west.sunrise - east.sunrise).total_seconds()) <= 1.0


def test_events_of_an_instant_are_those_of_its_solar_day() -> None:
    wanted = sun_events(40.0, -75.0, date(2026, 10, 10))
    assert wanted.sunset is not None
    for hours in (-16.0, 0.0, 5.0):
        found = sun_event_times_s(40.0, -75.0, wanted.sunset + timedelta(hours=hours))
        assert found.sunset_s == pytest.approx(wanted.sunset.timestamp(), abs=1.0)


def test_shape_and_unknown() -> None:
    latitude, at = np.asarray([[10.0], [np.nan]]), np.asarray([1.7e9, np.nan, 1.8e9])
    known = [[True, False, True], [False, False, False]]
    for function in (
        sun_elevation_deg, moon_elevation_deg, moonlight_pct, is_night_for_lights, is_night_for_logging,
        is_night_for_currency, minutes_to_night,
    ):  # fmt: skip
        found = np.asarray(function(latitude, 20.0, at))
        assert found.dtype == np.float64
        assert (~np.isnan(found)).tolist() == known, function.__name__
        assert isinstance(function(10.0, 20.0, 1.7e9), float)
        assert np.isnan(function(10.0, None, 1.7e9))
    assert isinstance(moon_illumination_pct(datetime(2026, 1, 1, tzinfo=UTC)), float)
    assert np.isnan(moon_illumination_pct([None, datetime(2026, 1, 1, tzinfo=UTC)])).tolist() == [True, False]


def test_a_row_alone_equals_the_same_row_in_a_batch() -> None:
    latitude, longitude, at = random_instants(200)
    functions: tuple[Callable[..., Any], ...] = (
        sun_elevation_deg, moonlight_pct, minutes_to_night, lambda *row: sun_event_times_s(*row).sunrise_s,
    )  # fmt: skip
    for function in functions:
        batch = np.asarray(function(latitude, longitude, at))
        alone = [float(function(*row)) for row in zip(latitude, longitude, at, strict=True)]
        assert np.array_equal(batch, np.asarray(alone), equal_nan=True)


@pytest.mark.parametrize(
    ("call", "name"),
    [
        (lambda: sun_events(91.0, 0.0, date(2026, 1, 1)), "latitude_deg"),
        (lambda: sun_events(float("nan"), 0.0, date(2026, 1, 1)), "latitude_deg"),
        (lambda: sun_elevation_deg(0.0, 181.0, 1.7e9), "longitude_deg"),
        (lambda: sun_elevation_deg(0.0, 0.0, 1.7e12), "at"),
        (lambda: is_night_for_logging(0.0, 0.0, datetime(2026, 1, 1)), "at must be an aware datetime"),  # noqa: DTZ001
        (lambda: minutes_to_night(0.0, 0.0, 1.7e9, "astronomical"), "night"),  # type: ignore[arg-type]
    ],
)
def test_impossible_input_is_refused_by_name(call: Callable[[], Any], name: str) -> None:
    with pytest.raises(ValueError, match=name):
        call()
