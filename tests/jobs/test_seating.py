"""Loads that nobody has to type: who is aboard, where the type puts them, and what stays as it was typed."""

import json
from typing import Any

import pytest

from riskboard import jobs
from riskboard.aircraft_types import load_type
from riskboard.jobs.seating import Aboard, loads_known, other_front_seat, seated
from riskboard.shipped import aircraft_type_files
from tests.jobs.school_day import CHIEF, CIRCUITS, OTHER_PILOT, PILOT, Day, papers

((_, TEXT),) = aircraft_type_files()
TWO_SEATS = load_type(TEXT, name="two seats")


def station(label: str, kind: str, arm: float, lateral: float) -> str:
    return (
        f"      {{label: {label}, kind: {kind}, longitudinal_arm_in: {arm}, lateral_arm_in: {lateral}, max_lb: 240}}\n"
    )


LEFT = "    left_seat: {label: Left seat,"
REAR = (
    f"    rear_right:\n{station('Rear right', 'seat', 90, 11)}    rear_left:\n{station('Rear left', 'seat', 90, -11)}"
)
FOUR_SEATS = load_type(TEXT.replace(LEFT, REAR + LEFT), name="four seats")


def aboard(**changed: Any) -> Aboard:
    nobody = Aboard(None, False, None, None, None, {})  # noqa: FBT003
    return Aboard(**{name: changed.get(name, getattr(nobody, name)) for name in Aboard.__dataclass_fields__})


def test_the_pilot_sits_where_the_type_says_and_the_instructor_beside() -> None:
    assert TWO_SEATS.pilot_station == "right_seat"
    for kind in (TWO_SEATS, FOUR_SEATS):
        beside = other_front_seat(kind)
        assert beside is not None
        assert beside.name == "left_seat"
    found = loads_known(TWO_SEATS, aboard(pilot_lb=168.0, instructor_chosen=True, instructor_lb=190.0))
    assert found == {"right_seat": 168.0, "left_seat": 190.0}


@pytest.mark.parametrize(
    ("changed", "expected"),
    [
        ({}, {}),
        ({"passengers": 0}, {}),  # somebody may instruct: nobody has said
        ({"passengers": 0, "instructor_aboard": False}, {"left_seat": 0.0}),
        ({"passengers": 0, "instructor_aboard": True}, {}),
        ({"passengers": 1, "instructor_aboard": False}, {}),
        ({"instructor_aboard": False}, {}),
        ({"instructor_chosen": True, "instructor_lb": 190.0, "instructor_aboard": False}, {}),
        ({"instructor_chosen": True, "instructor_lb": None, "passengers": 0}, {}),
        ({"usual": {"left_baggage": 12.0}}, {"left_baggage": 12.0}),
        ({"usual": {"left_seat": 30.0}}, {}),
        ({"usual": {"left_seat": 30.0}, "instructor_aboard": False, "passengers": 0}, {"left_seat": 30.0}),
        ({"usual": {"right_seat": 30.0, "nose": 3.0}}, {}),
    ],
)
def test_only_what_follows_from_what_is_known_is_filled_in(changed: dict[str, Any], expected: dict[str, float]) -> None:
    assert loads_known(TWO_SEATS, aboard(**changed)) == expected


def test_rear_seats_are_empty_only_where_nobody_rides_along() -> None:
    dual = {"pilot_lb": 160.0, "instructor_chosen": True, "instructor_lb": 180.0, "instructor_aboard": True}
    assert loads_known(FOUR_SEATS, aboard(**dual, passengers=0)) == {
        "right_seat": 160.0, "rear_right": 0.0, "rear_left": 0.0, "left_seat": 180.0,
    }  # fmt: skip
    assert loads_known(FOUR_SEATS, aboard(**dual, passengers=1)) == {"right_seat": 160.0, "left_seat": 180.0}


def line(name: str, load: float) -> dict[str, Any]:
    return {"station": name, "load_lb": load}


def test_a_typed_load_stays_and_a_filled_in_one_follows() -> None:
    first, mine = seated(None, {}, {"right_seat": 168.0})
    assert (first, mine) == ([line("right_seat", 168.0)], {"right_seat": 168.0})
    again, mine = seated(first, mine, {"right_seat": 168.0, "left_seat": 190.0})
    assert again == [line("right_seat", 168.0), line("left_seat", 190.0)]
    changed = [line("right_seat", 168.0), line("left_seat", 201.0)]
    again, mine = seated(changed, mine, {"right_seat": 172.0, "left_seat": 155.0})
    assert again == [line("right_seat", 172.0), line("left_seat", 201.0)]
    assert mine == {"right_seat": 172.0}


def test_a_load_that_is_known_no_more_goes_and_one_that_was_blanked_stays_blank_until_something_else_is_known() -> None:
    both, mine = seated(None, {}, {"right_seat": 168.0, "left_seat": 190.0})
    alone, left = seated(both, mine, {"right_seat": 168.0})
    assert alone == [line("right_seat", 168.0)]
    assert left == {"right_seat": 168.0}
    blanked, mine = seated([line("right_seat", 168.0)], mine, {"right_seat": 168.0, "left_seat": 190.0})
    assert blanked == [line("right_seat", 168.0)]
    again, _ = seated(blanked, mine, {"right_seat": 168.0, "left_seat": 190.0})
    assert again == blanked
    other, _ = seated(blanked, mine, {"right_seat": 168.0, "left_seat": 150.0})
    assert other == [line("right_seat", 168.0), line("left_seat", 150.0)]


@pytest.mark.parametrize("typed", ["two people", [3], {"right_seat": 3}, [line("right_seat", 168.0), "x"]])
def test_an_entry_that_cannot_be_understood_is_left_as_typed(typed: object) -> None:
    assert seated(typed, {"right_seat": 1.0}, {"right_seat": 168.0}) == (typed, {"right_seat": 1.0})


def test_nothing_known_and_nothing_typed_is_blank() -> None:
    assert seated(None, {}, {}) == (None, {})
    assert seated([line("right_seat", 5.0)], {"right_seat": 5.0}, {}) == (None, {})


DRAFT = "seats"


@pytest.fixture
def weighed(day: Day) -> Day:
    for person_id, pounds in ((PILOT, 171.0), (CHIEF, 149.0), (OTHER_PILOT, 214.0)):
        papers(day.office, person_id, day.now, flying_weight_lb=pounds)
    route = jobs.document(day.office, "route", CIRCUITS)
    route["plan"]["station_loads"] = [line("left_baggage", 6.0), line("right_baggage", 0.0)]
    day.office.store.put_document("route", CIRCUITS, json.dumps(route), at=day.now)
    return day


def loads(day: Day, draft_id: str = DRAFT) -> dict[str, float]:
    found = jobs.brief(day.office, draft_id, at=day.now).sheet.plan.station_loads or ()
    return {each.station: each.load_lb for each in found if each.load_lb is not None}


def choose(day: Day, **chosen: str) -> None:
    jobs.choose(day.office, DRAFT, jobs.Start(**chosen), at=day.now)


def test_the_loads_follow_who_flies_on_which_flight(weighed: Day) -> None:
    choose(weighed, pilot_id=OTHER_PILOT)
    assert loads(weighed) == {}
    choose(weighed, aircraft_id="LRS-01")
    assert loads(weighed) == {"right_seat": 214.0}
    choose(weighed, route_id=CIRCUITS)
    assert loads(weighed) == {"right_seat": 214.0, "left_baggage": 6.0, "right_baggage": 0.0}
    choose(weighed, instructor_id=PILOT)
    assert loads(weighed)["left_seat"] == 171.0
    choose(weighed, instructor_id=CHIEF)
    assert loads(weighed)["left_seat"] == 149.0
    jobs.save_entries(weighed.office, DRAFT, "plan", {"instructor_aboard": False, "passengers": 0}, at=weighed.now)
    assert loads(weighed)["left_seat"] == 0.0
    jobs.save_entries(weighed.office, DRAFT, "plan", {"instructor_aboard": True}, at=weighed.now)
    assert loads(weighed)["left_seat"] == 149.0
    jobs.save_entries(weighed.office, DRAFT, "pilot", {"flying_weight_lb": 220.0}, at=weighed.now)
    assert loads(weighed)["right_seat"] == 220.0
    choose(weighed, route_id="corbel-ridge")
    assert loads(weighed) == {"right_seat": 220.0, "left_seat": 149.0, "right_baggage": 8.0, "left_baggage": 12.0}
    edits = jobs.brief(weighed.office, DRAFT, at=weighed.now).edits
    assert [edit["field"] for edit in edits if edit["field"] == "station_loads"] == []


def test_what_the_pilot_typed_stays_when_the_instructor_changes(weighed: Day) -> None:
    choose(weighed, pilot_id=OTHER_PILOT, aircraft_id="LRS-01", instructor_id=PILOT)
    typed = [line("right_seat", 214.0), line("left_seat", 180.0), line("left_baggage", 11.0)]
    jobs.save_entries(weighed.office, DRAFT, "plan", {"station_loads": typed}, at=weighed.now)
    choose(weighed, instructor_id=CHIEF)
    choose(weighed, route_id=CIRCUITS)
    assert loads(weighed) == {"right_seat": 214.0, "left_seat": 180.0, "left_baggage": 11.0, "right_baggage": 0.0}


def test_an_instructor_who_is_the_pilot_sits_on_one_seat(weighed: Day) -> None:
    choose(weighed, pilot_id=PILOT, aircraft_id="LRS-01", instructor_id=PILOT)
    assert loads(weighed) == {"right_seat": 171.0}


def test_an_aircraft_of_another_type_takes_the_loads_back(weighed: Day) -> None:
    stored = jobs.document(weighed.office, "aircraft", "LRS-02")
    stored["aircraft"]["type_name"] = "Heron 1 (invented)"
    weighed.office.store.put_document("aircraft", "LRS-02", json.dumps(stored), at=weighed.now)
    choose(weighed, pilot_id=PILOT, aircraft_id="LRS-01")
    typed = [line("right_seat", 171.0), line("left_seat", 180.0)]
    jobs.save_entries(weighed.office, DRAFT, "plan", {"station_loads": typed}, at=weighed.now)
    choose(weighed, aircraft_id="LRS-02")
    assert loads(weighed) == {}
    choose(weighed, aircraft_id="LRS-03")
    assert loads(weighed) == {"right_seat": 171.0}


def test_a_weight_that_is_newer_than_the_draft_is_in_it(weighed: Day) -> None:
    choose(weighed, pilot_id=OTHER_PILOT, aircraft_id="LRS-01")
    weighed.later(minutes=5)
    found = jobs.document(weighed.office, "person", OTHER_PILOT)
    found["pilot"]["flying_weight_lb"] = 231.0
    moment = weighed.now.isoformat()
    found["clocks"] = {"flying_weight_lb": {"true_at": moment, "typed_at": moment}}
    weighed.office.store.put_document("person", OTHER_PILOT, json.dumps(found), at=weighed.now)
    assert loads(weighed) == {"right_seat": 231.0}
