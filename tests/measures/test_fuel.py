"""Fuel against ``atmosphere.yaml`` (fuel), ``rules.yaml`` and ``rules_more.yaml`` (fuel_reserve), ``practice.yaml``."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from riskboard.measures.fuel import endurance_min, fuel_margin_min, fuel_required_gal
from tests.measures.reference import Case, document, number, params, topic

HANDBOOK = topic("atmosphere", "fuel")


@pytest.mark.parametrize("case", HANDBOOK)
def test_fuel_of_the_first_file(case: Case) -> None:
    given_, expected, tolerance = case["inputs"], case["expected"], case["tolerance"]
    planned_min = given_["planned_h"] * 60
    facts = (given_["usable_gal"], given_["burn_gal_h"], planned_min, given_["reserve_min"])
    if expected.get("refused"):
        with pytest.raises(ValueError, match="burn_gal_per_h"):
            fuel_margin_min(*facts, taxi_gal=given_["taxi_gal"])
        return
    endurance = endurance_min(given_["usable_gal"], given_["burn_gal_h"], given_["taxi_gal"])
    assert endurance == pytest.approx(expected["endurance_min"], abs=tolerance["endurance_min"])
    margin = fuel_margin_min(*facts, taxi_gal=given_["taxi_gal"])
    assert margin == pytest.approx(expected["margin_min"], abs=tolerance["margin_min"])
    assert (float(margin) >= 0) is expected["legal"]
    required = fuel_required_gal(*facts[1:], taxi_gal=given_["taxi_gal"])
    assert required == pytest.approx(expected["fuel_required_gal"], abs=tolerance["fuel_required_gal"])


@pytest.mark.parametrize("case", params(topic("rules_more", "fuel_reserve")))
def test_fuel_reserve_second_set(case: Case) -> None:
    given_, expected = case["inputs"], case["expected"]
    facts = (number(given_["usable_us_gal"]), given_["burn_us_gal_per_h"], given_["planned_min"], given_["reserve_min"])
    if "error" in expected:
        with pytest.raises(ValueError, match="burn_gal_per_h must be above 0"):
            fuel_margin_min(*facts)
        return
    if expected["ok"] == "unknown":
        assert math.isnan(float(fuel_margin_min(*facts)))
        return
    assert endurance_min(*facts[:2]) == expected["endurance_min"]
    assert fuel_margin_min(*facts) == expected["margin_min"]
    assert (float(fuel_margin_min(*facts)) >= 0) is expected["ok"]


@pytest.mark.parametrize("case", params(topic("rules", "fuel_reserve")))
def test_fuel_reserve_first_set(case: Case) -> None:
    given_, expected = case["inputs"], case["expected"]
    facts = (given_["usable_fuel_gal"], given_["burn_gph"], given_["minutes_to_landing"])
    assert fuel_margin_min(*facts, 0) == expected["reserve_min"]
    assert (float(fuel_margin_min(*facts, 20)) >= 0) is expected["legal"]


def test_fuel_example_of_common_practice() -> None:
    row = document("practice")["fuel_example"]
    facts = (row["usable_us_gal"], row["burn_us_gal_per_h"])
    assert endurance_min(*facts) == row["endurance_min"]
    assert fuel_margin_min(*facts, row["planned_h"] * 60, row["reserve_min"]) == pytest.approx(row["margin_min"])


def test_arrays_keep_their_shape_and_unknowns() -> None:
    usable = np.array([[24.0, np.nan], [18.0, 18.0]])
    found = fuel_margin_min(usable, 12.0, [[72.0, 70.0], [70.0, np.nan]], 20.0)
    np.testing.assert_array_equal(found, [[28.0, np.nan], [0.0, np.nan]])
    assert isinstance(fuel_margin_min(24.0, 12.0, 72.0, 20.0), float)


@pytest.mark.parametrize(
    ("facts", "name"),
    [
        ((-1, 12, 60, 20), "usable_gal"),
        ((20, -12, 60, 20), "burn_gal_per_h"),
        ((20, 12, -60, 20), "planned_min"),
        ((20, 12, 60, -20), "reserve_min"),
        ((math.inf, 12, 60, 20), "usable_gal"),
    ],
)
def test_the_impossible_is_refused_by_name(facts: tuple[float, float, float, float], name: str) -> None:
    with pytest.raises(ValueError, match=name):
        fuel_margin_min(*facts)
    with pytest.raises(ValueError, match="taxi_gal"):
        fuel_margin_min(20, 12, 60, 20, taxi_gal=-1)


@given(st.floats(1, 60), st.floats(5, 300), st.floats(0, 60), st.floats(0, 5))
def test_the_required_fuel_leaves_nothing_over(burn: float, planned: float, reserve: float, taxi: float) -> None:
    required = fuel_required_gal(burn, planned, reserve, taxi_gal=taxi)
    assert fuel_margin_min(required, burn, planned, reserve, taxi_gal=taxi) == pytest.approx(0, abs=1e-5)
