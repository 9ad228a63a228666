"""Publishing aircraft types, and what rests on the text in force: decisions, records, and every yes not yet flown."""

import sqlite3
from pathlib import Path
from typing import Any

import pytest

from riskboard import jobs
from riskboard.aircraft_types import load_type
from riskboard.jobs import NotLetInError, NotPublishedError, NotSignedError
from riskboard.jobs.type_texts import TypesKept, types_of
from riskboard.ledger import Intent, Status
from riskboard.ledger.store import TypeText
from riskboard.shipped import aircraft_type_files
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
)

((_, TEXT),) = aircraft_type_files()
TITLE = "Tarnwick 2 (invented)"
FIRST = load_type(TEXT, name="first")
WORRY = "The customer asked to film from the skids."


def version(number: int, *changes: tuple[str, str]) -> str:
    """The shipped text under another version, with changes that must each be found once."""
    text = TEXT
    for old, new in (("\nversion: 1\n", f"\nversion: {number}\n"), *changes):
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return text


SECOND = version(2, ("\n  wind_max_kt: 35\n", "\n  wind_max_kt: 34\n"))


def publish(
    day: Day, text: str = SECOND, by: str = MAINTENANCE, why: str = "Revision 2", event: str = ""
) -> jobs.Signed:
    return jobs.publish_type(
        day.office, caller_of(day.office, by, day.now), text, why=why, event_id=event or day.event(), at=day.now
    )


def refused(day: Day, text: str = SECOND, by: str = MAINTENANCE, why: str = "Revision 2") -> NotPublishedError:
    before = day.office.store.head(), day.office.store.list_types()
    with pytest.raises(NotPublishedError) as caught:
        publish(day, text, by, why)
    assert (day.office.store.head(), day.office.store.list_types()) == before
    return caught.value


def test_the_invented_school_begins_with_the_invented_type_and_a_real_one_with_none(day: Day, tmp_path: Path) -> None:
    assert dict(jobs.types_in_force(day.office)) == {TITLE: FIRST}
    (record,) = day.office.store.entries(kinds=["type_published"])
    assert (record.header.actor, record.header.subject) == ("riskboard", "aircraft_type tarnwick-2")
    real = jobs.open_office(tmp_path / "real.sqlite3", now=day.now)
    assert jobs.types_in_force(real) == {}
    real.store.close()


def test_a_type_is_published_with_its_record_and_is_in_force(day: Day) -> None:
    signed = publish(day)
    assert signed.entry.body is not None
    header, body = signed.entry.header, signed.entry.body.value
    assert (header.kind, header.actor, header.role) == ("type_published", MAINTENANCE, "maintenance")
    assert (body["text"], body["why"], body["version"]) == (SECOND, "Revision 2", 2)
    assert jobs.types_in_force(day.office)[TITLE].limits.wind_max_kt == 34
    assert [kept.version for kept in day.office.store.list_types()] == [1, 2]
    assert jobs.verify_log(day.office, signed.receipt.code) == []
    newest, first = jobs.published_types(day.office)
    assert (newest.kept.version, newest.in_force, newest.unreadable, first.in_force) == (2, True, "", False)
    assert AIRCRAFT in newest.aircraft
    assert first.aircraft == ()


def test_a_double_tap_is_one_publication(day: Day) -> None:
    signed = publish(day, event="tap")
    assert publish(day, event="tap") == signed
    assert len(list(day.office.store.entries(kinds=["type_published"]))) == 2


@pytest.mark.parametrize("by", [CHIEF, "edda-quaye", MAINTENANCE])
def test_who_keeps_aircraft_types_publishes_them(day: Day, by: str) -> None:
    assert publish(day, by=by).entry.header.actor == by


@pytest.mark.parametrize("by", [DISPATCHER, PILOT, SAFETY, OTHER_PILOT])
def test_nobody_else_does(day: Day, by: str) -> None:
    assert "Aircraft type facts kept by: administrator, chief instructor, maintenance" in str(refused(day, by=by))


def test_a_session_that_ended_publishes_nothing(day: Day) -> None:
    caller = caller_of(day.office, MAINTENANCE, day.now)
    day.office.store.end_session(caller.token_hash, day.now)
    with pytest.raises(NotLetInError):
        jobs.publish_type(day.office, caller, SECOND, why="Revision 2", event_id="e", at=day.now)
    assert len(day.office.store.list_types()) == 1


def test_a_refused_text_says_line_and_column_of_everything(day: Day) -> None:
    text = version(2, ("gross_max_lb: 1560", "gross_max_lb: heavy"), ("lb_per_gal: 6", "lb_per_gal: -6"))
    error = refused(day, text)
    lines = text.split("\n")
    found = [(lines[problem.line - 1].strip(), problem.column) for problem in error.problems]
    assert ("gross_max_lb: heavy", 17) in found
    assert ("lb_per_gal: -6", 15) in found
    assert "to mend" in str(error)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (TEXT, "in force already, word for word"),
        (TEXT + "# another comment\n", "a changed text needs a higher one, for example `version: 2`"),
        (TEXT.replace("wind_max_kt: 35", "wind_max_kt: 34"), "stands at version 1"),
        (version(2, ("id: tarnwick-2", "id: tarnwick-3")), f"The type tarnwick-2 is called {TITLE} already"),
    ],
)
def test_what_stands_against_a_published_text_is_refused(day: Day, text: str, said: str) -> None:
    assert said in str(refused(day, text))


def test_versions_only_go_up(day: Day) -> None:
    publish(day, version(5))
    assert "stands at version 5" in str(refused(day, SECOND))


@pytest.mark.parametrize(("why", "said"), [("  ", "Say in a few words"), ("x" * 501, "has 501 characters")])
def test_the_reason_is_needed(day: Day, why: str, said: str) -> None:
    assert said in str(refused(day, why=why))


def test_two_texts_of_one_version_at_the_same_moment_are_one_and_a_refusal(day: Day) -> None:
    publish(day)
    other = version(2, ("\n  wind_max_kt: 35\n", "\n  wind_max_kt: 33\n"))
    assert "stands at version 2" in str(refused(day, other))


def test_a_decision_carries_the_text_it_rests_on_and_is_rechecked_under_it(day: Day) -> None:
    signed = day.accept()
    assert signed.entry.body is not None
    body = signed.entry.body.value
    assert body["type_digest"] == body["assessment"]["type_digest"] == FIRST.digest
    day.later(minutes=1)
    publish(day)
    assert jobs.brief(day.office, FLIGHT, at=day.now).assessment.type_digest != FIRST.digest  # type: ignore[union-attr]
    checked = jobs.recheck(day.office)
    assert (checked.findings, checked.types) == ((), ())
    assert checked.decisions == 1


def test_a_record_whose_type_is_gone_or_another_is_found_by_recheck(day: Day, tmp_path: Path) -> None:
    day.accept()
    bare = sqlite3.connect(tmp_path / "school.sqlite3")
    bare.execute("DROP TRIGGER type_text_no_update")
    bare.execute("UPDATE type_text SET digest = ?", ("0" * 64,))
    bare.commit()
    bare.close()
    (finding,) = jobs.recheck(day.office).findings
    assert f"no published aircraft type has the digest {FIRST.digest[:12]}" in finding.message


@pytest.fixture
def accepted(day: Day) -> Day:
    day.accept()
    day.later(minutes=1)
    return day


def on_board(day: Day) -> jobs.FlightCard:
    return next(card for card in jobs.board(day.office, DISPATCHER, at=day.now) if card.flight_id == FLIGHT)


def test_a_newer_type_text_ends_a_yes_and_says_so_on_the_board(accepted: Day) -> None:
    assert on_board(accepted).status is Status.ACCEPTED
    publish(accepted)
    accepted.later(minutes=1)
    card = on_board(accepted)
    assert card.status is Status.LAPSED
    assert any(said.startswith(f"The aircraft type {TITLE} changed at ") for said in card.void)
    assert card.void == accepted.card().void
    with pytest.raises(NotSignedError, match="The aircraft type"):
        accepted.release()


def test_a_newer_type_text_withdraws_a_release_until_it_is_briefed_anew(accepted: Day) -> None:
    accepted.release()
    accepted.later(minutes=1)
    publish(accepted)
    accepted.later(minutes=1)
    card = on_board(accepted)
    assert card.status is Status.RELEASED
    assert "The aircraft type" in " ".join(card.void)
    with pytest.raises(NotSignedError, match="The aircraft type"):
        accepted.leave()
    jobs.cancel(accepted.office, PILOT, FLIGHT, reason="Brief anew", event_id=accepted.event(), at=accepted.now)
    accepted.accept()
    assert accepted.card().void == ()
    accepted.release()


def test_a_flight_that_has_left_is_left_alone(accepted: Day) -> None:
    accepted.release()
    accepted.leave()
    publish(accepted)
    card = on_board(accepted)
    assert (card.status, card.void) == (Status.AIRBORNE, ())


def test_a_text_of_another_type_ends_nothing(accepted: Day) -> None:
    other = version(1, ("id: tarnwick-2", "id: heron-1"), ("title: Tarnwick 2 (invented)", "title: Heron 1 (invented)"))
    publish(accepted, other)
    assert accepted.card().void == ()
    assert set(jobs.types_in_force(accepted.office)) == {TITLE, "Heron 1 (invented)"}


def test_a_type_that_is_called_otherwise_from_now_on_is_on_file_for_no_aircraft_of_the_old_name(accepted: Day) -> None:
    publish(accepted, version(2, ("title: Tarnwick 2 (invented)", "title: Tarnwick 2B (invented)")))
    assert any(said.startswith(f"The aircraft type {TITLE} changed at ") for said in accepted.card().void)
    found = jobs.brief(accepted.office, FLIGHT, at=accepted.now).assessment
    assert found is not None
    assert found.type_digest == ""


def test_a_request_that_rests_on_an_older_text_is_not_signed(day: Day) -> None:
    day.enter("pressures", anything_else=WORRY)
    day.request()
    day.later(minutes=1)
    publish(day)
    day.later(minutes=1)
    with pytest.raises(NotSignedError, match="The aircraft type"):
        day.sign()


def test_a_type_published_while_the_screen_is_shown_asks_to_look_again(day: Day) -> None:
    signature = day.signature()
    publish(day)
    with pytest.raises(NotSignedError, match="changed since this screen was drawn"):
        jobs.accept(day.office, FLIGHT, signature, at=day.now)


AIRCRAFT_FACTS: dict[str, dict[str, Any]] = {
    "weighing": {"empty_weight_lb": 991.0},
    "fitted equipment": {"equipment_fitted": [{"name": "floats", "fitted": False}]},
    "defect": {"open_defects": [{"text": "Chip light flickers", "effect": "watch"}]},
}


@pytest.mark.parametrize("what", AIRCRAFT_FACTS)
@pytest.mark.parametrize("released", [False, True])
def test_a_changed_aircraft_ends_a_yes_visibly(accepted: Day, what: str, released: bool) -> None:
    if released:
        accepted.release()
        accepted.later(minutes=1)
    changes = AIRCRAFT_FACTS[what]
    stored = accepted.office.store.get_document("aircraft", AIRCRAFT)
    assert stored is not None
    jobs.change_fact(
        accepted.office,
        caller_of(accepted.office, MAINTENANCE, accepted.now),
        "aircraft",
        AIRCRAFT,
        changes,
        why="Weighed anew",
        event_id=accepted.event(),
        revision=stored.revision,
        at=accepted.now,
    )
    accepted.later(minutes=1)
    (name,) = changes
    card = on_board(accepted)
    assert any(name.replace("_", " ") in said and " changed at " in said for said in card.void), card.void
    assert card.status is (Status.RELEASED if released else Status.LAPSED)
    with pytest.raises(NotSignedError, match="changed at"):
        accepted.leave_at_once() if released else accepted.release()


def test_who_published_without_the_right_shows_when_the_log_is_verified(day: Day) -> None:
    found = load_type(SECOND, name="second")
    kept = TypeText(found.digest, found.id, found.version, found.title, SECOND, day.now)
    for number, (actor, role) in enumerate(
        [(DISPATCHER, "dispatcher"), (OTHER_PILOT, "maintenance"), (OTHER_PILOT, "mechanic")], 1
    ):
        intent = Intent(
            "type_published", f"forged-{number}", day.now, actor, role, "aircraft_type tarnwick-2", {"text": SECOND}
        )
        day.office.store.append(intent, types=[kept])
    said = [finding.sentence for finding in jobs.verify_log(day.office)]
    assert len(said) == 3
    assert "published an aircraft type as dispatcher" in said[0]
    assert "did not hold the role maintenance" in said[1]
    assert "published an aircraft type as mechanic" in said[2]


@pytest.fixture
def unreadable(day: Day) -> TypesKept:
    broken = TypeText("1" * 64, "tarnwick-2", 2, TITLE, "id: tarnwick-2\n", day.now)
    day.office.store.append(
        Intent("type_published", "broken", day.now, "riskboard", "installer", "x", {}), types=[broken]
    )
    return types_of(day.office.store)


def test_a_text_that_this_program_cannot_read_counts_as_not_on_file(day: Day, unreadable: TypesKept) -> None:
    assert unreadable.by_title == {}
    assert jobs.types_in_force(day.office) == {}
    newest, _ = jobs.published_types(day.office)
    assert "is refused by this program" in newest.unreadable
    (said,) = jobs.recheck(day.office).types
    assert said.startswith(f"{TITLE} version 2 is not known any more: The aircraft type 111111111111 is refused")
    found = jobs.brief(day.office, FLIGHT, at=day.now).assessment
    assert found is not None
    assert found.type_digest == ""


def test_of_a_past_moment_the_text_of_then_counts(day: Day) -> None:
    day.later(hours=1)
    publish(day)
    texts = {moment: types_of(day.office.store, moment).texts[0].version for moment in (day.now, None)}
    assert texts == {day.now: 2, None: 2}
    earlier = day.now.replace(minute=0, hour=0)
    assert types_of(day.office.store, earlier).texts[0].version == 1


def test_a_name_that_went_from_one_type_to_another_is_at_a_past_moment_that_of_the_first(day: Day) -> None:
    then = day.now
    day.later(hours=1)
    publish(day, version(2, ("title: Tarnwick 2 (invented)", "title: Tarnwick 2A (invented)")))
    day.later(hours=1)
    publish(day, version(1, ("id: tarnwick-2", "id: tarnwick-3")))
    assert {kept.type_id for kept in types_of(day.office.store).texts} == {"tarnwick-2", "tarnwick-3"}
    assert types_of(day.office.store, then).by_title == {TITLE: FIRST}
    paper = jobs.policy_for(day.office, jobs.brief(day.office, FLIGHT, at=day.now).sheet, then, types_at=then)
    assert dict(paper.types) == {TITLE: FIRST}
