"""The school's own facts in a real browser: looked at, changed, added, on a desk's screen and on a phone."""

import pytest
from playwright.sync_api import expect

from tests.browser.out_server import Visit, out_server, visit
from tests.browser.pilot import Pilot
from tests.browser.test_access import _serious

__all__ = ["out_server", "visit"]  # fixtures: pytest finds them here by their names

pytestmark = pytest.mark.browser


@pytest.mark.parametrize(("width", "burn"), [(1280, "13.5"), (390, "12.5")])
def test_a_fact_is_changed_and_what_is_refused_stays_typed(visit: Visit, width: int, burn: str) -> None:
    page = visit("/school", "Wendell Achterberg", width=width)
    person = Pilot(page)
    person.choose("Which one?", "LRS-01, Tarnwick 2 (invented)")
    expect(page.get_by_text("All in place, left by Ines Vasko")).to_be_visible()
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    assert _serious(page) == []
    person.tap("What changes?", "Hour meter now")
    person.tap("What changes?", "Fuel burn")
    person.number("Hour meter now (h)", "12")
    person.number("Fuel burn (US gal/h)", burn)
    person.write("Why, or where the new values come from", "Measured over ten flights")
    page.get_by_role("button", name="Save (2 not saved yet)").click()
    expect(page.get_by_text("below the 2193.4 h of the last inspection")).to_be_visible()
    expect(page.get_by_role("spinbutton", name="Hour meter now (h)", exact=True)).to_have_value("12")
    assert _serious(page) == []
    person.number("Hour meter now (h)", "2231.4")
    page.get_by_role("button", name="Save (1 not saved yet)").click()
    expect(page.get_by_text("Saved: LRS-01")).to_be_visible()
    page.reload()
    expect(page.locator(".rb-facts")).to_contain_text(f"{burn} US gal/h")


def test_a_site_is_added_on_a_phone_and_markup_in_its_name_is_text(visit: Visit) -> None:
    page = visit("/school", "Sigrun Palo")
    person = Pilot(page)
    person.tap("What is it about?", "Sites")
    person.choose("Which one?", "Add a new one")
    person.write("Name of the airfield or site", "<img src=x onerror=alert(1)> pad")
    person.write("Time zone of departure", "America/Denver")
    person.write("Departure", "Quarry pad")
    person.write("Why, or where the new values come from", "Agreed with its owner")
    page.get_by_role("button", name="Save (3 not saved yet)").click()
    expect(page.get_by_text("Added: <img src=x onerror=alert(1)> pad")).to_be_visible()
    assert page.locator("img[src=x]").count() == 0
