"""Several processes write at once, and some are killed in the middle."""

import signal
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from riskboard.ledger.sql import SqlStore
from tests.ledger.conftest import Opener
from tests.ledger.made_logs import intent

ROOT = Path(__file__).parents[2]
WRITERS = 4
ENTRIES = 40


def start(where: str, name: str, count: int, *options: str) -> "subprocess.Popen[str]":
    command = [sys.executable, "-m", "tests.ledger.writer_process", where, name, str(count), *options]
    return subprocess.Popen(command, cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)


def start_all(where: str, count: int, *options: str) -> "list[subprocess.Popen[str]]":
    """Start the writers on a store that none of them finds made, and let them go at the same moment."""
    writers = [start(where, f"writer{number}", count, *options) for number in range(WRITERS)]
    for writer in writers:
        assert writer.stdout is not None
        assert writer.stdout.readline() == "ready\n"
    for writer in writers:
        assert writer.stdin is not None
        writer.stdin.write("go\n")
        writer.stdin.flush()
    return writers


def finish(writer: "subprocess.Popen[str]") -> list[str]:
    """Return the lines that are left; the last one may have broken off and is then left out.

    Through the same reader as the lines before: `communicate` would pass over what that reader holds already.
    """
    assert writer.stdout is not None
    assert writer.stdin is not None
    lines = writer.stdout.read().splitlines(keepends=True)
    writer.wait(timeout=60)
    writer.stdin.close()
    writer.stdout.close()
    return [line.strip() for line in lines if line.endswith("\n")]


def assert_one_chain(store: SqlStore) -> list[str]:
    assert store.verify(store.head()) == []
    entries = list(store.entries())
    assert [entry.header.seq for entry in entries] == list(range(1, len(entries) + 1))
    return [entry.header.event_id for entry in entries[1:]]


@pytest.mark.parametrize("options", [[], ["unqueued"]], ids=["queued", "unqueued"])
def test_four_writers_make_one_chain_and_lose_nothing(where: str, opener: Opener, options: list[str]) -> None:
    acknowledged: list[str] = []
    for writer in start_all(where, ENTRIES, *options):
        lines = finish(writer)
        assert writer.returncode == 0
        assert lines[-1].startswith("longest ")
        acknowledged += lines[:-1]
    events = assert_one_chain(opener(where))
    assert sorted(events) == sorted(acknowledged)
    assert len(events) == WRITERS * ENTRIES


def test_writers_that_are_killed_lose_nothing_that_was_acknowledged(where: str, opener: Opener) -> None:
    writers = start_all(where, 100_000)
    acknowledged: list[str] = []
    for writer in writers:
        assert writer.stdout is not None
        acknowledged += [writer.stdout.readline().strip() for _ in range(10)]
    for writer in writers:
        writer.send_signal(signal.SIGKILL)
    for writer in writers:
        acknowledged += finish(writer)
        assert writer.returncode == -signal.SIGKILL
    store = opener(where)
    events = assert_one_chain(store)
    assert set(acknowledged) <= set(events)
    # At most the one entry each that was durable but not acknowledged yet.
    assert len(set(events) - set(acknowledged)) <= WRITERS
    store.append(intent(2))
    assert_one_chain(store)


@pytest.mark.parametrize("taps", [8])
def test_the_same_event_from_many_threads_is_one_entry(store: SqlStore, taps: int) -> None:
    receipts: list[str] = []
    gate = threading.Barrier(taps)

    def tap() -> None:
        gate.wait()
        receipts.append(store.append(intent(1))[1].code)

    threads = [threading.Thread(target=tap) for _ in range(taps)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(receipts) == taps
    assert len(set(receipts)) == 1
    assert store.head().size == 2
