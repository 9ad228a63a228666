"""Accepting, asking for a signature, declining. What comes back is durable; what is raised was not signed."""

import json
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from riskboard import __version__
from riskboard.assessment.assess import Assessment
from riskboard.assessment.phrases import clock_time
from riskboard.assessment.reasons import Standing
from riskboard.jobs.briefing import Briefing, brief, decide, digest_of, draft_of, iso
from riskboard.jobs.flight_log import Flight, Picture
from riskboard.jobs.office import Office, person, policy_for, school_zone
from riskboard.jobs.roles import roles_of
from riskboard.ledger import Entry, Intent, OvertakenError, Receipt, Status, TypeText
from riskboard.ledger.chain import CLOCK_SLACK
from riskboard.people.authority import Ask, Ruling, may_accept, may_request_sign_off
from riskboard.people.pin import check_pin, may_try, wait_after
from riskboard.policy import Policy
from riskboard.words import Decision, RefusedFor, Role
from riskboard.worksheet.write import worksheet_data

if TYPE_CHECKING:
    from riskboard.ledger.canonical import Json

__all__ = [
    "ATTESTATION",
    "SHOWN_FOR",
    "NotSignedError",
    "Signature",
    "Signed",
    "accept",
    "append_decided",
    "check_clock",
    "check_pin_of",
    "decline",
    "request_sign_off",
    "said_first",
    "signed_before",
    "waivable_limits",
]

ATTESTATION = {
    "accepted": (
        "I am the pilot in command. The entries are accurate as far as I know. I have read the reasons, and I accept "
        "the risk of this flight until the time shown."
    ),
    "sign_off_requested": (
        "I am the pilot in command. The entries are accurate as far as I know. I ask for a second person's decision "
        "and will not fly before I have it."
    ),
    "declined": "I am the pilot in command. This flight does not go as planned.",
}
"""The words a person signs, stored with the signature."""

DECLINED_FOR = frozenset({RefusedFor.aircraft, RefusedFor.route})
"""What a pilot's own no is about where they do not say."""

_TRIES = 50
"""How often an act is decided anew while others write to the log."""

SHOWN_FOR = timedelta(minutes=5)
"""How old the screen may be that a person signs."""


class NotSignedError(Exception):
    """Nothing was signed. The message says why and what to do now."""


@dataclass(frozen=True)
class Signature:
    """Who signs what they saw.

    Attributes:
        person_id: Who.
        pin: Their PIN, as typed.
        event_id: Made when the page was drawn, so that a double tap or a retry finds the first record.
        shown_at: Moment of decision of what was on the screen.
        shown_digest: ``Briefing.digest`` of what was on the screen.
    """

    person_id: str
    pin: str
    event_id: str
    shown_at: datetime
    shown_digest: str


@dataclass(frozen=True)
class Signed:
    """A durable record and its receipt."""

    entry: Entry
    receipt: Receipt


def accept(office: Office, draft_id: str, signature: Signature, *, at: datetime) -> Signed:
    """The pilot in command accepts the risk of what was on the screen.

    Args:
        office: The school.
        draft_id: The worksheet.
        signature: Who signs what they saw.
        at: Now.

    Raises:
        NotSignedError: Wrong PIN, no authority, an outdated screen, or nothing to accept.
        LedgerError: The record could not be written.
    """
    return _sign(office, "accepted", draft_id, signature, may_accept, note="", at=at)


def request_sign_off(office: Office, draft_id: str, signature: Signature, *, note: str, at: datetime) -> Signed:
    """The pilot in command asks for a second person's signature. Arguments and errors as in :func:`accept`.

    ``note`` is what the pilot wants the second person to know; it may be empty.
    """
    return _sign(office, "sign_off_requested", draft_id, signature, may_request_sign_off, note=note, at=at)


def decline(
    office: Office,
    draft_id: str,
    signature: Signature,
    *,
    reason: str,
    about: frozenset[RefusedFor] = DECLINED_FOR,
    at: datetime,
) -> Signed:
    """The pilot in command says no. Needs a reason, and no particular decision: staying is always allowed.

    It is never held against the pilot; ``about`` says whether it tells others something about the aircraft or the usual
    flight.

    Raises:
        NotSignedError: Wrong PIN, somebody else's flight, or no reason.
        LedgerError: The record could not be written.
    """
    if not reason.strip():
        raise NotSignedError("Say in a few words why the flight does not go; the record needs a reason.")
    return _sign(office, "declined", draft_id, signature, _own_flight, note=reason.strip(), about=about, at=at)


def _own_flight(ask: Ask) -> Ruling:
    if ask.person_id == ask.pilot_id:
        return Ruling(allowed=True, clauses=("The pilot in command may always say no.",))
    return Ruling(allowed=False, clauses=("Only the pilot in command answers for this flight here.",))


def check_pin_of(office: Office, person_id: str, pin: str, *, at: datetime) -> None:
    """Check a person's PIN, counting the attempt before it is made.

    Raises:
        NotSignedError: It is wrong, or too many were; the message says how long to wait.
    """
    if not office.store.claim_pin_attempt(person_id, at=at, may_try=may_try):
        record = office.store.get_pin(person_id)
        wait = timedelta() if record is None else wait_after(record.failures, record.last_failure_at, at)
        seconds = int(wait.total_seconds()) + 1
        raise NotSignedError(f"Too many wrong PINs. Try again in {seconds} s; nothing was signed.")
    record = office.store.get_pin(person_id)
    if not check_pin(pin, None if record is None else record.pin_hash):
        raise NotSignedError("That PIN is not right; nothing was signed.")
    office.store.clear_pin_failures(person_id)


def append_decided(office: Office, decide_on: Callable[[Picture], Intent], *, types: Sequence[TypeText] = ()) -> Signed:
    """Put on record what was decided on the newest picture of the log; where it moved on meanwhile, decide again.

    Of two people who act on one flight at the same moment exactly one gets a record; the other's rule is asked again
    on the new picture and says who was first.

    Args:
        office: The school.
        decide_on: Asks the rules on a picture; raises NotSignedError where they say no. May run more than once.
        types: Aircraft types that are published with the record.

    Raises:
        NotSignedError: As raised by ``decide_on``, or the log never stood still.
        LedgerError: The record could not be written.
    """
    for _ in range(_TRIES):
        picture = office.log.look()
        intent = decide_on(picture)
        check_clock(office, picture, intent.at)
        try:
            return Signed(*office.store.append(intent, head=picture.head, types=types))
        except OvertakenError:
            continue
    raise NotSignedError("Others are writing to the record without a pause. Nothing was signed; try again.")


def check_clock(office: Office, picture: Picture, at: datetime) -> None:
    """Refuse a clock that was set back: it would let a yes last longer than the policy says.

    Raises:
        NotSignedError: A record of a later time stands already.
    """
    if picture.latest is not None and at < picture.latest - CLOCK_SLACK:
        newest, here = (clock_time(moment, school_zone(office)) for moment in (picture.latest, at))
        raise NotSignedError(
            f"This computer's clock says {here}, but a record of {newest} stands already. Set the clock right; nothing "
            "was signed."
        )


def signed_before(office: Office, event_id: str, *, actor: str, kind: str, subject: str) -> Signed | None:
    """The record of this very event, where a double tap or a retry comes back for it."""
    found = office.store.find_by_event_id(event_id)
    if found is None:
        return None
    header = found[0].header
    return Signed(*found) if (header.actor, header.kind, header.subject) == (actor, kind, subject) else None


def _seen(office: Office, draft_id: str, signature: Signature, at: datetime) -> tuple[Briefing, Assessment | None]:
    """What was on the screen, worked out again from the draft and compared by digest.

    A decline may come before there is any decision; then nothing was shown and nothing is compared.
    """
    if not signature.shown_digest:
        return brief(office, draft_id, at=at), None
    if not timedelta() <= at - signature.shown_at <= SHOWN_FOR:
        minutes = int(SHOWN_FOR.total_seconds() // 60)
        raise NotSignedError(f"The screen is more than {minutes} min old. Look at the decision again, then sign.")
    seen = brief(office, draft_id, at=signature.shown_at)
    if seen.assessment is None or seen.digest != signature.shown_digest:
        raise NotSignedError("The worksheet or the policy changed since this screen was drawn. Look again, then sign.")
    return seen, seen.assessment


def _no_worse_now(office: Office, seen: Briefing, shown: Assessment, at: datetime) -> None:
    now, problems = decide(policy_for(office, seen.sheet, at), seen.sheet, at)
    if now is None:
        raise NotSignedError(f"This no longer holds: {problems[0].message}. Mend it and look again.")
    if now.decision > shown.decision or now.level != shown.level:
        raise NotSignedError(f"The decision is now {now.decision.phrase.lower()} ({now.level}). Look again, then sign.")


def _sign(
    office: Office,
    kind: str,
    draft_id: str,
    signature: Signature,
    rule: Callable[[Ask], Ruling],
    *,
    note: str,
    about: frozenset[RefusedFor] | None = None,
    at: datetime,
) -> Signed:
    person(office, signature.person_id)
    check_pin_of(office, signature.person_id, signature.pin, at=at)
    before = signed_before(office, signature.event_id, actor=signature.person_id, kind=kind, subject=draft_id)
    if before is not None:
        return before

    def decide_on(picture: Picture) -> Intent:
        # All of it after the look: a defect or a refusal that comes in between moves the log on, and it is asked again.
        flight = picture.flights.get(draft_id)
        if flight is not None:
            _still_to_decide(office, flight)
        seen, shown = _seen(office, draft_id, signature, at)
        ruling = _ruling(office, kind, signature, rule, seen, shown, at)
        return _intent(office, kind, seen, shown, signature, ruling, note, about, at)

    return append_decided(office, decide_on)


def _ruling(
    office: Office,
    kind: str,
    signature: Signature,
    rule: Callable[[Ask], Ruling],
    seen: Briefing,
    shown: Assessment | None,
    at: datetime,
) -> Ruling:
    """The rule's yes to signing what was shown, which must be no worse now."""
    if shown is None and kind != "declined":
        raise NotSignedError("There is no decision to sign yet; fill in and mend the worksheet first.")
    ask = Ask(
        signature.person_id,
        roles_of(office, signature.person_id, at),
        seen.pilot_id,
        Decision.no_go if shown is None else shown.decision,
        frozenset(() if shown is None else shown.accepted_by),
        "" if shown is None else shown.level,
        waivable=shown is not None and bool(waivable_limits(shown, policy_for(office, seen.sheet, at).policy)),
    )
    ruling = rule(ask)
    if not ruling.allowed:
        raise NotSignedError(" ".join(ruling.clauses))
    if shown is not None and kind != "declined":
        _no_worse_now(office, seen, shown, at)
    return ruling


_UNDER_WAY = {
    Status.RELEASED: "The aircraft was released already; call the flight off first if it does not go.",
    Status.AIRBORNE: "The aircraft has left.",
    Status.DEBRIEFED: "The flight is closed; brief the next one.",
}


def _still_to_decide(office: Office, flight: Flight) -> None:
    said = _UNDER_WAY.get(flight.state.status)
    if said:
        raise NotSignedError(f"{said} {said_first(office, flight)} Nothing was signed.")


_DID = {
    "accepted": "accepted it",
    "sign_off_requested": "asked for a sign-off",
    "signed": "signed it",
    "sent_back": "sent it back with a question",
    "refused": "refused it",
    "declined": "declined it",
    "released": "released it",
    "took_off": "noted that it left",
    "cancelled": "called it off",
    "debriefed": "closed it",
    "briefed": "briefed it",
}


def said_first(office: Office, flight: Flight) -> str:
    """Who moved a flight last, what they did and when, as a sentence."""
    entry = next(iter(office.store.entries(flight.state.seq)), None)
    if entry is None:
        return ""
    header = entry.header
    try:
        name = person(office, header.actor).name
    except KeyError:
        name = header.actor
    when = clock_time(header.at, school_zone(office))
    return f"{name} {_DID.get(header.kind, 'was first')} at {when}."


def waivable_limits(shown: Assessment, policy: Policy) -> tuple[str, ...]:
    """The limits that stop a flight, where every one of them is a known excess that somebody may waive; else nothing.

    A flight that an unknown or the level itself keeps from going has nothing to waive.
    """
    limits = {limit.name: limit for limit in policy.limits}
    stops = [line for line in shown.reasons if line.decision_floor is Decision.no_go]
    if not stops or any(line.standing is not Standing.stop or line.kind != "limit" for line in stops):
        return ()
    names = tuple(line.clause for line in stops)
    return names if all(limits[name].waiver for name in names) else ()


def _intent(
    office: Office,
    kind: str,
    seen: Briefing,
    shown: Assessment | None,
    signature: Signature,
    ruling: Ruling,
    note: str,
    about: frozenset[RefusedFor] | None,
    at: datetime,
) -> Intent:
    """Everything the signature binds: the entries as typed, what was shown, the words, the digests."""
    draft, _ = draft_of(office, seen.draft_id)
    if draft.revision != seen.revision:
        raise NotSignedError("The worksheet changed while you signed. Look again, then sign.")
    worksheet = worksheet_data(seen.sheet)
    body: dict[str, Json] = {
        "draft": {"id": seen.draft_id, "revision": seen.revision},
        "entries": dict(seen.data),
        "said": {key: list(said) for key, said in seen.said.items()},
        "worksheet": worksheet,
        "worksheet_digest": digest_of(_plain_json(worksheet)),
        "assessment": None if shown is None else shown.as_data(),
        "assessment_digest": signature.shown_digest,
        "type_digest": "" if shown is None else shown.type_digest,
        "shown_at": iso(signature.shown_at),
        "words": ATTESTATION[kind],
        "note": note,
        "authority": list(ruling.clauses),
        "start": asdict(seen.start),
        "crew": list(seen.crew),
        "waived": [],
        "edits": [dict(edit) for edit in seen.edits],
    }
    if about is not None:
        body["about"] = sorted(about)
    valid_until = shown.valid_until if shown is not None and kind == "accepted" else None
    return Intent(
        kind=kind,
        event_id=signature.event_id,
        at=at,
        actor=signature.person_id,
        role=Role.pilot.value,
        subject=seen.draft_id,
        body=body,
        timed={"valid_until": None if valid_until is None else iso(valid_until)},
        engine_version=__version__,
        policy_digest="" if shown is None else shown.policy_digest,
    )


def _plain_json(data: object) -> str:
    return json.dumps(data, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
