"""Registered measures of light against the sun events of the reference file (Skyfield with JPL DE421)."""

from datetime import UTC, date, datetime
from typing import Any

import numpy as np
import pytest

from riskboard.measures.daylight import sun_events
from tests.measures.columns_of import NAN, at, one
from tests.measures.reference import topic

MINUTE, HOUR = 60.0, 3600.0


def place(name: str) -> tuple[dict[str, float], dict[str, float]]:
    """Columns of a place of the reference file, and its events in UNIX seconds."""
    case = next(case for case in topic("atmosphere", "sun_events") if case["place"] == name)
    given = case["inputs"]
    columns = {"departure_latitude_deg": given["latitude_deg"], "departure_longitude_deg": given["longitude_deg"]}
    return columns, {name: at(time.removesuffix("Z")) for name, time in case["expected"].items() if time}


DESERT, EVENTS = place("high desert")
TWO_SECONDS_MIN = 0.15  # the reference differs by up to 2 s there, and measures are rounded to 0.1 min


def flight(take_off_at: float, minutes: float, site: dict[str, float] = DESERT) -> dict[str, Any]:
    return site | {"take_off_at": take_off_at, "landing_at": take_off_at + minutes * MINUTE}


def close(value: float) -> Any:
    return pytest.approx(value, abs=TWO_SECONDS_MIN)


def test_landing_before_sunset_min() -> None:
    assert one("landing_before_sunset_min", **flight(EVENTS["sunset"] - 2 * HOUR, 75)) == close(45)
    assert one("landing_before_sunset_min", **flight(EVENTS["sunset"] - HOUR, 70)) == close(-10)
    # Before sunrise it is still the night of the evening before.
    assert one("landing_before_sunset_min", **flight(EVENTS["sunrise"] - HOUR, 50)) < -400


def test_landing_before_civil_dusk_min() -> None:
    assert one("landing_before_civil_dusk_min", **flight(EVENTS["civil_dusk"] - 2 * HOUR, 100)) == close(20)
    assert one("landing_before_civil_dusk_min", **flight(EVENTS["civil_dusk"] - HOUR, 90)) == close(-30)
    assert one("landing_before_civil_dusk_min", **flight(EVENTS["civil_dusk"] + 2 * HOUR, 240)) == close(-360)


def test_take_off_after_civil_dawn_min() -> None:
    assert one("take_off_after_civil_dawn_min", **flight(EVENTS["civil_dawn"] + 12 * MINUTE, 60)) == close(12)
    assert one("take_off_after_civil_dawn_min", **flight(EVENTS["civil_dawn"] - 25 * MINUTE, 60)) == close(-25)
    # After dusk the next dawn counts, about 8.5 h away.
    assert one("take_off_after_civil_dawn_min", **flight(EVENTS["civil_dusk"] + MINUTE, 60)) < -480


def test_polar_ends() -> None:
    arctic, none = place("arctic coast, midnight sun")
    assert none == {}
    summer = flight(at("2026-07-10T08:00"), 60, arctic)
    for measure in ("landing_before_sunset_min", "landing_before_civil_dusk_min", "take_off_after_civil_dawn_min"):
        assert one(measure, **summer) == 1440.0
    winter = flight(at("2026-12-21T12:00"), 60, {"departure_latitude_deg": 85.0, "departure_longitude_deg": 0.0})
    for measure in ("landing_before_sunset_min", "landing_before_civil_dusk_min", "take_off_after_civil_dawn_min"):
        assert one(measure, **winter) == -1440.0
    assert one("civil_night_min", **winter) == 60.0
    assert one("civil_night_min", **summer) == 0.0


def test_civil_night_min() -> None:
    # 14 CFR 1.1: from the end of evening to the beginning of morning civil twilight.
    assert one("civil_night_min", **flight(EVENTS["civil_dusk"] - 90 * MINUTE, 110)) == close(20)
    assert one("civil_night_min", **flight(EVENTS["civil_dusk"] - 90 * MINUTE, 80)) == 0.0
    assert one("civil_night_min", **flight(EVENTS["civil_dawn"] - 15 * MINUTE, 100)) == close(15)
    assert one("civil_night_min", **flight(EVENTS["civil_dusk"] + 30 * MINUTE, 60)) == 60.0


def test_after_sunset_min() -> None:
    # 14 CFR 91.209.
    assert one("after_sunset_min", **flight(EVENTS["sunset"] - 60 * MINUTE, 85)) == close(25)
    assert one("after_sunset_min", **flight(EVENTS["sunrise"] - 10 * MINUTE, 60)) == close(10)


def test_currency_night_min() -> None:
    # 14 CFR 61.57(b)(1): from one hour after sunset to one hour before sunrise.
    assert one("currency_night_min", **flight(EVENTS["sunset"], 90)) == close(30)
    assert one("currency_night_min", **flight(EVENTS["sunset"], 58)) == 0.0
    assert one("currency_night_min", **flight(EVENTS["sunrise"] - 100 * MINUTE, 90)) == close(40)
    # A landing two seconds inside would round to nothing, and still counts: the rule speaks of landings.
    sunset = sun_events(35.1, -106.6, date(2026, 7, 4)).sunset
    assert sunset is not None
    assert one("currency_night_min", **flight(sunset.timestamp(), 60.0 + 2.0 / 60.0)) == pytest.approx(0.1)


def test_moon_illumination_pct() -> None:
    # Computed with Skyfield 1.55 and DE421 for the desert place, below: see the reference events for the same site.
    planets, timescale, wgs84 = skyfield_or_skip()
    site = planets["earth"] + wgs84.latlon(DESERT["departure_latitude_deg"], DESERT["departure_longitude_deg"])
    seen = 0
    for day in range(0, 30, 2):
        start = EVENTS["civil_dusk"] + day * 86_400.0
        least = []
        for moment in (start, start + 30 * MINUTE, start + 60 * MINUTE):
            moon = site.at(timescale.from_datetime(utc(moment))).observe(planets["moon"]).apparent()
            up = moon.altaz()[0].degrees > 0.0
            least.append(100.0 * moon.fraction_illuminated(planets["sun"]) if up else 0.0)
        found = one("moon_illumination_pct", **flight(start, 60))
        assert found == pytest.approx(min(least), abs=1.5)
        seen += found > 0.0
    assert 3 < seen < 12


def utc(seconds: float) -> Any:
    return datetime.fromtimestamp(seconds, UTC)


def skyfield_or_skip() -> Any:
    from tests.measures.test_daylight import sky  # noqa: PLC0415  - skips where the test extra is absent

    return sky()


def test_low_sun_min() -> None:
    # At 35 N in July the sun sinks about 12 deg an hour near sunset: 10 to 0 deg takes about 50 min, geometric 0 deg
    # comes 4 min before sunset (0.8333 deg / 12 deg an hour).
    found = one("low_sun_min", **flight(EVENTS["sunset"] - 2 * HOUR, 150))
    assert found == pytest.approx(50, abs=4)
    assert one("low_sun_min", **flight(EVENTS["sunset"] - 5 * HOUR, 60)) == 0.0
    assert one("low_sun_min", **flight(EVENTS["sunset"] + HOUR, 60)) == 0.0


def test_ground_lights_level() -> None:
    assert [one("ground_lights_level", ground_lights=code) for code in (0.0, 1.0, 2.0)] == [0.0, 1.0, 2.0]


def test_loose_surface() -> None:
    # The order of words.SiteSurface: paved, grass, rough, loose dust or sand, loose snow.
    codes = [one("loose_surface", site_surface=code) for code in (0.0, 1.0, 2.0, 3.0, 4.0)]
    assert codes == [0.0, 0.0, 1.0, 2.0, 2.0]


MEASURES = (
    "landing_before_sunset_min",
    "landing_before_civil_dusk_min",
    "take_off_after_civil_dawn_min",
    "civil_night_min",
    "after_sunset_min",
    "currency_night_min",
    "moon_illumination_pct",
    "low_sun_min",
)


@pytest.mark.parametrize("measure", MEASURES)
def test_anything_unknown_or_impossible_is_unknown(measure: str) -> None:
    whole = flight(EVENTS["sunset"], 60)
    for name in whole:
        assert np.isnan(one(measure, **whole | {name: NAN})), name
    assert np.isnan(one(measure, **flight(EVENTS["sunset"], -5)))
    assert np.isnan(one(measure, **whole | {"departure_latitude_deg": 95.0}))


def test_the_local_days_follow_the_clock_of_the_take_off() -> None:
    # 20:00 on 4 July in a zone 6 h behind UTC is 02:00Z on the 5th: day 20,638 since 1970 (2026-07-04).
    from riskboard.measures.register_light import flight_day, landing_day  # noqa: PLC0415  - internal quantities

    start = np.asarray([at("2026-07-05T02:00")])
    offset = np.asarray([-6 * HOUR])
    assert flight_day(start, offset).tolist() == [20_638.0]
    assert landing_day(start + 5 * HOUR, offset).tolist() == [20_639.0]
