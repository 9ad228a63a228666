"""The app on a store with a few flights in it, at one page, as one of the invented people."""

import shutil
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

import riskboard.app
from riskboard import jobs
from riskboard.app import session
from riskboard.jobs import entering
from riskboard.words import RefusedFor
from tests.app import flights
from tests.app.flights import CIRCUITS, MARA, SOUTH, TOBIN

NOW = datetime(2026, 5, 4, 16, tzinfo=UTC)
LATER = NOW + timedelta(hours=3)
"""By then what has left is overdue."""
MAIN = Path(riskboard.app.__file__).with_name("main.py")
ASKED, OUT, PLANNED, DECLINED = "asked000", "out00000", "planned0", "declined"
NOTE = "Somebody waits <b>here</b> for **me**."
WORRY = "I do not like the gusts."


def make_morning(path: Path) -> None:
    """One request with edits behind it, one aircraft out, one flight planned, one declined."""
    office = jobs.open_office(path, now=NOW - timedelta(hours=3))
    jobs.load_demo_school(office, now=NOW - timedelta(hours=2))
    asks, before = NOW - timedelta(minutes=15), NOW - timedelta(minutes=30)
    flights.fill_in(office, OUT, MARA, "LRS-03", CIRCUITS, before)
    flights.leave(office, OUT, MARA, before)
    flights.fill_in(office, ASKED, TOBIN, "LRS-01", SOUTH, asks, leaves_in_min=60)
    ate = (asks - timedelta(hours=1)).isoformat()
    jobs.save_entries(office, ASKED, "pilot", {"last_meal_at": ate}, at=asks + timedelta(minutes=1))
    for minute, gallons in ((2, 16.0), (3, 30.0)):
        at = asks + timedelta(minutes=minute)
        jobs.save_entries(office, ASKED, "aircraft", {"fuel_usable_gal": gallons}, at=at)
    flights.fill_in(office, PLANNED, TOBIN, "LRS-04", CIRCUITS, asks)
    flights.accept(office, PLANNED, asks)
    flights.fill_in(office, DECLINED, MARA, "LRS-05", CIRCUITS, asks)
    shown = flights.signature(office, DECLINED, asks)
    jobs.decline(office, DECLINED, shown, reason=WORRY, about=frozenset({RefusedFor.aircraft}), at=asks)
    flights.ask(office, ASKED, asks + timedelta(minutes=5), NOTE)
    office.store.close()


class At:
    """Somebody at a page. A page runs by itself here, without the frame around it."""

    def __init__(self, store: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        self.store, self.monkeypatch = store, monkeypatch

    def office(self) -> jobs.Office:
        """The store as another program sees it."""
        return jobs.open_office(self.store, now=NOW)

    def comes_in(self, person_id: str, at: datetime) -> None:
        """Put the cookie of this person into the browser's hands, and hold the clock."""
        office = self.office()
        token = entering.open_session(office, person_id, entering.WAY_PASSPHRASE, at)
        office.store.close()
        self.monkeypatch.setenv("RISKBOARD_DATABASE_URL", str(self.store))
        self.monkeypatch.setenv("RISKBOARD_NOW", at.isoformat())
        self.monkeypatch.setattr(session, "browser_token", lambda: token)

    def page(self, name: str, person_id: str, flight_id: str = "", *, at: datetime = NOW) -> AppTest:
        """The page as this person sees it."""
        self.comes_in(person_id, at)
        app = AppTest.from_file(MAIN, default_timeout=60)
        app.switch_page(f"pages/{name}.py")
        if flight_id:
            app.query_params["flight"] = flight_id
        app.run()
        assert not app.exception
        return app

    def frame(self, person_id: str, page: str = "", flight_id: str = "", *, at: datetime = NOW) -> AppTest:
        """A page with the frame around it; without a name, the first one."""
        self.comes_in(person_id, at)
        # From a folder without pages beside it: else a second run would draw the page alone, without its frame.
        app = AppTest.from_string(f"import runpy; runpy.run_path({str(MAIN)!r})", default_timeout=60).run()
        if page:
            app.switch_page(str(MAIN.parent / "pages" / f"{page}.py"))
            app.query_params.clear()
            if flight_id:
                app.query_params["flight"] = flight_id
            app.run()
        assert not app.exception
        return app


def html(app: AppTest) -> str:
    """Every piece of finished HTML on the page, without the styles."""
    return "\n".join(body for each in app.get("html") if "<style>" not in (body := str(each.proto.body)))


def said(app: AppTest) -> str:
    """Everything that is read on the page."""
    return "\n".join([html(app), *[text.value for text in app.text]])


def own_copy(store: Path, folder: Path) -> Path:
    """A store of its own for one test."""
    own = folder / "riskboard.sqlite3"
    shutil.copy(store, own)
    return own
