"""``riskboard log erase``: asks twice, signs, and leaves nothing."""

import io
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from riskboard import demo, jobs
from riskboard.jobs.debriefing import debrief
from riskboard.worksheet.debrief import Debrief
from tests.cli.conftest import Run
from tests.jobs.callers import caller_of
from tests.jobs.school_day import FLIGHT, PILOT

SAID = "an-ache-in-the-left-knee"


@pytest.fixture
def closed(flown_store: Path) -> Path:
    """The flight is back, and its pilot said something of their own."""
    at = datetime(2026, 5, 4, 15, 40, tzinfo=UTC)
    office = jobs.open_office(flown_store, now=at)
    told = Debrief(as_planned=True, note=SAID)
    debrief(office, caller_of(office, PILOT, at), FLIGHT, told, event_id="closed-0001", at=at + timedelta(minutes=1))
    office.store.close()
    return flown_store


def typed(monkeypatch: pytest.MonkeyPatch, *lines: str) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO("".join(f"{line}\n" for line in lines)))


def order(store: Path, *more: str) -> tuple[object, ...]:
    return ("log", "erase", PILOT, "--signed-by", PILOT, "--why", "Asked in writing", "--database", store, *more)


def test_after_the_id_and_the_pin_nothing_is_left_and_the_log_verifies(
    run: Run, closed: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert SAID.encode() in closed.read_bytes()
    typed(monkeypatch, PILOT, demo.DEMO_PIN)
    result = run(*order(closed))
    assert result.status == 0
    assert FLIGHT in result.out
    assert "Erased. Record" in result.out
    assert "Backups" in result.out
    files = [each for each in closed.parent.iterdir() if each.name.startswith(closed.name)]
    assert not [each.name for each in files if SAID.encode() in each.read_bytes()]
    code = result.out.split("receipt ")[1].split()[0]
    assert run("log", "verify", "--database", closed, "--receipt", code).status == 0


@pytest.mark.parametrize(
    ("lines", "sentence"),
    [
        (("yes", demo.DEMO_PIN), "the id that was typed is another one"),
        ((PILOT, "8351"), "PIN is not right"),
        ((), "the id that was typed is another one"),
    ],
)
def test_anything_else_leaves_all_as_it_is(
    run: Run, closed: Path, monkeypatch: pytest.MonkeyPatch, lines: tuple[str, ...], sentence: str
) -> None:
    typed(monkeypatch, *lines)
    result = run(*order(closed))
    assert result.status == 2
    assert sentence in result.err
    assert SAID.encode() in closed.read_bytes()


def test_a_flight_that_is_not_on_record(run: Run, closed: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    typed(monkeypatch, PILOT, demo.DEMO_PIN)
    result = run(*order(closed, "--flight", "none-such"))
    assert (result.status, "Nothing is on record about the flight" in result.err) == (2, True)
