"""How a change to the people of the school is signed: in a session, with the PIN, on a state of the log that held."""

import secrets
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING

from riskboard.jobs.entering import Caller, check_caller
from riskboard.jobs.office import Office
from riskboard.jobs.signing import NotSignedError, check_pin_of
from riskboard.ledger import AccountRecord, DocumentChange, Entry, Intent, OvertakenError, PinChange, Receipt
from riskboard.people.roles import SUBJECT
from riskboard.words import Role

if TYPE_CHECKING:
    from riskboard.ledger.canonical import Json

__all__ = ["Act", "Acted", "Decided", "NewWayIn", "NotDoneError", "StaffSignature", "sign_staff"]

_TRIES = 50
_MOST_WHY = 2_000


class NotDoneError(NotSignedError):
    """Nothing was changed. The message says why and what would be right."""


@dataclass(frozen=True)
class StaffSignature:
    """How somebody who runs the school signs a change.

    Attributes:
        pin: Their own PIN, as typed.
        event_id: Made when the page was drawn, so that a double tap or a retry finds the first record.
        why: In their words.
    """

    pin: str
    event_id: str
    why: str


@dataclass(frozen=True)
class Acted:
    """A durable record of a change, and its receipt."""

    entry: Entry
    receipt: Receipt


@dataclass(frozen=True)
class NewWayIn(Acted):
    """A change after which a person sets their own passphrase.

    Attributes:
        person_id: Whose way in.
        code: To be handed to that person; shown once, kept nowhere. "" where this very act was done before.
    """

    person_id: str
    code: str


@dataclass(frozen=True)
class Act:
    """What somebody wants to put on record; the same on every retry.

    Attributes:
        kind: Kind of the record.
        person_id: About whom.
        body: What it says.
        timed: What of it the clock decides.
    """

    kind: str
    person_id: str
    body: "Mapping[str, Json]"
    timed: "Mapping[str, Json]" = field(default_factory=dict)

    def was_put_down_as(self, entry: Entry, actor: str) -> bool:
        """Tell whether a record is this act."""
        header, said = entry.header, {} if entry.body is None else entry.body.value
        same = (header.kind, header.actor, header.subject) == (self.kind, actor, f"{SUBJECT}{self.person_id}")
        return same and {key: said.get(key) for key in self.body} == dict(self.body)


@dataclass(frozen=True)
class Decided:
    """The role in which it is done, and what changes in the same transaction."""

    role: Role
    documents: Sequence[DocumentChange] = ()
    access: Sequence[AccountRecord | PinChange] = ()


def sign_staff(
    office: Office, caller: Caller, signature: StaffSignature, act: Act, decide: Callable[[], Decided], at: datetime
) -> tuple[Acted, bool]:
    """Caller, PIN, then the decision on a state of the log that has not moved on when it is written.

    Args:
        office: The school.
        caller: Who does it.
        signature: Theirs.
        act: What is put on record.
        decide: Asks the rules; raises NotDoneError where they say no. May run more than once.
        at: Now.

    Returns:
        The record, and whether it was made just now rather than at an earlier try of the same act.

    Raises:
        NotDoneError: As raised by ``decide``; no reason given; or the event is another act's.
        NotLetInError: The caller is not in any more.
        NotSignedError: Wrong PIN.
        LedgerError: Not written.
    """
    check_caller(office, caller, at=at)
    if not signature.why.strip() or len(signature.why) > _MOST_WHY:
        raise NotDoneError("Say in a few words why; the record needs a reason.")
    check_pin_of(office, caller.person_id, signature.pin, at=at)
    mark = secrets.token_hex(8)
    for _ in range(_TRIES):
        found = office.store.find_by_event_id(signature.event_id)
        if found is not None:
            if not act.was_put_down_as(found[0], caller.person_id):
                raise NotDoneError("That press was used for something else. Reload the page and do it again.")
            return Acted(*found), False
        head = office.store.head().size
        decided = decide()
        intent = Intent(
            kind=act.kind,
            event_id=signature.event_id,
            at=at,
            actor=caller.person_id,
            role=decided.role.value,
            subject=f"{SUBJECT}{act.person_id}",
            body=act.body,
            timed={"mark": mark, **act.timed},
        )
        try:
            entry, receipt = office.store.append(intent, head=head, documents=decided.documents, access=decided.access)
        except OvertakenError:
            continue
        return Acted(entry, receipt), entry.body is not None and entry.body.value.get("mark") == mark
    raise NotDoneError("Others are writing to the record without a pause. Nothing was done; try again.")
