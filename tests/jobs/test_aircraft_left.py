"""What a debrief leaves at the aircraft, as properties: nothing told is never better than the worst that can be."""

from copy import deepcopy
from datetime import datetime, timedelta
from functools import cache
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from riskboard import demo
from riskboard.aircraft_types.shipped import shipped_types
from riskboard.assessment.assess import CannotAssessError, assess
from riskboard.assessment.facts import PreparedPolicy, prepare
from riskboard.jobs.aircraft_left import aircraft_after, changes_between, not_fitted
from riskboard.jobs.office import shipped_policies
from riskboard.shipped import shipped
from riskboard.words import Decision, ItemLeft
from riskboard.worksheet import Worksheet, read_worksheet
from riskboard.worksheet.debrief import Condition, Debrief, FlightFacts, read_debrief
from riskboard.worksheet.file import read_worksheet_file
from riskboard.worksheet.write import worksheet_data

STATES = [state.value for state in ItemLeft]
CONDITIONS = st.fixed_dictionaries({name: st.none() | st.sampled_from(STATES) for name in Condition.model_fields})


@cache
def calm() -> tuple[Worksheet, datetime, PreparedPolicy]:
    sheet, at = read_worksheet_file(shipped("weather_samples") / "calm_morning.yaml")
    assert at is not None
    policy = next(policy for policy in shipped_policies() if policy.id == "rotor-school-vfr")
    return sheet, at, prepare(policy, shipped_types())


def stored(registration: str = "LRS-01") -> dict[str, Any]:
    _, at, _ = calm()
    found = {identity: facts for kind, identity, facts in demo.school_documents(at) if kind == "aircraft"}
    return deepcopy(found[registration])


def after(told: Debrief, before: dict[str, Any] | None = None, **known: Any) -> dict[str, Any]:
    _, at, _ = calm()
    given: dict[str, Any] = {"left_at": at - timedelta(hours=2), "meter_h": 2231.4}
    flight = FlightFacts(**(given | known))
    landed = told.landed_at or at - timedelta(hours=1)
    said = told.model_copy(update={"landed_at": landed})
    return aircraft_after(before or stored(), said, flight, flight_id="flight", person_id="somebody", at=at)


def decision(document: dict[str, Any]) -> Decision:
    """What the calm morning comes to with this aircraft; what cannot be true counts as the worst."""
    sheet, at, prepared = calm()
    fresh = worksheet_data(sheet)["aircraft"]
    today = {name: fresh[name] for name in ("preflight_done", "fuel_usable_gal", "fuel_checked_by_sight")}
    data = worksheet_data(sheet) | {"aircraft": document["aircraft"] | today}
    data.pop("clocks", None)
    try:
        return assess(read_worksheet(data), prepared, at).decision
    except CannotAssessError:
        return Decision.no_go


def test_the_calm_morning_goes_with_an_aircraft_that_was_left_in_order() -> None:
    told = read_debrief(
        {"as_planned": True, "meter_h": 2232.5, "condition": dict.fromkeys(Condition.model_fields, STATES[0])}
    )
    assert decision(after(told)) is Decision.go


ITEMS = st.sampled_from(list(Condition.model_fields))


@given(ITEMS, st.sampled_from(["in_place", "out_of_place"]), ITEMS, st.sampled_from(["first", "other", "meter", "all"]))
@settings(max_examples=60)
def test_telling_less_never_makes_the_next_flight_easier(item: str, state: str, other: str, forgotten: str) -> None:
    """Not so of "not fitted": that takes an item off the list, as it should."""
    condition = dict.fromkeys(Condition.model_fields, "in_place") | {item: state}
    data = {"as_planned": True, "meter_h": 2232.5, "condition": condition}
    less = {
        "first": {**data, "condition": {**condition, item: None}},
        "other": {**data, "condition": {**condition, other: None}},
        "meter": {**data, "meter_h": None},
        "all": {**data, "condition": None},
    }[forgotten]
    assert decision(after(read_debrief(less))) >= decision(after(read_debrief(data)))


@pytest.mark.parametrize("name", ["doors", "dual_controls"])
@pytest.mark.parametrize("state", ["out_of_place", None])
def test_what_the_next_flight_needs_and_is_not_surely_there_stops_it(name: str, state: str | None) -> None:
    condition = dict.fromkeys(Condition.model_fields, "in_place") | {name: state}
    told = read_debrief({"as_planned": True, "meter_h": 2232.5, "condition": condition})
    assert decision(after(told)) is Decision.no_go


@given(CONDITIONS, st.lists(st.sampled_from(["watch", "grounding", None]), max_size=3))
def test_no_defect_is_ever_lost_and_none_is_changed(condition: dict[str, Any], effects: list[str | None]) -> None:
    before = stored("LRS-03")
    old = before["aircraft"]["open_defects"]
    found = [{"text": f"Defect {number}", "effect": effect} for number, effect in enumerate(effects)]
    told = read_debrief({"as_planned": True, "defects": found, "condition": condition})
    now = after(told, before)["aircraft"]["open_defects"]
    assert now[: len(old)] == old
    assert [each["text"] for each in now[len(old) :]] == [each["text"] for each in found]


@given(CONDITIONS, st.none() | st.floats(2231.4, 2250.0).map(lambda hours: round(hours, 1)))
def test_every_fact_that_changed_says_since_when(condition: dict[str, Any], meter_h: float | None) -> None:
    told = read_debrief({"as_planned": True, "meter_h": meter_h, "condition": condition})
    before = stored()
    now = after(told, before)
    was, becomes = changes_between(before, now)
    assert set(was) == set(becomes)
    for name in set(becomes) - {"condition_left", "last_user"}:
        assert now["clocks"][name]["true_at"] == now["condition_left"]["at"]
        assert now["clocks"][name]["typed_at"] > before["as_of"][:19]
    assert before == stored()


@given(CONDITIONS)
def test_a_late_word_changes_nothing_but_its_defects(condition: dict[str, Any]) -> None:
    _, at, _ = calm()
    told = read_debrief(
        {"as_planned": True, "meter_h": 2230.0, "condition": condition, "defects": [{"text": "Rattle"}]}
    )
    now = after(told, later_at=at - timedelta(minutes=10))
    was, becomes = changes_between(stored(), now)
    assert set(was) == {"open_defects"}
    assert becomes["open_defects"][0]["text"] == "Rattle"


def test_what_is_not_fitted_is_remembered_for_the_one_tap() -> None:
    told = read_debrief({"as_planned": True, "condition": {"rotor_brake": "not_fitted", "doors": "in_place"}})
    assert not_fitted(after(told)) == ("rotor_brake",)
    assert not_fitted({}) == ()
