"""Closing a flight: what happened goes on record, and what it left behind goes to the next briefing, in one step."""

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from riskboard import __version__
from riskboard.jobs.aircraft_left import aircraft_after, changes_between, not_fitted
from riskboard.jobs.briefing import change_draft, draft_of, iso
from riskboard.jobs.entering import Caller, check_caller
from riskboard.jobs.flight_log import Flight, Picture
from riskboard.jobs.flights import NotShownError, ask_about, asked_entry
from riskboard.jobs.office import Office
from riskboard.jobs.signing import NotSignedError, Signed, signed_before
from riskboard.ledger import Intent, Status
from riskboard.ledger.errors import OvertakenError, RevisionError
from riskboard.ledger.store import Document, DocumentChange
from riskboard.people.authority import Ruling, may_debrief, may_open_flight
from riskboard.words import Decision
from riskboard.worksheet.checks import WorksheetProblem
from riskboard.worksheet.debrief import (
    Debrief,
    FlightFacts,
    debrief_data,
    debrief_problems,
    flown_h,
    partial_debrief,
    severity_of,
)
from riskboard.worksheet.kinds import shown

__all__ = ["Debriefing", "NotDebriefedError", "debrief", "keep_debrief", "open_debrief", "to_debrief"]

_TRIES = 8
_OUT = frozenset({Status.RELEASED, Status.AIRBORNE})


class NotDebriefedError(NotSignedError):
    """The flight was not closed. ``problems`` holds what to mend, if that is why."""

    def __init__(self, message: str, problems: tuple[WorksheetProblem, ...] = ()) -> None:
        super().__init__(message)
        self.problems = problems


@dataclass(frozen=True)
class Debriefing:
    """One flight that may be closed, or was.

    Attributes:
        flight: The flight as the log has it.
        data: What was typed so far, sound or not.
        told: What is sound of it.
        problems: What to mend before it can be kept.
        known: What it is held against.
        not_fitted: Items of the condition that the aircraft does not have.
        ruling: Whether this person may close it, and why.
    """

    flight: Flight
    data: Mapping[str, Any]
    told: Debrief
    problems: tuple[WorksheetProblem, ...]
    known: FlightFacts
    not_fitted: tuple[str, ...]
    ruling: Ruling


def to_debrief(office: Office, person_id: str, *, at: datetime) -> tuple[Flight, ...]:
    """Flights that are out and that this person may close, their own first, then by planned landing."""
    picture = office.log.look()
    flights = [picture.flights[each] for each in picture.open]
    out = [flight for flight in flights if flight.state.status in _OUT and _may(office, flight, person_id, at).allowed]
    return tuple(sorted(out, key=lambda flight: (person_id not in flight.crew, _due(flight), flight.state.subject)))


def _due(flight: Flight) -> datetime:
    return flight.landing_at or flight.state.since


def open_debrief(office: Office, person_id: str, flight_id: str, *, at: datetime) -> Debriefing:
    """One flight with what was typed so far about how it went.

    Raises:
        KeyError: Nothing is on record about the flight.
        NotShownError: It is not this person's to see.
    """
    flight = _flight(office.log.look(), flight_id)
    ruling = _may(office, flight, person_id, at)
    if not ruling.allowed and not may_open_flight(_ask(office, flight, person_id, at)).allowed:
        raise NotShownError(" ".join(ruling.clauses))
    data = _typed(office, flight_id)
    told, problems = partial_debrief(data)
    aircraft, known = _known(office, flight)
    lacks = () if aircraft is None else not_fitted(json.loads(aircraft.text))
    found = (*problems, *debrief_problems(told, known, at))
    return Debriefing(flight, data, told, found, known, lacks, ruling)


def keep_debrief(office: Office, caller: Caller, flight_id: str, entries: Mapping[str, Any], *, at: datetime) -> None:
    """Keep what was typed so far, sound or not, with the flight's worksheet: a lost connection loses nothing.

    Raises:
        NotLetInError: The session has ended.
        KeyError: There is no such flight, or its worksheet was erased.
        NotDebriefedError: Not this person's flight, or one that is not out.
        LedgerError: It cannot be saved.
    """
    check_caller(office, caller, at=at)
    flight = _flight(office.log.look(), flight_id)
    _check_may(office, flight, caller.person_id, at)

    def change(kept: dict[str, Any]) -> None:
        kept["debrief"] = {**kept.get("debrief", {}), **entries}

    change_draft(office, flight_id, change, at=at)


def _typed(office: Office, flight_id: str) -> dict[str, Any]:
    try:
        _, kept = draft_of(office, flight_id)
    except KeyError:
        return {}
    found = kept.get("debrief", {})
    return dict(found) if isinstance(found, dict) else {}


def debrief(office: Office, caller: Caller, flight_id: str, told: Debrief, *, event_id: str, at: datetime) -> Signed:
    """Close a flight. The record and what it leaves at the aircraft are saved in one step.

    Args:
        office: The school.
        caller: Who tells.
        flight_id: The flight.
        told: What happened.
        event_id: Made when the page was drawn; a double tap or a retry finds the first record.
        at: Now.

    Raises:
        NotLetInError: The session has ended.
        NotDebriefedError: Not out, closed already, not this person's, or something to mend.
        LedgerError: The record could not be written.
    """
    check_caller(office, caller, at=at)
    for last in (*[False] * (_TRIES - 1), True):
        before = signed_before(office, event_id, actor=caller.person_id, kind="debriefed", subject=flight_id)
        if before is not None:
            return before
        picture = office.log.look()
        try:
            intent, documents = _decided(office, picture, caller.person_id, flight_id, told, event_id, at)
        except NotDebriefedError:
            if last or office.store.head().size == picture.head:
                raise
            continue  # the aircraft's document may be newer than the picture: say no on one and the same state
        try:
            return Signed(*office.store.append(intent, head=picture.head, documents=documents))
        except (OvertakenError, RevisionError):  # somebody wrote in between: decide again on what stands there now
            if last:
                raise
    raise AssertionError("the last try returns or raises")


def _decided(
    office: Office, picture: Picture, person_id: str, flight_id: str, told: Debrief, event_id: str, at: datetime
) -> tuple[Intent, list[DocumentChange]]:
    try:
        flight = _flight(picture, flight_id)
    except KeyError as error:
        raise NotDebriefedError(str(error.args[0])) from error
    ruling = _check_may(office, flight, person_id, at)
    aircraft, known = _known(office, flight)
    problems = (*partial_debrief(debrief_data(told))[1], *debrief_problems(told, known, at))
    if problems:
        raise NotDebriefedError(" ".join(f"{problem.message}." for problem in problems), problems)
    body: dict[str, Any] = {
        "debrief": debrief_data(told),
        "severity": severity_of(told).name,
        "left_at": None if known.left_at is None else iso(known.left_at),
        "flown_h": flown_h(told, known),
        "authority": list(ruling.clauses),
    }
    if flight.state.status is Status.RELEASED:  # its departure was never noted
        body["run_up"] = flight.run_up_said
    documents = []
    if aircraft is not None:
        before = json.loads(aircraft.text)
        after = aircraft_after(before, told, known, flight_id=flight_id, person_id=person_id, at=at)
        was, becomes = changes_between(before, after)
        body["fact_changed"] = {
            "kind": "aircraft", "id": aircraft.document_id, "before": was, "after": becomes,
            "why": "Told after the flight.", "as_of": iso(told.landed_at or at),
        }  # fmt: skip
        text = json.dumps(after, ensure_ascii=False)
        documents.append(DocumentChange("aircraft", aircraft.document_id, text, aircraft.revision))
    role = "" if ruling.role is None else ruling.role.value
    intent = Intent(
        kind="debriefed",
        event_id=event_id,
        at=at,
        actor=person_id,
        role=role,
        subject=flight_id,
        body=body,
        engine_version=__version__,
    )
    return intent, documents


def _flight(picture: Picture, flight_id: str) -> Flight:
    if flight_id not in picture.flights:
        raise KeyError(f"nothing is on record about the flight {shown(flight_id)}")
    return picture.flights[flight_id]


def _ask(office: Office, flight: Flight, person_id: str, at: datetime) -> Any:
    decision = Decision.no_go if flight.decision is None else flight.decision
    return ask_about(office, flight, person_id, at, decision=decision, level=flight.level, accepted_by=frozenset())


def _may(office: Office, flight: Flight, person_id: str, at: datetime) -> Ruling:
    return may_debrief(_ask(office, flight, person_id, at))


def _check_may(office: Office, flight: Flight, person_id: str, at: datetime) -> Ruling:
    status = flight.state.status
    if status is Status.DEBRIEFED:
        raise NotDebriefedError(
            f"This flight was closed by {_who_closed(office, flight)} at {flight.state.since:%Y-%m-%d %H:%MZ}; nothing "
            "was changed. What turned out to be wrong since is corrected as a fact of the aircraft."
        )
    if status not in _OUT:
        raise NotDebriefedError(f"This flight never left, it is {status.value}; only a flight that is out is closed.")
    ruling = _may(office, flight, person_id, at)
    if not ruling.allowed:
        raise NotDebriefedError(" ".join(ruling.clauses))
    return ruling


def _who_closed(office: Office, flight: Flight) -> str:
    last: Iterator[Any] = iter(office.store.entries(flight.state.seq))
    entry = next(last, None)
    return "somebody" if entry is None else str(entry.header.actor)


def _known(office: Office, flight: Flight) -> tuple[Document | None, FlightFacts]:
    """The aircraft's document, and what the debrief is held against."""
    left_at = flight.took_off_at or (flight.state.since if flight.state.status in _OUT else None)
    fuel_gal = _start_fuel(office, flight)
    stored = office.store.get_document("aircraft", flight.aircraft_id) if flight.aircraft_id else None
    if stored is None:
        return None, FlightFacts(left_at=left_at, fuel_gal=fuel_gal)
    document = json.loads(stored.text)
    facts = document.get("aircraft", {})
    told_at = [
        _moment(facts.get("meter_read_at")),
        _moment(document.get("condition_left", {}).get("at")),
        _moment(document.get("clocks", {}).get("meter_h", {}).get("true_at")),
    ]
    later = [moment for moment in told_at if moment is not None and left_at is not None and moment > left_at]
    known = FlightFacts(
        left_at,
        _number(facts.get("meter_h")),
        max(later, default=None),
        fuel_gal,
        _number(document.get("tank_gal")),
    )
    return stored, known


def _start_fuel(office: Office, flight: Flight) -> float | None:
    entry = asked_entry(office, flight)
    if entry is None or entry.body is None:
        return None
    sheet = entry.body.value.get("worksheet")
    aircraft = sheet.get("aircraft") if isinstance(sheet, dict) else None
    return _number(aircraft.get("fuel_usable_gal")) if isinstance(aircraft, dict) else None


def _number(found: object) -> float | None:
    return float(found) if isinstance(found, int | float) and not isinstance(found, bool) else None


def _moment(found: object) -> datetime | None:
    try:
        moment = datetime.fromisoformat(found) if isinstance(found, str) else None
    except ValueError:
        return None
    return moment if moment is not None and moment.tzinfo is not None else None
