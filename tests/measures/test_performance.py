"""Hover margins and power limits: by hand in the invented type's tables, against scipy, and monotone."""

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.interpolate import RegularGridInterpolator
from scipy.optimize import brentq

from riskboard.aircraft_types.model import HoverTable
from riskboard.measures.performance import (
    hover_ceiling_ft,
    hover_margin_ft,
    hover_margin_lb,
    hover_weight_max_lb,
    performance_at,
    power_limit,
    site_temperature_c,
)
from tests.aircraft_types.samples import good, other
from tests.measures.flown_loads import tarnwick

NAN = float("nan")
INSIDE, OUTSIDE = tarnwick().hover_in_ground_effect, tarnwick().hover_out_of_ground_effect
TABLES = [INSIDE, OUTSIDE, good().hover_out_of_ground_effect, other().hover_in_ground_effect]


def test_a_cell_and_the_middle_of_four() -> None:
    assert hover_ceiling_ft(INSIDE, 1460, 20) == 7300
    # Middle of 1,460 and 1,560 lb, of 20 and 30 C: (7300 + 6300 + 6500 + 5500) / 4.
    assert hover_ceiling_ft(INSIDE, 1510, 25) == 6400
    assert hover_margin_ft(INSIDE, 1510, 25, 5000) == 1400


def test_a_hot_afternoon_with_two_large_people() -> None:
    """1,555 lb to a site at 6,700 ft pressure altitude and 23 C: no hover in ground effect, and 24 lb must come off.

    At 23 C the ceilings are 7000 ft at 1,460 lb and 6200 ft at 1,560 lb, so 6,700 ft is held at 1,497.5 lb.
    """
    assert hover_margin_ft(INSIDE, 1555, 23, 6700) == pytest.approx(6240 - 6700)
    assert hover_weight_max_lb(INSIDE, 23, 6700) == pytest.approx(1497.5)
    assert hover_margin_lb(INSIDE, 1555, 23, 6700) == pytest.approx(-57.5)


@pytest.mark.parametrize(
    ("weight", "temperature", "altitude"),
    [(1050, 20, 0), (1570, 20, 0), (1460, -21, 0), (1460, 40.1, 0), (NAN, 20, 0), (1460, NAN, 0), (1460, 20, NAN)],
)
def test_outside_the_table_is_unknown(weight: float, temperature: float, altitude: float) -> None:
    assert math.isnan(float(hover_margin_ft(INSIDE, weight, temperature, altitude)))
    assert math.isnan(float(hover_margin_lb(INSIDE, weight, temperature, altitude)))


def test_blank_cells() -> None:
    """Out of ground effect the table is blank from 1,460 lb at 40 C."""
    assert math.isnan(float(hover_ceiling_ft(OUTSIDE, 1400, 35)))
    assert hover_ceiling_ft(OUTSIDE, 1360, 35) == 5100
    assert hover_weight_max_lb(OUTSIDE, 35, 3000) == 1360
    assert hover_weight_max_lb(OUTSIDE, 20, 0) == 1560
    assert math.isnan(float(hover_weight_max_lb(OUTSIDE, 20, 12000)))


def test_power_limit() -> None:
    continuous, take_off = tarnwick().power_tables
    assert power_limit(continuous, 2000, 20) == 22.9
    assert power_limit(continuous, 1000, 10) == pytest.approx((23.0 + 23.4 + 22.5 + 22.9) / 4)
    assert power_limit(take_off, 8000, 0) == 22.4
    assert math.isnan(float(power_limit(take_off, 7000, 10)))
    assert math.isnan(float(power_limit(continuous, -1001, 10)))
    assert math.isnan(float(power_limit(continuous, NAN, 10)))
    assert np.shape(power_limit(continuous, [0, 1000], 10)) == (2,)


def test_site_temperature() -> None:
    """ICAO Doc 7488: 15 C at sea level, 5.094 C at 5,000 ft, -4.812 C at 10,000 ft (geopotential)."""
    np.testing.assert_allclose(site_temperature_c(15, 0, [0, 5000, 10000]), [15, 5.094, -4.812], atol=1e-9)
    assert math.isnan(float(site_temperature_c(15, NAN, 5000)))


def test_a_place_by_its_elevation_and_altimeter() -> None:
    """At the standard setting pressure altitude is elevation: 1,460 lb at 4,000 ft and 20 C, read from the tables."""
    found = performance_at(tarnwick(), 1460, 20, 4000, 29.92126)
    assert found.pressure_altitude_ft == pytest.approx(4000, abs=0.5)
    assert found.in_ground_effect_ft == pytest.approx(7300 - 4000, abs=0.5)
    assert found.out_of_ground_effect_ft == pytest.approx(5600 - 4000, abs=0.5)
    assert found.in_ground_effect_lb == pytest.approx(100)  # 6,500 ft at the heaviest weight of the table, 1,560 lb
    assert found.out_of_ground_effect_lb == pytest.approx(100)  # 4,600 ft there
    assert found.power_limits == {
        "continuous": pytest.approx(22.4, abs=0.001),
        "take_off": pytest.approx(23.8, abs=0.001),
    }


def test_a_table_of_density_altitudes_is_asked_with_density_altitude() -> None:
    """Hotter than standard, density altitude is above pressure altitude, and the margin that much smaller."""
    found = performance_at(other(), 1150, 10, 4000, 29.92126)
    assert float(found.density_altitude_ft) > float(found.pressure_altitude_ft)
    assert found.in_ground_effect_ft == pytest.approx(8000 - float(found.density_altitude_ft), abs=1e-6)


def test_what_is_not_known_about_a_place_is_not_known_about_the_margins() -> None:
    for facts in ((NAN, 20, 4000, 29.92), (1460, NAN, 4000, 29.92), (1460, 20, NAN, 29.92), (1460, 20, 4000, NAN)):
        found = performance_at(tarnwick(), *facts)
        assert math.isnan(float(found.in_ground_effect_ft))
        assert math.isnan(float(found.out_of_ground_effect_lb))


def test_impossible_weights_are_refused() -> None:
    with pytest.raises(ValueError, match="gross_lb"):
        hover_margin_ft(INSIDE, 0, 20, 0)
    with pytest.raises(ValueError, match="gross_lb"):
        hover_margin_lb(INSIDE, -1, 20, 0)


def scipy_of(table: HoverTable) -> RegularGridInterpolator:
    cells = np.array(table.ceilings_ft, dtype=np.float64)
    axes = (np.array(table.gross_weights_lb), np.array(table.temperatures_c))
    return RegularGridInterpolator(axes, cells, bounds_error=False, fill_value=NAN)


def test_ten_thousand_readings_of_the_tables_against_scipy() -> None:
    rng = np.random.default_rng(20261125)
    for table in TABLES:
        weight = rng.uniform(table.gross_weights_lb[0] - 20, table.gross_weights_lb[-1] + 20, 2600)
        temperature = rng.uniform(table.temperatures_c[0] - 2, table.temperatures_c[-1] + 2, 2600)
        weight[::50], temperature[::70] = rng.choice(table.gross_weights_lb, 52), NAN
        expected = scipy_of(table)(np.column_stack([weight, temperature]))
        found = np.asarray(hover_ceiling_ft(table, weight, temperature))
        lines = np.isin(weight, table.gross_weights_lb) & np.isnan(expected)
        np.testing.assert_allclose(found[~lines], expected[~lines], rtol=1e-12)
        assert np.isfinite(expected).sum() > 1500


@given(st.sampled_from(TABLES), st.floats(-15, 38), st.floats(0, 13_000))
def test_the_heaviest_weight_against_a_root_of_scipys_ceiling(
    table: HoverTable, temperature: float, altitude: float
) -> None:
    assume(temperature not in table.temperatures_c)  # there scipy wants the blanks beside the line
    reference = scipy_of(table)

    def above(weight: float) -> float:
        return float(reference([[weight, temperature]])[0]) - altitude

    # A hair below each row, where scipy does not want the blanks of the next one.
    lightest, *rows = table.gross_weights_lb
    known = [w - 1e-7 for w in rows if not math.isnan(above(w - 1e-7))]
    found = float(hover_weight_max_lb(table, temperature, altitude))
    assert known, "the tables have two rows at every temperature"
    if above(lightest) < 0:
        assert math.isnan(found)
    elif above(known[-1]) >= 0:
        assert found == pytest.approx(known[-1], abs=1e-5)
    else:
        root = brentq(above, lightest, known[-1], xtol=1e-9)
        assert found == pytest.approx(root, abs=1e-5)


CASE = {
    "table": st.sampled_from(TABLES),
    "weight": st.floats(900, 1560),
    "temperature": st.floats(-20, 40),
    "altitude": st.floats(-1000, 14_000),
}


@given(**CASE)
def test_the_two_margins_agree(table: HoverTable, weight: float, temperature: float, altitude: float) -> None:
    feet = float(hover_margin_ft(table, weight, temperature, altitude))
    pounds = float(hover_margin_lb(table, weight, temperature, altitude))
    assume(abs(feet) > 1e-3)
    if not math.isnan(feet) and not math.isnan(pounds):
        assert (feet >= 0) is (pounds >= 0)
    if feet > 0:
        assert pounds >= 0
    if pounds > 0:
        assert feet > 0


@given(**CASE, more=st.floats(0, 300), hotter=st.floats(0, 30), higher=st.floats(0, 5000))
def test_heavier_hotter_and_higher_are_never_better(
    table: HoverTable,
    weight: float,
    temperature: float,
    altitude: float,
    more: float,
    hotter: float,
    higher: float,
) -> None:
    for margin in (hover_margin_ft, hover_margin_lb):
        before = float(margin(table, weight, temperature, altitude))
        for changed in ((weight + more, temperature, altitude), (weight, temperature + hotter, altitude)):
            after = float(margin(table, *changed))
            assert math.isnan(before) or math.isnan(after) or after <= before + 1e-6
        after = float(margin(table, weight, temperature, altitude + higher))
        assert math.isnan(before) or math.isnan(after) or after <= before + 1e-6


@given(**CASE)
def test_forgetting_never_helps(table: HoverTable, weight: float, temperature: float, altitude: float) -> None:
    for margin in (hover_margin_ft, hover_margin_lb):
        for case in ((NAN, temperature, altitude), (weight, NAN, altitude), (weight, temperature, NAN)):
            assert math.isnan(float(margin(table, *case)))
