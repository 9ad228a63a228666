"""Copies of a whole store: a consistent one of a file that is in use, and of one kind of database into the other.

Sessions are never copied: whoever comes in at the copy comes in anew, and a stay that was ended stays ended.
"""

import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from contextlib import closing
from datetime import datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Table, func, inspect, select

from riskboard.ledger import founding, schema
from riskboard.ledger.appending import last
from riskboard.ledger.engine import Database, Statements, stored_rows
from riskboard.ledger.entry import Body, Entry
from riskboard.ledger.migrations import current_version
from riskboard.ledger.receipt import Receipt, receipt_for
from riskboard.ledger.trouble import translated

__all__ = ["BESIDE", "copy_into", "copy_of_file", "counts", "state"]

BESIDE = (schema.draft, schema.document, schema.policy_text, schema.type_text, schema.pin, schema.account)
"""What a copy takes along beside the log."""

_LOG = (
    "SELECT entry.seq, digest, header, salt, content FROM entry LEFT JOIN entry_body ON entry_body.seq = entry.seq "
    "ORDER BY entry.seq"
)


def state(database: Database) -> tuple[int, Receipt | None]:
    """Return the version of a store's schema, 0 for none, and the receipt of its log as it stands.

    Raises:
        CannotOpenError: If it is no store, was written by a newer program, or has no record at all.
    """
    with database.reading() as connection:
        version = current_version(connection, database.place)
        return version, receipt_for(last(Statements.of(connection), database.place)) if version else None


def counts(database: Database) -> dict[str, int]:
    """Return how many rows stand in each table that a copy takes along."""
    with database.reading() as connection:
        return {
            table.name: connection.execute(select(func.count()).select_from(table)).scalar_one()
            for table in _present(connection)
        }


def copy_of_file(source: Database, target: Path) -> None:
    """Copy a SQLite store, which may be in use, as it stands at one moment into a new file. Its version stays.

    Raises:
        NotWrittenError: If the new file cannot be written.
    """
    with source.reading() as connection, translated(str(target)), closing(sqlite3.connect(target)) as copy:
        driver: Any = connection.connection.driver_connection
        driver.backup(copy)
        copy.execute("PRAGMA secure_delete = ON")
        if copy.execute("SELECT 1 FROM sqlite_master WHERE name = ?", (schema.session.name,)).fetchone():
            copy.execute(f"DELETE FROM {schema.session.name}")  # noqa: S608 - a name of this program
        copy.commit()
        copy.execute("PRAGMA journal_mode = WAL")


def copy_into(source: Database, target: Database, *, now: datetime) -> None:
    """Copy a store as it stands at one moment into an empty database of either kind, in one transaction.

    Raises:
        RefusedError: If there is a log already, or the source's does not verify.
        NotWrittenError: If it cannot be written.
    """
    with source.snapshot() as connection:
        beside = [(table, _rows(connection, table)) for table in _present(connection)]
        founding.prepare(target, now=now, adopt=_log(connection), beside=beside)


def _present(connection: Connection) -> list[Table]:
    names = set(inspect(connection).get_table_names())
    return [table for table in BESIDE if table.name in names]


def _rows(connection: Connection, table: Table) -> Sequence[Mapping[str, Any]]:
    return [dict(row) for row in connection.execute(select(table)).mappings()]


def _log(connection: Connection) -> Iterator[Entry]:
    for seq, digest, header, salt, content in stored_rows(connection, _LOG):
        body = None if content is None else Body(bytes(salt), bytes(content))
        yield Entry(seq, digest, bytes(header), body)
