"""What would bring a load inside: every answer checked by sums item by item, and a smaller change does not do."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from riskboard.aircraft_types import AircraftType
from riskboard.measures.loading import loading
from riskboard.measures.loading_changes import ChangeKind, fixes, fuel_that_can_be_carried_gal
from tests.measures.flown_loads import TYPES, loads, one, oracle_within, rows_of, tarnwick

NAN = float("nan")


def test_two_large_people_are_told_how_much_fuel() -> None:
    load = one(tarnwick(), right_seat=240.0, left_seat=240.0, fuel_gal=24.0, burn_gal=14.0)
    assert loading(tarnwick(), load).gross_max_margin_lb == -49
    # 1,560 - 985 - 480 = 95 lb are left for fuel: 15.8 gal.
    assert fuel_that_can_be_carried_gal(tarnwick(), load) == 15.8
    first, second = fixes(tarnwick(), load)
    assert first.sentence == "Take 15.8 gal of fuel, 8.2 gal less."
    assert [change.kind for change in second.changes] == [ChangeKind.person_out]
    (only,) = fixes(tarnwick(), load, fuel_needed_gal=17.0)
    assert [change.kind for change in only.changes] == [ChangeKind.person_out]


def test_a_weight_that_the_hover_tables_allow_is_held_too() -> None:
    load = one(tarnwick(), right_seat=200.0, left_seat=200.0, fuel_gal=24.0, burn_gal=14.0)
    assert fixes(tarnwick(), load) == ()
    assert fixes(tarnwick(), load, gross_limit_lb=1500.0)[0].sentence == "Take 19.1 gal of fuel, 4.9 gal less."
    assert fuel_that_can_be_carried_gal(tarnwick(), load, gross_limit_lb=1500.0) == 19.1
    assert fuel_that_can_be_carried_gal(tarnwick(), load, gross_limit_lb=1300.0) == -math.inf


def test_baggage_to_the_pound() -> None:
    load = one(tarnwick(), right_seat=200.0, left_seat=220.0, left_baggage=42.0, fuel_gal=15.0)
    found = fixes(tarnwick(), load)
    assert found[0].sentence == "Move 42 lb of baggage: under the left seat to under the right seat."
    assert "Take 12 lb of baggage out (under the left seat), 30 lb stay." in [fix.sentence for fix in found]


def test_seats_change_only_where_the_pilot_may() -> None:
    load = one(tarnwick(), right_seat=235.0, left_seat=150.0, right_baggage=30.0, fuel_gal=12.0)
    without = {change.kind for fix in fixes(tarnwick(), load) for change in fix.changes}
    assert ChangeKind.change_seats not in without
    best = fixes(tarnwick(), load, pilot_may_change_seat=True)[0]
    assert best.sentence == "Change seats: 150 lb to the right seat, 235 lb to the left seat."


def test_two_changes_only_where_one_will_not_do() -> None:
    load = one(tarnwick(), right_seat=240.0, left_seat=240.0, left_baggage=30.0, fuel_gal=24.0, burn_gal=10.0)
    best, last = fixes(tarnwick(), load)
    assert best.sentence == "Take all 30 lb of baggage out. Take 15.8 gal of fuel, 8.2 gal less."
    assert [change.kind for change in last.changes] == [ChangeKind.person_out]


def test_nothing_to_say_where_all_is_well_unknown_or_hopeless() -> None:
    assert fixes(tarnwick(), one(tarnwick())) == ()
    assert fixes(tarnwick(), one(tarnwick(), left_seat=NAN)) == ()
    assert fixes(tarnwick(), one(tarnwick(), right_seat=300.0)) == ()
    assert math.isnan(float(fuel_that_can_be_carried_gal(tarnwick(), one(tarnwick(), right_seat=NAN))))
    with pytest.raises(ValueError, match="one flight"):
        fixes(tarnwick(), one(tarnwick(), left_seat=np.array([1.0, 2.0])))


@pytest.mark.parametrize("aircraft", TYPES, ids=lambda found: str(found.id))
def test_fixes_hold_and_are_the_smallest_of_their_kind(aircraft: AircraftType) -> None:
    seen: set[ChangeKind] = set()
    for load in rows_of(np.random.default_rng(7), aircraft, 60):
        found = fixes(aircraft, load, pilot_may_change_seat=True)
        assert not (found and oracle_within(aircraft, load))
        assert [fix.rank for fix in found] == sorted(fix.rank for fix in found)
        for fix in found:
            assert oracle_within(aircraft, fix.load), fix.sentence
            assert fix.result.within == 1
            seen |= {change.kind for change in fix.changes}
            if [change.kind for change in fix.changes] == [ChangeKind.less_fuel]:
                fuller = round(float(fix.load.fuel_gal) + 0.1, 1)  # type: ignore[arg-type]
                assert fuller >= float(load.fuel_gal) or not oracle_within(aircraft, replace(load, fuel_gal=fuller))  # type: ignore[arg-type]
    if aircraft is tarnwick():
        assert {ChangeKind.change_seats, ChangeKind.less_fuel, ChangeKind.baggage_out, ChangeKind.person_out} <= seen


@given(st.data(), st.sampled_from(TYPES))
def test_the_fuel_that_can_be_carried_is_inside_and_no_more_is(data: st.DataObject, aircraft: AircraftType) -> None:
    load = data.draw(loads(aircraft))
    most = float(fuel_that_can_be_carried_gal(aircraft, load))
    if most >= 0:
        assert oracle_within(aircraft, replace(load, fuel_gal=most))
    above = np.arange(max(most, -0.1) + 0.1, np.floor(aircraft.fuel.usable_gal), 1.7).round(1)
    assert not any(oracle_within(aircraft, replace(load, fuel_gal=float(fuel))) for fuel in above)


def test_many_flights_at_once() -> None:
    load = one(tarnwick(), right_seat=np.array([170.0, 240.0, NAN]), left_seat=np.array([0.0, 240.0, 0.0]))
    np.testing.assert_array_equal(fuel_that_can_be_carried_gal(tarnwick(), load), [32.0, 15.8, NAN])
