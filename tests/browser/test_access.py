"""axe-core on every page and state: nothing serious."""

from collections.abc import Callable

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

from tests.browser.pilot import Pilot

pytestmark = pytest.mark.browser


def _serious(page: Page) -> list[str]:
    found = Axe().run(page).response["violations"]
    return [
        f"{each['id']}: {each['nodes'][0]['html'][:200]}" for each in found if each["impact"] in {"serious", "critical"}
    ]


def _first(_pilot: Pilot) -> None:
    pass


def _blank(pilot: Pilot) -> None:
    pilot.start()
    pilot.tap("Which of these are true today?", "None of these")
    pilot.page.get_by_text("Every clause of the policy").click()
    pilot.page.get_by_text("What is known").click()
    pilot.settle()


def _ready(pilot: Pilot) -> None:
    pilot.routine()


def _signed(pilot: Pilot) -> None:
    pilot.routine()
    pilot.sign("Accept until")
    pilot.sees("Accepted: go")


def _record(pilot: Pilot) -> None:
    pilot.page.goto(f"{pilot.page.url.split('?')[0].rstrip('/')}/record")
    pilot.page.get_by_role("button", name="Verify the record").click()
    pilot.page.get_by_text("Nothing found").wait_for()


def _paper(pilot: Pilot) -> None:
    pilot.page.goto(f"{pilot.page.url.split('?')[0].rstrip('/')}/transcribe")
    pilot.page.get_by_text("Blank worksheets, to print").click()
    begin = pilot.page.get_by_role("button", name="Type one in")
    begin.click()
    pilot.page.get_by_role("button", name="Add a signature").click()
    pilot.page.get_by_role("textbox", name="Role, as written").wait_for()
    pilot.page.get_by_text("Pressures", exact=True).click()
    pilot.page.get_by_text("Anything else that worries you").first.wait_for()
    pilot.settle()


@pytest.mark.parametrize(
    ("reach", "scheme"),
    [
        (_first, "dark"),
        (_blank, "light"),
        (_ready, "light"),
        (_ready, "dark"),
        (_signed, "dark"),
        (_record, "light"),
        (_paper, "dark"),
    ],
)
def test_no_serious_finding(phone: Page, reach: Callable[[Pilot], None], scheme: str) -> None:
    phone.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
    phone.reload()
    phone.get_by_text("It does not mean safe").wait_for()
    reach(Pilot(phone))
    assert _serious(phone) == []


def test_the_check_can_fail(phone: Page) -> None:
    phone.evaluate("document.querySelector('.rb-caution').style.color = '#eee9e0'")
    assert _serious(phone) != []
