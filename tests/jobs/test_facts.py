"""Changing what the school knows, called straight at the core."""

import json
import re
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from riskboard import demo, jobs
from riskboard.jobs import facts
from riskboard.jobs.entering import Caller, NotLetInError
from riskboard.jobs.facts import NotChangedError, add_fact, change_fact, identity_for, kept_facts
from riskboard.ledger.errors import NotWrittenError
from riskboard.worksheet.kept import HEALTH, KEPT, TODAY_ONLY
from tests.jobs.callers import caller_of, flight_out, opened_copy
from tests.jobs.school_day import AIRCRAFT, CHIEF, DISPATCHER, OTHER_PILOT, PILOT, SAFETY, Day


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, datetime]:
    return flight_out(tmp_path_factory.mktemp("made"))


@pytest.fixture
def day(made: tuple[Path, datetime], tmp_path: Path) -> Iterator[Day]:
    day = opened_copy(made[0], tmp_path, made[1])
    yield day
    day.office.store.close()


def revision(day: Day, kind: str, identity: str) -> int:
    stored = day.office.store.get_document(kind, identity)
    return 0 if stored is None else stored.revision


def change(day: Day, kind: str, identity: str, by: str = DISPATCHER, **given: Any) -> jobs.Signed:
    changes = given.pop("changes")
    order: dict[str, Any] = {
        "why": "Work order",
        "event_id": day.event(),
        "revision": revision(day, kind, identity),
        "at": day.now,
    }
    return change_fact(day.office, caller_of(day.office, by, day.now), kind, identity, changes, **(order | given))


def records(day: Day) -> list[str]:
    return [entry.header.subject for entry in jobs.log_entries(day.office) if entry.header.kind == "fact_changed"]


DEFECT = {"open_defects": [{"text": "Horn silent", "effect": "grounding"}]}


def test_a_change_and_its_record_stand_together(day: Day) -> None:
    signed = change(day, "aircraft", AIRCRAFT, changes=DEFECT)
    header, body = signed.entry.header, signed.entry.body
    assert body is not None
    assert (header.kind, header.actor, header.role, header.subject) == (
        "fact_changed",
        DISPATCHER,
        "dispatcher",
        f"aircraft {AIRCRAFT}",
    )
    assert body.value["before"] == {"open_defects": []}
    assert body.value["after"]["open_defects"][0]["text"] == "Horn silent"
    assert (body.value["kind"], body.value["id"], body.value["why"]) == ("aircraft", AIRCRAFT, "Work order")
    seen = kept_facts(day.office, DISPATCHER, "aircraft", AIRCRAFT, at=day.now)
    assert seen.values["open_defects"][0]["effect"] == "grounding"
    assert datetime.fromisoformat(seen.true_at["open_defects"]) == day.now
    assert datetime.fromisoformat(seen.true_at["meter_h"]) < day.now
    assert jobs.verify_log(day.office, signed.receipt.code) == []


def test_the_next_draft_and_the_running_one_have_the_new_fact(day: Day) -> None:
    jobs.begin_draft(day.office, "running", jobs.Start(OTHER_PILOT, AIRCRAFT), at=day.now)
    day.later(minutes=1)
    change(day, "aircraft", AIRCRAFT, changes=DEFECT)
    change(day, "person", OTHER_PILOT, changes={"medical_exam_on": "2020-01-01"})
    sheet = jobs.brief(day.office, "running", at=day.now).sheet
    assert [str(each.effect) for each in sheet.aircraft.open_defects or ()] == ["grounding"]
    assert str(sheet.pilot.medical_exam_on) == "2020-01-01"
    assert [(each.kind, each.document_id) for found in day.office.log.look().changes.values() for each in found] == [
        ("aircraft", AIRCRAFT),
        ("person", OTHER_PILOT),
    ]


def test_a_blank_is_taken_over_as_unknown(day: Day) -> None:
    jobs.begin_draft(day.office, "running", jobs.Start(OTHER_PILOT, AIRCRAFT), at=day.now)
    day.later(minutes=1)
    change(day, "aircraft", AIRCRAFT, changes={"annual_on": None})
    assert jobs.brief(day.office, "running", at=day.now).sheet.aircraft.annual_on is None
    assert "annual_on" not in kept_facts(day.office, DISPATCHER, "aircraft", AIRCRAFT, at=day.now).values


def test_the_other_facts_of_the_document_stay_as_they_are(day: Day) -> None:
    before = jobs.document(day.office, "aircraft", AIRCRAFT)
    change(day, "aircraft", AIRCRAFT, changes={"fuel_burn_l_h": 50, "tank_gal": 45.0})
    after = jobs.document(day.office, "aircraft", AIRCRAFT)
    assert after["aircraft"].pop("fuel_burn_gal_h") == 13.2  # 50 l / 3.785411784 l per US gallon
    assert after.pop("tank_gal") == 45.0
    del before["aircraft"]["fuel_burn_gal_h"], before["tank_gal"]
    assert {**after, "clocks": None} == {**before, "clocks": None}


def test_a_meter_typed_by_hand_was_read_when_it_was_typed(day: Day) -> None:
    change(day, "aircraft", AIRCRAFT, changes={"meter_h": 2240.0}, true_at=day.now - timedelta(hours=1))
    found = jobs.document(day.office, "aircraft", AIRCRAFT)["aircraft"]
    assert datetime.fromisoformat(found["meter_read_at"]) == day.now - timedelta(hours=1)


RIGHTS = [
    ("aircraft", AIRCRAFT, PILOT, "Aircraft facts kept by"),
    ("aircraft", AIRCRAFT, SAFETY, "Aircraft facts kept by"),
    ("site", "larkfield", OTHER_PILOT, "Site facts kept by"),
    ("route", "south-area", SAFETY, "Route facts kept by"),
    ("person", OTHER_PILOT, OTHER_PILOT, "entered by somebody else"),
    ("person", PILOT, OTHER_PILOT, "Person facts kept by"),
    ("person", DISPATCHER, DISPATCHER, "entered by somebody else"),
    ("school", "school", DISPATCHER, "School facts kept by"),
]
SOME = {
    "aircraft": {"fuel_burn_gal_h": 13.0},
    "site": {"departure_elevation_ft": 1250},
    "route": {"duration_min": 80},
    "person": {"total_helicopter_h": 2000.0},
    "school": {"idle_min": 20},
}


@pytest.mark.parametrize(("kind", "identity", "person_id", "sentence"), RIGHTS)
def test_who_has_no_right_changes_nothing(day: Day, kind: str, identity: str, person_id: str, sentence: str) -> None:
    before = revision(day, kind, identity)
    with pytest.raises(NotChangedError, match=sentence):
        change(day, kind, identity, person_id, changes=SOME[kind])
    assert revision(day, kind, identity) == before
    assert records(day) == []


@pytest.mark.parametrize(
    ("kind", "identity", "person_id"),
    [
        ("aircraft", AIRCRAFT, CHIEF),
        ("site", "larkfield", PILOT),
        ("route", "south-area", DISPATCHER),
        ("person", OTHER_PILOT, PILOT),
        ("person", CHIEF, CHIEF),
        ("school", "school", CHIEF),
    ],
)
def test_who_has_the_right_changes_it(day: Day, kind: str, identity: str, person_id: str) -> None:
    change(day, kind, identity, person_id, changes=SOME[kind])
    assert records(day) == [f"{kind} {identity}"]


def test_without_a_session_nothing_is_changed(day: Day) -> None:
    order = {"why": "x", "event_id": "e" * 8, "revision": revision(day, "aircraft", AIRCRAFT), "at": day.now}
    with pytest.raises(NotLetInError):
        change_fact(day.office, Caller(DISPATCHER, "W", "0" * 64), "aircraft", AIRCRAFT, DEFECT, **order)  # type: ignore[arg-type]
    assert records(day) == []


@pytest.mark.parametrize("name", sorted(HEALTH))
def test_a_health_answer_is_never_kept(day: Day, name: str) -> None:
    with pytest.raises(NotChangedError, match="health answer"):
        change(day, "person", OTHER_PILOT, changes={name: None})
    assert not HEALTH & {each for kept in KEPT.values() for each in kept.names}


def test_a_health_answer_that_somehow_got_into_a_document_goes_nowhere(day: Day) -> None:
    found = jobs.document(day.office, "person", OTHER_PILOT)
    found["pilot"] |= {"ill_today": False, "sleepiness_rating": 1}
    day.office.store.put_document("person", OTHER_PILOT, json.dumps(found), at=day.now)
    jobs.begin_draft(day.office, "running", jobs.Start(OTHER_PILOT), at=day.now)
    sheet = jobs.brief(day.office, "running", at=day.now).sheet
    assert (sheet.pilot.ill_today, sheet.pilot.sleepiness_rating) == (None, None)
    assert not HEALTH & set(kept_facts(day.office, DISPATCHER, "person", OTHER_PILOT, at=day.now).values)


@pytest.mark.parametrize("name", ["preflight_done", "fuel_usable_gal", "fuel_checked_by_sight"])
def test_what_is_answered_afresh_for_each_flight_is_never_kept(day: Day, name: str) -> None:
    assert name in TODAY_ONLY
    with pytest.raises(NotChangedError, match="answered afresh for each flight"):
        change(day, "aircraft", AIRCRAFT, changes={name: True})


BROKEN: list[tuple[str, str, dict[str, Any], str, str]] = [
    ("aircraft", AIRCRAFT, {"meter_h": 10.0}, "meter_h", "below the 2193.4 h of the last inspection"),
    ("aircraft", AIRCRAFT, {"annual_on": "2031-01-01"}, "annual_on", "in the future"),
    ("aircraft", AIRCRAFT, {"annual_on": "soon"}, "annual_on", "is not a day"),
    ("aircraft", AIRCRAFT, {"fuel_burn_gal_h": 9999}, "fuel_burn_gal_h", "too high"),
    ("aircraft", AIRCRAFT, {"registration": None}, "registration", "is missing"),
    ("aircraft", AIRCRAFT, {"colour": "red"}, "colour", "keeps no 'colour'"),
    ("aircraft", AIRCRAFT, {"wind_kt": 3}, "wind_kt", "keeps no 'wind_kt'"),
    ("site", "larkfield", {"time_zone": "Mars/Olympus"}, "time_zone", "is no time zone"),
    ("route", "south-area", {"duration_min": 0}, "duration_min", "too low"),
    ("person", OTHER_PILOT, {"born_on": "2025-01-01"}, "certificate_on", "cannot be older than its holder"),
]


@pytest.mark.parametrize(("kind", "identity", "changes", "field", "sentence"), BROKEN)
def test_what_cannot_be_is_refused_by_the_worksheets_own_words(
    day: Day, kind: str, identity: str, changes: dict[str, Any], field: str, sentence: str
) -> None:
    before = revision(day, kind, identity)
    with pytest.raises(NotChangedError, match=re.escape(sentence)) as caught:
        change(day, kind, identity, changes=changes)
    assert field in {problem.field for problem in caught.value.problems}
    assert revision(day, kind, identity) == before
    assert records(day) == []


def test_who_saw_an_older_save_is_told_who_was_first(day: Day) -> None:
    seen = revision(day, "aircraft", AIRCRAFT)
    change(day, "aircraft", AIRCRAFT, CHIEF, changes={"fuel_burn_gal_h": 13.0}, revision=seen)
    with pytest.raises(NotChangedError, match="sigrun-palo changed this first"):
        change(day, "aircraft", AIRCRAFT, changes={"fuel_burn_gal_h": 12.5}, revision=seen)
    assert jobs.document(day.office, "aircraft", AIRCRAFT)["aircraft"]["fuel_burn_gal_h"] == 13.0


def test_a_double_tap_changes_once(day: Day) -> None:
    seen = revision(day, "aircraft", AIRCRAFT)
    first = change(day, "aircraft", AIRCRAFT, changes=DEFECT, revision=seen, event_id="one-event")
    again = change(day, "aircraft", AIRCRAFT, changes=DEFECT, revision=seen, event_id="one-event")
    assert again.receipt == first.receipt
    assert len(records(day)) == 1


def test_no_change_and_no_reason_are_refused(day: Day) -> None:
    with pytest.raises(NotChangedError, match="Nothing is different"):
        change(day, "aircraft", AIRCRAFT, changes={"fuel_burn_gal_h": 12.0})
    with pytest.raises(NotChangedError, match="Say in a few words why"):
        change(day, "aircraft", AIRCRAFT, changes=DEFECT, why="  ")
    with pytest.raises(NotChangedError, match="no facts of a 'weather'"):
        change(day, "weather", "today", changes=DEFECT)
    assert records(day) == []


def test_neither_document_nor_record_without_the_other(day: Day, monkeypatch: pytest.MonkeyPatch) -> None:
    before = revision(day, "aircraft", AIRCRAFT)

    def broken(*_: object, **__: object) -> None:
        raise NotWrittenError("the store", "The disk is full.")

    monkeypatch.setattr(type(day.office.store), "append", broken)
    with pytest.raises(NotWrittenError):
        change(day, "aircraft", AIRCRAFT, changes=DEFECT)
    monkeypatch.undo()
    assert revision(day, "aircraft", AIRCRAFT) == before


def add(day: Day, kind: str, identity: str, given: dict[str, Any], by: str = CHIEF) -> jobs.Signed:
    caller = caller_of(day.office, by, day.now)
    return add_fact(day.office, caller, kind, identity, given, why="New", event_id=day.event(), at=day.now)


def test_an_aircraft_a_site_and_a_usual_flight_are_added_and_used(day: Day) -> None:
    add(day, "aircraft", "LRS-07", {"registration": "LRS-07", "type_name": "Tarnwick 2 (invented)", "meter_h": 12.0})
    place = {"name": "Quarry pad", "departure_name": "Quarry", "time_zone": "America/Denver"}
    add(day, "site", "quarry-pad", place | {"departure_elevation_m": 500})
    add(day, "route", "quarry", {"name": "Quarry and back", "site": "quarry-pad", "duration_min": 40})
    jobs.choose(day.office, "first", jobs.Start(PILOT, "LRS-07", route_id="quarry"), at=day.now)
    sheet = jobs.brief(day.office, "first", at=day.now).sheet
    assert (sheet.aircraft.registration, sheet.plan.departure_name) == ("LRS-07", "Quarry")
    assert sheet.plan.departure_elevation_ft == 1640  # 500 m / 0.3048 m per ft, to ten feet
    assert sheet.aircraft.annual_on is None
    assert records(day) == ["aircraft LRS-07", "site quarry-pad", "route quarry"]


def test_what_cannot_be_added(day: Day) -> None:
    with pytest.raises(NotChangedError, match="knows the aircraft 'LRS-01' already"):
        add(day, "aircraft", "LRS-01", {"registration": "LRS-01", "type_name": "Tarnwick 2"})
    with pytest.raises(NotChangedError, match="is no id"):
        add(day, "aircraft", "../LRS", {"registration": "LRS-09", "type_name": "Tarnwick 2"})
    with pytest.raises(NotChangedError, match="'person' is not added here"):
        add(day, "person", "new-person", {"name": "New"})
    with pytest.raises(NotChangedError, match="Type is missing"):
        add(day, "aircraft", "LRS-09", {"registration": "LRS-09"})
    with pytest.raises(NotChangedError, match="kept by"):
        add(day, "aircraft", "LRS-09", {"registration": "LRS-09", "type_name": "Tarnwick 2"}, by=OTHER_PILOT)
    assert records(day) == []


def test_a_school_of_ones_own_begins_with_its_name_and_zone(day: Day) -> None:
    day.office.store.delete_document("school", "school")
    with pytest.raises(NotChangedError, match="Time zone of the school is missing"):
        change(day, "school", "school", CHIEF, changes={"name": "Fenwater Helicopters"})
    change(day, "school", "school", CHIEF, changes={"name": "Fenwater Helicopters", "time_zone": "UTC"})
    assert jobs.school(day.office) == {"name": "Fenwater Helicopters", "time_zone": "UTC"}


@pytest.mark.parametrize(
    ("kind", "given", "identity"),
    [
        ("aircraft", {"registration": "LRS 07"}, "LRS-07"),
        ("site", {"name": "Quarry Pad, north"}, "quarry-pad-north"),
        ("route", {"name": "飛行場"}, ""),
        ("route", {}, ""),
        ("site", {"name": "x" * 90}, "x" * 40),
    ],
)
def test_ids_are_made_from_names(kind: str, given: dict[str, Any], identity: str) -> None:
    assert identity_for(kind, given) == identity
    assert not identity or facts._IDENTITY.fullmatch(identity)


def test_whose_dates_are_seen_by_whom(day: Day) -> None:
    for person_id in (OTHER_PILOT, DISPATCHER, PILOT, CHIEF):
        assert "medical_exam_on" in kept_facts(day.office, person_id, "person", OTHER_PILOT, at=day.now).values
    with pytest.raises(jobs.NotShownError, match="seen by that person"):
        kept_facts(day.office, OTHER_PILOT, "person", PILOT, at=day.now)
    with pytest.raises(KeyError, match="no aircraft called"):
        kept_facts(day.office, DISPATCHER, "aircraft", "LRS-99", at=day.now)


def test_every_fact_of_the_invented_school_is_one_that_a_school_keeps(day: Day) -> None:
    for kind, _, document in demo.school_documents(day.now):
        kept = KEPT[kind]
        assert set(document.get(kept.part, {})) <= set(kept.names)
