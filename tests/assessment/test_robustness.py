"""Robustness: shares and attribution against hand results, and each copy against a fresh assessment."""

from collections.abc import Mapping
from dataclasses import fields, replace
from datetime import UTC, datetime
from math import pi
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from riskboard.assessment.assess import CannotAssessError, assess
from riskboard.assessment.robustness import Error, Errors, Perturbed, first_order, perturbed, robustness
from riskboard.assessment.variations import Base, base_of, scored
from riskboard.words import Decision
from riskboard.worksheet import Worksheet
from riskboard.worksheet.entries import Span, StationLoad
from tests.assessment.varied import LONG, RUN, calm, prepared, same_as_fresh, sample
from tests.strategies import DECIDED_AT, worksheets

NOTHING = Errors(**{each.name: Error(0.0, "none") for each in fields(Errors)})


def calm_base(**but: object) -> Base:
    sheet, at = calm()
    return base_of(sheet.but(**but), prepared(), at)


def copy_of(base: Base, made: Perturbed, row: int) -> Worksheet:
    """One copy as a worksheet, entry by entry."""
    changes: dict[str, Any] = {}
    for name, values in made.columns.items():
        if name == "station_loads_load_lb":
            changes["station_loads"] = tuple(
                StationLoad(station=each.station, load_lb=None if each.load_lb is None else float(values[row, i]))
                for i, each in enumerate(base.sheet.plan.station_loads or ())
            )
        elif name == "sleeps_start_at":
            ends = made.columns["sleeps_end_at"]
            changes["sleeps"] = tuple(
                Span(start_at=moment(values[row, i]), end_at=moment(ends[row, i]))
                for i in range(len(base.sheet.pilot.sleeps or ()))
            )
        elif name == "landing_at":
            changes[name] = moment(values[row])
        elif name != "sleeps_end_at":
            changes[name] = float(values[row])
    return base.sheet.but(**changes)


def moment(seconds: float) -> datetime:
    return datetime.fromtimestamp(float(seconds), UTC)


# -- copies -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["calm_morning", "gusty_afternoon", "carb_icing_descent", "student_solo"])
def test_copies_of_a_sample_are_worksheets_that_a_fresh_assessment_judges_the_same(name: str) -> None:
    sheet, at = sample(name)
    base = base_of(sheet, prepared(), at)
    made = perturbed(base, replace(Errors(), landing_at_min=Error(8.0, "tested")), copies=30)
    _, scores = scored(base, made.columns, keep=True)
    same_as_fresh(base, [(copy_of(base, made, row), at) for row in range(30)], scores)


@RUN
@given(worksheets(), st.integers(0, 2**32))
def test_that_holds_for_any_worksheet(sheet: Worksheet, seed: int) -> None:
    try:
        base = base_of(sheet, prepared(), DECIDED_AT)
    except CannotAssessError:
        return
    made = perturbed(base, Errors(), copies=3 if LONG else 2, seed=seed)
    if made.columns:
        _, scores = scored(base, made.columns, keep=True)
        rows = range(len(scores.level))
        same_as_fresh(base, [(copy_of(base, made, row), DECIDED_AT) for row in rows], scores)


def test_impossible_copies_are_held_at_the_worse_side_and_it_is_said() -> None:
    base = calm_base(
        temperature_c=9, dew_point_c=8.5, wind_kt=12, gust_kt=14, ceiling_ft_agl=3000, lowest_cloud_ft_agl=2900
    )
    made = perturbed(base, Errors())
    columns = made.columns
    assert (columns["dew_point_c"] <= columns["temperature_c"]).all()
    assert (columns["gust_kt"] >= columns["wind_kt"]).all()
    assert (columns["lowest_cloud_ft_agl"] <= columns["ceiling_ft_agl"]).all()
    drawn = made.drawn
    saturated = 8.5 + drawn["dew_point_c"] > 9 + drawn["temperature_c"]
    # Saturated air, at the temperature that was drawn: the dew point gave way, and the air is no drier for it.
    np.testing.assert_array_equal(columns["dew_point_c"][saturated], columns["temperature_c"][saturated])
    np.testing.assert_allclose(columns["temperature_c"], 9 + drawn["temperature_c"])
    blown = 14 + drawn["gust_kt"] < columns["wind_kt"]
    np.testing.assert_array_equal(columns["gust_kt"][blown], columns["wind_kt"][blown])
    said = " ".join(made.clipped)
    assert f"saturated air, in {saturated.sum()} of 2000 copies" in said
    assert f"as strong as the wind in {blown.sum()} of 2000 copies" in said


def test_sleeps_stay_sound() -> None:
    sheet, at = calm()
    naps = (
        Span(start_at=datetime(2026, 5, 4, 4, tzinfo=UTC), end_at=datetime(2026, 5, 4, 12, 30, tzinfo=UTC)),
        Span(start_at=datetime(2026, 5, 4, 12, 35, tzinfo=UTC), end_at=datetime(2026, 5, 4, 12, 45, tzinfo=UTC)),
        Span(start_at=datetime(2026, 5, 4, 14, 5, tzinfo=UTC), end_at=at),
    )
    base = base_of(sheet.but(sleeps=naps), prepared(), at)
    made = perturbed(base, Errors())
    starts, ends = made.columns["sleeps_start_at"], made.columns["sleeps_end_at"]
    assert (ends > starts).all()
    assert (starts[:, 1:] >= ends[:, :-1]).all()
    assert (ends <= at.timestamp()).all()
    assert any("sleep" in said for said in made.clipped)


def test_what_has_no_value_has_no_error() -> None:
    made = perturbed(calm_base(thunderstorm_nm=None), Errors())
    assert not {"gust_kt", "ceiling_ft_agl", "thunderstorm_nm"} & made.columns.keys()  # none, none, blank


def test_another_error_of_one_input_leaves_the_draws_of_the_others() -> None:
    base = calm_base()
    usual = perturbed(base, Errors())
    other = perturbed(base, replace(Errors(), wind_kt=Error(6.0, "tested")))
    np.testing.assert_array_equal(usual.columns["temperature_c"], other.columns["temperature_c"])
    assert usual.drawn["wind_kt"] * 3 == pytest.approx(other.drawn["wind_kt"])


# -- shares -----------------------------------------------------------------------------------------------------------


def near_the_fuel_limit() -> Base:
    """Fuel that is half a gallon above the limit: 20 min of reserve and an hour of flight at 12 gal/h, 1 gal of start.

    (60 + 20) / 60 * 12 + 1 = 17 gal is the least; 17.5 gal are aboard.
    """
    return calm_base(fuel_usable_gal=17.5, fuel_burn_gal_h=12, start_and_taxi_gal=1, reserve_min=20)


def test_the_share_that_falls_is_the_one_worked_by_hand() -> None:
    # Even error of 1 gal either way: below 17 gal lies a quarter of it. 2,000 copies: three standard errors are 0.029.
    base = near_the_fuel_limit()
    found = robustness(base, replace(NOTHING, fuel_usable_gal=Error(1.0, "tested", normal=False)))
    fuel = perturbed(base, replace(NOTHING, fuel_usable_gal=Error(1.0, "tested", normal=False)))
    assert float((fuel.columns["fuel_usable_gal"] < 17.0).mean()) == pytest.approx(0.25, abs=0.029)
    # The margin is said to a tenth of a minute: half of that, at 12 gal/h, is a hundredth of a gallon.
    assert found.by_decision[Decision.no_go] == float((fuel.columns["fuel_usable_gal"] < 16.99).mean())
    assert found.worse == found.by_decision[Decision.no_go]


def test_a_decision_that_often_falls_is_fragile_and_the_input_is_named() -> None:
    # Of the fuel, the burn weighs more: 5 % of 12 gal/h over 80 min is 0.8 gal, against 1/sqrt(3) = 0.58 of the gauge.
    found = robustness(near_the_fuel_limit())
    assert found.fragile
    assert list(found.by_input)[:2] == ["fuel_burn_gal_h", "fuel_usable_gal"]
    assert found.sentence.startswith("Fragile: go with sign-off in only ")
    assert found.sentence.endswith("What makes it so, most of all: fuel burn.")


def test_shares_add_up_and_the_seed_is_fixed() -> None:
    base = calm_base()
    one, two = robustness(base), robustness(base)
    assert sum(one.by_level.values()) == pytest.approx(1)
    assert sum(one.by_decision.values()) == pytest.approx(1)
    assert list(one.by_level) == [level.name for level in prepared().policy.levels]
    assert (one.by_level, one.by_input, one.sentence) == (two.by_level, two.by_input, two.sentence)
    assert robustness(base, seed=1).by_level != one.by_level


def test_without_errors_nothing_falls() -> None:
    found = robustness(calm_base(), NOTHING)
    assert (found.worse, found.fragile, found.by_input, found.by_level["acceptable"]) == (0, False, {}, 1)
    assert found.sentence == "Go in 100 % of 2,000 copies with the usual errors of the entries."


def test_it_is_never_used_to_improve_a_decision() -> None:
    base = calm_base(fuel_usable_gal=16.9, fuel_burn_gal_h=12, start_and_taxi_gal=1, reserve_min=20)
    found = robustness(base)
    assert found.by_decision[Decision.no_go] < 1  # some copies would fly
    assert (base.decision, found.fragile, found.worse) == (Decision.no_go, False, 0)
    assert found.sentence == "It is no-go as entered; errors of the entries do not change that."
    assert assess(base.sheet, prepared(), base.at).decision is Decision.no_go


def test_what_may_fall_is_the_callers_to_set() -> None:
    base = near_the_fuel_limit()
    assert not robustness(base, allowed=0.9).fragile
    with pytest.raises(ValueError, match="share from 0 to 1"):
        robustness(base, allowed=1.5)
    with pytest.raises(ValueError, match="copies"):
        robustness(base, copies=0)


def test_every_error_says_where_it_comes_from() -> None:
    for name, error in Errors().given().items():
        assert error.source, name
    with pytest.raises(ValueError, match="from 0 up"):
        Error(-1.0, "tested")
    with pytest.raises(ValueError, match="from 0 up"):
        Error(float("nan"), "tested")


# -- attribution ------------------------------------------------------------------------------------------------------

N = 2_000


def draws(*names: str, seed: int = 7) -> Mapping[str, np.ndarray[Any, np.dtype[np.float64]]]:
    generator = np.random.default_rng(seed)
    return {name: generator.standard_normal(N) for name in names}


def test_a_sum_is_explained_in_the_ratio_of_its_variances() -> None:
    # Y = X1 + 2 X2, X3 has no part: variances 1, 4, 0 of 5.
    x = draws("x1", "x2", "x3")
    found = first_order(x, x["x1"] + 2 * x["x2"])
    assert found["x1"] == pytest.approx(0.2, abs=0.04)
    assert found["x2"] == pytest.approx(0.8, abs=0.04)
    assert found["x3"] == pytest.approx(0.0, abs=0.02)
    assert list(found) == ["x2", "x1", "x3"]


def test_one_of_two_events_is_explained_to_a_third_by_each() -> None:
    # Y = A or B, each with chance 1/2: V(Y) = 3/16; E[Y|A] is 1 or 1/2, so its variance is 1/16.
    x = draws("a", "b")
    found = first_order(x, np.where((x["a"] > 0) | (x["b"] > 0), 1.0, 0.0))
    assert found["a"] == pytest.approx(1 / 3, abs=0.04)
    assert found["b"] == pytest.approx(1 / 3, abs=0.04)


def test_what_acts_only_together_is_explained_by_none() -> None:
    x = draws("x1", "x2")
    assert all(part < 0.03 for part in first_order(x, x["x1"] * x["x2"]).values())


def test_the_function_of_ishigami_and_homma() -> None:
    # Y = sin X1 + 7 sin^2 X2 + 0.1 X3^4 sin X1 on (-pi, pi). Closed form (Ishigami and Homma 1990):
    a, b = 7.0, 0.1
    variance = a**2 / 8 + b * pi**4 / 5 + b**2 * pi**8 / 18 + 0.5
    first, second = 0.5 * (1 + b * pi**4 / 5) ** 2 / variance, a**2 / 8 / variance
    generator = np.random.default_rng(3)
    x = {name: generator.uniform(-pi, pi, 20_000) for name in ("x1", "x2", "x3")}
    found = first_order(x, np.sin(x["x1"]) + a * np.sin(x["x2"]) ** 2 + b * x["x3"] ** 4 * np.sin(x["x1"]), classes=40)
    assert found["x1"] == pytest.approx(first, abs=0.02)
    assert found["x2"] == pytest.approx(second, abs=0.02)
    assert found["x3"] == pytest.approx(0.0, abs=0.01)


def test_the_estimate_is_the_one_worked_by_hand() -> None:
    # Four values in two classes of the input: outputs 0, 0 | 0, 1. Mean 1/4; total 3/4; within the second class 1/2.
    # 1 - (1/2 / (4 - 2)) / (3/4 / (4 - 1)) = 1 - 1/4 / 1/4 = 0.
    assert first_order({"x": np.array([1.0, 2, 3, 4])}, np.array([0.0, 0, 0, 1]), classes=2) == {"x": 0.0}
    # Outputs 0, 0 | 1, 1: nothing is left within the classes.
    assert first_order({"x": np.array([3.0, 1, 4, 2])}, np.array([1.0, 0, 1, 0]), classes=2) == {"x": 1.0}


def test_an_output_that_does_not_vary_is_explained_by_nothing() -> None:
    assert first_order(draws("x"), np.zeros(N)) == {}
    with pytest.raises(ValueError, match="classes"):
        first_order({"x": np.zeros(5)}, np.zeros(5))
