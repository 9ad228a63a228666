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
from riskboard.measures.icing_charts import ATSB_2004_COLDEST_C, ATSB_2004_SIDES, EGAST_GA5_SIDES, Sides
from riskboard.measures.known import Floats, Number, checked, plain

CHARTS = ("most_cautious", "egast_ga5", "atsb_2004")
_EDGE_C = 1e-9  # a point this near an outline lies on it; far below the 0.1 C of any report
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
    if chart == "most_cautious":
        return carb_icing_rows(temperature, dew_point)[()]
    if chart == "egast_ga5":
        codes = _highest(_EGAST_GA5, temperature, dew_point)
    else:
        codes = np.where(temperature < ATSB_2004_COLDEST_C, _UNKNOWN, _highest(_ATSB_2004, temperature, spread))
    return np.where(np.isnan(spread), _UNKNOWN, codes)[()]


def carb_icing_rows(temperature_c: Floats, dew_point_c: Floats) -> NDArray[np.int64]:
    """:func:`carb_icing_zone` of the more cautious chart on arrays of one shape, without the checks."""
    spread = temperature_c - dew_point_c
    # Colder than -8 C the Australian chart covers nothing, so that the European one decides.
    codes = np.maximum(_highest(_EGAST_GA5, temperature_c, dew_point_c), _highest(_ATSB_2004, temperature_c, spread))
    return np.where(np.isnan(spread), _UNKNOWN, codes)


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


class _Chart(NamedTuple):
    """A chart cut into strips at every row of its zones; within a strip the sides of every zone are straight.

    Attributes:
        codes: Codes of the zones, (zones,).
        cuts: Dew points or depressions between the strips, ascending.
        sides: Coldest and warmest side of each zone in each strip as base and slope, (4, zones, strips); in a strip
            that a zone does not reach, a coldest side that nothing is warmer than.
    """

    codes: NDArray[np.int64]
    cuts: Floats
    sides: Floats


def _chart(zones: Mapping[int, Sides]) -> _Chart:
    codes = sorted(zones)
    # The ends of a zone belong to it, whatever the last binary digit of a difference says.
    ends = np.asarray([-_EDGE_C, _EDGE_C])
    rows = {code: np.asarray(zones[code], dtype=np.float64).T for code in codes}
    for row in rows.values():
        row[0, [0, -1]] += ends
    cuts = np.unique(np.concatenate([row[0] for row in rows.values()]))
    sides = np.zeros((4, len(codes), cuts.size + 1))
    sides[0] = np.inf
    for zone, row in enumerate(rows.values()):
        reached = np.flatnonzero((cuts[:-1] >= row[0, 0]) & (cuts[1:] <= row[0, -1]))
        for part, side in ((0, row[1]), (2, row[2])):
            at_cuts = np.interp(cuts, row[0], side)
            slope = np.diff(at_cuts)[reached] / np.diff(cuts)[reached]
            sides[part, zone, reached + 1] = at_cuts[reached] - slope * cuts[reached]
            sides[part + 1, zone, reached + 1] = slope
    return _Chart(np.asarray(codes, dtype=np.int64), cuts, sides)


_EGAST_GA5, _ATSB_2004 = _chart(EGAST_GA5_SIDES), _chart(ATSB_2004_SIDES)


def _highest(chart: _Chart, temperature: Floats, moisture: Floats) -> NDArray[np.int64]:
    """Highest code whose zone covers each point, sides included, 0 where none does.

    A NaN compares false with everything, so an unknown point is covered by nothing; the caller marks it unknown.
    """
    strip = chart.cuts.searchsorted(moisture)
    cold, cold_slope, warm, warm_slope = chart.sides[:, :, strip]
    covered = (temperature >= cold + cold_slope * moisture - _EDGE_C) & (
        temperature <= warm + warm_slope * moisture + _EDGE_C
    )
    codes = chart.codes.reshape(-1, *[1] * temperature.ndim)
    return np.asarray((covered * codes).max(axis=0))
