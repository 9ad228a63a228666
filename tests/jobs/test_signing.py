"""Accepting, asking, declining: called as an attacker would call them, without any page."""

import json
from dataclasses import replace
from datetime import timedelta
from functools import partial
from typing import Any

import pytest

from riskboard import demo, jobs
from riskboard.jobs.signing import ATTESTATION, SHOWN_FOR, NotSignedError
from riskboard.ledger import DocumentChange, Intent
from riskboard.ledger.errors import RefusedError
from riskboard.ledger.views import Status
from riskboard.words import Decision
from tests.jobs.conftest import DRAFT, PILOT, Desk

NEEDS_SIGN_OFF = {"refused_today": True}
NO_GO = {"preflight_done": False}


def kinds(desk: Desk) -> list[str]:
    return [entry.header.kind for entry in jobs.log_entries(desk.office)]


def signed_kinds(desk: Desk) -> list[str]:
    return [kind for kind in kinds(desk) if kind in ATTESTATION]


def test_the_calm_morning_is_accepted_and_everything_it_rests_on_is_kept(desk: Desk) -> None:
    shown = desk.briefing()
    assert shown.assessment is not None
    assert shown.assessment.decision is Decision.go
    signed = jobs.accept(desk.office, DRAFT, desk.signature(), at=desk.at + timedelta(seconds=40))
    assert signed.entry.body is not None
    body = signed.entry.body.value
    assert body["assessment"] == shown.assessment.as_data()
    assert body["assessment_digest"] == shown.digest
    assert body["words"] == ATTESTATION["accepted"]
    assert body["entries"] == shown.data
    assert body["valid_until"] == shown.assessment.as_data()["valid_until"]
    header = signed.entry.header
    assert (header.kind, header.actor, header.role, header.subject) == ("accepted", "mara-oduya", "pilot", DRAFT)
    assert header.policy_digest == shown.assessment.policy_digest
    assert desk.office.store.get_policy(header.policy_digest) is not None
    assert jobs.verify_log(desk.office, signed.receipt.code) == []
    state = jobs.flight_state(desk.office, DRAFT)
    assert state is not None
    assert state.status_at(desk.at + timedelta(minutes=1)) is Status.ACCEPTED
    assert state.status_at(desk.at + timedelta(hours=3)) is Status.LAPSED


def test_a_double_tap_writes_one_record_and_returns_the_same_receipt(desk: Desk) -> None:
    first = jobs.accept(desk.office, DRAFT, desk.signature(), at=desk.at + timedelta(seconds=1))
    second = jobs.accept(desk.office, DRAFT, desk.signature(), at=desk.at + timedelta(seconds=3))
    assert first.receipt == second.receipt
    assert signed_kinds(desk) == ["accepted"]


def test_the_same_event_cannot_sign_something_else(desk: Desk) -> None:
    jobs.accept(desk.office, DRAFT, desk.signature(), at=desk.at)
    with pytest.raises((RefusedError, NotSignedError)):
        jobs.decline(desk.office, DRAFT, desk.signature(), reason="changed my mind", at=desk.at)
    assert signed_kinds(desk) == ["accepted"]


def test_a_wrong_pin_signs_nothing_and_guessing_is_slowed(desk: Desk) -> None:
    waits = 0
    for attempt in range(12):
        with pytest.raises(NotSignedError) as caught:
            jobs.accept(desk.office, DRAFT, desk.signature(f"event-{attempt}", pin="8351"), at=desk.at)
        waits += "Too many wrong PINs" in str(caught.value)
    assert waits > 0
    with pytest.raises(NotSignedError, match="Too many wrong PINs"):
        jobs.accept(desk.office, DRAFT, desk.signature("event-right"), at=desk.at)
    assert signed_kinds(desk) == []


@pytest.mark.parametrize("person_id", ["tobin-reyes-hall", "wendell-achterberg", "sigrun-palo"])
def test_nobody_answers_for_somebody_elses_flight(desk: Desk, person_id: str) -> None:
    signature = desk.signature(person_id=person_id)
    with pytest.raises(NotSignedError):
        jobs.accept(desk.office, DRAFT, signature, at=desk.at)
    with pytest.raises(NotSignedError):
        jobs.decline(desk.office, DRAFT, signature, reason="no", at=desk.at)
    with pytest.raises(NotSignedError):
        jobs.request_sign_off(desk.office, DRAFT, signature, note="", at=desk.at)
    assert signed_kinds(desk) == []


def test_an_unknown_person_cannot_sign(desk: Desk) -> None:
    with pytest.raises((KeyError, NotSignedError)):
        jobs.accept(desk.office, DRAFT, desk.signature(person_id="nobody"), at=desk.at)


def test_a_no_go_can_be_neither_accepted_nor_asked_for_only_declined(desk: Desk) -> None:
    desk.enter("aircraft", **NO_GO)
    shown = desk.briefing()
    assert shown.assessment is not None
    assert shown.assessment.decision is Decision.no_go
    with pytest.raises(NotSignedError, match="no-go cannot be accepted"):
        jobs.accept(desk.office, DRAFT, desk.signature(), at=desk.at)
    with pytest.raises(NotSignedError, match="no-go cannot be signed off"):
        jobs.request_sign_off(desk.office, DRAFT, desk.signature(), note="please", at=desk.at)
    jobs.decline(desk.office, DRAFT, desk.signature(), reason="Preflight shows oil on the skid", at=desk.at)
    assert signed_kinds(desk) == ["declined"]


def test_a_pilot_may_only_ask_for_a_sign_off(desk: Desk) -> None:
    desk.enter("pressures", **NEEDS_SIGN_OFF)
    shown = desk.briefing()
    assert shown.assessment is not None
    assert shown.assessment.decision is Decision.go_with_sign_off
    with pytest.raises(NotSignedError, match="somebody else's signature"):
        jobs.accept(desk.office, DRAFT, desk.signature(), at=desk.at)
    jobs.request_sign_off(desk.office, DRAFT, desk.signature(), note="Wendell knows", at=desk.at)
    assert signed_kinds(desk) == ["sign_off_requested"]


def test_a_plain_go_needs_no_sign_off(desk: Desk) -> None:
    with pytest.raises(NotSignedError, match="No signature is needed"):
        jobs.request_sign_off(desk.office, DRAFT, desk.signature(), note="", at=desk.at)


def test_a_decline_needs_a_reason_and_nothing_else(desk: Desk) -> None:
    with pytest.raises(NotSignedError, match="Say in a few words"):
        jobs.decline(desk.office, DRAFT, desk.signature(), reason="  ", at=desk.at)
    unshown = replace(desk.signature(), shown_digest="")
    jobs.decline(desk.office, DRAFT, unshown, reason="Not today", at=desk.at)
    assert signed_kinds(desk) == ["declined"]


def test_what_is_signed_is_what_was_on_the_screen(desk: Desk) -> None:
    """A second tab changes the worksheet after the first one was drawn."""
    signature = desk.signature()
    desk.enter("weather", wind_kt=6)
    with pytest.raises(NotSignedError, match="changed since this screen was drawn"):
        jobs.accept(desk.office, DRAFT, signature, at=desk.at)
    assert signed_kinds(desk) == []


def test_an_invented_digest_signs_nothing(desk: Desk) -> None:
    for digest in ("0" * 64, "", "go"):
        with pytest.raises(NotSignedError):
            jobs.accept(desk.office, DRAFT, replace(desk.signature(), shown_digest=digest), at=desk.at)
    assert signed_kinds(desk) == []


@pytest.mark.parametrize("offset", [SHOWN_FOR + timedelta(seconds=1), timedelta(seconds=-1)])
def test_an_old_or_a_future_screen_signs_nothing(desk: Desk, offset: timedelta) -> None:
    with pytest.raises(NotSignedError, match="min old"):
        jobs.accept(desk.office, DRAFT, desk.signature(), at=desk.at + offset)


def test_a_screen_whose_weather_has_expired_since_signs_nothing(desk: Desk) -> None:
    """The screen was drawn when the weather was just fresh enough; by the time of the tap it is not."""
    sheet = desk.briefing().sheet
    observed = sheet.weather.observed_at
    assert observed is not None
    policy = jobs.policy_for(desk.office, sheet, desk.at).policy
    shown_at = observed + timedelta(minutes=policy.weather_age_max_min)
    times = {"take_off_at": shown_at + timedelta(minutes=20), "landing_at": shown_at + timedelta(minutes=70)}
    desk.enter("plan", **{name: moment.isoformat() for name, moment in times.items()})
    shown = desk.briefing(shown_at)
    assert shown.assessment is not None
    assert shown.assessment.decision is not Decision.no_go
    signature = jobs.Signature("mara-oduya", demo.DEMO_PIN, "late-event", shown_at, shown.digest)
    act = jobs.accept if shown.assessment.decision is Decision.go else partial(jobs.request_sign_off, note="")
    with pytest.raises(NotSignedError, match="The decision is now no-go"):
        act(desk.office, DRAFT, signature, at=shown_at + timedelta(minutes=1))
    assert signed_kinds(desk) == []


def test_an_unsound_entry_is_kept_and_decides_nothing(desk: Desk) -> None:
    desk.enter("weather", wind_kt="strong")
    shown = desk.briefing()
    assert shown.assessment is None
    assert [problem.field for problem in shown.problems] == ["wind_kt"]
    assert shown.data["weather"]["wind_kt"] == "strong"
    with pytest.raises(NotSignedError, match="no decision to sign"):
        jobs.accept(desk.office, DRAFT, replace(desk.signature(), shown_digest=""), at=desk.at)


def test_markup_in_a_reason_is_kept_as_text(desk: Desk) -> None:
    reason = "<script>alert(1)</script> =cmd|' /C calc'!A0 \u202etxt"
    signed = jobs.decline(desk.office, DRAFT, desk.signature(), reason=reason, at=desk.at)
    assert signed.entry.body is not None
    assert signed.entry.body.value["note"] == reason


def test_news_that_comes_in_while_it_is_signed_is_looked_at_too(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    """A defect goes on record after the screen was compared and before the signature is written."""
    jobs.choose(desk.office, "with-aircraft", jobs.Start(PILOT, "LRS-01"), at=desk.at)
    data = desk.briefing().data
    for part in ("pilot", "aircraft", "weather", "plan", "pressures"):
        jobs.save_entries(desk.office, "with-aircraft", part, data[part], at=desk.at)
    shown = jobs.brief(desk.office, "with-aircraft", at=desk.at)
    assert shown.assessment is not None
    assert shown.assessment.decision is Decision.go
    append, later = desk.office.store.append, desk.at + timedelta(seconds=2)
    came: list[bool] = []

    def overtaken(intent: Intent, **more: Any) -> Any:
        if intent.kind == "accepted" and not came:
            came.append(True)
            aircraft = jobs.document(desk.office, "aircraft", "LRS-01")
            grounded = {"text": "Oil on the skid", "effect": "grounding"}
            aircraft["aircraft"]["open_defects"] = [grounded]
            aircraft["as_of"] = later.isoformat()
            news = DocumentChange("aircraft", "LRS-01", json.dumps(aircraft))
            body: dict[str, Any] = {"kind": "aircraft", "id": "LRS-01", "after": {"open_defects": []}}
            found = Intent("fact_changed", "news", later, "somebody", "maintenance", "aircraft LRS-01", body)
            append(found, documents=[news])
        return append(intent, **more)

    monkeypatch.setattr(desk.office.store, "append", overtaken)
    signature = jobs.Signature(PILOT, demo.DEMO_PIN, "overtaken", desk.at, shown.digest)
    with pytest.raises(NotSignedError):
        jobs.accept(desk.office, "with-aircraft", signature, at=later)
    assert came
    assert not list(desk.office.store.entries(subject="with-aircraft"))
