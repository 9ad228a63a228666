"""When work falls due at the rate of flying: honest about few flights, never later for fewer hours."""

from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from riskboard.upkeep.forecast import FEWEST, DueDay, FlyingRate, due_day, flying_rate

NOW = datetime(2026, 5, 4, 18, 0, tzinfo=UTC)
TODAY = date(2026, 5, 4)


def flown(count: int, *, every_d: float = 3, hours: float = 1.2) -> list[tuple[datetime, float | None]]:
    return [(NOW - timedelta(days=every_d * (place + 1)), hours) for place in range(count)]


def test_a_steady_rate_is_that_rate() -> None:
    """30 flights of 1.2 h in 90 days: 0.4 h a day; 20 h left are 50 days."""
    rate = flying_rate([*flown(30), (NOW - timedelta(days=200), 1.0)], NOW)
    assert rate.hours_per_day == pytest.approx(0.4)
    found = due_day(20, rate, TODAY)
    assert found is not None
    assert found.on == TODAY + timedelta(days=50)
    assert TODAY < found.earliest < found.on


def test_few_flights_or_a_busy_week_are_no_rate() -> None:
    few = flying_rate(flown(FEWEST - 1), NOW)
    assert few.hours_per_day is None
    assert due_day(20, few, TODAY) is None
    assert f"{FEWEST - 1} of {FEWEST}" in few.sentence
    assert flying_rate(flown(FEWEST, every_d=1), NOW).hours_per_day is None
    assert flying_rate(flown(FEWEST, every_d=2), NOW).hours_per_day is not None
    assert flying_rate([], NOW).hours_per_day is None


def test_a_flight_of_unknown_hours_is_not_none_flown() -> None:
    with_unknown = flying_rate([*flown(20), (NOW - timedelta(days=1), None)], NOW)
    known = flying_rate([*flown(20), (NOW - timedelta(days=1), 1.2)], NOW)
    assert with_unknown.unknown == 1
    assert with_unknown.hours_per_day == pytest.approx(known.hours_per_day)


def test_what_is_due_is_due_today() -> None:
    rate = flying_rate(flown(20), NOW)
    for left in (0.0, -3.0):
        assert due_day(left, rate, TODAY) == DueDay(TODAY, TODAY)


@given(
    st.floats(-10, 2000),
    st.floats(-10, 2000),
    st.integers(FEWEST, 90),
    st.floats(0.2, 4),
)
def test_fewer_hours_left_are_never_due_later(one: float, other: float, count: int, hours: float) -> None:
    rate = flying_rate(flown(count, hours=hours), NOW)
    low, high = sorted((one, other))
    sooner, later = due_day(low, rate, TODAY), due_day(high, rate, TODAY)
    if later is None:
        return
    assert sooner is not None
    assert sooner.on <= later.on
    assert sooner.earliest <= later.earliest
    assert sooner.earliest <= sooner.on


@given(st.floats(0.1, 500), st.floats(0.05, 3), st.floats(1.01, 3))
def test_more_flying_is_never_due_later(left: float, per_day: float, more: float) -> None:
    slow, fast = (FlyingRate(rate, 1.3, 40, 0, 90.0) for rate in (per_day, per_day * more))
    sooner, later = due_day(left, fast, TODAY), due_day(left, slow, TODAY)
    assert later is None or (sooner is not None and sooner.on <= later.on)


def test_one_in_twenty_is_earlier() -> None:
    """Against simulation: flights at random, their hours scattered; the rate is read off 90 days, then time goes on."""
    rng = np.random.default_rng(4)
    left, early, tried = 25.0, 0, 0
    for _ in range(1500):
        times = np.sort(rng.uniform(0, 90, rng.poisson(45)))
        past = [(NOW - timedelta(days=float(each)), float(rng.gamma(4, 0.3))) for each in times]
        rate = flying_rate([*past, (NOW - timedelta(days=120), 1.0)], NOW)
        found = due_day(left, rate, TODAY)
        assert found is not None
        used, day = 0.0, 0.0
        while used < left:
            day += float(rng.exponential(2.0))
            used += float(rng.gamma(4, 0.3))
        tried += 1
        early += day < (found.earliest - TODAY).days
    assert 0.02 < early / tried < 0.09


def test_impossible_hours_are_refused() -> None:
    with pytest.raises(ValueError, match="above 0"):
        flying_rate([(NOW, 0.0)], NOW)
    with pytest.raises(ValueError, match="must be known"):
        due_day(float("nan"), flying_rate(flown(20), NOW), TODAY)
