"""Whether each record came from somebody who might make it then: asked again of the log itself when it is verified.

Who owns the store can write a record that links well. What they cannot do without its showing is give it a signer who
held no such role at that moment, or who sat in the aircraft.
"""

from collections.abc import Mapping
from typing import Any

from riskboard.jobs.office import Office
from riskboard.ledger.chain import Authorised
from riskboard.ledger.entry import Body, Header, UnreadableError
from riskboard.people.authority import may_change_fact
from riskboard.people.roles import SUBJECT, RoleSpell
from riskboard.upkeep.defects import lightened
from riskboard.words import Role

__all__ = ["authorised_by"]

_ASKS = frozenset({"accepted", "sign_off_requested", "declined"})
_SECOND = frozenset({"signed", "refused", "sent_back", "waived"})
_BY_ROLE = frozenset(
    {
        "released",
        "run_up",
        "took_off",
        "cancelled",
        "debriefed",
        "overdue_step",
        "viewed",
        "fact_changed",
        "defect_reported",
        "maintenance_signed",
    }
)
_OWN_ROLES = frozenset({Role.pilot.value, "self"})
_KEEPS_PEOPLE = frozenset({"role_given", "role_ended", "access_changed"})
_MAINTENANCE = "maintenance_signed"
_ONLY_ADDS = frozenset({"run_up", "debriefed", "defect_reported"})
"""Records that may add a defect. A changed fact is not among them: it took defects away before maintenance signed."""
_INSTALLER, _SELF = "installer", "self"
_TYPE = "type_published"


def authorised_by(office: Office) -> Authorised:
    """A judge for ``Store.verify``: None where the actor might make the record then, else a sentence why not.

    It takes the records in order, once. A role counts from the record on that gave it, never for a time before it.
    """
    spells = office.log.look().roles
    pilots: dict[str, str] = {}
    crews: dict[str, frozenset[str]] = {}

    def judge(header: Header, body: Body | None) -> str | None:  # noqa: PLR0911 - one return a reason
        who, flight = header.actor, header.subject
        if header.kind in _ASKS:
            return _pilots_own(header, _value(body), pilots, crews)
        if header.kind in _SECOND and (who in crews.get(flight, frozenset()) or who == pilots.get(flight)):
            return f"{who} is crew on this flight and answered for it as {_said(header.role)}."
        if header.kind in _KEEPS_PEOPLE:
            return _keeps_people(spells, header)
        if header.kind == _TYPE:
            return _publishes(spells, header)
        if header.kind == _MAINTENANCE and header.role != Role.maintenance.value:
            return f"{who} signed work on an aircraft in another role than maintenance."
        if header.kind in _ONLY_ADDS and _takes_a_defect_away(_value(body)):
            return f"{who} took a defect away, or made it lighter; only maintenance does, and signs for it."
        by_role = header.kind in _BY_ROLE and header.role not in _OWN_ROLES and bool(header.role)
        if header.kind in _SECOND or by_role:
            return _held(spells, header)
        aboard = crews.get(flight, frozenset()) | {pilots.get(flight, who)}
        if header.kind in _BY_ROLE and header.role == Role.pilot.value and who not in aboard:
            return f"{who} is not crew on this flight and acted as its pilot."
        return None

    return judge


def _takes_a_defect_away(body: Mapping[str, Any]) -> bool:
    """Whether a record takes an open defect of an aircraft away or makes it lighter."""
    changed = body.get("fact_changed")
    sides = [changed.get(side) if isinstance(changed, Mapping) else None for side in ("before", "after")]
    before, after = (side if isinstance(side, Mapping) else {} for side in sides)
    return "open_defects" in after and bool(lightened(before.get("open_defects"), after["open_defects"]))


def _keeps_people(spells: Mapping[str, tuple[RoleSpell, ...]], header: Header) -> str | None:
    """A role or a way in: by whoever ran the school then; one's own passphrase and PIN by oneself; no own role."""
    if header.role == _INSTALLER:
        return None
    own = header.actor == header.subject.removeprefix(SUBJECT)
    if own and header.kind == "role_given":
        return f"{header.actor} gave themselves a role."
    if header.role == _SELF:
        if own and header.kind == "access_changed":
            return None
        return f"{header.actor} changed another person's way in as if it were their own."
    return _held(spells, header)


def _publishes(spells: Mapping[str, tuple[RoleSpell, ...]], header: Header) -> str | None:
    """An aircraft type: by whoever keeps them, in a role that they held then, or by the installer."""
    if header.role == _INSTALLER:
        return None
    keeps = frozenset(role for role in Role if role.value == header.role)
    if not may_change_fact(keeps, "aircraft_type").allowed:
        return f"{header.actor} published an aircraft type as {_said(header.role)}."
    return _held(spells, header)


def _pilots_own(
    header: Header, body: Mapping[str, Any], pilots: dict[str, str], crews: dict[str, frozenset[str]]
) -> str | None:
    start = body.get("start")
    pilot = start.get("pilot_id") if isinstance(start, Mapping) else None
    if header.kind == "accepted" and body.get("answers") is not None:
        known = pilots.get(header.subject)
        if known is None or known == header.actor:
            return None
        return f"{header.actor} is not the pilot in command and took the signature."
    crew = body.get("crew")
    pilots[header.subject] = header.actor
    crews[header.subject] = frozenset(map(str, crew)) if isinstance(crew, list) else frozenset()
    if header.role != Role.pilot.value or (pilot and pilot != header.actor):
        return f"{header.actor} signed as the pilot in command of {pilot or 'this flight'}."
    return None


def _value(body: Body | None) -> Mapping[str, Any]:
    try:
        return {} if body is None else body.value
    except UnreadableError:
        return {}


def _held(spells: Mapping[str, tuple[RoleSpell, ...]], header: Header) -> str | None:
    for spell in spells.get(header.actor, ()):
        if spell.role.value == header.role and spell.seq < header.seq and spell.holds_at(header.at):
            return None
    return f"{header.actor} did not hold the role {_said(header.role)} at that moment."


def _said(role: str) -> str:
    return role.replace("_", " ")
