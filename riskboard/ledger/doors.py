"""How people come in, as a store keeps it: accounts and sessions. No secret stands here, only hashes of secrets."""

import unicodedata
from dataclasses import replace
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, Connection, Row, and_, or_, select, update

from riskboard.ledger import schema
from riskboard.ledger.canonical import parse_utc, utc_text
from riskboard.ledger.engine import Database
from riskboard.ledger.errors import AccountTakenError, RefusedError
from riskboard.ledger.shelf import put
from riskboard.ledger.store import AccountRecord, MayTry, SessionRecord

__all__ = ["Doors", "check_account", "save_account"]


class Doors:
    """The part of a store that keeps accounts and sessions; see `riskboard.ledger.store.Store`."""

    _database: Database

    def put_account(self, account: AccountRecord, *, at: datetime) -> AccountRecord:
        """Save an account."""
        check_account(account)
        with self._database.writing() as connection:
            return save_account(connection, account, at)

    def get_account(self, person_id: str) -> AccountRecord | None:
        """Return a person's account."""
        with self._database.reading() as connection:
            return _get_account(connection, schema.account.c.person_id == person_id)

    def find_account(self, login_name: str) -> AccountRecord | None:
        """Return the account of a login name."""
        key = _login_key(login_name)
        if not key:
            return None
        with self._database.reading() as connection:
            return _get_account(connection, schema.account.c.login_key == key)

    def find_account_by_identity(self, issuer: str, subject: str) -> AccountRecord | None:
        """Return the account of an outside identity."""
        if not issuer or not subject:
            return None
        table = schema.account
        with self._database.reading() as connection:
            return _get_account(connection, and_(table.c.issuer == issuer, table.c.subject == subject))

    def list_accounts(self) -> list[AccountRecord]:
        """Return all accounts."""
        with self._database.reading() as connection:
            rows = connection.execute(select(schema.account)).all()
        return sorted((_account(row) for row in rows), key=lambda account: account.person_id)

    def claim_passphrase_attempt(self, person_id: str, *, at: datetime, may_try: MayTry) -> bool:
        """Count an attempt before it is made, if it may be made."""
        table = schema.account
        with self._database.writing() as connection:
            known = _get_account(connection, table.c.person_id == person_id)
            if known is None:
                return True
            if not may_try(known.failures, known.last_failure_at, at):
                return False
            values = {"failures": known.failures + 1, "last_failure_at": utc_text(at)}
            put(connection, table, {"person_id": person_id}, values, exists=True)
        return True

    def clear_passphrase_failures(self, person_id: str) -> None:
        """Set the failures back."""
        values = {"failures": 0, "last_failure_at": None}
        with self._database.writing() as connection:
            put(connection, schema.account, {"person_id": person_id}, values, exists=True)

    def open_session(self, record: SessionRecord) -> None:
        """Keep a new session."""
        with self._database.writing() as connection:
            if _get_session(connection, record.token_hash) is not None:
                raise RefusedError("No session was opened: there is one with the same token; make a new token.")
            values = {
                "person_id": record.person_id,
                "way": record.way,
                "opened_at": utc_text(record.opened_at),
                "seen_at": utc_text(record.seen_at),
                "ended_at": _text(record.ended_at),
            }
            put(connection, schema.session, {"token_hash": record.token_hash}, values, exists=False)

    def get_session(self, token_hash: str) -> SessionRecord | None:
        """Return a session."""
        with self._database.reading() as connection:
            return _get_session(connection, token_hash)

    def touch_session(self, token_hash: str, at: datetime) -> None:
        """Note that the person did something."""
        with self._database.writing() as connection:
            known = _get_session(connection, token_hash)
            # Compared as times: as texts, a whole second would stand after the same second with a fraction.
            if known is None or known.ended_at is not None or at <= known.seen_at:
                return
            put(connection, schema.session, {"token_hash": token_hash}, {"seen_at": utc_text(at)}, exists=True)

    def end_session(self, token_hash: str, at: datetime) -> None:
        """End a session."""
        with self._database.writing() as connection:
            _end(connection, schema.session.c.token_hash == token_hash, at)

    def end_sessions_of(self, person_id: str, at: datetime) -> int:
        """End all sessions of a person."""
        with self._database.writing() as connection:
            return _end(connection, schema.session.c.person_id == person_id, at)


def check_account(account: AccountRecord) -> None:
    """Refuse what no account can be, before anyone has to wait.

    Raises:
        RefusedError: If there is no person, or an issuer without a subject or the other way round.
    """
    if not account.person_id.strip():
        raise RefusedError("The account was not saved: it names no person.")
    if bool(account.issuer) != bool(account.subject):
        raise RefusedError("The account was not saved: an outside identity needs both an issuer and a subject.")


def save_account(connection: Connection, account: AccountRecord, at: datetime) -> AccountRecord:
    """Save an account inside the caller's transaction.

    Raises:
        AccountTakenError: If another person's account has that login name or identity.
    """
    table = schema.account
    _check_not_taken(connection, account)
    known = _get_account(connection, table.c.person_id == account.person_id)
    if known is None or known.passphrase_hash != account.passphrase_hash:
        saved = replace(account, set_at=at, failures=0, last_failure_at=None)
    else:
        saved = replace(account, set_at=known.set_at, failures=known.failures, last_failure_at=known.last_failure_at)
    values = {
        "login_name": saved.login_name,
        "login_key": _login_key(saved.login_name),
        "passphrase_hash": saved.passphrase_hash,
        "issuer": saved.issuer,
        "subject": saved.subject,
        "set_at": utc_text(saved.set_at),
        "failures": saved.failures,
        "last_failure_at": _text(saved.last_failure_at),
        "closed_at": _text(saved.closed_at),
    }
    put(connection, table, {"person_id": saved.person_id}, values, exists=known is not None)
    return saved


def _check_not_taken(connection: Connection, account: AccountRecord) -> None:
    table = schema.account
    key = _login_key(account.login_name)
    same_name = and_(table.c.login_key == key, table.c.login_key != "")
    same_identity = and_(table.c.issuer == account.issuer, table.c.subject == account.subject, table.c.subject != "")
    others = select(table).where(table.c.person_id != account.person_id, or_(same_name, same_identity))
    for row in connection.execute(others):
        what = f"the login name {account.login_name!r}" if key and row.login_key == key else "that outside identity"
        raise AccountTakenError(
            f"The account of {account.person_id} was not saved: {row.person_id} has {what}. Choose another."
        )


def _login_key(login_name: str) -> str:
    """One text for all ways of writing a login name."""
    return unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", login_name).casefold()).strip()


def _get_account(connection: Connection, where: ColumnElement[bool]) -> AccountRecord | None:
    row = connection.execute(select(schema.account).where(where)).one_or_none()
    return None if row is None else _account(row)


def _get_session(connection: Connection, token_hash: str) -> SessionRecord | None:
    row = connection.execute(select(schema.session).where(schema.session.c.token_hash == token_hash)).one_or_none()
    if row is None:
        return None
    return SessionRecord(
        row.token_hash,
        row.person_id,
        row.way,
        parse_utc(row.opened_at),
        parse_utc(row.seen_at),
        _time(row.ended_at),
    )


def _end(connection: Connection, which: ColumnElement[bool], at: datetime) -> int:
    running = and_(which, schema.session.c.ended_at.is_(None))
    return connection.execute(update(schema.session).where(running).values(ended_at=utc_text(at))).rowcount


def _account(row: Row[Any]) -> AccountRecord:
    return AccountRecord(
        row.person_id,
        row.login_name,
        row.passphrase_hash,
        row.issuer,
        row.subject,
        parse_utc(row.set_at),
        row.failures,
        _time(row.last_failure_at),
        _time(row.closed_at),
    )


def _text(moment: datetime | None) -> str | None:
    return None if moment is None else utc_text(moment)


def _time(text: str | None) -> datetime | None:
    return None if text is None else parse_utc(text)
