"""Readings that move from flight to flight, before one of them passes its tolerance."""

from datetime import UTC, datetime, timedelta
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from riskboard.measures.drift import Outlook
from riskboard.upkeep.drifts import DRIFTING, FlightReading, ItemDrift, item_drifts
from tests.measures.flown_loads import tarnwick

START = datetime(2026, 5, 4, 14, 0, tzinfo=UTC)
_ORDER = [Outlook.not_rising, Outlook.may_rise, Outlook.rising, Outlook.over_the_limit]

_READ = st.integers(0, 24).map(lambda quarters: quarters / 4)
"""Drops as a gauge is read."""


def flights(*seen: dict[str, Any] | None) -> list[FlightReading]:
    return [FlightReading(place + 1, START + timedelta(days=place), each) for place, each in enumerate(seen)]


def left(*drops: float | str | None, starts_over: int = 0) -> ItemDrift:
    seen = [None if drop is None else {"magneto_left_drop_pct": drop} for drop in drops]
    found = item_drifts(tarnwick(), flights(*seen), {"magneto_left_drop_pct": starts_over})
    return next(each for each in found if each.item == "magneto_left_drop_pct")


def test_a_slow_rise_warns_before_the_limit() -> None:
    found = left(*(3 + 0.3 * place for place in range(10)))
    assert found.drift.outlook is Outlook.rising
    assert found.warns
    assert found.sentence.startswith(
        "Now about 5.7 %, rises by about 0.3 % a flight: a reading may pass the limit within"
    )
    assert found.limit == 7


def test_few_readings_say_nothing_but_how_few() -> None:
    found = left(3, 3.5, None, 4)
    assert found.sentence == "Too few readings for a trend: 3 of 8."
    assert not found.warns
    assert [value for _, value in found.readings] == [3, 3.5, 4]


def test_a_flight_without_a_run_up_keeps_its_place_and_is_no_zero() -> None:
    with_gap = left(3, 3.3, None, 3.9, 4.2, 4.5, 4.8, 5.1, 5.4, 5.7)
    assert with_gap.drift.unknown == 1
    assert with_gap.drift.slope_per_flight is not None
    assert abs(with_gap.drift.slope_per_flight - 0.3) < 0.01


def test_readings_begin_anew_when_the_part_was_changed() -> None:
    drops = [3 + 0.4 * place for place in range(10)]
    assert left(*drops).drift.readings == 10
    after = left(*drops, 2.0, 2.0, starts_over=10)
    assert after.drift.readings == 2
    assert [value for _, value in after.readings] == [2.0, 2.0]


def test_what_gets_worse_by_falling_is_said_so() -> None:
    seen = [{"carburettor_heat_rise_c": 26.0 - place} for place in range(10)]
    found = next(each for each in item_drifts(tarnwick(), flights(*seen), {}) if each.item == "carburettor_heat_rise_c")
    assert found.falls
    assert found.limit == 15
    assert found.drift.outlook is Outlook.rising
    assert found.sentence.startswith("Now about 17.0 °C, falls by about 1 °C a flight")


def test_what_never_came_is_no_reading() -> None:
    seen: list[dict[str, Any]] = [
        {"oil_pressure_after_s": "none"},
        {"oil_pressure_after_s": True},
        {"oil_pressure_after_s": 8},
    ]
    found = next(each for each in item_drifts(tarnwick(), flights(*seen), {}) if each.item == "oil_pressure_after_s")
    assert found.drift.readings == 1


def test_every_watched_reading_of_the_type_is_there() -> None:
    assert {each.item for each in item_drifts(tarnwick(), [], {})} == set(DRIFTING)


@given(st.lists(_READ, min_size=8, max_size=16), _READ)
def test_larger_drops_are_never_better(drops: list[float], more: float) -> None:
    before, after = left(*drops), left(*(drop + more for drop in drops))
    assert _ORDER.index(after.drift.outlook) >= _ORDER.index(before.drift.outlook)


@given(st.lists(_READ, min_size=8, max_size=16), st.integers(1, 8).map(lambda quarters: quarters / 4))
def test_a_steeper_rise_never_leaves_more_flights(drops: list[float], more: float) -> None:
    """Each flight later reads a little more: the limit is not passed later for it."""
    count = len(drops)
    before = left(*drops)
    after = left(*(drop + more * (place - count + 1) + more * count for place, drop in enumerate(drops)))
    if before.drift.soonest is not None:
        assert after.drift.soonest is not None
        assert after.drift.soonest <= before.drift.soonest


def test_scatter_about_a_level_is_no_countdown() -> None:
    found = left(*(3 + 0.5 * (place % 2) for place in range(12)))
    assert found.sentence in {"Now about 3.2 %, steady.", "Now about 3.2 %, no clear movement in 12 readings."}
    assert not found.warns
