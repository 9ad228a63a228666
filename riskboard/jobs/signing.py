"""Accepting, asking for a signature, declining. What comes back is durable; what is raised was not signed."""

import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from riskboard import __version__
from riskboard.assessment.assess import Assessment
from riskboard.jobs.briefing import Briefing, brief, decide, digest_of, draft_of, iso
from riskboard.jobs.office import Office, person, policy_for
from riskboard.ledger import Entry, Intent, Receipt
from riskboard.people.authority import Ask, Ruling, may_accept, may_request_sign_off
from riskboard.people.pin import check_pin, may_try, wait_after
from riskboard.words import Decision, Role
from riskboard.worksheet.write import worksheet_data

if TYPE_CHECKING:
    from riskboard.ledger.canonical import Json

__all__ = ["ATTESTATION", "SHOWN_FOR", "NotSignedError", "Signature", "Signed", "accept", "decline", "request_sign_off"]

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


def decline(office: Office, draft_id: str, signature: Signature, *, reason: str, at: datetime) -> Signed:
    """The pilot in command says no. Needs a reason, and no particular decision: staying is always allowed.

    Raises:
        NotSignedError: Wrong PIN, somebody else's flight, or no reason.
        LedgerError: The record could not be written.
    """
    if not reason.strip():
        raise NotSignedError("Say in a few words why the flight does not go; the record needs a reason.")
    return _sign(office, "declined", draft_id, signature, _own_flight, note=reason.strip(), at=at)


def _own_flight(ask: Ask) -> Ruling:
    if ask.person_id == ask.pilot_id:
        return Ruling(allowed=True, clauses=("The pilot in command may always say no.",))
    return Ruling(allowed=False, clauses=("Only the pilot in command answers for this flight here.",))


def _check_pin(office: Office, person_id: str, pin: str, at: datetime) -> None:
    if not office.store.claim_pin_attempt(person_id, at=at, may_try=may_try):
        record = office.store.get_pin(person_id)
        wait = timedelta() if record is None else wait_after(record.failures, record.last_failure_at, at)
        seconds = int(wait.total_seconds()) + 1
        raise NotSignedError(f"Too many wrong PINs. Try again in {seconds} s; nothing was signed.")
    record = office.store.get_pin(person_id)
    if not check_pin(pin, None if record is None else record.pin_hash):
        raise NotSignedError("That PIN is not right; nothing was signed.")
    office.store.clear_pin_failures(person_id)


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
    at: datetime,
) -> Signed:
    signer = person(office, signature.person_id)
    _check_pin(office, signature.person_id, signature.pin, at)
    found = office.store.find_by_event_id(signature.event_id)
    if found is not None and (found[0].header.actor, found[0].header.kind, found[0].header.subject) == (
        signature.person_id,
        kind,
        draft_id,
    ):
        return Signed(*found)
    seen, shown = _seen(office, draft_id, signature, at)
    if shown is None and kind != "declined":
        raise NotSignedError("There is no decision to sign yet; fill in and mend the worksheet first.")
    ask = Ask(
        signature.person_id,
        signer.roles,
        seen.pilot_id,
        Decision.no_go if shown is None else shown.decision,
        frozenset(() if shown is None else shown.accepted_by),
        "" if shown is None else shown.level,
    )
    ruling = rule(ask)
    if not ruling.allowed:
        raise NotSignedError(" ".join(ruling.clauses))
    if shown is not None and kind != "declined":
        _no_worse_now(office, seen, shown, at)
    return Signed(*office.store.append(_intent(office, kind, seen, shown, signature, ruling, note, at)))


def _intent(
    office: Office,
    kind: str,
    seen: Briefing,
    shown: Assessment | None,
    signature: Signature,
    ruling: Ruling,
    note: str,
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
        "shown_at": iso(signature.shown_at),
        "words": ATTESTATION[kind],
        "note": note,
        "authority": list(ruling.clauses),
    }
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
