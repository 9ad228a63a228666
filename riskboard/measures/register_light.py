"""Registered measures of light: how near the night is, how much of the flight lies in it, moon, low sun, ground lights.

Light is taken at the departure place for the whole flight, over a flat horizon at sea level. Rows that cannot be (a
landing before the take-off) come out unknown; the worksheet has refused them before.
"""

import numpy as np

from riskboard.measures.daylight import CIVIL_DEG, HORIZON_DEG, crossing_s
from riskboard.measures.known import limited, row_of
from riskboard.measures.moon import moonlight_rows
from riskboard.measures.registry import measure, quantity
from riskboard.measures.sun import (
    TRACK_S,
    Equatorial,
    SunClock,
    clock_elevation_deg,
    noon_near_s,
    sidereal_rad,
    sun_clock,
    sun_place,
)
from riskboard.words import Direction, Group
from riskboard.worksheet.columns import FloatArray

_DAY_S = 86_400.0
_HOUR_S = 3_600.0
_DAY_MIN = 1_440.0
_LONGEST_MIN = 720.0  # the worksheet refuses longer flights
_EARLIEST_S, _LATEST_S = 86_400.0, 4_102_358_400.0  # the years of the sun's algorithm, a day inside
_STEPS = np.linspace(0.0, 1.0, 37)  # every 20 min of the longest flight, 2 to 4 min of a usual one
_HOUR_EITHER_WAY_S = np.asarray([[-_HOUR_S], [0.0], [_HOUR_S]])
# Sunset and civil dusk after the landing, civil dawn before the take-off.
_EVENT_LIMITS_DEG = np.asarray([[HORIZON_DEG], [CIVIL_DEG], [CIVIL_DEG]])
_EVENT_SIDES = np.asarray([[1.0], [1.0], [-1.0]])
_SHARE_LIMITS_DEG = np.asarray([CIVIL_DEG, HORIZON_DEG, 0.0, 10.0])[:, np.newaxis, np.newaxis]
"""Civil night, sunset, and the two ends of a low sun."""

_CIVIL = "14 CFR 1.1: night is the time between the end of evening and the beginning of morning civil twilight"
_SUNSET = "14 CFR 91.209: sunset to sunrise"
_OWN = "common practice, no source"


@quantity
def flight_day(take_off_at: FloatArray, utc_offset_s: FloatArray) -> FloatArray:
    """Local calendar day of the take-off, days since 1970-01-01."""
    return np.floor((take_off_at + utc_offset_s) / _DAY_S)


@quantity
def landing_day(landing_at: FloatArray, utc_offset_s: FloatArray) -> FloatArray:
    """Local calendar day of the landing, on the clock of the take-off, days since 1970-01-01."""
    return np.floor((landing_at + utc_offset_s) / _DAY_S)


@quantity
def flight_min(take_off_at: FloatArray, landing_at: FloatArray) -> FloatArray:
    """Planned time from take-off to landing, min; unknown where the landing is not after the take-off."""
    minutes = (landing_at - take_off_at) / 60.0
    return np.where(minutes > 0.0, minutes, np.nan)


@quantity
def light_place(
    departure_latitude_deg: FloatArray,
    departure_longitude_deg: FloatArray,
    take_off_at: FloatArray,
    flight_min: FloatArray,
) -> FloatArray:
    """Latitude, longitude, take-off (UNIX s), duration (min), shape (4, rows); unknown together where one cannot be."""
    real = (np.abs(departure_latitude_deg) <= 90.0) & (np.abs(departure_longitude_deg) <= 180.0)  # noqa: PLR2004  - the globe
    real &= (take_off_at >= _EARLIEST_S) & (take_off_at <= _LATEST_S) & (flight_min <= _LONGEST_MIN)
    whole = np.array((departure_latitude_deg, departure_longitude_deg, take_off_at, flight_min))
    return np.where(real, whole, np.nan)


@quantity
def light_sky(light_place: FloatArray) -> FloatArray:
    """Sun's place (the parts of ``Equatorial``), sidereal time and UNIX s at four moments, shape (7, 4, rows).

    The moments are take-off, the middle of the flight, the landing, and six hours after take-off.
    """
    _, _, start, minutes = light_place
    length = minutes * 60.0
    moments = np.array((start, start + length * 0.5, start + length, start + TRACK_S))
    return np.array((*sun_place(moments), sidereal_rad(moments), moments))


@quantity
def light_clock(light_sky: FloatArray) -> FloatArray:
    """The sun's straight lines from take-off on, the parts of ``SunClock``, shape (4, rows)."""
    _, right_ascension, declination, _, _, sidereal, _ = light_sky[:, ::3]
    return np.array(sun_clock(sidereal, right_ascension, declination))


@quantity
def sun_track_deg(light_place: FloatArray, light_clock: FloatArray) -> FloatArray:
    """Sun's elevation along the flight, an hour before, at and an hour after each point, shape (rows, 3, points)."""
    latitude, longitude, _, minutes = light_place
    flown = (minutes * 60.0)[:, np.newaxis, np.newaxis] * _STEPS
    return clock_elevation_deg(SunClock(*light_clock), latitude, longitude, flown + _HOUR_EITHER_WAY_S)


@quantity
def light_events_min(light_place: FloatArray, light_clock: FloatArray, sun_track_deg: FloatArray) -> FloatArray:
    """Minutes from landing to sunset, from landing to civil dusk, and from civil dawn to take-off, shape (3, rows).

    They are those of the local solar day (midnight to midnight by the sun), except that in the dark they are those of
    the night itself: a landing before dawn counts from the dusk before it, a take-off after dusk from the dawn after
    it. So each is negative in the dark. Where there is none, darkness takes the worst end and light the best.
    """
    latitude, longitude, start, minutes = light_place
    end = start + minutes * 60.0
    noon = noon_near_s(SunClock(*light_clock), longitude, start)
    landing_noon = noon + np.rint((end - noon) / _DAY_S) * _DAY_S
    moments, noons = np.array((end, end, start)), np.array((landing_noon, landing_noon, noon))
    dark = sun_track_deg[:, 1, [-1, -1, 0]].T <= _EVENT_LIMITS_DEG
    beyond = dark & ((moments - noons) * _EVENT_SIDES < 0.0)
    noons = noons - np.where(beyond, _EVENT_SIDES * _DAY_S, 0.0)
    events = crossing_s(latitude, longitude, noons, _EVENT_SIDES, _EVENT_LIMITS_DEG)
    found = limited((events - moments) * _EVENT_SIDES / 60.0, -_DAY_MIN, _DAY_MIN)
    none = np.where(np.isnan(moments + longitude), np.nan, np.where(dark, -_DAY_MIN, _DAY_MIN))
    return np.where(np.isnan(events), none, found)


@quantity
def shares_below(sun_track_deg: FloatArray) -> FloatArray:
    """Share of the flight with the sun at or below each of ``_SHARE_LIMITS_DEG``, shape (4, rows)."""
    return _share_below(sun_track_deg[:, 1] - _SHARE_LIMITS_DEG)


@measure(
    "from landing to sunset",
    "min",
    worse=Direction.lower,
    valid=(-_DAY_MIN, _DAY_MIN),
    group=Group.environment,
    source=_SUNSET,
    decimals=1,
)
def landing_before_sunset_min(light_events_min: FloatArray) -> FloatArray:
    """Minutes from the planned landing to sunset; negative between sunset and sunrise, counted from that sunset.

    1,440 in the midnight sun, -1,440 where the sun does not rise.
    """
    return row_of(light_events_min, 0)


@measure(
    "from landing to the end of evening civil twilight",
    "min",
    worse=Direction.lower,
    valid=(-_DAY_MIN, _DAY_MIN),
    group=Group.environment,
    source=_CIVIL,
    decimals=1,
)
def landing_before_civil_dusk_min(light_events_min: FloatArray) -> FloatArray:
    """Minutes from the planned landing to the end of evening civil twilight; negative in the night, counted from there.

    1,440 where it does not get dark, -1,440 where it does not get light.
    """
    return row_of(light_events_min, 1)


@measure(
    "from the beginning of morning civil twilight to take-off",
    "min",
    worse=Direction.lower,
    valid=(-_DAY_MIN, _DAY_MIN),
    group=Group.environment,
    source=_CIVIL,
    decimals=1,
)
def take_off_after_civil_dawn_min(light_events_min: FloatArray) -> FloatArray:
    """Minutes from the beginning of morning civil twilight to take-off; negative in the night, up to the next dawn.

    1,440 where it does not get dark, -1,440 where it does not get light.
    """
    return row_of(light_events_min, 2)


@measure(
    "flight in civil night",
    "min",
    worse=Direction.higher,
    valid=(0, _LONGEST_MIN),
    group=Group.environment,
    source=_CIVIL,
    decimals=1,
)
def civil_night_min(shares_below: FloatArray, flight_min: FloatArray) -> FloatArray:
    """Minutes of the flight with the sun more than 6 deg below the horizon."""
    return row_of(shares_below, 0) * flight_min


@measure(
    "flight between sunset and sunrise",
    "min",
    worse=Direction.higher,
    valid=(0, _LONGEST_MIN),
    group=Group.environment,
    source=_SUNSET,
    decimals=1,
)
def after_sunset_min(shares_below: FloatArray, flight_min: FloatArray) -> FloatArray:
    """Minutes of the flight with the sun below the horizon."""
    return row_of(shares_below, 1) * flight_min


@measure(
    "flight in the night of passenger currency",
    "min",
    worse=Direction.higher,
    valid=(0, _LONGEST_MIN),
    group=Group.environment,
    source="14 CFR 61.57(b)(1): from 1 hour after sunset to 1 hour before sunrise",
    decimals=1,
)
def currency_night_min(sun_track_deg: FloatArray, flight_min: FloatArray) -> FloatArray:
    """Minutes of the flight more than an hour after sunset and more than an hour before sunrise.

    A take-off or landing inside counts as a tenth of a minute at least, since the rule speaks of those. A polar day
    shorter than the hour before and after it is taken as night.
    """
    highest = sun_track_deg.max(axis=1)
    minutes = _share_below(highest - HORIZON_DEG) * flight_min
    touched = (highest[:, 0] <= HORIZON_DEG) | (highest[:, -1] <= HORIZON_DEG)
    return np.where(touched, np.maximum(minutes, 0.1), minutes)


@measure(
    "moonlight",
    "%",
    worse=Direction.lower,
    valid=(0, 100),
    group=Group.environment,
    source="Meeus, Astronomical Algorithms, 2nd ed. 1998, chapters 47 and 48; 0 below the horizon is common practice",
)
def moon_illumination_pct(light_place: FloatArray, light_sky: FloatArray) -> FloatArray:
    """Lit part of the moon's disc, 0 while it is below the horizon: the least of take-off, middle and landing."""
    *sun, sidereal, moments = light_sky[:, :3]
    light = moonlight_rows(light_place[0], light_place[1], moments, Equatorial(*sun), sidereal)
    return np.asarray(light.min(axis=0))


@measure(
    "flight with a low sun ahead or behind",
    "min",
    worse=Direction.higher,
    valid=(0, _LONGEST_MIN),
    group=Group.environment,
    source=_OWN,
    decimals=1,
)
def low_sun_min(shares_below: FloatArray, flight_min: FloatArray) -> FloatArray:
    """Minutes of the flight with the sun 0 to 10 deg above the horizon, where it blinds and hides wires."""
    return (row_of(shares_below, 3) - row_of(shares_below, 2)) * flight_min


@measure(
    "lights on the ground",
    "",
    worse=Direction.higher,
    valid=(0, 2),
    group=Group.environment,
    source="14 CFR 135.207, as a model: visual surface light reference at night (wording from memory)",
    words={0: "good", 1: "some", 2: "few or none"},
)
def ground_lights_level(ground_lights: FloatArray) -> FloatArray:
    """0 good, 1 some, 2 few or none."""
    return ground_lights


@measure(
    "loose landing surface",
    "",
    worse=Direction.higher,
    valid=(0, 2),
    group=Group.environment,
    source="FAA-H-8083-21 on brownout and whiteout (from memory)",
    words={0: "firm", 1: "rough", 2: "loose dust, sand or snow"},
)
def loose_surface(site_surface: FloatArray) -> FloatArray:
    """0 for a firm surface (paved, grass), 1 for a rough one, 2 for loose dust, sand or snow."""
    return limited(site_surface - 1.0, 0.0, 2.0)


def _share_below(above: FloatArray) -> FloatArray:
    """Share of tracks at or below 0, straight between their points; shape (..., points) to (...)."""
    size = np.abs(above)
    size = size[..., :-1] + size[..., 1:]
    depth = np.maximum(-above, 0.0)
    below = depth[..., :-1] + depth[..., 1:]
    return np.asarray(np.where(size == 0.0, 1.0, below / size).sum(axis=-1) / size.shape[-1])
