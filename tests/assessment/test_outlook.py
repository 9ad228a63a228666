"""What the weather entries read at a later take-off, each case worked by hand from the lines. Times are UTC.

The observation of the calm morning is of 13:53 and may count for 75 minutes, until 15:08. Flights last one hour, and
an hour after landing counts.
"""

from collections.abc import Sequence
from datetime import UTC, datetime
from typing import Any

import numpy as np
import pytest

from riskboard.assessment.outlook import FOLLOWED, Outlook, outlook
from riskboard.assessment.variations import base_of
from riskboard.worksheet.columns import OBSERVED
from riskboard.worksheet.entries import ForecastLine
from tests.assessment.varied import calm, prepared

INF = float("inf")
FAIR: dict[str, Any] = {
    "wind_kt": 6, "gust_kt": "none", "visibility_sm": 10, "ceiling_ft_agl": "none", "thunderstorm": False,
    "wind_from_deg": 320, "lowest_cloud_ft_agl": "none", "temperature_c": 20, "dew_point_c": 2, "precipitation": "none",
}  # fmt: skip


def at(clock: str) -> datetime:
    day, time = (4, clock) if "+" not in clock else (5, clock.removeprefix("+"))
    return datetime(2026, 5, day, int(time[:2]), int(time[2:]), tzinfo=UTC)


def line(start: str, end: str, kind: str = "prevailing", **stated: Any) -> ForecastLine:
    return ForecastLine.model_validate({"start_at": at(start), "end_at": at(end), "kind": kind, **stated})


def seen(lines: Sequence[ForecastLine] | None, clock: str, **but: Any) -> Outlook:
    """The outlook of one flight of an hour."""
    sheet, now = calm()
    changed = sheet.but(forecast_lines=None if lines is None else tuple(lines), **but)
    base = base_of(changed, prepared(), now)
    start = np.array([at(clock).timestamp()])
    return outlook(base, start, start + 3_600.0)


def entry(found: Outlook, name: str) -> float:
    return float(found.entries[name][0])


def test_every_observed_entry_is_followed() -> None:
    assert set(FOLLOWED) == set(OBSERVED)


def test_while_the_observation_counts_the_worse_of_it_and_the_forecast_is_taken() -> None:
    found = seen([line("1200", "2300", **(FAIR | {"wind_kt": 14, "visibility_sm": 3}))], "1430")
    assert (entry(found, "wind_kt"), entry(found, "visibility_sm")) == (14, 3)
    better = seen([line("1200", "2300", **FAIR)], "1430", wind_kt=9, visibility_sm=4, route_visibility_sm=4)
    assert (entry(better, "wind_kt"), entry(better, "visibility_sm")) == (9, 4)
    assert not better.fresh["wind_kt"][0]


def test_later_the_forecast_alone_counts_and_may_be_better() -> None:
    lines = [line("1200", "2300", **FAIR)]
    assert entry(seen(lines, "1508", visibility_sm=2, route_visibility_sm=2), "visibility_sm") == 2
    found = seen(lines, "1509", visibility_sm=2, route_visibility_sm=2)
    assert entry(found, "visibility_sm") == 10
    assert found.fresh["visibility_sm"][0]
    assert found.true_at["visibility_sm"][0] == at("1509").timestamp()


def test_the_worst_line_of_the_flight_and_the_hour_after_it_counts() -> None:
    lines = [line("1200", "1800", **FAIR), line("1800", "2300", **(FAIR | {"ceiling_ft_agl": 900, "wind_kt": 18}))]
    assert entry(seen(lines, "1600"), "ceiling_ft_agl") == INF  # lands 17:00, looked at until 18:00
    found = seen(lines, "1601")
    assert (entry(found, "ceiling_ft_agl"), entry(found, "wind_kt")) == (900, 18)
    assert entry(found, "lowest_cloud_ft_agl") == 900  # a ceiling is a cloud


def test_a_longer_reserve_is_looked_at_to_its_end() -> None:
    lines = [line("1200", "1800", **FAIR), line("1800", "2300", **(FAIR | {"visibility_sm": 1}))]
    assert entry(seen(lines, "1530", reserve_min=90), "visibility_sm") == 10
    assert entry(seen(lines, "1531", reserve_min=90), "visibility_sm") == 1


def test_a_temporary_line_counts_fully_and_only_in_what_it_states() -> None:
    lines = [line("1200", "2300", **FAIR), line("1700", "1900", "temporary", gust_kt=25)]
    found = seen(lines, "1600", wind_kt=4)
    assert entry(found, "gust_kt") == 25
    assert entry(found, "visibility_sm") == 10


def test_a_gust_below_the_wind_of_another_line_is_as_strong_as_that_wind() -> None:
    lines = [line("1200", "2300", **(FAIR | {"wind_kt": 20})), line("1700", "1900", "temporary", wind_kt=8, gust_kt=15)]
    found = seen(lines, "1600")
    assert (entry(found, "wind_kt"), entry(found, "gust_kt")) == (20, 20)


def test_a_silent_prevailing_line_keeps_what_the_one_before_said() -> None:
    lines = [line("1200", "1700", **(FAIR | {"visibility_sm": 5})), line("1700", "2300", wind_kt=9, gust_kt="none")]
    assert entry(seen(lines, "1900"), "visibility_sm") == 5


def test_what_no_line_has_said_is_unknown() -> None:
    stated = {name: value for name, value in FAIR.items() if name not in {"ceiling_ft_agl", "precipitation"}}
    found = seen([line("1200", "2300", **stated)], "1600")
    assert np.isnan(entry(found, "ceiling_ft_agl"))
    assert np.isnan(entry(found, "precipitation"))
    assert not found.fresh["ceiling_ft_agl"][0]


def test_outside_the_forecast_it_is_unknown() -> None:
    lines = [line("1200", "1800", **FAIR)]
    assert entry(seen(lines, "1600"), "wind_kt") == 6  # until 18:00 exactly
    assert np.isnan(entry(seen(lines, "1601"), "wind_kt"))
    assert np.isnan(entry(seen(None, "1601"), "wind_kt"))


def test_before_the_first_line_observation_and_line_both_count() -> None:
    # Seen at 13:53: 10 SM. Nothing is forecast until 18:00, then 3 SM: between the two never better than 3.
    found = seen([line("1800", "2300", **(FAIR | {"visibility_sm": 3, "wind_kt": 2}))], "1530")
    assert entry(found, "visibility_sm") == 3
    assert entry(found, "wind_kt") == 4  # the observed wind is the stronger one


def test_between_two_lines_both_count() -> None:
    early = line("1200", "1700", **(FAIR | {"wind_kt": 15, "gust_kt": 24}))
    late = line("1900", "2300", **(FAIR | {"ceiling_ft_agl": 1500}))
    found = seen([early, late], "1720")
    assert (entry(found, "gust_kt"), entry(found, "ceiling_ft_agl")) == (24, 1500)


def test_wind_of_two_directions_or_of_none_may_come_from_anywhere() -> None:
    one = line("1200", "1700", **FAIR)
    other = line("1700", "2300", **(FAIR | {"wind_from_deg": 210}))
    assert entry(seen([one, other], "1515"), "wind_from_deg") == INF  # the column's "variable"
    assert entry(seen([one, other], "1800"), "wind_from_deg") == 210
    silent = {name: value for name, value in FAIR.items() if name != "wind_from_deg"}
    assert entry(seen([line("1200", "2300", **silent)], "1800"), "wind_from_deg") == INF
    assert entry(seen([line("1200", "2300", **silent)], "1430"), "wind_from_deg") == 320


def test_temperature_is_given_at_both_ends_and_needs_lines_that_cover_the_flight() -> None:
    steady = {name: value for name, value in FAIR.items() if name not in {"temperature_c", "dew_point_c"}}
    cool = line("1500", "1700", "temporary", temperature_c=18, dew_point_c=5)
    warm = line("1700", "1900", "temporary", temperature_c=27, dew_point_c=4)
    found = seen([line("1200", "2300", **steady), cool, warm], "1600")
    assert (entry(found, "temperature_c"), float(found.highest["temperature_c"][0])) == (18, 27)
    assert (entry(found, "dew_point_c"), float(found.highest["dew_point_c"][0])) == (4, 5)
    gap = seen([line("1200", "2300", **steady), cool, line("1710", "1900", "temporary", temperature_c=27)], "1600")
    assert np.isnan(entry(gap, "temperature_c"))


def test_the_way_stays_as_much_worse_as_it_was_seen() -> None:
    lines = [line("1200", "2300", **(FAIR | {"ceiling_ft_agl": 5000, "lowest_cloud_ft_agl": 5000}))]
    seen_low = {"ceiling_ft_agl": 3000, "lowest_cloud_ft_agl": 3000, "route_ceiling_ft_agl": 1800}
    assert entry(seen(lines, "1600", **seen_low), "route_ceiling_ft_agl") == 5000 - (3000 - 1800)
    # Seen without a ceiling here and with one on the way: that one stays.
    assert entry(seen(lines, "1600", route_ceiling_ft_agl=2500), "route_ceiling_ft_agl") == 2500
    # Seen better on the way than here: no credit for that.
    fog = {"visibility_sm": 1, "route_visibility_sm": 6}
    found = seen([line("1200", "2300", **(FAIR | {"visibility_sm": 4}))], "1600", **fog)
    assert entry(found, "route_visibility_sm") == 4


def test_fog_storm_and_freezing_follow_from_what_lines_state() -> None:
    murk = seen([line("1200", "2300", **(FAIR | {"visibility_sm": 4, "thunderstorm": True}))], "1600")
    assert (entry(murk, "fog_or_mist"), entry(murk, "thunderstorm_nm")) == (1, 0)
    clear = seen([line("1200", "2300", **FAIR)], "1600")
    assert (entry(clear, "fog_or_mist"), entry(clear, "thunderstorm_nm")) == (0, INF)
    assert entry(clear, "freezing_precipitation") == 0
    rain = FAIR | {"precipitation": "light"}
    assert entry(seen([line("1200", "2300", **rain)], "1600"), "freezing_precipitation") == 0  # 20 C
    cold = rain | {"temperature_c": 1, "dew_point_c": 0}
    assert np.isnan(entry(seen([line("1200", "2300", **cold)], "1600"), "freezing_precipitation"))


@pytest.mark.parametrize(("clock", "setting"), [("1508", 30.05), ("1553", 29.93), ("1853", 29.75), ("2253", 29.75)])
def test_the_altimeter_setting_is_let_fall(clock: str, setting: float) -> None:
    # Seen 30.05 at 13:53: 0.06 an hour, at most 0.30; two hours later 29.93, five hours and more 29.75.
    assert entry(seen([line("1200", "+0900", **FAIR)], clock), "altimeter_inhg") == pytest.approx(setting, abs=1e-9)


def test_what_is_blank_now_stays_blank_while_it_is_asked_for() -> None:
    lines = [line("1200", "2300", **FAIR)]
    assert np.isnan(entry(seen(lines, "1430", wind_kt=None, gust_kt=None), "wind_kt"))
    assert np.isnan(entry(seen(lines, "1430", turbulence=None), "turbulence"))
    assert np.isnan(entry(seen(lines, "1800", turbulence=None), "turbulence"))
