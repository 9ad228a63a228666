"""Take a body away so that nothing of it stands in the store, while the chain still verifies.

Deleting a row only marks its place as free. On SQLite every connection overwrites what it deletes (secure_delete),
and after an erasure the file is rebuilt (VACUUM) and the write-ahead log emptied. On PostgreSQL the tables are
rebuilt if this role owns them; the server's own write-ahead log keeps copies until it is recycled.
"""

from collections.abc import Collection
from dataclasses import replace

from sqlalchemy import Connection, delete, select

from riskboard.ledger import schema
from riskboard.ledger.engine import Database
from riskboard.ledger.entry import Intent
from riskboard.ledger.errors import CannotOpenError, ErasureRefusedError, NotWrittenError
from riskboard.ledger.kinds import ERASED, KINDS

__all__ = ["check_erasable", "delete_rows", "places_holding", "scrub", "signed_intent"]

_BATCH = 500
_REPEAT = "The erasure is on record, but the file was not rebuilt: {why} Repeat the erasure under the same event."
_COPIES = "Backups, exports and printed sheets made before the erasure still hold the text."
_BLOCKS = "The disk may keep freed blocks until it reuses them."
_SERVER_LOG = "The server's write-ahead log and its archives hold the text until they are recycled."


def signed_intent(intent: Intent, numbers: Collection[int], *, beside: bool = False) -> Intent:
    """Return the intent with the record numbers in its body, ascending.

    Args:
        intent: The erasure.
        numbers: Records whose bodies go; may be none where drafts or documents are cleaned (`beside`).
        beside: Whether drafts or documents are.

    Raises:
        ErasureRefusedError: If the intent is not an erasure or names nothing.
    """
    if intent.kind != ERASED:
        raise ErasureRefusedError(f"Nothing was erased: the entry is of kind {intent.kind!r}, it must be {ERASED!r}.")
    if not (numbers or beside):
        raise ErasureRefusedError("Nothing was erased: no record was named.")
    if "erases" in intent.body or "erases" in intent.timed:
        raise ErasureRefusedError("Nothing was erased: name the records as numbers, `erases` is added to the body.")
    return replace(intent, body={**intent.body, "erases": sorted(set(numbers))})


def check_erasable(connection: Connection, numbers: Collection[int]) -> None:
    """Raise ErasureRefusedError unless each record exists, may lose its body, and still has it."""
    entry, body = schema.entry, schema.entry_body
    for number in sorted(set(numbers)):
        kind = connection.execute(select(entry.c.kind).where(entry.c.seq == number)).scalar_one_or_none()
        if kind is None:
            raise ErasureRefusedError(f"Nothing was erased: there is no record {number}.")
        if kind not in KINDS or not KINDS[kind].erasable:
            raise ErasureRefusedError(
                f"Nothing was erased: record {number} is of kind {kind!r}, which must stay to judge other records."
            )
        if connection.execute(select(body.c.seq).where(body.c.seq == number)).first() is None:
            raise ErasureRefusedError(f"Nothing was erased: the body of record {number} is gone already.")


def delete_rows(connection: Connection, numbers: Collection[int], drafts: Collection[str]) -> None:
    """Delete bodies and drafts in the transaction that has just appended the `erased` entry."""
    for number in sorted(set(numbers)):
        connection.execute(delete(schema.entry_body).where(schema.entry_body.c.seq == number))
    for draft_id in sorted(set(drafts)):
        connection.execute(delete(schema.draft).where(schema.draft.c.draft_id == draft_id))


def scrub(database: Database) -> tuple[bool, tuple[str, ...]]:
    """Rebuild the tables so that freed places hold nothing.

    Returns:
        Whether the store itself is clean, and sentences on what may still hold the text.
    """
    beyond = (_COPIES, _BLOCKS) if database.is_sqlite else (_COPIES, _BLOCKS, _SERVER_LOG)
    try:
        with database.alone() as connection:
            if not database.is_sqlite:
                connection.exec_driver_sql("VACUUM FULL entry_body")
                connection.exec_driver_sql("VACUUM FULL draft")
                connection.exec_driver_sql("VACUUM FULL document")
                return _postgres_rebuilt(connection), beyond
            connection.exec_driver_sql("VACUUM")
            busy = connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)").one()[0]
    except (NotWrittenError, CannotOpenError) as error:
        # Not the whole message: that nothing was recorded is not true of this step, the erasure is on record.
        return False, (_REPEAT.format(why=error.happened.format(place=error.place)), *beyond)
    if busy:
        return False, (_REPEAT.format(why="Another program kept the write-ahead log from being emptied."), *beyond)
    return True, beyond


def _postgres_rebuilt(connection: Connection) -> bool:
    """Tell whether this role owns the tables: for others VACUUM skips them with a mere warning."""
    query = (
        "SELECT bool_and(pg_has_role(relowner, 'USAGE')) FROM pg_class "
        "WHERE oid IN ('entry_body'::regclass, 'draft'::regclass, 'document'::regclass)"
    )
    return bool(connection.exec_driver_sql(query).scalar_one())


def places_holding(connection: Connection, fragment: str) -> list[str]:
    """Name every body, draft and document that holds a piece of text, as stored (UTF-8)."""
    if not fragment:
        return []
    wanted = fragment.encode()
    bodies = connection.execute(select(schema.entry_body.c.seq, schema.entry_body.c.content)).yield_per(_BATCH)
    found = [f"body of record {row.seq}" for row in bodies if wanted in row.content]
    draft, document = schema.draft, schema.document
    held = draft.c.content.contains(fragment, autoescape=True)
    found += [f"draft {name}" for name in connection.execute(select(draft.c.draft_id).where(held)).scalars()]
    held = document.c.content.contains(fragment, autoescape=True)
    rows = connection.execute(select(document.c.kind, document.c.document_id).where(held))
    return found + [f"{row.kind} {row.document_id}" for row in rows]
