"""A page under AppTest: no browser, a store of its own, the clock held."""

import shutil
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

import riskboard.app
from riskboard import jobs

NOW = datetime(2026, 5, 4, 16, tzinfo=UTC)


@pytest.fixture(scope="session")
def empty_store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A store with the shipped policies and no school."""
    path = tmp_path_factory.mktemp("empty") / "riskboard.sqlite3"
    jobs.open_office(path, now=NOW).store.close()
    return path


@pytest.fixture(scope="session")
def demo_store(empty_store: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A store with the demo school."""
    path = tmp_path_factory.mktemp("demo") / "riskboard.sqlite3"
    shutil.copy(empty_store, path)
    office = jobs.open_office(path, now=NOW)
    jobs.load_demo_school(office, now=NOW)
    office.store.close()
    return path


Opener = Callable[[Path], AppTest]


@pytest.fixture
def open_app(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Opener:
    """Opens the app on a copy of a store."""

    def opened(store: Path) -> AppTest:
        own = tmp_path / "riskboard.sqlite3"
        shutil.copy(store, own)
        monkeypatch.setenv("RISKBOARD_DATABASE_URL", str(own))
        monkeypatch.setenv("RISKBOARD_NOW", NOW.isoformat())
        return AppTest.from_file(Path(riskboard.app.__file__).with_name("main.py"), default_timeout=30).run()

    return opened


@pytest.fixture
def demo_app(open_app: Opener, demo_store: Path) -> AppTest:
    """The app on the demo school."""
    return open_app(demo_store)
