"""Backing a school's store up, putting a backup in place, and saying what a store holds.

A backup is one SQLite file, whatever the school's store is. It can be read with any SQLite tool, opened by riskboard
itself, and verified against receipts like the store it came from.
"""

import os
import tempfile
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from riskboard.ledger import Finding, Receipt, RefusedError
from riskboard.ledger.copies import copy_into, copy_of_file, counts, state
from riskboard.ledger.engine import URL, Database, read_only
from riskboard.ledger.founding import damage, prepare
from riskboard.ledger.migrations import MIGRATIONS
from riskboard.ledger.sql import SqlStore

__all__ = ["Kept", "StoreInfo", "back_up", "restore", "store_info"]


@dataclass(frozen=True)
class StoreInfo:
    """What a store holds.

    Attributes:
        place: Where it is, without any password.
        is_file: Whether it is a SQLite file; PostgreSQL otherwise.
        version: Version of its schema; `newest` is the one that this program makes.
        newest: See `version`.
        receipt: Of its log as it stands.
        counts: How many drafts, documents, policies, aircraft types, PINs and accounts there are.
    """

    place: str
    is_file: bool
    version: int
    newest: int
    receipt: Receipt
    counts: Mapping[str, int]


@dataclass(frozen=True)
class Kept:
    """A copy that was made and then verified.

    Attributes:
        place: Where it is.
        receipt: Of its log.
        findings: What verifying it found; what was wrong with the original is wrong with its copy.
    """

    place: str
    receipt: Receipt
    findings: tuple[Finding, ...]


def store_info(where: str | Path) -> StoreInfo:
    """Say what a store holds, without changing anything in it.

    Raises:
        RefusedError: If there is no store.
        LedgerError: If it cannot be opened.
    """
    with _opened(where) as database:
        version, receipt = _existing(database)
        return StoreInfo(database.place, database.is_sqlite, version, MIGRATIONS[-1].version, receipt, counts(database))


def back_up(where: str | Path, file: Path, *, now: datetime) -> Kept:
    """Copy a store, which may be in use, as it stands at one moment into a new file, and verify the copy.

    The file holds what the store holds but for the sessions: log, drafts, documents, policies, aircraft types,
    accounts and the hashes of PINs and passphrases. Only its owner may read it.

    Args:
        where: The store.
        file: The new file; its folder must exist.
        now: Now.

    Raises:
        RefusedError: If the file exists, there is no store, or a PostgreSQL store's log is damaged.
        LedgerError: If the store cannot be read or the file cannot be written.
    """
    with _opened(where) as database:
        _, before = _existing(database)

        def fill(part: Path) -> None:
            if database.is_sqlite:
                copy_of_file(database, part)
            else:
                with _opened(part) as target:
                    copy_into(database, target, now=now)

        return _new_file(file, fill, before)


def restore(file: Path, where: str | Path, *, now: datetime, receipt_code: str | None = None) -> Kept:
    """Put a backup into an empty place, brought up to date and verified before the place has it.

    Args:
        file: The backup; it is only read.
        where: Where the store shall be: a file that does not exist yet, or an empty database.
        now: Now.
        receipt_code: A printed receipt to verify the backup against.

    Raises:
        RefusedError: If the place is not empty, there is no backup, or it does not verify; nothing was put in place.
        ReceiptCodeError: If the code was mistyped.
        LedgerError: If the backup is of a newer program, or something cannot be read or written.
    """
    wanted = None if receipt_code is None else Receipt.from_code(receipt_code)
    if not file.is_file():
        raise RefusedError(f"There is no backup {file}; nothing was restored.")
    with _opened(where) as target, _opened(_only_read(file)) as source:
        _check_empty(target)
        if state(source)[0] == 0:
            raise RefusedError(f"There is no store in {file}: it is empty. Nothing was restored.")
        if target.is_sqlite:
            Path(target.place).parent.mkdir(parents=True, exist_ok=True)
            return _new_file(Path(target.place), lambda part: _upgraded(source, part, wanted, now), wanted)
        with tempfile.TemporaryDirectory(prefix="riskboard-restore-") as folder:
            part = Path(folder) / "part.sqlite3"
            _upgraded(source, part, wanted, now)
            with _opened(part) as upgraded:
                copy_into(upgraded, target, now=now)
        _, receipt = _existing(target)
        return Kept(target.place, receipt, tuple(_verify(target, receipt)))


def _upgraded(source: Database, part: Path, wanted: Receipt | None, now: datetime) -> None:
    """A verified copy of a backup, with this program's schema."""
    copy_of_file(source, part)
    with _opened(part) as copy:
        prepare(copy, now=now)
        damaged = damage(_verify(copy, wanted))
    if damaged:
        raise RefusedError(f"Nothing was restored: the backup does not verify: {damaged[0]}")


def _new_file(file: Path, fill: Callable[[Path], None], known: Receipt | None) -> Kept:
    """Make a file that has its name only once it is whole, and verify it."""
    if file.exists():
        raise RefusedError(f"{file} exists already; nothing was written. Name a file that does not exist yet.")
    part = file.with_name(f"{file.name}.part")
    try:
        os.close(os.open(part, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
    except FileExistsError as error:
        raise RefusedError(
            f"{part} exists: another backup is being made, or one was broken off. Delete it if none is running."
        ) from error
    try:
        fill(part)
        with _opened(part) as copy:
            _, receipt = _existing(copy)
            findings = tuple(_verify(copy, known))
        _give_name(part, file)
    finally:
        for leftover in (part, Path(f"{part}-turn"), Path(f"{part}-wal"), Path(f"{part}-shm")):
            leftover.unlink(missing_ok=True)
    return Kept(str(file), receipt, findings)


def _give_name(part: Path, file: Path) -> None:
    """Give the whole file its name on disk, never in the place of another one."""
    with part.open("rb") as whole:
        os.fsync(whole.fileno())
    try:
        os.link(part, file)
    except FileExistsError as error:
        raise RefusedError(f"{file} exists already; nothing was written in its place.") from error
    except OSError:  # a disk without links, as many memory sticks are
        if file.exists():
            raise RefusedError(f"{file} exists already; nothing was written in its place.") from None
        part.rename(file)
    with suppress(OSError, AttributeError):  # not every system can
        folder = os.open(file.parent, os.O_RDONLY | os.O_DIRECTORY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)


def _existing(database: Database) -> tuple[int, Receipt]:
    if database.is_sqlite and not Path(database.place).is_file():
        raise RefusedError(f"There is no store {database.place}.")
    version, receipt = state(database)
    if receipt is None:
        raise RefusedError(f"There is no store in {database.place}: it is empty.")
    return version, receipt


def _check_empty(target: Database) -> None:
    # What a deleted store left beside itself would be read into the new one.
    names = [f"{target.place}{ending}" for ending in ("", "-wal", "-journal")] if target.is_sqlite else []
    found = next((name for name in names if Path(name).exists()), None)
    if not target.is_sqlite and state(target)[0] > 0:
        found = target.place
    if found is not None:
        raise RefusedError(
            f"Nothing was restored: {found} is there already. A backup never goes over something that is there: "
            "name a new file or an empty database, or move the old one away first."
        )


def _verify(database: Database, receipt: Receipt | None) -> list[Finding]:
    return SqlStore(database).verify(receipt)


def _only_read(file: Path) -> Path | URL:
    """The address of a backup, opened without leaving a trace: it may lie where nothing can be written."""
    waiting = Path(f"{file}-wal")
    if waiting.exists() and waiting.stat().st_size:
        return file  # it was in use: what it says stands in two files
    return read_only(file)


@contextmanager
def _opened(where: str | Path | URL) -> Iterator[Database]:
    with closing(Database(where)) as database:
        yield database
