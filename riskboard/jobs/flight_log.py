"""What the log says about each flight, folded once and then continued: the log only grows.

A cache, never a second truth: it can be thrown away and folded again at any time, and whoever appends names the record
up to which the log was read (``head``), so that nobody decides on an old picture.
"""

import threading
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

from riskboard.jobs.aircraft_log import Past, fuel_at_start_of, moment_of, take_past
from riskboard.ledger import Entry, Store
from riskboard.ledger.entry import UnreadableError
from riskboard.ledger.views import FlightState, step
from riskboard.people.roles import RoleSpell
from riskboard.people.roles import step as take_role
from riskboard.words import Decision, RefusedFor

__all__ = ["FactChange", "Flight", "FlightLog", "No", "Picture"]


@dataclass(frozen=True, slots=True)
class Flight:
    """One flight as the log has it.

    Attributes:
        state: Where it stands.
        pilot_id: Pilot in command.
        instructor_id: Instructor chosen for it, "" if none.
        aircraft_id: Stored aircraft, "" if none was chosen.
        site_id: Stored site, "" if none.
        route_id: Stored usual flight, "" if none.
        crew: Everybody aboard as far as known.
        registration: As typed.
        where: Destination or area as typed.
        take_off_at: Planned, UTC.
        landing_at: Planned, UTC.
        observed_at: Time of the weather it rests on.
        decision: Decision that was put before somebody last.
        level: Its level.
        asked_at: When.
        question: The question it was sent back with.
        conditions: Conditions of the signature.
        waived: Limits waived since it was asked last.
        took_off_at: When it left.
        steps: Steps taken because it was overdue.
        viewed_by: Who opened its facts since it was asked last.
        type_name: Aircraft type as typed.
        fuel_gal: Usable fuel at the start, as typed.
        run_up_seq: Number of the newest run-up on record for this release; 0 for none.
        run_up_good: Whether that one was good.
        run_up_stops: What was found at the run-up since it was asked last that ends the release, a sentence each.
        left_run_up: How the run-up stood when it left: "good", "not good" or "none on record"; "" where no record says.
        left_void: Why the release held no longer when it left all the same.
    """

    state: FlightState
    pilot_id: str = ""
    instructor_id: str = ""
    aircraft_id: str = ""
    site_id: str = ""
    route_id: str = ""
    crew: frozenset[str] = frozenset()
    registration: str = ""
    where: str = ""
    take_off_at: datetime | None = None
    landing_at: datetime | None = None
    observed_at: datetime | None = None
    decision: Decision | None = None
    level: str = ""
    asked_at: datetime | None = None
    question: str = ""
    conditions: tuple[str, ...] = ()
    waived: frozenset[str] = frozenset()
    took_off_at: datetime | None = None
    steps: tuple[str, ...] = ()
    viewed_by: frozenset[str] = frozenset()
    type_name: str = ""
    fuel_gal: float | None = None
    run_up_seq: int = 0
    run_up_good: bool = False
    run_up_stops: tuple[str, ...] = ()
    left_run_up: str = ""
    left_void: tuple[str, ...] = ()

    @property
    def run_up_said(self) -> str:
        """How the run-up for this release stands, in words."""
        if not self.run_up_seq:
            return "none on record"
        return "good" if self.run_up_good else "not good"


@dataclass(frozen=True, slots=True)
class FactChange:
    """A fact of the school changed.

    Attributes:
        seq: Number of the record.
        at: When.
        kind: Kind of document.
        document_id: Which.
        keys: What of it.
        flight_id: The flight whose closing changed it, "" if it was changed by itself.
    """

    seq: int
    at: datetime
    kind: str
    document_id: str
    keys: tuple[str, ...]
    flight_id: str = ""


@dataclass(frozen=True, slots=True)
class No:
    """A second person refused, or a pilot declined.

    Attributes:
        seq: Number of the record.
        at: When.
        kind: "refused" or "declined".
        flight_id: Which flight.
        about: What the no was about; everything where the record does not say.
    """

    seq: int
    at: datetime
    kind: str
    flight_id: str
    about: frozenset[RefusedFor]


@dataclass
class Picture:
    """What the log says up to a record.

    Attributes:
        head: Number of the last record read.
        latest: The latest time that any record states.
        flights: Every flight by its id.
        open: Flights of which something is still expected, in order of first appearance.
        ended: (when, flight) of each ending, oldest first.
        changes: Changed facts by (kind, id), oldest first.
        observed: Newest observation time by site, and the record it came with.
        noes: Every refusal and decline, oldest first.
        roles: Every role ever given, by person.
        past: What the log says of each stored aircraft, by id.
    """

    head: int = 0
    latest: datetime | None = None
    flights: dict[str, Flight] = field(default_factory=dict)
    open: dict[str, None] = field(default_factory=dict)
    ended: list[tuple[datetime, str]] = field(default_factory=list)
    changes: dict[tuple[str, str], list[FactChange]] = field(default_factory=dict)
    observed: dict[str, tuple[datetime, int]] = field(default_factory=dict)
    noes: list[No] = field(default_factory=list)
    roles: dict[str, tuple[RoleSpell, ...]] = field(default_factory=dict)
    past: dict[str, Past] = field(default_factory=dict)

    def take(self, entry: Entry) -> None:
        """Take in the next record."""
        header = entry.header
        self.head = entry.seq
        if self.latest is None or header.at > self.latest:
            self.latest = header.at
        take_role(self.roles, entry)
        if header.kind in _CHANGES_FACTS:
            self._take_change(entry)
        before = self.flights.get(header.subject)
        state = step(None if before is None else before.state, entry)
        if state is None:
            take_past(self.past, entry, _body(entry), "", None)
            return
        flight = _after(before, state, entry)
        take_past(self.past, entry, _body(entry), flight.aircraft_id, flight.fuel_gal)
        self.flights[header.subject] = flight
        if header.kind in {"refused", "declined"}:
            self.noes.append(No(entry.seq, header.at, header.kind, header.subject, _about(_body(entry))))
        if state.status.closed:
            if self.open.pop(header.subject, "unknown") is None or before is None:
                self.ended.append((header.at, header.subject))
        else:
            self.open.setdefault(header.subject)
        if header.kind in _ASKS and flight.site_id and flight.observed_at is not None:
            newest = self.observed.get(flight.site_id)
            if newest is None or flight.observed_at > newest[0]:
                self.observed[flight.site_id] = (flight.observed_at, entry.seq)

    def _take_change(self, entry: Entry) -> None:
        body = _body(entry)
        changed = body if entry.header.kind == "fact_changed" else _mapping(body, "fact_changed")
        kind, document_id = changed.get("kind"), changed.get("id")
        if entry.header.kind == "fact_changed" and not isinstance(kind, str):
            kind, _, document_id = entry.header.subject.partition(" ")  # an erased body: the header still says what of
        if not isinstance(kind, str) or not isinstance(document_id, str):
            return
        after = changed.get("after")
        keys = tuple(sorted(after)) if isinstance(after, Mapping) else ()
        flight_id = entry.header.subject if entry.header.kind == "debriefed" else ""
        change = FactChange(entry.seq, entry.header.at, kind, document_id, keys, flight_id)
        self.changes.setdefault((kind, document_id), []).append(change)


class FlightLog:
    """The picture of one store's log, continued at each look. Safe to share between threads."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self._lock = threading.Lock()
        self._picture = Picture()
        self._last_digest = ""

    def look(self) -> Picture:
        """The picture up to the newest record. Do not change it.

        Its ``head`` may be older than what a later look by another thread puts into it, never newer: an append on that
        head is then refused, and the caller looks again.
        """
        with self._lock:
            last: Entry | None = None
            for entry in self._unread():
                self._picture.take(entry)
                last = entry
            if last is not None:
                self._last_digest = last.digest
            return replace(self._picture, open=dict(self._picture.open))

    def _unread(self) -> Iterable[Entry]:
        head = self._picture.head
        if not head:
            return self._store.entries(1)
        entries = iter(self._store.entries(head))
        again = next(entries, None)
        if again is None or again.digest != self._last_digest:
            # Not the log that was read before: restored or tampered with. Fold it anew; verify says which.
            self._picture = Picture()
            return self._store.entries(1)
        return entries


_CHANGES_FACTS = frozenset({"fact_changed", "debriefed", "run_up", "defect_reported", "maintenance_signed"})
"""Records that change a fact of the school; all but the first say so in a part of their body."""
_ASKS = frozenset({"briefed", "sign_off_requested", "accepted", "declined"})
"""Records that carry a whole worksheet."""


def _body(entry: Entry) -> dict[str, Any]:
    if entry.body is None:
        return {}
    try:
        return entry.body.value
    except UnreadableError:
        return {}


def _after(  # noqa: C901, PLR0911 - one return a kind
    before: Flight | None, state: FlightState, entry: Entry
) -> Flight:
    known = Flight(state) if before is None else replace(before, state=state)
    kind, body, at = entry.header.kind, _body(entry), entry.header.at
    if kind == "accepted" and body.get("answers") is not None:
        return known
    if kind in _ASKS:
        return _asked(known, body, entry)
    if kind == "signed":
        return replace(known, conditions=_texts(body.get("conditions")))
    if kind == "sent_back":
        return replace(known, question=str(body.get("question", "")))
    if kind == "released":
        return replace(known, run_up_seq=0, run_up_good=False)
    if kind == "run_up":
        stops = tuple(dict.fromkeys((*known.run_up_stops, *_stops(body))))
        return replace(known, run_up_seq=entry.seq, run_up_good=body.get("good") is True, run_up_stops=stops)
    if kind == "debriefed" and isinstance(body.get("run_up"), str):
        return replace(known, left_run_up=body["run_up"])
    if kind == "took_off":
        left = str(body.get("run_up", ""))
        return replace(known, took_off_at=at, left_run_up=left, left_void=_texts(body.get("void")))
    if kind == "waived" and isinstance(body.get("clause"), str):
        return replace(known, waived=known.waived | {body["clause"]})
    if kind == "viewed":
        return replace(known, viewed_by=known.viewed_by | {entry.header.actor})
    if kind == "overdue_step":
        return replace(known, steps=(*known.steps, str(body.get("step", ""))))
    return known


def _asked(known: Flight, body: Mapping[str, Any], entry: Entry) -> Flight:
    start = _mapping(body, "start")
    plan = _mapping(body, "worksheet", "plan")
    assessment = _mapping(body, "assessment")
    decision = assessment.get("decision")
    return replace(
        known,
        pilot_id=str(start.get("pilot_id") or entry.header.actor),
        instructor_id=str(start.get("instructor_id") or ""),
        aircraft_id=str(start.get("aircraft_id") or ""),
        site_id=str(start.get("site_id") or ""),
        route_id=str(start.get("route_id") or ""),
        # Who typed a paper worksheet in is not aboard; whoever else puts a worksheet on record is its pilot.
        crew=frozenset(_texts(body.get("crew"))) | (set() if "transcribed" in body else {entry.header.actor}),
        registration=str(_mapping(body, "worksheet", "aircraft").get("registration") or ""),
        where=str(plan.get("destination_name") or plan.get("departure_name") or ""),
        take_off_at=moment_of(plan.get("take_off_at")),
        landing_at=moment_of(plan.get("landing_at")),
        observed_at=moment_of(_mapping(body, "worksheet", "weather").get("observed_at")),
        decision=Decision.__members__.get(str(decision)),
        level=str(assessment.get("level") or ""),
        asked_at=entry.header.at,
        question="",
        conditions=(),
        waived=frozenset(_texts(body.get("waived"))),
        viewed_by=frozenset(),
        type_name=str(_mapping(body, "worksheet", "aircraft").get("type_name") or ""),
        fuel_gal=fuel_at_start_of(_mapping(body, "worksheet", "aircraft")),
        run_up_seq=0,
        run_up_good=False,
        run_up_stops=(),
        left_run_up="",
        left_void=(),
    )


def _stops(body: Mapping[str, Any]) -> tuple[str, ...]:
    """Findings of a run-up that are not cured by doing the item; all of it where the record cannot be read."""
    found = body.get("findings")
    if not isinstance(found, list):
        return ("What was seen at the run-up is no longer on record.",)
    findings = [each for each in found if isinstance(each, Mapping)]
    return tuple(str(each.get("sentence", "")) for each in findings if each.get("clearance") != "do_it")


def _about(body: Mapping[str, Any]) -> frozenset[RefusedFor]:
    said = _texts(body.get("about"))
    return frozenset(word for word in RefusedFor if word in said) if "about" in body else frozenset(RefusedFor)


def _mapping(body: Mapping[str, Any], *path: str) -> Mapping[str, Any]:
    found: Any = body
    for name in path:
        found = found.get(name) if isinstance(found, Mapping) else None
    return found if isinstance(found, Mapping) else {}


def _texts(found: object) -> tuple[str, ...]:
    return tuple(str(each) for each in found) if isinstance(found, list) else ()
