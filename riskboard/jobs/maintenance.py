"""Defects and work on an aircraft: anybody opens a defect; maintenance alone closes or defers one, and signs for it."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from riskboard import __version__
from riskboard.jobs.aircraft_changes import (
    Decided,
    Stored,
    append_changing,
    changed_facts,
    stored_aircraft,
    with_defects,
)
from riskboard.jobs.briefing import iso
from riskboard.jobs.entering import Caller, check_caller
from riskboard.jobs.flight_log import Picture
from riskboard.jobs.office import Office, school_zone
from riskboard.jobs.roles import roles_of
from riskboard.jobs.signing import NotSignedError, Signed, check_pin_of, signed_before
from riskboard.ledger import Intent, Status
from riskboard.people.authority import Ruling, may_report_defect, may_sign_maintenance
from riskboard.upkeep.acts import MaintenanceAct, UpkeepError, act_data, after_maintenance
from riskboard.upkeep.defects import defect_id, id_of, listed
from riskboard.words import DefectEffect
from riskboard.worksheet.checks import clock_contradictions
from riskboard.worksheet.kinds import LONGEST_NOTE, shown
from riskboard.worksheet.read import partial_worksheet
from riskboard.worksheet.typed_times import iso_utc

__all__ = ["MAINTENANCE_WORDS", "may_clear", "report_defect", "sign_maintenance"]

MAINTENANCE_WORDS = (
    "I act as maintenance. The work named here was done, or the deferral named here is entered, in the aircraft's own "
    "papers. This record stands beside those papers and does not replace them."
)
"""The words that maintenance signs."""

_HOLDS_A_YES = frozenset({Status.SIGNED, Status.ACCEPTED, Status.RELEASED, Status.AIRBORNE})


def report_defect(
    office: Office,
    caller: Caller,
    aircraft_id: str,
    text: str,
    *,
    effect: DefectEffect | None = None,
    event_id: str,
    at: datetime,
) -> Signed:
    """Open a defect of an aircraft. The next briefing of it counts it, and a yes to a flight of it ends.

    Args:
        office: The school.
        caller: Who saw it: anybody at the school.
        aircraft_id: The aircraft.
        text: What is wrong, in a few words.
        effect: What it forbids as far as the person can say; None where they cannot, and then it counts as not known.
        event_id: Made when the page was drawn; a double tap or a retry finds the first record.
        at: Now.

    Returns:
        The record, durable.

    Raises:
        NotLetInError: The session has ended.
        NotSignedError: No role at the school, no such aircraft, or no words.
        LedgerError: The record could not be written; nothing is on record.
    """
    check_caller(office, caller, at=at)
    said, subject = _text(text), f"aircraft {aircraft_id}"
    before = signed_before(office, event_id, actor=caller.person_id, kind="defect_reported", subject=subject)
    if before is not None:
        return before

    def decide_on(_picture: Picture) -> Decided:
        ruling = _allowed(may_report_defect(roles_of(office, caller.person_id, at)))
        stored = _stored(office, aircraft_id)
        defect: dict[str, Any] = {"id": defect_id(event_id), "text": said, "reported_at": iso_utc(at)}
        if effect is not None:
            defect["effect"] = effect.value
        fact, change = changed_facts(stored, with_defects(stored, [defect], at, at), "A defect was seen.", at)
        body = {"defect": defect, "authority": list(ruling.clauses), "fact_changed": fact}
        return Decided(_intent("defect_reported", event_id, caller.person_id, ruling, subject, body, at), [change])

    return append_changing(office, decide_on)


def sign_maintenance(
    office: Office, caller: Caller, aircraft_id: str, act: MaintenanceAct, pin: str, *, event_id: str, at: datetime
) -> Signed:
    """Put on record, signed, what maintenance did on an aircraft. Everything named is taken over, or nothing is.

    Args:
        office: The school.
        caller: Who signs; must hold the role maintenance now, and be crew on no flight of this aircraft that has a yes.
        aircraft_id: The aircraft.
        act: What was done.
        pin: Their PIN.
        event_id: Made when the page was drawn; a double tap or a retry of the same act finds the first record.
        at: Now.

    Returns:
        The record, durable.

    Raises:
        NotLetInError: The session has ended.
        NotSignedError: Wrong PIN, not maintenance, no such aircraft, or something to mend; nothing is changed.
        LedgerError: The record could not be written; nothing is changed.
    """
    check_caller(office, caller, at=at)
    check_pin_of(office, caller.person_id, pin, at=at)
    subject = f"aircraft {aircraft_id}"
    before = signed_before(office, event_id, actor=caller.person_id, kind="maintenance_signed", subject=subject)
    if before is not None:
        if before.entry.body is None or before.entry.body.value.get("act") != act_data(act):
            raise NotSignedError("That press was used for something else. Reload the page and do it again.")
        return before

    def decide_on(picture: Picture) -> Decided:
        ruling = _allowed(may_clear(office, picture, caller.person_id, aircraft_id, at))
        stored = _stored(office, aircraft_id)
        after = _after(office, stored, act, caller.name, at)
        fact, change = changed_facts(stored, after, act.note.strip() or "Work on the aircraft was signed.", at)
        body = {
            "act": act_data(act),
            "defects": _named(stored, act),
            "starts_over": sorted(act.starts_over),
            "words": MAINTENANCE_WORDS,
            "authority": list(ruling.clauses),
            "fact_changed": fact,
        }
        return Decided(_intent("maintenance_signed", event_id, caller.person_id, ruling, subject, body, at), [change])

    return append_changing(office, decide_on)


def may_clear(office: Office, picture: Picture, person_id: str, aircraft_id: str, at: datetime) -> Ruling:
    """Whether this person may sign work on this aircraft now, and why."""
    crew: set[str] = set()
    for flight_id in picture.open:
        flight = picture.flights[flight_id]
        if flight.aircraft_id == aircraft_id and flight.state.status_at(at) in _HOLDS_A_YES:
            crew |= flight.crew | {flight.pilot_id}
    return may_sign_maintenance(person_id, roles_of(office, person_id, at), crew=frozenset(crew))


def _after(office: Office, stored: Stored, act: MaintenanceAct, name: str, at: datetime) -> dict[str, Any]:
    """The document after the act, read by the worksheet's own rules."""
    today = at.astimezone(ZoneInfo(school_zone(office))).date()
    try:
        after = after_maintenance(stored.document, act, by=name, today=today)
    except UpkeepError as error:
        raise NotSignedError(f"{error} Nothing was signed.") from error
    sheet, problems = partial_worksheet({"aircraft": after["aircraft"]})
    found = [*problems, *clock_contradictions(sheet, at)]
    if found:
        raise NotSignedError(" ".join(f"{each.message}." for each in found) + " Nothing was signed.")
    changed = [name for name, value in after["aircraft"].items() if stored.facts.get(name) != value]
    moment = {"true_at": iso(at), "typed_at": iso(at)}
    after["clocks"] = {**after.get("clocks", {}), **dict.fromkeys(changed, moment)}
    return after


def _named(stored: Stored, act: MaintenanceAct) -> list[Any]:
    """The defects that the act names, as they stood: the record says what was closed without looking further."""
    named = {closed.defect_id for closed in act.closes} | {deferred.defect_id for deferred in act.defers}
    found = listed(stored.facts.get("open_defects")) or []
    return [dict(each) for each in found if isinstance(each, Mapping) and id_of(each) in named]


def _stored(office: Office, aircraft_id: str) -> Stored:
    stored = stored_aircraft(office, aircraft_id)
    if stored is None:
        raise NotSignedError(f"The school has no aircraft called {shown(aircraft_id)}. Nothing was recorded.")
    return stored


def _allowed(ruling: Ruling) -> Ruling:
    if not ruling.allowed:
        raise NotSignedError(f"{' '.join(ruling.clauses)} Nothing was recorded.")
    return ruling


def _text(typed: str) -> str:
    text = " ".join(typed.split())
    if not text:
        raise NotSignedError("Say in a few words what is wrong; nothing was recorded.")
    if len(text) > LONGEST_NOTE:
        raise NotSignedError(f"Shorten what is wrong: it has {len(text)} characters, at most {LONGEST_NOTE} are kept.")
    return text


def _intent(
    kind: str, event_id: str, person_id: str, ruling: Ruling, subject: str, body: Mapping[str, Any], at: datetime
) -> Intent:
    return Intent(
        kind=kind,
        event_id=event_id,
        at=at,
        actor=person_id,
        role="" if ruling.role is None else ruling.role.value,
        subject=subject,
        body=body,
        engine_version=__version__,
    )
