"""The long trials of the log with small numbers; `python -m tests.ledger.long_run` has the large ones."""

# ruff: noqa: S311 - trials are to be repeated, not secret

import random
from pathlib import Path

import pytest

from tests.ledger.crowd import crowd
from tests.ledger.killed import fill_school, signings, streams
from tests.ledger.tampered import HANDS, tamper_at_random


def test_signings_that_are_killed(where: str) -> None:
    fill_school(where)
    done = signings(where, 2, random.Random(1), rehearsals=1)
    assert done.findings == []
    assert done.kills == 2


def test_streams_of_records_with_documents_that_are_killed(where: str) -> None:
    done = streams(where, 5, random.Random(2))
    assert done.findings == []
    assert done.told, "no process lived long enough to put anything on record"


def test_eight_writers_send_every_event_twice_and_then_the_file_is_tampered_with(where: str) -> None:
    findings, _, longest = crowd(where, writers=8, each=6)
    assert findings == []
    assert longest < 60
    if "://" not in where:
        assert tamper_at_random(Path(where), 3 * len(HANDS), random.Random(3)) == []


def test_the_trial_of_tampering_can_fail(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    crowd(str(tmp_path / "log.sqlite3"), writers=2, each=3)
    monkeypatch.setattr("riskboard.ledger.chain.Walk.check_body", lambda *_: None)
    missed = tamper_at_random(tmp_path / "log.sqlite3", len(HANDS), random.Random(3))
    done = {each.what.split(" of record")[0] for each in missed}
    assert done == {"a byte of the content", "a byte of the salt", "the body"}
