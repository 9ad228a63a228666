"""Many processes that write at once, with every event sent twice by different processes; then the log is judged."""

import multiprocessing
import time
from contextlib import closing
from multiprocessing.synchronize import Barrier
from typing import Any

from riskboard.ledger.sql import open_store
from tests.ledger.made_logs import NOON, intent

__all__ = ["crowd"]

_FORKED = multiprocessing.get_context("forkserver")
_FORKED.set_forkserver_preload([__name__])


def _write(address: str, mine: int, writers: int, each: int, gate: Barrier, told: Any) -> None:
    receipts: list[tuple[str, str]] = []
    longest = 0.0
    with closing(open_store(address, now=NOON, lock_timeout_s=120)) as store:
        gate.wait()
        for number in range(each):
            # My own event, and the one that my neighbour sends about now: a double tap at two desks.
            for writer in (mine, (mine + 1) % writers):
                event = f"event-{writer}-{number}"
                begun = time.perf_counter()
                _, receipt = store.append(intent(1, event_id=event, body={"writer": writer, "number": number}))
                longest = max(longest, time.perf_counter() - begun)
                receipts.append((event, receipt.code))
    told.put((receipts, longest))


def crowd(address: str, *, writers: int, each: int) -> tuple[list[str], float, float]:
    """Let processes write and judge what stands: returns findings in sentences, seconds in all, the longest append."""
    open_store(address, now=NOON).close()
    gate, told = _FORKED.Barrier(writers + 1), _FORKED.Queue()
    processes = [
        _FORKED.Process(target=_write, args=(address, number, writers, each, gate, told)) for number in range(writers)
    ]
    for process in processes:
        process.start()
    gate.wait(timeout=120)
    begun = time.perf_counter()
    answers = [told.get(timeout=600) for _ in processes]
    spent = time.perf_counter() - begun
    for process in processes:
        process.join()
    return _judged(address, answers, writers * each), spent, max(longest for _, longest in answers)


def _judged(address: str, answers: list[Any], expected: int) -> list[str]:
    codes: dict[str, set[str]] = {}
    for receipts, _ in answers:
        for event, code in receipts:
            codes.setdefault(event, set()).add(code)
    findings = [f"{event} has {len(found)} receipts" for event, found in codes.items() if len(found) != 1]
    with closing(open_store(address, now=NOON)) as store:
        findings += [str(finding) for finding in store.verify(store.head())]
        entries = list(store.entries(2))
        events = [entry.header.event_id for entry in entries]
        if sorted(events) != sorted(codes) or len(events) != expected:
            findings.append(f"{len(events)} records stand, {len(codes)} events were told of, {expected} were sent")
        for event, (code, *_) in ((event, tuple(found)) for event, found in codes.items()):
            known = store.find_by_event_id(event)
            if known is None or known[1].code != code:
                findings.append(f"{event} is not on record under the receipt that was told")
    return findings
