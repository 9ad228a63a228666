"""A request as a second person sees it: the queue of those that wait, and one opened with everything it rests on."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import lru_cache
from typing import Any

from riskboard import __version__
from riskboard.assessment.assess import Assessment
from riskboard.assessment.edits import Edit, Verdict, edits_of
from riskboard.assessment.facts import PreparedPolicy
from riskboard.assessment.privacy import health_clauses, without_health, without_health_entries
from riskboard.assessment.validity import if_left_now
from riskboard.jobs.briefing import decide, digest_of
from riskboard.jobs.flight_log import Flight, Picture
from riskboard.jobs.flights import FlightCard, NotShownError, ask_about, asked_entry, board, flight_card
from riskboard.jobs.office import Office, policy_for
from riskboard.jobs.signing import (
    NotSignedError,
    said_first,
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
from riskboard.words import Decision, Role
from riskboard.worksheet.checks import WorksheetProblem
from riskboard.worksheet.model import Worksheet
from riskboard.worksheet.read import partial_worksheet, read_worksheet

__all__ = [
    "QueueItem",
    "Request",
    "Review",
    "Waivable",
    "ask_of",
    "open_request",
    "queue",
    "read_request",
    "sign_ruling",
    "waivable_of",
]

_TOP_REASONS = 3


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
class Request:
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


def read_request(office: Office, picture: Picture, flight_id: str, at: datetime) -> Request:
    """The request that a flight waits with, assessed at ``at``.

    Raises:
        NotSignedError: It does not wait, or its request cannot be read or assessed any more.
    """
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
    return Request(flight, entry.seq, body, sheet, prepared, now, problems, stops)


def ask_of(office: Office, request: Request, person_id: str, at: datetime) -> Ask:
    """The question to the rule of authority about a request: this person, this moment."""
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


def _health_ruling(request: Request, ask: Ask) -> Ruling:
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
        request = read_request(office, picture, card.flight_id, at)
    except NotSignedError:
        return None  # answered between two looks
    ask = ask_of(office, request, person_id, at)
    reads = _health_ruling(request, ask).allowed
    then = _shown_data(request.body["assessment"], request.prepared, reads=reads)
    left = None if card.take_off_at is None else _minutes(card.take_off_at - at)
    return QueueItem(
        card=card,
        reasons=tuple(reason["sentence"] for reason in then["reasons"][:_TOP_REASONS]),
        minutes_left=left,
        waiting_min=_minutes(at - card.since),
        note=str(request.body.get("note", "")) if may_open_flight(ask).allowed else "",
        may_sign=sign_ruling(request, ask),
        viewed=person_id in request.flight.viewed_by,
    )


def _minutes(span: timedelta) -> int:
    return int(span.total_seconds() // 60)


def sign_ruling(request: Request, ask: Ask) -> Ruling:
    """Whether this person may sign the request as it is now."""
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
    request = read_request(office, office.log.look(), flight_id, at)
    ask = ask_of(office, request, person_id, at)
    ruling = may_open_flight(ask)
    if not ruling.allowed:
        raise NotShownError(" ".join(ruling.clauses))
    reads = _health_ruling(request, ask).allowed
    if person_id not in request.flight.viewed_by:
        _note_viewed(office, request, person_id, event_id, reads=reads, at=at)
    return _review(office, request, ask, reads=reads, at=at)


def _note_viewed(office: Office, request: Request, person_id: str, event_id: str, *, reads: bool, at: datetime) -> None:
    ruling = may_open_flight(ask_of(office, request, person_id, at))
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


def _review(office: Office, request: Request, ask: Ask, *, reads: bool, at: datetime) -> Review:
    entries = request.body["entries"]
    now_data = {} if request.now is None else _shown_data(request.now.as_data(), request.prepared, reads=reads)
    edits = _edits(json.dumps(entries), json.dumps(request.body.get("edits", [])), request.prepared)
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
        waivable=waivable_of(request, ask),
        may_sign=sign_ruling(request, ask),
        may_refuse=may_refuse(ask),
        shown_at=at,
        shown_digest=request.digest,
    )


def _bare_sheet(worksheet: Mapping[str, Any]) -> Worksheet:
    sheet, _ = partial_worksheet(without_health_entries(worksheet))
    return sheet


@lru_cache(maxsize=64)
def _edits(entries: str, edits: str, prepared: PreparedPolicy) -> tuple[Edit, ...]:
    """The edits of one request: asked for at every redraw of the page, and always the same."""
    return edits_of(json.loads(entries), json.loads(edits), lambda data, when: _verdict(prepared, data, when))


def _verdict(prepared: PreparedPolicy, data: Mapping[str, Any], when: datetime) -> Verdict | None:
    sheet, problems = partial_worksheet(data)
    if problems:
        return None
    found, _ = decide(prepared, sheet, when)
    return None if found is None else Verdict(found.decision, found.level, found.total)


def waivable_of(request: Request, ask: Ask) -> tuple[Waivable, ...]:
    """The limits that stop a request and may be waived, and whether this person may."""
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
