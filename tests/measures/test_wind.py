"""Wind against trigonometry and the published tail-rotor azimuths; sources stand in the reference file."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from riskboard.measures.wind import (
    TailRotorRegion,
    gust_factor,
    gust_spread_kt,
    tail_rotor_region_names,
    tail_rotor_regions_worst,
    tail_rotor_wind_sector,
    variable_wind_worst_kt,
    wind_components_kt,
)
from tests.measures.reference import Case, topic


@pytest.mark.parametrize("case", topic("atmosphere", "wind_components"))
def test_wind_components(case: Case) -> None:
    headwind, crosswind = wind_components_kt(**case["inputs"])
    expected, tolerance = case["expected"], case["tolerance"]
    assert headwind == pytest.approx(expected["headwind_kt"], abs=tolerance["headwind_kt"])
    assert crosswind == pytest.approx(expected["crosswind_from_right_kt"], abs=tolerance["crosswind_from_right_kt"])


@pytest.mark.parametrize("case", topic("atmosphere", "gusts"))
def test_gusts(case: Case) -> None:
    if case["expected"].get("refused"):
        for function in (gust_spread_kt, gust_factor):
            with pytest.raises(ValueError, match="gust_kt"):
                function(**case["inputs"])
        return
    expected, tolerance = case["expected"], case["tolerance"]
    assert gust_spread_kt(**case["inputs"]) == pytest.approx(
        expected["gust_spread_kt"], abs=tolerance["gust_spread_kt"]
    )
    assert gust_factor(**case["inputs"]) == pytest.approx(expected["gust_factor"], abs=tolerance["gust_factor"])


def test_gust_factor_of_a_calm_is_unknown() -> None:
    assert np.isnan(gust_factor(0.0, 0.0))


@pytest.mark.parametrize("case", topic("atmosphere", "wind_variable_worst_case"))
def test_variable_wind(case: Case) -> None:
    worst = variable_wind_worst_kt(**case["inputs"])
    found = {
        "worst_crosswind_kt": worst.crosswind_kt,
        "worst_tailwind_kt": worst.tailwind_kt,
        "least_headwind_kt": worst.least_headwind_kt,
    }
    assert set(found) == set(case["expected"])
    for name, value in found.items():
        assert value == pytest.approx(case["expected"][name], abs=case["tolerance"][name]), name


def test_variable_wind_against_every_whole_degree() -> None:
    """Brute force, as the reference file does it; with whole degrees the extremes lie on the grid."""
    rng = np.random.default_rng(11)
    for first, width, heading in rng.integers(0, 360, (200, 3)).tolist():
        directions = (first + np.arange(width + 1)) % 360
        headwind, crosswind = wind_components_kt(directions, 20.0, heading)
        worst = variable_wind_worst_kt(first, (first + width) % 360, 20.0, heading)
        assert worst.crosswind_kt == pytest.approx(np.abs(crosswind).max(), abs=1e-9)
        assert worst.least_headwind_kt == pytest.approx(np.min(headwind), abs=1e-9)
        assert worst.tailwind_kt == pytest.approx(max(0.0, -np.min(headwind)), abs=1e-9)


def test_the_full_circle_and_the_single_direction() -> None:
    all_round = variable_wind_worst_kt(0.0, 360.0, 12.0, 77.0)
    assert all_round.crosswind_kt == pytest.approx(12.0)
    assert all_round.tailwind_kt == pytest.approx(12.0)
    steady = variable_wind_worst_kt(120.0, 120.0, 10.0, 90.0)
    assert steady.crosswind_kt == pytest.approx(5.0)
    assert steady.tailwind_kt == pytest.approx(0.0)


@pytest.mark.parametrize("case", topic("atmosphere", "tail_rotor_wind_sector"))
def test_tail_rotor_regions(case: Case) -> None:
    code = int(np.asarray(tail_rotor_wind_sector(**case["inputs"])))
    assert set(tail_rotor_region_names(code)) == set(case["expected"]["regions"])


def test_both_ends_belong_and_a_degree_beyond_does_not() -> None:
    # FAA AC 90-95; the reference file: both ends of each range belong to it.
    ends = {"MAIN_ROTOR_DISC_VORTEX": (285, 315), "WEATHERCOCK": (120, 240), "TAIL_ROTOR_VORTEX_RING": (210, 330)}
    for name, (low, high) in ends.items():
        codes = np.asarray(tail_rotor_wind_sector([low - 1, low, high, high + 1], 0))
        assert ((codes & TailRotorRegion[name]) > 0).tolist() == [False, True, True, False]


def test_a_clockwise_rotor_is_the_mirror_image() -> None:
    azimuth = np.arange(0, 361)
    left = np.asarray(tail_rotor_wind_sector(azimuth, 0, "counterclockwise"))
    right = np.asarray(tail_rotor_wind_sector((360 - azimuth) % 360, 0, "clockwise"))
    assert np.array_equal(left, right)
    mixed = tail_rotor_wind_sector([300, 300], 0, ["counterclockwise", "clockwise"])
    assert np.asarray(mixed).tolist() == [5, 0]


def test_the_worst_number_of_regions_against_every_degree() -> None:
    rng = np.random.default_rng(12)
    for rotor in ("counterclockwise", "clockwise"):
        for first, width, heading in rng.integers(0, 360, (100, 3)).tolist():
            codes = np.asarray(tail_rotor_wind_sector((first + np.arange(width + 1)) % 360, heading, rotor))
            counts = [len(tail_rotor_region_names(int(code))) for code in codes]
            assert tail_rotor_regions_worst(first, (first + width) % 360, heading, rotor) == max(counts)
    assert tail_rotor_regions_worst(0.0, 360.0, 50.0) == 2.0


def test_names_refuse_unknown() -> None:
    with pytest.raises(ValueError, match="unknown"):
        tail_rotor_region_names(-1)


def test_shape_and_unknown() -> None:
    headwind, crosswind = wind_components_kt([[90.0, np.nan]], 10.0, [[90.0], [0.0]])
    for part in (headwind, crosswind):
        assert np.asarray(part).shape == (2, 2)
        assert np.isnan(part).tolist() == [[False, True], [False, True]]
    assert isinstance(headwind, np.ndarray)
    assert isinstance(gust_spread_kt(10.0, 15.0), float)
    assert np.isnan(gust_spread_kt([5.0, np.nan], [np.nan, 9.0])).tolist() == [True, True]
    assert np.asarray(tail_rotor_wind_sector([180.0, np.nan], [0.0, 0.0])).tolist() == [2, -1]
    assert np.isnan(tail_rotor_regions_worst(0.0, 360.0, None))
    assert all(np.isnan(part) for part in variable_wind_worst_kt(10.0, None, 10.0, 20.0))


@pytest.mark.parametrize(
    ("call", "name"),
    [
        (lambda: wind_components_kt(361.0, 10.0, 0.0), "wind_from_deg"),
        (lambda: wind_components_kt(10.0, -1.0, 0.0), "wind_kt"),
        (lambda: wind_components_kt(10.0, 10.0, -5.0), "heading_deg"),
        (lambda: wind_components_kt(10.0, np.inf, 5.0), "wind_kt"),
        (lambda: variable_wind_worst_kt(10.0, 400.0, 10.0, 5.0), "variable_to_deg"),
        (lambda: tail_rotor_wind_sector(10.0, 5.0, "sideways"), "rotor"),
    ],
)
def test_impossible_input_is_refused_by_name(call: Callable[[], Any], name: str) -> None:
    with pytest.raises(ValueError, match=name):
        call()
