"""An aircraft's own burn: by hand, against a grid over the two densities, and at its extremes."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from riskboard.aircraft_types.model import BurnSpread
from riskboard.measures.fuel_burn import own_burn
from tests.measures.flown_loads import tarnwick

SPREAD = BurnSpread(between_aircraft_gal_per_h=1.0, between_flights_gal_per_h=1.0, reading_gal=1e-9)
NAN = float("nan")


def test_without_flights_it_is_the_types_value() -> None:
    found = own_burn(12.0, tarnwick().fuel.spread, [], [])
    assert (found.own_gal_per_h, found.type_gal_per_h, found.flown_gal_per_h) == (12.0, 12.0, None)
    assert (found.own_weight, found.flights) == (0.0, 0)
    assert found.sd_gal_per_h == pytest.approx(0.7)


@pytest.mark.parametrize(("flights", "expected", "sd"), [(1, 13.0, 0.5**0.5), (3, 13.5, 0.5), (9, 13.8, 0.1**0.5)])
def test_by_hand(flights: int, expected: float, sd: float) -> None:
    """Type 12 and every flight 14 gal/h, all spreads 1: n flights weigh n against 1."""
    found = own_burn(12.0, SPREAD, [14.0] * flights, [1.0] * flights)
    assert found.own_gal_per_h == pytest.approx(expected)
    assert found.flown_gal_per_h == pytest.approx(14.0)
    assert found.sd_gal_per_h == pytest.approx(sd)
    assert found.own_weight == pytest.approx(flights / (flights + 1))


def test_a_short_flight_says_less() -> None:
    """A reading error of 1 gal is 4 gal/h in a quarter of an hour."""
    spread = BurnSpread(1.0, 0.5, 1.0)
    short, long = own_burn(12, spread, [4.0], [0.25]), own_burn(12, spread, [32.0], [2.0])
    assert short.own_weight == pytest.approx((1 / 16.25) / (1 + 1 / 16.25))
    assert short.own_gal_per_h < long.own_gal_per_h < 16


@given(
    st.floats(8, 16),
    st.lists(st.tuples(st.floats(5, 30), st.floats(0.3, 3)), min_size=1, max_size=6),
    st.tuples(st.floats(0.3, 2), st.floats(0.3, 2), st.floats(0.1, 2)),
)
def test_against_the_product_of_the_densities(
    base: float, flights: list[tuple[float, float]], spreads: tuple[float, float, float]
) -> None:
    """Mean and spread of prior times likelihoods, summed over a fine grid: no formula of ours in it."""
    spread = BurnSpread(*spreads)
    grid = np.linspace(-40, 140, 360_001)
    log = -0.5 * ((grid - base) / spreads[0]) ** 2
    for used, hours in flights:
        sd = math.hypot(spreads[1], spreads[2] / hours)
        log = log - 0.5 * ((used / hours - grid) / sd) ** 2
    weight = np.exp(log - log.max())
    mean = float((grid * weight).sum() / weight.sum())
    sd = math.sqrt(float(((grid - mean) ** 2 * weight).sum() / weight.sum()))
    found = own_burn(base, spread, [used for used, _ in flights], [hours for _, hours in flights])
    assert found.own_gal_per_h == pytest.approx(mean, abs=1e-6)
    assert found.sd_gal_per_h == pytest.approx(sd, abs=1e-6)


def test_an_unknown_flight_is_left_out_and_counted() -> None:
    found = own_burn(12.0, SPREAD, [14.0, None, 14.0, NAN], [1.0, 1.0, None, 1.0])
    assert (found.flights, found.left_out) == (1, 3)
    assert found.own_gal_per_h == pytest.approx(13.0)


@given(st.lists(st.floats(0, 40), min_size=1, max_size=8), st.integers(0, 7), st.floats(0.01, 10))
def test_more_fuel_used_is_never_a_lower_burn(used: list[float], place: int, more: float) -> None:
    hours = [1.0] * len(used)
    before = own_burn(12.0, SPREAD, used, hours).own_gal_per_h
    used[place % len(used)] += more
    assert own_burn(12.0, SPREAD, used, hours).own_gal_per_h > before


@pytest.mark.parametrize(
    ("arguments", "name"),
    [
        ((0, [1.0], [1.0]), "type_gal_per_h"),
        ((NAN, [1.0], [1.0]), "type_gal_per_h"),
        ((12, [-1.0], [1.0]), "used_gal"),
        ((12, [1.0], [0.0]), "flown_h"),
        ((12, [1.0], [1.0, 2.0]), "same length"),
    ],
)
def test_the_impossible_is_refused_by_name(arguments: tuple[float, list[float], list[float]], name: str) -> None:
    base, used, hours = arguments
    with pytest.raises(ValueError, match=name):
        own_burn(base, SPREAD, used, hours)
