"""Connections and turns: how one writer at a time gets the log, on SQLite and on PostgreSQL.

Measured traps that this module is built around: the usual driver default lets several writers read the same head and
fork a chain without any error, so every writer begins with BEGIN IMMEDIATE (SQLite) or a row lock on the log
(PostgreSQL) before it reads. SQLite's own waiting is unfair: with four writers the unluckiest waited for seconds, so
writers first queue at a lock file beside the database. The lock file only makes waiting fair and short; that there
is one chain rests on BEGIN IMMEDIATE and the UNIQUE columns, also for programs that do not know the lock file.
"""

import os
import sqlite3
import sys
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any, Literal, Protocol, TypeVar, cast

from sqlalchemy import Connection, Engine, PoolProxiedConnection, create_engine, event, select
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError, DisconnectionError

from riskboard.ledger import schema
from riskboard.ledger.errors import CannotOpenError, LockedError, ReadOnlyError
from riskboard.ledger.trouble import translated, translation

if sys.platform != "win32":
    import fcntl

__all__ = ["URL", "Database", "Statements", "database_url", "read_only", "stored_rows"]

Made = TypeVar("Made")

_BEGIN = "riskboard_begin"
"""Execution option: the statement that begins a transaction on SQLite; empty for none."""
_SETTINGS = "SELECT set_config('lock_timeout', ?, true), set_config('synchronous_commit', 'on', true)"
"""Until the end of the transaction; whatever the server's defaults say, a commit returns when it is on disk."""
_POLL_S = 0.001
_POOL_SIZE = 8
_USED_AT = "riskboard_used_at"
_IDLE_S = 0.1
"""A connection that was used less than this ago is taken for alive."""


def read_only(file: Path) -> URL:
    """The address of a SQLite file that nobody writes to, opened without leaving a trace beside it."""
    query = {"mode": "ro", "immutable": "1", "uri": "true"}
    return URL.create("sqlite", database=file.resolve().as_uri(), query=query)


def database_url(where: str | Path | URL) -> URL:
    """Return the SQLAlchemy URL of a file name or database address.

    Args:
        where: A path to a SQLite file (made if absent, its folder must exist), or `sqlite:///...` or
            `postgresql://user@host/name`.

    Raises:
        CannotOpenError: If the address is of another kind or names no file.
    """
    if isinstance(where, URL):
        return where
    text = str(where)
    if isinstance(where, Path) or "://" not in text:
        return URL.create("sqlite", database=str(Path(text).expanduser()))
    try:
        url = make_url(text)
    except (ArgumentError, ValueError) as error:
        raise CannotOpenError("the given address", "it cannot be read as a database address") from error
    if url.drivername in {"postgres", "postgresql"}:
        url = url.set(drivername="postgresql+psycopg")
    place = url.render_as_string(hide_password=True)
    if url.drivername not in {"sqlite", "postgresql+psycopg"}:
        raise CannotOpenError(place, "only sqlite:/// and postgresql:// are known")
    if url.drivername == "sqlite" and url.database in {None, "", ":memory:"}:
        raise CannotOpenError(place, "a log in memory would be gone with the program; name a file")
    return url


class _Turn(Protocol):
    def acquire(self) -> None: ...
    def release(self) -> None: ...
    def close(self) -> None: ...


class _NoTurn:
    """PostgreSQL queues its row locks fairly by itself."""

    def acquire(self) -> None:
        """Do nothing."""

    def release(self) -> None:
        """Do nothing."""

    def close(self) -> None:
        """Do nothing."""


class _FileTurn:
    """A fair queue in front of SQLite: threads of this process first, then processes at a lock file."""

    def __init__(self, path: Path, place: str, timeout_s: float) -> None:
        self._path = path
        self._place = place
        self._timeout_s = timeout_s
        self._threads = threading.Lock()
        self._file: int | None = None

    def acquire(self) -> None:
        """Wait for the turn.

        Raises:
            LockedError: If it does not come in time.
            ReadOnlyError: If the lock file cannot be made.
        """
        deadline = time.monotonic() + self._timeout_s
        if not self._threads.acquire(timeout=self._timeout_s):
            raise LockedError(self._place)
        try:
            self._acquire_file(deadline)
        except BaseException:
            self._threads.release()
            raise

    def release(self) -> None:
        """Let the next one in."""
        try:
            if self._file is not None and sys.platform != "win32":
                fcntl.flock(self._file, fcntl.LOCK_UN)
        finally:
            self._threads.release()

    def close(self) -> None:
        """Close the lock file, once nobody of this process has the turn."""
        with self._threads:
            held, self._file = self._file, None
            if held is not None:
                os.close(held)

    def _acquire_file(self, deadline: float) -> None:
        if sys.platform == "win32":
            return
        if self._file is None:
            self._file = self._open()
        while True:
            try:
                fcntl.flock(self._file, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except BlockingIOError:
                if time.monotonic() >= deadline:
                    raise LockedError(self._place) from None
                # Short and always equal: a pause that grows starves whoever has waited longest.
                time.sleep(_POLL_S)
            else:
                return

    def _open(self) -> int:
        try:
            return os.open(self._path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o666)
        except PermissionError as error:
            raise ReadOnlyError(self._place, str(error)) from error
        except FileNotFoundError as error:
            raise CannotOpenError(self._place, "its folder does not exist") from error


class Statements:
    """Statements straight at the driver: for those that run so often that building them anew would be what costs.

    Each has a question mark for each value. What the driver raises is put right by `translated`.
    """

    __slots__ = ("_driver", "is_sqlite")

    def __init__(self, driver: Any, *, is_sqlite: bool) -> None:
        self._driver = driver
        self.is_sqlite = is_sqlite

    @classmethod
    def of(cls, connection: Connection) -> "Statements":
        """Those that run inside a connection's transaction."""
        return cls(connection.connection.driver_connection, is_sqlite=connection.dialect.name == "sqlite")

    def run(self, statement: str, values: Sequence[object] = ()) -> Any:
        """Run one statement and return the driver's cursor."""
        if self.is_sqlite:
            return self._driver.execute(statement, values)
        return self._driver.execute(statement.replace("?", "%s"), values, binary=True)


class Database:
    """One database, with one transaction at a time for writers.

    Args:
        where: See `database_url`.
        lock_timeout_s: How long a writer waits for its turn before it gives up with LockedError.
    """

    def __init__(self, where: str | Path | URL, *, lock_timeout_s: float = 10.0) -> None:
        url = database_url(where)
        self.is_sqlite = url.get_backend_name() == "sqlite"
        self.place = str(url.database) if self.is_sqlite else url.render_as_string(hide_password=True)
        self.lock_timeout_s = lock_timeout_s
        if self.is_sqlite:
            self.engine = _sqlite_engine(url, lock_timeout_s)
            file = str(url.database).removeprefix("file:")
            self._turn: _Turn = _FileTurn(Path(f"{file}-turn"), self.place, lock_timeout_s)
        else:
            self.engine = _postgres_engine(url, self.place, "READ COMMITTED")
            # Telling a connection at each append that the statement is all of it would cost two steps in the driver.
            self._by_itself = _postgres_engine(url, self.place, "AUTOCOMMIT")
            self._turn = _NoTurn()
        self._appender = _Appender(self.engine)
        self._writer = self.engine.execution_options(**{_BEGIN: "BEGIN IMMEDIATE"})

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """One short transaction that only reads."""
        with translated(self.place), self.engine.connect() as connection:
            yield connection

    @contextmanager
    def snapshot(self) -> Iterator[Connection]:
        """One longer transaction that only reads, and sees the database as it stands at its first statement."""
        with translated(self.place), self.engine.connect() as connection:
            if not self.is_sqlite:
                connection = connection.execution_options(isolation_level="REPEATABLE READ")  # noqa: PLW2901 - same one
            yield connection

    @contextmanager
    def writing(self, *, log_exists: bool = True) -> Iterator[Connection]:
        """One transaction that holds the log for itself; durable when the block is left without an error."""
        with translated(self.place), self._turn_taken(), self._writer.begin() as connection:
            if not self.is_sqlite:
                Statements.of(connection).run(_SETTINGS, (str(int(self.lock_timeout_s * 1000)),))
                if log_exists:
                    connection.execute(select(schema.log.c.id).with_for_update())
            yield connection

    def in_one_append(self, work: Callable[[Statements], Made]) -> Made:
        """Do one append and nothing else, as one transaction; durable when this returns.

        At a server the append is one statement, and that statement is the whole transaction. No context managers here:
        right after a commit each call costs twice what it does in a warm loop.
        """
        try:
            self._turn.acquire()
            try:
                if self.is_sqlite:
                    return self._appender.transaction(work)
                return _statement_at_server(self._by_itself, work)
            finally:
                self._turn.release()
        except Exception as error:
            known = translation(error, self.place)
            if known is None:
                raise
            try:
                raise known from error
            finally:
                del (
                    known
                )  # or error and frame would keep each other, and open cursors with them, until the next collection

    @contextmanager
    def alone(self) -> Iterator[Connection]:
        """A connection outside any transaction, with the turn taken: for VACUUM and settings of the file."""
        options: dict[str, Any] = {_BEGIN: ""} if self.is_sqlite else {"isolation_level": "AUTOCOMMIT"}
        with translated(self.place), self._turn_taken(), self.engine.connect() as connection:
            bare = connection.execution_options(**options)
            if self.is_sqlite:
                yield bare
                return
            # A reader may hold a table for long: whoever rebuilds it must not wait for ever, nor make others wait.
            bare.exec_driver_sql(f"SET lock_timeout = {int(self.lock_timeout_s * 1000)}")
            try:
                yield bare
            finally:
                bare.exec_driver_sql("RESET lock_timeout")

    def close(self) -> None:
        """Close all connections."""
        self._appender.close()
        self._turn.close()
        self.engine.dispose()
        if not self.is_sqlite:
            self._by_itself.dispose()

    @contextmanager
    def _turn_taken(self) -> Iterator[None]:
        self._turn.acquire()
        try:
            yield
        finally:
            self._turn.release()


def stored_rows(connection: Connection, query: str) -> Iterator[tuple[Any, ...]]:
    """Yield the rows of a query without parameters, straight from the driver and few at a time.

    For reading a whole log: a row object for each record would cost more than hashing it.
    """
    if not connection.in_transaction():
        connection.begin()
    driver: Any = connection.connection.driver_connection
    # On PostgreSQL a cursor with a name stays at the server: the log is never in memory as a whole.
    is_sqlite = connection.dialect.name == "sqlite"
    cursor = driver.cursor() if is_sqlite else driver.cursor("stored_rows", binary=True)
    cursor.execute(query)
    yield from cursor
    cursor.close()


class _Appender:
    """The one connection that SQLite appends go over, used by whoever has the turn.

    Taking one from the pool each time cost a seventh of an append.
    """

    def __init__(self, engine: Engine) -> None:
        self._engine = engine
        self._driver: sqlite3.Connection | None = None
        self._closing = threading.Lock()

    def transaction(self, work: Callable[[Statements], Made]) -> Made:
        """Do the work in one transaction; after an error the connection is not used again."""
        statements = Statements(self._driver or self._new(), is_sqlite=True)
        try:
            statements.run("BEGIN IMMEDIATE")
            made = work(statements)
            statements.run("COMMIT")
        except BaseException:
            # Some errors have ended the transaction already; whatever is left of it ends with the connection.
            with suppress(sqlite3.Error):
                statements.run("ROLLBACK")
            self.close()
            raise
        return made

    def close(self) -> None:
        """Let go of the connection; the next transaction takes a new one."""
        with self._closing:
            driver, self._driver = self._driver, None
        if driver is not None:
            driver.close()

    def _new(self) -> sqlite3.Connection:
        pooled = self._engine.raw_connection()
        driver = cast("sqlite3.Connection", pooled.driver_connection)
        pooled.detach()
        self._driver = driver
        return driver


def _statement_at_server(engine: Engine, work: Callable[[Statements], Made]) -> Made:
    """Do the work in one statement; once more where the connection turned out to be gone.

    Whether the first try reached the record cannot be known then. The second one finds it by its event if it did.
    """
    pooled = engine.raw_connection()
    try:
        return _by_itself(pooled, work)
    except Exception:
        if pooled.is_valid:
            raise
    finally:
        pooled.close()
    pooled = engine.raw_connection()
    try:
        return _by_itself(pooled, work)
    finally:
        pooled.close()


def _by_itself(pooled: PoolProxiedConnection, work: Callable[[Statements], Made]) -> Made:
    driver: Any = pooled.driver_connection
    try:
        return work(Statements(driver, is_sqlite=False))
    finally:
        if driver.closed:
            pooled.invalidate()


def _sqlite_engine(url: URL, lock_timeout_s: float) -> Engine:
    engine = create_engine(url, pool_size=_POOL_SIZE, connect_args={"timeout": lock_timeout_s})

    @event.listens_for(engine, "connect")
    def set_up(driver: Any, _record: Any) -> None:
        # The driver must not begin transactions by itself: it would begin them without the write lock.
        driver.isolation_level = None
        cursor = driver.cursor()
        cursor.execute(f"PRAGMA busy_timeout = {int(lock_timeout_s * 1000)}")
        cursor.execute("PRAGMA synchronous = FULL")
        cursor.execute("PRAGMA foreign_keys = ON")
        cursor.execute("PRAGMA secure_delete = ON")
        cursor.execute("PRAGMA recursive_triggers = ON")
        cursor.close()

    @event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        statement = connection.get_execution_options().get(_BEGIN, "BEGIN")
        if statement:
            Statements.of(connection).run(statement)

    return engine


def _postgres_engine(url: URL, place: str, isolation_level: Literal["READ COMMITTED", "AUTOCOMMIT"]) -> Engine:
    """Connections to a server. Each statement must see what was committed while it waited for its turn."""
    try:
        engine = create_engine(
            url,
            pool_size=_POOL_SIZE,
            isolation_level=isolation_level,
            pool_reset_on_return=None if isolation_level == "AUTOCOMMIT" else "rollback",
        )
    except ModuleNotFoundError as error:
        raise CannotOpenError(
            place, "the PostgreSQL driver is not installed: pip install 'riskboard[postgres]'"
        ) from error

    @event.listens_for(engine, "checkin")
    def note_use(_driver: Any, record: Any) -> None:
        record.info[_USED_AT] = time.monotonic()

    @event.listens_for(engine, "checkout")
    def ask_if_idle(driver: Any, record: Any, _proxy: Any) -> None:
        # A server that went away while nobody asked it anything: the pool then takes another connection. Asking before
        # each use would cost every append a trip over the network.
        used_at = record.info.get(_USED_AT)
        if used_at is None or time.monotonic() - used_at < _IDLE_S:
            return
        try:
            driver.execute("")
            driver.rollback()
        except Exception as error:
            raise DisconnectionError from error

    @event.listens_for(engine, "connect")
    def set_up(driver: Any, _record: Any) -> None:
        # For statements that are a transaction of their own and begin with the server's defaults.
        driver.execute("SET default_transaction_isolation = 'read committed'")
        driver.commit()

    return engine
