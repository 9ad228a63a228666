"""Registered measures of the forecast: lines written by hand, answers read off them. Common practice, no source."""

from typing import Any

import numpy as np
import pytest

from tests.measures.columns_of import NAN, NONE, one

HOUR = 3600.0
PREVAILING, TEMPORARY = 0.0, 1.0  # the order of words.LineKind
QUANTITIES = ("wind_kt", "gust_kt", "visibility_sm", "ceiling_ft_agl", "thunderstorm")
FLIGHT = {"take_off_at": 10 * HOUR, "landing_at": 12 * HOUR}  # the span ends at 13 h
FAIR = (8.0, NONE, 10.0, NONE, 0.0)
MEASURES = ("forecast_ceiling_ft", "forecast_visibility_sm", "forecast_gust_kt", "forecast_thunderstorm")


def forecast(*lines: tuple[float, float, float, tuple[float, ...]]) -> dict[str, Any]:
    """Columns of (first hour, last hour, kind, quantities) lines, with one line of padding."""
    rows = [*lines, (NAN, NAN, NAN, (NAN,) * 5)]
    columns: dict[str, Any] = {"forecast_lines_count": float(len(lines))}
    columns["forecast_lines_start_at"] = [row[0] * HOUR for row in rows]
    columns["forecast_lines_end_at"] = [row[1] * HOUR for row in rows]
    columns["forecast_lines_kind"] = [row[2] for row in rows]
    for i, name in enumerate(QUANTITIES):
        columns[f"forecast_lines_{name}"] = [row[3][i] for row in rows]
    return FLIGHT | columns


def test_forecast_ceiling_ft() -> None:
    falling = forecast((6, 11, PREVAILING, FAIR), (11, 20, PREVAILING, (8.0, NONE, 6.0, 2500.0, 0.0)))
    assert one("forecast_ceiling_ft", **falling) == 2500.0
    assert one("forecast_ceiling_ft", **forecast((6, 20, PREVAILING, FAIR))) == 60_000.0


def test_forecast_visibility_sm() -> None:
    passing = forecast((6, 20, PREVAILING, FAIR), (12, 14, TEMPORARY, (NAN, NAN, 1.5, NAN, NAN)))
    assert one("forecast_visibility_sm", **passing) == 1.5
    later = forecast((6, 20, PREVAILING, FAIR), (13, 14, TEMPORARY, (NAN, NAN, 1.5, NAN, NAN)))
    assert one("forecast_visibility_sm", **later) == 10.0


def test_forecast_gust_kt() -> None:
    gusty = forecast((6, 11, PREVAILING, (12.0, 24.0, 10.0, NONE, 0.0)), (11, 20, PREVAILING, FAIR))
    assert one("forecast_gust_kt", **gusty) == 24.0
    assert one("forecast_gust_kt", **forecast((6, 20, PREVAILING, FAIR))) == 8.0


def test_forecast_thunderstorm() -> None:
    storm = forecast((6, 20, PREVAILING, FAIR), (9, 11, TEMPORARY, (NAN, NAN, NAN, NAN, 1.0)))
    assert one("forecast_thunderstorm", **storm) == 1.0
    assert one("forecast_thunderstorm", **forecast((6, 20, PREVAILING, FAIR))) == 0.0


@pytest.mark.parametrize("measure", MEASURES)
def test_a_gap_in_the_prevailing_lines_is_unknown(measure: str) -> None:
    assert np.isnan(one(measure, **forecast((6, 10.5, PREVAILING, FAIR), (11, 20, PREVAILING, FAIR))))
    assert np.isnan(one(measure, **forecast((6, 12.9, PREVAILING, FAIR))))
    assert np.isnan(one(measure, **forecast((10.1, 20, PREVAILING, FAIR))))
    assert np.isnan(one(measure, **forecast((6, 20, TEMPORARY, FAIR))))
    assert np.isnan(one(measure, **forecast()))
    assert np.isnan(one(measure, **forecast((6, 20, PREVAILING, FAIR)) | {"forecast_lines_count": NAN}))


@pytest.mark.parametrize("measure", MEASURES)
def test_lines_that_meet_or_overlap_cover_in_any_order(measure: str) -> None:
    whole = one(measure, **forecast((6, 20, PREVAILING, FAIR)))
    assert one(measure, **forecast((11, 20, PREVAILING, FAIR), (6, 11, PREVAILING, FAIR))) == whole
    assert one(measure, **forecast((6, 12, PREVAILING, FAIR), (10.5, 13, PREVAILING, FAIR))) == whole


def test_a_silent_prevailing_line_keeps_what_an_earlier_one_said() -> None:
    silent = (15.0, NAN, NAN, NAN, NAN)
    lines = forecast((2, 10, PREVAILING, (8.0, 22.0, 4.0, 3000.0, 0.0)), (10, 20, PREVAILING, silent))
    assert one("forecast_visibility_sm", **lines) == 4.0
    assert one("forecast_ceiling_ft", **lines) == 3000.0
    assert one("forecast_gust_kt", **lines) == 22.0
    alone = forecast((6, 20, PREVAILING, silent))
    for measure in MEASURES:
        assert np.isnan(one(measure, **alone)), measure


def test_a_temporary_line_is_not_what_a_later_prevailing_line_keeps() -> None:
    lines = forecast(
        (6, 10, PREVAILING, FAIR),
        (6, 9, TEMPORARY, (NAN, NAN, 1.0, NAN, NAN)),
        (10, 20, PREVAILING, (8.0, NONE, NAN, NONE, 0.0)),
    )
    assert one("forecast_visibility_sm", **lines) == 10.0


def test_forecast_age_min() -> None:
    assert one("forecast_age_min", decided_at=5 * HOUR, forecast_issued_at=3 * HOUR) == 120.0
    assert np.isnan(one("forecast_age_min", decided_at=3 * HOUR, forecast_issued_at=5 * HOUR))


def test_ceiling_trend_ft() -> None:
    lines = forecast((6, 20, PREVAILING, (8.0, NONE, 6.0, 2500.0, 0.0)))
    assert one("ceiling_trend_ft", **lines, ceiling_ft_agl=4000.0, route_ceiling_ft_agl=NONE) == -1500.0
    clear = forecast((6, 20, PREVAILING, FAIR))
    assert one("ceiling_trend_ft", **clear, ceiling_ft_agl=NONE, route_ceiling_ft_agl=NONE) == 0.0


def test_visibility_trend_sm() -> None:
    lines = forecast((6, 20, PREVAILING, (8.0, NONE, 6.0, 2500.0, 0.0)))
    assert one("visibility_trend_sm", **lines, visibility_sm=10.0, route_visibility_sm=7.0) == -1.0
