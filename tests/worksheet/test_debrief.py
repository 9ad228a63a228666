"""The debrief: read strictly, written back equal, checked against its flight, and weighed."""

import json
import re
from datetime import timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from riskboard.words import DefectEffect, Difference, ItemLeft, Severity
from riskboard.worksheet import PARTS, Worksheet, WorksheetError, read_worksheet
from riskboard.worksheet.debrief import (
    LOOSE_ITEMS,
    SEVERITY,
    Condition,
    Debrief,
    FlightFacts,
    Told,
    all_in_place,
    debrief_data,
    debrief_problems,
    flown_h,
    left_items,
    partial_debrief,
    read_debrief,
    severity_of,
)
from riskboard.worksheet.entries import Defect, Differed
from riskboard.worksheet.shape import shape_of
from tests.strategies import DECIDED_AT, _value

AT = DECIDED_AT
LEFT_AT = AT - timedelta(hours=1, minutes=10)
FLIGHT = FlightFacts(left_at=LEFT_AT, meter_h=2231.4, fuel_gal=30.0, tank_gal=46.5)
GOOD = {"as_planned": True, "meter_h": 2232.5, "condition": all_in_place()}


@st.composite
def plain_debriefs(draw: st.DrawFn) -> dict[str, Any]:
    """The plain data of a debrief without contradictions, values still as python objects."""
    told = {name: draw(st.none() | _value(Told, name)) for name in Told.model_fields}
    if told["differed"]:
        told["as_planned"] = False
        told["differed"] = list({entry["what"]: entry for entry in told["differed"]}.values())
    told["defects"] = [{**defect, "deferred_until": None} for defect in told["defects"] or ()]
    states = st.none() | st.sampled_from([state.value for state in ItemLeft])
    return told | {"condition": {name: draw(states) for name in Condition.model_fields}}


@given(plain_debriefs())
def test_a_debrief_survives_json_and_reads_back_equal(data: dict[str, Any]) -> None:
    told = read_debrief(data)
    assert read_debrief(json.loads(json.dumps(debrief_data(told), allow_nan=False))) == told


@given(plain_debriefs(), st.data())
def test_one_bad_entry_loses_no_other(data: dict[str, Any], choice: st.DataObject) -> None:
    sound = read_debrief(data)
    name = choice.draw(st.sampled_from([*Told.model_fields, *Condition.model_fields]))
    spoiled = json.loads(json.dumps(debrief_data(sound)))
    place = spoiled if name in Told.model_fields else spoiled.setdefault("condition", {})
    place[name] = {"no": "value"}
    read, problems = partial_debrief(spoiled)
    assert name in {problem.field for problem in problems}
    for other in set(Told.model_fields) - {name}:
        assert getattr(read, other) == getattr(sound, other)
    for other in set(Condition.model_fields) - {name}:
        assert getattr(read.condition, other) == getattr(sound.condition, other)


def test_every_input_has_a_label_and_a_why_and_a_shape() -> None:
    for model in (Told, Condition):
        for name, info in model.facts().items():
            assert info.label
            assert info.why.endswith(".")
            assert shape_of(model, name).right()
    assert list(Debrief.facts()) == [name for name in Debrief.model_fields if name != "condition"]


def test_the_shortest_debrief_is_three_answers() -> None:
    told = read_debrief(GOOD)
    assert debrief_problems(told, FLIGHT, AT) == ()
    assert severity_of(told) is Severity.none
    assert flown_h(told, FLIGHT) == 1.1


CONTRADICTIONS: list[tuple[dict[str, Any], str, str]] = [
    ({"as_planned": True, "differed": [{"what": "weather_worse"}]}, "as_planned", "take the differences back"),
    ({"differed": [{"what": "incident"}, {"what": "incident"}]}, "differed", "incident is given more than once"),
    ({"defects": [{"text": "Rattle", "deferred_until": "2026-06-01"}]}, "defects", "only maintenance defers"),
    ({"differed": [{"what": "weather_wors"}]}, "differed", "weather_worse"),
    ({"meter_h": "2231.4"}, "meter_h", "is a text, not a number; write a number from 0 to 100000 h"),
    ({"meter_h": float("nan")}, "meter_h", "no finite number"),
    ({"fuel_left_gal": -1}, "fuel_left_gal", "too low"),
    ({"landed_at": "14:30"}, "landed_at", "not a moment in time"),
    ({"metre_h": 1}, "metre_h", "the nearest name is 'meter_h'"),
    ({"condition": {"battery": "in_place"}}, "battery", "nearest name is 'battery_master'"),
    ({"condition": {"battery_master": "left on"}}, "battery_master", "one of in_place, out_of_place, not_fitted"),
    ({"condition": "fine"}, "the condition", "the condition is a map of entries"),
]


@pytest.mark.parametrize(("data", "field", "sentence"), CONTRADICTIONS)
def test_what_cannot_be_is_refused_in_a_sentence(data: dict[str, Any], field: str, sentence: str) -> None:
    _, problems = partial_debrief(data)
    assert [problem.field for problem in problems] == [field]
    assert sentence in problems[0].message
    with pytest.raises(WorksheetError, match=re.escape(sentence)):
        read_debrief(data)


@pytest.mark.parametrize("data", [None, [], "as planned", 7])
def test_what_is_no_debrief_is_refused(data: object) -> None:
    _, problems = partial_debrief(data)
    assert "is a map of entries" in problems[0].message


AGAINST_THE_FLIGHT: list[tuple[dict[str, Any], str, str]] = [
    ({"as_planned": None}, "as_planned", "say whether the flight came back as planned"),
    ({"as_planned": False}, "differed", "say what differed"),
    ({"landed_at": AT + timedelta(minutes=1)}, "landed_at", "in the future"),
    ({"landed_at": LEFT_AT}, "landed_at", "not after the aircraft left"),
    ({"landed_at": LEFT_AT - timedelta(hours=3)}, "landed_at", "not after the aircraft left"),
    ({"meter_h": 2231.3}, "meter_h", "below the 2231.4 h known before the flight"),
    ({"meter_h": 2322.5}, "meter_h", "91.1 h above the 2231.4 h"),
    ({"fuel_left_gal": 30.5}, "fuel_left_gal", "more than the 30 gal aboard at the start"),
    ({"fuel_left_gal": 47, "refuelled": True}, "fuel_left_gal", "more than the 46.5 gal of full tanks"),
    ({"defects": [{"text": "Rattle", "reported_at": AT + timedelta(hours=1)}]}, "defects", "in the future"),
]


@pytest.mark.parametrize(("changes", "field", "sentence"), AGAINST_THE_FLIGHT)
def test_what_cannot_be_true_of_this_flight(changes: dict[str, Any], field: str, sentence: str) -> None:
    problems = debrief_problems(read_debrief(GOOD | changes), FLIGHT, AT)
    assert [problem.field for problem in problems] == [field]
    assert sentence in problems[0].message


@pytest.mark.parametrize(
    "changes",
    [
        {"landed_at": AT},
        {"landed_at": LEFT_AT + timedelta(minutes=1)},
        {"meter_h": 2231.4},
        {"meter_h": 2255.4},
        {"fuel_left_gal": 30},
        {"fuel_left_gal": 46.5, "refuelled": True},
        {"as_planned": False, "note": "Turned back for a dropped headset"},
        {"as_planned": False, "differed": [{"what": "cut_short"}]},
        {"meter_h": None, "fuel_left_gal": None, "condition": None},
    ],
)
def test_what_may_be_true_of_this_flight(changes: dict[str, Any]) -> None:
    assert debrief_problems(read_debrief(GOOD | changes), FLIGHT, AT) == ()


def test_a_blank_in_what_is_known_refuses_nothing() -> None:
    assert debrief_problems(read_debrief(GOOD | {"fuel_left_gal": 300}), FlightFacts(), AT) == ()


def test_a_late_debrief_is_held_against_the_later_reading() -> None:
    """A later flight has been debriefed already: this one's meter lies below, and tells no hours."""
    later = FlightFacts(left_at=LEFT_AT, meter_h=2231.4, later_at=AT - timedelta(minutes=10))
    early = {"landed_at": AT - timedelta(minutes=40)}
    below, above = read_debrief(GOOD | early | {"meter_h": 2230.0}), read_debrief(GOOD | early | {"meter_h": 2231.5})
    assert debrief_problems(below, later, AT) == ()
    assert flown_h(below, later) is None
    (problem,) = debrief_problems(above, later, AT)
    assert "above the 2231.4 h read after a later flight" in problem.message


def test_after_a_later_flight_the_landing_has_to_be_told() -> None:
    """Without it nobody can tell which of the two words about the aircraft is the newer one."""
    later = FlightFacts(left_at=LEFT_AT, meter_h=None, later_at=AT - timedelta(minutes=10))
    (problem,) = debrief_problems(read_debrief(GOOD), later, AT)
    assert problem.field == "landed_at"
    assert "say when this one landed" in problem.message


def test_the_moment_needs_a_zone() -> None:
    with pytest.raises(ValueError, match="time zone"):
        debrief_problems(Debrief(), FLIGHT, AT.replace(tzinfo=None))


def differing(*what: Difference) -> Debrief:
    return Debrief(as_planned=False, differed=tuple(Differed(what=each) for each in what))


def test_every_difference_has_a_weight_and_none_weighs_nothing() -> None:
    assert set(SEVERITY) == set(Difference)
    assert Severity.none not in SEVERITY.values()
    for what in Difference:
        assert severity_of(differing(what)) is SEVERITY[what]


@given(st.sets(st.sampled_from(list(Difference))), st.sampled_from(list(Difference)))
def test_one_more_difference_never_weighs_less(what: set[Difference], more: Difference) -> None:
    assert severity_of(differing(*what, more)) >= severity_of(differing(*what))
    assert severity_of(differing(*what, more)) >= SEVERITY[more]


@pytest.mark.parametrize(
    ("effect", "weight"),
    [
        (DefectEffect.grounding, Severity.serious),
        (None, Severity.serious),
        (DefectEffect.watch, Severity.minor),
        (DefectEffect.no_night, Severity.minor),
    ],
)
def test_a_defect_weighs_by_what_it_forbids_and_unknown_as_the_worst(
    effect: DefectEffect | None, weight: Severity
) -> None:
    assert severity_of(Debrief(as_planned=True, defects=(Defect(text="Rattle", effect=effect),))) is weight


def test_not_answered_weighs_as_the_worst_and_the_condition_not_at_all() -> None:
    left = Condition(battery_master=ItemLeft.out_of_place)
    assert severity_of(Debrief()) is Severity.serious
    assert severity_of(Debrief(as_planned=False)) is Severity.minor
    assert severity_of(Debrief(as_planned=True, condition=left)) is Severity.none


def test_the_condition_becomes_the_next_worksheets_entry() -> None:
    left = Condition(battery_master=ItemLeft.out_of_place, rotor_brake=ItemLeft.not_fitted, doors=ItemLeft.in_place)
    sheet: Worksheet = read_worksheet({"aircraft": {"left_by_last_user": left_items(left)}})
    states = {item.name: item.state for item in sheet.aircraft.left_by_last_user or ()}
    assert str(states["Battery master off"]) == "not_in_place"
    assert str(states["Doors"]) == "in_place"
    assert "Rotor brake set" not in states
    assert states["Cabin clean"] is None


def test_all_in_place_is_every_item_but_what_the_aircraft_does_not_have() -> None:
    said = all_in_place(("rotor_brake",))
    assert set(said) == set(Condition.model_fields)
    assert said["rotor_brake"] == "not_fitted"
    assert {state for name, state in said.items() if name != "rotor_brake"} == {"in_place"}
    with pytest.raises(KeyError, match="no item 'wings'"):
        all_in_place(("wings",))


def test_no_input_of_the_debrief_is_a_health_answer() -> None:
    """Health answers belong to the pilot; a debrief is read by the whole school."""
    health = {name for model in PARTS.values() for name, info in model.facts().items() if info.health}
    assert health
    assert not any(info.health for model in (Told, Condition) for info in model.facts().values())
    assert not health & {*Told.model_fields, *Condition.model_fields}
    assert set(LOOSE_ITEMS) <= set(Condition.model_fields)
