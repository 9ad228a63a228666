"""Closing a flight, called straight at the core: what goes on record, what the next pilot sees, what is refused."""

import json
import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from riskboard import jobs
from riskboard.jobs import debriefing
from riskboard.jobs.debriefing import NotDebriefedError, debrief, keep_debrief, to_debrief
from riskboard.jobs.entering import Caller, NotLetInError
from riskboard.ledger import Status
from riskboard.ledger.errors import NotWrittenError
from riskboard.words import DefectEffect
from riskboard.worksheet.debrief import Debrief, all_in_place, read_debrief
from tests.jobs.callers import caller_of, flight_out, opened_copy
from tests.jobs.school_day import AIRCRAFT, CHIEF, DISPATCHER, OTHER_PILOT, PILOT, SAFETY, Day

GOOD: dict[str, Any] = {"as_planned": True, "condition": all_in_place()}


def aircraft(day: Day) -> dict[str, Any]:
    return jobs.document(day.office, "aircraft", AIRCRAFT)


def meter(day: Day) -> float:
    return float(aircraft(day)["aircraft"]["meter_h"])


def told(day: Day, **changes: object) -> Debrief:
    return read_debrief(GOOD | {"meter_h": meter(day) + 1.1} | changes)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, datetime]:
    return flight_out(tmp_path_factory.mktemp("made"))


@pytest.fixture
def out(made: tuple[Path, datetime], tmp_path: Path) -> Iterator[Day]:
    """Accepted, released, left; an hour later."""
    day = opened_copy(made[0], tmp_path, made[1])
    yield day
    day.office.store.close()


def close(day: Day, said: Debrief, *, by: str = PILOT, event_id: str | None = None) -> jobs.Signed:
    caller = caller_of(day.office, by, day.now)
    return debrief(day.office, caller, day.flight_id, said, event_id=event_id or day.event(), at=day.now)


def next_draft(day: Day, draft_id: str = "next-flight") -> jobs.Briefing:
    jobs.begin_draft(day.office, draft_id, jobs.Start(OTHER_PILOT, AIRCRAFT), at=day.now)
    return jobs.brief(day.office, draft_id, at=day.now)


def body_of(signed: jobs.Signed) -> dict[str, Any]:
    assert signed.entry.body is not None
    return signed.entry.body.value


def test_a_flight_that_came_back_is_closed_and_the_record_tells_how(out: Day) -> None:
    day = out
    signed = close(day, told(day, fuel_left_gal=11))
    header = signed.entry.header
    assert (header.kind, header.actor, header.role, header.subject) == ("debriefed", PILOT, "pilot", day.flight_id)
    body = body_of(signed)
    assert body["severity"] == "none"
    assert body["flown_h"] == 1.1
    assert body["debrief"]["fuel_left_gal"] == 11
    assert body["fact_changed"]["kind"] == "aircraft"
    assert body["fact_changed"]["id"] == AIRCRAFT
    assert body["fact_changed"]["after"]["meter_h"] == pytest.approx(2232.5)
    assert day.card().status is Status.DEBRIEFED
    assert jobs.verify_log(day.office, signed.receipt.code) == []


def test_the_next_briefing_shows_what_was_left_and_when(out: Day) -> None:
    day = out
    condition = all_in_place() | {
        "battery_master": "out_of_place",
        "doors": "out_of_place",
        "rotor_brake": "not_fitted",
    }
    landed = day.later(minutes=-5)
    day.later(minutes=5)
    defects = [{"text": "Horn rattles", "effect": "watch"}]
    close(day, told(day, landed_at=landed, condition=condition, defects=defects))
    seen = next_draft(day)
    left = {item.name: str(item.state) for item in seen.sheet.aircraft.left_by_last_user or ()}
    assert left["Battery master off"] == "not_in_place"
    assert left["Fuel caps on"] == "in_place"
    assert "Rotor brake set" not in left
    loose = {item.name: str(item.state) for item in seen.sheet.aircraft.loose_equipment or ()}
    assert loose["Doors"] == "not_in_place"
    (defect,) = seen.sheet.aircraft.open_defects or ()
    assert (defect.text, defect.effect, defect.reported_at) == ("Horn rattles", DefectEffect.watch, landed)
    for name in ("left_by_last_user", "meter_h", "open_defects", "loose_equipment"):
        assert seen.sheet.clocks[name].true_at == landed
        assert seen.sheet.clocks[name].typed_at == day.now
    document = aircraft(day)
    assert document["condition_left"]["by"] == document["last_user"]["person"] == PILOT
    assert document["condition_left"]["items"]["battery_master"] == "out_of_place"


def test_what_nobody_said_is_unknown_to_the_next_pilot(out: Day) -> None:
    """A blank meter or condition is not the old one: the aircraft has flown since."""
    day = out
    close(day, Debrief(as_planned=True))
    seen = next_draft(day)
    assert seen.sheet.aircraft.meter_h is None
    assert seen.sheet.aircraft.meter_read_at is None
    assert {item.state for item in seen.sheet.aircraft.left_by_last_user or ()} == {None}


def test_a_pilot_opens_defects_and_closes_none(out: Day) -> None:
    day = out
    stored = day.office.store.get_document("aircraft", AIRCRAFT)
    assert stored is not None
    document = json.loads(stored.text)
    document["aircraft"]["open_defects"] = [{"text": "Landing light dead", "effect": "no_night"}]
    day.office.store.put_document("aircraft", AIRCRAFT, json.dumps(document), at=day.now)
    close(day, told(day, defects="none"))
    assert [each["text"] for each in aircraft(day)["aircraft"]["open_defects"]] == ["Landing light dead"]


def test_a_found_defect_does_not_make_an_unknown_list_look_complete(out: Day) -> None:
    day = out
    document = aircraft(day)
    del document["aircraft"]["open_defects"]
    day.office.store.put_document("aircraft", AIRCRAFT, json.dumps(document), at=day.now)
    close(day, told(day, defects=[{"text": "Rattle", "effect": "watch"}]))
    rest, found = next_draft(day).sheet.aircraft.open_defects or ()
    assert (rest.effect, found.effect) == (None, DefectEffect.watch)


def test_a_draft_begun_before_the_aircraft_came_back_has_its_new_defect(out: Day) -> None:
    day = out
    before = next_draft(day)
    assert not before.sheet.aircraft.open_defects
    close(day, told(day, defects=[{"text": "Low rotor horn silent", "effect": "grounding"}]))
    day.later(minutes=1)
    after = jobs.brief(day.office, "next-flight", at=day.now)
    assert [str(each.effect) for each in after.sheet.aircraft.open_defects or ()] == ["grounding"]
    assert after.sheet.aircraft.meter_h == pytest.approx(2232.5)


def test_what_the_next_pilot_enters_later_stays(out: Day) -> None:
    day = out
    next_draft(day)
    close(day, told(day))
    day.later(minutes=1)
    jobs.save_entries(day.office, "next-flight", "aircraft", {"meter_h": 2233.0}, at=day.now)
    assert jobs.brief(day.office, "next-flight", at=day.now).sheet.aircraft.meter_h == 2233.0


def test_an_acceptance_that_rests_on_the_aircraft_is_void_after_the_debrief(out: Day) -> None:
    """The record of a debrief carries the change of the aircraft, so that the rule of validity reads it."""
    day = out
    close(day, told(day, defects=[{"text": "Horn silent", "effect": "grounding"}]))
    changes = day.office.log.look().changes["aircraft", AIRCRAFT]
    assert changes[-1].flight_id == day.flight_id
    assert {"open_defects", "meter_h", "left_by_last_user"} <= set(changes[-1].keys)


def test_a_double_tap_closes_once(out: Day) -> None:
    day = out
    said = told(day)
    first = close(day, said, event_id="same-event")
    day.later(seconds=2)
    assert close(day, said, event_id="same-event").receipt == first.receipt
    assert day.kinds().count("debriefed") == 1
    assert meter(day) == pytest.approx(2232.5)


def test_a_second_debrief_is_refused_and_says_who_was_first(out: Day) -> None:
    day = out
    said = told(day)
    close(day, said)
    with pytest.raises(NotDebriefedError, match="closed by mara-oduya"):
        close(day, replace_meter(said, 2240.0))
    assert day.kinds().count("debriefed") == 1
    assert meter(day) == pytest.approx(2232.5)


def replace_meter(said: Debrief, meter_h: float) -> Debrief:
    return said.model_copy(update={"meter_h": meter_h})


def test_a_flight_that_never_left_cannot_be_closed(day: Day) -> None:
    said = told(day)
    with pytest.raises(NotDebriefedError, match="nothing is on record"):
        close(day, said)
    day.accept()
    with pytest.raises(NotDebriefedError, match="never left"):
        close(day, said)
    assert "debriefed" not in day.kinds()


def test_a_released_flight_whose_departure_nobody_noted_is_closed_all_the_same(day: Day) -> None:
    day.accept()
    day.release()
    day.later(minutes=60)
    close(day, told(day))
    assert day.card().status is Status.DEBRIEFED


@pytest.mark.parametrize("person_id", [OTHER_PILOT, SAFETY])
def test_strangers_do_not_close_a_flight(out: Day, person_id: str) -> None:
    day = out
    with pytest.raises(NotDebriefedError, match="closed by its crew"):
        close(day, told(day), by=person_id)
    with pytest.raises(NotDebriefedError):
        keep_debrief(day.office, caller_of(day.office, person_id, day.now), day.flight_id, {"note": "x"}, at=day.now)
    assert day.kinds()[-1] == "took_off"


@pytest.mark.parametrize("person_id", [DISPATCHER, CHIEF])
def test_the_desk_closes_a_flight_for_its_crew_in_its_own_role(out: Day, person_id: str) -> None:
    day = out
    header = close(day, told(day), by=person_id).entry.header
    assert header.actor == person_id
    assert header.role in {"dispatcher", "instructor", "chief_instructor"}


def test_without_a_session_nothing_is_closed(out: Day) -> None:
    day = out
    with pytest.raises(NotLetInError):
        debrief(day.office, Caller(PILOT, "Mara", "0" * 64), day.flight_id, told(day), event_id="x" * 8, at=day.now)
    caller = replace(caller_of(day.office, OTHER_PILOT, day.now), person_id=PILOT)
    with pytest.raises(NotLetInError):
        debrief(day.office, caller, day.flight_id, told(day), event_id="y" * 8, at=day.now)
    assert "debriefed" not in day.kinds()


def test_what_cannot_be_true_is_refused_and_nothing_is_written(out: Day) -> None:
    day = out
    before = aircraft(day)
    with pytest.raises(NotDebriefedError, match=r"below the 2231\.4 h") as caught:
        close(day, told(day, meter_h=2230.0))
    assert [problem.field for problem in caught.value.problems] == ["meter_h"]
    with pytest.raises(NotDebriefedError, match="not after the aircraft left"):
        close(day, told(day, landed_at=day.now.replace(hour=0)))
    with pytest.raises(NotDebriefedError, match="aboard at the start"):
        close(day, told(day, fuel_left_gal=31))
    with pytest.raises(NotDebriefedError, match="came back as planned"):
        close(day, Debrief())
    assert aircraft(day) == before
    assert "debriefed" not in day.kinds()


def test_a_late_debrief_adds_its_defect_and_leaves_what_is_known_better(out: Day) -> None:
    day = out
    landed = day.now
    document = aircraft(day)
    later: datetime = day.later(hours=3)
    document["aircraft"] |= {"meter_h": 2235.0, "meter_read_at": later.isoformat()}
    document["condition_left"] = {"items": all_in_place(), "by": OTHER_PILOT, "at": later.isoformat()}
    day.office.store.put_document("aircraft", AIRCRAFT, json.dumps(document), at=day.now)
    day.later(hours=1)
    condition = all_in_place() | {"cabin_clean": "out_of_place"}
    defects = [{"text": "Rattle", "effect": "watch"}]
    close(day, told(day, meter_h=2232.5, landed_at=landed, condition=condition, defects=defects))
    assert meter(day) == 2235.0
    assert aircraft(day)["condition_left"]["by"] == OTHER_PILOT
    assert [each["text"] for each in aircraft(day)["aircraft"]["open_defects"]] == ["Rattle"]


def test_a_late_debrief_never_brings_an_old_meter_back(out: Day) -> None:
    """The flight after it left the meter blank: unknown is the newer word, and stays."""
    day = out
    landed = day.now
    later = day.later(hours=3)
    document = aircraft(day)
    for name in ("meter_h", "meter_read_at"):
        del document["aircraft"][name]
    document["condition_left"] = {"items": {}, "by": OTHER_PILOT, "at": later.isoformat()}
    day.office.store.put_document("aircraft", AIRCRAFT, json.dumps(document), at=day.now)
    day.later(hours=1)
    with pytest.raises(NotDebriefedError, match="say when this one landed"):
        close(day, read_debrief(GOOD | {"meter_h": 2232.5}))
    close(day, read_debrief(GOOD | {"meter_h": 2232.5, "landed_at": landed}))
    assert "meter_h" not in aircraft(day)["aircraft"]
    assert aircraft(day)["condition_left"]["by"] == OTHER_PILOT


def test_of_two_who_close_it_at_once_one_does_and_the_other_is_told(out: Day) -> None:
    day = out
    said = told(day)
    callers = [caller_of(day.office, person_id, day.now) for person_id in (PILOT, DISPATCHER) * 2]
    begin = threading.Barrier(len(callers))

    def one(number: int) -> str:
        begin.wait()
        try:
            debrief(day.office, callers[number], day.flight_id, said, event_id=f"racing-{number}", at=day.now)
        except NotDebriefedError as error:
            return str(error)
        return ""

    with ThreadPoolExecutor(len(callers)) as pool:
        came = sorted(pool.map(one, range(len(callers))))
    assert came[0] == ""
    assert all("was closed by" in sentence for sentence in came[1:])
    assert day.kinds().count("debriefed") == 1
    assert meter(day) == pytest.approx(2232.5)
    assert jobs.verify_log(day.office) == []


def test_record_and_aircraft_are_written_together_or_not_at_all(out: Day, monkeypatch: pytest.MonkeyPatch) -> None:
    day = out
    before = aircraft(day)

    def broken(*_: object, **__: object) -> None:
        raise NotWrittenError("the store", "The disk is full.")

    monkeypatch.setattr(type(day.office.store), "append", broken)
    with pytest.raises(NotWrittenError):
        close(day, told(day))
    monkeypatch.undo()
    assert aircraft(day) == before
    assert "debriefed" not in day.kinds()


def test_somebody_who_writes_in_between_makes_it_decide_anew(out: Day, monkeypatch: pytest.MonkeyPatch) -> None:
    """Another change of the same aircraft lands between reading and writing: both stand afterwards."""
    day = out
    real = debriefing._decided
    raced: list[bool] = []

    def racing(*given: Any) -> Any:
        found = real(*given)
        if not raced:
            raced.append(True)
            document = aircraft(day)
            document["aircraft"]["fuel_burn_gal_h"] = 13.5
            day.office.store.put_document("aircraft", AIRCRAFT, json.dumps(document), at=day.now)
        return found

    monkeypatch.setattr(debriefing, "_decided", racing)
    close(day, told(day))
    assert aircraft(day)["aircraft"]["fuel_burn_gal_h"] == 13.5
    assert meter(day) == pytest.approx(2232.5)
    assert day.kinds().count("debriefed") == 1


def test_what_was_typed_is_kept_until_it_is_closed(out: Day) -> None:
    day = out
    caller = caller_of(day.office, PILOT, day.now)
    keep_debrief(day.office, caller, day.flight_id, {"as_planned": True, "meter_h": "22"}, at=day.now)
    keep_debrief(day.office, caller, day.flight_id, {"note": "All fine"}, at=day.now)
    seen = debriefing.open_debrief(day.office, PILOT, day.flight_id, at=day.now)
    assert seen.data == {"as_planned": True, "meter_h": "22", "note": "All fine"}
    assert [problem.field for problem in seen.problems] == ["meter_h"]
    assert seen.told.note == "All fine"


def test_who_sees_which_flights_to_close(out: Day) -> None:
    day = out
    for person_id, seen in ((PILOT, 1), (DISPATCHER, 1), (OTHER_PILOT, 0), (SAFETY, 0)):
        assert len(to_debrief(day.office, person_id, at=day.now)) == seen
    with pytest.raises(jobs.NotShownError):
        debriefing.open_debrief(day.office, OTHER_PILOT, day.flight_id, at=day.now)
