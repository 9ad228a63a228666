"""Sunrise, sunset, civil twilight, and the three nights that must never share one flag.

| night | from | to | rule |
| --- | --- | --- | --- |
| lights | sunset | sunrise | 14 CFR 91.209 |
| logging | end of evening civil twilight | beginning of morning civil twilight | 14 CFR 1.1 |
| currency | 1 h after sunset | 1 h before sunrise | 14 CFR 61.57(b) |

At high latitudes none of the last two contains the other. Horizons are at sea level and flat: in a valley it is dark
earlier. All functions but `sun_events` take scalars or arrays, broadcast them, and answer NaN where an input is
unknown; `at` is UNIX seconds (UTC) or aware datetimes.
"""

from datetime import UTC, date, datetime
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from riskboard.measures.known import Floats, Number, limited, plain
from riskboard.measures.sun import (
    DAY_S,
    DEG_PER_S,
    PARALLAX_DEG,
    Instant,
    elevation_at_deg,
    elevation_deg,
    hour_angle_deg,
    place,
    sidereal_rad,
    sun_elevation_deg,
    sun_place,
    true_noon_s,
    unix_seconds,
)

__all__ = [
    "MINUTES_PER_DAY",
    "SunEventTimes",
    "SunEvents",
    "is_night_for_currency",
    "is_night_for_lights",
    "is_night_for_logging",
    "minutes_to_night",
    "sun_elevation_deg",
    "sun_event_times_s",
    "sun_events",
]

Night = Literal["lights", "logging", "currency"]

HORIZON_DEG = -0.8333  # refraction and the sun's half-width, the convention of the US Naval Observatory
CIVIL_DEG = -6.0
MINUTES_PER_DAY = 1_440.0
_HALF_DAY_S = DAY_S / 2.0
_HOUR_S = 3_600.0
_SETTLED_DEG = 1e-5  # about 2.4 ms of time at the equator
_NEARLY_DEG = 1e-3  # one correction from here ends within the above, unless the sun moves along the limit
_STEEP_DEG_S = 0.1 * DEG_PER_S
_GUESSES = 2  # the second sees the declination of the time that the first found
_QUICK_STEPS = 6  # one or two are usual away from grazing
_MOST_STEPS = 60  # eight are usual; the bracket guarantees an end
_SLOWEST = 0.01  # keeps the correction finite where the sun only grazes the limit
_SAME_MOMENT_S = 60.0  # where the sun grazes a limit, its elevation and the crossing can disagree by some seconds
_DEGREES_BELOW: dict[Night, float] = {"lights": HORIZON_DEG, "logging": CIVIL_DEG, "currency": HORIZON_DEG}
_MARGIN_S: dict[Night, float] = {"lights": 0.0, "logging": 0.0, "currency": _HOUR_S}


class SunEvents(NamedTuple):
    """Events of one local solar day in UTC, to the second; None for an event that does not occur."""

    sunrise: datetime | None
    sunset: datetime | None
    civil_dawn: datetime | None
    civil_dusk: datetime | None


class SunEventTimes(NamedTuple):
    """Events of local solar days in UNIX seconds; NaN for an event that does not occur or is unknown."""

    sunrise_s: Number
    sunset_s: Number
    civil_dawn_s: Number
    civil_dusk_s: Number


def sun_events(latitude_deg: float, longitude_deg: float, date: date) -> SunEvents:
    """Sunrise, sunset and civil twilight of one place and date.

    The local solar day of the date: dawn and sunrise lie in the 12 h before the true local noon, sunset and dusk in the
    12 h after it, whatever UTC date that gives.

    Args:
        latitude_deg: Latitude, -90 to 90 deg, north positive.
        longitude_deg: Longitude, -180 to 180 deg, east positive.
        date: Local calendar date at the place, 1970-01-02 to 2099-12-30.

    Returns:
        Aware UTC datetimes to the second. None means that the event does not occur, as in the midnight sun.

    Raises:
        ValueError: Outside the ranges, or for an unknown place, because None would read as "does not occur".

    Source:
        Definitions of the US Naval Observatory (centre of the sun at -0.8333 and -6 deg, horizon at sea level);
        position by Meeus, Astronomical Algorithms, 2nd ed. 1998, chapter 25.
    """
    latitude, longitude = place(latitude_deg, longitude_deg)
    for name, value in (("latitude_deg", latitude), ("longitude_deg", longitude)):
        if value.ndim or np.isnan(value):
            raise ValueError(f"{name} must be one known number, got {value}")
    midday_utc = datetime(date.year, date.month, date.day, 12, tzinfo=UTC).timestamp()
    times = sun_event_times_s(latitude, longitude, midday_utc - longitude / DEG_PER_S)
    return SunEvents(*(_moment(float(time)) for time in times))


def sun_event_times_s(latitude_deg: ArrayLike | None, longitude_deg: ArrayLike | None, near: Instant) -> SunEventTimes:
    """Sunrise, sunset and civil twilight of the local solar days that hold the given instants.

    Equation: the true local noon nearest to the instant, then the crossing of -0.8333 or -6 deg in the 12 h before and
    after it by a bracketed false position, so that grazing cases near the polar circles are found or ruled out.

    Args:
        latitude_deg: Latitude, -90 to 90 deg, north positive; any shape.
        longitude_deg: Longitude, -180 to 180 deg, east positive; any shape.
        near: Instants inside the local solar day (midnight to midnight by the sun), as `at`; any shape.

    Returns:
        UNIX seconds, the broadcast shape; NaN where the event does not occur or an input is unknown. Who must tell the
        two apart asks `is_night_for_lights` and its like, which know the difference.

    Raises:
        ValueError: Outside the ranges.

    Source:
        As `sun_events`.
    """
    latitude, longitude, near_s = np.broadcast_arrays(*place(latitude_deg, longitude_deg), unix_seconds(near))
    noon = true_noon_s(longitude, near_s)
    return SunEventTimes(
        plain(_rising_s(latitude, longitude, noon, HORIZON_DEG)),
        plain(_setting_s(latitude, longitude, noon, HORIZON_DEG)),
        plain(_rising_s(latitude, longitude, noon, CIVIL_DEG)),
        plain(_setting_s(latitude, longitude, noon, CIVIL_DEG)),
    )


def is_night_for_lights(latitude_deg: ArrayLike | None, longitude_deg: ArrayLike | None, at: Instant) -> Number:
    """Whether position lights must be on: sunset to sunrise.

    Args:
        latitude_deg: Latitude, -90 to 90 deg, north positive; any shape.
        longitude_deg: Longitude, -180 to 180 deg, east positive; any shape.
        at: UNIX seconds or aware datetimes; any shape.

    Returns:
        1.0, 0.0, or NaN where an input is unknown; the broadcast shape.

    Raises:
        ValueError: Outside the ranges, or for a naive datetime.

    Source:
        14 CFR 91.209.
    """
    return plain(_is_night(*_where_and_when(latitude_deg, longitude_deg, at), "lights"))


def is_night_for_logging(latitude_deg: ArrayLike | None, longitude_deg: ArrayLike | None, at: Instant) -> Number:
    """Whether it is night by definition: end of evening to beginning of morning civil twilight.

    This night is logged, counts for the required equipment, and is the night of the visibility minima.

    Args:
        latitude_deg: Latitude, -90 to 90 deg, north positive; any shape.
        longitude_deg: Longitude, -180 to 180 deg, east positive; any shape.
        at: UNIX seconds or aware datetimes; any shape.

    Returns:
        1.0, 0.0, or NaN where an input is unknown; the broadcast shape.

    Raises:
        ValueError: Outside the ranges, or for a naive datetime.

    Source:
        14 CFR 1.1.
    """
    return plain(_is_night(*_where_and_when(latitude_deg, longitude_deg, at), "logging"))


def is_night_for_currency(latitude_deg: ArrayLike | None, longitude_deg: ArrayLike | None, at: Instant) -> Number:
    """Whether carrying passengers needs night landings: 1 h after sunset to 1 h before sunrise, both ends included.

    Equation: the sun stays below -0.8333 deg from one hour before the instant to one hour after it. Where the sun does
    not rise for days, that holds all day long, civil twilight at noon included.

    Args:
        latitude_deg: Latitude, -90 to 90 deg, north positive; any shape.
        longitude_deg: Longitude, -180 to 180 deg, east positive; any shape.
        at: UNIX seconds or aware datetimes; any shape.

    Returns:
        1.0, 0.0, or NaN where an input is unknown; the broadcast shape.

    Raises:
        ValueError: Outside the ranges, or for a naive datetime.

    Source:
        14 CFR 61.57(b)(1).
    """
    return plain(_is_night(*_where_and_when(latitude_deg, longitude_deg, at), "currency"))


def minutes_to_night(
    latitude_deg: ArrayLike | None, longitude_deg: ArrayLike | None, at: Instant, night: Night = "logging"
) -> Number:
    """Minutes until a night begins; zero or negative while it is night, counted from when that night began.

    Held to one day either way: 1,440 says that no night begins within a day, -1,440 that it has been night for a day.

    Args:
        latitude_deg: Latitude, -90 to 90 deg, north positive; any shape.
        longitude_deg: Longitude, -180 to 180 deg, east positive; any shape.
        at: UNIX seconds or aware datetimes; any shape.
        night: "logging" (end of evening civil twilight), "currency" (1 h after sunset) or "lights" (sunset).

    Returns:
        Minutes, -1,440 to 1,440, the broadcast shape; NaN where an input is unknown.

    Raises:
        ValueError: Outside the ranges, for a naive datetime, or for another night.

    Source:
        14 CFR 1.1, 61.57(b)(1), 91.209.
    """
    if night not in _DEGREES_BELOW:
        raise ValueError(f"night must be one of {', '.join(_DEGREES_BELOW)}, got {night!r}")
    latitude, longitude, at_s = _where_and_when(latitude_deg, longitude_deg, at)
    dark = _is_night(latitude, longitude, at_s, night)
    noon = true_noon_s(longitude, at_s)
    began = np.full(at_s.shape, -np.inf)
    begins = np.full(at_s.shape, np.inf)
    for day in (-1.0, 0.0, 1.0):
        start = _night_start_s(latitude, longitude, true_noon_s(longitude, noon + day * DAY_S), night)
        began = np.where(start <= at_s + _SAME_MOMENT_S, np.maximum(began, start), began)
        begins = np.where(start >= at_s - _SAME_MOMENT_S, np.minimum(begins, start), begins)
    since, until = np.minimum(began - at_s, 0.0), np.maximum(begins - at_s, 0.0)
    minutes = np.where(dark == 1.0, since, until) / 60.0
    limited = np.clip(minutes, -MINUTES_PER_DAY, MINUTES_PER_DAY)
    return plain(np.where(np.isnan(dark), np.nan, limited))


def _where_and_when(
    latitude_deg: ArrayLike | None, longitude_deg: ArrayLike | None, at: Instant
) -> tuple[Floats, Floats, Floats]:
    latitude, longitude, at_s = np.broadcast_arrays(*place(latitude_deg, longitude_deg), unix_seconds(at))
    return latitude, longitude, at_s


def _is_night(latitude: Floats, longitude: Floats, at_s: Floats, night: Night) -> Floats:
    """The sun is down at the instant, and for the currency night at every moment within an hour of it."""
    highest = elevation_deg(latitude, longitude, at_s)
    margin = _MARGIN_S[night]
    if margin:
        noon = at_s - hour_angle_deg(longitude, at_s) / DEG_PER_S
        # Within the hour the sun is highest at an end, or at noon where that falls inside (a polar day under an hour).
        for moment in (at_s - margin, at_s + margin, np.clip(noon, at_s - margin, at_s + margin)):
            highest = np.maximum(highest, elevation_deg(latitude, longitude, moment))
    down = highest <= _DEGREES_BELOW[night]
    return np.asarray(np.where(np.isnan(highest), np.nan, down.astype(np.float64)))


def _night_start_s(latitude: Floats, longitude: Floats, noon: Floats, night: Night) -> Floats:
    """When the night after a noon begins, NaN where none does."""
    margin = _MARGIN_S[night]
    start = _setting_s(latitude, longitude, noon, _DEGREES_BELOW[night]) + margin
    if not margin:
        return start
    morning = _rising_s(latitude, longitude, true_noon_s(longitude, noon + DAY_S), _DEGREES_BELOW[night])
    # An hour after sunset may already be less than an hour before sunrise: then there is no such night.
    return np.asarray(np.where(morning - margin < start, np.nan, start))


def _rising_s(latitude: Floats, longitude: Floats, noon: Floats, degrees: float) -> Floats:
    return crossing_s(latitude, longitude, noon, -1.0, degrees)


def _setting_s(latitude: Floats, longitude: Floats, noon: Floats, degrees: float) -> Floats:
    return crossing_s(latitude, longitude, noon, 1.0, degrees)


def crossing_s(
    latitude: ArrayLike, longitude: ArrayLike, noon: ArrayLike, side: ArrayLike, degrees: ArrayLike
) -> Floats:
    """When the sun crosses an elevation within half a day of a true local noon, for checked arguments.

    Equation: carry hour angle and declination in a straight line through the half day, solve for the hour angle of the
    limit, then correct by the exact elevation over its rate of change. Where that does not settle, because the sun only
    grazes the limit, a bracketed search takes over.

    Args:
        latitude: Latitude in deg; any shape.
        longitude: Longitude in deg; any shape.
        noon: True local noon in UNIX seconds; any shape.
        side: -1 for the crossing upward before noon, 1 for the crossing downward after it; any shape.
        degrees: Elevation in deg; any shape.

    Returns:
        UNIX seconds, the broadcast shape; NaN where the sun does not cross or an input is unknown. Each row stops by
        itself, so that it does not depend on the rows beside it.

    Source:
        Meeus, Astronomical Algorithms, 2nd ed. 1998, chapter 15.
    """
    whole = np.broadcast_arrays(*(np.asarray(x, dtype=np.float64) for x in (latitude, longitude, noon, side, degrees)))
    lat, lon, high, sign, limit = (part.ravel() for part in whole)
    low = high + sign * _HALF_DAY_S
    ends = np.array((high, low))
    sun, sidereal = sun_place(ends), sidereal_rad(ends)
    above, below = elevation_at_deg(lat, lon, sidereal, sun) - limit
    crosses = (below < 0.0) & (above >= 0.0)
    angle = sidereal + np.radians(lon) - sun.right_ascension_rad
    found, rate = _first_guess(lat, limit, high, sign, angle, sun.declination_rad)
    rows: NDArray[np.intp] = np.flatnonzero(crosses)
    for _ in range(_QUICK_STEPS):
        if not rows.size:
            break
        value = elevation_deg(lat[rows], lon[rows], found[rows]) - limit[rows]
        size = np.abs(value)
        open_ = size > _SETTLED_DEG
        found[rows[open_]] -= value[open_] / rate[rows[open_]]
        rows = rows[open_ & ((size > _NEARLY_DEG) | (np.abs(rate[rows]) < _STEEP_DEG_S))]
    # What did not settle starts anew from the ends of the half day.
    if rows.size:
        bracket = {"low": low[rows], "high": high[rows], "below": below[rows], "above": above[rows]}
        found[rows] = _bracketed_s(lat[rows], lon[rows], limit[rows], **bracket)
    return np.where(crosses, found, np.nan).reshape(whole[0].shape)


def _first_guess(
    lat: Floats, limit: Floats, noon: Floats, sign: Floats, angle: Floats, declination: Floats
) -> tuple[Floats, Floats]:
    """The crossing by straight lines from noon to midnight, and how fast the sun moves through the limit, deg per s.

    ``angle`` and ``declination`` are those at noon and at midnight, rad, shape (2, rows). Good to some 1e-4 deg.
    """
    latitude, height = np.radians(lat), np.radians(limit + PARALLAX_DEG)
    at_noon = np.mod(angle[0] + np.pi, 2.0 * np.pi) - np.pi
    turned = np.mod((angle[1] - angle[0]) * sign, 2.0 * np.pi)
    climbed, here = declination[1] - declination[0], declination[0]
    for _ in range(_GUESSES):
        spread = np.cos(latitude) * np.cos(here)
        cosine = (np.sin(height) - np.sin(latitude) * np.sin(here)) / spread
        hour_angle = np.arccos(limited(cosine, -1.0, 1.0))
        part = (hour_angle - at_noon * sign) / turned
        here = declination[0] + climbed * part
    rate = np.maximum(spread * np.sin(hour_angle) / np.cos(height), _SLOWEST) * DEG_PER_S
    return noon + sign * part * _HALF_DAY_S, -sign * rate


def _bracketed_s(
    lat: Floats, lon: Floats, limit: Floats, *, low: Floats, high: Floats, below: Floats, above: Floats
) -> Floats:
    """The Illinois variant of the false position: it keeps a bracket and halves the weight of an end that stays."""
    found, moved = np.full(low.shape, np.nan), np.zeros(low.shape)
    rows: NDArray[np.intp] = np.arange(low.size)
    for _ in range(_MOST_STEPS):
        if not rows.size:
            break
        found[rows] = (low * above - high * below)[rows] / (above - below)[rows]
        value = elevation_deg(lat[rows], lon[rows], found[rows]) - limit[rows]
        up, down = rows[value < 0.0], rows[value >= 0.0]
        above[up] = np.where(moved[up] > 0.0, above[up] / 2.0, above[up])
        below[down] = np.where(moved[down] < 0.0, below[down] / 2.0, below[down])
        low[up], below[up], moved[up] = found[up], value[value < 0.0], 1.0
        high[down], above[down], moved[down] = found[down], value[value >= 0.0], -1.0
        rows = rows[np.abs(value) > _SETTLED_DEG]
    return found


def _moment(time_s: float) -> datetime | None:
    return None if np.isnan(time_s) else datetime.fromtimestamp(round(time_s), UTC)
