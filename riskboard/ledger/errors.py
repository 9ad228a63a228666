"""Every error a store of the log can raise, as a tree.

::

    LedgerError
    ├── NotWrittenError              nothing was acknowledged; what was on record before still is
    │   ├── DiskFullError
    │   ├── ReadOnlyError
    │   ├── LockedError              others kept the log for longer than this writer waits
    │   ├── LostConnectionError      (also while reading)
    │   └── TurnLostError            another program wrote without taking its turn; the database refused the fork
    ├── CannotOpenError
    │   ├── NewerLedgerError         written by a newer program
    │   ├── NotALedgerError          some other file or database
    │   └── DamagedError             the database itself says that the file is broken (also while reading)
    ├── OvertakenError               another record came first; decide again on what stands there now
    └── RefusedError                 the request is at fault, and trying again will not help
        ├── EventIdReusedError
        ├── PolicyVersionReusedError
        ├── TypeVersionReusedError
        ├── RevisionError            somebody else saved in between
        ├── DraftOwnerError
        ├── AccountTakenError
        └── ErasureRefusedError

Each message says what happened, what that means for what is on record, and what to do.
"""

from riskboard.ledger.entry import Entry, UnreadableError

__all__ = [
    "AccountTakenError",
    "CannotOpenError",
    "DamagedError",
    "DiskFullError",
    "DraftOwnerError",
    "ErasureRefusedError",
    "EventIdReusedError",
    "LedgerError",
    "LockedError",
    "LostConnectionError",
    "NewerLedgerError",
    "NotALedgerError",
    "NotWrittenError",
    "OvertakenError",
    "PolicyVersionReusedError",
    "ReadOnlyError",
    "RefusedError",
    "RevisionError",
    "TurnLostError",
    "TypeVersionReusedError",
]

_NOTHING_LOST = "Nothing was acknowledged that is not durable: this action is not on record, all earlier ones are."


class LedgerError(Exception):
    """Any error of a store of the log."""


class NotWrittenError(LedgerError):
    """The store could not write; nothing was acknowledged."""

    happened = "The store {place} failed."
    meaning = _NOTHING_LOST
    remedy = "Look at the cause, then do it again."

    def __init__(self, place: str, cause: str = "") -> None:
        self.place = place
        parts = [self.happened.format(place=place), self.meaning, self.remedy, f"({cause})" if cause else ""]
        super().__init__(" ".join(part for part in parts if part))


class DiskFullError(NotWrittenError):
    """No room on the disk."""

    happened = "The disk that holds {place} is full."
    remedy = "Free some space, then do it again."


class ReadOnlyError(NotWrittenError):
    """The file, the folder or the database does not let this program write."""

    happened = "The store {place} is read-only for this program."
    remedy = (
        "Give the user that runs riskboard the right to write to it (for a file: to its folder too), then do it again."
    )


class LockedError(NotWrittenError):
    """Others kept the log for longer than this writer waits."""

    happened = "The store {place} is locked: another program has kept it for too long."
    remedy = (
        "Do it again in a moment; if it stays locked, look for a hanging riskboard, backup or database tool and end it."
    )


class LostConnectionError(NotWrittenError):
    """The database server went away, before or during the commit."""

    happened = "The connection to {place} was lost."
    meaning = (
        "Nothing was acknowledged. If the last action did reach the record before the connection went, it is kept."
    )
    remedy = "Check the server and the network, then do the same action again: it will not be recorded twice."


class TurnLostError(NotWrittenError):
    """The database refused a record that would have forked the chain."""

    happened = "Another program wrote to {place} without waiting for its turn; the database refused a second branch."
    remedy = "Do it again. Let only riskboard write to its store."


class CannotOpenError(LedgerError):
    """The store cannot be opened."""

    happened = "The store {place} cannot be opened."
    remedy = "Check that the folder or the server exists and that this program may use it."

    def __init__(self, place: str, cause: str = "") -> None:
        self.place = place
        parts = [
            self.happened.format(place=place),
            f"({cause})" if cause else "",
            "Nothing in it was changed.",
            self.remedy,
        ]
        super().__init__(" ".join(part for part in parts if part))


class NewerLedgerError(CannotOpenError):
    """A newer program wrote this store."""

    happened = "The store {place} was written by a newer riskboard than this one."
    remedy = "Use the newer program; this one does not know all of what is in it."


class NotALedgerError(CannotOpenError):
    """Some other file or database."""

    happened = "{place} is not a riskboard store."
    remedy = "Check the name; for a new store, name a file that does not exist yet or an empty database."


class DamagedError(CannotOpenError):
    """The database reports damage of its own file."""

    happened = "The database says that {place} is damaged."
    remedy = "Keep a copy of the file as it is, restore the last backup, and verify it against the last receipt."


class OvertakenError(LedgerError):
    """Another record came between the decision and its record; nothing was written.

    Attributes:
        entry: The log's last record.
    """

    def __init__(self, entry: Entry, head: int) -> None:
        self.entry = entry
        try:
            first = f"record {entry.seq} ({entry.header.kind} by {entry.header.actor}) stands there now"
        except UnreadableError:
            first = f"record {entry.seq} stands there now"
        super().__init__(
            f"Nothing was recorded: this was decided when the log ended with record {head}, and {first}. "
            "Look at what it says, then decide again."
        )


class RefusedError(LedgerError):
    """The request itself is refused; nothing was written."""


class EventIdReusedError(RefusedError):
    """The same event id came with different content."""


class PolicyVersionReusedError(RefusedError):
    """The same policy version came with another text."""


class TypeVersionReusedError(RefusedError):
    """The same version of an aircraft type came with another text."""


class RevisionError(RefusedError):
    """Somebody else saved in between."""


class DraftOwnerError(RefusedError):
    """The draft belongs to another person."""


class AccountTakenError(RefusedError):
    """Another person's account has that login name or outside identity."""


class ErasureRefusedError(RefusedError):
    """What was named may not or cannot be erased."""
