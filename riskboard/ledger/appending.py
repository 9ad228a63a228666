"""How one record gets into the tables: found by its event, or put after the last one, by one writer at a time.

Every statement here goes straight to the driver: these few run at every signing, and building them anew each time
would cost several times what the database needs for them. On PostgreSQL all of them are one function at the server:
the lock on the log is then held for no trip over the network but the commit's own.
"""

import secrets
from collections.abc import Sequence
from typing import Any

from riskboard.ledger.canonical import Json, canonical_json
from riskboard.ledger.engine import Statements
from riskboard.ledger.entry import FORMAT, SALT_BYTES, Body, Entry, Intent, body_digest, seal
from riskboard.ledger.errors import DamagedError, EventIdReusedError, OvertakenError, RefusedError

__all__ = ["append", "check_same", "find", "insert", "last"]

_ENTRY = (
    "SELECT entry.seq, digest, header, salt, content FROM entry LEFT JOIN entry_body ON entry_body.seq = entry.seq "
)
_BY_EVENT = _ENTRY + "WHERE event_id = ?"
_LAST = _ENTRY + "ORDER BY entry.seq DESC LIMIT 1"
_STANDS_AT = (
    "SELECT seq, digest, (SELECT origin FROM log), (SELECT seq FROM entry WHERE event_id = ?) "
    "FROM entry ORDER BY seq DESC LIMIT 1"
)
_INSERT_ENTRY = "INSERT INTO entry (seq, prev, digest, event_id, kind, subject, header) VALUES (?, ?, ?, ?, ?, ?, ?)"
_INSERT_BODY = "INSERT INTO entry_body (seq, salt, content) VALUES (?, ?, ?)"
_APPEND = "SELECT * FROM riskboard_append(?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"


def find(statements: Statements, event_id: str) -> Entry | None:
    """Return the entry of an event, or None."""
    row = statements.run(_BY_EVENT, (event_id,)).fetchone()
    return None if row is None else _entry(row)


def last(statements: Statements, place: str) -> Entry:
    """Return the last entry.

    Raises:
        DamagedError: If there is none at all.
    """
    return _entry(_one(statements.run(_LAST).fetchone(), place))


def insert(statements: Statements, entry: Entry) -> None:
    """Put a sealed entry into the tables."""
    header = entry.header
    known_by = (header.event_id, header.kind, header.subject)
    statements.run(_INSERT_ENTRY, (entry.seq, header.prev, entry.digest, *known_by, entry.header_bytes))
    if entry.body is not None:
        statements.run(_INSERT_BODY, (entry.seq, entry.body.salt, entry.body.data))


def append(
    statements: Statements, intent: Intent, data: bytes, *, place: str, head: int | None = None, wait_s: float = 10.0
) -> tuple[Entry, bool]:
    """Return the entry of an intent, and whether it was made now.

    Args:
        statements: Inside a transaction that has the turn; on PostgreSQL they may be outside of any, and the append
            is then a transaction of its own.
        intent: What is put on record.
        data: Its body, as `intent.body_bytes()`.
        place: Where the store is, for messages.
        head: Number of the last record that the decision was made on, if it matters.
        wait_s: How long the server waits for the turn.

    Raises:
        EventIdReusedError: If the event id came before with different content.
        OvertakenError: If the log has moved on since `head`.
        RefusedError: If `head` lies beyond the end of the log.
        DamagedError: If the log has no record at all.
    """
    if statements.is_sqlite:
        return _append_here(statements, intent, data, place, head)
    return _append_at_server(statements, intent, data, place, head, wait_s)


def check_same(intent: Intent, known: Entry) -> None:
    """Refuse an event id that came before with different content.

    Raises:
        EventIdReusedError: If it did.
    """
    if not intent.says_the_same_as(known):
        raise EventIdReusedError(
            f"Nothing was recorded: event {intent.event_id} is on record already, as record {known.seq}, with other "
            f"content. Look at what record {known.seq} says; draw the page again to do something new."
        )


def _append_here(
    statements: Statements, intent: Intent, data: bytes, place: str, head: int | None
) -> tuple[Entry, bool]:
    row = statements.run(_STANDS_AT, (intent.event_id,)).fetchone()
    seq, digest, origin, known_seq = _one(row, place)
    known = None if known_seq is None else find(statements, intent.event_id)
    if known is not None:
        check_same(intent, known)
        return known, False
    if head is not None and head != seq:
        raise _moved_on(last(statements, place), head)
    entry = seal(intent, origin=origin, seq=seq + 1, prev=digest, salt=secrets.token_bytes(SALT_BYTES), data=data)
    insert(statements, entry)
    return entry, True


def _append_at_server(
    statements: Statements, intent: Intent, data: bytes, place: str, head: int | None, wait_s: float
) -> tuple[Entry, bool]:
    salt = secrets.token_bytes(SALT_BYTES)
    known_by = (intent.event_id, intent.kind, intent.subject)
    parts = _header_parts(intent, body_digest(salt, data))
    values = (int(wait_s * 1000), head, *known_by, *parts, salt, data)
    state, *row = _one(statements.run(_APPEND, values).fetchone(), place)
    if state == "new":
        return Entry(row[0], row[1], row[2], Body(salt, data)), True
    entry = _entry(row)
    if state == "known":
        check_same(intent, entry)
        return entry, False
    raise _moved_on(entry, head or 0)


def _header_parts(intent: Intent, digest: str) -> tuple[bytes, bytes, bytes, bytes]:
    """The header's canonical text without what the server puts in between: origin, link and number."""
    before: dict[str, Json] = {
        "actor": intent.actor,
        "at": intent.at,
        "body_digest": digest,
        "engine_version": intent.engine_version,
        "event_id": intent.event_id,
        "format": FORMAT,
        "kind": intent.kind,
    }
    return (
        canonical_json(before)[:-1] + b',"origin":"',
        b'","policy_digest":' + canonical_json(intent.policy_digest) + b',"prev":"',
        b'","role":' + canonical_json(intent.role) + b',"seq":',
        b',"subject":' + canonical_json(intent.subject) + b"}",
    )


def _moved_on(entry: Entry, head: int) -> OvertakenError | RefusedError:
    if entry.seq > head:
        return OvertakenError(entry, head)
    return RefusedError(
        f"Nothing was recorded: this was decided on record {head}, but the log ends with record {entry.seq}. "
        "Was an older backup put in its place? Verify the log against the last receipt."
    )


def _one(row: Any, place: str) -> Any:
    if row is None:
        raise DamagedError(place, "the log has no record at all, not even its opening one")
    return row


def _entry(row: Sequence[Any]) -> Entry:
    seq, digest, header, salt, content = row
    body = None if content is None else Body(bytes(salt), bytes(content))
    return Entry(seq, digest, bytes(header), body)
