"""Robust trends against scipy.stats.theilslopes, and forecasts against readings made with a known drift."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import theilslopes

from riskboard.measures.drift import FEWEST, MOST, Drift, Outlook, drift, theil_sen

NAN = float("nan")
# Tenths from a small range: many ties, as a gauge gives them.
TENTHS = st.integers(0, 60).map(lambda tenth: tenth / 10)


POINTS = st.lists(st.tuples(st.integers(0, 40), TENTHS), min_size=2, max_size=30, unique_by=lambda point: point[0])


@given(POINTS, st.sampled_from([0.8, 0.9, 0.95, 0.99]))
def test_against_scipy(points: list[tuple[int, float]], confidence: float) -> None:
    x, y = (np.array(part, dtype=np.float64) for part in zip(*points, strict=True))
    found, reference = theil_sen(x, y, confidence), theilslopes(y, x, confidence)
    expected = (reference.slope, reference.intercept, reference.low_slope, reference.high_slope)
    assert (found.slope, found.intercept, found.low, found.high) == pytest.approx(expected, abs=1e-9)


@given(st.lists(st.integers(2, 4), min_size=8, max_size=40), st.sampled_from([0.8, 0.9, 0.95]))
def test_against_scipy_on_a_coarse_gauge(readings: list[int], confidence: float) -> None:
    """Whole per cents: the correction for ties moves the range of the slope by several ranks."""
    x, y = np.arange(float(len(readings))), np.array(readings, dtype=np.float64)
    found, reference = theil_sen(x, y, confidence), theilslopes(y, x, confidence)
    assert (found.low, found.high) == pytest.approx((reference.low_slope, reference.high_slope), abs=1e-12)


@given(st.integers(0, 2**32 - 1), st.integers(2, 40))
def test_against_scipy_without_ties(seed: int, count: int) -> None:
    rng = np.random.default_rng(seed)
    x, y = rng.normal(0, 5, count), rng.normal(0, 5, count)
    found, reference = theil_sen(x, y), theilslopes(y, x)
    assert (found.slope, found.low, found.high) == pytest.approx(
        (reference.slope, reference.low_slope, reference.high_slope), abs=1e-9
    )


@pytest.mark.parametrize(
    ("x", "y"), [([1, 1, 2], [2, 3, 4]), ([1], [2]), ([1, 2], [2, NAN]), ([1, 2], [2, 3, 4]), ([1, NAN], [2, 3])]
)
def test_what_makes_no_line_is_refused(x: list[float], y: list[float]) -> None:
    with pytest.raises(ValueError, match=r"x (and y )?must"):
        theil_sen(x, y)


def seen(readings: list[float | None], limit: float = 7.0) -> Drift:
    return drift(readings, limit, resolution=0.1)


def test_a_straight_rise_by_hand() -> None:
    """2.0, 2.2, ... 3.8: 0.2 a flight, 3.2 to the limit of 7, so 16 more flights still read within it."""
    found = seen([2 + 0.2 * k for k in range(10)])
    assert (found.outlook, found.readings, found.unknown) == (Outlook.rising, 10, 0)
    assert found.level == pytest.approx(3.8)
    assert found.slope_per_flight == pytest.approx(0.2)
    assert (found.flights_left, found.latest) == (16, 16)
    # Rounding to tenths scatters by 0.029; 1.645 times that is 0.047: 3.153 / 0.2 = 15.7.
    assert found.soonest == 15
    text = found.sentence("The left magneto's drop", "%")
    assert text == (
        "The left magneto's drop is now about 3.8 % and rises by about 0.2 % a flight: "
        "the limit may be passed after 15 flights, more likely after 16 (range to 16)."
    )


@pytest.mark.parametrize(
    ("readings", "outlook", "words"),
    [
        ([3.0] * 7, Outlook.too_few_flights, "too few flights for a trend (7 readings; 8 are needed)"),
        ([3.0, None] * 7, Outlook.too_few_flights, "7 readings"),
        ([3.0] * 12, Outlook.not_rising, "does not rise"),
        ([5 - 0.1 * k for k in range(10)], Outlook.not_rising, "does not rise"),
        ([3, 3.4, 2.9, 3.3, 3.1, 3.2, 2.8, 3.5, 3.0, 3.2], Outlook.may_rise, "not sure"),
        ([6 + 0.2 * k for k in range(10)], Outlook.over_the_limit, "passed the limit"),
    ],
)
def test_outlooks(readings: list[float | None], outlook: Outlook, words: str) -> None:
    found = seen(readings)
    assert found.outlook is outlook
    assert words in found.sentence("The drop", "%")


def test_a_flight_without_a_reading_keeps_its_place_and_is_no_zero() -> None:
    gapped: list[float | None] = [2 + 0.2 * k for k in range(12)]
    gapped[3] = None
    gapped[7] = NAN
    found, whole = seen(gapped), seen([2 + 0.2 * k for k in range(12)])
    assert found.slope_per_flight == pytest.approx(0.2)
    assert found.level == pytest.approx(whole.level)
    assert (found.flights_left, found.unknown) == (whole.flights_left, 2)


def test_one_wild_reading_does_not_bend_it() -> None:
    readings: list[float | None] = [2 + 0.1 * k for k in range(12)]
    readings[5] = 25.0
    assert seen(readings).slope_per_flight == pytest.approx(0.1, abs=0.02)


def test_a_coarse_gauge_is_not_taken_for_an_exact_one() -> None:
    """Whole per cents that happen to be alike still scatter by 0.29."""
    found = drift([3.0] * 10, 7.0, resolution=1.0)
    assert found.scatter == pytest.approx(1 / math.sqrt(12))


def test_impossible_readings_are_refused() -> None:
    with pytest.raises(ValueError, match="readings"):
        seen([math.inf] * 9)
    with pytest.raises(ValueError, match="limit"):
        seen([3.0] * 9, NAN)
    with pytest.raises(ValueError, match="resolution"):
        drift([3.0] * 9, 7.0, resolution=0)


def test_the_range_holds_what_will_happen() -> None:
    """Readings made with a known drift and normal scatter: how often the true crossing lies within the range.

    The slope's range has 90 % confidence. The first reading over the limit may come before ``soonest`` in at most 6 of
    100: one reading in 20 is higher than the scatter allowed for.
    """
    rng = np.random.default_rng(20261125)
    within = early = made = 0
    for _ in range(600):
        count, slope, scatter = int(rng.integers(FEWEST, 40)), rng.uniform(0.03, 0.2), rng.uniform(0.1, 0.5)
        start = rng.uniform(1, 2)
        flights = np.arange(count + 600)
        truth = start + slope * flights
        readings = truth + rng.normal(0, scatter, flights.size)
        if truth[count - 1] > 6.5:
            continue
        found = drift(list(readings[:count]), 7.0, resolution=0.1)
        crossing = (7.0 - truth[count - 1]) / slope
        first_over = int(np.argmax(readings[count:] > 7.0))
        soonest = MOST if found.soonest is None else found.soonest
        latest = math.inf if found.latest is None else found.latest + 1
        made += 1
        within += soonest <= crossing <= latest
        early += first_over < soonest
    assert made > 400
    assert within / made >= 0.9
    assert early / made <= 0.06


@given(st.lists(TENTHS, min_size=FEWEST, max_size=25), st.floats(0, 5))
def test_larger_readings_are_never_better(readings: list[float], more: float) -> None:
    """Raising every reading by the same amount leaves fewer flights, or as many."""
    before = seen([*readings])
    after = seen([reading + more for reading in readings])
    for name in ("flights_left", "soonest", "latest"):
        first, second = getattr(before, name), getattr(after, name)
        assert first is None or (second is not None and second <= first)
