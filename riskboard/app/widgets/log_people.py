"""Records about people as sentences: which role from when to when, which way in, and why."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from riskboard.people.roles import SUBJECT

__all__ = ["PEOPLE_KINDS", "people_line"]

PEOPLE_KINDS = frozenset({"role_given", "role_ended", "access_changed"})


def people_line(
    kind: str, actor: str, subject: str, body: Mapping[str, Any], names: Mapping[str, str], zone: ZoneInfo
) -> str:
    """Who did what about whom; without the particulars where the reader may not see them.

    Args:
        kind: One of :data:`PEOPLE_KINDS`.
        actor: Id of who did it.
        subject: Subject of the record.
        body: What the reader may see of it; {} for nothing.
        names: Id -> name.
        zone: Of the school.
    """
    who = names.get(actor, actor)
    person_id = subject.removeprefix(SUBJECT)
    whom = "themselves" if person_id == actor else names.get(person_id, person_id)
    if not body:
        return f"{who} changed what {whom} may do or how they come in."
    why = str(body.get("why") or "").strip()
    tail = f" {why}" if why else ""
    if kind == "access_changed":
        return f"{who}, about {whom}: {body.get('change', 'way in changed')}.{tail}"
    role = str(body.get("role", "?")).replace("_", " ")
    if kind == "role_ended":
        return f"{who} ended the role {role} of {whom}, at {_moment(body.get('ended'), zone)}.{tail}"
    until = body.get("until")
    ends = "" if until is None else f" until {_moment(until, zone)}"
    return f"{who} gave {whom} the role {role}, from {_moment(body.get('from'), zone)}{ends}.{tail}"


def _moment(text: object, zone: ZoneInfo) -> str:
    try:
        return f"{datetime.fromisoformat(str(text)).astimezone(zone):%d %b %Y %H:%M}"
    except ValueError:
        return str(text)
