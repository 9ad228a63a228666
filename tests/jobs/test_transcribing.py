"""Paper worksheets typed in later: as of their own moment, under the policy of that moment, and never a yes."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from riskboard import jobs
from riskboard.jobs.flights import NotShownError
from riskboard.jobs.sheets import release_sheet
from riskboard.jobs.signing import NotSignedError, Signed
from riskboard.jobs.transcribing import (
    Paper,
    PaperSignature,
    begin_typed_paper,
    change_paper,
    transcribe,
    typed_paper,
)
from riskboard.ledger import Status
from riskboard.ledger.store import PolicyText
from riskboard.policy import load_policy
from riskboard.shipped import policy_files, shipped
from riskboard.words import Decision
from riskboard.worksheet.file import read_worksheet_file
from riskboard.worksheet.model import PARTS
from riskboard.worksheet.write import worksheet_data
from tests.jobs.school_day import ADMINISTRATOR, CHIEF, DISPATCHER, OTHER_PILOT, PILOT, SAFETY, Day
from tests.sheets.paper import text_of

TYPED = "paper-flight"
SIGNED = (
    PaperSignature("Mara Oduya", "pilot", "accepted the risk"),
    PaperSignature("Wendell Achterberg", "dispatcher", "released the aircraft"),
)


def typed_in(day: Day, **changes: Any) -> Paper:
    """The calm morning as a paper that was filled in then; three hours later the computer is back."""
    sheet, at = read_worksheet_file(shipped("weather_samples") / "calm_morning.yaml")
    assert at is not None
    paper = replace(Paper(PILOT, at, SIGNED, "Found in the tray"), **changes)
    day.later(hours=3)
    begin_typed_paper(day.office, DISPATCHER, TYPED, at=day.now)
    data = worksheet_data(sheet)
    for part in PARTS:
        jobs.change_entries(day.office, DISPATCHER, TYPED, part, data[part], at=day.now)
    change_paper(day.office, DISPATCHER, TYPED, paper, at=day.now)
    return paper


def record(day: Day, person_id: str = DISPATCHER, event_id: str = "typed-1") -> Signed:
    return transcribe(day.office, person_id, TYPED, event_id=event_id, at=day.now)


def refused(day: Day, **changes: Any) -> str:
    typed_in(day, **changes)
    head = day.office.store.head()
    with pytest.raises(NotSignedError) as caught:
        record(day)
    assert day.office.store.head() == head
    return str(caught.value)


def test_it_is_assessed_as_of_its_paper_moment_and_says_who_typed_it_in(day: Day) -> None:
    paper = typed_in(day)
    assert paper.filled_at is not None
    header, body = (done := record(day)).entry.header, done.entry.body
    assert body is not None
    assert (header.kind, header.actor, header.role, header.subject) == ("briefed", DISPATCHER, "dispatcher", TYPED)
    assert body.value["transcribed"] == {
        "by": DISPATCHER,
        "paper_at": paper.filled_at.isoformat().replace("+00:00", "Z"),
        "paper_signatures": [{"name": s.name, "role": s.role, "said": s.said, "at": None} for s in SIGNED],
        "typed_at": day.now.isoformat().replace("+00:00", "Z"),
    }
    found = body.value["assessment"]
    assert found["decision"] == Decision.go.name
    assert datetime.fromisoformat(found["decided_at"]) == paper.filled_at
    assert jobs.verify_log(day.office, done.receipt.code) == []
    assert jobs.recheck(day.office).findings == ()


def test_it_is_no_yes_and_no_release(day: Day) -> None:
    typed_in(day)
    record(day)
    state = jobs.flight_state(day.office, TYPED)
    assert state is not None
    assert (state.status, state.yes) == (Status.BRIEFED, ())
    for person_id in (PILOT, DISPATCHER, CHIEF):
        with pytest.raises(NotSignedError):
            jobs.release(day.office, person_id, TYPED, event_id=f"release {person_id}", at=day.now)
        with pytest.raises(NotSignedError):
            jobs.took_off(day.office, person_id, TYPED, event_id=f"leave {person_id}", at=day.now)
    assert TYPED not in [card.flight_id for card in jobs.board(day.office, DISPATCHER, at=day.now)]
    _, pdf = release_sheet(day.office, PILOT, TYPED, paper="letter", at=day.now)
    assert "This paper is no release." in text_of(pdf)
    assert "typed in from paper" in text_of(pdf)


@pytest.mark.parametrize("person_id", [OTHER_PILOT, SAFETY, ADMINISTRATOR, "nobody-known"])
def test_only_the_desk_types_papers_in(day: Day, person_id: str) -> None:
    typed_in(day)
    for act in (
        lambda: begin_typed_paper(day.office, person_id, "another", at=day.now),
        lambda: change_paper(day.office, person_id, TYPED, Paper(), at=day.now),
        lambda: jobs.change_entries(day.office, person_id, TYPED, "plan", {"passengers": 0}, at=day.now),
        lambda: typed_paper(day.office, person_id, TYPED, at=day.now),
        lambda: record(day, person_id),
    ):
        with pytest.raises(NotShownError):
            act()


def test_nobody_continues_what_somebody_else_types(day: Day) -> None:
    typed_in(day)
    with pytest.raises(NotShownError):
        record(day, CHIEF)
    with pytest.raises(NotShownError):
        typed_paper(day.office, CHIEF, TYPED, at=day.now)


def test_an_ordinary_worksheet_cannot_be_passed_off_as_paper(day: Day) -> None:
    with pytest.raises(NotShownError):
        transcribe(day.office, DISPATCHER, day.flight_id, event_id="typed-1", at=day.now)


def test_nobody_types_in_their_own_paper(day: Day) -> None:
    assert "their own paper" in refused(day, pilot_id=DISPATCHER)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"pilot_id": ""}, "Choose the pilot in command"),
        ({"pilot_id": "nobody-known"}, "nobody called"),
        ({"filled_at": None}, "when the paper was filled in"),
        ({"filled_at": datetime(2026, 5, 5, tzinfo=UTC)}, "before now"),
        ({"filled_at": datetime(2020, 5, 5, tzinfo=UTC)}, "within the last year"),
        ({"signatures": (PaperSignature("", "pilot", "refused"),)}, "name of who signed"),
        ({"signatures": (PaperSignature("Mara", "pilot", "released everything"),)}, "says one of"),
        ({"signatures": (PaperSignature("a\u202eb", "pilot", "refused"),)}, "nobody can see"),
        ({"signatures": SIGNED * 7}, "at most 12 signatures"),
        ({"note": "x" * 1001}, "Shorten the note"),
        (
            {"signatures": (PaperSignature("Mara", "pilot", "refused", datetime(2026, 5, 1, tzinfo=UTC)),)},
            "correct its time",
        ),
    ],
)
def test_what_is_missing_or_cannot_be_is_said_and_nothing_recorded(day: Day, changes: Any, said: str) -> None:
    assert said in refused(day, **changes)


def test_an_unsound_entry_is_mended_first_and_a_blank_one_is_unknown(day: Day) -> None:
    typed_in(day)
    jobs.change_entries(day.office, DISPATCHER, TYPED, "weather", {"gust_kt": 999}, at=day.now)
    with pytest.raises(NotSignedError, match="Mend the entries"):
        record(day)
    jobs.change_entries(day.office, DISPATCHER, TYPED, "weather", {"gust_kt": None}, at=day.now)
    body = record(day).entry.body
    assert body is not None
    assert body.value["assessment"]["decision"] == Decision.no_go.name


def test_a_double_tap_writes_one_record_and_a_second_record_needs_another_flight(day: Day) -> None:
    typed_in(day)
    first = record(day)
    day.later(seconds=3)
    assert record(day).receipt == first.receipt
    assert day.office.store.load_draft(TYPED) is None  # what was typed stands in the record now
    begin_typed_paper(day.office, DISPATCHER, TYPED, at=day.now)
    with pytest.raises(NotSignedError):
        record(day, event_id="typed-2")


def test_the_policy_of_the_paper_moment_applies_not_todays(day: Day) -> None:
    """A stricter version comes into force between the paper and the typing."""
    _, text = next((name, text) for name, text in policy_files() if name == "rotor_school_vfr.yaml")
    until = day.now + timedelta(hours=1)
    changed = text.replace("version: 1\n", "version: 2\n", 1).replace(
        "effective_from: 2026-01-01T00:00Z", f"effective_from: {until:%Y-%m-%dT%H:%M}Z", 1
    )
    newer = load_policy(changed, name="newer")
    day.office.store.publish_policy(PolicyText(newer.digest, newer.id, newer.version, newer.text, day.now))
    typed_in(day)
    assert day.now > until
    body = record(day).entry.body
    assert body is not None
    assert body.value["assessment"]["policy"]["version"] == 1


def test_who_typed_it_in_is_not_crew(day: Day) -> None:
    typed_in(day)
    record(day)
    flight = day.office.log.look().flights[TYPED]
    assert (flight.pilot_id, flight.crew) == (PILOT, frozenset({PILOT}))


def test_nothing_of_what_the_school_knows_today_slips_into_the_paper(day: Day) -> None:
    begin_typed_paper(day.office, DISPATCHER, TYPED, at=day.now)
    change_paper(day.office, DISPATCHER, TYPED, Paper(PILOT, day.now), at=day.now)
    found, _ = typed_paper(day.office, DISPATCHER, TYPED, at=day.now)
    assert all(value is None for part in PARTS for _, value in getattr(found.sheet, part))
