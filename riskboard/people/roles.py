"""Who held which role when, folded from the log. Pure: the same entries always give the same answer.

`role_given` begins a spell, from a moment until another one or without end; `role_ended` ends it at its moment. A spell
holds from its first moment on and no longer at its end. What cannot be read gives nobody a role: a `role_given` without
a readable body is passed over, a `role_ended` without one ends every role of the person it is about.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from riskboard.ledger.canonical import NotCanonicalError, parse_utc
from riskboard.ledger.entry import Entry, UnreadableError
from riskboard.words import Role

__all__ = ["SUBJECT", "RoleSpell", "fold_roles", "roles_at", "step"]

SUBJECT = "person "
"""Before a person's id in the subject of their records."""


@dataclass(frozen=True, slots=True)
class RoleSpell:
    """One role of one person for a time.

    Attributes:
        person_id: Whose.
        role: Which.
        starts: First moment, UTC.
        until: First moment at which it no longer holds; None for no end.
        given_by: Who gave it.
        seq: Number of the record that gave it.
    """

    person_id: str
    role: Role
    starts: datetime
    until: datetime | None
    given_by: str
    seq: int

    def holds_at(self, at: datetime) -> bool:
        """Tell whether the role is held at a moment."""
        return self.starts <= at and (self.until is None or at < self.until)

    def overlaps(self, starts: datetime, until: datetime | None) -> bool:
        """Tell whether there is a moment at which both this spell and a time hold."""
        begins_before_end = until is None or self.starts < until
        return begins_before_end and (self.until is None or (starts < self.until and self.starts < self.until))


def fold_roles(entries: Iterable[Entry]) -> dict[str, tuple[RoleSpell, ...]]:
    """Return every person's spells, in the order in which they were given; people without any are absent."""
    spells: dict[str, tuple[RoleSpell, ...]] = {}
    for entry in entries:
        step(spells, entry)
    return {person_id: found for person_id, found in spells.items() if found}


def step(spells: dict[str, tuple[RoleSpell, ...]], entry: Entry) -> None:
    """Take one more entry into account, in place; entries of other kinds change nothing."""
    header = entry.header
    if header.kind not in {"role_given", "role_ended"} or not header.subject.startswith(SUBJECT):
        return
    person_id = header.subject.removeprefix(SUBJECT)
    known = spells.get(person_id, ())
    if header.kind == "role_given":
        given = _given(entry, person_id)
        if given is not None:
            spells[person_id] = (*known, given)
        return
    spells[person_id] = tuple(_ended(spell, _ending(entry, person_id), header.at) for spell in known)


def roles_at(spells: Iterable[RoleSpell], at: datetime) -> frozenset[Role]:
    """The roles held at a moment."""
    return frozenset(spell.role for spell in spells if spell.holds_at(at))


def _given(entry: Entry, person_id: str) -> RoleSpell | None:
    body = _body(entry)
    try:
        if body["person"] != person_id:
            return None
        until = body["until"]
        ends = None if until is None else parse_utc(until)
        return RoleSpell(
            person_id, Role(body["role"]), parse_utc(body["from"]), ends, entry.header.actor, entry.header.seq
        )
    except (KeyError, TypeError, ValueError):
        return None


@dataclass(frozen=True, slots=True)
class _Ending:
    role: Role
    starts: datetime
    ended: datetime


def _ending(entry: Entry, person_id: str) -> _Ending | None:
    body = _body(entry)
    try:
        if body["person"] != person_id:
            return None
        return _Ending(Role(body["role"]), parse_utc(body["from"]), parse_utc(body["ended"]))
    except (KeyError, TypeError, ValueError):
        return None


def _ended(spell: RoleSpell, ending: _Ending | None, recorded_at: datetime) -> RoleSpell:
    if ending is None:
        return _cut(spell, recorded_at)
    if (spell.role, spell.starts) == (ending.role, ending.starts):
        return _cut(spell, ending.ended)
    return spell


def _cut(spell: RoleSpell, ended: datetime) -> RoleSpell:
    return spell if spell.until is not None and spell.until <= ended else replace(spell, until=ended)


def _body(entry: Entry) -> dict[str, Any]:
    try:
        return {} if entry.body is None else entry.body.value
    except (UnreadableError, NotCanonicalError):
        return {}
