"""Turn what a database driver reports into the errors of this package, by code and never by wording."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import DBAPIError, IntegrityError, SQLAlchemyError
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

__all__ = ["translated"]

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
    """Raise this package's errors for those of the database inside the block."""
    try:
        yield
    except PoolTimeoutError as error:
        raise LockedError(place, "all connections are in use") from error
    except DBAPIError as error:
        raise _error_for(error)(place, _cause(error)) from error
    except SQLAlchemyError as error:
        raise NotWrittenError(place, str(error)) from error
    except OSError as error:
        raise NotWrittenError(place, str(error)) from error


def _error_for(error: DBAPIError) -> type[LedgerError]:
    original = error.orig
    if isinstance(original, sqlite3.Error):
        code = getattr(original, "sqlite_errorcode", 0) & _PRIMARY_CODE
        kind = _SQLITE.get(code)
    else:
        state = getattr(original, "sqlstate", None)
        kind = _POSTGRES.get(state) if state else None
        if kind is None and _is_lost(error, state):
            kind = LostConnectionError
    if kind is not None:
        return kind
    return TurnLostError if isinstance(error, IntegrityError) else NotWrittenError


def _is_lost(error: DBAPIError, state: str | None) -> bool:
    if state is not None:
        return state.startswith(_POSTGRES_LOST)
    # Without a state the server never answered: the link itself is gone.
    return error.connection_invalidated or type(error.orig).__name__ == "OperationalError"


def _cause(error: DBAPIError) -> str:
    return " ".join(str(error.orig).split())
