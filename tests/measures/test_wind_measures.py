"""Registered measures of wind and of the student's limits: trigonometry by hand and the reference file's cases."""

import numpy as np
import pytest

from tests.measures.columns_of import NAN, NONE, one
from tests.measures.reference import Case, topic

STEADY = {"wind_variable_from_deg": NONE, "wind_variable_to_deg": NONE, "gust_kt": NONE}
COUNTERCLOCKWISE, CLOCKWISE = 0.0, 1.0  # the order of words.RotorDirection


def test_wind_speed_kt() -> None:
    assert one("wind_speed_kt", wind_kt=14.0) == 14.0


def test_gust_peak_kt() -> None:
    assert one("gust_peak_kt", wind_kt=14.0, gust_kt=25.0) == 25.0
    assert one("gust_peak_kt", wind_kt=14.0, gust_kt=NONE) == 14.0
    assert np.isnan(one("gust_peak_kt", wind_kt=14.0, gust_kt=NAN))
    assert np.isnan(one("gust_peak_kt", wind_kt=NAN, gust_kt=25.0))


@pytest.mark.parametrize("case", topic("atmosphere", "gusts"))
def test_gust_spread_kt(case: Case) -> None:
    found = one("gust_spread_kt", **case["inputs"])
    # Impossible input is refused by the worksheet; in a batch it comes out unknown.
    assert np.isnan(found) if case["expected"].get("refused") else found == case["expected"]["gust_spread_kt"]


def test_gust_spread_without_gusts_is_zero() -> None:
    assert one("gust_spread_kt", wind_kt=14.0, gust_kt=NONE) == 0.0


@pytest.mark.parametrize("case", topic("atmosphere", "wind_variable_worst_case"))
def test_crosswind_worst_kt(case: Case) -> None:
    given = case["inputs"]
    ranged = {
        "wind_from_deg": given["variable_from_deg"],
        "wind_variable_from_deg": given["variable_from_deg"],
        "wind_variable_to_deg": given["variable_to_deg"],
        "approach_heading_deg": given["heading_deg"],
        "wind_kt": given["wind_kt"],
        "gust_kt": NONE,
    }
    # The measure is rounded to 0.1 kt, so half of that is added to the file's tolerance.
    room = case["tolerance"]["worst_crosswind_kt"] + 0.05
    assert one("crosswind_worst_kt", **ranged) == pytest.approx(case["expected"]["worst_crosswind_kt"], abs=room)
    assert one("tailwind_worst_kt", **ranged) == pytest.approx(case["expected"]["worst_tailwind_kt"], abs=room)


def test_crosswind_counts_the_gust_and_a_direction_all_round() -> None:
    wind = STEADY | {"wind_from_deg": 60.0, "approach_heading_deg": 90.0, "wind_kt": 10.0, "gust_kt": 20.0}
    assert one("crosswind_worst_kt", **wind) == 10.0  # 20 kt * sin 30
    assert one("crosswind_worst_kt", **wind | {"wind_from_deg": NONE}) == 20.0  # "variable"
    calm = wind | {"wind_kt": 0.0, "gust_kt": NONE}
    assert one("crosswind_worst_kt", **calm | {"wind_from_deg": NAN}) == 0.0
    assert np.isnan(one("crosswind_worst_kt", **wind | {"wind_from_deg": NAN}))
    assert np.isnan(one("crosswind_worst_kt", **wind | {"wind_from_deg": 400.0}))


def test_tailwind_worst_kt() -> None:
    wind = STEADY | {"approach_heading_deg": 90.0, "wind_kt": 12.0}
    assert one("tailwind_worst_kt", **wind, wind_from_deg=270.0) == 12.0
    assert one("tailwind_worst_kt", **wind, wind_from_deg=90.0) == 0.0
    assert one("tailwind_worst_kt", **wind, wind_from_deg=NONE) == 12.0


@pytest.mark.parametrize("case", topic("atmosphere", "tail_rotor_wind_sector"))
def test_tail_rotor_regions(case: Case) -> None:
    given = case["inputs"]
    wind = STEADY | {"wind_from_deg": given["wind_from_deg"], "approach_heading_deg": given["heading_deg"]}
    turn = {"counterclockwise": COUNTERCLOCKWISE, "clockwise": CLOCKWISE}[given["rotor"]]
    assert one("tail_rotor_regions", **wind, wind_kt=10.0, rotor_direction=turn) == len(case["expected"]["regions"])
    assert one("tail_rotor_regions", **wind, wind_kt=2.0, rotor_direction=turn) == 0.0
    assert one("tail_rotor_regions", **wind | {"gust_kt": 12.0}, wind_kt=2.0, rotor_direction=turn) == len(
        case["expected"]["regions"]
    )


def test_tail_rotor_regions_over_a_range_and_unknown() -> None:
    wind = STEADY | {"wind_from_deg": 0.0, "approach_heading_deg": 0.0, "wind_kt": 10.0}
    ranged = wind | {"wind_variable_from_deg": 340.0, "wind_variable_to_deg": 130.0}
    assert one("tail_rotor_regions", **wind, rotor_direction=COUNTERCLOCKWISE) == 0.0
    assert one("tail_rotor_regions", **ranged, rotor_direction=COUNTERCLOCKWISE) == 1.0
    assert np.isnan(one("tail_rotor_regions", **wind, rotor_direction=NAN))


def test_student_wind_margin_kt() -> None:
    # 14 CFR 61.89(a)(8): the instructor's limit against the peak.
    assert one("student_wind_margin_kt", student_wind_limit_kt=15.0, wind_kt=10.0, gust_kt=18.0) == -3.0
    assert one("student_wind_margin_kt", student_wind_limit_kt=NONE, wind_kt=10.0, gust_kt=18.0) == 60.0
    assert np.isnan(one("student_wind_margin_kt", student_wind_limit_kt=NONE, wind_kt=10.0, gust_kt=NAN))


def test_student_crosswind_margin_kt() -> None:
    wind = STEADY | {"wind_from_deg": 60.0, "approach_heading_deg": 90.0, "wind_kt": 12.0}
    assert one("student_crosswind_margin_kt", **wind, student_crosswind_limit_kt=8.0) == 2.0  # 12 kt * sin 30 = 6
    assert one("student_crosswind_margin_kt", **wind, student_crosswind_limit_kt=NONE) == 40.0


def test_student_visibility_margin_sm() -> None:
    seen = {"visibility_sm": 6.0, "route_visibility_sm": 4.0}
    assert one("student_visibility_margin_sm", **seen, student_visibility_limit_sm=5.0) == -1.0
    assert one("student_visibility_margin_sm", **seen, student_visibility_limit_sm=NONE) == 100.0
    assert np.isnan(one("student_visibility_margin_sm", **seen, student_visibility_limit_sm=NAN))


def test_student_ceiling_margin_ft() -> None:
    clouds = {"ceiling_ft_agl": NONE, "route_ceiling_ft_agl": 2500.0}
    assert one("student_ceiling_margin_ft", **clouds, student_ceiling_limit_ft_agl=2000.0) == 500.0
    assert one("student_ceiling_margin_ft", **clouds, student_ceiling_limit_ft_agl=NONE) == 60_000.0
