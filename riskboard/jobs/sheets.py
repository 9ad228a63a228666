"""Printing: what stands on record about one flight, as a release sheet or a kneeboard card."""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from riskboard.assessment.phrases import points_phrase, upper_first
from riskboard.assessment.privacy import HIDDEN, health_clauses, without_health
from riskboard.jobs.flight_log import Flight
from riskboard.jobs.flights import FlightCard, NotShownError, ask_about, asked_entry, flight_card
from riskboard.jobs.loading_shown import loading_on_record
from riskboard.jobs.office import Office, person, policy_book, policy_of_digest, school, school_zone, shipped_policies
from riskboard.jobs.wires_on_record import wires_on_record
from riskboard.ledger import Entry, Status
from riskboard.people.authority import may_open_flight
from riskboard.policy import Policy
from riskboard.policy.book import DEFAULT_ID, PolicyBook
from riskboard.sheets.blank import blank_pdf
from riskboard.sheets.kneeboard import kneeboard_pdf
from riskboard.sheets.limits_left import limits_left
from riskboard.sheets.release import ReasonLine, ReleaseSheet, SignatureLine, release_pdf
from riskboard.words import NONE, Decision, Role

__all__ = ["PAPER_NAMES", "NoSheetError", "blank_worksheet", "kneeboard", "release_sheet"]

PAPER_NAMES = {"letter": "US Letter", "a4": "A4"}
"""Papers that sheets are made for, as people call them."""


class NoSheetError(LookupError):
    """There is nothing to print; the message says why."""


_SAID = {
    "briefed": "typed in from paper",
    "accepted": "accepted the risk",
    "sign_off_requested": "asked for a sign-off",
    "signed": "signed",
    "waived": "waived a limit",
    "refused": "refused",
    "sent_back": "sent it back",
    "declined": "declined",
    "released": "released the aircraft",
    "run_up": "entered the run-up",
    "took_off": "noted the departure",
    "cancelled": "called it off",
    "debriefed": "closed the flight",
}
_DEAD = {
    Status.REFUSED: "Refused",
    Status.DECLINED: "Declined",
    Status.CANCELLED: "Called off",
}
_OPEN = {
    Status.BRIEFED: "Not signed",
    Status.SIGN_OFF_REQUESTED: "Waits for a signature",
    Status.SENT_BACK: "Sent back with a question",
    Status.SIGNED: "Signed, not yet taken",
    Status.LAPSED: "Holds no longer",
    Status.DEBRIEFED: "Flight closed",
}
_MARKS = {"stop": "STOP", "unknown": "UNKNOWN", "floor": "FLOOR", "relief": "RELIEF"}


def release_sheet(
    office: Office, person_id: str | None, flight_id: str, *, paper: str, at: datetime
) -> tuple[str, bytes]:
    """The release sheet of a flight, from the record alone.

    A flight that was not released, or whose yes holds no longer, is printed too, and says so in its title, in its sign
    and in a sentence. What is known of the pilot's condition is left out unless the pilot prints it.

    Args:
        office: The school.
        person_id: Who prints; None for whoever runs commands at the store itself, who gets no health answers either.
        flight_id: The flight.
        paper: "letter" or "a4".
        at: Now.

    Returns:
        A file name and the PDF.

    Raises:
        NotShownError: This person may not see this flight.
        NoSheetError: Nothing, or nothing readable, is on record about it.
        KeyError: No such paper.
        LedgerError: The log cannot be read.
    """
    return _printed(office, person_id, flight_id, "release", release_pdf, paper, at)


def kneeboard(office: Office, person_id: str | None, flight_id: str, *, paper: str, at: datetime) -> tuple[str, bytes]:
    """The kneeboard card of a flight, from the record alone. Arguments and errors as in :func:`release_sheet`."""
    return _printed(office, person_id, flight_id, "kneeboard", kneeboard_pdf, paper, at)


def blank_worksheet(
    office: Office | None, *, paper: str, at: datetime, policy: Policy | None = None, policy_id: str | None = None
) -> tuple[str, bytes]:
    """A blank paper worksheet of a policy, for the day the computer is down.

    Args:
        office: The school whose published policies count, and whose name stands on it; None for the shipped ones.
        paper: "letter" or "a4".
        at: Now.
        policy: The policy itself.
        policy_id: Or its id; the version in force counts. With neither, the school's ordinary policy.

    Returns:
        A file name and the PDF.

    Raises:
        NoPolicyError: No such policy is in force.
        KeyError: No such paper.
    """
    _check_paper(paper)
    found = None if office is None else school(office)
    name = str((found or {}).get("name") or "")
    if policy is None:
        book = PolicyBook(shipped_policies()) if office is None else policy_book(office)
        policy = book.in_force(DEFAULT_ID if policy_id is None else policy_id, at)
    return f"worksheet-{policy.id}-{policy.version}-{paper}.pdf", blank_pdf(policy, paper, school=name)


def _check_paper(paper: str) -> None:
    if paper not in PAPER_NAMES:
        raise KeyError(f"there is no paper called {paper!r}; choose one of {', '.join(PAPER_NAMES)}")


def _printed(
    office: Office,
    person_id: str | None,
    flight_id: str,
    name: str,
    make: Callable[[ReleaseSheet, str], bytes],
    paper: str,
    at: datetime,
) -> tuple[str, bytes]:
    _check_paper(paper)
    sheet = _Record.read(office, person_id, flight_id, at).sheet()
    safe = re.sub(r"[^A-Za-z0-9]+", "-", flight_id)[:40]
    return f"{name}-{safe}-{paper}.pdf", make(sheet, paper)


@dataclass(frozen=True)
class _Record:
    """What is on record about one flight, as far as the person who prints may see it."""

    office: Office
    flight: Flight
    card: FlightCard
    entries: tuple[Entry, ...]
    worksheet: Mapping[str, Any]
    assessment: Mapping[str, Any]
    policy: Policy
    own: bool
    zone: ZoneInfo
    at: datetime

    @classmethod
    def read(cls, office: Office, person_id: str | None, flight_id: str, at: datetime) -> "_Record":
        flight = office.log.look().flights.get(flight_id)
        if flight is None:
            raise NoSheetError(f"Nothing is on record about the flight {flight_id!r}, so there is nothing to print.")
        asked = asked_entry(office, flight)
        body = asked.body.value if asked is not None and asked.body is not None else {}
        entries = tuple(e for e in office.store.entries(subject=flight_id) if e.seq >= flight.state.asked_seq)
        assessment = _assessment(entries, body)
        if person_id is not None:
            _check_may_see(office, flight, person_id, assessment, at)
        if not assessment or not isinstance(body.get("worksheet"), dict):
            raise NoSheetError("What was decided about this flight is no longer on record; there is nothing to print.")
        policy = policy_of_digest(office, assessment["policy"]["digest"])
        own = person_id == flight.pilot_id
        if not own:
            assessment = without_health(assessment, health_clauses(policy))
        worksheet = body["worksheet"]
        zone = ZoneInfo(worksheet.get("plan", {}).get("time_zone") or school_zone(office))
        card = flight_card(office, flight_id, at=at)
        return cls(office, flight, card, entries, worksheet, assessment, policy, own, zone, at)

    # -- texts -------------------------------------------------------------------------------------------------------

    def moment(self, at: datetime | None) -> str:
        return "not stated" if at is None else f"{self.clock(at)}, {at.astimezone(self.zone):%a %d %b %Y}"

    def clock(self, at: datetime) -> str:
        return f"{at.astimezone(self.zone):%H:%M %Z}"

    def name(self, person_id: str) -> str:
        try:
            return person(self.office, person_id).name
        except KeyError:
            return person_id

    def entry(self, part: str, field: str) -> str:
        value = self.worksheet.get(part, {}).get(field)
        return "" if value in (None, NONE) else str(value)

    # -- the sheet ---------------------------------------------------------------------------------------------------

    def sheet(self) -> ReleaseSheet:
        decision = Decision[self.assessment["decision"]]
        outcome, headline, title, void = self._outcome(decision)
        reasons = self.assessment["reasons"]
        told = [reason for reason in reasons if reason["sentence"] != HIDDEN]
        head = self.office.store.head()
        found = school(self.office) or {}
        loaded = loading_on_record(self.office, self.worksheet, self.assessment)
        wires = wires_on_record(self.office, self.worksheet, self.assessment, self.flight.waived, own=self.own)
        return ReleaseSheet(
            school=str(found.get("name") or "No school set up"),
            title=title,
            flight_id=self.card.flight_id,
            aircraft=self.card.registration or "not stated",
            pilot=self.entry("pilot", "pilot_name") or self.name(self.flight.pilot_id),
            instructor=self.entry("pilot", "instructor_name"),
            route=self.card.route or "not stated",
            purpose=_words(self.entry("plan", "purpose")) or "not stated",
            take_off=self.moment(self.card.take_off_at),
            landing=self.moment(self.card.landing_at),
            outcome=outcome,
            headline=headline,
            standing=self._standing(),
            void=void,
            level=f"Decided: {decision.phrase.lower()}, level {self.assessment['level']}, "
            f"{points_phrase(self.assessment['total'])}.",
            valid=self._valid(),
            signatures=tuple(self._signature(entry) for entry in self.entries if entry.header.kind in _SAID),
            waivers=tuple(self._waiver(entry) for entry in self.entries if entry.header.kind == "waived"),
            conditions=self.card.conditions,
            reasons=tuple(_reason(reason) for reason in told),
            reasons_kept_back=len(reasons) - len(told),
            limits=limits_left(self.policy, self.assessment["measures"], self.assessment["guards"]),
            alternative=self.entry("plan", "alternative"),
            turn_back=self.entry("plan", "turn_back_triggers"),
            policy=f"Policy {self.policy.id} version {self.policy.version}, {self.policy.digest[:12]}.",
            record=f"Printed from record {self.card.seq}.",
            receipt=head.code,
            receipt_said=f"It covers records 1 to {head.size}, until {self.moment(head.at)}.",
            printed=f"Printed {self.moment(self.at)}.",
            made_at=self.at,
            notes=("Invented data: nobody and nothing here is real.",) if found.get("invented") else (),
            loading=() if loaded is None else loaded.lines,
            loading_of="" if loaded is None else f"By the figures of {loaded.type_title}. {loaded.note}".strip(),
            wires=wires.said,
            wires_kept_back=wires.kept_back,
            call="" if self.policy.alternatives.when_no is None else self.policy.alternatives.when_no.call,
        )

    def _outcome(self, decision: Decision) -> tuple[Decision | None, str, str, tuple[str, ...]]:
        """The gate, the word beside it, what the paper is, and what speaks against using it."""
        status, void = self.card.status, self.card.void
        if status in {Status.RELEASED, Status.AIRBORNE} and not void:
            return decision, decision.phrase, "Release sheet", ()
        if status is Status.RELEASED:
            return None, "Holds no longer", "Release sheet, void", ("Brief this flight again before it leaves.", *void)
        if status is Status.AIRBORNE:
            return decision, decision.phrase, "Release sheet", void
        if status is Status.ACCEPTED:
            said = "The aircraft has not been released: this paper is no release."
            return decision, decision.phrase, "Flight sheet, not a release", (said,)
        if status in _DEAD:
            return Decision.no_go, _DEAD[status], "Flight sheet, not a release", ("This flight does not go.",)
        said = "This paper is no release." if status is not Status.DEBRIEFED else "This paper releases no other flight."
        return None, _OPEN[status], "Flight sheet, not a release", (said, *void)

    def _standing(self) -> str:
        last = next((entry for entry in reversed(self.entries) if entry.seq == self.flight.state.seq), None)
        if last is None:
            return ""
        header = last.header
        what = upper_first(_SAID.get(header.kind, header.kind.replace("_", " ")))
        return f"{what}: {self.name(header.actor)} ({_words(header.role)}), {self.moment(header.at)}."

    def _valid(self) -> str:
        until = self.card.valid_until
        return "No yes holds." if until is None else f"The yes holds until {self.moment(until)}."

    def _signature(self, entry: Entry) -> SignatureLine:
        header = entry.header
        until = next((yes.valid_until for yes in self.flight.state.yes if yes.seq == entry.seq), None)
        said = _SAID[header.kind]
        if header.kind == "accepted" and entry.body is not None and entry.body.value.get("answers") is not None:
            said = "took the conditions"
        return SignatureLine(
            self.name(header.actor),
            _words(header.role),
            said,
            self.clock(header.at),
            "" if until is None else self.clock(until),
        )

    def _waiver(self, entry: Entry) -> str:
        body = entry.body.value if entry.body is not None else {}
        clause = str(body.get("clause", ""))
        who = f"{self.name(entry.header.actor)} ({_words(entry.header.role)})"
        if not self.own and clause in health_clauses(self.policy):
            return f"A limit about the pilot's condition was waived by {who}."
        return f"Limit waived by {who}: {_words(clause)}. Reason: {body.get('reason', 'no longer on record')}"


def _assessment(entries: Sequence[Entry], asked: Mapping[str, Any]) -> dict[str, Any]:
    """What was put before whoever said yes last: the second person's, where there is one."""
    for entry in reversed(entries):
        body = entry.body.value if entry.body is not None else {}
        if entry.header.kind == "signed" and isinstance(body.get("assessment"), dict):
            return dict(body["assessment"])
    found = asked.get("assessment")
    return dict(found) if isinstance(found, dict) else {}


def _check_may_see(office: Office, flight: Flight, person_id: str, assessment: Mapping[str, Any], at: datetime) -> None:
    accepted_by = frozenset(Role(role) for role in assessment.get("accepted_by", ()))
    decision = Decision[assessment["decision"]] if assessment else Decision.no_go
    ask = ask_about(office, flight, person_id, at, decision=decision, level=flight.level, accepted_by=accepted_by)
    ruling = may_open_flight(ask)
    if not ruling.allowed:
        raise NotShownError(" ".join(ruling.clauses))


def _reason(reason: Mapping[str, Any]) -> ReasonLine:
    mark = f"{reason['points']:+d}" if reason["standing"] == "points" else _MARKS.get(reason["standing"], "")
    return ReasonLine(mark, reason["sentence"])


def _words(name: str) -> str:
    return name.replace("_", " ")
