"""The command line, run in this process."""

import shutil
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import pytest

from riskboard import jobs
from riskboard.cli import main
from riskboard.jobs.place import DATABASE_VARIABLE
from riskboard.ledger import Intent
from tests.jobs.callers import flight_out

NOON = datetime(2026, 5, 4, 12, 0, tzinfo=UTC)


@dataclass(frozen=True)
class Result:
    """What a command left behind."""

    status: int
    out: str
    err: str


Run = Callable[..., Result]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Run:
    """Runs ``riskboard`` with arguments; the user's own store and environment are out of reach."""
    monkeypatch.delenv(DATABASE_VARIABLE, raising=False)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))

    def run_it(*arguments: object) -> Result:
        try:
            status = int(main([str(argument) for argument in arguments]))
        except SystemExit as left:  # argparse leaves by itself
            status = left.code if isinstance(left.code, int) else 1
        captured = capsys.readouterr()
        return Result(status, captured.out, captured.err)

    return run_it


@pytest.fixture
def store(tmp_path: Path, made_store: Path) -> Path:
    """A school's store of its own: shipped policies published, and one record whose note would play with a terminal."""
    return Path(shutil.copy(made_store, tmp_path / "school.sqlite3"))


@pytest.fixture(scope="session")
def made_store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The store that each test gets a copy of."""
    path = tmp_path_factory.mktemp("store") / "school.sqlite3"
    office = jobs.open_office(path, now=NOON)
    intent = Intent(
        kind="declined",
        event_id="event-0001",
        at=NOON,
        actor="tobin",
        role="pilot",
        subject="flight-0001",
        body={"note": "wind \x1b]0;gotcha\x07 \x85"},
    )
    office.store.append(intent)
    office.store.close()
    return path


@pytest.fixture
def flown_store(tmp_path: Path, made_flown_store: Path) -> Path:
    """A store of its own with the demo school, and one flight that was accepted, released and has left."""
    return Path(shutil.copy(made_flown_store, tmp_path / "flown.sqlite3"))


@pytest.fixture(scope="session")
def made_flown_store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The store that each test gets a copy of."""
    path, _ = flight_out(tmp_path_factory.mktemp("flown"))
    return path
