"""Registered measures of the forecast: the worst it says from take-off to an hour after landing.

Prevailing lines must cover that whole time, and a prevailing line that does not state a quantity keeps what an earlier
one said. Temporary lines count fully. What nobody stated is unknown.
"""

import numpy as np

from riskboard.measures.registry import measure, quantity
from riskboard.words import Direction, Group, LineKind
from riskboard.worksheet.columns import FloatArray

_ENV = Group.environment
_AFTER_LANDING_S = 3_600.0
_HIGHEST_FT = 60_000.0
_FORECAST = (
    "14 CFR 91.103 and 91.151(b): forecasts for the whole flight; counting temporary lines fully is common practice"
)
_PREVAILING = float(list(LineKind).index(LineKind.prevailing))


@quantity
def forecast_worst(
    take_off_at: FloatArray,
    landing_at: FloatArray,
    forecast_lines_count: FloatArray,
    forecast_lines_start_at: FloatArray,
    forecast_lines_end_at: FloatArray,
    forecast_lines_kind: FloatArray,
    forecast_lines_wind_kt: FloatArray,
    forecast_lines_gust_kt: FloatArray,
    forecast_lines_visibility_sm: FloatArray,
    forecast_lines_ceiling_ft_agl: FloatArray,
    forecast_lines_thunderstorm: FloatArray,
) -> FloatArray:
    """Lowest visibility and ceiling, strongest wind and gust, thunderstorm, shape (rows, 5); unknown without cover."""
    gust = np.where(forecast_lines_gust_kt == np.inf, 0.0, forecast_lines_gust_kt)
    low = (-forecast_lines_visibility_sm, -np.minimum(forecast_lines_ceiling_ft_agl, _HIGHEST_FT))
    stated = np.stack((*low, forecast_lines_wind_kt, gust, forecast_lines_thunderstorm), axis=-1)
    until = landing_at + _AFTER_LANDING_S
    prevailing = forecast_lines_kind == _PREVAILING
    inside = (forecast_lines_start_at < until[:, np.newaxis]) & (forecast_lines_end_at > take_off_at[:, np.newaxis])
    order = np.argsort(forecast_lines_start_at, axis=-1, kind="stable")
    covered, rows = take_off_at.copy(), np.arange(take_off_at.size)
    worst, holds = np.full((rows.size, 5), -np.inf), np.full((rows.size, 5), np.nan)
    for line in order.T:
        main, here = prevailing[rows, line], inside[rows, line]
        start, end, value = forecast_lines_start_at[rows, line], forecast_lines_end_at[rows, line], stated[rows, line]
        covered = np.where(main & (start <= covered), np.maximum(covered, end), covered)
        silent = np.isnan(value)
        holds = np.where(main[:, np.newaxis] & ~silent, value, holds)
        counted = np.where(main[:, np.newaxis], holds, value)
        # A temporary line that is silent changes nothing; a prevailing one that nothing fills makes the answer unknown.
        counts = (here & main)[:, np.newaxis] | (here[:, np.newaxis] & ~silent)
        worst = np.where(counts, np.maximum(worst, counted), worst)
    whole = (covered >= until) & (forecast_lines_count > 0.0)
    return np.where(whole[:, np.newaxis], worst * np.asarray([-1.0, -1.0, 1.0, 1.0, 1.0]), np.nan)


@measure("forecast ceiling", "ft AGL", worse=Direction.lower, valid=(0, _HIGHEST_FT), group=_ENV, source=_FORECAST)
def forecast_ceiling_ft(forecast_worst: FloatArray) -> FloatArray:
    """Lowest ceiling forecast from take-off to an hour after landing; 60,000 where none is, ft AGL."""
    return forecast_worst[:, 1]


@measure("forecast visibility", "SM", worse=Direction.lower, valid=(0, 100), group=_ENV, source=_FORECAST, decimals=2)
def forecast_visibility_sm(forecast_worst: FloatArray) -> FloatArray:
    """Lowest visibility forecast from take-off to an hour after landing, SM."""
    return forecast_worst[:, 0]


@measure("forecast peak wind", "kt", worse=Direction.higher, valid=(0, 250), group=_ENV, source=_FORECAST)
def forecast_gust_kt(forecast_worst: FloatArray) -> FloatArray:
    """Strongest wind or gust forecast from take-off to an hour after landing, kt."""
    return np.maximum(forecast_worst[:, 2], forecast_worst[:, 3])


@measure(
    "thunderstorm forecast",
    "",
    worse=Direction.higher,
    valid=(0, 1),
    group=_ENV,
    source=_FORECAST,
    words={0: "no", 1: "yes"},
)
def forecast_thunderstorm(forecast_worst: FloatArray) -> FloatArray:
    """1 when a thunderstorm is forecast from take-off to an hour after landing."""
    return forecast_worst[:, 4]


@measure(
    "age of the forecast",
    "min",
    worse=Direction.higher,
    valid=(0, 10_080),
    group=_ENV,
    source="common practice, no source",
)
def forecast_age_min(decided_at: FloatArray, forecast_issued_at: FloatArray) -> FloatArray:
    """Minutes since the forecast was issued, at the moment of decision."""
    return (decided_at - forecast_issued_at) / 60.0


@measure(
    "ceiling forecast against now",
    "ft",
    worse=Direction.lower,
    valid=(-_HIGHEST_FT, _HIGHEST_FT),
    group=_ENV,
    source="common practice, no source",
)
def ceiling_trend_ft(forecast_ceiling_ft: FloatArray, ceiling_lowest_ft: FloatArray) -> FloatArray:
    """Lowest forecast ceiling minus the lowest now, negative when it comes down; 0 when there is none in either."""
    return forecast_ceiling_ft - ceiling_lowest_ft


@measure(
    "visibility forecast against now",
    "SM",
    worse=Direction.lower,
    valid=(-100, 100),
    group=_ENV,
    source="common practice, no source",
    decimals=2,
)
def visibility_trend_sm(forecast_visibility_sm: FloatArray, visibility_lowest_sm: FloatArray) -> FloatArray:
    """Lowest forecast visibility minus the lowest now, negative when it gets worse, SM."""
    return forecast_visibility_sm - visibility_lowest_sm
