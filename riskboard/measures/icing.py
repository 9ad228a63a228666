"""Icing: carburettor icing zones from two published charts, and simple indicators for the airframe.

The charts are for conditions near sea level and any carburetted engine. They know no particular installation: the
flight manual prevails. For an injected or turbine engine they do not apply.
"""

import enum
from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from riskboard.measures.atmosphere import dew_point_spread_c
from riskboard.measures.icing_charts import ATSB_2004, ATSB_2004_COLDEST_C, EGAST_GA5, Outline
from riskboard.measures.known import Floats, Number, checked, plain

CHARTS = ("most_cautious", "egast_ga5", "atsb_2004")
_EDGE_C = 1e-9  # a point this near an outline lies on it; far below the 0.1 C of any report
_BLOCK = 8_192  # points at a time
_UNKNOWN = np.int64(-1)


class CarbIcing(enum.IntEnum):
    """Zones of the carburettor-icing charts, least severe first."""

    UNKNOWN = -1
    NONE = 0
    LIGHT = 1
    SERIOUS_AT_DESCENT_POWER = 2
    MODERATE_AT_CRUISE_SERIOUS_AT_DESCENT_POWER = 3
    SERIOUS_AT_ANY_POWER = 4


def carb_icing_zone(
    temperature_c: ArrayLike | None, dew_point_c: ArrayLike | None, chart: str = "most_cautious"
) -> np.int64 | NDArray[np.int64]:
    """Carburettor-icing zone of the air outside.

    The highest code whose outline covers the point, outlines included. Severity is not monotone in temperature: it
    falls again when it gets warmer or colder.

    Outside the charts: the European outlines close by themselves, so what lies outside them is 0 at any temperature.
    The Australian print is cut off at -5 C: its light zone is carried on to -8 C for depressions up to 4 C, as the
    report allows, and colder than -8 C it answers -1. "most_cautious" is the worse of the two, and there the European
    chart alone. No buffer is added for the reading error of the charts.

    Args:
        temperature_c: Air temperature in C, -90 to 60; any shape.
        dew_point_c: Dew point over water in C, at most the temperature; any shape.
        chart: "egast_ga5", "atsb_2004", or "most_cautious", the worse of the two.

    Returns:
        Codes of `CarbIcing` as int64, -1 where unknown; the broadcast shape.

    Raises:
        ValueError: Outside the ranges, for a dew point above the temperature, or for another chart.

    Source:
        EGAST leaflet GA 5 page 8; ATSB chart of 2004 in DMI Technical Report 04-25 figure 1. The two differ by 1 to
        3 C of dew point near their lower edges.
    """
    if chart not in CHARTS:
        raise ValueError(f"chart must be one of {', '.join(CHARTS)}, got {chart!r}")
    spread = np.asarray(dew_point_spread_c(temperature_c, dew_point_c))
    temperature, dew_point, spread = np.broadcast_arrays(
        np.asarray(temperature_c, dtype=np.float64), np.asarray(dew_point_c, dtype=np.float64), spread
    )
    codes = np.full(spread.shape, _UNKNOWN)
    if chart != "atsb_2004":
        codes = np.maximum(codes, _highest(_CHART_SIDES["egast_ga5"], temperature, dew_point))
    if chart != "egast_ga5":
        atsb = _highest(_CHART_SIDES["atsb_2004"], temperature, spread)
        codes = np.maximum(codes, np.where(temperature < ATSB_2004_COLDEST_C, _UNKNOWN, atsb))
    result: NDArray[np.int64] = np.where(np.isnan(spread), _UNKNOWN, codes)
    return result[()]


def carb_icing_in_moisture(
    temperature_c: ArrayLike | None, visible_moisture: ArrayLike | None, limit_c: ArrayLike = 10.0
) -> Number:
    """Whether to expect carburettor icing because of cloud, fog, rain or snow, whatever the chart says.

    Args:
        temperature_c: Air temperature in C, -90 to 60; any shape.
        visible_moisture: 1 or True where moisture can be seen, 0 or False where not; any shape.
        limit_c: The warmest temperature that counts, in C; a policy value.

    Returns:
        1.0, 0.0, or NaN where an input is unknown; the broadcast shape.

    Raises:
        ValueError: Outside the ranges.

    Source:
        ATSB 199400377 (1994), a permit condition for one installation: no flight at 10 C or below in visible moisture.
    """
    return _cold_and_wet(temperature_c, visible_moisture, limit_c)


def airframe_icing_possible(
    temperature_c: ArrayLike | None, visible_moisture: ArrayLike | None, limit_c: ArrayLike = 5.0
) -> Number:
    """Whether ice can form on blades and airframe.

    Args:
        temperature_c: Air temperature in C, -90 to 60; any shape.
        visible_moisture: 1 or True where moisture can be seen, 0 or False where not; any shape.
        limit_c: The warmest temperature that counts, in C; a policy value. 2 allows for aerodynamic cooling, and many
            flight manuals use 5, the default here.

    Returns:
        1.0, 0.0, or NaN where an input is unknown; the broadcast shape.

    Raises:
        ValueError: Outside the ranges.

    Source:
        FAA Aeronautical Information Manual and handbooks for 0 C with 2 C for cooling (from memory); 5 C is common
        practice.
    """
    return _cold_and_wet(temperature_c, visible_moisture, limit_c)


def _cold_and_wet(temperature_c: ArrayLike | None, visible_moisture: ArrayLike | None, limit_c: ArrayLike) -> Number:
    temperature = checked("temperature_c", temperature_c, at_least=-90.0, up_to=60.0)
    limit = checked("limit_c", limit_c, at_least=-90.0, up_to=60.0)
    moisture = checked("visible_moisture", visible_moisture, at_least=0.0, up_to=1.0)
    unknown = np.isnan(temperature) | np.isnan(moisture) | np.isnan(limit)
    met = (temperature <= limit) & (moisture > 0.0)
    return plain(np.where(unknown, np.nan, met.astype(np.float64)))


class _Sides(NamedTuple):
    """Every side of every outline of a chart, one after the other, and where each outline begins."""

    codes: NDArray[np.int64]
    begins: NDArray[np.intp]
    x: Floats
    y: Floats
    run: Floats
    rise: Floats
    y_end: Floats
    length2: Floats


def _sides(zones: Mapping[int, Outline]) -> _Sides:
    corners = [np.asarray(zones[code], dtype=np.float64) for code in sorted(zones)]
    start = np.concatenate(corners)
    end = np.concatenate([np.roll(outline, -1, axis=0) for outline in corners])
    run, rise = (end - start).T
    begins = np.cumsum([0, *(len(outline) for outline in corners[:-1])])
    codes = np.asarray(sorted(zones), dtype=np.int64)
    return _Sides(codes, begins, start[:, 0], start[:, 1], run, rise, end[:, 1], run * run + rise * rise)


_CHART_SIDES = {"egast_ga5": _sides(EGAST_GA5), "atsb_2004": _sides(ATSB_2004)}


def _highest(sides: _Sides, x: Floats, y: Floats) -> NDArray[np.int64]:
    """Highest code whose outline covers each point, outlines included, 0 where none does; blocks bound the memory."""
    flat_x, flat_y = np.ravel(x), np.ravel(y)
    codes = np.zeros(flat_x.shape, dtype=np.int64)
    for start in range(0, flat_x.size, _BLOCK):
        part = slice(start, start + _BLOCK)
        codes[part] = np.max(_covers(sides, flat_x[part, np.newaxis], flat_y[part, np.newaxis]) * sides.codes, axis=-1)
    return codes.reshape(np.shape(x))


def _covers(sides: _Sides, x: Floats, y: Floats) -> NDArray[np.bool_]:
    """Which outlines cover which points, shape (points, outlines): even-odd crossings, and points on a side.

    A NaN compares false with everything, so an unknown point is covered by nothing; the caller marks it unknown.
    """
    east, north = x - sides.x, y - sides.y
    area = sides.run * north - sides.rise * east
    along = east * sides.run + north * sides.rise
    on_side = (area * area <= _EDGE_C * _EDGE_C * sides.length2) & (along >= 0.0) & (along <= sides.length2)
    crossed = ((north < 0.0) != (y < sides.y_end)) & (area * np.sign(sides.rise) > 0.0)
    inside = np.logical_xor.reduceat(crossed, sides.begins, axis=-1)
    return np.asarray(inside | np.logical_or.reduceat(on_side, sides.begins, axis=-1))
