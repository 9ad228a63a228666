"""What one person may read of the record: health answers only where the rule of authority lets them."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from riskboard.assessment.privacy import HEALTH_FIELDS, health_clauses, without_health, without_health_entries
from riskboard.jobs.flight_log import Flight, Picture
from riskboard.jobs.flights import NotShownError, ask_about
from riskboard.jobs.office import Office, policy_of_digest
from riskboard.jobs.roles import roles_of
from riskboard.ledger import Entry, Receipt, Status
from riskboard.ledger.entry import Header, UnreadableError
from riskboard.ledger.receipt import receipt_for
from riskboard.people.authority import (
    Ask,
    may_export,
    may_open_flight,
    may_read_health,
    may_see_board,
    may_see_people,
)
from riskboard.people.roles import SUBJECT
from riskboard.words import Decision, Role

__all__ = ["ReadRecord", "copy_of_record", "flight_records", "may_take_copy", "read_records"]

_WORKSHEETS = ("entries", "worksheet")


@dataclass(frozen=True)
class ReadRecord:
    """One record as one person may see it.

    Attributes:
        header: Who did what when; the same for everybody at the school.
        body: What was typed, shown and signed, as far as this person may see it; {} where they may not.
        erased: Whether the body is gone.
        whole: Whether nothing was left out.
        receipt: Its receipt.
    """

    header: Header
    body: Mapping[str, Any]
    erased: bool
    whole: bool
    receipt: Receipt


def read_records(office: Office, person_id: str, *, most: int, at: datetime) -> tuple[ReadRecord, ...]:
    """The newest records, newest first.

    Args:
        office: The school.
        person_id: Who reads.
        most: How many at most.
        at: Now.

    Raises:
        NotShownError: They hold no role at the school.
    """
    ruling = may_see_board(roles_of(office, person_id, at))
    if not ruling.allowed:
        raise NotShownError(" ".join(ruling.clauses))
    picture = office.log.look()
    first = picture.head - most + 1 if picture.head > most else 1
    reader = _Reader(office, person_id, picture, at)
    return tuple(reader.read(entry) for entry in office.store.entries(first))[::-1]


def flight_records(office: Office, person_id: str, flight_id: str, *, at: datetime) -> tuple[ReadRecord, ...]:
    """Everything on record about one flight, oldest first.

    Raises:
        NotShownError: They may not see this flight.
    """
    picture = office.log.look()
    reader = _Reader(office, person_id, picture, at)
    flight = picture.flights.get(flight_id)
    if flight is not None:
        ruling = may_open_flight(reader.ask(flight))
        if not ruling.allowed:
            raise NotShownError(" ".join(ruling.clauses))
    return tuple(reader.read(entry) for entry in office.store.entries(subject=flight_id))


def may_take_copy(office: Office, person_id: str, *, at: datetime) -> bool:
    """Whether :func:`copy_of_record` gives this person a copy."""
    return may_export(roles_of(office, person_id, at)).allowed


def copy_of_record(office: Office, person_id: str, *, at: datetime) -> list[list[str | int | None]]:
    """The whole record as a table, a heading row first: headers, decision, level and end, nothing of health.

    Raises:
        NotShownError: They may not take a copy.
    """
    ruling = may_export(roles_of(office, person_id, at))
    if not ruling.allowed:
        raise NotShownError(" ".join(ruling.clauses))
    rows: list[list[str | int | None]] = [list(_COLUMNS)]
    for entry in office.store.entries():
        header, body = entry.header, _body(entry)
        assessment = body.get("assessment")
        said = assessment if isinstance(assessment, Mapping) else {}
        rows.append(
            [
                header.seq,
                header.at.isoformat(),
                header.kind,
                header.actor,
                header.role,
                header.subject,
                said.get("decision"),
                said.get("level"),
                said.get("total"),
                body.get("valid_until"),
                header.policy_digest,
                "yes" if entry.body is None else "no",
                entry.digest,
            ]
        )
    return rows


_COLUMNS = (
    "record",
    "at",
    "kind",
    "actor",
    "role",
    "subject",
    "decision",
    "level",
    "total",
    "valid_until",
    "policy_digest",
    "erased",
    "digest",
)


class _Reader:
    """One person reading, with what was asked of the rules so far."""

    def __init__(self, office: Office, person_id: str, picture: Picture, at: datetime) -> None:
        self.office = office
        self.person_id = person_id
        self.picture = picture
        self.at = at
        self.roles = roles_of(office, person_id, at)
        self.rights: dict[str, tuple[bool, bool]] = {}

    def ask(self, flight: Flight) -> Ask:
        """The question to the rule of authority about one flight."""
        decision = Decision.no_go if flight.decision is None else flight.decision
        return ask_about(
            self.office,
            flight,
            self.person_id,
            self.at,
            decision=decision,
            level=flight.level,
            accepted_by=self._signers(flight),
        )

    def _signers(self, flight: Flight) -> frozenset[Role]:
        """Roles that may sign the flight's level; nobody's once it does not wait."""
        if flight.state.status is not Status.SIGN_OFF_REQUESTED:
            return frozenset()
        try:
            policy = policy_of_digest(self.office, flight.state.policy_digest)
            return frozenset(policy.levels[policy.level_index(flight.level)].accepted_by)
        except KeyError:
            return frozenset()

    def _flight_rights(self, flight: Flight) -> tuple[bool, bool]:
        """Whether they may see the flight, and its health answers."""
        found = self.rights.get(flight.state.subject)
        if found is None:
            ask = self.ask(flight)
            waits = flight.state.status is Status.SIGN_OFF_REQUESTED
            found = may_open_flight(ask).allowed, may_read_health(ask, waits=waits).allowed
            self.rights[flight.state.subject] = found
        return found

    def read(self, entry: Entry) -> ReadRecord:
        """One record as this person may see it."""
        body = _body(entry)
        shown, whole = self._may(entry, body)
        return ReadRecord(entry.header, shown, entry.body is None, whole, receipt_for(entry))

    def _may(self, entry: Entry, body: Mapping[str, Any]) -> tuple[Mapping[str, Any], bool]:
        header = entry.header
        flight = self.picture.flights.get(header.subject)
        if flight is not None:
            opens, reads = self._flight_rights(flight)
            if reads:
                return body, True
            return (_without_health(self.office, body, header.policy_digest), False) if opens else ({}, False)
        own = header.subject == f"{SUBJECT}{self.person_id}"
        if header.kind == "fact_changed":
            if own or (may_see_people(self.roles).allowed and not _tells_health(body)):
                return body, True
            return {}, False
        if header.subject.startswith(SUBJECT):
            return (body, True) if own or may_see_people(self.roles).allowed else ({}, False)
        return body, True


def _body(entry: Entry) -> Mapping[str, Any]:
    try:
        return {} if entry.body is None else entry.body.value
    except UnreadableError:
        return {}


def _tells_health(body: Mapping[str, Any]) -> bool:
    """Whether a changed fact names a health answer, however deep."""
    return any(_names_health(body.get(side)) for side in ("before", "after"))


def _names_health(found: object) -> bool:
    if isinstance(found, Mapping):
        return any(key in HEALTH_FIELDS or _names_health(value) for key, value in found.items())
    if isinstance(found, list):
        return any(map(_names_health, found))
    return False


def _without_health(office: Office, body: Mapping[str, Any], policy_digest: str) -> dict[str, Any]:
    kept = dict(body)
    for name in _WORKSHEETS:
        if isinstance(kept.get(name), Mapping):
            kept[name] = without_health_entries(kept[name])
    kept.pop("said", None)  # quick answers name what was ticked about the pilot, too
    kept["edits"] = [edit for edit in kept.get("edits", []) if edit.get("field") not in HEALTH_FIELDS]
    assessment = kept.get("assessment")
    if isinstance(assessment, Mapping):
        try:
            clauses = health_clauses(policy_of_digest(office, policy_digest))
        except KeyError:
            kept["assessment"] = {name: assessment.get(name) for name in ("decision", "level", "valid_until")}
        else:
            kept["assessment"] = without_health(assessment, clauses)
    return kept
