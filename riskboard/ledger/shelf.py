"""What a store keeps beside the log: drafts, documents of the school, published policies and types, PIN hashes.

Every write takes the same turn as an append: at the pace of a school the wait is a few milliseconds, and nobody has
to think about two kinds of writers.
"""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Row, Table, delete, insert, or_, select, update

from riskboard.ledger import schema
from riskboard.ledger.canonical import NotCanonicalError, parse_json, parse_utc, utc_text
from riskboard.ledger.engine import Database
from riskboard.ledger.errors import (
    DraftOwnerError,
    PolicyVersionReusedError,
    RefusedError,
    RevisionError,
    TypeVersionReusedError,
)
from riskboard.ledger.store import Document, DocumentChange, Draft, MayTry, PinChange, PinRecord, PolicyText, TypeText

__all__ = ["Shelf", "check_change", "put", "save_document", "save_pin", "save_type"]


class Shelf:
    """The part of a store that is not the log; see `riskboard.ledger.store.Store` for what each method promises."""

    _database: Database

    def save_draft(self, draft_id: str, text: str, *, owner: str, at: datetime, revision: int | None = None) -> Draft:
        """Save a draft."""
        _check_json(text, f"draft {draft_id}")
        with self._database.writing() as connection:
            known = _load_draft(connection, draft_id)
            if known is not None and known.owner not in {"", owner}:
                raise DraftOwnerError(
                    f"Draft {draft_id} belongs to {known.owner}, not to {owner or 'nobody'}; nothing was saved. "
                    "Open a draft of your own."
                )
            new = _next_revision(known.revision if known else 0, revision, f"draft {draft_id}")
            values = {"owner": owner, "content": text, "revision": new, "saved_at": utc_text(at)}
            put(connection, schema.draft, {"draft_id": draft_id}, values, exists=known is not None)
        return Draft(draft_id, owner, text, new, at)

    def load_draft(self, draft_id: str) -> Draft | None:
        """Return a draft."""
        with self._database.reading() as connection:
            return _load_draft(connection, draft_id)

    def list_drafts(self, owner: str) -> list[Draft]:
        """Return a person's drafts."""
        with self._database.reading() as connection:
            rows = connection.execute(select(schema.draft).where(schema.draft.c.owner == owner)).all()
        drafts = [_draft(row) for row in rows]
        return sorted(drafts, key=lambda draft: (draft.saved_at, draft.draft_id), reverse=True)

    def delete_draft(self, draft_id: str) -> None:
        """Delete a draft."""
        with self._database.writing() as connection:
            connection.execute(delete(schema.draft).where(schema.draft.c.draft_id == draft_id))

    def put_document(
        self, kind: str, document_id: str, text: str, *, at: datetime, revision: int | None = None
    ) -> Document:
        """Save a document."""
        change = DocumentChange(kind, document_id, text, revision)
        check_change(change)
        with self._database.writing() as connection:
            return save_document(connection, change, at)

    def get_document(self, kind: str, document_id: str) -> Document | None:
        """Return a document."""
        with self._database.reading() as connection:
            return _get_document(connection, kind, document_id)

    def list_documents(self, kind: str) -> list[Document]:
        """Return all documents of a kind."""
        table = schema.document
        with self._database.reading() as connection:
            rows = connection.execute(select(table).where(table.c.kind == kind)).all()
        return sorted((_document(row) for row in rows), key=lambda document: document.document_id)

    def delete_document(self, kind: str, document_id: str) -> None:
        """Delete a document."""
        table = schema.document
        with self._database.writing() as connection:
            connection.execute(delete(table).where(table.c.kind == kind, table.c.document_id == document_id))

    def publish_policy(self, policy: PolicyText) -> PolicyText:
        """Publish a policy."""
        table = schema.policy_text
        same_version = (table.c.policy_id == policy.policy_id) & (table.c.version == policy.version)
        with self._database.writing() as connection:
            rows = connection.execute(select(table).where(or_(table.c.digest == policy.digest, same_version))).all()
            for row in rows:
                _check_same_policy(_policy(row), policy)
            if rows:
                return _policy(rows[0])
            connection.execute(
                insert(table).values(
                    digest=policy.digest,
                    policy_id=policy.policy_id,
                    version=policy.version,
                    content=policy.text.encode("utf-8"),
                    published_at=utc_text(policy.published_at),
                )
            )
        return policy

    def get_policy(self, digest: str) -> PolicyText | None:
        """Return a policy."""
        table = schema.policy_text
        with self._database.reading() as connection:
            row = connection.execute(select(table).where(table.c.digest == digest)).one_or_none()
        return None if row is None else _policy(row)

    def list_policies(self) -> list[PolicyText]:
        """Return all policies."""
        with self._database.reading() as connection:
            rows = connection.execute(select(schema.policy_text)).all()
        return sorted((_policy(row) for row in rows), key=lambda policy: (policy.policy_id, policy.version))

    def get_type(self, digest: str) -> TypeText | None:
        """Return an aircraft type."""
        table = schema.type_text
        with self._database.reading() as connection:
            row = connection.execute(select(table).where(table.c.digest == digest)).one_or_none()
        return None if row is None else _type(row)

    def list_types(self) -> list[TypeText]:
        """Return all aircraft types."""
        with self._database.reading() as connection:
            rows = connection.execute(select(schema.type_text)).all()
        return sorted((_type(row) for row in rows), key=lambda kept: (kept.type_id, kept.version))

    def set_pin_hash(self, person_id: str, pin_hash: str, *, at: datetime) -> None:
        """Keep a PIN hash."""
        with self._database.writing() as connection:
            save_pin(connection, PinChange(person_id, pin_hash), at)

    def get_pin(self, person_id: str) -> PinRecord | None:
        """Return a PIN record."""
        with self._database.reading() as connection:
            return _get_pin(connection, person_id)

    def claim_pin_attempt(self, person_id: str, *, at: datetime, may_try: MayTry) -> bool:
        """Count an attempt before it is made, if it may be made."""
        with self._database.writing() as connection:
            known = _get_pin(connection, person_id)
            if known is None:
                return True
            if not may_try(known.failures, known.last_failure_at, at):
                return False
            values = {"failures": known.failures + 1, "last_failure_at": utc_text(at)}
            put(connection, schema.pin, {"person_id": person_id}, values, exists=True)
        return True

    def clear_pin_failures(self, person_id: str) -> None:
        """Set the failures back."""
        values = {"failures": 0, "last_failure_at": None}
        with self._database.writing() as connection:
            put(connection, schema.pin, {"person_id": person_id}, values, exists=True)

    def remove_pin(self, person_id: str) -> None:
        """Forget a PIN."""
        with self._database.writing() as connection:
            connection.execute(delete(schema.pin).where(schema.pin.c.person_id == person_id))


def check_change(change: DocumentChange) -> None:
    """Refuse a document whose text is not JSON, before anyone has to wait.

    Raises:
        RefusedError: If it is not.
    """
    _check_json(change.text, f"{change.kind} {change.document_id}")


def save_document(connection: Connection, change: DocumentChange, at: datetime) -> Document:
    """Save a document inside the caller's transaction.

    Raises:
        RevisionError: If somebody saved in between.
    """
    known = _get_document(connection, change.kind, change.document_id)
    new = _next_revision(known.revision if known else 0, change.revision, f"{change.kind} {change.document_id}")
    key = {"kind": change.kind, "document_id": change.document_id}
    values = {"content": change.text, "revision": new, "saved_at": utc_text(at)}
    put(connection, schema.document, key, values, exists=known is not None)
    return Document(change.kind, change.document_id, change.text, new, at)


def save_pin(connection: Connection, change: PinChange, at: datetime) -> None:
    """Keep a PIN hash, or take the PIN away, inside the caller's transaction."""
    if change.pin_hash is None:
        connection.execute(delete(schema.pin).where(schema.pin.c.person_id == change.person_id))
        return
    values = {"pin_hash": change.pin_hash, "set_at": utc_text(at), "failures": 0, "last_failure_at": None}
    exists = _get_pin(connection, change.person_id) is not None
    put(connection, schema.pin, {"person_id": change.person_id}, values, exists=exists)


def save_type(connection: Connection, kept: TypeText) -> None:
    """Publish an aircraft type inside the caller's transaction; one that stands there is left as it is.

    Raises:
        TypeVersionReusedError: If its id and version, or its digest, stand there with another text.
    """
    table = schema.type_text
    same_version = (table.c.type_id == kept.type_id) & (table.c.version == kept.version)
    rows = connection.execute(select(table).where(or_(table.c.digest == kept.digest, same_version))).all()
    for row in rows:
        _check_same_type(_type(row), kept)
    if not rows:
        connection.execute(
            insert(table).values(
                digest=kept.digest,
                type_id=kept.type_id,
                version=kept.version,
                title=kept.title,
                content=kept.text.encode("utf-8"),
                published_at=utc_text(kept.published_at),
            )
        )


def put(
    connection: Connection, table: Table, key: Mapping[str, str], values: Mapping[str, Any], *, exists: bool
) -> None:
    """Insert a row, or update the one of that key."""
    if exists:
        where = [table.c[name] == value for name, value in key.items()]
        connection.execute(update(table).where(*where).values(**values))
    else:
        connection.execute(insert(table).values(**key, **values))


def _check_json(text: str, what: str) -> None:
    try:
        parse_json(text)
    except NotCanonicalError as error:
        raise RefusedError(f"The text of {what} was not saved: {error}") from error


def _next_revision(stored: int, claimed: int | None, what: str) -> int:
    if claimed is not None and claimed != stored:
        raise RevisionError(
            f"The text of {what} was not saved: it stands at revision {stored}, and this save starts from {claimed}. "
            "Somebody saved in between; load it again and repeat the change."
        )
    return stored + 1


def _check_same_policy(stored: PolicyText, offered: PolicyText) -> None:
    names = ("digest", "policy_id", "version", "text")
    if all(getattr(stored, name) == getattr(offered, name) for name in names):
        return
    raise PolicyVersionReusedError(
        f"Policy {offered.policy_id} version {offered.version} was not published: {stored.policy_id} version "
        f"{stored.version} with digest {stored.digest[:12]}... was published on {utc_text(stored.published_at)} and "
        "is kept for ever. Give the changed text a new version number."
    )


def _check_same_type(stored: TypeText, offered: TypeText) -> None:
    names = ("digest", "type_id", "version", "title", "text")
    if all(getattr(stored, name) == getattr(offered, name) for name in names):
        return
    raise TypeVersionReusedError(
        f"Aircraft type {offered.type_id} version {offered.version} was not published: {stored.type_id} version "
        f"{stored.version} with digest {stored.digest[:12]}... was published on {utc_text(stored.published_at)} and "
        "is kept for ever. Give the changed text a new version number."
    )


def _load_draft(connection: Connection, draft_id: str) -> Draft | None:
    row = connection.execute(select(schema.draft).where(schema.draft.c.draft_id == draft_id)).one_or_none()
    return None if row is None else _draft(row)


def _get_document(connection: Connection, kind: str, document_id: str) -> Document | None:
    table = schema.document
    where = (table.c.kind == kind) & (table.c.document_id == document_id)
    row = connection.execute(select(table).where(where)).one_or_none()
    return None if row is None else _document(row)


def _get_pin(connection: Connection, person_id: str) -> PinRecord | None:
    row = connection.execute(select(schema.pin).where(schema.pin.c.person_id == person_id)).one_or_none()
    if row is None:
        return None
    last = None if row.last_failure_at is None else parse_utc(row.last_failure_at)
    return PinRecord(row.person_id, row.pin_hash, parse_utc(row.set_at), row.failures, last)


def _draft(row: Row[Any]) -> Draft:
    return Draft(row.draft_id, row.owner, row.content, row.revision, parse_utc(row.saved_at))


def _document(row: Row[Any]) -> Document:
    return Document(row.kind, row.document_id, row.content, row.revision, parse_utc(row.saved_at))


def _policy(row: Row[Any]) -> PolicyText:
    text = bytes(row.content).decode("utf-8")
    return PolicyText(row.digest, row.policy_id, row.version, text, parse_utc(row.published_at))


def _type(row: Row[Any]) -> TypeText:
    text = bytes(row.content).decode("utf-8")
    return TypeText(row.digest, row.type_id, row.version, row.title, text, parse_utc(row.published_at))
