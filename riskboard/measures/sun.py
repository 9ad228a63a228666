"""Where the sun stands: position, elevation and hour angle for arrays of instants.

Instants are float64 UNIX seconds (UTC) or aware datetimes. The algorithm is Meeus' low-accuracy sun, about 0.01 deg or
2 to 4 s of time at middle latitudes, compared in the tests with JPL DE421.
"""

from collections.abc import Iterable
from datetime import datetime
from typing import NamedTuple, TypeGuard

import numpy as np
from numpy.typing import ArrayLike, NDArray

from riskboard.measures.known import Floats, Number, checked, limited, plain

Instant = datetime | Iterable[datetime | None] | ArrayLike | None

J2000_S = 946_728_000.0  # 2000-01-01T12:00Z in UNIX seconds
DAY_S = 86_400.0
CENTURY_D = 36_525.0
DEG_PER_S = 360.0 / DAY_S
_TT_MINUS_UTC_S = 69.2  # since 2017; the sun moves 0.04 deg an hour, so a few seconds either way do not matter
_FIRST_S, _LAST_S = 0.0, 4_102_444_800.0  # 1970 to 2100
TRACK_S = 21_600.0
PARALLAX_DEG = 8.794 / 3600.0


class Equatorial(NamedTuple):
    """An apparent geocentric place: ecliptic longitude, right ascension, declination, true obliquity, distance."""

    longitude_rad: Floats
    right_ascension_rad: Floats
    declination_rad: Floats
    obliquity_rad: Floats
    distance_au: Floats


def unix_seconds(at: Instant) -> Floats:
    """Read instants as UNIX seconds.

    Args:
        at: UNIX seconds (UTC), 1970 to 2100, an aware datetime, or an array or sequence of either; None or NaN is
            unknown.

    Returns:
        float64 array, zero-dimensional for a single instant.

    Raises:
        ValueError: For a naive datetime, or outside the years, for instance when the number is in milliseconds.
    """
    if isinstance(at, datetime):
        return checked("at", _stamp(at), at_least=_FIRST_S, up_to=_LAST_S)
    if _holds_datetimes(at):
        items = np.asarray(at, dtype=object)
        stamps = [np.nan if item is None else _stamp(item) for item in items.ravel()]
        return checked("at", np.reshape(np.asarray(stamps, dtype=np.float64), items.shape), at_least=0.0, up_to=_LAST_S)
    return checked("at", at, at_least=_FIRST_S, up_to=_LAST_S)  # type: ignore[arg-type]  # what is left is numbers


def place(latitude_deg: ArrayLike | None, longitude_deg: ArrayLike | None) -> tuple[Floats, Floats]:
    """Read a place, refusing what is not on the globe.

    Args:
        latitude_deg: Latitude, -90 to 90 deg, north positive; any shape.
        longitude_deg: Longitude, -180 to 180 deg, east positive; any shape.

    Returns:
        Both as float64 arrays.

    Raises:
        ValueError: Outside the ranges.
    """
    latitude = checked("latitude_deg", latitude_deg, at_least=-90.0, up_to=90.0)
    return latitude, checked("longitude_deg", longitude_deg, at_least=-180.0, up_to=180.0)


def days_tt(at_s: Floats) -> Floats:
    """Days of terrestrial time since J2000.0."""
    return np.asarray((at_s - J2000_S + _TT_MINUS_UTC_S) / DAY_S)


def node_rad(centuries: Floats) -> Floats:
    """Mean longitude of the moon's ascending node, which drives the nutation.

    Source:
        Meeus, Astronomical Algorithms, 2nd ed. 1998, chapter 25.
    """
    return np.asarray(np.radians(125.04 - 1934.136 * centuries))


def sun_place(at_s: Floats) -> Equatorial:
    """Apparent place of the sun.

    Equation: mean longitude and anomaly, equation of the centre, aberration, and the largest term of the nutation.

    Args:
        at_s: UNIX seconds; any shape.

    Returns:
        Apparent place, each part of the same shape.

    Source:
        Meeus, Astronomical Algorithms, 2nd ed. 1998, chapter 25, low accuracy (coefficients from memory; compared
        with JPL DE421 in the tests).
    """
    t = days_tt(at_s) / CENTURY_D
    constant, per_century, per_century2 = _SUN_TERMS.reshape(3, -1, *[1] * t.ndim)
    terms = constant + t * (per_century + t * per_century2)
    mean_longitude_deg, first, second, eccentricity, mean_obliquity_deg = terms[2:]
    anomaly, node = np.radians(terms[:2])
    centre_deg = first * np.sin(anomaly) + second * np.sin(2.0 * anomaly) + 0.000289 * np.sin(3.0 * anomaly)
    longitude = np.radians(mean_longitude_deg + centre_deg - 0.00569 - 0.00478 * np.sin(node))
    obliquity = np.radians(mean_obliquity_deg + 0.00256 * np.cos(node))
    sine = np.sin(longitude)
    right_ascension = np.arctan2(np.cos(obliquity) * sine, np.cos(longitude))
    declination = np.arcsin(np.sin(obliquity) * sine)
    true_anomaly = anomaly + np.radians(centre_deg)
    distance = 1.000001018 * (1.0 - eccentricity * eccentricity) / (1.0 + eccentricity * np.cos(true_anomaly))
    return Equatorial(longitude, right_ascension, declination, obliquity, distance)


# The sun's terms as constant, per century and per century squared, in the order of the columns of `sun_place`.
_SUN_TERMS = np.asarray(
    [
        (357.52911, 35999.05029, -0.0001537),  # mean anomaly, deg
        (125.04, -1934.136, 0.0),  # the moon's ascending node, deg
        (280.46646, 36000.76983, 0.0003032),  # mean longitude, deg
        (1.914602, -0.004817, -0.000014),  # equation of the centre: factor of the sine of the anomaly, deg
        (0.019993, -0.000101, 0.0),  # and of the sine of twice the anomaly
        (0.016708634, -0.000042037, -0.0000001267),  # eccentricity
        (23.4392911, -0.0130042, 0.0),  # mean obliquity, deg
    ]
).T.copy()


def true_obliquity_rad(centuries: Floats) -> Floats:
    """Obliquity of the ecliptic with the largest term of the nutation.

    Source:
        Meeus, Astronomical Algorithms, 2nd ed. 1998, chapters 22 and 25.
    """
    return _obliquity_rad(centuries, node_rad(centuries))


def _obliquity_rad(centuries: Floats, node: Floats) -> Floats:
    return np.asarray(np.radians(23.4392911 - 0.0130042 * centuries + 0.00256 * np.cos(node)))


def sidereal_rad(at_s: Floats) -> Floats:
    """Apparent sidereal time at Greenwich, UT1 taken as UTC (they differ by less than 0.9 s).

    Source:
        Meeus, Astronomical Algorithms, 2nd ed. 1998, chapter 12.
    """
    days = (at_s - J2000_S) / DAY_S
    t = days / CENTURY_D
    mean_deg = 280.46061837 + np.mod(360.98564736629 * days, 360.0)
    node = node_rad(t)
    nutation_deg = -0.00478 * np.sin(node) * np.cos(_obliquity_rad(t, node))
    return np.asarray(np.radians(mean_deg + nutation_deg))


def local_elevation_rad(
    latitude_deg: Floats, longitude_deg: Floats, sidereal: Floats, right_ascension_rad: Floats, declination_rad: Floats
) -> Floats:
    """Geometric elevation, seen from the earth's centre, of a place in the sky at a sidereal time at Greenwich."""
    latitude = np.radians(latitude_deg)
    hour_angle = sidereal + np.radians(longitude_deg) - right_ascension_rad
    return np.asarray(np.arcsin(elevation_sine(latitude, hour_angle, declination_rad)))


def elevation_sine(latitude_rad: Floats, hour_angle_rad: Floats, declination_rad: Floats) -> Floats:
    """Sine of the geometric elevation, held within -1 and 1 against the last binary digit."""
    sine = np.sin(latitude_rad) * np.sin(declination_rad)
    sine = sine + np.cos(latitude_rad) * np.cos(declination_rad) * np.cos(hour_angle_rad)
    return limited(sine, -1.0, 1.0)


def elevation_deg(latitude_deg: Floats, longitude_deg: Floats, at_s: Floats) -> Floats:
    """Elevation of the sun's centre for checked arguments; see `sun_elevation_deg`."""
    sun = sun_place(at_s)
    return elevation_at_deg(latitude_deg, longitude_deg, sidereal_rad(at_s), sun)


def elevation_at_deg(latitude_deg: Floats, longitude_deg: Floats, sidereal: Floats, sun: Equatorial) -> Floats:
    """Elevation of the sun's centre for a place of the sun and a sidereal time that are known already."""
    height = local_elevation_rad(latitude_deg, longitude_deg, sidereal, sun.right_ascension_rad, sun.declination_rad)
    return np.asarray(np.degrees(height) - PARALLAX_DEG * np.cos(height))


class SunClock(NamedTuple):
    """Hour angle at Greenwich and declination, each in a straight line from a start and the place six hours later.

    Attributes:
        angle_rad: Hour angle at the start.
        turned_rad: How far it turns in the six hours.
        declination_rad: Declination at the start.
        climbed_rad: How much it changes in the six hours.
    """

    angle_rad: Floats
    turned_rad: Floats
    declination_rad: Floats
    climbed_rad: Floats


def sun_clock(sidereal: Floats, right_ascension_rad: Floats, declination_rad: Floats) -> SunClock:
    """The clock from exact values at a start and ``TRACK_S`` later, each of shape (2, rows)."""
    angle = sidereal - right_ascension_rad
    turned = np.mod(angle[1] - angle[0], 2.0 * np.pi)
    return SunClock(angle[0], turned, declination_rad[0], declination_rad[1] - declination_rad[0])


def noon_near_s(clock: SunClock, longitude_deg: Floats, start_s: Floats) -> Floats:
    """The true local noon nearest to the clock's start; within half a second of :func:`true_noon_s`."""
    hour_angle = clock.angle_rad + np.radians(longitude_deg)
    return start_s - (np.mod(hour_angle + np.pi, 2.0 * np.pi) - np.pi) / clock.turned_rad * TRACK_S


def elevation_track_deg(latitude_deg: Floats, longitude_deg: Floats, start_s: Floats, at_s: Floats) -> Floats:
    """Elevations of the sun at many instants near a start, for checked arguments.

    Hour angle and declination are carried on in a straight line from the start and the place six hours later, which
    costs a fraction of a full position and stays within 0.002 deg of it for 13 hours either way.

    Args:
        latitude_deg: Latitude, shape (rows,).
        longitude_deg: Longitude, shape (rows,).
        start_s: UNIX seconds, shape (rows,).
        at_s: UNIX seconds within 13 h of the start, shape (rows, ...).

    Returns:
        Elevations in deg, the shape of ``at_s``; NaN in a row with anything unknown.
    """
    moments = np.array((start_s, start_s + TRACK_S))
    sun = sun_place(moments)
    clock = sun_clock(sidereal_rad(moments), sun.right_ascension_rad, sun.declination_rad)
    extra = (...,) + (np.newaxis,) * (at_s.ndim - start_s.ndim)
    return clock_elevation_deg(clock, latitude_deg, longitude_deg, at_s - start_s[extra])


def clock_elevation_deg(clock: SunClock, latitude_deg: Floats, longitude_deg: Floats, since_s: Floats) -> Floats:
    """Elevations of the sun by a clock: place of shape (rows,), seconds since its start of shape (rows, ...)."""
    extra = (...,) + (np.newaxis,) * (since_s.ndim - latitude_deg.ndim)
    part = since_s / TRACK_S
    hour_angle = (clock.angle_rad + np.radians(longitude_deg))[extra] + clock.turned_rad[extra] * part
    declination = clock.declination_rad[extra] + clock.climbed_rad[extra] * part
    sine = elevation_sine(np.radians(latitude_deg)[extra], hour_angle, declination)
    # The cosine of an arc sine, without the cost of a cosine.
    return np.asarray(np.degrees(np.arcsin(sine)) - PARALLAX_DEG * np.sqrt(1.0 - sine * sine))


def hour_angle_deg(longitude_deg: Floats, at_s: Floats) -> Floats:
    """Local hour angle of the sun, -180 to 180 deg, negative before the true local noon."""
    angle = np.degrees(sidereal_rad(at_s) - sun_place(at_s).right_ascension_rad) + longitude_deg
    return np.asarray(np.mod(angle + 180.0, 360.0) - 180.0)


def true_noon_s(longitude_deg: Floats, near_s: Floats) -> Floats:
    """The true local noon nearest to an instant, to well under a second."""
    noon = near_s - hour_angle_deg(longitude_deg, near_s) / DEG_PER_S
    return np.asarray(noon - hour_angle_deg(longitude_deg, noon) / DEG_PER_S)


def sun_elevation_deg(latitude_deg: ArrayLike | None, longitude_deg: ArrayLike | None, at: Instant) -> Number:
    """Elevation of the sun's centre above the horizon at sea level, without refraction.

    Equation: sin h = sin(latitude) sin(declination) + cos(latitude) cos(declination) cos(hour angle), less parallax.

    Args:
        latitude_deg: Latitude, -90 to 90 deg, north positive; any shape.
        longitude_deg: Longitude, -180 to 180 deg, east positive; any shape.
        at: UNIX seconds or aware datetimes, 1970 to 2100; any shape.

    Returns:
        Elevation in deg, the broadcast shape; NaN where unknown. Sunrise and sunset are at -0.8333, the ends of civil
        twilight at -6.

    Raises:
        ValueError: Outside the ranges, or for a naive datetime.

    Source:
        Meeus, Astronomical Algorithms, 2nd ed. 1998, chapters 12, 13 and 25.
    """
    latitude, longitude = place(latitude_deg, longitude_deg)
    return plain(elevation_deg(latitude, longitude, unix_seconds(at)))


def _stamp(moment: datetime) -> float:
    if moment.tzinfo is None:
        raise ValueError(f"at must be an aware datetime, got {moment.isoformat()} without a time zone")
    return moment.timestamp()


def _holds_datetimes(at: Instant) -> TypeGuard[NDArray[np.object_]]:
    items = np.asarray(at)
    return items.dtype.kind == "O" and any(isinstance(item, datetime) for item in items.ravel())
