"""A hot afternoon and two large people in a real browser: refused for the right reason, the way out named, entered."""

import re

import pytest
from playwright.sync_api import Page, expect

from tests.browser.pilot import Pilot

pytestmark = pytest.mark.browser

HOT = (
    "METAR XLKF 041553Z 17008KT 10SM FEW060 36/06 A2992 RMK AO2 T03600061\n"
    "TAF XLKF 041130Z 0412/0512 18008KT P6SM SCT060"
)
FIX = "Usable fuel 19.4 US gal before start, 2.6 US gal less."


def loaded(page: Page) -> Pilot:
    """An hour with a passenger to a site at 6,000 ft, 36 °C at the field: all answered but for what is wrong.

    988.5 lb empty, 215 + 220 lb of people, 6 lb of baggage, 21 of 22 gal left after start: 1,555.5 lb. At the site it
    is 36 - 4760 * 0.00198 = 26.57 °C: the ceiling in ground effect is 6643 ft at 1,460 lb and 5843 ft at 1,560 lb, so
    1,540 lb hover there, 15 lb less. That leaves 110.7 lb of fuel: 18.4 gal, 19.4 before start; the hour and its
    reserve need less.
    """
    pilot = Pilot(page)
    pilot.start()
    pilot.tap("What kind of flight?", "Rental with passengers")
    pilot.tap("Planned take-off", "10:30")
    pilot.number("Usable fuel (US gal)", "22")
    pilot.weather(HOT)
    pilot.number("Right seat, pilot (lb)", "215")
    pilot.number("Left seat (lb)", "220")
    pilot.yourself()
    pilot.tap("Which of these are true today?", "None of these")
    pilot.tap("Which of these are done?", "All done")
    page.get_by_text(re.compile("^All entries here")).first.click()
    pilot.settle()
    pilot.number("Highest landing site (ft)", "6000")
    return pilot


@pytest.mark.parametrize("screen", ["wide", "phone"])
def test_two_large_people_on_a_hot_afternoon(screen: str, request: pytest.FixtureRequest) -> None:
    page: Page = request.getfixturevalue(screen)
    pilot = loaded(page)
    pilot.sees("No-go")
    pilot.sees("Hover ceiling in ground effect above the highest landing site: \N{MINUS SIGN}")
    pilot.sees(FIX)
    lines = page.locator(".rb-said").first
    expect(lines).to_contain_text("1,555.5 lb, 4.5 lb under the highest (1,560 lb)")
    expect(lines.locator("li", has_text="In ground effect, highest site")).to_contain_text("SHORT")
    expect(page.locator(".rb-fix li")).to_have_text([FIX, "Leave behind who is on the left seat (220 lb)."])
    expect(page.get_by_text("Invented type: these are the figures of no real aircraft.")).to_be_visible()
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    pilot.number("Usable fuel (US gal)", "19.4")
    pilot.sees("Go with sign-off")
    expect(lines.locator("li", has_text="In ground effect, highest site")).to_contain_text("hovers")
    expect(page.locator(".rb-fix")).to_have_count(0)


def test_both_envelopes_are_drawn_with_their_finding_above(wide: Page) -> None:
    loaded(wide)
    for side in ("Longitudinal", "Lateral"):
        finding = wide.locator(".rb-note", has_text=f"{side}: Inside at take-off, landing and zero fuel; nearest edge ")
        expect(finding).to_be_visible()
        expect(wide.locator(f'[aria-label^="{side} envelope. Inside at take-off"]').first).to_be_visible()
