"""Closing a flight on a phone with a thumb, in a real browser."""

import re
import time

import pytest
from playwright.sync_api import Page, expect

from tests.browser.out_server import Visit, out_server, visit
from tests.browser.pilot import Pilot
from tests.browser.test_access import _serious

__all__ = ["out_server", "visit"]  # fixtures: pytest finds them here by their names

pytestmark = pytest.mark.browser

_A_MINUTE_S = 60


def _no_wider_than_the_screen(page: Page) -> None:
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


def test_on_a_dark_ground_too_nothing_is_hard_to_read(visit: Visit) -> None:
    page = visit("/debrief", dark=True)
    pilot = Pilot(page)
    pilot.tap("How did it go?", "Something differed")
    page.get_by_text("Landing time, fuel, defects, anything else").click()
    page.get_by_role("textbox", name="Anything else the next person should know").wait_for()
    assert _serious(page) == []
    _no_wider_than_the_screen(page)


def test_a_flight_is_closed_in_under_a_minute_and_the_next_pilot_sees_how_it_was_left(visit: Visit) -> None:
    """Two taps, the meter, and one press; the next briefing with that aircraft shows it."""
    page = visit("/debrief")
    pilot = Pilot(page)
    page.get_by_text("LRS-01 · Circuits at Larkfield").wait_for()
    _no_wider_than_the_screen(page)
    assert _serious(page) == []
    began = time.monotonic()
    pilot.tap("How did it go?", "Came back as planned")
    pilot.number("Hour meter after the flight (h)", "2232.5")
    pilot.tap("The aircraft was left", "Not all in place")
    pilot.tap("Battery master off", "out of place")
    _no_wider_than_the_screen(page)
    assert _serious(page) == []
    pilot.tap("The aircraft was left", "All in place")
    pilot.tap("The aircraft was left", "Not all in place")
    pilot.tap("Cabin clean", "out of place")
    page.get_by_role("button", name="Close the flight").click()
    expect(page.get_by_text("LRS-01: closed, as planned")).to_be_visible()
    assert time.monotonic() - began < _A_MINUTE_S
    expect(page.locator(".rb-receipt")).to_have_text(re.compile(r"^([0-9A-Z]{4}-){11}[0-9A-Z]{4}$"))
    assert pilot.entries == 7
    assert _serious(page) == []
    again = visit("/", "Tobin Reyes-Hall", width=1280)
    other = Pilot(again)
    other.choose("Registration", "LRS-01, Tarnwick 2 (invented)")
    other.choose("Usual flight", "Circuits at Larkfield")
    expect(again.get_by_text("Cabin clean: out of place")).to_be_visible()
    expect(again.get_by_text("left by Mara Oduya")).to_be_visible()
