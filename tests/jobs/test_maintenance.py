"""Defects and work on an aircraft: who may open, who may close, and that all of it is signed or none."""

import json
from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest

from riskboard import demo, jobs
from riskboard.jobs import NotSignedError
from riskboard.ledger import Intent
from riskboard.ledger.errors import LedgerError
from riskboard.upkeep.acts import Closed, Deferred, Inspected, MaintenanceAct
from riskboard.upkeep.defects import id_of
from riskboard.words import Decision, DefectEffect
from tests.jobs.school_day import (
    AIRCRAFT,
    CHIEF,
    DISPATCHER,
    FLIGHT,
    MAINTENANCE,
    OTHER_PILOT,
    PILOT,
    SAFETY,
    Day,
    caller_of,
    end,
    give,
)

GROUNDED = "LRS-06"
LAMP = "LRS-04"
ADMIN, NOBODY = "edda-quaye", "ines-vasko"


def document(day: Day, identity: str = AIRCRAFT) -> dict[str, Any]:
    return jobs.document(day.office, "aircraft", identity)


def open_defects(day: Day, identity: str = AIRCRAFT) -> list[dict[str, Any]]:
    found = document(day, identity)["aircraft"]["open_defects"]
    return [] if found == "none" else list(found)


def report(day: Day, person_id: str = PILOT, text: str = "Oil on the skid", **more: Any) -> jobs.Signed:
    caller = caller_of(day.office, person_id, day.now)
    event = more.pop("event_id", None) or day.event()
    aircraft = more.pop("aircraft_id", AIRCRAFT)
    return jobs.report_defect(day.office, caller, aircraft, text, event_id=event, at=day.now, **more)


def sign(
    day: Day,
    act: MaintenanceAct,
    person_id: str = MAINTENANCE,
    aircraft_id: str = GROUNDED,
    *,
    pin: str = demo.DEMO_PIN,
    event_id: str = "",
) -> jobs.Signed:
    caller = caller_of(day.office, person_id, day.now)
    return jobs.sign_maintenance(
        day.office, caller, aircraft_id, act, pin, event_id=event_id or day.event(), at=day.now
    )


def closing(day: Day, identity: str = GROUNDED) -> MaintenanceAct:
    (defect,) = open_defects(day, identity)
    return MaintenanceAct(closes=(Closed(id_of(defect), "Horn replaced, tested."),))


@pytest.mark.parametrize("person_id", [PILOT, OTHER_PILOT, DISPATCHER, MAINTENANCE, SAFETY, CHIEF])
def test_anybody_at_the_school_opens_a_defect(day: Day, person_id: str) -> None:
    signed = report(day, person_id, effect=DefectEffect.grounding)
    (defect,) = open_defects(day)
    assert defect["text"] == "Oil on the skid"
    assert defect["effect"] == "grounding"
    assert signed.entry.header.kind == "defect_reported"
    assert signed.entry.header.subject == f"aircraft {AIRCRAFT}"
    assert jobs.verify_log(day.office) == []


def test_somebody_without_a_role_opens_none(day: Day) -> None:
    end(day.office, NOBODY, "student", day.now)
    day.later(minutes=1)
    with pytest.raises(NotSignedError, match="Defects are opened by"):
        report(day, NOBODY)
    assert open_defects(day) == []


def test_a_defect_needs_words_and_an_aircraft(day: Day) -> None:
    with pytest.raises(NotSignedError, match="what is wrong"):
        report(day, text="  ")
    with pytest.raises(NotSignedError, match="no aircraft called"):
        report(day, aircraft_id="LRS-99")


def test_a_double_tap_opens_one_defect(day: Day) -> None:
    assert report(day, event_id="tap").receipt == report(day, event_id="tap").receipt
    assert len(open_defects(day)) == 1


def test_a_reported_defect_ends_the_yes_of_a_flight_that_has_not_left(day: Day) -> None:
    day.accept()
    day.release()
    report(day, DISPATCHER)
    assert any("open defects changed" in reason for reason in day.card().void)
    with pytest.raises(NotSignedError, match="holds no longer"):
        day.leave()


def test_maintenance_closes_a_defect_and_signs_for_it(day: Day) -> None:
    signed = sign(day, closing(day))
    assert open_defects(day, GROUNDED) == []
    header, body = signed.entry.header, signed.entry.body
    assert body is not None
    assert (header.kind, header.role, header.actor) == ("maintenance_signed", "maintenance", MAINTENANCE)
    assert body.value["defects"][0]["text"] == "Low rotor rpm horn silent on test"
    assert body.value["act"]["closes"][0]["done"] == "Horn replaced, tested."
    assert body.value["fact_changed"]["before"]["open_defects"]
    assert "papers" in body.value["words"]
    assert jobs.verify_log(day.office) == []


@pytest.mark.parametrize("person_id", [PILOT, OTHER_PILOT, DISPATCHER, CHIEF, SAFETY, ADMIN, NOBODY])
def test_nobody_else_closes_one(day: Day, person_id: str) -> None:
    act, before = closing(day), document(day, GROUNDED)
    with pytest.raises((NotSignedError, LedgerError)):
        sign(day, act, person_id)
    assert document(day, GROUNDED) == before


def test_the_role_must_hold_at_that_moment(day: Day) -> None:
    act = closing(day)
    end(day.office, MAINTENANCE, "maintenance", day.now)
    day.later(minutes=1)
    with pytest.raises(NotSignedError, match="by maintenance only"):
        sign(day, act)
    give(day.office, MAINTENANCE, "maintenance", day.now + timedelta(hours=1))
    with pytest.raises(NotSignedError, match="by maintenance only"):
        sign(day, act)
    day.later(hours=2)
    sign(day, act)


def test_a_wrong_pin_signs_nothing(day: Day) -> None:
    with pytest.raises(NotSignedError, match="PIN"):
        sign(day, closing(day), pin="0000")
    assert len(open_defects(day, GROUNDED)) == 1


def test_nobody_clears_the_aircraft_of_their_own_flight(day: Day) -> None:
    """A pilot who is a mechanic too, grounded by their own run-up, does not sign that away and go."""
    give(day.office, PILOT, "maintenance", day.now)
    day.accept()
    day.release()
    day.run_up(magneto_left_drop_pct=9)
    (defect,) = open_defects(day)
    act = MaintenanceAct(closes=(Closed(id_of(defect), "Looks fine to me."),))
    with pytest.raises(NotSignedError, match="does not clear it"):
        sign(day, act, PILOT, AIRCRAFT)
    sign(day, act, MAINTENANCE, AIRCRAFT)
    assert open_defects(day) == []
    with pytest.raises(NotSignedError, match="holds no longer"):
        day.leave()  # the release ended; what holds is a new briefing


def test_a_deferral_says_until_when_under_what_and_by_whom(day: Day) -> None:
    (defect,) = open_defects(day, LAMP)
    until = day.now.date() + timedelta(days=20)
    act = MaintenanceAct(defers=(Deferred(id_of(defect), DefectEffect.no_night, until, "Log sheet 114, item 2"),))
    sign(day, act, aircraft_id=LAMP)
    (after,) = open_defects(day, LAMP)
    assert after["text"] == defect["text"]
    assert (after["effect"], after["deferred_until"]) == ("no_night", until.isoformat())
    assert (after["deferred_by"], after["reference"]) == ("Joss Okonjo-Lind", "Log sheet 114, item 2")


def _wrong_acts(day: Day) -> dict[str, MaintenanceAct]:
    (defect,) = open_defects(day, GROUNDED)
    identity, today = id_of(defect), day.now.date()
    later, watch = today + timedelta(days=30), DefectEffect.watch
    return {
        "nothing to sign": MaintenanceAct(),
        "does not stand open": MaintenanceAct(closes=(Closed("not-there", "Done."),)),
        "what was done": MaintenanceAct(closes=(Closed(identity, " "),)),
        "named twice": MaintenanceAct(
            closes=(Closed(identity, "Done."),), defers=(Deferred(identity, watch, later, "Sheet 1"),)
        ),
        "cannot ground": MaintenanceAct(defers=(Deferred(identity, DefectEffect.grounding, later, "Sheet 1"),)),
        "ended on": MaintenanceAct(defers=(Deferred(identity, watch, today - timedelta(days=2), "Sheet 1"),)),
        "entry in the aircraft's papers": MaintenanceAct(defers=(Deferred(identity, watch, later, ""),)),
        "in the future": MaintenanceAct(inspections=(Inspected("annual", today + timedelta(days=2)),)),
        "no inspection of this aircraft": MaintenanceAct(inspections=(Inspected("wish", today),)),
        "due next: a day": MaintenanceAct(inspections=(Inspected("inspection:Belts", today),)),
        "What": MaintenanceAct(inspections=(Inspected("hundred_hour", today, None, None, 1500.0),)),
        "cannot have been done at": MaintenanceAct(
            inspections=(Inspected("hundred_hour", today, 9000.0, None, 9100.0),)
        ),
        "not after": MaintenanceAct(inspections=(Inspected("hundred_hour", today, 1400.0, None, 1400.0),)),
    }


def test_what_cannot_be_is_refused_and_changes_nothing(day: Day) -> None:
    before, head = document(day, GROUNDED), day.office.store.head().size
    for said, act in _wrong_acts(day).items():
        with pytest.raises(NotSignedError, match=said if said != "What" else "what the meter read"):
            sign(day, act)
    assert document(day, GROUNDED) == before
    assert [each.header.kind for each in day.office.store.entries(head + 1)] == []


def test_one_wrong_thing_lets_none_of_the_act_through(day: Day) -> None:
    (defect,) = open_defects(day, GROUNDED)
    act = MaintenanceAct(
        closes=(Closed(id_of(defect), "Horn replaced."),), inspections=(Inspected("wish", day.now.date()),)
    )
    with pytest.raises(NotSignedError):
        sign(day, act)
    assert open_defects(day, GROUNDED) == [defect]


def test_inspections_and_major_maintenance_go_on_record(day: Day) -> None:
    today, meter = day.now.date(), document(day)["aircraft"]["meter_h"]
    act = MaintenanceAct(
        inspections=(
            Inspected("annual", today),
            Inspected("hundred_hour", today, meter, None, meter + 100),
            Inspected("inspection:Drive belt inspection", today, meter, None, meter + 300),
            Inspected("life:Main rotor blades", today, meter, date(today.year + 12, 1, 1), meter + 2100),
        ),
        major_done=True,
        starts_over=frozenset({"magneto_left_drop_pct"}),
        note="Annual with new blades.",
    )
    sign(day, act, aircraft_id=AIRCRAFT)
    facts = document(day)["aircraft"]
    assert facts["annual_on"] == today.isoformat()
    assert facts["hundred_hour_due_at_h"] == meter + 100
    assert facts["last_inspection_at_h"] == meter
    assert facts["hours_since_major_maintenance_h"] == 0
    belts = next(each for each in facts["inspections"] if each["name"] == "Drive belt inspection")
    assert belts == {"name": "Drive belt inspection", "due_on": "none", "due_at_h": meter + 300}
    assert len(facts["inspections"]) == 2
    blades = next(each for each in facts["life_limits"] if each["name"] == "Main rotor blades")
    assert blades["due_at_h"] == meter + 2100


def test_what_maintenance_signed_ends_a_yes_that_rested_on_the_old_state(day: Day) -> None:
    day.accept()
    sign(day, MaintenanceAct(major_done=True), aircraft_id=AIRCRAFT)
    assert any("hours since major maintenance" in reason for reason in day.card().void)


def test_a_retry_finds_the_first_signature_and_another_act_needs_another_event(day: Day) -> None:
    act = closing(day)
    first = sign(day, act, event_id="tap")
    assert sign(day, act, event_id="tap").receipt == first.receipt
    with pytest.raises(NotSignedError, match="used for something else"):
        sign(day, MaintenanceAct(major_done=True), event_id="tap")


def test_signature_and_facts_are_one_step_or_none(day: Day, monkeypatch: pytest.MonkeyPatch) -> None:
    act, before, head = closing(day), document(day, GROUNDED), day.office.store.head().size

    def broken(*_args: object, **_more: object) -> None:
        raise LedgerError("the disk is full")

    monkeypatch.setattr(day.office.store, "append", broken)
    with pytest.raises(LedgerError):
        sign(day, act)
    monkeypatch.undo()
    assert document(day, GROUNDED) == before
    assert day.office.store.head().size == head


def _ways_to_lose_a_defect() -> list[Callable[[list[dict[str, Any]]], Any]]:
    return [
        lambda _old: [],
        lambda _old: "none",
        lambda _old: None,
        lambda old: [old[0] | {"effect": "watch"}],
        lambda old: [{name: value for name, value in old[0].items() if name != "effect"}],
        lambda old: [old[0] | {"text": "All fine"}],
        lambda old: [old[0] | {"deferred_until": "2027-01-01"}],
        lambda old: [{"text": "Another", "effect": "grounding"}, *old[1:]],
    ]


@pytest.mark.parametrize("person_id", [MAINTENANCE, CHIEF, DISPATCHER, ADMIN, PILOT, OTHER_PILOT])
def test_no_change_of_facts_takes_a_defect_away_whoever_makes_it(day: Day, person_id: str) -> None:
    before = document(day, GROUNDED)
    seen = jobs.kept_facts(day.office, person_id, "aircraft", GROUNDED, at=day.now)
    caller = caller_of(day.office, person_id, day.now)
    for way in _ways_to_lose_a_defect():
        after = way([dict(each) for each in before["aircraft"]["open_defects"]])
        with pytest.raises(jobs.NotChangedError):
            jobs.change_fact(
                day.office,
                caller,
                "aircraft",
                GROUNDED,
                {"open_defects": after},
                why="It is fine",
                event_id=day.event(),
                revision=seen.revision,
                at=day.now,
            )
    assert document(day, GROUNDED) == before


def test_facts_may_still_add_a_defect_and_make_one_ground(day: Day) -> None:
    seen = jobs.kept_facts(day.office, DISPATCHER, "aircraft", LAMP, at=day.now)
    (lamp,) = seen.values["open_defects"]
    after = [lamp | {"effect": "grounding"}, {"text": "Door seal torn", "effect": "watch"}]
    caller = caller_of(day.office, DISPATCHER, day.now)
    jobs.change_fact(
        day.office,
        caller,
        "aircraft",
        LAMP,
        {"open_defects": after},
        why="Seen today",
        event_id=day.event(),
        revision=seen.revision,
        at=day.now,
    )
    assert [each["effect"] for each in open_defects(day, LAMP)] == ["grounding", "watch"]


def test_a_debrief_and_a_run_up_only_add(day: Day) -> None:
    report(day, text="Rattle", effect=DefectEffect.watch)
    before = open_defects(day)
    day.accept()
    day.release()
    day.run_up(anything_odd="A squeal from the belts")
    assert open_defects(day)[:1] == before
    assert len(open_defects(day)) == 2


def test_a_forged_record_that_takes_a_defect_away_shows(day: Day) -> None:
    (defect,) = open_defects(day, GROUNDED)
    changed: dict[str, Any] = {
        "kind": "aircraft",
        "id": GROUNDED,
        "before": {"open_defects": [defect]},
        "after": {"open_defects": []},
    }
    for kind, actor, role in (
        ("defect_reported", PILOT, "instructor"),
        ("maintenance_signed", PILOT, "instructor"),
        ("maintenance_signed", PILOT, "maintenance"),
    ):
        day.office.store.append(
            Intent(
                kind=kind,
                event_id=f"forged {kind} {role}",
                at=day.now,
                actor=actor,
                role=role,
                subject=f"aircraft {GROUNDED}",
                body={"fact_changed": changed},
            )
        )
    assert len(jobs.verify_log(day.office)) == 3


def test_an_old_defect_without_an_id_is_closed_by_its_words(day: Day) -> None:
    found = document(day)
    found["aircraft"]["open_defects"] = [{"text": "Rattle", "effect": "watch"}]
    day.office.store.put_document("aircraft", AIRCRAFT, json.dumps(found), at=day.now)
    sign(day, MaintenanceAct(closes=(Closed(id_of({"text": "Rattle"}), "Tightened."),)), aircraft_id=AIRCRAFT)
    assert open_defects(day) == []


def test_flight_of_the_cleared_aircraft_is_briefed_anew_and_goes(day: Day) -> None:
    day.accept()
    day.release()
    day.run_up(magneto_left_drop_pct=9)
    (defect,) = open_defects(day)
    sign(day, MaintenanceAct(closes=(Closed(id_of(defect), "Plugs cleaned."),)), aircraft_id=AIRCRAFT)
    jobs.cancel(day.office, PILOT, FLIGHT, event_id=day.event(), reason="Grounded at the run-up", at=day.now)
    day.accept()
    day.release()
    assert day.card().void == ()
    day.leave()


def _other_flight(day: Day, start: jobs.Start, **aircraft: Any) -> Day:
    """Another pilot's worksheet with the answers of the calm morning and these entries about the aircraft."""
    kept = jobs.brief(day.office, FLIGHT, at=day.now).data
    jobs.begin_draft(day.office, "otherflight", start, at=day.now)
    for part in ("pilot", "aircraft", "weather", "plan", "pressures"):
        entries = dict(kept[part]) | (aircraft if part == "aircraft" else {})
        jobs.save_entries(day.office, "otherflight", part, entries, at=day.now)
    return Day(day.office, day.now, "otherflight", day._events)


@pytest.mark.parametrize("told", [[], [{"text": "Horn fine", "effect": "watch"}]])
@pytest.mark.parametrize("aircraft_id", [GROUNDED, None, AIRCRAFT])
def test_no_worksheet_takes_a_defect_away(day: Day, aircraft_id: str | None, told: list[Any]) -> None:
    """Neither by saying that none is open, nor by typing the registration instead of choosing the aircraft."""
    start = jobs.Start(OTHER_PILOT, aircraft_id, "larkfield")
    other = _other_flight(day, start, registration=GROUNDED, open_defects=told)
    seen = jobs.brief(day.office, "otherflight", at=day.now)
    effects = [str(each.effect) for each in seen.sheet.aircraft.open_defects or ()]
    assert effects == ["grounding", *(["watch"] if told else [])]
    assert seen.assessment is not None
    assert seen.assessment.decision is Decision.no_go
    with pytest.raises(NotSignedError, match="no-go"):
        jobs.accept(day.office, "otherflight", other.signature(OTHER_PILOT), at=day.now)


def test_a_lighter_word_for_a_standing_defect_is_put_right(day: Day) -> None:
    (horn,) = open_defects(day, GROUNDED)
    _other_flight(
        day,
        jobs.Start(OTHER_PILOT, GROUNDED, "larkfield"),
        registration=GROUNDED,
        open_defects=[horn | {"effect": "watch"}],
    )
    found = jobs.brief(day.office, "otherflight", at=day.now).sheet.aircraft.open_defects or ()
    assert [str(each.effect) for each in found] == ["grounding"]


def test_a_yes_to_a_sheet_without_a_standing_defect_holds_not(day: Day) -> None:
    """As a paper filled in before the defect was known, or a store written past this program."""
    day.accept()
    found = document(day)
    found["aircraft"]["open_defects"] = [{"text": "Horn silent", "effect": "grounding"}]
    day.office.store.put_document("aircraft", AIRCRAFT, json.dumps(found), at=day.now)
    assert day.card().void == ("A defect stands open that was not in what was signed: Horn silent",)
    with pytest.raises(NotSignedError, match="Horn silent"):
        day.release()
