"""Health answers in the record: seen by the pilot and by whoever must sign, by nobody else, in no disguise."""

import json
from datetime import timedelta

import pytest

from riskboard import jobs
from riskboard.assessment.privacy import HEALTH_FIELDS, HIDDEN, health_measures
from riskboard.jobs.flights import NotShownError
from riskboard.jobs.reading import copy_of_record, flight_records, read_records
from tests.jobs.school_day import ADMINISTRATOR, CHIEF, DISPATCHER, OTHER_PILOT, PILOT, SAFETY, Day

DRANK = timedelta(hours=21, minutes=47)


@pytest.fixture
def asked(day: Day) -> Day:
    """A flight whose pilot is stressed, drank yesterday and changed the answer on the way."""
    day.enter("pilot", stress_level=5, last_drink_at=(day.now - timedelta(hours=13)).isoformat())
    day.enter("pilot", last_drink_at=(day.now - DRANK).isoformat())
    day.enter("pressures", anything_else="Noise in the tail boom.")
    day.request()
    return day


def told(day: Day, person_id: str) -> str:
    records = flight_records(day.office, person_id, day.flight_id, at=day.now)
    return json.dumps([dict(record.body) for record in records])


def test_the_pilot_and_the_signer_read_everything_while_it_waits(asked: Day) -> None:
    for person_id in (PILOT, CHIEF):
        assert "last_drink_at" in told(asked, person_id)


def test_the_signer_reads_it_no_more_once_it_is_answered(asked: Day) -> None:
    asked.sign(CHIEF)
    assert "last_drink_at" not in told(asked, CHIEF)
    assert "last_drink_at" in told(asked, PILOT)


def test_others_who_may_see_the_flight_read_the_level_and_the_class_of_reason(asked: Day) -> None:
    text = told(asked, SAFETY)
    minute = (asked.now - DRANK).strftime("%H:%M")
    for hidden in (*HEALTH_FIELDS, *health_measures(), minute, "drink", "Stress"):
        assert hidden not in text
    assert '"level": "' in text
    assert HIDDEN in text
    assert "Noise in the tail boom." in text


def test_a_flight_is_closed_to_who_has_nothing_to_do_with_it(asked: Day) -> None:
    for person_id in (OTHER_PILOT, ADMINISTRATOR, "nobody-known"):
        with pytest.raises(NotShownError):
            flight_records(asked.office, person_id, asked.flight_id, at=asked.now)


def test_the_list_shows_heads_to_everybody_and_bodies_to_whom_they_concern(asked: Day) -> None:
    for person_id in (OTHER_PILOT, SAFETY, ADMINISTRATOR):
        records = read_records(asked.office, person_id, most=50, at=asked.now)
        bodies = [dict(record.body) for record in records if record.header.kind != "policy_published"]
        assert "last_drink_at" not in json.dumps(bodies)
        newest = records[0]
        assert newest.header.kind == "sign_off_requested"
        assert not newest.whole
        assert bool(newest.body) == (person_id == SAFETY)
    with pytest.raises(NotShownError):
        read_records(asked.office, "nobody-known", most=50, at=asked.now)


def test_a_copy_of_the_record_holds_no_answer_at_all(asked: Day) -> None:
    rows = copy_of_record(asked.office, SAFETY, at=asked.now)
    assert len(rows) == asked.office.store.head().size + 1
    text = json.dumps(rows)
    assert "go_with_sign_off" in text
    for hidden in ("drink", "Noise", "stress"):
        assert hidden not in text
    for person_id in (PILOT, DISPATCHER, OTHER_PILOT):
        with pytest.raises(NotShownError):
            copy_of_record(asked.office, person_id, at=asked.now)


def test_changed_health_facts_are_read_by_their_own_person_only(day: Day) -> None:
    from riskboard.ledger import Intent  # noqa: PLC0415  - only this test writes past the jobs

    body = {"kind": "person", "id": PILOT, "before": {}, "after": {"pilot": {"ill_today": True}}, "why": "test"}
    day.office.store.append(
        Intent("fact_changed", "health", day.now, PILOT, "self", f"person {PILOT}", body)  # type: ignore[arg-type]
    )
    assert "ill_today" in json.dumps(dict(read_records(day.office, PILOT, most=1, at=day.now)[0].body))
    for person_id in (DISPATCHER, CHIEF, ADMINISTRATOR):
        assert read_records(day.office, person_id, most=1, at=day.now)[0].body == {}
    assert jobs.verify_log(day.office) == []
