"""A school's morning in its windows: ten flights, one refused, one briefed again, one overdue; the log proves it all.

The worksheets are filled in beforehand, as `test_briefing.py` shows a thumb doing it; everything from the signature on
is pressed: pilots on phones, the dispatcher and the safety officer at desks, the clock moved on as the morning goes.
"""

import json
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser

from riskboard import jobs
from riskboard.ledger import Status
from tests.app import flights
from tests.app.flights import CIRCUITS, MARA, NOOR, SOUTH, TOBIN, WENDELL
from tests.browser.pilot import Pilot
from tests.browser.served import PHONE, WIDE, Somebody, served
from tests.browser.test_desk import PIN, opens_request, signs

pytestmark = pytest.mark.browser

BEGAN = datetime(2026, 5, 4, 15, tzinfo=UTC)


class Morning:
    """The school, its clock, and who has a window open.

    Attributes:
        now: What the clock of the running server says.
        meters: Where each aircraft's meter stands.
    """

    def __init__(self, folder: Path, chromium: Browser) -> None:
        self.path, self.clock, self.chromium = folder / "riskboard.sqlite3", folder / "clock", chromium
        self.now = BEGAN
        self.office = jobs.open_office(self.path, now=BEGAN - timedelta(hours=3))
        jobs.load_demo_school(self.office, now=BEGAN - timedelta(hours=2))
        school = jobs.school(self.office) or {}
        # People stay in while the morning is moved on in leaps.
        self.office.store.put_document("school", "school", json.dumps(school | {"idle_min": 720}), at=BEGAN)
        self.meters = {"LRS-01": 2231.4, "LRS-03": 3120.9, "LRS-04": 845.2}
        self.windows: dict[str, Somebody] = {}
        self.later(0)

    def later(self, minutes: float) -> None:
        self.now += timedelta(minutes=minutes)
        self.clock.write_text(self.now.isoformat())

    def comes(self, address: str, person_id: str, size: tuple[int, int]) -> Somebody:
        self.windows[person_id] = Somebody(self.chromium, address, person_id, size)
        return self.windows[person_id]

    def brief(
        self, flight_id: str, pilot_id: str, aircraft_id: str, route_id: str = CIRCUITS, *, worry: str = ""
    ) -> Somebody:
        """A filled-in worksheet, open in its pilot's window."""
        also = {"pressures": {"anything_else": worry}} if worry else None
        flights.fill_in(self.office, flight_id, pilot_id, aircraft_id, route_id, self.now, also=also)
        return self.windows[pilot_id].opens(f"?flight={flight_id}")

    def goes(self, phone: Somebody) -> None:
        """Released, run up at the aircraft, and away."""
        press(phone, "Release: take the aircraft", "Run-up for this release: none on record")
        flight = urlsplit(phone.page.url).query
        phone.runs_up().page.get_by_role("button", name="It leaves now", exact=True).click()
        phone.page.get_by_text(" left at ").first.wait_for()
        phone.opens(f"?{flight}").sees("Airborne")

    def accepted(self, phone: Somebody) -> None:
        phone.presses("Accept until", pin=PIN, exact=False)
        phone.sees("Release: take the aircraft")

    def asked(self, phone: Somebody) -> None:
        phone.presses("Ask for a sign-off", pin=PIN)
        phone.sees("Sign-off asked for")

    def back(self, pilot_id: str, aircraft_id: str) -> None:
        """Two taps, the meter, one press."""
        page = self.windows[pilot_id].opens("debrief").page
        pilot = Pilot(page)
        self.meters[aircraft_id] += 0.9
        pilot.tap("How did it go?", "Came back as planned")
        pilot.number("Hour meter after the flight (h)", f"{self.meters[aircraft_id]:.1f}")
        pilot.tap("The aircraft was left", "All in place")
        page.wait_for_timeout(700)  # a press that the page was redrawn over is no press: look again before the next
        if not page.get_by_role("radiogroup", name="The aircraft was left").locator("[data-selected]").count():
            pilot.tap("The aircraft was left", "All in place")
        meter = page.get_by_role("spinbutton", name="Hour meter after the flight (h)", exact=True)
        if not meter.input_value():  # the same of what was typed
            pilot.number("Hour meter after the flight (h)", f"{self.meters[aircraft_id]:.1f}")
        page.get_by_role("button", name="Close the flight").click()
        page.get_by_text(f"{aircraft_id}: closed, as planned").wait_for()


def press(window: Somebody, button: str, then: str) -> None:
    """Press a button, and again where the page was redrawn under it, until what follows is seen."""
    for _ in range(3):
        found = window.page.get_by_role("button", name=button)
        if found.count():
            found.first.click()
        window.settle()
        try:
            window.sees(then, within_s=5)
        except AssertionError:
            continue
        return
    window.sees(then)


@pytest.fixture
def morning(tmp_path: Path, chromium: Browser) -> Iterator[Morning]:
    made = Morning(tmp_path, chromium)
    yield made
    for window in made.windows.values():
        window.leaves()
    made.office.store.close()


def test_three_windows_run_a_morning_with_ten_flights(morning: Morning) -> None:
    with served(morning.path, f"@{morning.clock}") as address:
        for person_id in (MARA, TOBIN):
            morning.comes(address, person_id, PHONE)
        desk = morning.comes(address, WENDELL, WIDE).opens("desk")
        watch = morning.comes(address, NOOR, WIDE).opens("board")
        the_first_two_go_and_come_back(morning, watch)
        the_third_is_signed_and_the_fourth_refused(morning, desk)
        the_fifth_is_sent_back_and_the_sixth_briefed_again(morning, desk)
        the_seventh_is_called_off_the_eighth_and_ninth_fly(morning)
        the_tenth_does_not_come_back(morning, watch)
        watch.opens("record").page.get_by_role("button", name="Verify the record").click()
        watch.sees("Nothing found")
    the_log_proves_it(morning)


def the_first_two_go_and_come_back(morning: Morning, watch: Somebody) -> None:
    for number, pilot_id, aircraft_id in (("one", MARA, "LRS-01"), ("two", TOBIN, "LRS-03")):
        phone = morning.brief(f"flight{number}", pilot_id, aircraft_id)
        morning.accepted(phone)
        morning.goes(phone)
    watch.sees("Airborne")
    morning.later(60)
    morning.back(MARA, "LRS-01")
    morning.back(TOBIN, "LRS-03")


def the_third_is_signed_and_the_fourth_refused(morning: Morning, desk: Somebody) -> None:
    phone = morning.brief("flightthree", TOBIN, "LRS-04", SOUTH)
    morning.asked(phone)
    desk.opens("desk")
    opens_request(desk, "LRS-04")
    signs(desk, "Stay north of the quarry")
    phone.sees("Stay north of the quarry")
    phone.presses("Take it until", pin=PIN, exact=False)
    morning.goes(phone)
    other = morning.brief("flightfour", MARA, "LRS-01", worry="The seat rail rattles.")
    morning.asked(other)
    desk.opens("desk")
    opens_request(desk, "LRS-01")
    desk.form("Refuse").get_by_text("The aircraft", exact=False).first.click()
    desk.presses("Refuse", {"Your reason": "That one stays for the exam"}, pin=PIN)
    other.sees("That one stays for the exam")
    morning.later(65)
    morning.back(TOBIN, "LRS-04")


def the_fifth_is_sent_back_and_the_sixth_briefed_again(morning: Morning, desk: Somebody) -> None:
    phone = morning.brief("flightfive", TOBIN, "LRS-03", SOUTH)
    morning.asked(phone)
    desk.opens("desk")
    opens_request(desk, "LRS-03")
    desk.presses("Send back with a question", {"Your question": "Who is aboard?"}, pin=PIN)
    phone.sees("Who is aboard?")
    press(phone, "Change the worksheet and ask again", "Ask for a sign-off")
    morning.asked(phone)
    other = morning.brief("flightsix", MARA, "LRS-04")
    morning.accepted(other)
    morning.later(95)
    other.opens("?flight=flightsix").sees("The yes holds no longer")
    flights.fill_in(morning.office, "flightsix", MARA, "LRS-04", CIRCUITS, morning.now)
    press(other, "Brief it again from this sheet", "Accept until")
    morning.accepted(other)
    morning.goes(other)
    morning.later(55)
    morning.back(MARA, "LRS-04")


def the_seventh_is_called_off_the_eighth_and_ninth_fly(morning: Morning) -> None:
    phone = morning.brief("flightseven", MARA, "LRS-03")
    morning.accepted(phone)
    phone.presses("Call off", {"Call it off: why, in a few words": "The exam was moved"})
    phone.sees("Called off")
    for number, pilot_id, aircraft_id in (("eight", MARA, "LRS-03"), ("nine", TOBIN, "LRS-04")):
        window = morning.brief(f"flight{number}", pilot_id, aircraft_id)
        morning.accepted(window)
        morning.goes(window)
    morning.later(60)
    morning.back(MARA, "LRS-03")
    morning.back(TOBIN, "LRS-04")


def the_tenth_does_not_come_back(morning: Morning, watch: Somebody) -> None:
    phone = morning.brief("flightten", MARA, "LRS-04")
    morning.accepted(phone)
    morning.goes(phone)
    morning.later(150)
    watch.opens("board")
    watch.page.get_by_role("alert").filter(has_text="OVERDUE: LRS-04").wait_for()
    press(watch, "Done: step 1", "Noor Farrant, ")


def the_log_proves_it(morning: Morning) -> None:
    told = {card.flight_id: card.status for card in jobs.board(morning.office, NOOR, at=morning.now)}
    assert told == {
        **{f"flight{name}": Status.DEBRIEFED for name in ("one", "two", "three", "six", "eight", "nine")},
        "flightfour": Status.REFUSED,
        "flightfive": Status.SIGN_OFF_REQUESTED,
        "flightseven": Status.CANCELLED,
        "flightten": Status.AIRBORNE,
    }
    assert jobs.verify_log(morning.office) == []
    assert jobs.recheck(morning.office).findings == ()
