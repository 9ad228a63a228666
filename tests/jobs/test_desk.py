"""The second person's answer, asked straight of the core: a page that forgets to hide a button must not matter."""

from datetime import timedelta

import pytest

from riskboard import demo, jobs
from riskboard.jobs import NotShownError, NotSignedError
from riskboard.ledger import Intent, Status
from riskboard.words import Decision, RefusedFor
from tests.jobs.school_day import (
    ADMINISTRATOR,
    AIRCRAFT,
    CHIEF,
    CIRCUITS,
    DISPATCHER,
    OTHER_PILOT,
    PILOT,
    SAFETY,
    Day,
    end,
    give,
    papers,
)


@pytest.fixture
def asked(day: Day) -> Day:
    """A flight that waits for a signature: something worries the pilot that no form lists."""
    day.enter("pressures", anything_else="The customer asked to film from the skids.")
    day.request("The customer is a friend.")
    day.later(seconds=30)
    return day


def test_a_request_waits_in_the_queue_with_its_reasons_and_time(asked: Day) -> None:
    (item,) = jobs.queue(asked.office, DISPATCHER, at=asked.later(minutes=4))
    assert item.card.status is Status.SIGN_OFF_REQUESTED
    assert item.card.pilot_name == "Mara Oduya"
    assert item.waiting_min == 4
    assert item.may_sign.allowed
    assert item.reasons[0].startswith("Something else worries the pilot")
    assert len(item.reasons) <= 3
    assert item.note == "The customer is a friend."
    assert not item.viewed


def test_the_whole_way_from_request_to_departure_is_on_record(asked: Day) -> None:
    signed = asked.sign(DISPATCHER, "Stay within 3 NM", "Back by 12:00")
    assert signed.entry.header.role == "dispatcher"
    assert asked.card().status is Status.SIGNED
    assert asked.card().conditions == ("Stay within 3 NM", "Back by 12:00")
    asked.later(minutes=1)
    asked.take()
    assert asked.card().status is Status.ACCEPTED
    asked.later(minutes=1)
    asked.release()
    asked.later(minutes=5)
    asked.leave()
    assert asked.card().status is Status.AIRBORNE
    assert asked.kinds() == ["sign_off_requested", "viewed", "signed", "accepted", "released", "run_up", "took_off"]
    assert jobs.verify_log(asked.office) == []


def test_the_record_keeps_what_was_on_the_screen_and_the_words_apart(asked: Day) -> None:
    signed = asked.sign()
    assert signed.entry.body is not None
    body = signed.entry.body.value
    assert body["assessment"]["decision"] == "go_with_sign_off"
    assert len(body["words"]) == 2
    assert body["awake_since"] < body["on_duty_since"]
    assert body["valid_until"] is not None


@pytest.mark.parametrize("person_id", [PILOT, OTHER_PILOT, SAFETY, ADMINISTRATOR, "nobody-known"])
def test_who_may_not_sign_does_not(asked: Day, person_id: str) -> None:
    seen = asked.open(DISPATCHER)
    with pytest.raises(NotSignedError):
        jobs.sign_off(asked.office, person_id, asked.flight_id, asked.desk_signature(seen), at=asked.now)
    assert "signed" not in asked.kinds()


def test_the_pilot_cannot_sign_in_another_role_they_hold(asked: Day) -> None:
    give(asked.office, PILOT, "chief_instructor", asked.now)
    give(asked.office, PILOT, "dispatcher", asked.now)
    with pytest.raises(NotSignedError, match="crew"):
        asked.sign(PILOT)


def test_an_instructor_aboard_cannot_sign_the_flight(day: Day) -> None:
    jobs.choose(day.office, day.flight_id, jobs.Start(instructor_id=CHIEF), at=day.now)
    dual = {"instructor_in_type_h": 400, "instructor_exercise_last_on": "2026-05-01", "instruction_given": []}
    day.enter("pilot", instructor_name="Sigrun Palo", instructor_experience_on="2026-01-15", **dual)
    day.enter("plan", instructor_aboard=True)
    day.enter("pressures", anything_else="A first flight after a long break.")
    day.request()
    with pytest.raises(NotSignedError, match="crew"):
        day.sign(CHIEF)
    assert day.sign(DISPATCHER).entry.header.actor == DISPATCHER


def test_an_instructor_of_whom_it_is_not_known_counts_as_aboard(day: Day) -> None:
    jobs.choose(day.office, day.flight_id, jobs.Start(instructor_id=CHIEF), at=day.now)
    day.enter("plan", instructor_aboard=None)
    seen = jobs.brief(day.office, day.flight_id, at=day.now)
    assert CHIEF in seen.crew


def test_a_right_to_sign_ends_with_the_role(asked: Day) -> None:
    seen = asked.open(DISPATCHER)
    end(asked.office, DISPATCHER, "dispatcher", asked.now)
    asked.later(seconds=1)
    with pytest.raises(NotSignedError, match="may be signed by"):
        jobs.sign_off(asked.office, DISPATCHER, asked.flight_id, asked.desk_signature(seen), at=asked.now)


def test_a_role_for_a_time_does_not_sign_after_it(asked: Day) -> None:
    give(asked.office, SAFETY, "dispatcher", asked.now, until=asked.now + timedelta(minutes=2))
    assert asked.open(SAFETY).may_sign.allowed
    asked.later(minutes=2)
    with pytest.raises(NotSignedError):
        asked.sign(SAFETY)


@pytest.mark.parametrize("experience", ["2024-01-15", "none", None])
def test_a_right_to_sign_ends_with_the_instructors_papers(asked: Day, experience: str | None) -> None:
    papers(asked.office, CHIEF, asked.now, instructor_experience_on=experience)
    with pytest.raises(NotSignedError, match="papers"):
        asked.sign(CHIEF)


def test_the_facts_must_have_been_opened(asked: Day) -> None:
    seen = asked.open(DISPATCHER)
    with pytest.raises(NotSignedError, match="Open the facts"):
        jobs.sign_off(asked.office, CHIEF, asked.flight_id, asked.desk_signature(seen), at=asked.now)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"entries_accurate": False}, "accurate"),
        ({"can_be_made_safely": False}, "safely"),
        ({"awake_since": None}, "awake"),
        ({"on_duty_since": None}, "on duty"),
        ({"pin": "0000"}, "PIN"),
        ({"shown_digest": "0" * 64}, "Look again"),
    ],
)
def test_half_a_signature_is_none(asked: Day, changes: dict[str, object], said: str) -> None:
    with pytest.raises(NotSignedError, match=said):
        asked.sign(DISPATCHER, **changes)
    assert "signed" not in asked.kinds()


@pytest.mark.parametrize("hours", [-1, 49])
def test_hours_awake_must_be_possible(asked: Day, hours: float) -> None:
    with pytest.raises(NotSignedError, match="awake"):
        asked.sign(DISPATCHER, awake_since=asked.now - timedelta(hours=hours))


def test_an_old_screen_signs_nothing(asked: Day) -> None:
    seen = asked.open()
    asked.later(minutes=6)
    with pytest.raises(NotSignedError, match="more than"):
        jobs.sign_off(asked.office, DISPATCHER, asked.flight_id, asked.desk_signature(seen), at=asked.now)


def test_of_two_desks_one_signs_and_the_other_is_told_who_was_first(asked: Day) -> None:
    one, other = asked.open(DISPATCHER), asked.open(CHIEF)
    jobs.sign_off(asked.office, DISPATCHER, asked.flight_id, asked.desk_signature(one), at=asked.now)
    with pytest.raises(NotSignedError, match="Wendell Achterberg signed it at"):
        jobs.sign_off(asked.office, CHIEF, asked.flight_id, asked.desk_signature(other), at=asked.now)
    with pytest.raises(NotSignedError, match="Wendell Achterberg signed it at"):
        jobs.refuse(
            asked.office,
            CHIEF,
            asked.flight_id,
            pin=demo.DEMO_PIN,
            event_id=asked.event(),
            reason="No.",
            at=asked.now,
        )
    assert asked.kinds().count("signed") == 1


def test_a_double_click_signs_once(asked: Day) -> None:
    signature = asked.desk_signature(asked.open())
    first = jobs.sign_off(asked.office, DISPATCHER, asked.flight_id, signature, at=asked.now)
    second = jobs.sign_off(asked.office, DISPATCHER, asked.flight_id, signature, at=asked.later(seconds=2))
    assert first.receipt == second.receipt


def test_a_request_asked_anew_voids_the_screen_of_the_old_one(asked: Day) -> None:
    seen = asked.open()
    asked.later(seconds=5)
    asked.request("Changed my mind about the note.")
    with pytest.raises(NotSignedError, match="Open the facts"):
        jobs.sign_off(asked.office, DISPATCHER, asked.flight_id, asked.desk_signature(seen), at=asked.now)


def test_a_question_goes_back_and_a_new_request_is_answered(asked: Day) -> None:
    jobs.send_back(
        asked.office,
        DISPATCHER,
        asked.flight_id,
        pin=demo.DEMO_PIN,
        event_id=asked.event(),
        question="Who else refused it?",
        at=asked.now,
    )
    assert asked.card().status is Status.SENT_BACK
    assert asked.card().question == "Who else refused it?"
    assert jobs.queue(asked.office, DISPATCHER, at=asked.now) == ()
    asked.later(minutes=1)
    asked.request("An instructor from elsewhere.")
    assert asked.card().status is Status.SIGN_OFF_REQUESTED
    assert asked.sign().entry.header.kind == "signed"


@pytest.mark.parametrize("text", ["", "  \n ", "x" * 501])
def test_a_no_needs_a_reason_of_reasonable_length(asked: Day, text: str) -> None:
    with pytest.raises(NotSignedError, match="reason"):
        jobs.refuse(
            asked.office,
            DISPATCHER,
            asked.flight_id,
            pin=demo.DEMO_PIN,
            event_id=asked.event(),
            reason=text,
            at=asked.now,
        )


def test_a_refusal_shows_at_the_next_briefing_of_the_same_pilot(asked: Day) -> None:
    jobs.refuse(
        asked.office,
        DISPATCHER,
        asked.flight_id,
        pin=demo.DEMO_PIN,
        event_id=asked.event(),
        reason="Gusts.",
        at=asked.now,
    )
    asked.later(minutes=3)
    again = jobs.begin_draft(asked.office, "another-flight", jobs.Start(pilot_id=PILOT), at=asked.now)
    seen = jobs.brief(asked.office, again.draft_id, at=asked.now)
    assert seen.refused_at is not None
    assert seen.sheet.value("refused_today") is True
    tomorrow = jobs.brief(asked.office, again.draft_id, at=asked.now + timedelta(days=1))
    assert tomorrow.refused_at is None


def test_a_pilots_own_decline_is_not_held_against_them(day: Day) -> None:
    jobs.decline(day.office, day.flight_id, day.signature(), reason="Tired", at=day.now)
    start = jobs.Start(PILOT, AIRCRAFT, "larkfield", CIRCUITS)
    jobs.begin_draft(day.office, "own-next", start, at=day.now)
    jobs.begin_draft(day.office, "others-next", jobs.Start(OTHER_PILOT, AIRCRAFT), at=day.now)
    assert jobs.brief(day.office, "own-next", at=day.now).refused_at is None
    assert jobs.brief(day.office, "others-next", at=day.now).refused_at is not None


def test_health_answers_are_seen_by_the_signer_and_by_nobody_else(asked: Day) -> None:
    signer, onlooker = asked.open(DISPATCHER), asked.open(SAFETY)
    assert signer.reads_health
    assert signer.sheet.value("sleeps") is not None
    assert not onlooker.reads_health
    assert onlooker.sheet.value("sleeps") is None
    for told in (onlooker.entries, onlooker.then, onlooker.now_data):
        assert "sleep" not in str(told).lower()
    assert onlooker.then["level"] == signer.then["level"]
    viewed = [entry for entry in asked.office.store.entries(subject=asked.flight_id) if entry.header.kind == "viewed"]
    assert [(entry.header.actor, entry.body.value["health_answers"]) for entry in viewed if entry.body] == [
        (DISPATCHER, True),
        (SAFETY, False),
    ]


def test_who_has_nothing_to_do_with_a_flight_cannot_open_it(asked: Day) -> None:
    for person_id in (OTHER_PILOT, "nobody-known", ADMINISTRATOR):
        with pytest.raises(NotShownError):
            asked.open(person_id)


def test_a_person_without_a_role_sees_no_board(asked: Day) -> None:
    with pytest.raises(NotShownError):
        jobs.board(asked.office, "nobody-known", at=asked.now)


def test_the_edits_that_led_to_the_request_are_shown_with_what_they_moved(day: Day) -> None:
    day.enter("weather", gust_kt=39, wind_kt=20)
    day.later(seconds=40)
    day.enter("weather", gust_kt=22)
    day.enter("pressures", anything_else="Gusts come and go.")
    day.request()
    seen = day.open()
    (gust,) = [edit for edit in seen.edits if edit.field == "gust_kt" and edit.before == 39]
    assert gust.after == 22
    assert gust.eased
    assert gust.was is not None
    assert gust.was.decision is Decision.no_go
    assert not any(edit.before is None for edit in seen.edits)


def test_a_limit_that_nobody_may_waive_is_not_waived(day: Day) -> None:
    day.enter("aircraft", preflight_done=False)
    with pytest.raises(NotSignedError, match="no-go"):
        day.request()


@pytest.fixture
def stopped(day: Day) -> Day:
    """A flight that only a limit stops which the chief instructor may waive: twelve hours of work."""
    day.enter("pilot", duty_started_at=(day.now - timedelta(hours=13)).isoformat())
    return day


def test_a_waiver_is_signed_by_whom_the_clause_names_and_still_needs_a_signature(stopped: Day) -> None:
    stopped.request("Ferry only.")
    seen = stopped.open(CHIEF)
    assert [limit.waived for limit in seen.waivable] == [False]
    assert not seen.may_sign.allowed
    clause = seen.waivable[0].clause
    mine = stopped.open(DISPATCHER)
    with pytest.raises(NotSignedError, match="may be signed by"):
        _waive(stopped, DISPATCHER, mine, clause)
    _waive(stopped, CHIEF, seen, clause)
    with pytest.raises(NotSignedError, match="Look again"):
        jobs.sign_off(stopped.office, CHIEF, stopped.flight_id, stopped.desk_signature(seen), at=stopped.now)
    signed = stopped.sign(CHIEF)
    assert signed.entry.body is not None
    assert signed.entry.body.value["waived"] == [clause]
    stopped.take()
    stopped.release()
    assert stopped.card().void == ()
    assert jobs.recheck(stopped.office).findings == ()


def test_a_waiver_belongs_to_one_request(stopped: Day) -> None:
    stopped.request()
    seen = stopped.open(CHIEF)
    _waive(stopped, CHIEF, seen, seen.waivable[0].clause)
    stopped.later(minutes=1)
    stopped.request()
    again = stopped.open(CHIEF)
    assert [limit.waived for limit in again.waivable] == [False]
    assert not again.may_sign.allowed


def test_a_waiver_for_something_that_does_not_stop_the_flight_is_refused(stopped: Day) -> None:
    stopped.request()
    seen = stopped.open(CHIEF)
    for clause in ("fuel_reserve", "no such limit", ""):
        with pytest.raises(NotSignedError, match="not a limit that stops"):
            _waive(stopped, CHIEF, seen, clause)


def _waive(day: Day, person_id: str, seen: jobs.Review, clause: str) -> jobs.Signed:
    return jobs.waive(
        day.office,
        person_id,
        day.flight_id,
        clause,
        reason="Fresh crew change at the field.",
        pin=demo.DEMO_PIN,
        event_id=day.event(),
        shown_at=seen.shown_at,
        shown_digest=seen.shown_digest,
        at=day.now,
    )


@pytest.mark.parametrize(
    ("about", "pilot_id", "aircraft_id", "route_id", "met"),
    [
        ({RefusedFor.pilot}, PILOT, "LRS-04", None, True),
        ({RefusedFor.pilot}, OTHER_PILOT, AIRCRAFT, CIRCUITS, False),
        ({RefusedFor.aircraft}, OTHER_PILOT, AIRCRAFT, None, True),
        ({RefusedFor.aircraft}, PILOT, "LRS-04", CIRCUITS, False),
        ({RefusedFor.route}, OTHER_PILOT, "LRS-04", CIRCUITS, True),
        ({RefusedFor.route}, PILOT, AIRCRAFT, None, False),
        (set(RefusedFor), OTHER_PILOT, AIRCRAFT, None, True),
    ],
)
def test_a_no_is_held_against_what_it_is_about(
    asked: Day, about: set[RefusedFor], pilot_id: str, aircraft_id: str, route_id: str | None, met: bool
) -> None:
    no = {"pin": demo.DEMO_PIN, "event_id": asked.event(), "reason": "No.", "about": frozenset(about)}
    jobs.refuse(asked.office, DISPATCHER, asked.flight_id, at=asked.now, **no)  # type: ignore[arg-type]
    jobs.begin_draft(asked.office, "next-flight", jobs.Start(pilot_id, aircraft_id, None, route_id), at=asked.now)
    assert (jobs.brief(asked.office, "next-flight", at=asked.now).refused_at is not None) is met


def test_a_signature_that_would_end_at_once_is_not_given(asked: Day) -> None:
    body = {"kind": "aircraft", "id": AIRCRAFT, "before": {}, "after": {"open_defects": []}, "why": "test"}
    seen = asked.open()
    asked.office.store.append(
        Intent("fact_changed", asked.event(), asked.now, DISPATCHER, "dispatcher", f"aircraft {AIRCRAFT}", body)  # type: ignore[arg-type]
    )
    with pytest.raises(NotSignedError, match=r"would end at once.*open defects changed"):
        jobs.sign_off(asked.office, DISPATCHER, asked.flight_id, asked.desk_signature(seen), at=asked.now)


def test_a_clock_that_was_set_back_signs_nothing(asked: Day) -> None:
    seen = asked.open()
    earlier = asked.now - timedelta(minutes=3)
    with pytest.raises(NotSignedError, match="clock says"):
        jobs.refuse(
            asked.office,
            DISPATCHER,
            asked.flight_id,
            pin=demo.DEMO_PIN,
            event_id=asked.event(),
            reason="No.",
            at=earlier,
        )
    assert jobs.sign_off(asked.office, DISPATCHER, asked.flight_id, asked.desk_signature(seen), at=asked.now)
