"""Who may do what: a pure rule that answers with the reasons behind its answer.

Pages and jobs ask; nothing else decides. A hidden button is a courtesy, this is the lock. Roles are those that a person
holds at the moment of the act, taken from the log; a role that does not count now (an instructor whose own papers have
lapsed) stands in ``lapsed`` with the sentence why.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

from riskboard.words import Decision, Role

__all__ = [
    "Ask",
    "Ruling",
    "acting_role",
    "may_accept",
    "may_accept_signed",
    "may_call_off",
    "may_change_fact",
    "may_debrief",
    "may_erase_health",
    "may_export",
    "may_keep_watch",
    "may_manage_people",
    "may_open_flight",
    "may_read_health",
    "may_refuse",
    "may_release",
    "may_report_defect",
    "may_request_sign_off",
    "may_run_up",
    "may_see_board",
    "may_see_people",
    "may_sign_maintenance",
    "may_sign_off",
    "may_transcribe",
    "may_waive",
]

_OWN_FLIGHT = "Only the pilot in command answers for this flight here."
_CREW = "Nobody signs for a flight on which they are crew: it takes somebody else."
_DESK = frozenset({Role.dispatcher, Role.instructor, Role.chief_instructor})
_OVERSEES = _DESK | {Role.safety_officer}
_RUNS_SCHOOL = frozenset({Role.administrator, Role.chief_instructor})
_NEVER_SECOND = frozenset({Role.pilot, Role.student, Role.renter})


@dataclass(frozen=True)
class Ask:
    """Somebody asks to act on one flight.

    Attributes:
        person_id: Who asks.
        roles: Roles that person holds now.
        pilot_id: Pilot in command of the flight.
        decision: Decision of the assessment.
        accepted_by: Roles that the policy names for its level.
        level: Name of the level.
        crew: Everybody who sits in the aircraft, the pilot in command among them; an instructor of whom it is not
            known whether they are aboard counts as aboard.
        lapsed: Roles that do not count now, with the sentence why.
        waivable: Whether everything that stops the flight is a limit for which the policy names who may waive it.
    """

    person_id: str
    roles: frozenset[Role]
    pilot_id: str
    decision: Decision
    accepted_by: frozenset[Role]
    level: str
    crew: frozenset[str] = frozenset()
    lapsed: Mapping[Role, str] = field(default_factory=dict)
    waivable: bool = False


@dataclass(frozen=True)
class Ruling:
    """The answer: allowed or not, why, one sentence a clause, and in which role."""

    allowed: bool
    clauses: tuple[str, ...]
    role: Role | None = None


def _no(*clauses: str) -> Ruling:
    return Ruling(allowed=False, clauses=clauses)


def _yes(clause: str, role: Role | None = None) -> Ruling:
    return Ruling(allowed=True, clauses=(clause,), role=role)


def _said(roles: frozenset[Role]) -> str:
    return ", ".join(sorted(role.value.replace("_", " ") for role in roles)) or "nobody"


def _pilot_only(ask: Ask) -> str | None:
    return None if ask.person_id == ask.pilot_id else _OWN_FLIGHT


def may_accept(ask: Ask) -> Ruling:
    """May this person accept the risk as pilot in command, alone?

    A no-go cannot be accepted by anybody. A flight that needs a sign-off cannot be accepted by its own pilot, whatever
    other roles that person holds: nobody signs their own exception.
    """
    against = []
    if ask.decision is Decision.no_go:
        against.append("A no-go cannot be accepted.")
    if ask.decision is Decision.go_with_sign_off:
        against.append("This needs somebody else's signature; the pilot may only ask for it.")
    if ask.decision is Decision.go and Role.pilot not in ask.accepted_by:
        against.append(f"The policy lets no pilot accept the level {ask.level}.")
    not_pilot = _pilot_only(ask)
    if not_pilot:
        against.append(not_pilot)
    if against:
        return _no(*against)
    return _yes(f"The policy lets the pilot in command accept the level {ask.level}.", Role.pilot)


def may_accept_signed(ask: Ask) -> Ruling:
    """May this person take the flight on the conditions that a second person signed? Only the pilot in command."""
    not_pilot = _pilot_only(ask)
    if not_pilot:
        return _no(not_pilot)
    return _yes("A second person signed; the pilot in command takes the flight on these conditions.", Role.pilot)


def may_request_sign_off(ask: Ask) -> Ruling:
    """May this person ask for a second person's decision?

    Only the pilot in command, and only where a signature would help: where the level needs one, or where everything
    that stops the flight may be waived by somebody whom the policy names.
    """
    against = []
    if ask.decision is Decision.no_go and not ask.waivable:
        against.append("A no-go cannot be signed off; remove what stops it first.")
    if ask.decision is Decision.go:
        against.append("No signature is needed; the pilot in command may accept.")
    not_pilot = _pilot_only(ask)
    if not_pilot:
        against.append(not_pilot)
    if against:
        return _no(*against)
    if ask.decision is Decision.no_go:
        return _yes("Every limit that stops this flight may be waived by somebody whom the policy names.", Role.pilot)
    return _yes(f"The level {ask.level} may be signed by: {_said(ask.accepted_by)}.", Role.pilot)


def acting_role(ask: Ask, named: frozenset[Role]) -> Role | None:
    """The role in which a person would sign where a clause names ``named``; None if they hold none that counts now.

    Pilot, student and renter are never a second person's roles, whatever a clause says.
    """
    fitting = sorted((named & ask.roles) - _NEVER_SECOND - ask.lapsed.keys(), key=list(Role).index)
    return fitting[0] if fitting else None


def _second_person(ask: Ask, named: frozenset[Role], what: str) -> tuple[list[str], Role | None]:
    """What speaks against this person acting as the second person, and in which role they would."""
    against = []
    if ask.person_id == ask.pilot_id or ask.person_id in ask.crew:
        against.append(_CREW)
    role = acting_role(ask, named)
    if role is None:
        lapsed = [ask.lapsed[held] for held in sorted(named & ask.roles & ask.lapsed.keys())]
        against.extend(lapsed or [f"{what} may be signed by: {_said(named - _NEVER_SECOND)}."])
    return against, role


def may_sign_off(ask: Ask) -> Ruling:
    """May this person sign a flight off as the second person?

    Never crew, never without a role that the level names and that counts now. An administrator has no signature by
    being one.
    """
    against, role = _second_person(ask, ask.accepted_by, f"The level {ask.level}")
    if ask.decision is Decision.no_go:
        against.insert(0, "A no-go cannot be signed off.")
    if ask.decision is Decision.go:
        against.insert(0, "No signature is needed; the pilot in command may accept.")
    if against:
        return _no(*against)
    return _yes(f"The policy lets a {_role_said(role)} sign the level {ask.level}.", role)


def may_waive(ask: Ask, waiver: frozenset[Role], *, known_excess: bool) -> Ruling:
    """May this person waive one hard limit?

    Args:
        ask: Who asks, about which flight.
        waiver: Roles that the limit names; empty where nobody may.
        known_excess: Whether the limit's measure is known: nobody can answer for what is not known.
    """
    if not waiver - _NEVER_SECOND:
        return _no("The policy lets nobody waive this limit.")
    against, role = _second_person(ask, waiver, "This limit")
    if not known_excess:
        against.insert(0, "What this limit looks at is not known, and an unknown cannot be waived.")
    if against:
        return _no(*against)
    return _yes(f"The policy lets a {_role_said(role)} waive this limit, in writing, with a reason.", role)


def may_refuse(ask: Ask) -> Ruling:
    """May this person say no to a request, or send it back with a question?

    Saying no takes less than saying yes: anybody at the desk who is not crew.
    """
    if ask.person_id == ask.pilot_id or ask.person_id in ask.crew:
        return _no("Crew do not answer their own request; the pilot in command may decline.")
    fitting = sorted(ask.roles & (_DESK | (ask.accepted_by - _NEVER_SECOND)), key=list(Role).index)
    if not fitting:
        return _no(f"A request is answered by: {_said(_DESK)}.")
    return _yes("Anybody at the desk may say no.", fitting[0])


def may_release(ask: Ask) -> Ruling:
    """May this person hand the aircraft over, or note that it left? The pilot in command and the desk."""
    if ask.person_id == ask.pilot_id:
        return _yes("The pilot in command takes the aircraft.", Role.pilot)
    return _held(ask.roles, _DESK, "The desk hands the aircraft over.", "An aircraft is handed over by")


def may_run_up(ask: Ask) -> Ruling:
    """May this person enter what was seen at the run-up? Only who sits in the aircraft: nobody else saw it."""
    if ask.person_id == ask.pilot_id or ask.person_id in ask.crew:
        return _yes("Crew say what they saw.", Role.pilot)
    return _no("A run-up is entered by the crew of the flight: nobody else saw it.")


def may_call_off(ask: Ask) -> Ruling:
    """May this person call off a flight that has not left? The pilot in command, the crew and the desk."""
    if ask.person_id == ask.pilot_id or ask.person_id in ask.crew:
        return _yes("Crew may always say no.", Role.pilot)
    return _held(ask.roles, _OVERSEES | {Role.maintenance}, "The school may say no.", "A flight is called off by")


def may_debrief(ask: Ask) -> Ruling:
    """May this person close a flight? Crew; the desk where the crew cannot."""
    if ask.person_id == ask.pilot_id or ask.person_id in ask.crew:
        return _yes("Crew say how it went.", Role.pilot)
    return _held(ask.roles, _DESK, "The desk may close a flight for its crew.", "A flight is closed by its crew or")


def may_keep_watch(roles: frozenset[Role]) -> Ruling:
    """May this person put on record that a step for an overdue aircraft was taken? Whoever works at the school."""
    watchers = frozenset(Role) - _NEVER_SECOND
    return _held(roles, watchers, "Whoever works at the school may act on an overdue aircraft.", "The watch is kept by")


def may_see_board(roles: frozenset[Role]) -> Ruling:
    """May this person see the school's flights of the day, without reasons? Anybody with a role."""
    return _held(roles, frozenset(Role), "Everybody at the school may see who flies.", "The board is seen by")


def may_open_flight(ask: Ask) -> Ruling:
    """May this person see one flight, its health answers left out? Crew, and whoever oversees flights."""
    if ask.person_id == ask.pilot_id or ask.person_id in ask.crew:
        return _yes("Crew may see their own flight.", Role.pilot)
    return _held(
        ask.roles, _OVERSEES, "The desk and the safety officer see flights.", "A flight is seen by its crew or"
    )


def may_read_health(ask: Ask, *, waits: bool) -> Ruling:
    """May this person see the health answers and what is worked out from them?

    The pilot who gave them; and, only while the flight waits for a signature, whoever may sign it. Nobody else, not
    even an administrator or the safety officer.

    Args:
        ask: Who asks, about which flight.
        waits: Whether the flight waits for a second person's decision now.
    """
    if ask.person_id == ask.pilot_id:
        return _yes("Your own answers.", Role.pilot)
    if not waits:
        return _no("Health answers are seen by the pilot, and by whoever must sign while the flight waits for it.")
    named = ask.accepted_by
    against, role = _second_person(ask, named, f"The level {ask.level}")
    if against:
        return _no("Health answers are seen by the pilot and by whoever may sign this flight.", *against)
    return _yes("Whoever must sign has to see what it rests on.", role)


def may_manage_people(roles: frozenset[Role], *, own: bool, gives: Role | None = None) -> Ruling:
    """May this person add people, give and end roles, set ways in anew?

    Args:
        roles: Roles held now.
        own: Whether it is about themselves.
        gives: The role to be given, if one is. Nobody gives themselves a role, and only an administrator makes another
            administrator.
    """
    if own and gives is not None:
        return _no("Nobody gives themselves a role.")
    if gives is Role.administrator and Role.administrator not in roles:
        return _no("Only an administrator makes another administrator.")
    return _held(roles, _RUNS_SCHOOL, "Who runs the school keeps its people and their roles.", "People are kept by")


def may_see_people(roles: frozenset[Role]) -> Ruling:
    """May this person see who holds which role? Whoever works at the school."""
    return _held(roles, frozenset(Role) - _NEVER_SECOND, "Colleagues see each other's roles.", "Roles are seen by")


_FACT_KEEPERS: Mapping[str, frozenset[Role]] = {
    "aircraft": frozenset({Role.maintenance, Role.chief_instructor, Role.administrator, Role.dispatcher}),
    "site": frozenset({Role.dispatcher, Role.instructor, Role.chief_instructor, Role.administrator}),
    "route": frozenset({Role.dispatcher, Role.instructor, Role.chief_instructor, Role.administrator}),
    "person": frozenset({Role.dispatcher, Role.instructor, Role.chief_instructor, Role.administrator}),
    "school": _RUNS_SCHOOL,
    "aircraft_type": frozenset({Role.maintenance, Role.chief_instructor, Role.administrator}),
}


def may_change_fact(roles: frozenset[Role], kind: str, *, own: bool = False) -> Ruling:
    """May this person change what the school knows: a person's dates, an aircraft, its type, a site, a usual flight?

    Args:
        roles: Roles held now.
        kind: "person", "aircraft", "aircraft_type", "site", "route" or "school"; nobody may change any other.
        own: Whether it is the person's own document. A pilot does not keep their own dates: a second pair of eyes does.
    """
    if own and not roles & _RUNS_SCHOOL:
        return _no("Your own dates are entered by somebody else at the school who has seen the papers.")
    keepers = _FACT_KEEPERS.get(kind, frozenset())
    said = kind.replace("_", " ")
    return _held(roles, keepers, f"The school's {said} facts are theirs to keep.", f"{said.capitalize()} facts kept by")


def may_report_defect(roles: frozenset[Role]) -> Ruling:
    """May this person open a defect of an aircraft? Everybody at the school; to say that something is wrong is free."""
    return _held(roles, frozenset(Role), "Whoever sees a defect says so.", "Defects are opened by")


def may_sign_maintenance(person_id: str, roles: frozenset[Role], *, crew: frozenset[str]) -> Ruling:
    """May this person sign work on an aircraft: close or defer a defect, put an inspection on record?

    Only maintenance, and nobody for a flight of their own: who is about to fly the aircraft does not clear it.

    Args:
        person_id: Who asks.
        roles: Roles held now.
        crew: Everybody who sits in the aircraft on a flight of it that has a yes or is out.
    """
    against = []
    if Role.maintenance not in roles:
        against.append("A defect is closed or deferred, and an inspection put on record, by maintenance only.")
    if person_id in crew:
        against.append("Who is crew on a flight of this aircraft does not clear it; call the flight off first.")
    if against:
        return _no(*against)
    return _yes("Maintenance answers for the work.", Role.maintenance)


def may_transcribe(roles: frozenset[Role]) -> Ruling:
    """May this person type in a worksheet that was filled in on paper? The desk."""
    return _held(roles, _DESK, "The desk types paper worksheets in.", "Paper worksheets are typed in by")


def may_export(roles: frozenset[Role]) -> Ruling:
    """May this person take a copy of the record, health answers left out?"""
    allowed = frozenset({Role.safety_officer, Role.chief_instructor, Role.administrator})
    return _held(roles, allowed, "They answer for the school's records.", "A copy of the record is taken by")


def may_erase_health(roles: frozenset[Role], *, own: bool) -> Ruling:
    """May this person have somebody's health answers erased? The person, and an administrator at their request."""
    if own:
        return _yes("Your own answers.")
    return _held(roles, frozenset({Role.administrator}), "At the person's request.", "Health answers are erased by")


def _held(roles: frozenset[Role], named: frozenset[Role], why: str, else_said: str) -> Ruling:
    fitting = sorted(roles & named, key=list(Role).index)
    return _yes(why, fitting[0]) if fitting else _no(f"{else_said}: {_said(named)}.")


def _role_said(role: Role | None) -> str:
    return "" if role is None else role.value.replace("_", " ")
