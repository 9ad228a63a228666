"""From a yes to the aircraft: taking what was signed, release, departure, calling off, and the overdue watch."""

from collections.abc import Callable, Mapping
from datetime import datetime
from typing import TYPE_CHECKING

from riskboard import __version__
from riskboard.jobs.briefing import digest_of, iso
from riskboard.jobs.flight_log import Flight, Picture
from riskboard.jobs.flights import ask_about, overdue_min, void_of
from riskboard.jobs.office import Office
from riskboard.jobs.roles import roles_of
from riskboard.jobs.signing import (
    NotSignedError,
    Signature,
    Signed,
    append_decided,
    check_pin_of,
    said_first,
    signed_before,
)
from riskboard.ledger import Intent, Status
from riskboard.people.authority import Ask, Ruling, may_accept_signed, may_call_off, may_keep_watch, may_release
from riskboard.words import Decision, Role

if TYPE_CHECKING:
    from riskboard.ledger.canonical import Json

__all__ = ["TAKEN", "accept_signed", "cancel", "overdue_step", "release", "signed_digest", "took_off"]

TAKEN = (
    "I am the pilot in command. A second person signed this flight; I have read the conditions, I keep to them, and I "
    "accept the risk until the time shown."
)
"""The words a pilot signs to take what a second person signed."""

_MOST_TEXT = 500
_NOT_LEFT = frozenset(
    {
        Status.SIGN_OFF_REQUESTED,
        Status.SENT_BACK,
        Status.SIGNED,
        Status.ACCEPTED,
        Status.LAPSED,
        Status.RELEASED,
    }
)
_OUT = frozenset({Status.RELEASED, Status.AIRBORNE})


def signed_digest(office: Office, flight_id: str) -> str:
    """What a pilot's signature names to say: this is the signature, and these are the conditions, that I saw."""
    flight = office.log.look().flights.get(flight_id)
    return "" if flight is None else _signed_digest(flight)


def _signed_digest(flight: Flight) -> str:
    return digest_of(f"{flight.state.seq}\n" + "\n".join(flight.conditions))


def accept_signed(office: Office, flight_id: str, signature: Signature, *, at: datetime) -> Signed:
    """The pilot in command takes the flight on the conditions that a second person signed.

    Args:
        office: The school.
        flight_id: The flight.
        signature: The pilot's, with ``signed_digest`` of what was on the screen.
        at: Now.

    Raises:
        NotSignedError: Wrong PIN, somebody else's flight, nothing signed, other conditions than on the screen, or the
            signature holds no longer.
        LedgerError: The record could not be written.
    """
    person_id = signature.person_id
    check_pin_of(office, person_id, signature.pin, at=at)
    before = signed_before(office, signature.event_id, actor=person_id, kind="accepted", subject=flight_id)
    if before is not None:
        return before

    def decide_on(picture: Picture) -> Intent:
        flight = _flight(office, picture, flight_id, {Status.SIGNED}, "has no signature to take")
        ruling = _allowed(may_accept_signed(_ask(office, flight, person_id, at)))
        if _signed_digest(flight) != signature.shown_digest:
            raise NotSignedError("The signature or its conditions changed since this screen was drawn. Look again.")
        _still_holds(office, picture, flight, at)
        until = flight.state.accepted_until
        body: dict[str, Json] = {
            "answers": flight.state.seq,
            "conditions": list(flight.conditions),
            "shown_at": iso(signature.shown_at),
            "words": TAKEN,
            "authority": list(ruling.clauses),
            "valid_until": None if until is None else iso(until),
        }
        return _intent("accepted", signature.event_id, person_id, ruling, flight, body, at)

    return append_decided(office, decide_on)


def release(office: Office, person_id: str, flight_id: str, *, event_id: str, at: datetime) -> Signed:
    """Hand the aircraft over: only on a yes that holds now, and only if aircraft and pilot are not out already.

    Args:
        office: The school.
        person_id: Who hands it over: the pilot in command, or the desk.
        flight_id: The flight.
        event_id: Made when the page was drawn.
        at: Now.

    Raises:
        NotSignedError: No authority, no yes that holds, or the aircraft or the pilot is out.
        LedgerError: The record could not be written.
    """

    def decide_on(picture: Picture) -> Intent:
        flight = _flight(office, picture, flight_id, {Status.ACCEPTED}, "has no accepted yes to release it on")
        ruling = _allowed(may_release(_ask(office, flight, person_id, at)))
        _still_holds(office, picture, flight, at)
        _not_out(office, picture, flight)
        until = flight.state.accepted_until
        body: dict[str, Json] = {
            "authority": list(ruling.clauses),
            "conditions": list(flight.conditions),
            "valid_until": None if until is None else iso(until),
        }
        return _intent("released", event_id, person_id, ruling, flight, body, at)

    return _once(office, "released", event_id, person_id, flight_id, decide_on)


def took_off(office: Office, person_id: str, flight_id: str, *, event_id: str, at: datetime) -> Signed:
    """Put on record that the aircraft left.

    Crew leave on a release that holds and after a good run-up on record for it, or not at all. Somebody else at the
    desk notes what they saw: an aircraft that has gone is on record as gone, with what was missing.

    Raises:
        NotSignedError: No authority, not released, or, for crew, a release that holds no longer or no good run-up.
        LedgerError: The record could not be written.
    """

    def decide_on(picture: Picture) -> Intent:
        flight = _flight(office, picture, flight_id, {Status.RELEASED}, "was not released")
        ruling = _allowed(may_release(_ask(office, flight, person_id, at)))
        void: tuple[str, ...] = ()
        if person_id == flight.pilot_id or person_id in flight.crew:
            _still_holds(office, picture, flight, at)
            _ran_up(flight)
        else:
            void = void_of(office, picture, flight, at)
        body: dict[str, Json] = {
            "authority": list(ruling.clauses),
            "run_up": flight.run_up_said,
            "void": list(void),
        }
        return _intent("took_off", event_id, person_id, ruling, flight, body, at)

    return _once(office, "took_off", event_id, person_id, flight_id, decide_on)


def cancel(office: Office, person_id: str, flight_id: str, *, event_id: str, reason: str, at: datetime) -> Signed:
    """Call off a flight that has not left, with a reason.

    Raises:
        NotSignedError: No authority, no reason, or the aircraft has left.
        LedgerError: The record could not be written.
    """
    text = _text(reason, "why it is called off")

    def decide_on(picture: Picture) -> Intent:
        flight = _flight(office, picture, flight_id, _NOT_LEFT, "cannot be called off")
        ruling = _allowed(may_call_off(_ask(office, flight, person_id, at)))
        body: dict[str, Json] = {"reason": text, "authority": list(ruling.clauses)}
        return _intent("cancelled", event_id, person_id, ruling, flight, body, at)

    return _once(office, "cancelled", event_id, person_id, flight_id, decide_on)


def overdue_step(office: Office, person_id: str, flight_id: str, *, event_id: str, step: str, at: datetime) -> Signed:
    """Put on record that a step for an overdue aircraft was taken.

    Args:
        office: The school.
        person_id: Who took it.
        flight_id: The flight.
        event_id: Made when the page was drawn.
        step: One of the policy's steps, or what was done in own words.
        at: Now.

    Raises:
        NotSignedError: No authority, no words, or the flight is not overdue.
        LedgerError: The record could not be written.
    """
    text = _text(step, "what was done")

    def decide_on(picture: Picture) -> Intent:
        flight = _flight(office, picture, flight_id, _OUT, "is not out")
        late = overdue_min(office, flight, at)
        if late is None:
            raise NotSignedError("This flight is not overdue; nothing was recorded.")
        ruling = _allowed(may_keep_watch(roles_of(office, person_id, at)))
        body: dict[str, Json] = {"step": text, "overdue_min": late, "authority": list(ruling.clauses)}
        return _intent("overdue_step", event_id, person_id, ruling, flight, body, at)

    return _once(office, "overdue_step", event_id, person_id, flight_id, decide_on)


def _once(
    office: Office, kind: str, event_id: str, person_id: str, flight_id: str, decide_on: Callable[[Picture], Intent]
) -> Signed:
    before = signed_before(office, event_id, actor=person_id, kind=kind, subject=flight_id)
    return before if before is not None else append_decided(office, decide_on)


def _flight(
    office: Office, picture: Picture, flight_id: str, wanted: frozenset[Status] | set[Status], otherwise: str
) -> Flight:
    flight = picture.flights.get(flight_id)
    if flight is None:
        raise NotSignedError("Nothing is on record about this flight.")
    if flight.state.status not in wanted:
        raise NotSignedError(f"This flight {otherwise}. {said_first(office, flight)} Nothing was recorded.")
    return flight


def _ask(office: Office, flight: Flight, person_id: str, at: datetime) -> Ask:
    decision = Decision.no_go if flight.decision is None else flight.decision
    return ask_about(office, flight, person_id, at, decision=decision, level=flight.level, accepted_by=frozenset())


def _allowed(ruling: Ruling) -> Ruling:
    if not ruling.allowed:
        raise NotSignedError(" ".join(ruling.clauses))
    return ruling


def _still_holds(office: Office, picture: Picture, flight: Flight, at: datetime) -> None:
    void = void_of(office, picture, flight, at)
    if void:
        raise NotSignedError(f"The yes to this flight holds no longer. {' '.join(void)} Brief it again.")


def _ran_up(flight: Flight) -> None:
    if not flight.run_up_seq:
        raise NotSignedError(
            "No run-up is on record for this release. Enter what was seen at the aircraft, then leave."
        )
    if not flight.run_up_good:
        raise NotSignedError(
            "The run-up on record for this release is not good, so this aircraft does not leave. Do what was left out "
            "and enter it again; what is out of tolerance is for maintenance."
        )


def _not_out(office: Office, picture: Picture, flight: Flight) -> None:
    for flight_id in picture.open:
        other = picture.flights[flight_id]
        if flight_id == flight.state.subject or other.state.status not in _OUT:
            continue
        same_aircraft = _same(other.aircraft_id, flight.aircraft_id) or _same(other.registration, flight.registration)
        if same_aircraft or other.crew & flight.crew:
            who = f"{flight.registration} is" if same_aircraft else "Somebody of the crew is"
            raise NotSignedError(f"{who} out on another flight. {said_first(office, other)} Close that flight first.")


def _same(one: str, other: str) -> bool:
    return bool(one) and one.casefold() == other.casefold()


def _text(typed: str, what: str) -> str:
    text = " ".join(typed.split())
    if not text:
        raise NotSignedError(f"Write {what} in a few words; the record needs it.")
    if len(text) > _MOST_TEXT:
        raise NotSignedError(f"Shorten {what}: it has {len(text)} characters, at most {_MOST_TEXT} are kept.")
    return text


def _intent(
    kind: str,
    event_id: str,
    person_id: str,
    ruling: Ruling,
    flight: Flight,
    body: Mapping[str, "Json"],
    at: datetime,
) -> Intent:
    return Intent(
        kind=kind,
        event_id=event_id,
        at=at,
        actor=person_id,
        role=(ruling.role or Role.pilot).value,
        subject=flight.state.subject,
        body=body,
        engine_version=__version__,
        policy_digest=flight.state.policy_digest,
    )
