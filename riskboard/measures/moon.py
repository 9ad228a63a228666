"""Where the moon stands and how much of it is lit: the light that a night flight may have.

The position is the leading part of Meeus' series, good to about 0.05 deg, compared in the tests with JPL DE421. Cloud,
haze and terrain are not in it.
"""

import numpy as np
from numpy.typing import ArrayLike

from riskboard.measures.known import Floats, Number, limited, plain
from riskboard.measures.sun import (
    CENTURY_D,
    Equatorial,
    Instant,
    days_tt,
    local_elevation_rad,
    place,
    sidereal_rad,
    sun_place,
    true_obliquity_rad,
    unix_seconds,
)

_EARTH_RADIUS_KM = 6_378.14
_AU_KM = 149_597_870.7
_MEAN_DISTANCE_M = 385_000_560.0
_BLOCK = 4_096  # instants at a time, so that the terms fit a processor's cache

# Multiples of (elongation, sun's anomaly, moon's anomaly, argument of latitude), then the sine coefficient of the
# longitude in 1e-6 deg and the cosine coefficient of the distance in m.
_LONGITUDE_AND_DISTANCE = (
    (0, 0, 1, 0, 6_288_774, -20_905_355),
    (2, 0, -1, 0, 1_274_027, -3_699_111),
    (2, 0, 0, 0, 658_314, -2_955_968),
    (0, 0, 2, 0, 213_618, -569_925),
    (0, 1, 0, 0, -185_116, 48_888),
    (0, 0, 0, 2, -114_332, -3_149),
    (2, 0, -2, 0, 58_793, 246_158),
    (2, -1, -1, 0, 57_066, -152_138),
    (2, 0, 1, 0, 53_322, -170_733),
    (2, -1, 0, 0, 45_758, -204_586),
    (0, 1, -1, 0, -40_923, -129_620),
    (1, 0, 0, 0, -34_720, 108_743),
    (0, 1, 1, 0, -30_383, 104_755),
    (2, 0, 0, -2, 15_327, 10_321),
    (0, 0, 1, 2, -12_528, 0),
    (0, 0, 1, -2, 10_980, 79_661),
    (4, 0, -1, 0, 10_675, -34_782),
    (0, 0, 3, 0, 10_034, -23_210),
    (4, 0, -2, 0, 8_548, -21_636),
    (2, 1, -1, 0, -7_888, 24_208),
    (2, 1, 0, 0, -6_766, 30_824),
    (1, 0, -1, 0, -5_163, -8_379),
)
_LATITUDE = (
    (0, 0, 0, 1, 5_128_122, 0),
    (0, 0, 1, 1, 280_602, 0),
    (0, 0, 1, -1, 277_693, 0),
    (2, 0, 0, -1, 173_237, 0),
    (2, 0, -1, 1, 55_413, 0),
    (2, 0, -1, -1, 46_271, 0),
    (2, 0, 0, 1, 32_573, 0),
    (0, 0, 2, 1, 17_198, 0),
    (2, 0, 1, -1, 9_266, 0),
    (0, 0, 2, -1, 8_822, 0),
    (2, -1, 0, -1, 8_216, 0),
    (2, 0, -2, -1, 4_324, 0),
)


def moon_elevation_deg(latitude_deg: ArrayLike | None, longitude_deg: ArrayLike | None, at: Instant) -> Number:
    """Elevation of the moon's centre above the horizon at sea level, without refraction.

    Equation: the geocentric elevation from the hour angle, less the parallax asin(6,378 km / distance) * cos h.

    Args:
        latitude_deg: Latitude, -90 to 90 deg, north positive; any shape.
        longitude_deg: Longitude, -180 to 180 deg, east positive; any shape.
        at: UNIX seconds or aware datetimes, 1970 to 2100; any shape.

    Returns:
        Elevation in deg, the broadcast shape; NaN where unknown. Near -0.83 the moon rises or sets.

    Raises:
        ValueError: Outside the ranges, or for a naive datetime.

    Source:
        Meeus, Astronomical Algorithms, 2nd ed. 1998, chapters 40 and 47.
    """
    latitude, longitude = place(latitude_deg, longitude_deg)
    return plain(_elevation_deg(latitude, longitude, unix_seconds(at)))


def moon_illumination_pct(at: Instant) -> Number:
    """How much of the moon's disc is lit, wherever it stands.

    Equation: 50 * (1 + cos i), with the phase angle i from the moon's elongation and the distances of moon and sun.

    Args:
        at: UNIX seconds or aware datetimes, 1970 to 2100; any shape.

    Returns:
        Percent of the disc, 0 to 100, same shape; NaN where unknown. The light on the ground falls faster than this:
        a half moon gives about a tenth of a full one.

    Raises:
        ValueError: Outside the years, or for a naive datetime.

    Source:
        Meeus, Astronomical Algorithms, 2nd ed. 1998, chapter 48.
    """
    at_s = unix_seconds(at)
    sun = sun_place(at_s)
    return plain(_lit_pct(sun, *_moon_place(at_s, sun.obliquity_rad)))


def moonlight_pct(latitude_deg: ArrayLike | None, longitude_deg: ArrayLike | None, at: Instant) -> Number:
    """Lit part of the moon where it is above the horizon, and 0 where it is not: the moonlight one can hope for.

    Args:
        latitude_deg: Latitude, -90 to 90 deg, north positive; any shape.
        longitude_deg: Longitude, -180 to 180 deg, east positive; any shape.
        at: UNIX seconds or aware datetimes, 1970 to 2100; any shape.

    Returns:
        Percent of the disc, 0 to 100, the broadcast shape; NaN where unknown.

    Raises:
        ValueError: Outside the ranges, or for a naive datetime.

    Source:
        `moon_illumination_pct` and `moon_elevation_deg`; setting it to 0 below the horizon is common practice.
    """
    latitude, longitude = place(latitude_deg, longitude_deg)
    at_s = unix_seconds(at)
    return plain(moonlight_rows(latitude, longitude, at_s, sun_place(at_s), sidereal_rad(at_s)))


def moonlight_rows(
    latitude_deg: Floats, longitude_deg: Floats, at_s: Floats, sun: Equatorial, sidereal: Floats
) -> Floats:
    """:func:`moonlight_pct` without the checks, for a place of the sun and a sidereal time that are known already."""
    moon, ecliptic_latitude = _moon_place(at_s, sun.obliquity_rad)
    elevation = _height_deg(latitude_deg, longitude_deg, sidereal, moon)
    # Multiplying keeps an unknown place unknown, which a choice on a comparison would not.
    above = np.where(np.isnan(elevation), np.nan, elevation > 0.0)
    return np.asarray(above * _lit_pct(sun, moon, ecliptic_latitude))


def _elevation_deg(latitude: Floats, longitude: Floats, at_s: Floats) -> Floats:
    moon, _ = _moon_place(at_s, true_obliquity_rad(days_tt(at_s) / CENTURY_D))
    return _height_deg(latitude, longitude, sidereal_rad(at_s), moon)


def _height_deg(latitude: Floats, longitude: Floats, sidereal: Floats, moon: Equatorial) -> Floats:
    height = local_elevation_rad(latitude, longitude, sidereal, moon.right_ascension_rad, moon.declination_rad)
    parallax = np.arcsin(_EARTH_RADIUS_KM / (moon.distance_au * _AU_KM))
    return np.asarray(np.degrees(height - parallax * np.cos(height)))


def _lit_pct(sun: Equatorial, moon: Equatorial, ecliptic_latitude: Floats) -> Floats:
    cos_elongation = np.cos(ecliptic_latitude) * np.cos(moon.longitude_rad - sun.longitude_rad)
    sin_elongation = np.sqrt(limited(1.0 - cos_elongation * cos_elongation, 0.0, 1.0))
    phase = np.arctan2(sun.distance_au * sin_elongation, moon.distance_au - sun.distance_au * cos_elongation)
    return np.asarray(50.0 * (1.0 + np.cos(phase)))


def _moon_place(at_s: Floats, obliquity: Floats) -> tuple[Equatorial, Floats]:
    """Apparent place of the moon, and its ecliptic latitude in rad."""
    t = days_tt(at_s) / CENTURY_D
    mean_longitude = np.radians(218.3164477 + t * (481267.88123421 - t * 0.0015786))
    elongation = np.radians(297.8501921 + t * (445267.1114034 - t * 0.0018819))
    sun_anomaly = np.radians(357.5291092 + t * (35999.0502909 - t * 0.0001536))
    moon_anomaly = np.radians(134.9633964 + t * (477198.8675055 + t * 0.0087414))
    argument = np.radians(93.2720950 + t * (483202.0175233 - t * 0.0036539))
    # Terms with the sun's anomaly shrink with the eccentricity of the earth's orbit.
    shrink = 1.0 - t * (0.002516 + t * 0.0000074)
    arguments = (elongation, sun_anomaly, moon_anomaly, argument)
    longitude_udeg, distance_m, latitude_udeg = _series(arguments, shrink)
    node = np.radians(125.04452 - 1934.136261 * t)
    longitude = mean_longitude + np.radians(longitude_udeg * 1e-6 - 0.00478 * np.sin(node))
    latitude = np.radians(latitude_udeg * 1e-6)
    sine, sin_obliquity, cos_obliquity = np.sin(longitude), np.sin(obliquity), np.cos(obliquity)
    right_ascension = np.arctan2(sine * cos_obliquity - np.tan(latitude) * sin_obliquity, np.cos(longitude))
    declination = np.arcsin(np.sin(latitude) * cos_obliquity + np.cos(latitude) * sin_obliquity * sine)
    distance_au = (_MEAN_DISTANCE_M + distance_m) / 1000.0 / _AU_KM
    return Equatorial(longitude, right_ascension, declination, obliquity, distance_au), latitude


_FIRST = len(_LONGITUDE_AND_DISTANCE)
_MULTIPLES = np.asarray([*_LONGITUDE_AND_DISTANCE, *_LATITUDE], dtype=np.float64).T
_BY_SUN = _MULTIPLES[1] != 0.0


def _series(arguments: tuple[Floats, ...], shrink: Floats) -> tuple[Floats, Floats, Floats]:
    """Sum the terms of longitude (1e-6 deg), distance (m) and latitude (1e-6 deg), worked out together.

    INVARIANT: terms lie along the last axis and are summed there, so that an instant alone and the same instant in a
    batch are added in the same order and agree bit for bit.
    """
    shape = shrink.shape
    flat = [part.reshape(-1, 1) for part in (*arguments, shrink)]
    sums = np.empty((3, shrink.size))
    for start in range(0, shrink.size, _BLOCK):
        part = slice(start, start + _BLOCK)
        d, m, n, f, weight = (column[part] for column in flat)
        angle = d * _MULTIPLES[0] + m * _MULTIPLES[1] + n * _MULTIPLES[2] + f * _MULTIPLES[3]
        factor = np.where(_BY_SUN, weight, 1.0)
        sines = factor * _MULTIPLES[4] * np.sin(angle)
        cosines = factor[:, :_FIRST] * _MULTIPLES[5, :_FIRST] * np.cos(angle[:, :_FIRST])
        sines[:, :_FIRST].sum(axis=-1, out=sums[0, part])
        cosines.sum(axis=-1, out=sums[1, part])
        sines[:, _FIRST:].sum(axis=-1, out=sums[2, part])
    longitude, distance, latitude = sums.reshape(3, *shape)
    return longitude, distance, latitude
