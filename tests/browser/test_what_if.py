"""A 14:00 flight in a dropping ceiling, in a real browser: 11:30 works, what would stop it, and staying is a choice."""

import statistics
import sys
import time

import pytest
from playwright.sync_api import Page, expect

from tests.browser.pilot import Pilot

pytestmark = pytest.mark.browser

DROPPING = (
    "METAR XLKF 041553Z 17006KT 10SM FEW120 16/02 A3012 RMK AO2\n"
    "TAF XLKF 041130Z 0412/0512 17006KT P6SM SKC FM041930 17006KT P6SM OVC003"
)
"""Clear until 13:30 local (19:30 UTC), then 300 ft."""


def planned(page: Page) -> Pilot:
    """Everything answered for an hour of circuits at 14:00; temperature and dew point of the day typed by hand."""
    pilot = Pilot(page)
    pilot.start()
    pilot.tap("What kind of flight?", "Rental, nobody else aboard")
    pilot.tap("Planned take-off", "10:30")
    everything = page.get_by_text("All entries here").first
    everything.click()
    pilot.settle()
    pilot.write("Planned landing", "15:00")
    pilot.write("Planned take-off", "14:00")
    everything.click()
    pilot.settle()
    pilot.tap("Which of these are true today?", "None of these")
    pilot.number("Usable fuel (US gal)", "30")
    pilot.weather(DROPPING)
    pilot.yourself()
    pilot.tap("Which of these are done?", "All done")
    by_hand(pilot)
    return pilot


def by_hand(pilot: Pilot) -> None:
    """One more line, typed: from, to, temporary, temperature and dew point."""
    page = pilot.page
    page.get_by_text("Forecast typed by hand, line by line").click()
    pilot.settle()
    lines = page.locator("[data-testid=stExpander]").filter(has_text="Forecast typed by hand")
    lines.get_by_role("button", name="Add one").click()
    pilot.settle()
    remove = lines.get_by_role("button", name="Remove")
    expect(remove).to_have_count(3)
    for label, value in (("From", "10:00"), ("To", "22:00")):
        box = lines.get_by_role("textbox", name=label, exact=True).last
        box.fill(value)
        box.blur()
        pilot.settle()
    lines.get_by_role("radiogroup", name="From then on, or for a while").last.get_by_role(
        "radio", name="temporary"
    ).click()
    pilot.settle()
    for label, value in (("Temperature (°C)", "16"), ("Dew point (°C)", "2")):
        box = lines.get_by_role("spinbutton", name=label, exact=True).last
        box.fill(value)
        box.press("Enter")
        pilot.settle()


@pytest.mark.parametrize("screen", ["wide", "phone"])
def test_a_flight_into_a_dropping_ceiling(screen: str, request: pytest.FixtureRequest) -> None:
    page: Page = request.getfixturevalue(screen)
    pilot = planned(page)
    pilot.sees("Better until 11:30")
    page.get_by_text("Forecast typed by hand, line by line").click()
    pilot.settle()
    pilot.band().get_by_role("link", name="What would change it").click()
    part = page.locator(".st-key-what-if")
    expect(part.locator(".rb-finding")).to_have_text("Better until 11:30")
    expect(part.locator("[data-testid=stVegaLiteChart] :is(canvas, svg)").first).to_be_visible()
    times = part.get_by_role("list", name="Take-offs by time").get_by_role("listitem")
    expect(times.first).to_have_text("10:00 to 11:30: go.")
    expect(times.last).to_contain_text("11:40 to 23:50: no-go. Room under the cloud above the legal minimum")
    ways = part.get_by_role("list", name="Ways out").get_by_role("listitem")
    expect(ways).to_have_text(["Take off at 11:30: go (level acceptable).", "Stay on the ground today."])
    looks = ways.evaluate_all(
        "all => all.map(each => { const s = getComputedStyle(each);"
        " return [s.fontSize, s.fontWeight, s.color, s.borderTopWidth, s.borderLeftColor, each.offsetWidth,"
        " each.offsetHeight].join() })"
    )
    assert looks[0] == looks[1], "staying weighs as much as going"
    expect(part.get_by_text("Gust 21 kt or more: no-go.")).to_be_visible()
    expect(part).to_contain_text("of 2,000 copies with the usual errors of the entries")
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


FUEL_GAL = ("28", "26", "24", "27", "25")
"""Each once: what was worked out before is not worked out again."""


def test_all_three_follow_a_changed_entry(wide: Page) -> None:
    """From the press that changes an entry until the page has come to rest and all three speak of it; the time is said.

    How long it may take is not judged here, a busy machine would fail it: the figure is for who runs it with ``-s``.
    """
    pilot = planned(wide)
    pilot.sees("Better until 11:30")
    took = [_seconds(pilot, gallons) for gallons in FUEL_GAL]
    median = statistics.median(took)
    sys.stdout.write(f"\nentry to all three on screen: median {median:.2f} s of {[round(each, 2) for each in took]}\n")


def _seconds(pilot: Pilot, gallons: str) -> float:
    page = pilot.page
    part = page.locator(".st-key-what-if")
    before = part.inner_text()
    box = page.get_by_role("spinbutton", name="Usable fuel (US gal)", exact=True)
    box.fill(gallons)
    began = time.monotonic()
    box.press("Enter")
    page.wait_for_function(
        "before => document.querySelector('.st-key-what-if').innerText !== before", arg=before, timeout=20_000
    )
    page.wait_for_function("() => document.querySelector('.stApp').dataset.testScriptState !== 'running'")
    return time.monotonic() - began
