"""The second go or no-go, at the aircraft: what was seen goes on record, and what is wrong stops the next pilot."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from riskboard import __version__
from riskboard.aircraft_types import AircraftType
from riskboard.jobs.aircraft_changes import (
    Decided,
    Stored,
    append_changing,
    changed_facts,
    stored_aircraft,
    with_defects,
)
from riskboard.jobs.entering import Caller, check_caller
from riskboard.jobs.flight_log import Flight, Picture
from riskboard.jobs.flights import ask_about, void_of
from riskboard.jobs.office import Office
from riskboard.jobs.signing import NotSignedError, Signed, said_first, signed_before
from riskboard.jobs.standing import aircraft_id_of
from riskboard.jobs.type_texts import types_of
from riskboard.ledger import Intent, Receipt, Status
from riskboard.ledger.errors import LedgerError
from riskboard.people.authority import Ask, Ruling, may_run_up
from riskboard.run_up import Finding, RunUpSeen, check_run_up, partial_run_up, run_up_data
from riskboard.run_up.rule import Clearance, finding_data, finding_of
from riskboard.upkeep.defects import defect_id, listed
from riskboard.words import Decision, DefectEffect, Role
from riskboard.worksheet.kinds import LONGEST_NOTE
from riskboard.worksheet.typed_times import iso_utc

__all__ = ["RunUpResult", "no_type_sentence", "result_of", "run_up", "type_of_flight"]


@dataclass(frozen=True)
class RunUpResult:
    """What came of a run-up, as it is on record.

    Attributes:
        decision: ``go`` where nothing listed stands against taking off; ``no_go`` otherwise. There is no "but".
        findings: What stands against it, in the order of the run-up.
        unjudged: Why the run-up could not be judged, "" where it could.
        void: Why the release itself does not hold, one sentence each; what this run-up found is among them.
        grounded: Whether it opened a grounding defect of the aircraft.
        seen: What was entered.
        signed: The record, durable.
    """

    decision: Decision
    findings: tuple[Finding, ...]
    unjudged: str
    void: tuple[str, ...]
    grounded: bool
    seen: RunUpSeen
    signed: Signed

    @property
    def receipt(self) -> Receipt:
        """The receipt of the record."""
        return self.signed.receipt


def run_up(
    office: Office, caller: Caller, flight_id: str, seen: RunUpSeen, *, event_id: str, at: datetime
) -> RunUpResult:
    """Put on record what was seen at the run-up, and what of it stands against taking off.

    A finding that maintenance must clear opens a grounding defect of the aircraft in the same step, and ends the
    release; fuel that is not as briefed ends the release. What was not done may be done and entered again: each entry
    is a record of its own, and the last one counts.

    Args:
        office: The school.
        caller: Who enters it: crew of the flight.
        flight_id: A released flight.
        seen: What was seen; a blank was not done.
        event_id: Made when the page was drawn. A double tap or a retry with the same entries finds the first record;
            other entries need another event.
        at: Now.

    Returns:
        What came of it, durable.

    Raises:
        NotLetInError: The session has ended.
        NotSignedError: Not crew, not released or left already, or the event was used for other entries.
        LedgerError: The record could not be written; nothing is on record.
    """
    check_caller(office, caller, at=at)
    before = _before(office, event_id, caller.person_id, flight_id, seen)
    if before is not None:
        return result_of(office, before, at)

    def decide_on(picture: Picture) -> Decided:
        flight = _released(office, picture, flight_id)
        ruling = _crew(office, flight, caller.person_id, at)
        return _decided(office, picture, flight, caller.person_id, seen, ruling, event_id, at)

    signed = append_changing(office, decide_on)
    return result_of(office, signed, at)


def _before(office: Office, event_id: str, person_id: str, flight_id: str, seen: RunUpSeen) -> Signed | None:
    before = signed_before(office, event_id, actor=person_id, kind="run_up", subject=flight_id)
    body = None if before is None else before.entry.body
    if body is not None and body.value.get("seen") != run_up_data(seen):
        raise NotSignedError(
            "This entry was sent before with other values, and that is what is on record. Reload, then enter it anew."
        )
    return before


def _released(office: Office, picture: Picture, flight_id: str) -> Flight:
    flight = picture.flights.get(flight_id)
    if flight is None:
        raise NotSignedError("Nothing is on record about this flight.")
    if flight.state.status is not Status.RELEASED:
        raise NotSignedError(
            f"A run-up belongs to a released flight that has not left; this one is {flight.state.status.value}. "
            f"{said_first(office, flight)} Nothing was recorded."
        )
    return flight


def _ask(office: Office, flight: Flight, person_id: str, at: datetime) -> Ask:
    decision = Decision.no_go if flight.decision is None else flight.decision
    return ask_about(office, flight, person_id, at, decision=decision, level=flight.level, accepted_by=frozenset())


def _crew(office: Office, flight: Flight, person_id: str, at: datetime) -> Ruling:
    ruling = may_run_up(_ask(office, flight, person_id, at))
    if not ruling.allowed:
        raise NotSignedError(" ".join(ruling.clauses))
    return ruling


def type_of_flight(office: Office, flight: Flight) -> tuple[AircraftType | None, str]:
    """The aircraft type that a flight's run-up is held against, and the type's name as stored with the aircraft."""
    stored = _stored(office, flight)
    name = str((flight.type_name if stored is None else stored.facts.get("type_name")) or "")
    return types_of(office.store).by_title.get(name), name


def _stored(office: Office, flight: Flight) -> Stored | None:
    return stored_aircraft(office, aircraft_id_of(office, flight.aircraft_id, flight.registration))


def no_type_sentence(name: str) -> str:
    """Why a run-up cannot be judged without a type."""
    called = f"called {name!r}" if name else "of this aircraft, whose type nobody has stated,"
    return (
        f"The school has no aircraft type {called} on file, so nobody here knows the tolerances: the run-up cannot be "
        "judged, and that is a no-go."
    )


def _decided(
    office: Office,
    picture: Picture,
    flight: Flight,
    person_id: str,
    seen: RunUpSeen,
    ruling: Ruling,
    event_id: str,
    at: datetime,
) -> Decided:
    kind, name = type_of_flight(office, flight)
    stored = _stored(office, flight)
    findings = () if kind is None else check_run_up(kind, seen)
    body: dict[str, Any] = {
        "seen": run_up_data(seen),
        "findings": [finding_data(each) for each in findings],
        "good": kind is not None and not findings,
        "unjudged": no_type_sentence(name) if kind is None else "",
        "type": {} if kind is None else {"id": kind.id, "version": kind.version, "title": kind.title},
        "type_digest": "" if kind is None else kind.digest,
        "aircraft": "" if stored is None else stored.identity,
        "registration": flight.registration,
        "void": list(void_of(office, picture, flight, at)),
        "authority": list(ruling.clauses),
    }
    documents = []
    defect = _defect(findings, event_id, at)
    if stored is not None and defect is not None and not _stands(stored.facts.get("open_defects"), defect):
        after = with_defects(stored, [defect], at, at)
        body["fact_changed"], change = changed_facts(stored, after, "Seen at the run-up.", at)
        documents.append(change)
    intent = Intent(
        kind="run_up",
        event_id=event_id,
        at=at,
        actor=person_id,
        role=(ruling.role or Role.pilot).value,
        subject=flight.state.subject,
        body=body,
        engine_version=__version__,
        policy_digest=flight.state.policy_digest,
    )
    return Decided(intent, documents)


def _defect(findings: tuple[Finding, ...], event_id: str, at: datetime) -> dict[str, Any] | None:
    """The defect that a run-up opens; all that maintenance must clear is one."""
    wrong = [each for each in findings if each.clearance is Clearance.maintenance_signs]
    if not wrong:
        return None
    found = [each.sentence.replace(f" ({each.stated_in})", "") for each in wrong]
    found.append(f"As stated in: {wrong[0].stated_in}.")
    text = f"Run-up: {' '.join(found)}"[:LONGEST_NOTE]
    effect = DefectEffect.grounding.value
    return {"id": defect_id(event_id), "text": text, "effect": effect, "reported_at": iso_utc(at)}


def _stands(known: object, defect: Mapping[str, Any]) -> bool:
    """Whether the same was found before and stands open: the pilot entered the run-up again."""
    found = [each for each in listed(known) or [] if isinstance(each, Mapping)]
    return any((each.get("text"), each.get("effect")) == (defect["text"], defect["effect"]) for each in found)


def result_of(office: Office, signed: Signed, at: datetime) -> RunUpResult:
    """What came of a run-up on record.

    Raises:
        NotSignedError: What was entered was erased since.
    """
    body: Mapping[str, Any] = {} if signed.entry.body is None else signed.entry.body.value
    if not body:
        raise NotSignedError("What was entered then was erased from the record since. Enter the run-up again.")
    findings = tuple(finding_of(each) for each in body["findings"])
    picture = office.log.look()
    flight = picture.flights.get(signed.entry.header.subject)
    void: tuple[str, ...] = ()
    if flight is not None and flight.state.status is Status.RELEASED:
        try:
            void = void_of(office, picture, flight, at)
        except LedgerError:  # it is on record; what the release is worth now is said at the next look
            void = tuple(map(str, body["void"]))
    good = body["good"] is True and not void
    seen, _ = partial_run_up(body["seen"])
    return RunUpResult(
        Decision.go if good else Decision.no_go,
        findings,
        str(body["unjudged"]),
        void,
        "fact_changed" in body,
        seen,
        signed,
    )
