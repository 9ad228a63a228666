"""Tripwires: one step short is the old decision, the value itself is worse, and the sentence says just that."""

from dataclasses import replace
from datetime import datetime
from math import inf
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from riskboard.assessment.assess import CannotAssessError, assess
from riskboard.assessment.facts import prepare
from riskboard.assessment.tripwires import ADDED_WEIGHT, INPUTS, Tripwire, Tripwires, tripwires
from riskboard.assessment.variations import Base, base_of
from riskboard.measures.registry import evaluate
from riskboard.policy.model import Combination, CombinationPart
from riskboard.words import Decision, Group
from riskboard.worksheet import Worksheet
from riskboard.worksheet.columns import to_columns
from tests.assessment.varied import LONG, RUN, calm, prepared, sample
from tests.strategies import DECIDED_AT, worksheets


def wires_of(sheet: Worksheet, at: datetime) -> tuple[Base, Tripwires]:
    base = base_of(sheet, prepared(), at)
    return base, tripwires(base)


def changed(**but: object) -> tuple[Base, Tripwires]:
    sheet, at = calm()
    return wires_of(sheet.but(**but), at)


def one(found: Tripwires, field: str, way: str) -> Tripwire:
    return next(wire for wire in found.all if (wire.input.field, wire.way) == (field, way))


def decided(base: Base, found: Tripwires, wire: Tripwire, value: float) -> Decision:
    return assess(found.worksheet(wire, value), base.prepared, base.at, waived=base.waived).decision


def holds(base: Base, found: Tripwires, wire: Tripwire) -> None:
    """The value before is not worse than now, the value is, and so is the last one spoken of."""
    now = Decision(base.decision)
    if wire.run is None:
        assert decided(base, found, wire, wire.tried_to) <= now
        return
    assert wire.short is not None
    assert decided(base, found, wire, wire.short) <= now
    assert decided(base, found, wire, wire.run.first) is wire.run.decision
    assert wire.run.decision > now
    assert decided(base, found, wire, wire.run.last) > now
    if not wire.run.open:
        step = wire.input.step if wire.way == "up" else -wire.input.step
        assert decided(base, found, wire, round(wire.run.last + step, 6)) <= now
    if wire.run.stops_at is not None:
        assert decided(base, found, wire, wire.run.stops_at) is Decision.no_go


@pytest.mark.parametrize("name", ["calm_morning", "gusty_afternoon", "carb_icing_descent"])
def test_each_tripwire_of_a_sample_is_the_edge_a_fresh_assessment_finds(name: str) -> None:
    base, found = wires_of(*sample(name))
    assert found.all
    for wire in found.all:
        holds(base, found, wire)


@RUN
@given(
    st.fixed_dictionaries(
        {
            "wind_kt": st.integers(0, 12).map(float),
            "temperature_c": st.integers(10, 30).map(float),
            "dew_point_c": st.integers(-10, 10).map(float),
            "visibility_sm": st.integers(8, 20).map(lambda halves: halves / 2),
            "ceiling_ft_agl": st.integers(15, 80).map(lambda hundreds: hundreds * 100.0),
            "fuel_usable_gal": st.integers(17, 30).map(float),
            "hours_last_90_days_h": st.integers(0, 20).map(float),
            "pressure_felt": st.integers(1, 4),
        }
    ),
    st.data(),
)
def test_that_holds_for_other_weather_fuel_and_practice(but: dict[str, float], data: st.DataObject) -> None:
    base, found = changed(**but, lowest_cloud_ft_agl=but["ceiling_ft_agl"])
    if not found.all:
        assert found.already
        return
    wires = found.all if LONG else data.draw(st.lists(st.sampled_from(found.all), min_size=3, max_size=3))
    for wire in wires:
        holds(base, found, wire)


@RUN
@given(worksheets())
def test_any_worksheet_has_tripwires_or_a_reason_for_none(sheet: Worksheet) -> None:
    try:
        base, found = wires_of(sheet, DECIDED_AT)
    except CannotAssessError:
        return
    assert found.already == (base.decision == Decision.no_go)
    for wire in found.all[:4]:
        holds(base, found, wire)


# -- edges known from the policy --------------------------------------------------------------------------------------


def test_the_gust_of_the_type_is_found_to_the_knot() -> None:
    # The type's manual: at most 15 kt of spread. With a wind of 4 kt a gust of 19 kt is still within, one of 20 stops.
    (aircraft,) = prepared().types.values()
    assert aircraft.limits.gust_spread_max_kt == 15
    _, found = changed()
    wire = one(found, "gust_kt", "up")
    assert wire.run is not None
    stop = wire.run.first if wire.run.decision is Decision.no_go else wire.run.stops_at
    assert stop == 20
    assert wire.now == inf


def test_the_ceiling_takes_the_lowest_cloud_along() -> None:
    _, found = changed(ceiling_ft_agl=5000, lowest_cloud_ft_agl=4000)
    wire = one(found, "ceiling_ft_agl", "down")
    assert wire.run is not None
    lower = found.worksheet(wire, 3000.0).weather
    assert (lower.ceiling_ft_agl, lower.lowest_cloud_ft_agl) == (3000, 3000)
    higher = found.worksheet(wire, 4500.0).weather
    assert (higher.ceiling_ft_agl, higher.lowest_cloud_ft_agl) == (4500, 4000)


def test_temperature_has_a_tripwire_on_both_sides() -> None:
    # Warmer the hover ceiling runs out; colder the air is near enough to its dew point of -3 C for frost at 1 C, since
    # a surface four degrees colder is at -3 C.
    base, found = changed()
    colder, warmer = one(found, "temperature_c", "down"), one(found, "temperature_c", "up")
    assert colder.run is not None
    assert warmer.run is not None
    assert (colder.run.first, "frost" in colder.run.clauses) == (1, True)
    assert warmer.run.first > base.value("temperature_c")
    assert "warmer" in warmer.sentence
    assert "colder" in colder.sentence or "to" in colder.sentence


def test_a_worse_stretch_with_a_better_far_side_is_said_with_both_ends() -> None:
    # A clause of these tests only: less than 10 C of spread (below 7 C at this dew point of -3 C) together with a
    # density altitude above that of 2 C: from 6 C down to 3 C it holds, at 2 C it does not.
    sheet, at = calm()
    altitude = "density_altitude_departure_ft"
    at_two = to_columns([sheet.but(temperature_c=2)], at)
    bound = float(evaluate(at_two, [altitude])[altitude][0])
    policy = prepared().policy
    parts = (CombinationPart("dew_point_spread_c", 10), CombinationPart(altitude, bound))
    tested = Combination(
        "tested", Group.environment, parts, 0, "intolerable", "no_go", {}, "Tested.", policy.limits[0].source
    )
    types = prepared().types.values()
    base = base_of(sheet, prepare(replace(policy, combinations=(*policy.combinations, tested)), types), at)
    found = tripwires(base)
    wire = one(found, "temperature_c", "down")
    assert wire.run is not None
    assert (wire.run.first, wire.run.last, wire.run.open, wire.run.clauses) == (6, 3, False, ("tested",))
    assert wire.sentence == "Temperature 3 to 6 °C: no-go."
    holds(base, found, wire)


def test_take_off_and_landing_are_said_as_local_times() -> None:
    base, found = changed()
    wire = one(found, "landing_at", "up")
    assert wire.run is not None
    local = datetime.fromtimestamp(wire.run.first, ZoneInfo("America/Denver"))
    assert wire.sentence.startswith(f"Landing {local:%H:%M} or later: ")
    later = one(found, "take_off_at", "up")
    assert later.run is not None
    sheet = found.worksheet(later, later.run.first)
    assert sheet.plan.take_off_at is not None
    assert sheet.plan.landing_at is not None
    planned = base.sheet.plan
    assert planned.take_off_at is not None
    assert planned.landing_at is not None
    assert sheet.plan.landing_at - sheet.plan.take_off_at == planned.landing_at - planned.take_off_at


def test_added_weight_is_tried_on_every_place_and_the_tightest_counts() -> None:
    base, found = changed()
    wire = one(found, ADDED_WEIGHT, "up")
    assert wire.run is not None
    places = [entry.station for entry in base.sheet.plan.station_loads or ()]
    assert wire.station in places
    for place in places:  # a step less than the tripwire is no worse on any place
        elsewhere = Tripwire(wire.input, "up", 0.0, wire.run, wire.short, wire.tried_to, "", 0.0, station=place)
        assert decided(base, found, elsewhere, wire.run.first - wire.input.step) <= Decision(base.decision)


# -- what is left out, ranked, hidden ---------------------------------------------------------------------------------


def test_what_nobody_knows_now_has_no_tripwire_and_is_named() -> None:
    _, found = changed(thunderstorm_nm=None)
    if not found.already:
        assert "Thunderstorm" in found.left_out
    _, blank = changed(stress_level=None)
    assert "Stress rating" in blank.left_out
    assert not [wire for wire in blank.all if wire.input.field == "stress_level"]


def test_a_no_go_has_none() -> None:
    _, found = changed(ill_today=True)
    assert (found.all, found.already, found.six) == ((), True, ())


def test_six_for_the_card_the_nearest_first_and_of_different_clauses() -> None:
    _, found = changed()
    near = [wire.nearness for wire in found.all]
    assert near == sorted(near)
    assert len(found.six) == 6
    assert len({wire.input.field for wire in found.six}) == 6
    clauses = [wire.run.clauses[:1] for wire in found.six if wire.run]
    assert len(set(clauses)) == 6
    assert found.six[0] is found.all[0]


def test_health_answers_are_marked() -> None:
    _, found = changed()
    assert {wire.input.field for wire in found.all if wire.health} == {"sleepiness_rating", "stress_level"}


def test_where_there_is_none_it_says_how_far_it_looked() -> None:
    _, found = changed()
    wire = one(found, "altimeter_inhg", "up")
    assert wire.run is None
    assert wire.sentence == "Altimeter setting: none within reason (tried up to 31.20 inHg)."


def test_every_input_can_be_tried_at_its_resolution() -> None:
    fields = [each.field for each in INPUTS]
    assert len(set(fields)) == len(fields) >= 15
    steps = {each.field: each.step for each in INPUTS}
    asked = {"wind_kt": 1, "ceiling_ft_agl": 100, "temperature_c": 1, "fuel_usable_gal": 1, "take_off_at": 300}
    assert {field: steps[field] for field in asked} == asked
    assert all(np.isfinite(each.usual) and each.usual > 0 for each in INPUTS)
