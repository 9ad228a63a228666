"""Wind over the aircraft: components, gusts, variable directions, and the regions that trouble a tail rotor.

Directions are where the wind comes from, in degrees clockwise, in the same north (true or magnetic) as the heading.
All functions take scalars or arrays, broadcast them, and answer NaN (codes: -1) where an input is unknown. A report
of variable wind without directions has an unknown direction: say 0 to 360 to the worst-case function.
"""

import enum
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from riskboard.measures.known import Floats, Number, checked, plain

_FULL_CIRCLE_DEG = 360.0
_STRONGEST_KT = 250.0  # beyond every surface gust on record


class WindComponents(NamedTuple):
    """Wind along and across a heading, in kt."""

    headwind_kt: Number
    crosswind_kt: Number


class WorstWind(NamedTuple):
    """The worst that a wind of variable direction can do on one heading, in kt."""

    crosswind_kt: Number
    tailwind_kt: Number
    least_headwind_kt: Number


class TailRotorRegion(enum.IntFlag):
    """Relative wind azimuths that are published as prone to loss of tail-rotor effectiveness."""

    MAIN_ROTOR_DISC_VORTEX = 1
    WEATHERCOCK = 2
    TAIL_ROTOR_VORTEX_RING = 4


# Degrees clockwise from the nose for a main rotor that turns counterclockwise seen from above; both ends belong.
_AZIMUTHS_DEG = {
    TailRotorRegion.MAIN_ROTOR_DISC_VORTEX: (285.0, 315.0),
    TailRotorRegion.WEATHERCOCK: (120.0, 240.0),
    TailRotorRegion.TAIL_ROTOR_VORTEX_RING: (210.0, 330.0),
}
_LOWS_DEG, _HIGHS_DEG = np.asarray(list(_AZIMUTHS_DEG.values())).T
_EDGES_DEG = np.unique(np.concatenate((_LOWS_DEG, _HIGHS_DEG)))


def wind_components_kt(
    wind_from_deg: ArrayLike | None, wind_kt: ArrayLike | None, heading_deg: ArrayLike | None
) -> WindComponents:
    """Headwind and crosswind on a heading.

    Equation: headwind = speed * cos(direction - heading), crosswind = speed * sin(direction - heading).

    Args:
        wind_from_deg: Direction the wind comes from, 0 to 360 deg; any shape.
        wind_kt: Wind speed in kt, 0 to 250; any shape.
        heading_deg: Heading, 0 to 360 deg; any shape.

    Returns:
        Headwind (tailwind negative) and crosswind (from the right positive) in kt, the broadcast shape.

    Raises:
        ValueError: Outside the ranges.

    Source:
        Trigonometry.
    """
    speed = _speed(wind_kt, "wind_kt")
    angle = np.radians(relative_wind_azimuth_deg(wind_from_deg, heading_deg))
    return WindComponents(plain(speed * np.cos(angle)), plain(speed * np.sin(angle)))


def relative_wind_azimuth_deg(wind_from_deg: ArrayLike | None, heading_deg: ArrayLike | None) -> Number:
    """Where the wind comes from as seen from the pilot's seat, clockwise from the nose.

    Equation: (direction - heading) modulo 360.

    Args:
        wind_from_deg: Direction the wind comes from, 0 to 360 deg; any shape.
        heading_deg: Heading, 0 to 360 deg; any shape.

    Returns:
        Azimuth in deg, 0 to just below 360, the broadcast shape.

    Raises:
        ValueError: Outside the ranges.

    Source:
        Definition, as in FAA AC 90-95.
    """
    return plain(np.mod(_bearing(wind_from_deg, "wind_from_deg") - _bearing(heading_deg, "heading_deg"), 360.0))


def variable_wind_worst_kt(
    variable_from_deg: ArrayLike | None,
    variable_to_deg: ArrayLike | None,
    wind_kt: ArrayLike | None,
    heading_deg: ArrayLike | None,
) -> WorstWind:
    """The worst crosswind and tailwind over a wind that varies between two directions.

    The wind may come from anywhere on the clockwise arc from the first direction to the second. The extremes are
    exact: they lie at an end of the arc or where the arc crosses abeam, the tail or the nose.

    Args:
        variable_from_deg: First direction, 0 to 360 deg; any shape.
        variable_to_deg: Second direction, clockwise from the first, 0 to 360 deg. 0 to 360 is the full circle, two
            equal directions are one direction.
        wind_kt: Wind speed in kt, 0 to 250; any shape.
        heading_deg: Heading, 0 to 360 deg; any shape.

    Returns:
        Worst crosswind from either side (never negative), worst tailwind (0 where no direction gives one) and least
        headwind (negative when it is a tailwind), in kt, the broadcast shape.

    Raises:
        ValueError: Outside the ranges.

    Source:
        Trigonometry; the order of the two directions is that of the METAR group, ICAO Annex 3.
    """
    arc = wind_arc(*_bearings(variable_from_deg, variable_to_deg, heading_deg))
    return WorstWind(*(plain(part) for part in variable_wind_worst_rows(*arc, _speed(wind_kt, "wind_kt"))))


def variable_wind_worst_rows(start_deg: Floats, width_deg: Floats, wind_kt: Floats) -> tuple[Floats, Floats, Floats]:
    """:func:`variable_wind_worst_kt` without the checks.

    Args:
        start_deg: Where the arc starts, clockwise from the nose, as :func:`wind_arc` gives.
        width_deg: How wide it is.
        wind_kt: Wind speed in kt.

    Returns:
        Worst crosswind, worst tailwind and least headwind in kt.
    """
    first, last = np.radians(start_deg), np.radians(start_deg + width_deg)
    across = np.maximum(np.abs(np.sin(first)), np.abs(np.sin(last)))
    abeam = _on_arc(90.0, start_deg, width_deg) | _on_arc(270.0, start_deg, width_deg)
    ahead = np.minimum(np.cos(first), np.cos(last))
    least_headwind = wind_kt * np.where(_on_arc(180.0, start_deg, width_deg), -1.0, ahead)
    across_kt = np.asarray(wind_kt * np.where(abeam, 1.0, across))
    return across_kt, np.maximum(-least_headwind, 0.0), np.asarray(least_headwind)


def gust_spread_kt(wind_kt: ArrayLike | None, gust_kt: ArrayLike | None) -> Number:
    """Gust minus steady wind.

    A report without a gust group says that there were none: give the steady wind as the gust. A gust that nobody
    read is unknown: give NaN.

    Args:
        wind_kt: Steady wind in kt, 0 to 250; any shape.
        gust_kt: Gust in kt, at least the steady wind; any shape.

    Returns:
        Spread in kt, zero or more, the broadcast shape.

    Raises:
        ValueError: Outside the ranges, or for a gust below the steady wind.

    Source:
        Common practice, no single standard.
    """
    wind, gust = _wind_and_gust(wind_kt, gust_kt)
    return plain(gust - wind)


def gust_factor(wind_kt: ArrayLike | None, gust_kt: ArrayLike | None) -> Number:
    """Gust over steady wind.

    Args:
        wind_kt: Steady wind in kt, 0 to 250; any shape.
        gust_kt: Gust in kt, at least the steady wind; any shape.

    Returns:
        The ratio, 1 or more, the broadcast shape; NaN in a calm, where it has no meaning.

    Raises:
        ValueError: Outside the ranges, or for a gust below the steady wind.

    Source:
        Common practice, no single standard.
    """
    wind, gust = _wind_and_gust(wind_kt, gust_kt)
    return plain(gust / np.where(wind > 0.0, wind, np.nan))


def tail_rotor_wind_sector(
    wind_from_deg: ArrayLike | None, heading_deg: ArrayLike | None, rotor: ArrayLike = "counterclockwise"
) -> np.int64 | NDArray[np.int64]:
    """Which published tail-rotor regions the relative wind lies in, as a bit set.

    | region | azimuth from the nose, counterclockwise rotor | bit |
    | --- | --- | --- |
    | main rotor disc vortex | 285 to 315 deg | 1 |
    | weathercock | 120 to 240 deg | 2 |
    | tail rotor vortex ring | 210 to 330 deg | 4 |

    Regions overlap, and both ends of each belong to it. For a clockwise rotor they are mirrored (360 deg minus the
    azimuth), by symmetry. The regions say nothing about strength: they are published for winds up to about 30 kt,
    and outside them a tail rotor can still run out of authority.

    Args:
        wind_from_deg: Direction the wind comes from, 0 to 360 deg; any shape.
        heading_deg: Heading, 0 to 360 deg; any shape.
        rotor: "counterclockwise" or "clockwise", the main rotor's turn seen from above; any shape.

    Returns:
        Sum of the bits of `TailRotorRegion` as int64, 0 for none, -1 where the wind or heading is unknown; the
        broadcast shape.

    Raises:
        ValueError: Outside the ranges, or for another word for the rotor.

    Source:
        FAA AC 90-95 (1995), FAA-H-8083-21 chapter 11. 120 to 240 and 210 to 330 as quoted from ICAO Doc 9756 Part I;
        285 to 315 from memory of the circular.
    """
    azimuth = np.asarray(relative_wind_azimuth_deg(wind_from_deg, heading_deg))
    azimuth, turn = np.broadcast_arrays(azimuth, _rotor_turns_clockwise(rotor))
    codes = _regions_at(np.where(turn, np.mod(360.0 - azimuth, 360.0), azimuth))
    return codes[()]


def tail_rotor_regions_worst(
    variable_from_deg: ArrayLike | None,
    variable_to_deg: ArrayLike | None,
    heading_deg: ArrayLike | None,
    rotor: ArrayLike = "counterclockwise",
) -> Number:
    """The largest number of tail-rotor regions that any direction of a variable wind lies in at once.

    Equation: the number changes only at an end of a region, so the ends of the arc and the ends of the regions on it
    hold the largest.

    Args:
        variable_from_deg: First direction, 0 to 360 deg; any shape.
        variable_to_deg: Second direction, clockwise from the first, as `variable_wind_worst_kt` takes it.
        heading_deg: Heading, 0 to 360 deg; any shape.
        rotor: "counterclockwise" or "clockwise", the main rotor's turn seen from above; any shape.

    Returns:
        0 to 2, NaN where unknown; the broadcast shape.

    Raises:
        ValueError: Outside the ranges, or for another word for the rotor.

    Source:
        As `tail_rotor_wind_sector`.
    """
    start, width = wind_arc(*_bearings(variable_from_deg, variable_to_deg, heading_deg))
    start, width, turn = np.broadcast_arrays(start, width, _rotor_turns_clockwise(rotor))
    return plain(tail_rotor_regions_worst_rows(start, width, turn))


def tail_rotor_regions_worst_rows(start_deg: Floats, width_deg: Floats, clockwise: NDArray[np.bool_]) -> Floats:
    """:func:`tail_rotor_regions_worst` without the checks, for the arc that :func:`wind_arc` gives; one shape."""
    start = np.where(clockwise, np.mod(360.0 - start_deg - width_deg, 360.0), start_deg)
    places = (len(_EDGES_DEG) + 2, *start.shape)
    azimuths = np.empty(places)
    offsets = np.mod(_EDGES_DEG.reshape(-1, *[1] * start.ndim) - start, 360.0)
    azimuths[:-2] = start + np.where(offsets <= width_deg, offsets, 0.0)
    azimuths[-2], azimuths[-1] = start, start + width_deg
    azimuths = np.mod(azimuths, 360.0)[..., np.newaxis]
    most = ((azimuths >= _LOWS_DEG) & (azimuths <= _HIGHS_DEG)).sum(axis=-1, dtype=np.float64).max(axis=0)
    return np.where(np.isnan(start + width_deg), np.nan, most)


def tail_rotor_region_names(code: int) -> tuple[str, ...]:
    """Names of the regions in one bit set of `tail_rotor_wind_sector`.

    Args:
        code: 0 to 7, or -1 for unknown.

    Returns:
        Names in the order of the bits, such as ("weathercock", "tail_rotor_vortex_ring"); empty for none.

    Raises:
        ValueError: For -1, because unknown is not "none", and for any other number.
    """
    if not 0 <= code <= sum(TailRotorRegion):
        raise ValueError(f"code must be between 0 and {sum(TailRotorRegion)} (-1 is unknown, not none), got {code}")
    return tuple(str(region.name).lower() for region in TailRotorRegion if code & region)


def _bearing(value: ArrayLike | None, name: str) -> Floats:
    return checked(name, value, at_least=0.0, up_to=360.0)


def _speed(value: ArrayLike | None, name: str) -> Floats:
    return checked(name, value, at_least=0.0, up_to=_STRONGEST_KT)


def _wind_and_gust(wind_kt: ArrayLike | None, gust_kt: ArrayLike | None) -> tuple[Floats, Floats]:
    wind, gust = _speed(wind_kt, "wind_kt"), _speed(gust_kt, "gust_kt")
    if np.any(gust < wind):
        raise ValueError("gust_kt must be at least the steady wind; found a gust below it")
    return wind, gust


def _bearings(
    first_deg: ArrayLike | None, last_deg: ArrayLike | None, heading_deg: ArrayLike | None
) -> tuple[Floats, Floats, Floats]:
    first, last = _bearing(first_deg, "variable_from_deg"), _bearing(last_deg, "variable_to_deg")
    return first, last, _bearing(heading_deg, "heading_deg")


def wind_arc(first_deg: Floats, last_deg: Floats, heading_deg: Floats) -> tuple[Floats, Floats]:
    """Where the arc of a variable wind starts, clockwise from the nose, and how wide it is; arguments unchecked."""
    turn = last_deg - first_deg
    width = np.where(turn == _FULL_CIRCLE_DEG, _FULL_CIRCLE_DEG, np.mod(turn, _FULL_CIRCLE_DEG))
    return np.mod(first_deg - heading_deg, 360.0), width


def _regions_at(azimuth: Floats) -> NDArray[np.int64]:
    """Bits of the regions at an azimuth for a counterclockwise rotor, -1 where it is unknown."""
    regions = np.zeros(azimuth.shape, dtype=np.int64)
    for region, (low, high) in _AZIMUTHS_DEG.items():
        regions |= np.where((azimuth >= low) & (azimuth <= high), np.int64(region), np.int64(0))
    return np.where(np.isnan(azimuth), np.int64(-1), regions)


def _on_arc(bearing_deg: float, start: Floats, width: Floats) -> NDArray[np.bool_]:
    return np.asarray(np.mod(bearing_deg - start, 360.0) <= width)


def _rotor_turns_clockwise(rotor: ArrayLike) -> NDArray[np.bool_]:
    words = np.asarray(rotor)
    clockwise = words == "clockwise"
    if not np.all(clockwise | (words == "counterclockwise")):
        raise ValueError(f"rotor must be 'counterclockwise' or 'clockwise', got {rotor!r}")
    return np.asarray(clockwise)
