"""The invented school's aircraft and people: each can be judged, and its usual flights go on a usual day."""

from datetime import timedelta
from typing import Any

import pytest

from riskboard import demo, jobs
from riskboard.assessment.airframe import Airframe, airframe_of
from tests.jobs.school_day import CHIEF, CIRCUITS, OTHER_PILOT, PILOT, Day

TITLE = "Tarnwick 2 (invented)"
FLEET = tuple(f"LRS-0{number}" for number in range(1, 7))
STUDENT = "ines-vasko"


def documents(day: Day, kind: str) -> dict[str, dict[str, Any]]:
    return {identity: facts for found, identity, facts in demo.school_documents(day.now) if found == kind}


def frame(
    day: Day, pilot: str, route: str, aircraft: str = "LRS-01", instructor: str | None = None, **entries: Any
) -> Airframe:
    """A flight with the loads as they are filled in, and nothing typed but what is given."""
    draft_id = f"demo-{day.event()}"
    jobs.choose(day.office, draft_id, jobs.Start(pilot, aircraft, None, route, instructor), at=day.now)
    jobs.plan_take_off(day.office, draft_id, day.now + timedelta(minutes=20), at=day.now)
    aboard = {"instructor_aboard": instructor is not None, "passengers": 0}
    plan = aboard | {name: entries.pop(name) for name in ("station_loads", "passengers") if name in entries}
    jobs.save_entries(day.office, draft_id, "plan", plan, at=day.now)
    jobs.save_entries(
        day.office, draft_id, "aircraft", {"fuel_usable_gal": entries.pop("fuel_usable_gal", 26.0)}, at=day.now
    )
    weather = {"temperature_c": 18.0, "altimeter_inhg": 30.05} | entries
    jobs.save_entries(day.office, draft_id, "weather", weather, at=day.now)
    found = airframe_of(jobs.brief(day.office, draft_id, at=day.now).sheet, jobs.types_in_force(day.office))
    assert found is not None
    return found


def within(found: Airframe) -> float:
    return float(found.loading.within)


def test_six_aircraft_of_the_invented_type_each_weighed_and_each_due_at_its_own_time(day: Day) -> None:
    fleet = {name: found["aircraft"] for name, found in documents(day, "aircraft").items()}
    assert tuple(fleet) == FLEET
    assert {facts["type_name"] for facts in fleet.values()} == {TITLE}
    assert len({facts["empty_weight_lb"] for facts in fleet.values()}) == 6
    pieces = {piece.name for piece in jobs.types_in_force(day.office)[TITLE].equipment}
    for facts in fleet.values():
        assert {each["name"] for each in facts["equipment_fitted"]} == pieces
        assert facts["weighed_on"]
    to_go = {round(facts["hundred_hour_due_at_h"] - facts["meter_h"], 1) for facts in fleet.values()}
    assert len(to_go) >= 5
    deferred = [each for facts in fleet.values() for each in facts["open_defects"] if each.get("deferred_until")]
    assert [(each["deferred_by"], each["effect"]) for each in deferred] == [("Joss Okonjo-Lind", "no_night")]


def test_tanks_hold_what_the_type_says(day: Day) -> None:
    usable = jobs.types_in_force(day.office)[TITLE].fuel.usable_gal
    assert {found["tank_gal"] for found in documents(day, "aircraft").values()} == {usable}


@pytest.mark.parametrize("aircraft", FLEET)
@pytest.mark.parametrize("pilot", [PILOT, OTHER_PILOT, STUDENT, CHIEF])
def test_everybody_alone_is_within_limits_in_every_aircraft(day: Day, pilot: str, aircraft: str) -> None:
    for gallons in (16.0, 30.0):
        found = frame(day, pilot, CIRCUITS, aircraft, fuel_usable_gal=gallons)
        assert within(found) == 1, (pilot, aircraft, gallons)
        assert float(found.highest_site.out_of_ground_effect_ft) > 1000


@pytest.mark.parametrize("route", [CIRCUITS, "south-area"])
@pytest.mark.parametrize(("pilot", "instructor"), [(STUDENT, PILOT), (STUDENT, CHIEF), (OTHER_PILOT, CHIEF)])
def test_a_usual_lesson_is_within_limits(day: Day, route: str, pilot: str, instructor: str) -> None:
    found = frame(day, pilot, route, instructor=instructor)
    assert within(found) == 1
    assert float(found.highest_site.out_of_ground_effect_ft) > 1000


def test_two_large_people_on_a_hot_afternoon_are_too_heavy_or_cannot_hover_at_the_ridge(day: Day) -> None:
    """By hand: 988.5 empty, 215 + 172 + 8 + 12 aboard, 25 gal of 6 lb: 1545.5 lb of 1560 lb."""
    found = frame(day, OTHER_PILOT, "corbel-ridge", instructor=PILOT, temperature_c=34.0)
    assert float(found.loading.take_off.gross_weight_lb) == pytest.approx(988.5 + 215 + 172 + 8 + 12 + 25 * 6)
    assert within(found) == 1
    assert float(found.highest_site.in_ground_effect_ft) < 0
    assert float(found.highest_site.out_of_ground_effect_ft) < 0
    fuller = frame(day, OTHER_PILOT, "corbel-ridge", instructor=PILOT, temperature_c=34.0, fuel_usable_gal=30.0)
    assert float(fuller.loading.gross_max_margin_lb) == pytest.approx(1560 - 988.5 - 215 - 172 - 20 - 29 * 6)
    assert within(fuller) == 0
