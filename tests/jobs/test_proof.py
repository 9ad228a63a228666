"""A record that links well but comes from somebody who might not make it then is found by verifying."""

from datetime import timedelta

import pytest

from riskboard import jobs
from riskboard.ledger import Intent
from riskboard.ledger.finding import FindingKind
from tests.jobs.school_day import CHIEF, DISPATCHER, OTHER_PILOT, PILOT, Day, end, give


@pytest.fixture
def asked(day: Day) -> Day:
    day.enter("pressures", anything_else="The customer asked to film from the skids.")
    day.request()
    return day


def forge(day: Day, kind: str, actor: str, role: str, **body: object) -> int:
    """Put a well-linked record into the store past every rule, as whoever owns the store could."""
    intent = Intent(kind, day.event(), day.now, actor, role, day.flight_id, body)  # type: ignore[arg-type]
    return day.office.store.append(intent)[0].seq


def findings(day: Day) -> list[tuple[FindingKind, int]]:
    return [(finding.kind, finding.seq) for finding in jobs.verify_log(day.office)]


def test_a_whole_day_by_the_rules_has_no_finding(asked: Day) -> None:
    asked.sign(DISPATCHER, "Land by noon")
    asked.take()
    asked.release(DISPATCHER)
    asked.leave()
    assert findings(asked) == []


@pytest.mark.parametrize(
    ("kind", "actor", "role"),
    [
        ("signed", PILOT, "dispatcher"),
        ("signed", OTHER_PILOT, "dispatcher"),
        ("signed", DISPATCHER, "chief_instructor"),
        ("waived", DISPATCHER, "chief_instructor"),
        ("refused", OTHER_PILOT, "instructor"),
        ("released", OTHER_PILOT, "dispatcher"),
        ("took_off", OTHER_PILOT, "pilot"),
        ("role_given", OTHER_PILOT, "administrator"),
    ],
)
def test_a_forged_signer_is_named(asked: Day, kind: str, actor: str, role: str) -> None:
    seq = forge(asked, kind, actor, role)
    assert findings(asked) == [(FindingKind.NOT_AUTHORISED, seq)]


def test_a_forged_acceptance_by_somebody_else_is_found(asked: Day) -> None:
    one = forge(asked, "accepted", OTHER_PILOT, "pilot", start={"pilot_id": PILOT})
    assert findings(asked) == [(FindingKind.NOT_AUTHORISED, one)]


def test_a_role_given_afterwards_does_not_make_an_earlier_signature_good(asked: Day) -> None:
    seq = forge(asked, "signed", OTHER_PILOT, "dispatcher")
    asked.later(minutes=1)
    give(asked.office, OTHER_PILOT, "dispatcher", asked.now - timedelta(hours=1))
    assert (FindingKind.NOT_AUTHORISED, seq) in findings(asked)


def test_a_signature_given_before_the_role_ended_stays_good(asked: Day) -> None:
    asked.sign(CHIEF)
    asked.later(minutes=1)
    end(asked.office, CHIEF, "chief_instructor", asked.now)
    end(asked.office, CHIEF, "instructor", asked.now)
    assert findings(asked) == []
