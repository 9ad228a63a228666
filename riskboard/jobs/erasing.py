"""Erasing what a person said about their health, at their request: one signed record, and nothing of it left.

What goes: the whole body of every record of the flights named, whoever wrote it (request, acceptance, what the second
person saw, signed, refused or asked, a debrief with words of the pilot's own), for reasons and totals tell what the
answers were; the drafts behind them; and, of flights that this person signed for others, the bodies of their own
signatures, which hold how long they had been awake and on duty. A body goes whole: half a record could not be trusted.

What stays: the header of each record (who, in which role, when, which flight, under which policy), so that the log
still shows that a flight was asked for, signed, refused, flown and closed; a debrief without a word of the pilot's own,
and that the aircraft was released and left: they hold no answer, and what a debrief changed at the aircraft must stay
readable. Of an erased record nobody can recompute the decision any more.

What the store cannot reach is said and not hidden: backups, exports, printed sheets.
"""

import json
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from riskboard import __version__
from riskboard.jobs.flight_log import Flight, Picture
from riskboard.jobs.office import Office
from riskboard.jobs.roles import roles_of
from riskboard.jobs.signing import NotSignedError, check_pin_of
from riskboard.ledger import Entry, Intent, Status
from riskboard.ledger.entry import UnreadableError
from riskboard.ledger.errors import RevisionError
from riskboard.ledger.kinds import ERASED, KINDS
from riskboard.ledger.store import DocumentChange, Erasure
from riskboard.people.authority import may_erase_health
from riskboard.worksheet.kept import HEALTH
from riskboard.worksheet.kinds import shown

__all__ = ["WORDS", "ErasureSignature", "NotErasedError", "erase_health", "flights_with_health"]

WORDS = (
    "At the request of the person named, what they said about their health on these flights is erased. I know that it "
    "cannot be brought back."
)
"""The words that are signed."""

_LONGEST_WHY = 500
_OUT = frozenset({Status.RELEASED, Status.AIRBORNE})
_WITHOUT_ANSWERS = frozenset({"released", "run_up", "took_off", "debriefed"})
_OWN_WORDS = frozenset({"note", "said", "question", "reason", "conditions", "step"})
_BLANK: tuple[object, ...] = (None, "", [])
_TRIES = 8


class NotErasedError(NotSignedError):
    """Nothing was erased. The message says why and what would be right."""


@dataclass(frozen=True)
class ErasureSignature:
    """Who signs the erasure.

    Attributes:
        person_id: Who signs: the person themselves, or an administrator at their request.
        pin: Their PIN, as typed.
        event_id: Made when it was asked for; a repeated erasure finishes the first one.
        why: The request, in a few words. It must not repeat what is being erased.
    """

    person_id: str
    pin: str
    event_id: str
    why: str


def flights_with_health(office: Office, person_id: str) -> tuple[str, ...]:
    """Flights on record that hold an answer of this person about their health, in order of appearance."""
    picture = office.log.look()
    found = {name for name in picture.flights if any(_bodies(office, picture, name, person_id))}
    return tuple(name for name in picture.flights if name in found)


def erase_health(
    office: Office, signature: ErasureSignature, person_id: str, flight_ids: Collection[str] | None, *, at: datetime
) -> Erasure:
    """Erase a person's health answers.

    Args:
        office: The school.
        signature: Who signs it.
        person_id: Whose answers.
        flight_ids: Flights; None for everything of this person, unfinished worksheets included.
        at: Now.

    Returns:
        The record, whether the store's own files are clean, and what else may still hold the text.

    Raises:
        NotErasedError: Wrong PIN, no right to, an unknown flight, an aircraft that is out, or nothing to erase.
        LedgerError: It could not be written.
    """
    check_pin_of(office, signature.person_id, signature.pin, at=at)
    own = signature.person_id == person_id
    ruling = may_erase_health(roles_of(office, signature.person_id, at), own=own)
    if not ruling.allowed:
        raise NotErasedError(" ".join(ruling.clauses))
    if not signature.why.strip() or len(signature.why) > _LONGEST_WHY:
        raise NotErasedError(f"Say in a few words who asked for it, with at most {_LONGEST_WHY} characters.")
    before = office.store.find_by_event_id(signature.event_id)
    if before is not None:
        return _again(office, before[0], signature)
    for last in (*[False] * (_TRIES - 1), True):
        picture = office.log.look()
        named = flights_with_health(office, person_id) if flight_ids is None else tuple(dict.fromkeys(flight_ids))
        numbers = _numbers(office, picture, named, person_id)
        drafts = _drafts(office, picture, named, person_id, everything=flight_ids is None)
        documents = list(_documents(office, person_id))
        if not (numbers or drafts or documents):
            raise NotErasedError(f"Nothing is kept of what {shown(person_id)} said about their health there.")
        body: dict[str, Any] = {
            "person": person_id, "flights": list(named), "why": signature.why.strip(), "words": WORDS,
            "authority": list(ruling.clauses),
        }  # fmt: skip
        role = "person" if ruling.role is None else ruling.role.value
        intent = _intent(signature, f"person {person_id}", role, body, at)
        try:
            return office.store.erase(intent, numbers, drafts=drafts, documents=documents)
        except RevisionError:
            if last:
                raise
    raise AssertionError("the last try returns or raises")


def _intent(signature: ErasureSignature, subject: str, role: str, body: dict[str, Any], at: datetime) -> Intent:
    return Intent(
        kind=ERASED,
        event_id=signature.event_id,
        at=at,
        actor=signature.person_id,
        role=role,
        subject=subject,
        body=body,
        engine_version=__version__,
    )


def _again(office: Office, entry: Entry, signature: ErasureSignature) -> Erasure:
    """Finish an erasure that is on record: the files are cleaned again."""
    header = entry.header
    if (header.kind, header.actor) != (ERASED, signature.person_id) or entry.body is None:
        raise NotErasedError(f"Record {entry.seq} was made under this event already, and it is another one.")
    body = dict(entry.body.value)
    numbers = body.pop("erases")
    # Naming the drafts again deletes nothing: the event is on record. It lets an erasure without records be repeated.
    return office.store.erase(_intent(signature, header.subject, header.role, body, header.at), numbers, drafts=("",))


def _numbers(office: Office, picture: Picture, named: Collection[str], person_id: str) -> list[int]:
    numbers = []
    for flight_id in named:
        flight = picture.flights.get(flight_id)
        if flight is None:
            raise NotErasedError(f"Nothing is on record about the flight {shown(flight_id)}.")
        found = [entry.seq for entry in _bodies(office, picture, flight_id, person_id)]
        if found and flight.state.status in _OUT:
            raise NotErasedError(
                f"The flight {shown(flight_id)} is out; what watches over it rests on these records. Close it first."
            )
        numbers += found
    person = office.store.entries(subject=f"person {person_id}", kinds=("fact_changed",))
    return numbers + [entry.seq for entry in person if _holds(_value(entry), HEALTH)]


def _bodies(office: Office, picture: Picture, flight_id: str, person_id: str) -> Iterator[Entry]:
    """Records of a flight whose bodies tell something of this person's health."""
    flight: Flight = picture.flights[flight_id]
    for entry in office.store.entries(subject=flight_id):
        theirs = flight.pilot_id == person_id or (entry.header.kind == "signed" and entry.header.actor == person_id)
        kind = KINDS.get(entry.header.kind)
        if theirs and entry.body is not None and kind is not None and kind.erasable and _tells(entry):
            yield entry


def _tells(entry: Entry) -> bool:
    return entry.header.kind not in _WITHOUT_ANSWERS or _holds(_value(entry), HEALTH | _OWN_WORDS)


def _value(entry: Entry) -> Mapping[str, Any]:
    try:
        return {} if entry.body is None else entry.body.value
    except UnreadableError:
        return {}


def _holds(found: object, names: frozenset[str]) -> bool:
    """Whether an answer under one of these names stands anywhere in plain data."""
    if isinstance(found, Mapping):
        return any((name in names and value not in _BLANK) or _holds(value, names) for name, value in found.items())
    return isinstance(found, list) and any(_holds(each, names) for each in found)


def _drafts(office: Office, picture: Picture, named: Collection[str], person_id: str, *, everything: bool) -> list[str]:
    own = {name for name in named if picture.flights[name].pilot_id == person_id}
    drafts = [name for name in sorted(own) if office.store.load_draft(name) is not None]
    if everything:
        out = {name for name, flight in picture.flights.items() if flight.state.status in _OUT}
        drafts += [draft.draft_id for draft in office.store.list_drafts(person_id) if draft.draft_id not in out]
    return sorted(set(drafts))


def _documents(office: Office, person_id: str) -> Iterator[DocumentChange]:
    """The person's stored facts without health answers, where any got among them."""
    stored = office.store.get_document("person", person_id)
    if stored is None:
        return
    document = json.loads(stored.text)
    facts = document.get("pilot", {})
    clean = {name: value for name, value in facts.items() if name not in HEALTH}
    if clean != facts:
        text = json.dumps(document | {"pilot": clean}, ensure_ascii=False)
        yield DocumentChange("person", person_id, text, stored.revision)
