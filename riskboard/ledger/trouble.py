"""Turn what a database driver reports into the errors of this package, by code and never by wording."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import DBAPIError, SQLAlchemyError
from sqlalchemy.exc import TimeoutError as PoolTimeoutError

from riskboard.ledger.errors import (
    CannotOpenError,
    DamagedError,
    DiskFullError,
    LedgerError,
    LockedError,
    LostConnectionError,
    NotALedgerError,
    NotWrittenError,
    ReadOnlyError,
    TurnLostError,
)

__all__ = ["breaks_a_rule", "translated", "translation"]

_SQLITE: dict[int, type[LedgerError]] = {
    sqlite3.SQLITE_FULL: DiskFullError,
    sqlite3.SQLITE_READONLY: ReadOnlyError,
    sqlite3.SQLITE_PERM: ReadOnlyError,
    sqlite3.SQLITE_BUSY: LockedError,
    sqlite3.SQLITE_LOCKED: LockedError,
    sqlite3.SQLITE_CORRUPT: DamagedError,
    sqlite3.SQLITE_NOTADB: NotALedgerError,
    sqlite3.SQLITE_CANTOPEN: CannotOpenError,
}
_PRIMARY_CODE = 0xFF
"""SQLite's extended codes keep the primary code in the low byte."""

_POSTGRES: dict[str, type[LedgerError]] = {
    "53100": DiskFullError,
    "25006": ReadOnlyError,  # read_only_sql_transaction
    "42501": ReadOnlyError,  # insufficient_privilege
    "55P03": LockedError,  # lock_not_available
    "40P01": LockedError,  # deadlock_detected
    "40001": LockedError,  # serialization_failure
    "XX001": DamagedError,
    "XX002": DamagedError,
    "3D000": CannotOpenError,  # invalid_catalog_name
    "28000": CannotOpenError,  # invalid_authorization_specification
    "28P01": CannotOpenError,  # invalid_password
}
_POSTGRES_LOST = ("08", "57P")
"""Classes: connection exception, operator intervention."""


@contextmanager
def translated(place: str) -> Iterator[None]:
    """Raise this package's errors for those of the database inside the block, from SQLAlchemy or from the driver."""
    try:
        yield
    except Exception as error:
        known = translation(error, place)
        if known is None:
            raise
        try:
            raise known from error
        finally:
            del known  # or error and frame would keep each other, and open cursors with them, until the next collection


def translation(error: Exception, place: str) -> LedgerError | None:
    """This package's error for one of the database or of the disk; None for any other."""
    if isinstance(error, PoolTimeoutError):
        return LockedError(place, "all connections are in use")
    if isinstance(error, DBAPIError):
        original = error.orig or error
        return _error_for(original, lost=error.connection_invalidated)(place, _cause(original))
    if isinstance(error, SQLAlchemyError | OSError):
        return NotWrittenError(place, str(error))
    return _error_for(error, lost=False)(place, _cause(error)) if _is_driver_error(error) else None


def breaks_a_rule(error: BaseException) -> bool:
    """Tell whether a database refused a row for what is in it: a number too large, a column's rule, a trigger."""
    # Both drivers derive from exceptions of these names, as their common interface asks.
    names = {each.__name__ for each in type(error).__mro__}
    return not names.isdisjoint({"IntegrityError", "DataError", "OverflowError"})


def _is_driver_error(error: BaseException) -> bool:
    # By what it carries: the PostgreSQL driver may not be installed.
    return isinstance(error, sqlite3.Error) or hasattr(error, "sqlstate")


def _error_for(original: BaseException, *, lost: bool) -> type[LedgerError]:
    if isinstance(original, sqlite3.Error):
        code = getattr(original, "sqlite_errorcode", 0) & _PRIMARY_CODE
        kind = _SQLITE.get(code)
    else:
        state = getattr(original, "sqlstate", None)
        kind = _POSTGRES.get(state) if state else None
        if kind is None and _is_lost(original, state, lost=lost):
            kind = LostConnectionError
    if kind is not None:
        return kind
    return (
        TurnLostError if any(each.__name__ == "IntegrityError" for each in type(original).__mro__) else NotWrittenError
    )


def _is_lost(original: BaseException, state: str | None, *, lost: bool) -> bool:
    if state is not None:
        return state.startswith(_POSTGRES_LOST)
    # Without a state the server never answered: the link itself is gone.
    return lost or type(original).__name__ == "OperationalError"


def _cause(original: BaseException) -> str:
    return " ".join(str(original).split())
