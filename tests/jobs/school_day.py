"""A day at the invented school, called as an attacker or a hurried person would call it: straight at the core."""

import itertools
import json
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from riskboard import demo, jobs
from riskboard.jobs import entering
from riskboard.ledger import Intent
from riskboard.ledger.store import AccountRecord
from riskboard.people.roles import SUBJECT
from riskboard.run_up import RunUpSeen
from riskboard.words import Role
from tests.run_up.samples import RUN_UP

PILOT, OTHER_PILOT = "mara-oduya", "tobin-reyes-hall"
DISPATCHER, CHIEF, SAFETY = "wendell-achterberg", "sigrun-palo", "noor-farrant"
MAINTENANCE = "joss-okonjo-lind"
ADMINISTRATOR = "test-administrator"
FLIGHT, AIRCRAFT, CIRCUITS = "morning-flight", "LRS-01", "larkfield-circuits"

_ROLES = {
    PILOT: ("instructor", "renter"),
    OTHER_PILOT: ("renter",),
    DISPATCHER: ("dispatcher",),
    CHIEF: ("chief_instructor", "instructor"),
    SAFETY: ("safety_officer",),
    ADMINISTRATOR: ("administrator",),
    MAINTENANCE: ("maintenance",),
}


def caller_of(office: jobs.Office, person_id: str, at: datetime) -> jobs.Caller:
    """A session of a person of the school, without the trouble of a passphrase."""
    if office.store.get_account(person_id) is None:
        office.store.put_account(AccountRecord(person_id, person_id, "", "", "", at), at=at)
    found = entering.caller(office, entering.open_session(office, person_id, "passphrase", at), at=at)
    assert found is not None
    return found


def give(office: jobs.Office, person_id: str, role: str, at: datetime, until: datetime | None = None) -> None:
    """Put a role on record, as the set-up of a school does."""
    office.store.append(
        Intent(
            kind="role_given",
            event_id=f"give {person_id} {role} {at.isoformat()}",
            at=at,
            actor="riskboard",
            role="installer",
            subject=f"{SUBJECT}{person_id}",
            body={
                "person": person_id,
                "role": role,
                "from": _iso(at),
                "until": None if until is None else _iso(until),
                "why": "test",
            },
        )
    )


def end(office: jobs.Office, person_id: str, role: str, at: datetime) -> None:
    """End a role."""
    office.store.append(
        Intent(
            kind="role_ended",
            event_id=f"end {person_id} {role} {at.isoformat()}",
            at=at,
            actor=ADMINISTRATOR,
            role="administrator",
            subject=f"{SUBJECT}{person_id}",
            body={"person": person_id, "role": role, "ended": _iso(at), "why": "test"},
        )
    )


def _iso(moment: datetime) -> str:
    return moment.isoformat().replace("+00:00", "Z")


def papers(office: jobs.Office, person_id: str, at: datetime, **pilot: object) -> None:
    """Change stored facts of a person, without a record (the records of facts have tests of their own)."""
    found = jobs.document(office, "person", person_id)
    found["pilot"] = found["pilot"] | pilot
    office.store.put_document("person", person_id, json.dumps(found), at=at)


@dataclass
class Day:
    """The school, its clock, and one draft that its pilot fills in.

    Attributes:
        office: The school.
        now: What the clock says; tests move it on.
        flight_id: The draft.
    """

    office: jobs.Office
    now: datetime
    flight_id: str
    _events: Any = field(default_factory=lambda: itertools.count(1))

    def later(self, **span: float) -> datetime:
        self.now += timedelta(**span)
        return self.now

    def event(self) -> str:
        return f"event-{next(self._events)}"

    def enter(self, part: str, **entries: object) -> None:
        jobs.save_entries(self.office, self.flight_id, part, entries, at=self.now)

    def signature(self, person_id: str = PILOT, *, pin: str = demo.DEMO_PIN) -> jobs.Signature:
        shown = jobs.brief(self.office, self.flight_id, at=self.now)
        return jobs.Signature(person_id, pin, self.event(), self.now, shown.digest)

    def request(self, note: str = "") -> jobs.Signed:
        return jobs.request_sign_off(self.office, self.flight_id, self.signature(), note=note, at=self.now)

    def accept(self) -> jobs.Signed:
        return jobs.accept(self.office, self.flight_id, self.signature(), at=self.now)

    def open(self, person_id: str = DISPATCHER) -> jobs.Review:
        return jobs.open_request(self.office, person_id, self.flight_id, event_id=self.event(), at=self.now)

    def desk_signature(self, seen: jobs.Review, **changes: Any) -> jobs.DeskSignature:
        given: dict[str, Any] = {
            "pin": demo.DEMO_PIN,
            "event_id": self.event(),
            "shown_at": seen.shown_at,
            "shown_digest": seen.shown_digest,
            "entries_accurate": True,
            "can_be_made_safely": True,
            "awake_since": self.now - timedelta(hours=3),
            "on_duty_since": self.now - timedelta(hours=1),
        }
        return jobs.DeskSignature(**given | changes)

    def sign(self, person_id: str = DISPATCHER, *conditions: str, **changes: Any) -> jobs.Signed:
        seen = self.open(person_id)
        signature = self.desk_signature(seen, **changes)
        return jobs.sign_off(self.office, person_id, self.flight_id, signature, conditions=conditions, at=self.now)

    def take(self, person_id: str = PILOT) -> jobs.Signed:
        shown = jobs.signed_digest(self.office, self.flight_id)
        signature = jobs.Signature(person_id, demo.DEMO_PIN, self.event(), self.now, shown)
        return jobs.accept_signed(self.office, self.flight_id, signature, at=self.now)

    def release(self, person_id: str = PILOT) -> jobs.Signed:
        return jobs.release(self.office, person_id, self.flight_id, event_id=self.event(), at=self.now)

    def run_up(self, person_id: str = PILOT, event_id: str = "", **changed: Any) -> jobs.RunUpResult:
        """Enter a run-up: all as it should be, save what is changed."""
        return jobs.run_up(
            self.office,
            caller_of(self.office, person_id, self.now),
            self.flight_id,
            RunUpSeen(**{**RUN_UP, **changed}),
            event_id=event_id or self.event(),
            at=self.now,
        )

    def leave(self, person_id: str = PILOT) -> jobs.Signed:
        """Note that it left; crew enter a good run-up first."""
        card = jobs.flight_card(self.office, self.flight_id, at=self.now)
        if person_id == card.pilot_id and card.run_up == "none on record":
            self.run_up(person_id)
        return self.leave_at_once(person_id)

    def leave_at_once(self, person_id: str = PILOT) -> jobs.Signed:
        return jobs.took_off(self.office, person_id, self.flight_id, event_id=self.event(), at=self.now)

    def card(self) -> jobs.FlightCard:
        return jobs.flight_card(self.office, self.flight_id, at=self.now)

    def kinds(self) -> list[str]:
        return [entry.header.kind for entry in self.office.store.entries(subject=self.flight_id)]


def staff(office: jobs.Office, at: datetime) -> None:
    """Give the school's people their roles, and the chief instructor current papers."""
    for person_id, roles in _ROLES.items():
        for role in roles:
            if Role(role) not in jobs.roles_of(office, person_id, at):
                give(office, person_id, role, at)
    for person_id in (CHIEF, PILOT):
        papers(office, person_id, at, instructor_experience_on="2026-01-15", instructor_period_ends_on="none")
