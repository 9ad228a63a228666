"""The app on a school with one flight out, opened as one of its people on one of its pages."""

import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

import riskboard.app
from riskboard import jobs
from riskboard.app import session
from riskboard.jobs import entering
from tests.jobs.callers import flight_out

__all__ = ["Opened", "html", "made_out", "open_out", "store_of"]

Opened = Callable[..., AppTest]


@pytest.fixture(scope="session")
def made_out(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, datetime]:
    """The school with its morning flight out, and the moment it is back."""
    return flight_out(tmp_path_factory.mktemp("made_out"))


@pytest.fixture
def open_out(made_out: tuple[Path, datetime], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Opened:
    """Opens a page as somebody; the browser's cookie is the one thing that is put in its hands."""
    made, at = made_out
    own = tmp_path / "riskboard.sqlite3"
    shutil.copy(made, own)
    monkeypatch.setenv("RISKBOARD_DATABASE_URL", str(own))
    monkeypatch.setenv("RISKBOARD_NOW", at.isoformat())

    def opened(page: str, who: str = "mara", **address: str) -> AppTest:
        office = jobs.open_office(own, now=at)
        account = office.store.find_account(who)
        assert account is not None
        token = entering.open_session(office, account.person_id, entering.WAY_PASSPHRASE, at)
        office.store.close()
        monkeypatch.setattr(session, "browser_token", lambda: token)
        app = AppTest.from_file(Path(riskboard.app.__file__).with_name("main.py"), default_timeout=30).run()
        app.switch_page(f"pages/{page}.py")
        for name, value in address.items():
            app.query_params[name] = value
        return app.run()

    return opened


@contextmanager
def store_of(app: AppTest) -> Iterator[jobs.Office]:
    """The store behind the app, for looking."""
    import os  # noqa: PLC0415  - the store of this test is named in its environment

    del app
    office = jobs.open_office(
        os.environ["RISKBOARD_DATABASE_URL"], now=datetime.fromisoformat(os.environ["RISKBOARD_NOW"])
    )
    try:
        yield office
    finally:
        office.store.close()


def html(app: AppTest) -> str:
    """All HTML of the page."""
    return "\n".join(str(each.proto.body) for each in app.get("html"))
