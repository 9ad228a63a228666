"""How the log of a store begins: with an opening record of its own, or with the records of a log from elsewhere."""

import os
import secrets
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Table, select

from riskboard.ledger import chain, schema
from riskboard.ledger.appending import insert
from riskboard.ledger.engine import Database, Statements
from riskboard.ledger.entry import GENESIS_PREV, SALT_BYTES, Entry, Intent, UnreadableError, seal
from riskboard.ledger.errors import CannotOpenError, RefusedError
from riskboard.ledger.finding import Finding, FindingKind
from riskboard.ledger.kinds import OPENED
from riskboard.ledger.migrations import MIGRATIONS, apply_migrations, current_version
from riskboard.ledger.trouble import breaks_a_rule

__all__ = ["Rows", "damage", "prepare"]

Rows = Iterable[tuple[Table, Sequence[Mapping[str, Any]]]]
"""Rows of tables beside the log."""

_PROGRAM = "riskboard"


def prepare(database: Database, *, now: datetime, adopt: Iterable[Entry] | None = None, beside: Rows = ()) -> None:
    """Make the store in an empty database, or bring an older one up to date; leave one of this version as it is.

    Args:
        database: The database.
        now: Stands in the opening record of a new log.
        adopt: Records of a log to be continued here. They are verified in full; a damaged log is refused.
        beside: What stood beside that log; all of it is put here in one transaction.

    Raises:
        CannotOpenError: If it is no store, or was written by a newer program.
        NotWrittenError: If it cannot be written.
        RefusedError: If `adopt` is given and there is a log already, or the records do not verify.
    """
    if database.is_sqlite:
        _make_private(Path(database.place))
    with database.reading() as connection:
        found = current_version(connection, database.place)
        if not database.is_sqlite:
            _check_encoding(connection, database.place)
    _check_may_adopt(database.place, found, adopt)
    if found == MIGRATIONS[-1].version:
        return
    if database.is_sqlite:
        with database.alone() as connection:
            connection.exec_driver_sql("PRAGMA journal_mode = WAL")
    with database.writing(log_exists=False) as connection:
        apply_migrations(connection, database.place, now=now)
        if connection.execute(select(schema.log.c.id)).first() is not None:
            # Migrated just now, or made by another program since we looked.
            _check_may_adopt(database.place, 1, adopt)
            return
        _begin(connection, now, adopt)
        for table, rows in beside:
            if rows:
                connection.execute(table.insert(), list(rows))


def damage(findings: Iterable[Finding]) -> list[Finding]:
    """Return the findings that speak of damage; that a clock went back is a fact about the past and moves with it."""
    return [finding for finding in findings if finding.kind is not FindingKind.CLOCK_BACK]


def _make_private(file: Path) -> None:
    """Make the file for its owner alone: health answers stand in it. What SQLite puts beside it takes after it."""
    with suppress(OSError):  # there already, or nothing can be made there: the database says so better
        os.close(os.open(file, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600))


def _begin(connection: Connection, now: datetime, adopt: Iterable[Entry] | None) -> None:
    if adopt is None:
        opening = _opening(now)
        insert(Statements.of(connection), opening)
        origin = opening.header.origin
    else:
        origin = _adopt(connection, adopt)
    connection.execute(schema.log.insert().values(id=1, origin=origin, turn=0))


def _check_may_adopt(place: str, found: int, adopt: Iterable[Entry] | None) -> None:
    if adopt is not None and found:
        raise RefusedError(f"{place} has a log already; records can be adopted by an empty store only.")


def _check_encoding(connection: Connection, place: str) -> None:
    encoding = connection.exec_driver_sql("SHOW server_encoding").scalar_one()
    if encoding != "UTF8":
        raise CannotOpenError(place, f"the database's encoding is {encoding}; riskboard needs one made with UTF8")


def _opening(now: datetime) -> Entry:
    origin = secrets.token_hex(16)
    intent = Intent(OPENED, f"opened-{origin}", now, _PROGRAM, _PROGRAM, "log", {})
    return seal(intent, origin=origin, seq=1, prev=GENESIS_PREV, salt=secrets.token_bytes(SALT_BYTES))


def _adopt(connection: Connection, entries: Iterable[Entry]) -> str:
    origin = ""
    statements = Statements.of(connection)

    def inserted() -> Iterator[Entry]:
        nonlocal origin
        for entry in entries:
            try:
                origin = entry.header.origin
            except UnreadableError as error:
                raise RefusedError(f"The log was not adopted: record {entry.seq}: {error}") from error
            try:
                insert(statements, entry)
            except Exception as error:
                if not breaks_a_rule(error):
                    raise
                raise RefusedError(
                    f"The log was not adopted: record {entry.seq} does not follow the one before it. Verify the export."
                ) from error
            yield entry

    findings = damage(chain.verify(inserted()))
    if findings:
        raise RefusedError(f"The log was not adopted, it does not verify: {findings[0]}")
    return origin
