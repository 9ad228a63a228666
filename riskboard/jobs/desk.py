"""The desk: who waits for a signature, what the pilot saw, and the second person's yes, question, waiver or no."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from riskboard import __version__
from riskboard.assessment.assess import Assessment
from riskboard.assessment.edits import Edit, Verdict, edits_of
from riskboard.assessment.facts import PreparedPolicy
from riskboard.assessment.privacy import health_clauses, without_health, without_health_entries
from riskboard.assessment.validity import if_left_now
from riskboard.jobs.briefing import decide, digest_of, iso
from riskboard.jobs.flight_log import Flight, Picture
from riskboard.jobs.flights import FlightCard, NotShownError, ask_about, asked_entry, board, flight_card
from riskboard.jobs.office import Office, policy_for, prepared_policy
from riskboard.jobs.signing import (
    SHOWN_FOR,
    NotSignedError,
    Signed,
    append_decided,
    check_pin_of,
    said_first,
    signed_before,
    waivable_limits,
)
from riskboard.ledger import Intent, Status
from riskboard.people.authority import (
    Ask,
    Ruling,
    may_open_flight,
    may_read_health,
    may_refuse,
    may_sign_off,
    may_waive,
)
from riskboard.policy.book import NoPolicyError
from riskboard.words import Decision, RefusedFor, Role
from riskboard.worksheet.checks import WorksheetProblem
from riskboard.worksheet.model import Worksheet
from riskboard.worksheet.read import partial_worksheet, read_worksheet
from riskboard.worksheet.write import worksheet_data

if TYPE_CHECKING:
    from riskboard.ledger.canonical import Json

__all__ = [
    "WORDS",
    "DeskSignature",
    "QueueItem",
    "Review",
    "Waivable",
    "open_request",
    "queue",
    "refuse",
    "send_back",
    "sign_off",
    "waive",
]

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
_TOP_REASONS = 3


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


@dataclass(frozen=True)
class QueueItem:
    """One request that waits.

    Attributes:
        card: The flight.
        reasons: The three reasons that weigh most, as this person may see them.
        minutes_left: Whole minutes to the planned take-off, negative when it is past; None when none is planned.
        waiting_min: Whole minutes since it was asked.
        note: What the pilot wants the second person to know.
        may_sign: Whether this person may sign it, and why or why not.
        viewed: Whether this person has opened its facts.
    """

    card: FlightCard
    reasons: tuple[str, ...]
    minutes_left: int | None
    waiting_min: int
    note: str
    may_sign: Ruling
    viewed: bool


@dataclass(frozen=True)
class Waivable:
    """A limit that stops the flight and that the policy lets somebody waive."""

    clause: str
    sentence: str
    roles: tuple[Role, ...]
    waived: bool
    ruling: Ruling


@dataclass(frozen=True)
class Review:
    """A request as opened by a second person.

    Attributes:
        card: The flight.
        request_seq: Record of the request.
        asked_at: When it was asked.
        note: What the pilot wants the second person to know.
        reads_health: Whether this person sees the health answers; where not, they are left out of everything here.
        entries: The entries as typed, part -> field -> value.
        sheet: The sound entries.
        then: The assessment as the pilot saw it, as plain data.
        now: The same worksheet assessed now, waivers included; None where it cannot be true any more.
        now_data: ``now`` as plain data as this person may see it; {} where there is none.
        problems: Why nothing is decided now.
        edits: What the pilot changed to get there, oldest first.
        edits_dropped: Edits that were not kept because there were too many.
        waivable: Limits that may be waived.
        may_sign: Whether this person may sign.
        may_refuse: Whether they may say no or ask back.
        shown_at: Moment of ``now``.
        shown_digest: What a signature names to say: this is what I saw.
    """

    card: FlightCard
    request_seq: int
    asked_at: datetime
    note: str
    reads_health: bool
    entries: Mapping[str, Any]
    sheet: Worksheet
    then: Mapping[str, Any]
    now: Assessment | None
    now_data: Mapping[str, Any]
    problems: tuple[WorksheetProblem, ...]
    edits: tuple[Edit, ...]
    edits_dropped: int
    waivable: tuple[Waivable, ...]
    may_sign: Ruling
    may_refuse: Ruling
    shown_at: datetime
    shown_digest: str


@dataclass(frozen=True)
class _Request:
    """A request read from the log and assessed anew."""

    flight: Flight
    seq: int
    body: Mapping[str, Any]
    sheet: Worksheet
    prepared: PreparedPolicy
    now: Assessment | None
    problems: tuple[WorksheetProblem, ...]
    stops: tuple[str, ...]
    """Limits that stop it and may be waived."""

    @property
    def digest(self) -> str:
        """What was on the screen: the request, the waivers, and the assessment of the moment."""
        now = "" if self.now is None else self.now.as_json()
        return digest_of(json.dumps([self.seq, sorted(self.flight.waived), now]))


def _read(office: Office, picture: Picture, flight_id: str, at: datetime) -> _Request:
    flight = picture.flights.get(flight_id)
    if flight is None:
        raise NotSignedError("Nothing is on record about this flight.")
    if flight.state.status is not Status.SIGN_OFF_REQUESTED:
        raise NotSignedError(f"This flight does not wait for a signature now. {said_first(office, flight)}")
    entry = asked_entry(office, flight)
    if entry is None or entry.body is None:
        raise NotSignedError("The request is no longer on record; the pilot has to ask anew.")
    body = entry.body.value
    try:
        sheet = if_left_now(read_worksheet(body["worksheet"]), at)
        prepared = policy_for(office, sheet, at)
    except (ValueError, NoPolicyError) as error:
        raise NotSignedError(f"This request cannot be assessed now: {error} The pilot has to ask anew.") from error
    now, problems = decide(prepared, sheet, at, waived=flight.waived)
    bare, _ = decide(prepared, sheet, at)
    stops = () if bare is None else waivable_limits(bare, prepared.policy)
    return _Request(flight, entry.seq, body, sheet, prepared, now, problems, stops)


def _ask(office: Office, request: _Request, person_id: str, at: datetime) -> Ask:
    now = request.now
    named = frozenset() if now is None else frozenset(now.accepted_by)
    return ask_about(
        office,
        request.flight,
        person_id,
        at,
        decision=Decision.no_go if now is None else now.decision,
        level="" if now is None else now.level,
        accepted_by=named,
    )


def _health_ruling(request: _Request, ask: Ask) -> Ruling:
    """Whoever must sign may read, and so may whoever must waive what stops the flight."""
    limits = {limit.name: limit for limit in request.prepared.policy.limits}
    waivers = {role for clause in request.stops for role in limits[clause].waiver}
    named = ask.accepted_by | waivers
    wider = Ask(ask.person_id, ask.roles, ask.pilot_id, ask.decision, frozenset(named), ask.level, ask.crew, ask.lapsed)
    return may_read_health(wider, waits=True)


def queue(office: Office, person_id: str, *, at: datetime) -> tuple[QueueItem, ...]:
    """The requests that wait, by planned departure; those without one last.

    Args:
        office: The school.
        person_id: Who looks.
        at: Now.

    Raises:
        NotShownError: They hold no role at the school.
    """
    cards = [card for card in board(office, person_id, at=at) if card.status is Status.SIGN_OFF_REQUESTED]
    picture = office.log.look()
    items = [item for card in cards if (item := _item(office, picture, card, person_id, at)) is not None]
    items.sort(key=lambda item: (item.minutes_left is None, item.minutes_left or 0, item.card.seq))
    return tuple(items)


def _item(office: Office, picture: Picture, card: FlightCard, person_id: str, at: datetime) -> QueueItem | None:
    try:
        request = _read(office, picture, card.flight_id, at)
    except NotSignedError:
        return None  # answered between two looks
    ask = _ask(office, request, person_id, at)
    reads = _health_ruling(request, ask).allowed
    then = _shown_data(request.body["assessment"], request.prepared, reads=reads)
    left = None if card.take_off_at is None else _minutes(card.take_off_at - at)
    return QueueItem(
        card=card,
        reasons=tuple(reason["sentence"] for reason in then["reasons"][:_TOP_REASONS]),
        minutes_left=left,
        waiting_min=_minutes(at - card.since),
        note=str(request.body.get("note", "")) if may_open_flight(ask).allowed else "",
        may_sign=_sign_ruling(request, ask),
        viewed=person_id in request.flight.viewed_by,
    )


def _minutes(span: timedelta) -> int:
    return int(span.total_seconds() // 60)


def _sign_ruling(request: _Request, ask: Ask) -> Ruling:
    if request.now is None:
        said = request.problems[0].message if request.problems else "Nothing can be decided."
        return Ruling(allowed=False, clauses=(f"The worksheet cannot be true any more: {said}",))
    return may_sign_off(ask)


def _shown_data(assessment: Mapping[str, Any], prepared: PreparedPolicy, *, reads: bool) -> Mapping[str, Any]:
    return assessment if reads else without_health(assessment, health_clauses(prepared.policy))


def open_request(office: Office, person_id: str, flight_id: str, *, event_id: str, at: datetime) -> Review:
    """Open the facts of a request. That they were opened, by whom and when, goes on record.

    Args:
        office: The school.
        person_id: Who opens it.
        flight_id: The flight.
        event_id: Made when the page was drawn, so that looking again adds no record.
        at: Now.

    Raises:
        NotShownError: This person may not see this flight.
        NotSignedError: It does not wait for a signature.
        LedgerError: That it was opened could not be recorded; then nothing is shown.
    """
    request = _read(office, office.log.look(), flight_id, at)
    ask = _ask(office, request, person_id, at)
    ruling = may_open_flight(ask)
    if not ruling.allowed:
        raise NotShownError(" ".join(ruling.clauses))
    reads = _health_ruling(request, ask).allowed
    if person_id not in request.flight.viewed_by:
        _note_viewed(office, request, person_id, event_id, reads=reads, at=at)
    return _review(office, request, ask, reads=reads, at=at)


def _note_viewed(
    office: Office, request: _Request, person_id: str, event_id: str, *, reads: bool, at: datetime
) -> None:
    ruling = may_open_flight(_ask(office, request, person_id, at))
    office.store.append(
        Intent(
            kind="viewed",
            event_id=event_id,
            at=at,
            actor=person_id,
            role="" if ruling.role is None else ruling.role.value,
            subject=request.flight.state.subject,
            body={"request": request.seq, "health_answers": reads},
            engine_version=__version__,
        )
    )


def _review(office: Office, request: _Request, ask: Ask, *, reads: bool, at: datetime) -> Review:
    entries = request.body["entries"]
    now_data = {} if request.now is None else _shown_data(request.now.as_data(), request.prepared, reads=reads)
    edits = _edits(
        json.dumps(entries), json.dumps(request.body.get("edits", [])), office, request.prepared.policy.digest
    )
    sheet = request.sheet if reads else _bare_sheet(request.body["worksheet"])
    return Review(
        card=flight_card(office, request.flight.state.subject, at=at),
        request_seq=request.seq,
        asked_at=request.flight.asked_at or at,
        note=str(request.body.get("note", "")),
        reads_health=reads,
        entries=entries if reads else without_health_entries(entries),
        sheet=sheet,
        then=_shown_data(request.body["assessment"], request.prepared, reads=reads),
        now=request.now if reads else None,
        now_data=now_data,
        problems=request.problems,
        edits=tuple(edit for edit in edits if reads or not edit.health),
        edits_dropped=int(request.body.get("edits_dropped", 0)),
        waivable=_waivable(request, ask),
        may_sign=_sign_ruling(request, ask),
        may_refuse=may_refuse(ask),
        shown_at=at,
        shown_digest=request.digest,
    )


def _bare_sheet(worksheet: Mapping[str, Any]) -> Worksheet:
    sheet, _ = partial_worksheet(without_health_entries(worksheet))
    return sheet


@lru_cache(maxsize=64)
def _edits(entries: str, edits: str, office: Office, policy_digest: str) -> tuple[Edit, ...]:
    """The edits of one request: asked for at every redraw of the page, and always the same."""
    prepared = prepared_policy(office, policy_digest)
    return edits_of(json.loads(entries), json.loads(edits), lambda data, when: _verdict(prepared, data, when))


def _verdict(prepared: PreparedPolicy, data: Mapping[str, Any], when: datetime) -> Verdict | None:
    sheet, problems = partial_worksheet(data)
    if problems:
        return None
    found, _ = decide(prepared, sheet, when)
    return None if found is None else Verdict(found.decision, found.level, found.total)


def _waivable(request: _Request, ask: Ask) -> tuple[Waivable, ...]:
    limits = {limit.name: limit for limit in request.prepared.policy.limits}
    said = {reason["clause"]: reason["sentence"] for reason in request.body["assessment"]["reasons"]}
    return tuple(
        Waivable(
            clause,
            said.get(clause, clause),
            limits[clause].waiver,
            clause in request.flight.waived,
            may_waive(ask, frozenset(limits[clause].waiver), known_excess=True),
        )
        for clause in request.stops
    )


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
        ask = _ask(office, request, person_id, at)
        ruling = _allowed(_sign_ruling(request, ask))
        shown = request.now
        if shown is None:
            raise NotSignedError("Nothing can be decided about this flight now.")
        _no_worse_now(request, shown, at)
        body: dict[str, Json] = {
            "request": request.seq,
            "worksheet": worksheet_data(request.sheet),
            "assessment": shown.as_data(),
            "assessment_digest": digest_of(shown.as_json()),
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
) -> _Request:
    """The request as it was on this person's screen."""
    if not timedelta() <= at - shown_at <= SHOWN_FOR:
        minutes = int(SHOWN_FOR.total_seconds() // 60)
        raise NotSignedError(f"The screen is more than {minutes} min old. Look at it again, then sign.")
    request = _read(office, picture, flight_id, shown_at)
    if person_id not in request.flight.viewed_by:
        raise NotSignedError("Open the facts of this flight first; nobody signs what they have not seen.")
    if request.digest != shown_digest:
        raise NotSignedError("The request, a waiver or the policy changed since this screen was drawn. Look again.")
    return request


def _no_worse_now(request: _Request, shown: Assessment, at: datetime) -> None:
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
    request: _Request,
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
        request = _read(office, picture, flight_id, at)
        ruling = _allowed(may_refuse(_ask(office, request, person_id, at)))
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
        offered = {each.clause: each for each in _waivable(request, _ask(office, request, person_id, at))}
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
