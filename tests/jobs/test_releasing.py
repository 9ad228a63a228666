"""From a yes to the aircraft, and everything that ends a yes on the way."""

from datetime import timedelta
from typing import Any

import pytest

from riskboard import demo, jobs
from riskboard.assessment.validity import if_left_now
from riskboard.jobs import NotSignedError
from riskboard.ledger import Intent, Status
from riskboard.ledger.store import PolicyText
from riskboard.policy import load_policy
from tests.jobs.school_day import AIRCRAFT, CHIEF, CIRCUITS, DISPATCHER, FLIGHT, OTHER_PILOT, PILOT, SAFETY, Day

WORRY = "The customer asked to film from the skids."


@pytest.fixture
def accepted(day: Day) -> Day:
    day.accept()
    day.later(minutes=1)
    return day


@pytest.fixture
def out(accepted: Day) -> Day:
    accepted.release()
    accepted.later(minutes=9)
    accepted.leave()
    return accepted


def fact_changed(day: Day, kind: str, identity: str, **after: Any) -> None:
    day.office.store.append(
        Intent(
            kind="fact_changed",
            event_id=day.event(),
            at=day.now,
            actor=DISPATCHER,
            role="dispatcher",
            subject=f"{kind} {identity}",
            body={"kind": kind, "id": identity, "before": {}, "after": after, "why": "test"},
        )
    )


def test_a_go_is_accepted_released_and_leaves(out: Day) -> None:
    assert out.kinds() == ["accepted", "released", "run_up", "took_off"]
    card = out.card()
    assert (card.status, card.took_off_at, card.overdue_min) == (Status.AIRBORNE, out.now, None)


def test_nothing_leaves_without_a_release_and_nothing_is_released_without_a_yes(day: Day) -> None:
    with pytest.raises(NotSignedError, match="Nothing is on record"):
        day.release()
    day.enter("pressures", anything_else=WORRY)
    day.request()
    for step in (day.release, day.leave):
        with pytest.raises(NotSignedError, match="Mara Oduya asked for a sign-off"):
            step()
    day.sign()
    with pytest.raises(NotSignedError, match="no accepted yes"):
        day.release()
    day.take()
    with pytest.raises(NotSignedError, match="was not released"):
        day.leave()


@pytest.mark.parametrize("person_id", [OTHER_PILOT, SAFETY, "nobody-known"])
def test_the_aircraft_is_handed_over_by_the_pilot_or_the_desk_only(accepted: Day, person_id: str) -> None:
    with pytest.raises(NotSignedError, match="handed over by"):
        accepted.release(person_id)
    assert accepted.release(DISPATCHER).entry.header.role == "dispatcher"


def test_only_the_pilot_takes_what_was_signed_and_only_as_shown(day: Day) -> None:
    day.enter("pressures", anything_else=WORRY)
    day.request()
    day.sign(DISPATCHER, "Land by noon")
    with pytest.raises(NotSignedError, match="Only the pilot in command"):
        day.take(DISPATCHER)
    other = jobs.Signature(PILOT, demo.DEMO_PIN, day.event(), day.now, "0" * 64)
    with pytest.raises(NotSignedError, match="Look again"):
        jobs.accept_signed(day.office, day.flight_id, other, at=day.now)
    assert day.card().status is Status.SIGNED


def test_an_acceptance_ends_by_time(accepted: Day) -> None:
    until = accepted.card().valid_until
    assert until is not None
    accepted.now = until
    assert accepted.card().void == ()
    accepted.later(seconds=1)
    assert accepted.card().status is Status.LAPSED
    with pytest.raises(NotSignedError, match="It held until"):
        accepted.release()


def test_a_flight_that_leaves_late_is_judged_by_the_later_light(accepted: Day) -> None:
    card = accepted.card()
    assert card.take_off_at is not None
    assert card.landing_at is not None
    accepted.release()
    accepted.now = card.take_off_at + timedelta(minutes=12)
    accepted.leave()
    accepted.now = card.landing_at + timedelta(minutes=41)
    assert accepted.card().overdue_min is None
    accepted.later(minutes=2)
    assert accepted.card().overdue_min == 1


def test_the_same_flight_hours_later_is_judged_at_its_later_hour(accepted: Day) -> None:
    signed = jobs.brief(accepted.office, FLIGHT, at=accepted.now)
    late = accepted.now + timedelta(hours=8)
    moved = if_left_now(signed.sheet, late)
    assert moved.plan.take_off_at == late
    assert moved.plan.landing_at is not None
    assert signed.sheet.plan.landing_at is not None
    assert signed.sheet.plan.take_off_at is not None
    assert moved.plan.landing_at - late == signed.sheet.plan.landing_at - signed.sheet.plan.take_off_at
    found, _ = jobs.decide(jobs.policy_for(accepted.office, moved, late), moved, late)
    assert signed.assessment is not None
    assert found is not None
    assert found.decision > signed.assessment.decision


def test_it_ends_by_the_age_of_its_weather(day: Day) -> None:
    observed = day.now - timedelta(minutes=50)
    day.enter("weather", observed_at=observed.isoformat())
    day.accept()
    until = day.card().valid_until
    assert until is not None
    assert until <= observed + timedelta(minutes=75)
    assert until - day.now < timedelta(minutes=60)


@pytest.mark.parametrize(
    ("kind", "identity"),
    [("aircraft", AIRCRAFT), ("person", PILOT), ("site", "larkfield"), ("route", CIRCUITS)],
)
def test_it_ends_when_a_fact_it_rests_on_changes(accepted: Day, kind: str, identity: str) -> None:
    fact_changed(accepted, kind, identity, open_defects=[])
    card = accepted.card()
    assert card.status is Status.LAPSED
    assert "open defects changed at" in card.void[0]
    with pytest.raises(NotSignedError, match="open defects changed"):
        accepted.release()


def test_a_release_is_withdrawn_when_a_fact_changes_before_departure(accepted: Day) -> None:
    accepted.release()
    fact_changed(accepted, "aircraft", AIRCRAFT, open_defects=[{"text": "Oil on the skid"}])
    card = accepted.card()
    assert card.status is Status.RELEASED
    assert card.void
    with pytest.raises(NotSignedError, match="Brief it again"):
        accepted.leave()


def test_facts_of_others_change_nothing(accepted: Day) -> None:
    fact_changed(accepted, "aircraft", "LRS-04", open_defects=[])
    fact_changed(accepted, "person", OTHER_PILOT, medical_exam_on="2026-01-01")
    assert accepted.card().void == ()
    accepted.release()


def other_flight(day: Day, flight_id: str, *, pilot_id: str = OTHER_PILOT, aircraft_id: str = "LRS-04") -> Day:
    """Another flight with the same answers, by another pilot in another aircraft."""
    kept = jobs.brief(day.office, FLIGHT, at=day.now).data
    jobs.begin_draft(day.office, flight_id, jobs.Start(pilot_id, aircraft_id, "larkfield", CIRCUITS), at=day.now)
    for part in ("pilot", "aircraft", "weather", "plan", "pressures"):
        jobs.save_entries(day.office, flight_id, part, kept[part], at=day.now)
    return Day(day.office, day.now, flight_id, day._events)


def sign_as(day: Day, pilot_id: str) -> jobs.Signed:
    return jobs.accept(day.office, day.flight_id, day.signature(pilot_id), at=day.now)


def test_it_ends_when_a_newer_observation_is_on_record_for_the_place(accepted: Day) -> None:
    other = other_flight(accepted, "others-flight")
    observed = other.now - timedelta(seconds=20)
    other.enter("weather", observed_at=observed.isoformat())
    sign_as(other, OTHER_PILOT)
    assert "newer observation" in accepted.card().void[0]
    with pytest.raises(NotSignedError, match="newer observation"):
        accepted.release()


def test_it_ends_with_the_policy_it_was_given_under(accepted: Day) -> None:
    shown = jobs.policy_for(accepted.office, jobs.brief(accepted.office, FLIGHT, at=accepted.now).sheet, accepted.now)
    text = shown.policy.text.replace("version: 1\n", "version: 2\n", 1)
    newer = load_policy(text, name="newer")
    stored = PolicyText(newer.digest, newer.id, newer.version, newer.text, accepted.now)
    accepted.office.store.publish_policy(stored)
    assert accepted.card().void == ("Another policy is in force since.",)


def test_an_aircraft_is_out_once(out: Day) -> None:
    other = other_flight(out, "same-aircraft", aircraft_id=AIRCRAFT)
    sign_as(other, OTHER_PILOT)
    with pytest.raises(NotSignedError, match="out on another flight"):
        other.release(OTHER_PILOT)


def test_a_pilot_is_out_once(out: Day) -> None:
    other = other_flight(out, "same-pilot", pilot_id=PILOT)
    other.enter("aircraft", registration="LRS-04")
    sign_as(other, PILOT)
    with pytest.raises(NotSignedError, match="crew is out"):
        other.release(PILOT)


def test_a_flight_under_way_cannot_be_signed_anew(out: Day) -> None:
    with pytest.raises(NotSignedError, match="has left"):
        out.accept()
    with pytest.raises(NotSignedError, match="cannot be called off"):
        jobs.cancel(out.office, PILOT, FLIGHT, event_id=out.event(), reason="Rain", at=out.now)


def test_whoever_must_may_call_off_a_flight_that_has_not_left(accepted: Day) -> None:
    for person_id, reason in ((OTHER_PILOT, "Mine"), (CHIEF, " ")):
        with pytest.raises(NotSignedError):
            jobs.cancel(accepted.office, person_id, FLIGHT, event_id=accepted.event(), reason=reason, at=accepted.now)
    jobs.cancel(accepted.office, CHIEF, FLIGHT, event_id=accepted.event(), reason="Fuel truck down", at=accepted.now)
    assert accepted.card().status is Status.CANCELLED
    with pytest.raises(NotSignedError, match="Sigrun Palo called it off"):
        accepted.release()


def test_a_called_off_flight_may_be_briefed_and_accepted_anew(accepted: Day) -> None:
    jobs.cancel(accepted.office, PILOT, FLIGHT, event_id=accepted.event(), reason="Fuel", at=accepted.now)
    accepted.accept()
    assert accepted.card().status is Status.ACCEPTED


def test_an_aircraft_that_has_not_come_back_is_an_alarm(out: Day) -> None:
    landing = out.card().landing_at
    assert landing is not None
    margin = timedelta(minutes=30)
    out.now = landing + margin
    assert out.card().overdue_min is None
    with pytest.raises(NotSignedError, match="not overdue"):
        step(out)
    out.later(minutes=5)
    assert out.card().overdue_min == 5
    step(out)
    assert out.card().steps_taken == ("Called the field",)
    assert jobs.overdue_steps(out.office, FLIGHT)
    out.later(days=3)
    (first, *_) = jobs.board(out.office, DISPATCHER, at=out.now)
    assert first.flight_id == FLIGHT


def step(day: Day) -> jobs.Signed:
    return jobs.overdue_step(
        day.office, DISPATCHER, day.flight_id, event_id=day.event(), step="Called the field", at=day.now
    )


def test_a_released_aircraft_that_never_reported_leaving_is_overdue_too(accepted: Day) -> None:
    accepted.release()
    landing = accepted.card().landing_at
    assert landing is not None
    accepted.now = landing + timedelta(minutes=31)
    assert accepted.card().overdue_min == 1


def test_a_double_tap_on_each_step_adds_no_record(accepted: Day) -> None:
    for act in (jobs.release, jobs.took_off):
        if act is jobs.took_off:
            accepted.run_up(event_id="run-up")
            accepted.run_up(event_id="run-up")
        event = accepted.event()
        one = act(accepted.office, PILOT, FLIGHT, event_id=event, at=accepted.now)
        other = act(accepted.office, PILOT, FLIGHT, event_id=event, at=accepted.later(seconds=1))
        assert one.receipt == other.receipt
    assert accepted.kinds() == ["accepted", "released", "run_up", "took_off"]


def test_the_board_is_folded_anew_where_the_log_is_another_one(out: Day) -> None:
    fresh = jobs.Office(out.office.store)
    assert jobs.board(fresh, DISPATCHER, at=out.now) == jobs.board(out.office, DISPATCHER, at=out.now)
