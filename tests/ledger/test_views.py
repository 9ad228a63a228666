from datetime import datetime, timedelta
from typing import Any

import pytest

from riskboard.ledger.entry import Entry, Intent, UnreadableError
from riskboard.ledger.views import FlightState, Status, awaiting_sign_off, fold
from tests.ledger.made_logs import NOON, intent, made_log, with_header, without_body


def about(kind: str, minute: int, until: int | None = None, **changes: Any) -> Intent:
    timed = {} if until is None else {"valid_until": NOON + timedelta(minutes=until)}
    fields: dict[str, Any] = {"subject": "flight", "event_id": f"{kind}-{minute}", "timed": timed, **changes}
    return intent(minute, kind=kind, **fields)


def minute(number: float) -> datetime:
    return NOON + timedelta(minutes=number)


def state_after(*intents: Intent) -> FlightState:
    return fold(made_log(*intents))["flight"]


@pytest.mark.parametrize(
    ("kinds", "status"),
    [
        (["briefed"], Status.BRIEFED),
        (["briefed", "sign_off_requested"], Status.SIGN_OFF_REQUESTED),
        (["briefed", "declined"], Status.DECLINED),
        (["briefed", "sign_off_requested", "refused"], Status.REFUSED),
        (["briefed", "accepted", "released"], Status.RELEASED),
        (["briefed", "accepted", "released", "debriefed"], Status.DEBRIEFED),
        (["briefed", "accepted", "briefed"], Status.BRIEFED),
        (["briefed", "waived"], Status.BRIEFED),
    ],
)
def test_the_last_entry_about_the_flight_gives_its_status(kinds: list[str], status: Status) -> None:
    state = state_after(*(about(kind, number) for number, kind in enumerate(kinds, 1)))
    assert state.status is status


def test_an_acceptance_holds_to_its_last_moment_and_then_lapses() -> None:
    state = state_after(about("briefed", 1), about("accepted", 2, until=90))
    assert state.accepted_until == minute(90)
    assert state.status_at(minute(90)) is Status.ACCEPTED
    assert state.status_at(minute(90) + timedelta(microseconds=1)) is Status.LAPSED


def test_of_two_signatures_the_earlier_end_counts_and_a_renewal_replaces_its_own_kind() -> None:
    both = (about("briefed", 1), about("accepted", 2, until=90), about("signed", 3, until=60))
    assert state_after(*both).accepted_until == minute(60)
    assert state_after(*both, about("signed", 4, until=120)).accepted_until == minute(90)


def test_new_facts_void_every_yes_and_keep_every_no() -> None:
    state = state_after(
        about("briefed", 1),
        about("refused", 2),
        about("accepted", 3, until=90),
        about("briefed", 4, policy_digest="cd"),
    )
    assert state.yes == ()
    assert [answer.kind for answer in state.no] == ["refused"]
    assert (state.asked_seq, state.policy_digest, state.since) == (5, "cd", minute(4))


def test_a_no_voids_every_yes_before_it() -> None:
    state = state_after(about("briefed", 1), about("accepted", 2, until=90), about("refused", 3))
    assert state.yes == ()
    assert state.accepted_until is None
    again = state_after(about("briefed", 1), about("refused", 2), about("signed", 3, until=60))
    assert again.status_at(minute(4)) is Status.SIGNED
    assert len(again.no) == 1


def test_a_new_request_voids_what_was_said_to_the_one_before() -> None:
    state = state_after(about("sign_off_requested", 1), about("signed", 2, until=60), about("sign_off_requested", 3))
    assert state.yes == ()
    assert (state.status, state.asked_seq) == (Status.SIGN_OFF_REQUESTED, 4)


def test_the_pilot_takes_what_was_signed_and_the_earlier_end_counts() -> None:
    asked = (about("sign_off_requested", 1), about("signed", 2, until=30))
    taken = about("accepted", 3, body={"answers": 3, "valid_until": "2026-03-01T14:00:00.000000Z"})
    state = state_after(*asked, taken)
    assert [answer.kind for answer in state.yes] == ["signed", "accepted"]
    assert state.asked_seq == 2
    assert state.status_at(minute(30)) is Status.ACCEPTED
    assert state.status_at(minute(31)) is Status.LAPSED


def test_an_acceptance_that_names_no_signature_stands_alone() -> None:
    state = state_after(about("sign_off_requested", 1), about("signed", 2, until=30), about("accepted", 3, until=90))
    assert [answer.kind for answer in state.yes] == ["accepted"]
    assert state.asked_seq == 4


@pytest.mark.parametrize(
    ("kind", "status", "closed"),
    [
        ("sent_back", Status.SENT_BACK, False),
        ("cancelled", Status.CANCELLED, True),
        ("released", Status.RELEASED, False),
        ("took_off", Status.AIRBORNE, False),
        ("debriefed", Status.DEBRIEFED, True),
        ("viewed", Status.ACCEPTED, False),
        ("waived", Status.ACCEPTED, False),
        ("overdue_step", Status.ACCEPTED, False),
    ],
)
def test_each_kind_moves_the_flight_where_it_says(kind: str, status: Status, *, closed: bool) -> None:
    state = state_after(about("accepted", 1, until=90), about(kind, 2))
    assert state.status is status
    assert state.status.closed is closed


@pytest.mark.parametrize("until", [None, "soon", 90, "2026-03-01T13:00:00", ["2026-03-01T13:00:00Z"]])
def test_a_yes_without_a_readable_end_never_holds(until: object) -> None:
    body = {} if until is None else {"valid_until": until}
    state = state_after(about("briefed", 1), about("accepted", 2, body=body))
    assert state.accepted_until is None
    assert state.status_at(minute(2)) is Status.LAPSED


def test_a_yes_whose_body_was_erased_never_holds() -> None:
    log = made_log(about("briefed", 1), about("accepted", 2, until=90), about("signed", 3, until=90))
    log[2] = without_body(log[2])
    assert fold(log)["flight"].status_at(minute(3)) is Status.LAPSED


def test_flights_that_wait_for_a_signature_stand_in_the_order_of_waiting() -> None:
    log = made_log(
        about("sign_off_requested", 1, subject="second-to-none"),
        about("sign_off_requested", 2, subject="signed already"),
        about("sign_off_requested", 3, subject="later"),
        about("signed", 4, until=90, subject="signed already"),
    )
    waiting = awaiting_sign_off(fold(log).values())
    assert [state.subject for state in waiting] == ["second-to-none", "later"]


def test_entries_that_are_not_about_a_flight_have_no_state() -> None:
    assert fold(made_log(about("fact_changed", 1), about("policy_published", 2))) == {}


def test_an_unreadable_header_is_not_passed_over() -> None:
    log: list[Entry] = made_log(about("briefed", 1))
    with pytest.raises(UnreadableError):
        fold([log[0], with_header(log[1], b"{", b"", rehash=True)])
