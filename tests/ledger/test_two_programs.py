"""Two processes of riskboard behind one store serve one school: what one does, the other sees at once."""

import json
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from riskboard import demo
from tests.jobs.school_day import PILOT
from tests.ledger.killed import fill_school

ROOT = Path(__file__).parents[2]
FLIGHT = "flight-between-two-desks"


class Program:
    """A desk in a process of its own."""

    def __init__(self, address: str) -> None:
        command = [sys.executable, "-m", "tests.jobs.desk_process", address]
        self.process = subprocess.Popen(command, cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)

    def ask(self, *words: str) -> None:
        assert self.process.stdin is not None
        self.process.stdin.write(json.dumps(words) + "\n")
        self.process.stdin.flush()

    def answer(self) -> Any:
        assert self.process.stdout is not None
        return json.loads(self.process.stdout.readline())

    def does(self, *words: str) -> Any:
        self.ask(*words)
        return self.answer()

    def close(self) -> None:
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.process.stdin.close()
        self.process.wait(timeout=30)
        self.process.stdout.close()


@pytest.fixture
def desks(where: str) -> Iterator[tuple[Program, Program]]:
    fill_school(where)
    both = Program(where), Program(where)
    yield both
    for desk in both:
        desk.close()


def test_two_programs_serve_one_school(desks: tuple[Program, Program]) -> None:
    one, other = desks
    shown = one.does("begin", FLIGHT)
    assert other.does("look", FLIGHT) == shown
    accepted = one.does("accept", FLIGHT, "the-pilot-accepts")
    assert other.does("accept", FLIGHT, "the-pilot-accepts") == accepted  # a second tap, at the other desk
    assert one.does("head") == other.does("head") == accepted
    for number, desk in enumerate(desks):
        desk.ask("release", FLIGHT, f"release-at-desk-{number}")
    answers = [desk.answer() for desk in desks]
    refused = [answer for answer in answers if answer.startswith("refused: ")]
    assert len(refused) == 1, answers
    assert "released it at" in refused[0]
    (receipt,) = [answer for answer in answers if answer not in refused]
    assert one.does("head") == other.does("head") == receipt
    assert one.does("verified") == other.does("verified") == []
    # Who came in at one desk is known at the other, and gone from both on leaving.
    token = one.does("enter", "mara", demo.DEMO_PASSPHRASE)
    assert other.does("who", token) == PILOT
    other.does("leave", token)
    assert one.does("who", token) is None
