"""The store on a SQL database: one SQLite file by default, PostgreSQL by address.

SQLite runs in WAL mode with synchronous=FULL: an append has reached the disk when it returns. WAL needs a local disk;
several machines share a log through PostgreSQL, never through a file on the network.
"""

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Row, Select, select

from riskboard.ledger import chain, erasure, founding, schema
from riskboard.ledger.appending import append, check_same, find, last
from riskboard.ledger.doors import Doors, check_account, save_account
from riskboard.ledger.engine import Database, Statements, stored_rows
from riskboard.ledger.entry import (
    Body,
    Entry,
    Intent,
)
from riskboard.ledger.errors import RefusedError
from riskboard.ledger.finding import Finding, FindingKind
from riskboard.ledger.kinds import ERASED, OPENED
from riskboard.ledger.receipt import Receipt, receipt_for
from riskboard.ledger.shelf import Shelf, check_change, save_document, save_pin, save_type
from riskboard.ledger.store import AccountRecord, DocumentChange, Erasure, PinChange, TypeText

__all__ = ["SqlStore", "open_store"]

_BATCH = 500
_LOOKED_UP_BY = ("prev", "event_id", "kind", "subject")
_VERIFIED = (
    "SELECT entry.seq, digest, header, salt, content, prev, event_id, kind, subject "
    "FROM entry LEFT JOIN entry_body ON entry_body.seq = entry.seq ORDER BY entry.seq"
)


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
        founding.prepare(database, now=now, adopt=adopt)
        return SqlStore(database)
    except BaseException:
        database.close()
        raise


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
        types: Sequence[TypeText] = (),
    ) -> tuple[Entry, Receipt]:
        """Put an intent on record, and what belongs to it in the same transaction."""
        if intent.kind in {OPENED, ERASED}:
            way = "opening a new store" if intent.kind == OPENED else "erase()"
            raise RefusedError(f"An entry of kind {intent.kind!r} is made by {way} only; nothing was recorded.")
        # What cannot be written is refused before anyone has to wait.
        data = intent.body_bytes()
        for document in documents:
            check_change(document)
        for change in access:
            if isinstance(change, AccountRecord):
                check_account(change)
        wait_s = self._database.lock_timeout_s
        if not (documents or access or types):
            place = self.place
            entry, _ = self._database.in_one_append(
                lambda here: append(here, intent, data, place=place, head=head, wait_s=wait_s)
            )
            return entry, receipt_for(entry)
        with self._database.writing() as connection:
            here = Statements.of(connection)
            entry, is_new = append(here, intent, data, place=self.place, head=head, wait_s=wait_s)
            if is_new:
                _save_what_belongs(connection, intent.at, documents, access, types)
        return entry, receipt_for(entry)

    def find_by_event_id(self, event_id: str) -> tuple[Entry, Receipt] | None:
        """Find the entry of an event."""
        with self._database.reading() as connection:
            entry = find(Statements.of(connection), event_id)
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
            return receipt_for(last(Statements.of(connection), self.place))

    def verify(
        self, receipt: Receipt | Sequence[Receipt] | None = None, *, authorised: chain.Authorised | None = None
    ) -> list[Finding]:
        """Verify the whole log."""
        receipts = () if receipt is None else (receipt,) if isinstance(receipt, Receipt) else tuple(receipt)
        walk = chain.Walk(receipts, authorised)
        with self._database.snapshot() as connection:
            for seq, digest, header, salt, content, *looked_up_by in stored_rows(connection, _VERIFIED):
                fields = walk.take(seq, digest, header, salt, content)
                if fields is not None and looked_up_by != [fields[name] for name in _LOOKED_UP_BY]:
                    walk.findings.extend(_index_findings(seq, looked_up_by, fields))
        return sorted(walk.finish(), key=lambda finding: finding.seq)

    def erase(
        self,
        intent: Intent,
        numbers: Collection[int],
        *,
        drafts: Collection[str] = (),
        documents: Sequence[DocumentChange] = (),
    ) -> Erasure:
        """Erase bodies and drafts by a signed entry."""
        signed = erasure.signed_intent(intent, numbers, beside=bool(drafts or documents))
        for document in documents:
            check_change(document)
        with self._database.writing() as connection:
            here = Statements.of(connection)
            entry = find(here, signed.event_id)
            if entry is None:
                erasure.check_erasable(connection, numbers)
                entry, _ = append(here, signed, signed.body_bytes(), place=self.place)
                erasure.delete_rows(connection, numbers, drafts)
                _save_what_belongs(connection, signed.at, documents)
            else:
                check_same(signed, entry)
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


def _index_findings(seq: int, looked_up_by: Sequence[object], fields: Mapping[str, object]) -> Iterator[Finding]:
    """Compare the columns that records are looked up by with the header they were taken from."""
    for name, stored in zip(_LOOKED_UP_BY, looked_up_by, strict=True):
        if stored != fields[name]:
            yield Finding(
                FindingKind.INDEX_DIFFERS,
                seq,
                f"Record {seq} is looked up by {name} {stored!r}, but its header says {fields[name]!r}.",
            )


def _save_what_belongs(
    connection: Connection,
    at: datetime,
    documents: Sequence[DocumentChange],
    access: Sequence[AccountRecord | PinChange] = (),
    types: Sequence[TypeText] = (),
) -> None:
    for document in documents:
        save_document(connection, document, at)
    for change in access:
        if isinstance(change, AccountRecord):
            save_account(connection, change, at)
        else:
            save_pin(connection, change, at)
    for kept in types:
        save_type(connection, kept)
