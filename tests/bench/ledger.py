"""The log: verifying beside hashing, appending beside a bare loop, several writers at once; on both databases.

Files lie where temporary files lie: a commit costs what it costs on that disk. Every rival stores or hashes the same
bytes as the log does.
"""

import hashlib
import json
import multiprocessing
import secrets
import sqlite3
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager
from datetime import timedelta
from itertools import islice
from multiprocessing.synchronize import Barrier
from pathlib import Path
from typing import Any

from riskboard.ledger.appending import insert
from riskboard.ledger.engine import Statements, stored_rows
from riskboard.ledger.entry import SALT_BYTES, Entry, Intent, seal
from riskboard.ledger.sql import SqlStore, open_store
from tests.bench.timing import Row
from tests.ledger.made_logs import NOON, intent
from tests.ledger.postgres_schema import POSTGRES, fresh_schema, given_server

__all__ = ["rows"]

RECORDS = 100_000
ROUNDS = 15
APPENDS = 60
"""Of each side in each round: few, so that both sides meet the same state of the disk."""
WRITERS = 4
CLIENTS = 8
EACH = 150
_PATIENCE_S = 300.0
"""A process that died must not keep the others waiting for ever."""
_STORED = (
    "SELECT entry.seq, digest, header, salt, content FROM entry JOIN entry_body ON entry_body.seq = entry.seq "
    "ORDER BY entry.seq"
)


def rows(*, records: int = RECORDS) -> list[Row]:
    """Measure everything; what needs PostgreSQL only where a server is given."""
    with tempfile.TemporaryDirectory(prefix="riskboard-bench-") as folder:
        place = Path(folder)
        found = [
            _verification(place / "long.sqlite3", 4096, records, bound=4.0),
            _verification(place / "short.sqlite3", 1024, records, bound=None),
            _appends_beside_a_bare_loop(place),
            _longest_wait(str(place / "writers.sqlite3"), "SQLite"),
        ]
    server = given_server()
    if server is None:
        sys.stderr.write(f"No PostgreSQL server given ({POSTGRES}): its rows are left out.\n")
        return found
    with fresh_schema(server) as address:
        found += _at_a_server(address)
    return found


def body_of(size: int) -> dict[str, Any]:
    """A body of about so many bytes, made like one of a briefing: many small entries."""
    one = {"value": 12.5, "as_of": "2026-03-01T12:00:00Z", "why": secrets.token_hex(8)}
    return {f"entry_{number:03}": one for number in range(max(1, round(size / 98)))}


def intents(name: str, count: int, size: int) -> list[Intent]:
    """What is going to be appended, made before the clock runs."""
    body = body_of(size)
    return [intent(1, event_id=f"{name}-{number}", body=body) for number in range(count)]


def _verification(file: Path, size: int, records: int, *, bound: float | None) -> Row:
    with closing(_long_log(file, size, records)) as store:
        own, rival = [], []
        for _ in range(3):
            begun = time.perf_counter()
            findings = store.verify()
            own.append(time.perf_counter() - begun)
            assert findings == []
            rival.append(_hashing(store, records))
    what = f"verify {records:,} records of {size:,} bytes (SQLite)"
    return Row(what, statistics.median(own), "hashlib on the same bytes", statistics.median(rival), bound)


def _long_log(file: Path, size: int, records: int) -> SqlStore:
    store = open_store(file, now=NOON)
    (before,) = store.entries()
    body = body_of(size)
    with store._database.writing() as connection:
        statements = Statements.of(connection)
        for number in range(1, records):
            made = intent(1, event_id=f"event-{number}", at=NOON + timedelta(seconds=number), body=body)
            before = _sealed(made, before)
            insert(statements, before)
    return store


def _sealed(made: Intent, before: Entry) -> Entry:
    salt = secrets.token_bytes(SALT_BYTES)
    return seal(made, origin=before.header.origin, seq=before.seq + 1, prev=before.digest, salt=salt)


def _hashing(store: SqlStore, records: int) -> float:
    """Seconds for the two hashes of each record, its bytes being in memory already."""
    spent, count = 0.0, 0
    with store._database.snapshot() as connection:
        stored = stored_rows(connection, _STORED)
        while part := list(islice(stored, 1000)):
            begun = time.perf_counter()
            for _, digest, header, salt, content in part:
                same = hashlib.sha256(b"riskboard-log/1 header\n" + header).hexdigest() == digest
                hashlib.sha256(b"riskboard-log/1 body\n" + salt + content).hexdigest()
                count += same
            spent += time.perf_counter() - begun
    assert count == records
    return spent


def _appends_beside_a_bare_loop(place: Path) -> Row:
    with closing(open_store(place / "own.sqlite3", now=NOON)) as store, _bare(place / "bare.sqlite3") as bare:

        def own(made: Sequence[Intent]) -> None:
            for each in made:
                store.append(each)

        spent = _alternated(own, bare, 4096)
        assert store.head().size == 1 + APPENDS * (ROUNDS + 1)
    what = "one durable chained append of 4 KB (SQLite)"
    return Row(what, spent[0], "bare sqlite3 loop, same settings", spent[1], 1 / 0.8)


def _alternated(
    own: Callable[[Sequence[Intent]], None], rival: Callable[[Sequence[Intent]], None], size: int
) -> tuple[float, float]:
    """Median seconds of one append of each side, in turn and with fresh records."""
    spent: tuple[list[float], list[float]] = ([], [])
    for number in range(ROUNDS + 1):
        for side, times in zip((own, rival), spent, strict=True):
            made = intents(f"round-{number}", APPENDS, size)
            begun = time.perf_counter()
            side(made)
            if number:  # the first round warms up
                times.append((time.perf_counter() - begun) / APPENDS)
    return statistics.median(spent[0]), statistics.median(spent[1])


def _plain_row(made: Intent) -> tuple[str, bytes, bytes]:
    """What a plain program would store for a record: a header and a body as JSON, without hash, link or salt."""
    header = {
        "at": made.at.isoformat(),
        "actor": made.actor,
        "role": made.role,
        "kind": made.kind,
        "subject": made.subject,
        "event_id": made.event_id,
        "link": "0" * 64,
        "body": "0" * 64,
    }
    return made.event_id, json.dumps(header).encode(), json.dumps(made.body, sort_keys=True).encode()


@contextmanager
def _bare(file: Path) -> Iterator[Callable[[Sequence[Intent]], None]]:
    with closing(sqlite3.connect(file, isolation_level=None)) as bare:
        for setting in ("journal_mode = WAL", "synchronous = FULL", "secure_delete = ON", "foreign_keys = ON"):
            bare.execute(f"PRAGMA {setting}")
        bare.execute(
            "CREATE TABLE e (seq INTEGER PRIMARY KEY, prev TEXT UNIQUE, digest TEXT UNIQUE, event_id TEXT UNIQUE, "
            "kind TEXT, subject TEXT, header BLOB)"
        )
        bare.execute("CREATE INDEX e_subject ON e (subject, seq)")
        bare.execute("CREATE INDEX e_kind ON e (kind, seq)")
        bare.execute("CREATE TABLE b (seq INTEGER PRIMARY KEY, salt BLOB, content BLOB)")

        def loop(made: Sequence[Intent]) -> None:
            for each in made:
                event_id, header, content = _plain_row(each)
                some = secrets.token_hex(32), secrets.token_hex(32)
                bare.execute("BEGIN IMMEDIATE")
                done = bare.execute(
                    "INSERT INTO e VALUES (NULL, ?, ?, ?, ?, ?, ?)", (*some, event_id, each.kind, each.subject, header)
                )
                bare.execute("INSERT INTO b VALUES (?, ?, ?)", (done.lastrowid, secrets.token_bytes(32), content))
                bare.execute("COMMIT")

        yield loop


def _writer(address: str, name: str, gate: Barrier, told: Any) -> None:
    with closing(open_store(address, now=NOON, lock_timeout_s=60)) as store:
        store.append(intent(1, event_id=f"{name}-first"))
        made = intents(name, EACH, 4096)
        longest = 0.0
        gate.wait(_PATIENCE_S)
        for each in made:
            begun = time.perf_counter()
            store.append(each)
            longest = max(longest, time.perf_counter() - begun)
        gate.wait(_PATIENCE_S)
        told.put(longest)


def _together(address: str, writers: int) -> tuple[float, float]:
    """Seconds for each append of several processes at once, and the longest that one of them took."""
    spawning = multiprocessing.get_context("spawn")
    gate, told = spawning.Barrier(writers + 1), spawning.Queue()
    name = secrets.token_hex(4)
    processes = [
        spawning.Process(target=_writer, args=(address, f"{name}-{number}", gate, told)) for number in range(writers)
    ]
    for process in processes:
        process.start()
    gate.wait(_PATIENCE_S)
    begun = time.perf_counter()
    gate.wait(_PATIENCE_S)
    spent = time.perf_counter() - begun
    longest = max(told.get(timeout=_PATIENCE_S) for _ in processes)
    for process in processes:
        process.join()
    return spent / (writers * EACH), longest


def _longest_wait(address: str, database: str) -> Row:
    open_store(address, now=NOON).close()
    _, longest = _together(address, WRITERS)
    what = f"longest of {WRITERS * EACH} appends by {WRITERS} writers at once ({database})"
    return Row(what, longest, "one second", 1.0, 1.0)


def _at_a_server(address: str) -> list[Row]:
    with closing(open_store(address, now=NOON)) as store, _plain(address) as plain:

        def own(made: Sequence[Intent]) -> None:
            for each in made:
                store.append(each)

        chained, committed = _alternated(own, plain, 4096)
    single, together = [], []
    for _ in range(3):
        single.append(_together(address, 1)[0])
        together.append(_together(address, CLIENTS)[0])
    return [
        Row("one durable chained append of 4 KB (PostgreSQL)", chained, "plain durable commit", committed, 1 / 0.6),
        Row(
            f"one of {CLIENTS} clients' chained appends together (PostgreSQL)",
            statistics.median(together),
            "one client's chained append",
            statistics.median(single),
            1 / 0.9,
        ),
        _longest_wait(address, "PostgreSQL"),
    ]


@contextmanager
def _plain(address: str) -> Iterator[Callable[[Sequence[Intent]], None]]:
    import psycopg  # noqa: PLC0415 - may not be installed where no server is given

    with psycopg.connect(address, autocommit=True) as server:
        server.execute("SET synchronous_commit = on")
        server.execute("CREATE TABLE plain (event_id TEXT PRIMARY KEY, header BYTEA, content BYTEA)")

        def loop(made: Sequence[Intent]) -> None:
            for each in made:
                server.execute("INSERT INTO plain VALUES (%s, %s, %s)", _plain_row(each))

        yield loop
