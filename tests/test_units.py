"""Conversions against the published factors, which are exact by definition unless a place is named."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from riskboard.units import UNITS, convert, convert_rounded, round_to

# value, unit, value, unit. Sources: NIST SP 811 (2008) appendix B.8; SI Brochure (8th ed.) table 8; NIST Handbook 44
# appendix C for the gallon.
EXACT = [
    (1, "ft", 0.3048, "m"),
    (1, "sm", 1609.344, "m"),
    (1, "sm", 5280, "ft"),
    (1, "nm", 1852, "m"),
    (1, "nm", 1.852, "km"),
    (1, "kt", 1.852, "kmh"),
    (3600, "kt", 1852, "ms"),
    (1, "gal", 3.785411784, "l"),
    (1, "lb", 0.45359237, "kg"),
    (1, "inhg", 33.86389, "hpa"),
    (1, "ms", 3.6, "kmh"),
    (32, "f", 0, "c"),
    (212, "f", 100, "c"),
    (-40, "f", -40, "c"),
]


@pytest.mark.parametrize(("value", "unit", "other", "other_unit"), EXACT)
def test_published_factors_both_ways(value: float, unit: str, other: float, other_unit: str) -> None:
    assert convert(value, unit, other_unit) == pytest.approx(other, rel=1e-15, abs=1e-13)
    assert convert(other, other_unit, unit) == pytest.approx(value, rel=1e-15, abs=1e-13)


def test_the_standard_altimeter_setting() -> None:
    # ICAO Doc 7488: 1013.25 hPa; the trade calls it 29.92 inHg.
    assert convert_rounded(1013.25, "hpa", "inhg", 0.01) == 29.92


def test_rounding_cures_the_whole_knots_that_come_back_smaller() -> None:
    knots = np.arange(1, 200, dtype=np.float64)
    back = convert(convert(knots, "kt", "ms"), "ms", "kt")
    through_a_quotient = knots * 1852 / 3600 * 3600 / 1852
    # The trouble is real for the factor a person would write ...
    assert (through_a_quotient < knots).any() or (back < knots).any()
    # ... and gone once the value is rounded to whole knots before it is compared.
    assert np.array_equal(round_to(back, 1), knots)
    assert np.array_equal(round_to(through_a_quotient, 1), knots)
    assert np.array_equal(convert_rounded(convert(knots, "kt", "ms"), "ms", "kt", 1), knots)


# Metres and the statute miles that the trade treats as equal (FMH-1 and ICAO Annex 3 pairs, from memory).
@pytest.mark.parametrize(
    ("metres", "miles"), [(400, 0.25), (800, 0.5), (1200, 0.75), (1600, 1), (2400, 1.5), (3200, 2), (4800, 3)]
)
def test_visibilities_meet_their_usual_miles(metres: float, miles: float) -> None:
    assert convert_rounded(metres, "m", "sm", 0.05) == miles


def test_a_visibility_short_of_a_limit_is_not_lifted_over_it() -> None:
    assert convert_rounded(1500, "m", "sm", 0.05) < 1
    assert convert_rounded(4700, "m", "sm", 0.05) < 3


@pytest.mark.parametrize(
    ("value", "step", "rounded"),
    [(0.149, 0.05, 0.15), (29.914999, 0.01, 29.91), (984.25, 50, 1000.0), (2.5, 1, 2.0), (-0.01, 0.1, 0.0)],
)
def test_rounding_gives_the_decimal_a_person_types(value: float, step: float, rounded: float) -> None:
    assert round_to(value, step) == rounded
    assert math.copysign(1, round_to(value, step)) == math.copysign(1, rounded)


def test_unknown_stays_unknown_and_infinite_infinite() -> None:
    assert math.isnan(convert_rounded(math.nan, "m", "ft", 10))
    assert convert_rounded(math.inf, "m", "ft", 10) == math.inf
    assert np.isnan(convert_rounded(np.array([np.nan, 1.0]), "m", "ft", 1)).tolist() == [True, False]


def test_shapes_and_types_are_kept() -> None:
    assert isinstance(convert_rounded(3.0, "m", "ft", 1), float)
    block = convert_rounded(np.ones((2, 3)), "km", "nm", 0.1)
    assert block.shape == (2, 3)
    assert block.dtype == np.float64


@given(
    st.floats(-1e6, 1e6),
    st.sampled_from([(a, b) for a in UNITS for b in UNITS if UNITS[a][0] == UNITS[b][0]]),
)
def test_there_and_back_is_the_same(value: float, pair: tuple[str, str]) -> None:
    there, back = pair
    assert convert(convert(value, there, back), back, there) == pytest.approx(value, rel=1e-12, abs=1e-9)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: convert(1, "m", "kt"), "m is a unit of length and kt one of speed"),
        (lambda: convert(1, "furlong", "m"), "no unit is called 'furlong'"),
        (lambda: round_to(1, 0), "positive number"),
        (lambda: round_to(1, math.inf), "positive number"),
    ],
)
def test_refusals_say_why(call: object, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        call()  # type: ignore[operator]
