"""Who may say yes to what: a pure rule that answers with the reasons behind its answer.

Pages and jobs ask; nothing else decides. A hidden button is a courtesy, this is the lock.
"""

from dataclasses import dataclass

from riskboard.words import Decision, Role

__all__ = ["Ask", "Ruling", "may_accept", "may_request_sign_off"]


@dataclass(frozen=True)
class Ask:
    """Somebody asks to act on one assessment.

    Attributes:
        person_id: Who asks.
        roles: Roles that person holds now.
        pilot_id: Pilot in command of the flight.
        decision: Decision of the assessment.
        accepted_by: Roles that the policy names for its level.
        level: Name of the level.
    """

    person_id: str
    roles: frozenset[Role]
    pilot_id: str
    decision: Decision
    accepted_by: frozenset[Role]
    level: str


@dataclass(frozen=True)
class Ruling:
    """The answer: allowed or not, and why, one sentence a clause."""

    allowed: bool
    clauses: tuple[str, ...]


def _pilot_only(ask: Ask) -> str | None:
    return None if ask.person_id == ask.pilot_id else "Only the pilot in command answers for this flight here."


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
        return Ruling(allowed=False, clauses=tuple(against))
    return Ruling(allowed=True, clauses=(f"The policy lets the pilot in command accept the level {ask.level}.",))


def may_request_sign_off(ask: Ask) -> Ruling:
    """May this person ask for a sign-off? Only the pilot in command, and only where a signature would help."""
    against = []
    if ask.decision is Decision.no_go:
        against.append("A no-go cannot be signed off; remove what stops it first.")
    if ask.decision is Decision.go:
        against.append("No signature is needed; the pilot in command may accept.")
    not_pilot = _pilot_only(ask)
    if not_pilot:
        against.append(not_pilot)
    if against:
        return Ruling(allowed=False, clauses=tuple(against))
    names = ", ".join(sorted(role.value.replace("_", " ") for role in ask.accepted_by))
    return Ruling(allowed=True, clauses=(f"The level {ask.level} may be signed by: {names}.",))
