"""Every aircraft at one glance, its history from the log, and what it burns: as the next pilot meets them."""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from riskboard import demo, jobs
from riskboard.jobs.aircraft_log import Flown, Past
from riskboard.jobs.own_burn import burn_of, planned_burn_gal_h
from riskboard.upkeep.acts import Closed, MaintenanceAct
from riskboard.upkeep.state import DueState, Stand
from riskboard.words import DefectEffect
from riskboard.worksheet.debrief import read_debrief
from tests.jobs.school_day import (
    AIRCRAFT,
    DISPATCHER,
    FLIGHT,
    MAINTENANCE,
    OTHER_PILOT,
    PILOT,
    Day,
    caller_of,
    end,
)
from tests.measures.flown_loads import tarnwick

NOBODY = "ines-vasko"
_AT = datetime(2026, 5, 4, tzinfo=UTC)


def status(day: Day, person_id: str = OTHER_PILOT, aircraft_id: str = AIRCRAFT) -> jobs.AircraftStatus:
    return jobs.one_aircraft(day.office, person_id, aircraft_id, at=day.now)


def history(day: Day, aircraft_id: str = AIRCRAFT) -> list[str]:
    lines = jobs.aircraft_history(day.office, OTHER_PILOT, aircraft_id, at=day.now)
    return [f"{line.who}: {' '.join(line.said)}" for line in lines]


def close(day: Day, **told: Any) -> None:
    given = {"as_planned": True, "refuelled": False} | told
    facts = {name: value for name, value in given.items() if value is not None}
    caller = caller_of(day.office, PILOT, day.now)
    jobs.debrief(day.office, caller, day.flight_id, read_debrief(facts), event_id=day.event(), at=day.now)


def flown(day: Day) -> Day:
    day.accept()
    day.later(minutes=2)
    day.release()
    day.later(minutes=8)
    day.leave()
    day.later(minutes=66)
    return day


def test_every_aircraft_is_there_and_says_what_stands_open(day: Day) -> None:
    found = {each.registration: each for each in jobs.aircraft_status(day.office, OTHER_PILOT, at=day.now)}
    assert list(found) == sorted(found)
    grounded = found["LRS-06"]
    assert grounded.stand is Stand.grounded
    assert grounded.defects is not None
    assert grounded.defects[0].text == "Low rotor rpm horn silent on test"
    assert found["LRS-04"].defects is not None
    assert found["LRS-04"].defects[0].effect is DefectEffect.no_night
    assert found["LRS-05"].raised_watch
    assert found["LRS-05"].left is not None
    assert found["LRS-05"].left.wrong == ("Battery master off",)
    hundred = next(each for each in found["LRS-02"].work if each.item.key == "hundred_hour")
    assert hundred.hours_left == pytest.approx(1.4)
    assert hundred.state is DueState.soon
    assert hundred.due is None
    assert "Too few flights on record" in found["LRS-02"].rate.sentence


def test_who_has_no_role_sees_none(day: Day) -> None:
    end(day.office, NOBODY, "student", day.now)
    day.later(minutes=1)
    for look in (
        lambda: jobs.aircraft_status(day.office, NOBODY, at=day.now),
        lambda: jobs.one_aircraft(day.office, NOBODY, AIRCRAFT, at=day.now),
        lambda: jobs.aircraft_history(day.office, NOBODY, AIRCRAFT, at=day.now),
    ):
        with pytest.raises(jobs.NotShownError):
            look()
    with pytest.raises(KeyError):
        status(day, aircraft_id="LRS-99")


def test_nobody_looks_in_another_persons_name(day: Day) -> None:
    held = jobs.acting_for(day.office, PILOT)
    with pytest.raises(jobs.NotShownError):
        jobs.aircraft_status(held, DISPATCHER, at=day.now)
    with pytest.raises(jobs.NotShownError):
        jobs.run_up_sheet(held, DISPATCHER, FLIGHT, at=day.now)


def test_rights_are_said(day: Day) -> None:
    assert status(day).may_report.allowed
    assert not status(day).may_sign.allowed
    assert status(day, MAINTENANCE).may_sign.allowed


def test_a_bad_run_up_is_what_the_next_pilot_sees_first_and_its_clearing_too(day: Day) -> None:
    day.accept()
    day.release()
    day.run_up(magneto_left_drop_pct=9)
    seen = status(day)
    assert seen.stand is Stand.grounded
    assert seen.defects is not None
    assert "Drop on the left magneto: 9 %" in seen.defects[0].text
    assert seen.last_run_up is not None
    assert not seen.last_run_up.good
    assert seen.out is not None
    jobs.cancel(day.office, PILOT, FLIGHT, event_id=day.event(), reason="Grounded", at=day.now)
    act = MaintenanceAct(
        closes=(Closed(seen.defects[0].defect_id, "Plugs cleaned, 3 % now."),),
        starts_over=frozenset({"magneto_left_drop_pct"}),
    )
    caller = caller_of(day.office, MAINTENANCE, day.now)
    jobs.sign_maintenance(day.office, caller, AIRCRAFT, act, demo.DEMO_PIN, event_id=day.event(), at=day.now)
    after = status(day)
    assert after.defects == ()
    assert after.out is None
    drop = next(each for each in after.drifts if each.item == "magneto_left_drop_pct")
    assert drop.readings == ()  # readings of the old plugs say nothing about the new ones
    said = history(day)
    assert said[0].startswith("Joss Okonjo-Lind: Defect closed: Run-up: Drop on the left magneto: 9 %")
    assert "Done: Plugs cleaned, 3 % now." in said[0]
    assert said[1] == "Mara Oduya: Flight called off before it left."
    assert said[2].startswith("Mara Oduya: Run-up not good. Magneto drops: left 9 %, right 4 %.")


def test_a_flight_without_a_run_up_is_in_the_history(day: Day) -> None:
    day.accept()
    day.release()
    day.leave_at_once(DISPATCHER)
    lines = jobs.aircraft_history(day.office, OTHER_PILOT, AIRCRAFT, at=day.now)
    assert lines[0].said == ("Left without a run-up on record.",)
    assert lines[0].flight_id == FLIGHT


def test_what_was_burned_stands_beside_the_types_figure(day: Day) -> None:
    meter = jobs.document(day.office, "aircraft", AIRCRAFT)["aircraft"]["meter_h"]
    fuel = jobs.brief(day.office, FLIGHT, at=day.now).sheet.aircraft.fuel_usable_gal
    assert fuel is not None
    flown(day)
    close(day, meter_h=meter + 1.0, fuel_left_gal=fuel - 14)
    burn = status(day).burn
    assert burn is not None
    assert burn.estimate.type_gal_per_h == 12
    assert burn.estimate.flown_gal_per_h == pytest.approx(14)
    assert 12 < burn.estimate.own_gal_per_h < 14
    assert burn.kept_gal_h == 12
    assert burn.planned_gal_h >= burn.estimate.own_gal_per_h
    assert "own is about" in burn.sentence
    assert history(day)[0] == f"Mara Oduya: Back after 1 h. Fuel left: {fuel - 14:g} gal."


@pytest.mark.parametrize("said", [{"refuelled": True}, {"refuelled": None}, {"fuel_left_gal": None}, {"meter_h": None}])
def test_a_flight_that_does_not_say_what_it_burned_is_left_out(day: Day, said: dict[str, Any]) -> None:
    meter = jobs.document(day.office, "aircraft", AIRCRAFT)["aircraft"]["meter_h"]
    flown(day)
    close(day, **({"meter_h": meter + 1.0, "fuel_left_gal": 10} | said))
    burn = status(day).burn
    assert burn is not None
    assert burn.estimate.flights == 0


def test_the_next_plan_begins_with_the_more_cautious_figure() -> None:
    kind = tarnwick()
    thirsty, thrifty = Past(), Past()
    for place in range(12):
        for past, used in ((thirsty, 14.0), (thrifty, 10.0)):
            past.flown.append(Flown(place, _AT, f"f{place}", 1.0, used))
    for kept in (None, 11.0, 12.0, 15.0):
        burn = burn_of(kind, thirsty, kept)
        assert burn is not None
        assert burn.planned_gal_h >= burn.estimate.own_gal_per_h
        assert burn.planned_gal_h >= (kept or 12.0)
    typed_low = burn_of(kind, thrifty, 11.0)
    assert typed_low is not None
    assert typed_low.estimate.own_gal_per_h < 11.0
    assert typed_low.planned_gal_h == 11.0  # a person typed it
    untyped = burn_of(kind, thrifty, None)
    assert untyped is not None
    assert untyped.planned_gal_h == 12.0  # never below the type's by itself
    assert planned_burn_gal_h(untyped.estimate, 11.94) == 12.0


def test_hours_at_the_rate_of_flying_come_from_the_log(day: Day) -> None:
    past = day.office.log.look().past.setdefault(AIRCRAFT, Past())
    past.flown.extend(Flown(0, day.now - timedelta(days=place * 3 + 1), f"f{place}", 1.2, None) for place in range(30))
    past.flown.append(Flown(0, day.now - timedelta(days=120), "f", 1.0, None))
    seen = status(day)
    assert seen.rate.hours_per_day == pytest.approx(0.4)
    hundred = next(each for each in seen.work if each.item.key == "hundred_hour")
    assert hundred.due is not None
    assert hundred.due.earliest < hundred.due.on
    assert (hundred.due.on - day.now.date()).days == pytest.approx(62 / 0.4, abs=1)


def test_what_nobody_knows_is_said(day: Day) -> None:
    seen = jobs.kept_facts(day.office, DISPATCHER, "aircraft", AIRCRAFT, at=day.now)
    caller = caller_of(day.office, DISPATCHER, day.now)
    jobs.change_fact(
        day.office,
        caller,
        "aircraft",
        AIRCRAFT,
        {"meter_h": None, "type_name": "Unheard of"},
        why="Meter replaced",
        event_id=day.event(),
        revision=seen.revision,
        at=day.now,
    )
    after = status(day)
    assert after.stand is Stand.unknown
    assert "what the meter reads" in after.unknown
    assert "the type 'Unheard of' is not on file" in after.unknown
    assert history(day)[0] == "Wendell Achterberg: Facts changed: meter h, meter read at, type name. Meter replaced"


def test_the_next_briefing_of_a_thirsty_aircraft_begins_with_its_own_burn(day: Day) -> None:
    past = day.office.log.look().past.setdefault(AIRCRAFT, Past())
    past.flown.extend(Flown(0, day.now - timedelta(days=place + 1), f"f{place}", 1.0, 14.0) for place in range(12))
    jobs.begin_draft(day.office, "next-flight", jobs.Start(OTHER_PILOT, AIRCRAFT), at=day.now)
    sheet = jobs.brief(day.office, "next-flight", at=day.now).sheet
    burn = status(day).burn
    assert burn is not None
    assert sheet.aircraft.fuel_burn_gal_h == burn.planned_gal_h
    assert sheet.aircraft.fuel_burn_gal_h is not None
    assert sheet.aircraft.fuel_burn_gal_h > 13
    jobs.save_entries(day.office, "next-flight", "aircraft", {"fuel_burn_gal_h": 11.5}, at=day.now)
    assert jobs.brief(day.office, "next-flight", at=day.now).sheet.aircraft.fuel_burn_gal_h == 11.5


def test_what_a_person_keeps_is_not_corrected_without_a_flight(day: Day) -> None:
    untried = burn_of(tarnwick(), Past(), 11.0)
    assert untried is not None
    assert untried.planned_gal_h == 11.0
    nothing = burn_of(tarnwick(), Past(), None)
    assert nothing is not None
    assert nothing.planned_gal_h == 12.0
    jobs.begin_draft(day.office, "next-flight", jobs.Start(OTHER_PILOT, AIRCRAFT), at=day.now)
    assert jobs.brief(day.office, "next-flight", at=day.now).sheet.aircraft.fuel_burn_gal_h == 12.0
