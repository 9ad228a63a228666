"""Erasing health answers: signed, the chain verifies, and the bytes are gone from every file of the store."""

import json
import re
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from riskboard import demo, jobs
from riskboard.assessment.privacy import health_measures
from riskboard.jobs.debriefing import debrief
from riskboard.jobs.erasing import ErasureSignature, NotErasedError, erase_health, flights_with_health
from riskboard.ledger.store import Erasure
from riskboard.worksheet.debrief import Debrief
from riskboard.worksheet.kept import HEALTH
from tests.jobs.callers import caller_of, flight_out, opened_copy, sent_out
from tests.jobs.school_day import ADMINISTRATOR, CHIEF, DISPATCHER, OTHER_PILOT, PILOT, Day, give
from tests.ledger.conftest import postgres_url

__all__ = ["postgres_url"]  # a fixture: pytest finds it here by its name

SAID = "grief-about-the-old-horse"
DRAFT_SAID = "a-cough-since-sunday"


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, datetime]:
    return flight_out(tmp_path_factory.mktemp("made"))


@pytest.fixture
def day(made: tuple[Path, datetime], tmp_path: Path) -> Iterator[Day]:
    day = opened_copy(made[0], tmp_path, made[1])
    yield day
    day.office.store.close()


def signature(day: Day, by: str = PILOT, **changes: Any) -> ErasureSignature:
    return ErasureSignature(
        **({"person_id": by, "pin": demo.DEMO_PIN, "event_id": day.event(), "why": "Asked in writing"} | changes)
    )


def erase(day: Day, flights: tuple[str, ...] | None = None, by: str = PILOT, **changes: Any) -> Erasure:
    return erase_health(day.office, signature(day, by, **changes), PILOT, flights, at=day.now)


def close(day: Day, note: str | None = None) -> None:
    told = Debrief(as_planned=True, note=note)
    debrief(day.office, caller_of(day.office, PILOT, day.now), day.flight_id, told, event_id=day.event(), at=day.now)


def unfinished(day: Day, draft_id: str = "unfinished") -> None:
    jobs.begin_draft(day.office, draft_id, jobs.Start(PILOT), at=day.now)
    jobs.save_entries(day.office, draft_id, "pilot", {"ill_today": DRAFT_SAID}, at=day.now)


def bodies(day: Day, flight_id: str | None = None) -> dict[str, bool]:
    entries = day.office.store.entries(subject=flight_id or day.flight_id)
    return {entry.header.kind: entry.body is not None for entry in entries}


def files_holding(folder: Path, fragment: str) -> list[str]:
    return [each.name for each in folder.iterdir() if each.is_file() and fragment.encode() in each.read_bytes()]


def worked_out_of_health(day: Day) -> list[str]:
    """What was worked out from the pilot's answers, as the record holds it: name and value of each such measure."""
    (accepted,) = day.office.store.entries(subject=day.flight_id, kinds=("accepted",))
    assert accepted.body is not None
    text = accepted.body.data.decode()
    found = re.findall(r'"([a-z0-9_]+)":(-?[0-9][0-9.]*)[,}]', text)
    told = [f'"{name}":{value}' for name, value in found if name in health_measures() and len(value) > 2]
    assert len(told) > 3
    return told


@pytest.mark.postgres
def test_on_postgres_nothing_is_left_in_any_body_draft_or_document(postgres_url: str) -> None:
    day = sent_out(postgres_url)
    close(day, note=SAID)
    unfinished(day)
    told = [SAID, DRAFT_SAID, *worked_out_of_health(day)]
    assert all(day.office.store.places_holding(fragment) for fragment in told)
    done = erase(day)
    assert done.scrubbed
    assert not any(day.office.store.places_holding(fragment) for fragment in told)
    assert jobs.verify_log(day.office, done.receipt.code) == []
    day.office.store.close()


def test_the_answers_are_in_the_file_before_and_nowhere_after(day: Day, tmp_path: Path) -> None:
    close(day, note=SAID)
    unfinished(day)
    sleeps = jobs.brief(day.office, day.flight_id, at=day.now).data["pilot"]["sleeps"]
    told = [sleeps[0]["start_at"], *worked_out_of_health(day)]
    assert files_holding(tmp_path, SAID)
    assert files_holding(tmp_path, DRAFT_SAID)
    assert all(files_holding(tmp_path, fragment) for fragment in told)
    done = erase(day)
    assert done.scrubbed
    for fragment in (SAID, DRAFT_SAID, *told):
        assert files_holding(tmp_path, fragment) == [], fragment
        assert day.office.store.places_holding(fragment) == []
    assert any("Backups" in sentence for sentence in done.left)
    assert jobs.verify_log(day.office, done.receipt.code) == []
    assert jobs.recheck(day.office).findings == ()


def test_what_stays_is_who_when_and_that_it_was_flown(day: Day) -> None:
    close(day)
    done = erase(day, (day.flight_id,))
    assert bodies(day) == {"accepted": False, "released": True, "run_up": True, "took_off": True, "debriefed": True}
    header, body = done.entry.header, done.entry.body
    assert body is not None
    assert (header.kind, header.actor, header.subject) == ("erased", PILOT, f"person {PILOT}")
    assert body.value["flights"] == [day.flight_id]
    assert body.value["why"] == "Asked in writing"
    state = jobs.flight_state(day.office, day.flight_id)
    assert state is not None
    assert state.status.value == "debriefed"


def test_a_debrief_in_the_pilots_own_words_goes_too(day: Day) -> None:
    close(day, note=SAID)
    erase(day, (day.flight_id,))
    assert bodies(day)["debriefed"] is False


def test_every_body_of_the_flight_that_is_left_holds_no_health_answer(day: Day) -> None:
    close(day)
    erase(day)
    for entry in day.office.store.entries():
        if entry.body is not None and entry.header.kind != "policy_published":
            text = entry.body.data.decode()
            assert not [name for name in HEALTH if f'"{name}"' in text], entry.header.kind


def test_a_second_person_signed_their_own_answers_go_and_the_pilots_stay(day: Day) -> None:
    close(day)
    flight = Day(day.office, day.later(hours=1), "second")
    flight._events = day._events
    flight.event = day.event  # type: ignore[method-assign]
    jobs.begin_draft(day.office, "second", jobs.Start(PILOT, "LRS-03", "larkfield", "larkfield-circuits"), at=day.now)
    earlier = jobs.brief(day.office, day.flight_id, at=day.now - timedelta(hours=4)).data
    for part in ("pilot", "weather", "plan", "pressures"):
        jobs.save_entries(day.office, "second", part, earlier[part], at=day.now)
    moved = {"observed_at": (day.now - timedelta(minutes=10)).isoformat(), "forecast": None}
    jobs.save_entries(day.office, "second", "weather", moved, at=day.now)
    times = {"take_off_at": (day.now + timedelta(minutes=20)).isoformat(), "landing_at": None}
    jobs.save_entries(day.office, "second", "plan", times, at=day.now)
    day.office.store.append(_signed_by(DISPATCHER, "second", day))
    jobs.decline(day.office, "second", flight.signature(), reason="Wind", at=day.now)
    assert flights_with_health(day.office, DISPATCHER) == ("second",)
    done = erase_health(day.office, signature(day, DISPATCHER), DISPATCHER, None, at=day.now)
    assert done.scrubbed
    assert bodies(day, "second") == {"signed": False, "declined": True}
    assert bodies(day)["accepted"] is True


def _signed_by(person_id: str, flight_id: str, day: Day) -> Any:
    from riskboard.ledger import Intent  # noqa: PLC0415 - only here

    body: Any = {"awake_since": "2026-05-04T11:00:00Z", "on_duty_since": "2026-05-04T12:00:00Z"}
    return Intent("signed", day.event(), day.now, person_id, "dispatcher", flight_id, body)


def test_a_flight_that_is_out_keeps_what_watches_over_it(day: Day) -> None:
    with pytest.raises(NotErasedError, match="is out; what watches over it"):
        erase(day, (day.flight_id,))
    with pytest.raises(NotErasedError, match="is out"):
        erase(day)
    assert bodies(day)["accepted"] is True


@pytest.mark.parametrize("by", [OTHER_PILOT, DISPATCHER, CHIEF])
def test_nobody_erases_what_somebody_else_said(day: Day, by: str) -> None:
    close(day)
    with pytest.raises(NotErasedError, match="erased by: administrator"):
        erase(day, by=by)
    assert bodies(day)["accepted"] is True


def test_an_administrator_erases_at_the_persons_request(day: Day) -> None:
    close(day)
    give(day.office, CHIEF, "administrator", day.now)
    done = erase(day, by=CHIEF)
    assert (done.entry.header.actor, done.entry.header.role) == (CHIEF, "administrator")
    assert ADMINISTRATOR != CHIEF


def test_without_the_right_pin_a_reason_or_a_flight_nothing_is_erased(day: Day) -> None:
    close(day)
    with pytest.raises(jobs.NotSignedError, match="PIN is not right"):
        erase(day, pin="8351")
    with pytest.raises(NotErasedError, match="who asked for it"):
        erase(day, why=" ")
    with pytest.raises(NotErasedError, match="Nothing is on record about the flight 'none-such'"):
        erase(day, ("none-such",))
    with pytest.raises(NotErasedError, match="Nothing is kept"):
        erase_health(day.office, signature(day, OTHER_PILOT), OTHER_PILOT, None, at=day.now)
    assert bodies(day)["accepted"] is True


def test_repeating_it_finishes_the_first_and_records_nothing_new(day: Day) -> None:
    close(day)
    first = erase(day, event_id="one-erasure")
    again = erase(day, event_id="one-erasure")
    assert again.receipt == first.receipt
    assert again.scrubbed


def test_an_unfinished_worksheet_alone_can_be_erased(day: Day, tmp_path: Path) -> None:
    unfinished(day, "only-a-draft")
    jobs.begin_draft(day.office, "other", jobs.Start(OTHER_PILOT), at=day.now)
    jobs.save_entries(day.office, "other", "pilot", {"ill_today": DRAFT_SAID}, at=day.now)
    done = erase_health(day.office, signature(day, OTHER_PILOT), OTHER_PILOT, None, at=day.now)
    assert day.office.store.load_draft("other") is None
    assert day.office.store.load_draft("only-a-draft") is not None
    assert jobs.verify_log(day.office, done.receipt.code) == []
    assert files_holding(tmp_path, DRAFT_SAID)  # the other pilot's own draft still holds the same words


def test_stored_facts_are_cleaned_where_an_answer_got_among_them(day: Day, tmp_path: Path) -> None:
    close(day)
    found = jobs.document(day.office, "person", PILOT)
    found["pilot"]["life_event"] = SAID
    day.office.store.put_document("person", PILOT, json.dumps(found), at=day.now)
    erase(day)
    assert files_holding(tmp_path, SAID) == []
    kept = jobs.document(day.office, "person", PILOT)["pilot"]
    assert "life_event" not in kept
    assert kept["total_helicopter_h"] == 1640.5
