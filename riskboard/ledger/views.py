"""What people ask of the log, folded from its entries. Pure: the same entries always give the same answer.

The subject of a flight's entries is the id of its assessment. What an entry means for a flight:

- `briefed` starts over: the facts are new, so every earlier yes is void and the earlier no's stay visible;
- `sign_off_requested` asks anew: what was said to an earlier request is void;
- `signed` is a second person's yes, which the pilot in command still has to take; `accepted` is the pilot's, alone or
  (where its body names the record it `answers`) on top of the signature. Both hold until the time `valid_until` in the
  body (ISO 8601, UTC); a body that was erased or states no such time is never a valid yes;
- `declined`, `refused`, `sent_back` and `cancelled` void every yes before them; all but `sent_back` are a no;
- `released`, `took_off` and `debriefed` move the flight on;
- all other kinds are not about the state of a flight.

Whether the yes came from a person who may give it is not judged here: that is the rule of authority.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from enum import StrEnum
from types import MappingProxyType

from riskboard.ledger.canonical import NotCanonicalError, parse_utc
from riskboard.ledger.entry import Entry, UnreadableError

__all__ = ["Answer", "FlightState", "Status", "awaiting_sign_off", "fold", "step"]


class Status(StrEnum):
    """Where a flight stands."""

    BRIEFED = "briefed"
    SIGN_OFF_REQUESTED = "sign-off requested"
    SENT_BACK = "sent back"
    SIGNED = "signed"
    ACCEPTED = "accepted"
    LAPSED = "lapsed"
    DECLINED = "declined"
    REFUSED = "refused"
    RELEASED = "released"
    AIRBORNE = "airborne"
    DEBRIEFED = "debriefed"
    CANCELLED = "cancelled"

    @property
    def closed(self) -> bool:
        """Whether nothing more is expected of the flight."""
        return self in _CLOSED


_CLOSED = frozenset({Status.DECLINED, Status.REFUSED, Status.DEBRIEFED, Status.CANCELLED})
_HOLDS_A_WHILE = frozenset({Status.SIGNED, Status.ACCEPTED})


@dataclass(frozen=True, slots=True)
class Answer:
    """One person's yes or no.

    Attributes:
        seq: Number of the record.
        kind: Kind of the entry.
        actor: Who.
        role: In which role.
        at: When.
        valid_until: How long a yes holds; None for a no, and for a yes whose time cannot be read.
    """

    seq: int
    kind: str
    actor: str
    role: str
    at: datetime
    valid_until: datetime | None


@dataclass(frozen=True, slots=True)
class FlightState:
    """The latest state of one subject.

    Attributes:
        subject: Id of the assessment.
        status: As the last entry left it; ask `status_at` for what holds at a given time.
        since: Time of that entry.
        seq: Number of that entry.
        asked_seq: Number of the latest entry that put an assessment before somebody (`briefed`, `sign_off_requested`,
            or an `accepted` that answers no request); 0 if there is none.
        policy_digest: Policy of that entry.
        yes: Every yes since that entry, none of them void.
        no: Every no, also those before.
    """

    subject: str
    status: Status
    since: datetime
    seq: int
    asked_seq: int = 0
    policy_digest: str = ""
    yes: tuple[Answer, ...] = ()
    no: tuple[Answer, ...] = ()

    @property
    def accepted_until(self) -> datetime | None:
        """The end of the acceptance: the earliest end among the latest yes of each kind; None if one has no end."""
        latest = {answer.kind: answer.valid_until for answer in self.yes}
        ends = [end for end in latest.values() if end is not None]
        return min(ends) if ends and len(ends) == len(latest) else None

    def status_at(self, now: datetime) -> Status:
        """Return the status at a time: an acceptance that has run out is `lapsed`; its last moment still counts."""
        if self.status in _HOLDS_A_WHILE and (self.accepted_until is None or now > self.accepted_until):
            return Status.LAPSED
        return self.status


_STATUS: Mapping[str, Status] = MappingProxyType(
    {
        "briefed": Status.BRIEFED,
        "sign_off_requested": Status.SIGN_OFF_REQUESTED,
        "sent_back": Status.SENT_BACK,
        "accepted": Status.ACCEPTED,
        "signed": Status.SIGNED,
        "declined": Status.DECLINED,
        "refused": Status.REFUSED,
        "released": Status.RELEASED,
        "took_off": Status.AIRBORNE,
        "cancelled": Status.CANCELLED,
        "debriefed": Status.DEBRIEFED,
    }
)
_YES = frozenset({"accepted", "signed"})
_NO = frozenset({"declined", "refused", "cancelled"})
_ASKS = frozenset({"briefed", "sign_off_requested"})


def fold(entries: Iterable[Entry]) -> dict[str, FlightState]:
    """Return the latest state of each subject that has entries about a flight, in order of first appearance.

    Raises:
        UnreadableError: If a header cannot be read: a log that does not verify has no state to show.
    """
    states: dict[str, FlightState] = {}
    for entry in entries:
        state = step(states.get(entry.header.subject), entry)
        if state is not None:
            states[state.subject] = state
    return states


def step(state: FlightState | None, entry: Entry) -> FlightState | None:
    """Return the state after one more entry of the same subject."""
    header = entry.header
    status = _STATUS.get(header.kind)
    if status is None:
        return state
    known = state or FlightState(header.subject, status, header.at, header.seq)
    moved = replace(known, status=status, since=header.at, seq=header.seq)
    if header.kind in _ASKS:
        return replace(moved, asked_seq=header.seq, policy_digest=header.policy_digest, yes=())
    if header.kind in _YES:
        if header.kind == "accepted" and not _answers_a_signature(entry):
            moved = replace(moved, asked_seq=header.seq, policy_digest=header.policy_digest, yes=())
        return replace(moved, yes=(*moved.yes, _answer(entry, _valid_until(entry))))
    if header.kind == "sent_back":
        return replace(moved, yes=())
    if header.kind in _NO:
        return replace(moved, yes=(), no=(*known.no, _answer(entry, None)))
    return moved


def awaiting_sign_off(states: Iterable[FlightState]) -> list[FlightState]:
    """Return the flights that wait for a second person's signature, longest waiting first."""
    waiting = [state for state in states if state.status is Status.SIGN_OFF_REQUESTED]
    return sorted(waiting, key=lambda state: state.seq)


def _answer(entry: Entry, valid_until: datetime | None) -> Answer:
    header = entry.header
    return Answer(header.seq, header.kind, header.actor, header.role, header.at, valid_until)


def _answers_a_signature(entry: Entry) -> bool:
    """Whether this acceptance takes what a second person signed (its body names that record), or stands alone."""
    try:
        return entry.body is not None and entry.body.value.get("answers") is not None
    except UnreadableError:
        return False


def _valid_until(entry: Entry) -> datetime | None:
    if entry.body is None:
        return None
    try:
        return parse_utc(entry.body.value["valid_until"])
    except (KeyError, TypeError, UnreadableError, NotCanonicalError):
        return None
