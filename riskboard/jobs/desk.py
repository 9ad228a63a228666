"""The desk: the second person's yes, question, waiver and no."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

from riskboard import __version__
from riskboard.assessment.assess import Assessment
from riskboard.assessment.validity import if_left_now
from riskboard.jobs.briefing import decide, digest_of, iso
from riskboard.jobs.flight_log import Picture
from riskboard.jobs.flights import void_if_signed
from riskboard.jobs.office import Office
from riskboard.jobs.signing import (
    SHOWN_FOR,
    NotSignedError,
    Signed,
    append_decided,
    check_pin_of,
    signed_before,
)
from riskboard.ledger import Intent
from riskboard.people.authority import (
    Ruling,
    may_refuse,
)
from riskboard.words import RefusedFor, Role
from riskboard.worksheet.write import worksheet_data

if TYPE_CHECKING:
    from riskboard.ledger.canonical import Json

from riskboard.jobs.review import Request, ask_of, read_request, sign_ruling, waivable_of

__all__ = ["WORDS", "DeskSignature", "refuse", "send_back", "sign_off", "waive"]

WORDS = {
    "entries_accurate": "I have gone through the entries, and as far as I can check them they are accurate.",
    "can_be_made_safely": "In my judgement this flight can be made safely, on the conditions written here.",
    "waived": "I waive the limit named here for this one flight, for the reason written here.",
    "refused": "I do not agree to this flight as it is planned.",
    "sent_back": "I send this back with a question; it is neither a yes nor a no.",
}
"""The words a second person signs, stored with the signature."""

_LONGEST_AWAKE = timedelta(hours=48)
_MOST_TEXT = 500


@dataclass(frozen=True)
class DeskSignature:
    """Who signs what they saw, as the second person.

    Attributes:
        pin: Their PIN, as typed.
        event_id: Made when the page was drawn.
        shown_at: Moment of decision of what was on the screen.
        shown_digest: ``Review.shown_digest`` of what was on the screen.
        entries_accurate: They attest that the entries are accurate.
        can_be_made_safely: They attest, apart, that in their judgement the flight can be made safely.
        awake_since: Since when they have been awake; a blank is no signature.
        on_duty_since: Since when they have been at work.
    """

    pin: str
    event_id: str
    shown_at: datetime
    shown_digest: str
    entries_accurate: bool
    can_be_made_safely: bool
    awake_since: datetime | None
    on_duty_since: datetime | None


def sign_off(
    office: Office,
    person_id: str,
    flight_id: str,
    signature: DeskSignature,
    *,
    conditions: tuple[str, ...] = (),
    at: datetime,
) -> Signed:
    """The second person's yes, for as long as the policy says, on the conditions written.

    Args:
        office: The school.
        person_id: Who signs.
        flight_id: The flight.
        signature: PIN, what was on the screen, the two attestations, hours awake and on duty.
        conditions: One sentence each; may be empty.
        at: Now.

    Raises:
        NotSignedError: Wrong PIN, no authority, facts not opened, an attestation missing, an outdated screen, or
            somebody else answered first.
        LedgerError: The record could not be written.
    """
    check_pin_of(office, person_id, signature.pin, at=at)
    before = signed_before(office, signature.event_id, actor=person_id, kind="signed", subject=flight_id)
    if before is not None:
        return before
    _check_attested(signature, at)
    said = tuple(_text(each, "a condition") for each in conditions)

    def decide_on(picture: Picture) -> Intent:
        request = _seen(office, picture, person_id, flight_id, signature.shown_at, signature.shown_digest, at)
        ask = ask_of(office, request, person_id, at)
        ruling = _allowed(sign_ruling(request, ask))
        shown = request.now
        if shown is None:
            raise NotSignedError("Nothing can be decided about this flight now.")
        _no_worse_now(request, shown, at)
        void = void_if_signed(office, picture, request.flight, at)
        if void:
            raise NotSignedError(f"A signature would end at once. {' '.join(void)} The pilot has to brief it again.")
        body: dict[str, Json] = {
            "request": request.seq,
            "worksheet": worksheet_data(request.sheet),
            "assessment": shown.as_data(),
            "assessment_digest": digest_of(shown.as_json()),
            "type_digest": shown.type_digest,
            "shown_digest": signature.shown_digest,
            "shown_at": iso(signature.shown_at),
            "words": [WORDS["entries_accurate"], WORDS["can_be_made_safely"]],
            "conditions": list(said),
            "waived": sorted(request.flight.waived),
            "awake_since": iso(_given(signature.awake_since)),
            "on_duty_since": iso(_given(signature.on_duty_since)),
            "authority": list(ruling.clauses),
        }
        until = shown.valid_until
        return _intent("signed", signature.event_id, person_id, ruling, request, body, at, until=until)

    return append_decided(office, decide_on)


def _given(moment: datetime | None) -> datetime:
    if moment is None:
        raise NotSignedError("Say since when you have been awake and on duty; both belong to your signature.")
    return moment


def _check_attested(signature: DeskSignature, at: datetime) -> None:
    if not signature.entries_accurate:
        raise NotSignedError("Say whether the entries are accurate; without that nothing is signed.")
    if not signature.can_be_made_safely:
        raise NotSignedError(
            "Say whether in your judgement the flight can be made safely; without that nothing is signed."
        )
    for name, moment in (("awake", _given(signature.awake_since)), ("on duty", _given(signature.on_duty_since))):
        if not timedelta() <= at - moment <= _LONGEST_AWAKE:
            raise NotSignedError(
                f"The time since when you are {name} must lie in the last {_LONGEST_AWAKE.days * 24} hours; correct it."
            )


def _text(typed: str, what: str) -> str:
    text = " ".join(typed.split())
    if not text:
        raise NotSignedError(f"Write {what} in a few words; the record needs it.")
    if len(text) > _MOST_TEXT:
        raise NotSignedError(f"Shorten {what}: it has {len(text)} characters, at most {_MOST_TEXT} are kept.")
    return text


def _allowed(ruling: Ruling) -> Ruling:
    if not ruling.allowed:
        raise NotSignedError(" ".join(ruling.clauses))
    return ruling


def _seen(
    office: Office,
    picture: Picture,
    person_id: str,
    flight_id: str,
    shown_at: datetime,
    shown_digest: str,
    at: datetime,
) -> Request:
    """The request as it was on this person's screen."""
    if not timedelta() <= at - shown_at <= SHOWN_FOR:
        minutes = int(SHOWN_FOR.total_seconds() // 60)
        raise NotSignedError(f"The screen is more than {minutes} min old. Look at it again, then sign.")
    request = read_request(office, picture, flight_id, shown_at)
    if person_id not in request.flight.viewed_by:
        raise NotSignedError("Open the facts of this flight first; nobody signs what they have not seen.")
    if request.digest != shown_digest:
        raise NotSignedError("The request, a waiver or the policy changed since this screen was drawn. Look again.")
    return request


def _no_worse_now(request: Request, shown: Assessment, at: datetime) -> None:
    now, problems = decide(request.prepared, if_left_now(request.sheet, at), at, waived=request.flight.waived)
    if now is None:
        raise NotSignedError(f"This no longer holds: {problems[0].message}. The pilot has to brief it again.")
    if now.decision > shown.decision or now.level != shown.level:
        raise NotSignedError(f"The decision is now {now.decision.phrase.lower()} ({now.level}). Look again, then sign.")


def _intent(
    kind: str,
    event_id: str,
    person_id: str,
    ruling: Ruling,
    request: Request,
    body: Mapping[str, "Json"],
    at: datetime,
    *,
    until: datetime | None = None,
) -> Intent:
    return Intent(
        kind=kind,
        event_id=event_id,
        at=at,
        actor=person_id,
        role=Role.pilot.value if ruling.role is None else ruling.role.value,
        subject=request.flight.state.subject,
        body=body,
        timed={} if kind != "signed" else {"valid_until": None if until is None else iso(until)},
        engine_version=__version__,
        policy_digest=request.prepared.policy.digest,
    )


def send_back(
    office: Office, person_id: str, flight_id: str, *, pin: str, event_id: str, question: str, at: datetime
) -> Signed:
    """Send a request back with a question: neither a yes nor a no. Errors as in :func:`refuse`."""
    return _answer(office, "sent_back", {"question": question}, person_id, flight_id, pin, event_id, at)


def refuse(
    office: Office,
    person_id: str,
    flight_id: str,
    *,
    pin: str,
    event_id: str,
    reason: str,
    about: frozenset[RefusedFor] = frozenset(RefusedFor),
    at: datetime,
) -> Signed:
    """The second person's no, with a reason. It counts for the rest of the day at briefings of what it is about.

    Saying no takes less than saying yes: the facts need not have been opened.

    Args:
        office: The school.
        person_id: Who refuses.
        flight_id: The flight.
        pin: Their PIN.
        event_id: Made when the page was drawn.
        reason: Why, in a few words.
        about: Whether it is about the pilot, the aircraft or the usual flight; about all of them where not said.
        at: Now.

    Raises:
        NotSignedError: Wrong PIN, no authority, no reason, or somebody else answered first.
        LedgerError: The record could not be written.
    """
    said = {"reason": reason, "about": sorted(about)}
    return _answer(office, "refused", said, person_id, flight_id, pin, event_id, at)


def _answer(
    office: Office,
    kind: str,
    said: Mapping[str, Any],
    person_id: str,
    flight_id: str,
    pin: str,
    event_id: str,
    at: datetime,
) -> Signed:
    check_pin_of(office, person_id, pin, at=at)
    before = signed_before(office, event_id, actor=person_id, kind=kind, subject=flight_id)
    if before is not None:
        return before
    texts = {key: _text(typed, f"the {key}") if isinstance(typed, str) else typed for key, typed in said.items()}

    def decide_on(picture: Picture) -> Intent:
        request = read_request(office, picture, flight_id, at)
        ruling = _allowed(may_refuse(ask_of(office, request, person_id, at)))
        body: dict[str, Json] = {
            "request": request.seq,
            **texts,
            "words": WORDS[kind],
            "authority": list(ruling.clauses),
        }
        return _intent(kind, event_id, person_id, ruling, request, body, at)

    return append_decided(office, decide_on)


def waive(
    office: Office,
    person_id: str,
    flight_id: str,
    clause: str,
    *,
    reason: str,
    pin: str,
    event_id: str,
    shown_at: datetime,
    shown_digest: str,
    at: datetime,
) -> Signed:
    """Waive one hard limit for this one request, where the policy names this person's role. A sign-off is still needed.

    Args:
        office: The school.
        person_id: Who waives.
        flight_id: The flight.
        clause: Name of the limit.
        reason: Why, in a few words.
        pin: Their PIN.
        event_id: Made when the page was drawn.
        shown_at: Moment of what was on the screen.
        shown_digest: ``Review.shown_digest``.
        at: Now.

    Raises:
        NotSignedError: Wrong PIN, no authority, the limit does not stop this flight or nobody may waive it, facts not
            opened, an outdated screen, or somebody else answered first.
        LedgerError: The record could not be written.
    """
    check_pin_of(office, person_id, pin, at=at)
    before = signed_before(office, event_id, actor=person_id, kind="waived", subject=flight_id)
    if before is not None:
        return before
    text = _text(reason, "the reason")

    def decide_on(picture: Picture) -> Intent:
        request = _seen(office, picture, person_id, flight_id, shown_at, shown_digest, at)
        offered = {each.clause: each for each in waivable_of(request, ask_of(office, request, person_id, at))}
        if clause not in offered:
            raise NotSignedError(f"{clause!r} is not a limit that stops this flight and may be waived.")
        if offered[clause].waived:
            raise NotSignedError(f"The limit {clause!r} was waived already.")
        ruling = _allowed(offered[clause].ruling)
        limit = next(limit for limit in request.prepared.policy.limits if limit.name == clause)
        body: dict[str, Json] = {
            "request": request.seq,
            "clause": clause,
            "sentence": offered[clause].sentence,
            "why": limit.why,
            "reason": text,
            "words": WORDS["waived"],
            "authority": list(ruling.clauses),
        }
        return _intent("waived", event_id, person_id, ruling, request, body, at)

    return append_decided(office, decide_on)
