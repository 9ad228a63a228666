"""Weight and balance against ``atmosphere.yaml`` (weight_and_balance) and against item-by-item sums with shapely."""

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from riskboard.aircraft_types import AircraftType
from riskboard.aircraft_types.model import DoorState, EmptyAircraft, Envelope, Feed, LateralAgainst
from riskboard.measures.frame import LoadRows, frame_of, loaded_rows
from riskboard.measures.fuel import endurance_min
from riskboard.measures.loading import (
    Load,
    center_of_gravity_in,
    gross_weight_lb,
    loading,
    stations_margin_lb,
    tank_contents_gal,
    weighing_believed,
)
from tests.aircraft_types.samples import by_moment, good, other
from tests.measures.flown_loads import TYPES, loads, one, oracle_within, rows_of, stacked, tarnwick
from tests.measures.reference import Case, topic

NAN = float("nan")


@pytest.mark.parametrize("case", topic("atmosphere", "weight_and_balance"), ids=lambda case: str(case["name"]))
def test_published_examples(case: Case) -> None:
    """FAA-H-8083-1 and FAA-H-8083-21, figures from memory."""
    items, expected, tolerance = case["inputs"]["items"], case["expected"], case["tolerance"]
    weights = [item["weight_lb"] for item in items]
    assert gross_weight_lb(weights) == pytest.approx(expected["gross_weight_lb"], abs=tolerance["gross_weight_lb"])
    along = center_of_gravity_in(weights, [item["arm_in"] for item in items])
    assert along == pytest.approx(expected["longitudinal_cg_in"], abs=tolerance["longitudinal_cg_in"])
    if "printed_longitudinal_cg_in" in expected:
        assert round(float(along), 1) == expected["printed_longitudinal_cg_in"]
    if "lateral_cg_in" in expected:
        aside = center_of_gravity_in(weights, [item["lateral_arm_in"] for item in items])
        assert aside == pytest.approx(expected["lateral_cg_in"], abs=tolerance["lateral_cg_in"])
        moment = float(aside) * float(gross_weight_lb(weights))
        assert moment == pytest.approx(expected["printed_lateral_moment_in_lb"], abs=tolerance["lateral_moment_in_lb"])


def test_by_hand() -> None:
    """The shipped type with one person of 170 lb on the right and 32 gal: every sum done on paper."""
    found = loading(tarnwick(), one(tarnwick(), fuel_gal=32.0, burn_gal=16.0))
    assert found.zero_fuel.gross_weight_lb == 985 + 170
    assert found.zero_fuel.longitudinal_cg_in == pytest.approx((84907 + 170 * 62) / 1155, abs=1e-6)
    assert found.zero_fuel.lateral_cg_in == pytest.approx((100 + 170 * 11.5) / 1155, abs=1e-6)
    assert found.take_off.gross_weight_lb == 1155 + 32 * 6
    full = 84907 + 170 * 62 + 126 * 90 + 66 * 87
    assert found.take_off.longitudinal_cg_in == pytest.approx(full / 1347, abs=1e-6)
    assert found.take_off.lateral_cg_in == pytest.approx((2055 - 126 * 12 + 66 * 12.5) / 1347, abs=1e-6)
    assert found.landing.gross_weight_lb == 1155 + 96
    assert found.gross_max_margin_lb == 1560 - 1347
    assert found.gross_min_margin_lb == 1155 - 1060
    # The right seat: 60 lb over its least, 70 under its most, 80 under what it shares; nearest are the 45 lb that each
    # empty baggage place may carry.
    assert found.stations_margin_lb == 45
    assert found.within == 1


def test_what_is_taken_off_or_put_on() -> None:
    bare = loading(tarnwick(), one(tarnwick(), right_door=0.0, left_door=0.0, dual_controls=0.0))
    whole = loading(tarnwick(), one(tarnwick()))
    assert float(whole.zero_fuel.gross_weight_lb) - float(bare.zero_fuel.gross_weight_lb) == pytest.approx(20)
    floats = loading(tarnwick(), one(tarnwick(), floats=1.0))
    assert float(floats.zero_fuel.gross_weight_lb) - float(whole.zero_fuel.gross_weight_lb) == pytest.approx(48)
    moved = 84907 + 170 * 62 - 2 * 7.5 * 62 - 5 * 52
    assert bare.zero_fuel.longitudinal_cg_in == pytest.approx(moved / 1135, abs=1e-6)


def test_doors_pick_the_envelope() -> None:
    """At 1,540 lb the envelope without doors, which ends at 1,520 lb, no longer holds; with one door off both must."""
    heavy = {"left_seat": 200.0, "right_seat": 200.0, "fuel_gal": 27.0, "burn_gal": 5.0}
    assert loading(tarnwick(), one(tarnwick(), **heavy)).within == 1
    for off in ({"left_door": 0.0}, {"left_door": 0.0, "right_door": 0.0}):
        assert loading(tarnwick(), one(tarnwick(), **heavy, **off)).within == 0
    assert math.isnan(float(loading(tarnwick(), one(tarnwick(), **heavy, left_door=NAN)).within))


def test_tanks() -> None:
    together = np.array([[0.0, 0.0], [10.5, 5.5], [21.0, 11.0]])
    np.testing.assert_allclose(tank_contents_gal(tarnwick(), [0, 16, 32]), together)
    in_order = np.array([[0.0, 0.0], [0.0, 8.8], [1.2, 8.8], [17.5, 8.8]])
    np.testing.assert_allclose(tank_contents_gal(good(), [0, 8.8, 10, 26.3]), in_order, atol=1e-12)
    assert np.isnan(tank_contents_gal(tarnwick(), NAN)).all()
    with pytest.raises(ValueError, match="fuel_gal"):
        tank_contents_gal(tarnwick(), 32.1)


def test_landing_with_more_planned_than_aboard_is_landing_with_nothing() -> None:
    found = loading(tarnwick(), one(tarnwick(), fuel_gal=10.0, burn_gal=12.0))
    assert found.landing.gross_weight_lb == found.zero_fuel.gross_weight_lb


def test_seats_and_baggage() -> None:
    assert stations_margin_lb(tarnwick(), one(tarnwick(), left_seat=240.0)) == 0
    assert stations_margin_lb(tarnwick(), one(tarnwick(), left_seat=240.1)) == pytest.approx(-0.1)
    assert stations_margin_lb(tarnwick(), one(tarnwick(), left_seat=220.0, left_baggage=40.0)) == -10
    assert stations_margin_lb(tarnwick(), one(tarnwick(), right_seat=105.0)) == -5
    assert stations_margin_lb(tarnwick(), one(tarnwick(), left_seat=250.0, right_baggage=NAN)) == -10
    assert math.isnan(float(stations_margin_lb(tarnwick(), one(tarnwick(), right_baggage=NAN))))


def test_only_a_believable_weighing_counts() -> None:
    assert weighing_believed(tarnwick(), 1065) == 1
    assert weighing_believed(tarnwick(), 1066) == 0
    assert math.isnan(float(weighing_believed(tarnwick(), NAN)))
    assert math.isnan(float(loading(tarnwick(), one(tarnwick(), empty_weight_lb=700.0)).within))


def test_lateral_against_longitudinal() -> None:
    found = loading(other(), one(other(), right_seat=200.0, left_seat=190.0, fuel_gal=5.0, burn_gal=1.0))
    assert found.take_off.lateral_margin_lb == np.inf
    lopsided = loading(other(), one(other(), empty_lateral_moment_in_lb=9000.0))
    assert lopsided.take_off.lateral_margin_lb == -np.inf
    assert float(lopsided.take_off.lateral_margin_in) < 0
    assert lopsided.within == 0


def test_lateral_as_a_moment() -> None:
    """At a centre of gravity of 90 in or so the moment may reach 3,000 in-lb and a little, left and right."""
    found = loading(by_moment(), one(by_moment(), left_seat=150.0, fuel_gal=5.0, burn_gal=1.0))
    part = found.take_off
    along, moment = float(part.longitudinal_cg_in), float(part.lateral_cg_in) * float(part.gross_weight_lb)
    upper, lower = 3000 + (along - 88) * 500 / 6, -3000.0
    assert 88 < along < 94
    assert part.lateral_margin_in == pytest.approx(
        min(upper - moment, moment - lower) / float(part.gross_weight_lb), abs=1e-5
    )
    assert part.lateral_margin_lb == np.inf


def handbook_helicopter() -> AircraftType:
    """The helicopter of FAA-H-8083-1's example on lateral balance, from memory, with the reference file's envelopes.

    The arms and weights are the handbook's. The envelopes are not: they are invented in the reference file so that they
    agree with what the handbook's text says of its two legs.
    """
    polygons = {case["name"]: case["inputs"]["polygon"] for case in topic("atmosphere", "envelope_point_in_polygon")}
    along, aside = polygons["handbook first leg"], polygons["handbook second leg, lateral"]
    seat = replace(good().station("left_seat"), max_lb=400.0, longitudinal_arm_in=64.0)
    tank = replace(good().fuel.tanks[0], usable_gal=48.0, longitudinal_arm_in=96.0, lateral_arm_in=-8.4)
    return replace(
        good(),
        limits=replace(good().limits, gross_min_lb=1600.0, gross_max_lb=2350.0),
        stations=(
            replace(seat, name="right_seat", lateral_arm_in=13.5),
            replace(seat, name="left_seat", lateral_arm_in=-13.5),
        ),
        together=(),
        empty=EmptyAircraft(1545.0, 1545 * 101.4, 1545 * 0.2, 50.0),
        equipment=(),
        envelopes=(
            Envelope(
                DoorState.either,
                tuple((x, y) for x, y in along),
                tuple((x, y) for x, y in aside),
                LateralAgainst.longitudinal_cg_as_moment,
            ),
        ),
        fuel=replace(good().fuel, tanks=(tank,), lb_per_gal=6.0),
    )


def test_the_handbooks_two_legs() -> None:
    """FAA-H-8083-1 (from memory): 2,253 lb, 93.7 in, -3,190 in-lb, inside; then 1,847 lb, 97.6 in, +1,495 in-lb, too
    far aft and too far right, once the passenger has left and 26 gal are used."""
    helicopter = handbook_helicopter()
    start = one(helicopter, right_seat=170.0, left_seat=250.0, fuel_gal=48.0, burn_gal=26.0)
    first = loading(helicopter, start).take_off
    assert first.gross_weight_lb == 2253
    assert round(float(first.longitudinal_cg_in), 1) == 93.7
    assert round(float(first.lateral_cg_in) * 2253) == -3190
    assert first.inside == 1
    second = loading(helicopter, one(helicopter, right_seat=170.0, fuel_gal=22.0, burn_gal=0.0)).take_off
    assert second.gross_weight_lb == 1847
    assert round(float(second.longitudinal_cg_in), 1) == 97.6
    assert float(second.lateral_cg_in) * 1847 == pytest.approx(1495, abs=1)
    assert (float(second.longitudinal_margin_in) < 0, float(second.lateral_margin_in) < 0) == (True, True)
    assert second.inside == 0


def test_the_tightest_over_all_conditions() -> None:
    found = loading(tarnwick(), one(tarnwick(), right_seat=130.0, fuel_gal=24.0, burn_gal=10.0))
    margins = [found.zero_fuel, found.take_off, found.landing]
    assert found.tightest("longitudinal_margin_in") == min(float(part.longitudinal_margin_in) for part in margins)
    assert np.shape(found.way.gross_weight_lb) == (9,)


@pytest.mark.parametrize(
    ("changed", "name"),
    [
        ({"right_seat": -1.0}, "right_seat"),
        ({"fuel_gal": -1.0}, "fuel_gal"),
        ({"fuel_gal": 33.0}, "fuel_gal"),
        ({"burn_gal": -1.0}, "burn_gal"),
        ({"empty_weight_lb": 0.0}, "empty_weight_lb"),
        ({"left_door": 0.5}, "left_door"),
        ({"left_seat": math.inf}, "left_seat"),
    ],
)
def test_the_impossible_is_refused_by_name(changed: dict[str, float], name: str) -> None:
    with pytest.raises(ValueError, match=name):
        loading(tarnwick(), one(tarnwick(), **changed))
    with pytest.raises(ValueError, match="no station 'roof'"):
        loading(tarnwick(), replace(one(tarnwick()), stations_lb={"roof": 1.0}))
    with pytest.raises(ValueError, match="no piece of equipment 'hoist'"):
        loading(tarnwick(), replace(one(tarnwick()), fitted={"hoist": 1.0}))


def test_ten_thousand_loads_against_sums_item_by_item_with_shapely() -> None:
    checked = inside = 0
    for k, aircraft in enumerate(TYPES):
        many = rows_of(np.random.default_rng(20261125 + k), aircraft, 2550)
        found = np.asarray(loading(aircraft, stacked(many)).within)
        expected = [oracle_within(aircraft, load) for load in many]
        np.testing.assert_array_equal(found, expected)
        checked, inside = checked + len(many), inside + sum(expected)
    assert checked >= 10_000
    assert 1000 < inside < 9000, "the cases must lie on both sides"


@given(st.data(), st.sampled_from(TYPES))
def test_a_row_of_many_is_the_row_alone(data: st.DataObject, aircraft: AircraftType) -> None:
    many = data.draw(st.lists(loads(aircraft), min_size=1, max_size=4))
    together = loading(aircraft, stacked(many))
    for i, load in enumerate(many):
        alone = loading(aircraft, load)
        assert np.asarray(together.within)[i] == alone.within == oracle_within(aircraft, load)
        assert np.asarray(together.take_off.longitudinal_cg_in)[i] == alone.take_off.longitudinal_cg_in
        assert np.asarray(together.stations_margin_lb)[i] == alone.stations_margin_lb


def blanked(load: Load, name: str) -> Load:
    """The load with one value unknown."""
    if name in load.stations_lb:
        return replace(load, stations_lb={**load.stations_lb, name: NAN})
    if name in load.fitted:
        return replace(load, fitted={**load.fitted, name: NAN})
    changed: dict[str, Any] = {name: NAN}
    return replace(load, **changed)


def left_out(load: Load, name: str) -> Load:
    """The load without one station or piece of equipment; nobody said anything about it."""
    stations = {key: value for key, value in load.stations_lb.items() if key != name}
    return replace(load, stations_lb=stations, fitted={k: v for k, v in load.fitted.items() if k != name})


@given(st.data(), st.sampled_from(TYPES))
def test_forgetting_never_helps(data: st.DataObject, aircraft: AircraftType) -> None:
    load = data.draw(loads(aircraft))
    plain = ("empty_weight_lb", "empty_longitudinal_moment_in_lb", "empty_lateral_moment_in_lb", "fuel_gal")
    name = data.draw(st.sampled_from([*plain, *load.stations_lb, *load.fitted]))
    assert loading(aircraft, blanked(load, name)).within != 1
    if name not in plain:
        assert loading(aircraft, left_out(load, name)).within != 1


@given(st.data(), st.sampled_from(TYPES), st.floats(0, 40))
def test_how_much_is_burned_moves_the_landing_and_no_limit(
    data: st.DataObject, aircraft: AircraftType, burn: float
) -> None:
    """The envelope holds from take-off to no fuel, so an early landing or a late one is inside it or it is not."""
    load = data.draw(loads(aircraft))
    other, unknown = loading(aircraft, replace(load, burn_gal=burn)), loading(aircraft, blanked(load, "burn_gal"))
    for name in ("longitudinal_margin_in", "lateral_margin_in"):
        assert loading(aircraft, load).tightest(name) == other.tightest(name) == unknown.tightest(name)
    assert loading(aircraft, load).within == other.within == unknown.within
    assert np.isnan(unknown.landing.gross_weight_lb)
    assert unknown.take_off.gross_weight_lb == other.take_off.gross_weight_lb


def test_a_tank_that_runs_empty_between_two_steps_is_looked_at() -> None:
    """Of 26.3 gal the later tank holds 8.8: 3.3 eighths of the fuel, between two of the nine steps."""
    helicopter = good()
    assert helicopter.fuel.feed is Feed.in_order
    found = loading(helicopter, one(helicopter, fuel_gal=26.3, burn_gal=1.0))
    last = helicopter.fuel.tanks[-1].usable_gal
    dry = float(found.zero_fuel.gross_weight_lb)
    weights = np.asarray(found.whole.gross_weight_lb) - dry
    assert np.isclose(weights, last * helicopter.fuel.lb_per_gal).any()


@pytest.mark.parametrize("aircraft", TYPES, ids=lambda each: each.id)
def test_what_the_scorer_gets_is_what_the_screens_show(aircraft: AircraftType) -> None:
    """The scorer's rows, all at once and one by one, are the numbers of ``loading``, bit by bit."""
    many = stacked(rows_of(np.random.default_rng(41), aircraft, 300))
    fitted = [np.array(many.fitted[piece.name]) for piece in aircraft.equipment]
    stations = [np.array(many.stations_lb[place.name]) for place in aircraft.stations]
    moments = (many.empty_longitudinal_moment_in_lb, many.empty_lateral_moment_in_lb)
    empty = np.stack([np.asarray(each, dtype=np.float64) for each in (many.empty_weight_lb, *moments)])
    rows = LoadRows(empty, stations, fitted, np.asarray(many.fuel_gal, dtype=np.float64))
    found, shown = loaded_rows(frame_of(aircraft), rows), loading(aircraft, many)
    expected = (
        shown.take_off.gross_weight_lb,
        shown.gross_max_margin_lb,
        shown.gross_min_margin_lb,
        shown.stations_margin_lb,
        shown.tightest("longitudinal_margin_in"),
        shown.tightest("lateral_margin_in"),
    )
    for one_by_many, screen in zip(found, expected, strict=True):
        np.testing.assert_array_equal(one_by_many, screen)
    for i in range(0, 300, 13):
        alone = LoadRows(
            empty[:, i : i + 1],
            [x[i : i + 1] for x in stations],
            [x[i : i + 1] for x in fitted],
            rows.fuel_gal[i : i + 1],
        )
        assert [float(x[0]) for x in loaded_rows(frame_of(aircraft), alone)] == [float(x[i]) for x in found]


@given(st.floats(0, 26), st.floats(0, 26), st.floats(3, 30), st.floats(0, 2))
def test_less_fuel_is_never_more_endurance(fuel: float, other_fuel: float, burn: float, taxi: float) -> None:
    less, more = sorted((fuel, other_fuel))
    assert float(endurance_min(less, burn, taxi)) <= float(endurance_min(more, burn, taxi))


@given(st.data(), st.sampled_from(TYPES), st.floats(0.1, 50))
def test_more_weight_is_never_nearer_to_the_highest_weight_allowed(
    data: st.DataObject, aircraft: AircraftType, more: float
) -> None:
    load = data.draw(loads(aircraft))
    name = data.draw(st.sampled_from(sorted(load.stations_lb)))
    heavier = replace(load, stations_lb={**load.stations_lb, name: load.stations_lb[name] + more})  # type: ignore[operator]
    before, after = loading(aircraft, load), loading(aircraft, heavier)
    assert float(after.gross_max_margin_lb) <= float(before.gross_max_margin_lb)
    lighter = replace(load, fuel_gal=float(load.fuel_gal) * 0.5)  # type: ignore[arg-type]
    assert float(loading(aircraft, lighter).gross_max_margin_lb) >= float(before.gross_max_margin_lb)


@given(st.data(), st.sampled_from(TYPES))
def test_inside_is_what_the_margins_say(data: st.DataObject, aircraft: AircraftType) -> None:
    found = loading(aircraft, data.draw(loads(aircraft)))
    for part in (found.zero_fuel, found.take_off, found.landing):
        margins = (part.longitudinal_margin_in, part.longitudinal_margin_lb, part.lateral_margin_in)
        assert (part.inside == 1) is all(float(margin) >= 0 for margin in margins)
