"""The store on a SQL database: one SQLite file by default, PostgreSQL by address.

SQLite runs in WAL mode with synchronous=FULL: an append has reached the disk when it returns. WAL needs a local disk;
several machines share a log through PostgreSQL, never through a file on the network.
"""

import secrets
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Row, Select, insert, select
from sqlalchemy.exc import SQLAlchemyError

from riskboard.ledger import chain, erasure, schema
from riskboard.ledger.doors import Doors, check_account, save_account
from riskboard.ledger.engine import Database
from riskboard.ledger.entry import (
    GENESIS_PREV,
    SALT_BYTES,
    Body,
    Entry,
    Intent,
    UnreadableError,
    read_header_fields,
    seal,
)
from riskboard.ledger.errors import CannotOpenError, DamagedError, EventIdReusedError, OvertakenError, RefusedError
from riskboard.ledger.finding import Finding, FindingKind
from riskboard.ledger.kinds import ERASED, OPENED
from riskboard.ledger.migrations import MIGRATIONS, apply_migrations, current_version
from riskboard.ledger.receipt import Receipt, receipt_for
from riskboard.ledger.shelf import Shelf, check_change, save_document, save_pin
from riskboard.ledger.store import AccountRecord, DocumentChange, Erasure, PinChange

__all__ = ["SqlStore", "open_store"]

_BATCH = 500
_PROGRAM = "riskboard"


def open_store(
    where: str | Path,
    *,
    now: datetime,
    lock_timeout_s: float = 10.0,
    adopt: Iterable[Entry] | None = None,
) -> "SqlStore":
    """Open a store, making it if the file or database is empty; older schemas are brought up to date.

    Args:
        where: A path to a SQLite file, or `sqlite:///...` or `postgresql://user@host/name`.
        now: Time of opening, UTC: stands in the opening record of a new log.
        lock_timeout_s: How long a writer waits for its turn.
        adopt: Records of an exported log, to continue that log in a store that has none yet. They are verified first
            in full; a log with findings is refused.

    Raises:
        CannotOpenError: If it cannot be opened, is no store, or was written by a newer program.
        NotWrittenError: If it must be made or brought up to date and cannot be written.
        RefusedError: If `adopt` is given and the store has a log already, or the records do not verify.
    """
    database = Database(where, lock_timeout_s=lock_timeout_s)
    try:
        with database.reading() as connection:
            found = current_version(connection, database.place)
            if not database.is_sqlite:
                _check_encoding(connection, database.place)
        _check_may_adopt(database.place, found, adopt)
        if found != MIGRATIONS[-1].version:
            _prepare(database, now, adopt)
        return SqlStore(database)
    except BaseException:
        database.close()
        raise


def _check_may_adopt(place: str, found: int, adopt: Iterable[Entry] | None) -> None:
    if adopt is not None and found:
        raise RefusedError(f"{place} has a log already; records can be adopted by an empty store only.")


def _check_encoding(connection: Connection, place: str) -> None:
    encoding = connection.exec_driver_sql("SHOW server_encoding").scalar_one()
    if encoding != "UTF8":
        raise CannotOpenError(place, f"the database's encoding is {encoding}; riskboard needs one made with UTF8")


def _prepare(database: Database, now: datetime, adopt: Iterable[Entry] | None) -> None:
    if database.is_sqlite:
        with database.alone() as connection:
            connection.exec_driver_sql("PRAGMA journal_mode = WAL")
    with database.writing(log_exists=False) as connection:
        apply_migrations(connection, database.place, now=now)
        if connection.execute(select(schema.log.c.id)).first() is not None:
            # Migrated just now, or made by another program since we looked.
            _check_may_adopt(database.place, 1, adopt)
            return
        if adopt is None:
            opening = _opening(now)
            _insert(connection, opening)
            origin = opening.header.origin
        else:
            origin = _adopt(connection, adopt)
        connection.execute(insert(schema.log).values(id=1, origin=origin, turn=0))


def _opening(now: datetime) -> Entry:
    origin = secrets.token_hex(16)
    intent = Intent(OPENED, f"opened-{origin}", now, _PROGRAM, _PROGRAM, "log", {})
    return seal(intent, origin=origin, seq=1, prev=GENESIS_PREV, salt=secrets.token_bytes(SALT_BYTES))


def _adopt(connection: Connection, entries: Iterable[Entry]) -> str:
    origin = ""

    def inserted() -> Iterator[Entry]:
        nonlocal origin
        for entry in entries:
            try:
                origin = entry.header.origin
            except UnreadableError as error:
                raise RefusedError(f"The log was not adopted: record {entry.seq}: {error}") from error
            try:
                _insert(connection, entry)
            except (SQLAlchemyError, OverflowError) as error:
                raise RefusedError(
                    f"The log was not adopted: record {entry.seq} does not follow the one before it. Verify the export."
                ) from error
            yield entry

    findings = chain.verify(inserted())
    if findings:
        raise RefusedError(f"The log was not adopted, it does not verify: {findings[0]}")
    return origin


class SqlStore(Shelf, Doors):
    """A store on SQLite or PostgreSQL; see `riskboard.ledger.store.Store` for what each method promises."""

    def __init__(self, database: Database) -> None:
        self._database = database

    @property
    def place(self) -> str:
        """Where the store is, without any password."""
        return self._database.place

    def append(
        self,
        intent: Intent,
        *,
        head: int | None = None,
        documents: Sequence[DocumentChange] = (),
        access: Sequence[AccountRecord | PinChange] = (),
    ) -> tuple[Entry, Receipt]:
        """Put an intent on record, and what belongs to it in the same transaction."""
        if intent.kind in {OPENED, ERASED}:
            way = "opening a new store" if intent.kind == OPENED else "erase()"
            raise RefusedError(f"An entry of kind {intent.kind!r} is made by {way} only; nothing was recorded.")
        # What cannot be written is refused before anyone has to wait.
        intent.body_bytes()
        for document in documents:
            check_change(document)
        for change in access:
            if isinstance(change, AccountRecord):
                check_account(change)
        with self._database.writing() as connection:
            entry, is_new = _found_or_appended(connection, intent, self.place, head)
            if is_new:
                _save_what_belongs(connection, intent.at, documents, access)
        return entry, receipt_for(entry)

    def find_by_event_id(self, event_id: str) -> tuple[Entry, Receipt] | None:
        """Find the entry of an event."""
        with self._database.reading() as connection:
            entry = _find(connection, event_id)
        return None if entry is None else (entry, receipt_for(entry))

    def entries(
        self, from_seq: int = 1, *, subject: str | None = None, kinds: Collection[str] | None = None
    ) -> Iterator[Entry]:
        """Yield the records in order."""

        def fetch(query: Select[Any]) -> Sequence[Row[Any]]:
            # A short transaction for each batch: a slow or forgotten reader must not hold the database.
            with self._database.reading() as connection:
                return connection.execute(query).all()

        return (_entry(row) for row in _rows(fetch, _entries_query(subject, kinds), from_seq))

    def head(self) -> Receipt:
        """Return the receipt of the log as it stands."""
        with self._database.reading() as connection:
            return receipt_for(_last(connection, self.place))

    def verify(
        self, receipt: Receipt | Sequence[Receipt] | None = None, *, authorised: chain.Authorised | None = None
    ) -> list[Finding]:
        """Verify the whole log."""
        found: list[Finding] = []
        with self._database.snapshot() as connection:

            def watched() -> Iterator[Entry]:
                for row in _rows(lambda query: connection.execute(query).all(), _entries_query(), 1):
                    entry = _entry(row)
                    found.extend(_index_findings(row, entry))
                    yield entry

            found.extend(chain.verify(watched(), receipt, authorised=authorised))
        return sorted(found, key=lambda finding: finding.seq)

    def erase(
        self,
        intent: Intent,
        numbers: Collection[int],
        *,
        drafts: Collection[str] = (),
        documents: Sequence[DocumentChange] = (),
    ) -> Erasure:
        """Erase bodies and drafts by a signed entry."""
        signed = erasure.signed_intent(intent, numbers)
        for document in documents:
            check_change(document)
        with self._database.writing() as connection:
            entry = _find(connection, signed.event_id)
            if entry is None:
                erasure.check_erasable(connection, numbers)
                entry, _ = _found_or_appended(connection, signed, self.place)
                erasure.delete_rows(connection, numbers, drafts)
                _save_what_belongs(connection, signed.at, documents)
            else:
                _check_same(signed, entry)
        scrubbed, left = erasure.scrub(self._database)
        return Erasure(entry, receipt_for(entry), scrubbed, left)

    def places_holding(self, fragment: str) -> list[str]:
        """Name what still holds a piece of text."""
        with self._database.reading() as connection:
            return erasure.places_holding(connection, fragment)

    def close(self) -> None:
        """Close all connections."""
        self._database.close()


def _rows(fetch: Callable[[Select[Any]], Sequence[Row[Any]]], query: Select[Any], from_seq: int) -> Iterator[Row[Any]]:
    while True:
        rows = fetch(query.where(schema.entry.c.seq >= from_seq).limit(_BATCH))
        full = len(rows) == _BATCH
        # A doctored table may hold a number twice: a batch never ends between two rows of the same number.
        if full and rows[-1].seq != rows[0].seq:
            from_seq = rows[-1].seq
            rows = [row for row in rows if row.seq != from_seq]
        elif full:
            from_seq = rows[-1].seq + 1
        yield from rows
        if not full:
            return


def _entries_query(subject: str | None = None, kinds: Collection[str] | None = None) -> Select[Any]:
    entry, body = schema.entry, schema.entry_body
    joined = entry.outerjoin(body, body.c.seq == entry.c.seq)
    query = select(entry, body.c.salt, body.c.content).select_from(joined).order_by(entry.c.seq)
    if subject is not None:
        query = query.where(entry.c.subject == subject)
    if kinds is not None:
        query = query.where(entry.c.kind.in_(sorted(set(kinds))))
    return query


def _entry(row: Row[Any]) -> Entry:
    body = None if row.content is None else Body(bytes(row.salt), bytes(row.content))
    return Entry(row.seq, row.digest, bytes(row.header), body)


def _index_findings(row: Row[Any], entry: Entry) -> Iterator[Finding]:
    """Compare the columns that records are looked up by with the header they were taken from."""
    try:
        fields = read_header_fields(entry.header_bytes)
    except UnreadableError:
        return
    for name in ("prev", "event_id", "kind", "subject"):
        stored = getattr(row, name)
        if stored != fields[name]:
            yield Finding(
                FindingKind.INDEX_DIFFERS,
                entry.seq,
                f"Record {entry.seq} is looked up by {name} {stored!r}, but its header says {fields[name]!r}.",
            )


def _find(connection: Connection, event_id: str) -> Entry | None:
    row = connection.execute(_entries_query().where(schema.entry.c.event_id == event_id)).one_or_none()
    return None if row is None else _entry(row)


def _last(connection: Connection, place: str) -> Entry:
    query = _entries_query().order_by(None).order_by(schema.entry.c.seq.desc()).limit(1)
    row = connection.execute(query).one_or_none()
    if row is None:
        raise DamagedError(place, "the log has no record at all, not even its opening one")
    return _entry(row)


def _found_or_appended(
    connection: Connection, intent: Intent, place: str, head: int | None = None
) -> tuple[Entry, bool]:
    """The entry of an intent, and whether it was made now."""
    known = _find(connection, intent.event_id)
    if known is not None:
        _check_same(intent, known)
        return known, False
    last = _last(connection, place)
    if head is not None:
        _check_head(last, head)
    entry = seal(
        intent,
        origin=last.header.origin,
        seq=last.seq + 1,
        prev=last.digest,
        salt=secrets.token_bytes(SALT_BYTES),
    )
    _insert(connection, entry)
    return entry, True


def _check_head(last: Entry, head: int) -> None:
    if last.seq > head:
        raise OvertakenError(last, head)
    if last.seq < head:
        raise RefusedError(
            f"Nothing was recorded: this was decided on record {head}, but the log ends with record {last.seq}. "
            "Was an older backup put in its place? Verify the log against the last receipt."
        )


def _save_what_belongs(
    connection: Connection,
    at: datetime,
    documents: Sequence[DocumentChange],
    access: Sequence[AccountRecord | PinChange] = (),
) -> None:
    for document in documents:
        save_document(connection, document, at)
    for change in access:
        if isinstance(change, AccountRecord):
            save_account(connection, change, at)
        else:
            save_pin(connection, change, at)


def _check_same(intent: Intent, known: Entry) -> None:
    if not intent.says_the_same_as(known):
        raise EventIdReusedError(
            f"Nothing was recorded: event {intent.event_id} is on record already, as record {known.seq}, with other "
            f"content. Look at what record {known.seq} says; draw the page again to do something new."
        )


def _insert(connection: Connection, entry: Entry) -> None:
    header = entry.header
    connection.execute(
        insert(schema.entry).values(
            seq=entry.seq,
            prev=header.prev,
            digest=entry.digest,
            event_id=header.event_id,
            kind=header.kind,
            subject=header.subject,
            header=entry.header_bytes,
        )
    )
    if entry.body is not None:
        connection.execute(
            insert(schema.entry_body).values(seq=entry.seq, salt=entry.body.salt, content=entry.body.data)
        )
