"""Processes that sign and are killed with SIGKILL at random points; then the store and the log are judged.

Two trials. `signings`: each process opens the school, fills a worksheet in and signs by the job that the app calls;
it is killed somewhere between the tap and the answer. `streams`: each process puts records with documents on record
one after the other, as fast as it can, so that nearly every kill hits the store itself.
"""

import multiprocessing
import random
import statistics
import time
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass, field
from datetime import datetime
from multiprocessing.connection import Connection
from typing import Any

from riskboard import demo, jobs
from riskboard.ledger.sql import open_store
from riskboard.ledger.store import DocumentChange
from riskboard.shipped import shipped
from riskboard.worksheet.file import read_worksheet_file
from riskboard.worksheet.model import PARTS
from riskboard.worksheet.write import worksheet_data
from tests.jobs.school_day import PILOT, staff
from tests.ledger.made_logs import NOON, intent

__all__ = ["Outcome", "fill_school", "signings", "streams"]

_FORKED = multiprocessing.get_context("forkserver")
_FORKED.set_forkserver_preload(["tests.ledger.warmed"])
_REHEARSED_EVERY = 25


@dataclass
class Outcome:
    """What came of a trial.

    Attributes:
        kills: How many processes were killed.
        told: Event ids and receipt codes that a caller was told of before the kill.
        late: How many records stand that nobody was told of: durable, but killed before the answer.
        early: How many processes were killed before their record stood.
        findings: What is not as it should be, in sentences.
    """

    kills: int = 0
    told: dict[str, str] = field(default_factory=dict)
    late: int = 0
    early: int = 0
    findings: list[str] = field(default_factory=list)

    def __str__(self) -> str:
        return (
            f"{self.kills} killed: {len(self.told)} records told of, {self.late} durable but not told of, "
            f"{self.early} killed before anything stood, {len(self.findings)} findings"
        )


def calm_morning() -> tuple[dict[str, Any], datetime]:
    """The entries of a flight that may go, and the moment of decision."""
    sheet, at = read_worksheet_file(shipped("weather_samples") / "calm_morning.yaml")
    assert at is not None
    return worksheet_data(sheet), at


def fill_school(address: str) -> None:
    """The invented school, everybody in their role."""
    _, at = calm_morning()
    office = jobs.open_office(address, now=at)
    jobs.load_demo_school(office, now=at)
    staff(office, at)
    office.store.close()


def _sign(address: str, number: int, answer: Connection) -> None:
    data, at = calm_morning()
    office = jobs.open_office(address, now=at)
    flight = f"flight-{number}"
    jobs.begin_draft(office, flight, jobs.Start(pilot_id=PILOT), at=at)
    for part in PARTS:
        jobs.save_entries(office, flight, part, data[part], at=at)
    shown = jobs.brief(office, flight, at=at)
    # A tap that was killed while its PIN was being checked counts as a wrong one, and too many make people wait.
    office.store.clear_pin_failures(PILOT)
    signature = jobs.Signature(PILOT, demo.DEMO_PIN, f"event-{number}", at, shown.digest)
    answer.send("ready")
    signed = jobs.accept(office, flight, signature, at=at)
    answer.send((f"event-{number}", signed.receipt.code))


def _stream(address: str, number: int, answer: Connection) -> None:
    store = open_store(address, now=NOON, lock_timeout_s=60)
    answer.send("ready")
    for count in range(1, 100_000):
        event = f"stream-{number}-{count}"
        counted = DocumentChange("count", str(number), str(count), revision=count - 1)
        _, receipt = store.append(intent(1, event_id=event, subject=f"stream {number}"), documents=[counted])
        answer.send((event, receipt.code))


def _one(target: Callable[[str, int, Connection], None], address: str, number: int, wait_s: float | None) -> Any:
    """Run one process and kill it so many seconds after it was ready; return what it told and how long it took."""
    mine, its = _FORKED.Pipe()
    process = _FORKED.Process(target=target, args=(address, number, its))
    process.start()
    its.close()
    told: list[tuple[str, str]] = []
    begun = 0.0
    try:
        assert mine.recv() == "ready"
        begun = time.perf_counter()
        if wait_s is not None:
            time.sleep(wait_s)
            process.kill()
        while True:
            told.append(mine.recv())
    except EOFError:
        pass
    spent = time.perf_counter() - begun
    process.join()
    assert begun, "the process died by itself before it was ready"
    assert process.exitcode == (0 if wait_s is None else process.exitcode)
    return told, spent


def signings(address: str, kills: int, chance: random.Random, *, rehearsals: int = 3) -> Outcome:
    """Kill so many signings in the middle; the school must have been filled before."""
    done = Outcome()
    for number in range(kills):
        if number % _REHEARSED_EVERY == 0:  # how long a signing takes changes with what else the machine does
            first = -1 - number * rehearsals
            usual = statistics.median(_one(_sign, address, first - turn, None)[1] for turn in range(rehearsals))
        told, _ = _one(_sign, address, number, chance.uniform(0, 1.4 * usual))
        done.kills += 1
        done.told.update(told)
    _, at = calm_morning()
    with closing(jobs.open_office(address, now=at).store) as store:
        office = jobs.Office(store)
        found = {entry.header.event_id: entry for entry in store.entries(kinds=["accepted"])}
        stood = [f"event-{number}" for number in range(kills) if f"event-{number}" in found]
        done.findings += [f"{event} was told of and is not there" for event in done.told.keys() - found.keys()]
        done.findings += [str(finding) for code in _codes(done) for finding in jobs.verify_log(office, code)]
        done.findings += [f"{event} has no body" for event in stood if found[event].body is None]
        _check_receipts(done, store)
        # The app still works there: the next flight is signed.
    told, _ = _one(_sign, address, kills, None)
    done.findings += [] if len(told) == 1 else ["the next flight could not be signed"]
    done.late = len(set(stood) - done.told.keys())
    done.early = kills - len(stood)
    return done


def _codes(done: Outcome) -> list[str]:
    """A few of the receipts, the last one among them: each stands for every record before it."""
    codes = list(done.told.values())
    return codes[:: max(1, len(codes) // 3)] + codes[-1:]


def _check_receipts(done: Outcome, store: Any) -> None:
    for event, code in done.told.items():
        known = store.find_by_event_id(event)
        if known is None or known[1].code != code:
            done.findings.append(f"{event} is not on record under the receipt that was told")


def streams(address: str, kills: int, chance: random.Random) -> Outcome:
    """Kill so many writers of records with documents, each in the midst of its stream."""
    open_store(address, now=NOON).close()
    done = Outcome()
    streams_told: dict[int, int] = {}
    for number in range(kills):
        told, _ = _one(_stream, address, number, chance.uniform(0, 0.25))
        done.kills += 1
        done.told.update(told)
        streams_told[number] = len(told)
    time.sleep(1)  # a server may still finish what a killed client had sent
    with closing(open_store(address, now=NOON)) as store:
        done.findings += [str(finding) for finding in store.verify(store.head())]
        _check_receipts(done, store)
        for number, told_count in streams_told.items():
            entries = list(store.entries(subject=f"stream {number}"))
            counted = store.get_document("count", str(number))
            shown = (0, 0) if counted is None else (int(counted.text), counted.revision)
            if shown != (len(entries), len(entries)) or not 0 <= len(entries) - told_count <= 1:
                done.findings.append(f"stream {number}: {len(entries)} records, {told_count} told, document {shown}")
            done.findings += [f"record {entry.seq} has no body" for entry in entries if entry.body is None]
            done.late += len(entries) - told_count
            done.early += not entries
    return done
