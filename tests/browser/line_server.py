"""A server for the pages at the aircraft that can go down and come back at the same address, and a phone beside it."""

import json
import os
import subprocess
import sys
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from riskboard import demo, jobs
from tests.app import flights
from tests.browser import conftest

__all__ = ["GOOD", "LineServer", "Phone", "line_server"]

AT = datetime(2026, 5, 4, 16, 5, tzinfo=UTC)
PHONE = (390, 844)
GOOD = {
    "Oil pressure showed after": "8",
    "Rotor turned after engaging the clutch": "3",
    "Clutch light went out after": "70",
    "Engine speed at the magneto check": "75",
    "Drop on the left magneto alone": "3,5",
    "Left magneto alone for": "2",
    "Drop on the right magneto alone": "4",
    "Right magneto alone for": "2",
    "Rise with carburettor heat applied": "20",
    "Speed that the governor holds": "101.5",
    "Low-rotor warning came on at": "97",
}
"""What is typed at a good run-up of the invented type, by label."""
LOOKED = (
    "Ran smooth on each magneto",
    "Hydraulics off and on: controls heavy, then light",
    "All warning lights out",
    "All gauges in their normal range",
    "Fuel as briefed",
)
"""What is answered with yes."""


class LineServer:
    """One store and one address; the server on it goes and comes.

    Attributes:
        address: Where it is reached.
        office: The same school, for what happens away from the phone.
    """

    def __init__(self, folder: Path, at: datetime = AT) -> None:
        self.folder, self.store, self.port = folder, folder / "riskboard.sqlite3", conftest.free_port()
        self.address = f"http://127.0.0.1:{self.port}"
        self.hand = folder / "now"
        self.process: subprocess.Popen[bytes] | None = None
        self.office = jobs.open_office(self.store, now=at)
        jobs.load_demo_school(self.office, now=at)
        school = jobs.school(self.office) or {}
        self.office.store.put_document("school", "school", json.dumps(school | {"idle_min": 720}), at=at)
        self.fleet = {each["id"]: json.dumps(each) for each in jobs.documents(self.office, "aircraft")}
        self.clock(at)

    def clock(self, at: datetime) -> None:
        """Set its clock."""
        self.now = at
        self.hand.write_text(at.isoformat(), encoding="utf-8")

    def start(self) -> None:
        """Come up, or up again."""
        log = self.folder / "server.log"
        root = str(Path(__file__).resolve().parents[2])
        with log.open("ab") as out:
            self.process = subprocess.Popen(
                [sys.executable, "-c", conftest._SERVE, str(self.store), str(self.port)],
                env=os.environ | {"RISKBOARD_NOW": f"@{self.hand}", "PYTHONPATH": root},
                cwd=self.folder,
                stdout=out,
                stderr=subprocess.STDOUT,
            )
        conftest.wait_for_server(self.address, self.process, log)

    def stop(self) -> None:
        """Go down."""
        if self.process is not None:
            self.process.terminate()
            self.process.wait(timeout=20)

    def released(self, flight_id: str, pilot_id: str = flights.MARA, aircraft_id: str = "LRS-01") -> str:
        """A released flight, the aircraft as in the morning; what its pilot or it was out on before is called off."""
        for card in jobs.board(self.office, flights.WENDELL, at=self.now):
            if {pilot_id, aircraft_id} & {card.pilot_id, card.aircraft_id} and card.status.value == "released":
                event = flights.event()
                jobs.cancel(self.office, card.pilot_id, card.flight_id, event_id=event, reason="Next", at=self.now)
        self.office.store.put_document("aircraft", aircraft_id, self.fleet[aircraft_id], at=self.now)
        flights.released(self.office, flight_id, pilot_id, aircraft_id, self.now)
        return flight_id

    def kinds(self, flight_id: str, kind: str) -> int:
        """How many records of a kind a flight has."""
        return [entry.header.kind for entry in self.office.store.entries(subject=flight_id)].count(kind)


class Phone:
    """A phone at the aircraft, its person signed in.

    Attributes:
        page: What is on its screen.
    """

    def __init__(self, chromium: Browser, server: LineServer, who: str = "mara", *, dark: bool = False) -> None:
        self.server, self.who = server, who
        self.context: BrowserContext = chromium.new_context(
            viewport={"width": PHONE[0], "height": PHONE[1]},
            has_touch=True,
            is_mobile=True,
            color_scheme="dark" if dark else "light",
        )
        self.enters()
        self.page: Page = self.context.new_page()
        self.page.set_default_timeout(10_000)
        self.errors: list[str] = []
        self.page.on("pageerror", lambda error: self.errors.append(str(error)))

    def enters(self) -> None:
        """Come in without a screen."""
        address = self.server.address
        form: dict[str, str | float | bool] = {
            "login_name": self.who,
            "passphrase": demo.DEMO_PASSPHRASE,
            "next": "/health",
        }
        came_in = self.context.request.post(f"{address}/enter", form=form, headers={"origin": address})
        assert came_in.ok, came_in.text()

    def opens(self, path: str) -> "Phone":
        """Open a page."""
        self.page.goto(f"{self.server.address}{path}")
        return self

    def types(self, **changed: str) -> "Phone":
        """A good run-up, save what is changed, by the first word of a label; a thumb at each answer."""
        for label, value in GOOD.items():
            self.page.get_by_label(label, exact=True).fill(changed.get(label, value))
        for question in LOOKED:
            self.tap(question, "Yes")
        self.tap("Anything odd heard, felt or smelt", "Nothing odd")
        return self

    def tap(self, question: str, answer: str) -> None:
        """Tap an answer."""
        group = self.page.get_by_role("group", name=question, exact=True)
        tile = group.get_by_role("radio", name=answer, exact=True).or_(
            group.get_by_role("checkbox", name=answer, exact=True)
        )
        tile.tap()
        expect(tile).to_be_checked()

    def presses(self, button: str) -> None:
        """Tap a button."""
        self.page.get_by_role("button", name=button, exact=True).tap()

    def rests(self) -> None:
        """Until a page of the large app has come to rest."""
        self.page.wait_for_timeout(80)
        self.page.wait_for_function(
            "() => document.querySelector('.stApp')?.dataset.testScriptState !== 'running'", timeout=20_000
        )

    def bar(self) -> str:
        """What the bar above the button says."""
        return self.page.locator("[data-says]").first.inner_text()

    def leaves(self) -> None:
        """Close the browser."""
        self.context.close()
        assert self.errors == []


@pytest.fixture(scope="module")
def line_server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[LineServer]:
    """A running server with the invented school."""
    conftest.chromium_path()
    made = LineServer(tmp_path_factory.mktemp("line"))
    made.start()
    yield made
    made.stop()
    made.office.store.close()
