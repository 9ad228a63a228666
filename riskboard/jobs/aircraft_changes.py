"""A record about an aircraft and what it changes of its stored facts: both in one transaction, or neither."""

import json
from collections.abc import Callable, Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from riskboard.jobs.aircraft_left import changes_between
from riskboard.jobs.briefing import iso
from riskboard.jobs.flight_log import Picture
from riskboard.jobs.office import Office
from riskboard.jobs.signing import NotSignedError, Signed, check_clock
from riskboard.ledger import Intent
from riskboard.ledger.errors import OvertakenError, RevisionError
from riskboard.ledger.store import Document, DocumentChange
from riskboard.upkeep.defects import added

__all__ = [
    "Decided",
    "Stored",
    "append_changing",
    "changed_facts",
    "stored_aircraft",
    "with_defects",
]

_TRIES = 50


@dataclass(frozen=True)
class Decided:
    """What goes on record, and the documents that change with it."""

    intent: Intent
    documents: Sequence[DocumentChange] = ()


@dataclass(frozen=True)
class Stored:
    """An aircraft's document as it stands."""

    identity: str
    revision: int
    document: Mapping[str, Any]

    @property
    def facts(self) -> Mapping[str, Any]:
        """Its part of the worksheet."""
        found = self.document.get("aircraft")
        return found if isinstance(found, Mapping) else {}


def stored_aircraft(office: Office, aircraft_id: str) -> Stored | None:
    """The document of an aircraft, or None."""
    found: Document | None = office.store.get_document("aircraft", aircraft_id) if aircraft_id else None
    return None if found is None else Stored(found.document_id, found.revision, json.loads(found.text))


def append_changing(office: Office, decide_on: Callable[[Picture], Decided]) -> Signed:
    """Put on record, with its documents, what was decided on the newest picture of the log.

    Where the log or a document moved on meanwhile it is decided anew, and a no counts only on a state that stood still.

    Args:
        office: The school.
        decide_on: Asks the rules on a picture and on the documents; raises NotSignedError where they say no. May run
            more than once.

    Raises:
        NotSignedError: As raised by ``decide_on``, or the log never stood still.
        LedgerError: The record could not be written.
    """
    for last in (*[False] * (_TRIES - 1), True):
        picture = office.log.look()
        try:
            decided = decide_on(picture)
        except NotSignedError:
            if last or office.store.head().size == picture.head:
                raise
            continue
        check_clock(office, picture, decided.intent.at)
        try:
            return Signed(*office.store.append(decided.intent, head=picture.head, documents=decided.documents))
        except (OvertakenError, RevisionError):
            continue
    raise NotSignedError("Others are writing to the record without a pause. Nothing was recorded; try again.")


def with_defects(stored: Stored, found: Sequence[Mapping[str, Any]], true_at: datetime, at: datetime) -> dict[str, Any]:
    """The document with more open defects."""
    after = deepcopy(dict(stored.document))
    facts = after.setdefault("aircraft", {})
    facts["open_defects"] = added(facts.get("open_defects"), found)
    after["clocks"] = after.get("clocks", {}) | {"open_defects": {"true_at": iso(true_at), "typed_at": iso(at)}}
    return after


def changed_facts(
    stored: Stored, after: Mapping[str, Any], why: str, as_of: datetime
) -> tuple[dict[str, Any], DocumentChange]:
    """What changed, as a record says it, and the change of the document."""
    was, becomes = changes_between(stored.document, after)
    said = {"kind": "aircraft", "id": stored.identity, "before": was, "after": becomes, "why": why, "as_of": iso(as_of)}
    text = json.dumps(after, ensure_ascii=False)
    return said, DocumentChange("aircraft", stored.identity, text, stored.revision)
