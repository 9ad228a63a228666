"""What the record proves about the people of the school, and how it reads."""

from collections.abc import Mapping
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from riskboard import jobs
from riskboard.app.widgets.log_people import people_line
from riskboard.ledger import Intent
from riskboard.words import Role
from tests.people.conftest import (
    ADMINISTRATOR,
    DISPATCHER,
    INSTRUCTOR,
    NEW_PASSPHRASE,
    NEW_PIN,
    RENTER,
    House,
)

ZONE = ZoneInfo("America/Denver")
NAMES = {ADMINISTRATOR: "Edda Quaye", INSTRUCTOR: "Mara Oduya"}


def put(house: House, kind: str, actor: str, role: str, subject: str, body: Mapping[str, Any]) -> None:
    """A record that somebody who owns the store wrote past every job."""
    house.office.store.append(
        Intent(
            kind=kind,
            event_id=f"by-hand-{house.size()}",
            at=house.now,
            actor=actor,
            role=role,
            subject=f"person {subject}",
            body={"person": subject, **body},
        )
    )


GIVEN = {"role": "administrator", "from": "2026-05-04T16:00:00Z", "until": None, "why": ""}


@pytest.mark.parametrize(
    ("kind", "actor", "role", "subject", "body", "said"),
    [
        ("role_given", INSTRUCTOR, "administrator", RENTER, GIVEN, "did not hold the role administrator"),
        ("role_given", INSTRUCTOR, "instructor", INSTRUCTOR, GIVEN, "gave themselves a role"),
        ("role_given", ADMINISTRATOR, "administrator", ADMINISTRATOR, GIVEN, "gave themselves a role"),
        ("role_given", INSTRUCTOR, "self", RENTER, GIVEN, "as if it were their own"),
        ("access_changed", INSTRUCTOR, "self", RENTER, {"change": "PIN set"}, "as if it were their own"),
        ("access_changed", DISPATCHER, "administrator", RENTER, {"change": "PIN taken away"}, "did not hold"),
    ],
)
def test_a_record_written_past_the_jobs_is_named_when_the_log_is_verified(
    house: House, kind: str, actor: str, role: str, subject: str, body: Mapping[str, Any], said: str
) -> None:
    put(house, kind, actor, role, subject, body)
    findings = [finding for finding in jobs.verify_log(house.office) if finding.seq == house.size()]
    assert [said in str(finding) for finding in findings] == [True]


def test_everything_that_the_jobs_put_down_verifies(house: House) -> None:
    office, at = house.office, house.now
    edda = house.caller(ADMINISTRATOR)
    new = jobs.add_person(office, edda, "Pavel Sirin", "pavel", house.signature(), at=at)
    token = jobs.use_code(office, "pavel", new.code, NEW_PASSPHRASE, NEW_PIN, at=at)
    pavel = jobs.caller(office, token, at=at)
    assert pavel is not None
    jobs.give_role(office, edda, pavel.person_id, Role.dispatcher, house.signature(), at=at)
    jobs.set_own_pin(office, pavel, NEW_PIN, "7306", event_id="own-pin", at=at)
    jobs.end_role(office, edda, pavel.person_id, Role.dispatcher, at, house.signature(), at=at)
    jobs.link_identity(office, edda, pavel.person_id, "https://id.invented.example", "s", house.signature(), at=at)
    jobs.close_account(office, edda, pavel.person_id, house.signature(), at=at)
    jobs.reopen_account(office, edda, pavel.person_id, house.signature(), at=at)
    assert jobs.verify_log(office) == []


@pytest.mark.parametrize(
    ("kind", "actor", "subject", "body", "line"),
    [
        (
            "role_given",
            ADMINISTRATOR,
            INSTRUCTOR,
            {
                "role": "dispatcher",
                "from": "2026-05-04T16:00:00Z",
                "until": "2026-05-06T06:00:00Z",
                "why": "Leave",
            },
            "Edda Quaye gave Mara Oduya the role dispatcher, from 04 May 2026 10:00 until 06 May 2026 00:00. Leave",
        ),
        (
            "role_ended",
            ADMINISTRATOR,
            "gone",
            {"role": "renter", "from": "2026-05-04T16:00:00Z", "ended": "2026-05-04T17:00:00Z", "why": ""},
            "Edda Quaye ended the role renter of gone, at 04 May 2026 11:00.",
        ),
        (
            "access_changed",
            INSTRUCTOR,
            INSTRUCTOR,
            {"change": "passphrase changed"},
            "Mara Oduya, about themselves: passphrase changed.",
        ),
        (
            "access_changed",
            ADMINISTRATOR,
            INSTRUCTOR,
            {},
            "Edda Quaye changed what Mara Oduya may do or how they come in.",
        ),
    ],
)
def test_a_record_about_people_reads_as_a_sentence(
    kind: str, actor: str, subject: str, body: Mapping[str, Any], line: str
) -> None:
    assert people_line(kind, actor, f"person {subject}", body, NAMES, ZONE) == line
