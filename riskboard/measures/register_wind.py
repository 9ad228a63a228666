"""Registered measures of the wind, and the student's own limits against wind and weather.

The gust counts as the wind, from the worst direction that was reported. Rows that cannot be come out unknown.
"""

import numpy as np

from riskboard.measures.known import row_of
from riskboard.measures.register_air import between
from riskboard.measures.registry import measure, quantity
from riskboard.measures.wind import tail_rotor_regions_worst_rows, variable_wind_worst_rows, wind_arc
from riskboard.words import Direction, Group, RotorDirection
from riskboard.worksheet.columns import FloatArray

_ENV = Group.environment
_STRONGEST_KT = 250.0
_LIGHT_WIND_KT = 3.0
_CLOCKWISE = float(list(RotorDirection).index(RotorDirection.clockwise))
_STUDENT = "14 CFR 61.89(a)(8): not against a limitation the instructor wrote"
_TRIGONOMETRY = "trigonometry; the worst direction of the reported range"


@measure("wind", "kt", worse=Direction.higher, valid=(0, _STRONGEST_KT), group=_ENV, source="as reported")
def wind_speed_kt(wind_kt: FloatArray) -> FloatArray:
    """Steady wind, kt."""
    return wind_kt


@measure(
    "peak of wind and gusts",
    "kt",
    worse=Direction.higher,
    valid=(0, _STRONGEST_KT),
    group=_ENV,
    source="common practice, no source",
)
def gust_peak_kt(wind_kt: FloatArray, gust_kt: FloatArray) -> FloatArray:
    """The gust, or the wind where there are no gusts, kt."""
    return np.where(gust_kt == np.inf, wind_kt, np.maximum(wind_kt, gust_kt))


@measure(
    "gust spread",
    "kt",
    worse=Direction.higher,
    valid=(0, _STRONGEST_KT),
    group=_ENV,
    source="gust minus steady wind: common practice, no single standard",
)
def gust_spread_kt(wind_kt: FloatArray, gust_kt: FloatArray) -> FloatArray:
    """Gust minus wind, 0 where there are no gusts; unknown for a gust below the wind, which cannot be. kt."""
    spread = np.where(gust_kt == np.inf, wind_kt - wind_kt, gust_kt - wind_kt)
    return between(spread, 0.0, _STRONGEST_KT)


@quantity
def wind_arc_deg(
    wind_from_deg: FloatArray,
    wind_variable_from_deg: FloatArray,
    wind_variable_to_deg: FloatArray,
    approach_heading_deg: FloatArray,
) -> FloatArray:
    """The arc the wind may come from: where it starts, clockwise from the nose, and how wide it is, shape (2, rows).

    Without a range the arc is the one direction; a direction "variable" is the full circle.
    """
    all_round, steady = wind_from_deg == np.inf, wind_variable_from_deg == np.inf
    first = np.where(all_round, 0.0, np.where(steady, wind_from_deg, wind_variable_from_deg))
    last = np.where(all_round, 360.0, np.where(steady, wind_from_deg, wind_variable_to_deg))
    return np.array(wind_arc(*between(np.array((first, last, approach_heading_deg)), 0.0, 360.0)))


@quantity
def worst_wind_kt(wind_arc_deg: FloatArray, gust_peak_kt: FloatArray) -> FloatArray:
    """Worst crosswind and worst tailwind of the peak over the arc, shape (2, rows); 0 in a calm from wherever."""
    start_deg, width_deg = row_of(wind_arc_deg, 0), row_of(wind_arc_deg, 1)
    across, tail, _ = variable_wind_worst_rows(start_deg, width_deg, between(gust_peak_kt, 0.0, _STRONGEST_KT))
    return np.where(gust_peak_kt == 0.0, 0.0, np.array((across, tail)))


@measure(
    "worst crosswind",
    "kt",
    worse=Direction.higher,
    valid=(0, _STRONGEST_KT),
    group=_ENV,
    source=_TRIGONOMETRY,
    decimals=1,
)
def crosswind_worst_kt(worst_wind_kt: FloatArray) -> FloatArray:
    """Largest crosswind of the peak wind on the take-off and approach heading, from either side, kt."""
    return row_of(worst_wind_kt, 0)


@measure(
    "worst tailwind",
    "kt",
    worse=Direction.higher,
    valid=(0, _STRONGEST_KT),
    group=_ENV,
    source=_TRIGONOMETRY,
    decimals=1,
)
def tailwind_worst_kt(worst_wind_kt: FloatArray) -> FloatArray:
    """Largest tailwind of the peak wind on the take-off and approach heading, kt; 0 where there is none."""
    return row_of(worst_wind_kt, 1)


@measure(
    "tail-rotor trouble regions",
    "",
    worse=Direction.higher,
    valid=(0, 2),
    group=_ENV,
    source="FAA AC 90-95 and FAA-H-8083-21 chapter 11 (285 to 315 deg from memory); from 3 kt up: common practice",
    words={0: "none", 1: "one region", 2: "two regions"},
)
def tail_rotor_regions(wind_arc_deg: FloatArray, gust_peak_kt: FloatArray, rotor_direction: FloatArray) -> FloatArray:
    """How many published tail-rotor regions the wind on the approach heading can lie in at once; 0 below 3 kt."""
    start, width = wind_arc_deg
    counted = tail_rotor_regions_worst_rows(start, width, rotor_direction == _CLOCKWISE)
    worst = np.where(np.isnan(rotor_direction + gust_peak_kt), np.nan, counted)
    return np.where(gust_peak_kt < _LIGHT_WIND_KT, 0.0, worst)


@measure(
    "room to the student's wind limit",
    "kt",
    worse=Direction.lower,
    valid=(-250, 60),
    group=Group.pilot,
    source=_STUDENT,
)
def student_wind_margin_kt(student_wind_limit_kt: FloatArray, gust_peak_kt: FloatArray) -> FloatArray:
    """Wind limit minus the peak wind; 60 where the instructor wrote none, kt."""
    return _margin(student_wind_limit_kt, gust_peak_kt, 60.0)


@measure(
    "room to the student's crosswind limit",
    "kt",
    worse=Direction.lower,
    valid=(-250, 40),
    group=Group.pilot,
    source=_STUDENT,
    decimals=1,
)
def student_crosswind_margin_kt(student_crosswind_limit_kt: FloatArray, crosswind_worst_kt: FloatArray) -> FloatArray:
    """Crosswind limit minus the worst crosswind; 40 where the instructor wrote none, kt."""
    return _margin(student_crosswind_limit_kt, crosswind_worst_kt, 40.0)


@measure(
    "visibility above the student's limit",
    "SM",
    worse=Direction.lower,
    valid=(-50, 100),
    group=Group.pilot,
    source=_STUDENT,
    decimals=2,
)
def student_visibility_margin_sm(
    student_visibility_limit_sm: FloatArray, visibility_lowest_sm: FloatArray
) -> FloatArray:
    """Lowest visibility minus the limit; 100 where the instructor wrote none, SM."""
    return _excess(visibility_lowest_sm, student_visibility_limit_sm, 100.0)


@measure(
    "ceiling above the student's limit",
    "ft",
    worse=Direction.lower,
    valid=(-20_000, 60_000),
    group=Group.pilot,
    source=_STUDENT,
)
def student_ceiling_margin_ft(student_ceiling_limit_ft_agl: FloatArray, ceiling_lowest_ft: FloatArray) -> FloatArray:
    """Lowest ceiling minus the limit; 60,000 where the instructor wrote none, ft."""
    return _excess(ceiling_lowest_ft, student_ceiling_limit_ft_agl, 60_000.0)


def _margin(limit: FloatArray, value: FloatArray, best: float) -> FloatArray:
    """Limit minus value; a limit of "none" is the best end once the value is known."""
    return np.where((limit == np.inf) & ~np.isnan(value), best, limit - value)


def _excess(value: FloatArray, limit: FloatArray, best: float) -> FloatArray:
    return np.where((limit == np.inf) & ~np.isnan(value), best, value - limit)
