"""A page under AppTest: no browser, a store of its own, the clock held."""

import shutil
from datetime import UTC, datetime
from pathlib import Path
from typing import Protocol

import pytest
from streamlit.testing.v1 import AppTest

import riskboard.app
from riskboard import demo, jobs
from riskboard.app import session

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


class Opener(Protocol):
    """Opens the app on a copy of a store, as one of the invented people; as nobody where the store holds no school."""

    def __call__(self, store: Path, who: str = "mara") -> AppTest: ...


@pytest.fixture
def open_app(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Opener:
    """Opens the app; the browser's cookie is the one thing that is put in its hands."""

    def opened(store: Path, who: str = "mara") -> AppTest:
        own = tmp_path / "riskboard.sqlite3"
        shutil.copy(store, own)
        monkeypatch.setenv("RISKBOARD_DATABASE_URL", str(own))
        monkeypatch.setenv("RISKBOARD_NOW", NOW.isoformat())
        office = jobs.open_office(own, now=NOW)
        token = jobs.sign_in(office, who, demo.DEMO_PASSPHRASE, at=NOW) if jobs.school(office) else ""
        office.store.close()
        monkeypatch.setattr(session, "browser_token", lambda: token)
        return AppTest.from_file(Path(riskboard.app.__file__).with_name("main.py"), default_timeout=30).run()

    return opened


@pytest.fixture
def demo_app(open_app: Opener, demo_store: Path) -> AppTest:
    """The app on the demo school."""
    return open_app(demo_store)
