"""A day at the line: six aircraft and twelve flights on phones, one bad magneto, and maintenance that clears it.

Briefing and release are done through the core, as `test_briefing.py` and `test_morning.py` show a thumb doing them;
everything at the aircraft is pressed: run-up, departure, shut-down, and what maintenance signs on the aircraft's page.
"""

import re
import time
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from riskboard import jobs
from riskboard.jobs.signing import NotSignedError
from riskboard.ledger import Status
from tests.app import flights
from tests.app.flights import MARA, SIGRUN, TOBIN, WENDELL
from tests.browser import conftest
from tests.browser.line_server import LineServer, Phone

pytestmark = pytest.mark.browser

BEGAN = datetime(2026, 5, 4, 14, tzinfo=UTC)
JOSS = "joss-okonjo-lind"
LEFT_DROP = "Drop on the left magneto alone"
_TEN_S = 10


class LineDay:
    """The school's line on one day, and the phones of whoever works there.

    Attributes:
        server: The running server with its store and clock.
        phones: Who is at work.
        meters: Where each aircraft's meter stands.
    """

    def __init__(self, folder: Path, chromium: Browser) -> None:
        self.server = LineServer(folder, BEGAN)
        self.office = self.server.office
        self.server.start()
        names = {MARA: "mara", TOBIN: "tobin", SIGRUN: "sigrun", JOSS: "joss"}
        self.phones = {who: Phone(chromium, self.server, name) for who, name in names.items()}
        fleet = jobs.documents(self.office, "aircraft")
        self.meters = {str(each["id"]): float(each["aircraft"]["meter_h"]) for each in fleet}
        self.flown: list[str] = []

    @property
    def now(self) -> datetime:
        return self.server.now

    def later(self, minutes: float) -> None:
        self.server.clock(self.now + timedelta(minutes=minutes))

    def released(self, name: str, pilot_id: str, aircraft_id: str) -> tuple[Phone, str]:
        """A released flight, and its pilot's phone."""
        flight_id = f"lineday{name}"
        flights.released(self.office, flight_id, pilot_id, aircraft_id, self.now)
        return self.phones[pilot_id], flight_id

    def goes(self, name: str, pilot_id: str, aircraft_id: str, **typed: str) -> str:
        """Run up and away."""
        phone, flight_id = self.released(name, pilot_id, aircraft_id)
        phone.opens(f"/run-up/{flight_id}").types(**typed).presses("Save the run-up")
        expect(phone.page.get_by_text("Run-up good")).to_be_visible()
        self.leaves(phone, flight_id, aircraft_id)
        return flight_id

    def leaves(self, phone: Phone, flight_id: str, aircraft_id: str) -> None:
        """The press at lift-off."""
        phone.presses("It leaves now")
        expect(phone.page.get_by_text(f"{aircraft_id} left at")).to_be_visible()
        self.flown.append(flight_id)

    def returns(self, flight_id: str, pilot_id: str, aircraft_id: str, fuel_left: str = "21") -> None:
        """Shut down, handed back."""
        phone = self.phones[pilot_id].opens(f"/shut-down/{flight_id}")
        self.meters[aircraft_id] += 0.8
        phone.tap("How did it go?", "As planned")
        phone.page.get_by_label("Hour meter after the flight").fill(f"{self.meters[aircraft_id]:.1f}")
        phone.page.get_by_label("Fuel left").fill(fuel_left)
        phone.tap("Fuel taken on the way", "No")
        phone.tap("The aircraft was left", "All in place")
        phone.presses("Close the flight")
        expect(phone.page.get_by_text(f"{aircraft_id}: closed, as planned.")).to_be_visible()

    def aircraft_page(self, person_id: str, aircraft_id: str) -> Phone:
        """One aircraft on somebody's phone."""
        phone = self.phones[person_id].opens(f"/aircraft?aircraft={aircraft_id}")
        phone.page.get_by_text("It does not mean safe").wait_for()
        phone.rests()
        return phone

    def ends(self) -> None:
        """Everybody goes home."""
        for phone in self.phones.values():
            phone.leaves()
        self.server.stop()
        self.office.store.close()


@pytest.fixture
def line_day(tmp_path: Path, chromium: Browser) -> Iterator[LineDay]:
    conftest.chromium_path()
    made = LineDay(tmp_path, chromium)
    yield made
    made.ends()


def test_twelve_flights_with_six_aircraft_on_phones(line_day: LineDay) -> None:
    maintenance_clears_the_horn_of_the_sixth(line_day)
    three_go_and_come_back(line_day)
    the_fourth_has_a_bad_magneto(line_day)
    the_next_pilot_sees_it_in_ten_seconds(line_day)
    maintenance_clears_the_magneto(line_day)
    the_cleared_aircraft_and_two_more_fly(line_day)
    the_second_needs_its_inspection(line_day)
    the_last_three_fly_and_one_has_no_network(line_day)
    the_log_proves_it(line_day)


def maintenance_clears_the_horn_of_the_sixth(day: LineDay) -> None:
    with pytest.raises(NotSignedError):
        flights.released(day.office, "linedayhorn", TOBIN, "LRS-06", day.now)
    signs(day, "LRS-06", "Low rotor rpm horn silent on test", "Horn relay changed, tested")


def signs(day: LineDay, aircraft_id: str, defect: str, done: str) -> None:
    """Maintenance closes one defect on the aircraft's page, with a PIN."""
    joss = day.aircraft_page(JOSS, aircraft_id)
    box = joss.page.get_by_test_id("stVerticalBlock").filter(has_text=defect).last
    box.get_by_role("radio", name="is put right").click()
    joss.rests()
    joss.page.get_by_role("textbox", name="What was done").fill(done)
    joss.page.get_by_role("textbox", name="What was done").blur()
    signs_with_pin(day, joss)
    expect(joss.page.locator(".stMain")).to_contain_text(done)


def signs_with_pin(day: LineDay, joss: Phone) -> None:
    """The PIN and the press, and again where the page was redrawn under the thumb, until it is on record."""
    kinds = [entry.header.kind for entry in day.office.store.entries()]
    for _ in range(3):
        joss.rests()
        joss.page.get_by_role("textbox", name="PIN").fill("4927")
        joss.rests()
        joss.page.get_by_role("button", name="Sign the work").click()
        for _ in range(40):
            joss.page.wait_for_timeout(200)
            if [entry.header.kind for entry in day.office.store.entries()] != kinds:
                joss.rests()
                expect(joss.page.get_by_role("textbox", name="PIN")).to_have_value("")  # no PIN stays on a screen
                return
    raise AssertionError("the work was signed three times and nothing is on record")


def three_go_and_come_back(day: LineDay) -> None:
    crews = ((MARA, "LRS-01"), (TOBIN, "LRS-03"), (SIGRUN, "LRS-05"))
    out = [day.goes(f"first{number}", who, aircraft) for number, (who, aircraft) in enumerate(crews)]
    day.later(50)
    for flight_id, (who, aircraft) in zip(out, crews, strict=True):
        day.returns(flight_id, who, aircraft)


def the_fourth_has_a_bad_magneto(day: LineDay) -> None:
    mara, flight_id = day.released("magneto", MARA, "LRS-04")
    mara.opens(f"/run-up/{flight_id}").types(**{LEFT_DROP: "9.5"}).presses("Save the run-up")
    record = mara.page.get_by_role("region", name="On record")
    expect(record).to_contain_text("LRS-04 is grounded: it does not fly until maintenance has signed.")
    expect(record).to_contain_text("Drop on the left magneto: 9.5 %; at most 7 % is right")
    assert mara.page.get_by_role("button", name="It leaves now").count() == 0
    event = flights.event()
    jobs.cancel(day.office, MARA, flight_id, event_id=event, reason="Bad magneto", at=day.now)


def the_next_pilot_sees_it_in_ten_seconds(day: LineDay) -> None:
    began = time.monotonic()
    tobin = day.aircraft_page(TOBIN, "LRS-04")
    expect(tobin.page.get_by_text("Drop on the left magneto: 9.5 %").first).to_be_visible()
    assert time.monotonic() - began < _TEN_S
    assert tobin.page.get_by_role("button", name="Sign the work").count() == 0
    with pytest.raises(NotSignedError):
        flights.released(day.office, "linedayno", TOBIN, "LRS-04", day.now)


def maintenance_clears_the_magneto(day: LineDay) -> None:
    day.later(30)
    signs(day, "LRS-04", "Drop on the left magneto: 9.5 %", "Plugs cleaned and gapped, drop now 4 %")


def the_cleared_aircraft_and_two_more_fly(day: LineDay) -> None:
    began = time.monotonic()
    tobin = day.aircraft_page(TOBIN, "LRS-04")
    expect(tobin.page.get_by_text("Plugs cleaned and gapped, drop now 4 %").first).to_be_visible()
    assert time.monotonic() - began < _TEN_S
    crews = ((TOBIN, "LRS-04"), (MARA, "LRS-06"), (SIGRUN, "LRS-02"))
    out = [day.goes(f"second{number}", who, aircraft) for number, (who, aircraft) in enumerate(crews)]
    day.later(50)
    for flight_id, (who, aircraft) in zip(out, crews, strict=True):
        day.returns(flight_id, who, aircraft)


def the_second_needs_its_inspection(day: LineDay) -> None:
    """Its hours run out; maintenance puts the inspection on record, and the hours begin anew."""
    joss = day.aircraft_page(JOSS, "LRS-02")
    expect(joss.page.locator(".rb-know")).to_contain_text("100-hour inspection, 0.6 h left")
    joss.page.get_by_role("combobox", name="Inspections, checks and parts done").click()
    joss.page.get_by_role("option", name=re.compile("^100")).click()
    joss.page.keyboard.press("Escape")
    expect(joss.page.get_by_role("spinbutton", name="Due next at (h)")).to_be_visible()
    signs_with_pin(day, joss)
    expect(joss.page.locator(".rb-know")).not_to_contain_text("100-hour inspection")


def the_last_three_fly_and_one_has_no_network(day: LineDay) -> None:
    first, second = day.goes("third0", MARA, "LRS-02"), day.goes("third1", SIGRUN, "LRS-05")
    tobin, flight_id = day.released("third2", TOBIN, "LRS-03")
    tobin.opens(f"/run-up/{flight_id}")
    expect(tobin.page.get_by_text("Read before: 3.5 %, last 08:00").first).to_be_visible()  # what was read this morning
    tobin.types()
    tobin.context.set_offline(True)
    tobin.presses("Save the run-up")
    expect(tobin.page.locator("[data-bar]")).to_contain_text("NOT SAVED YET")
    tobin.context.set_offline(False)
    expect(tobin.page.get_by_text("Run-up good")).to_be_visible()
    day.leaves(tobin, flight_id, "LRS-03")
    day.later(50)
    for flown, who, aircraft in ((first, MARA, "LRS-02"), (second, SIGRUN, "LRS-05"), (flight_id, TOBIN, "LRS-03")):
        day.returns(flown, who, aircraft)
    for number, (who, aircraft) in enumerate(((MARA, "LRS-01"), (TOBIN, "LRS-06"))):
        last = day.goes(f"fourth{number}", who, aircraft)
        day.later(50)
        day.returns(last, who, aircraft)


def the_log_proves_it(day: LineDay) -> None:
    assert len(day.flown) == 11
    told = {card.flight_id: card.status for card in jobs.board(day.office, WENDELL, at=day.now)}
    assert {told[flight_id] for flight_id in day.flown} == {Status.DEBRIEFED}
    assert told["linedaymagneto"] is Status.CANCELLED
    for flight_id in day.flown:
        assert [day.server.kinds(flight_id, kind) for kind in ("run_up", "took_off", "debriefed")] == [1, 1, 1]
    kinds = [entry.header.kind for entry in day.office.store.entries()]
    assert kinds.count("maintenance_signed") == 3
    assert jobs.verify_log(day.office) == []
    assert jobs.recheck(day.office).findings == ()
    for aircraft_id, meter_h in day.meters.items():
        assert jobs.document(day.office, "aircraft", aircraft_id)["aircraft"]["meter_h"] == pytest.approx(meter_h)
