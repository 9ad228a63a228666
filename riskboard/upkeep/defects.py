"""Open defects of an aircraft, as its stored facts hold them. Pure, on plain data.

Whoever sees a defect may add it; only what maintenance signs takes one away or makes it lighter. :func:`lightened` is
that rule, and every change of an aircraft's facts is held to it.
"""

import hashlib
from collections.abc import Mapping, Sequence
from typing import Any

from pydantic import ValidationError

from riskboard.words import NONE, DefectEffect
from riskboard.worksheet.entries import Defect

__all__ = ["REST_UNKNOWN", "added", "defect_id", "id_of", "lightened", "listed", "lost", "restored"]

_ID_CHARACTERS = 8

REST_UNKNOWN: Mapping[str, Any] = {"text": "Whatever else stood open before this flight: nobody had said"}
"""Stands for the defects of an aircraft of which nobody had said whether it has any."""


def defect_id(event_id: str, place: int = 0) -> str:
    """The id of a defect opened by an event: the same again for a double tap or a retry."""
    return hashlib.sha256(f"{event_id} {place}".encode()).hexdigest()[:_ID_CHARACTERS]


def id_of(defect: Mapping[str, Any]) -> str:
    """The id of an open defect; of an old one without an id, one made from its text and the time of its report."""
    given = defect.get("id")
    return str(given) if given else defect_id(f"{defect.get('text', '')} {defect.get('reported_at', '')}")


def listed(known: object) -> list[Any] | None:
    """The open defects of a stored fact as a list; None where nobody has said whether there are any."""
    if known == NONE:
        return []
    return list(known) if isinstance(known, list | tuple) else None


def added(known: object, found: Sequence[Mapping[str, Any]]) -> list[Any]:
    """Open defects after some were found. Of an unknown list an entry of unknown effect stands for the rest."""
    before = listed(known)
    return [*([dict(REST_UNKNOWN)] if before is None else before), *map(dict, found)]


def lightened(before: object, after: object) -> tuple[str, ...]:
    """What a change of the open defects takes away or makes lighter, one sentence each; none where it only adds.

    Args:
        before: The stored fact before: a list of defects, "none", or None where nobody has said.
        after: The same after the change.

    Returns:
        Sentences. Where nobody had said, anything may be told; a defect that was told is not forgotten again.
    """
    if listed(before) and listed(after) is None:
        return ("The open defects would no longer be known.",)
    return tuple(f"This defect would go, or get lighter: {_text(defect)}" for defect in lost(before, after))


def lost(before: object, after: object) -> tuple[object, ...]:
    """The defects of ``before`` that ``after`` does not hold as heavy as they were; all where it holds no list."""
    was, becomes = listed(before), listed(after)
    if not was or becomes is None:
        return tuple(was or ())
    left = [_plain(defect) for defect in becomes]
    changed = []
    for defect in map(_plain, was):
        if defect in left:
            left.remove(defect)
        else:
            changed.append(defect)
    gone = []
    for defect in changed:
        kept = next((each for each in left if _grounded(defect, each)), None)
        if kept is None:
            gone.append(defect)
        else:
            left.remove(kept)
    return tuple(gone)


def restored(standing: object, told: object) -> object:
    """What a worksheet says of open defects, with every one that stands open at the aircraft as heavy as it stands.

    A pilot may add what they saw, and may say that they do not know; nobody plans a flight without a defect that
    maintenance has not closed.

    Args:
        standing: The aircraft's stored fact.
        told: What the worksheet says; None where it is blank.
    """
    if listed(told) is None or not lost(standing, told):
        return told
    known = listed(standing) or []
    names = {id_of(each) for each in known if isinstance(each, Mapping)}
    texts = {each.get("text") for each in known if isinstance(each, Mapping)}
    own = [
        each
        for each in listed(told) or []
        if not (isinstance(each, Mapping) and (id_of(each) in names or each.get("text") in texts)) and each not in known
    ]
    return [*known, *own]


def _plain(defect: object) -> object:
    """A defect in one spelling, so that two ways to write one moment are no change."""
    try:
        return Defect.model_validate(defect).model_dump(mode="json", exclude_none=True)
    except ValidationError:
        return defect


def _grounded(defect: object, other: object) -> bool:
    """Whether ``other`` is the same defect that grounds the aircraft where it did not before."""
    if not isinstance(defect, Mapping) or not isinstance(other, Mapping):
        return False
    return dict(other) == {**defect, "effect": DefectEffect.grounding.value}


def _text(defect: object) -> str:
    return str(defect.get("text", defect)) if isinstance(defect, Mapping) else str(defect)
