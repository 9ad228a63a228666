"""A pilot at the page: does what a thumb does, waits for what an eye waits for, and counts."""

import re
from contextlib import suppress

from playwright.sync_api import Locator, Page, expect

REPORT = (
    "METAR XLKF 041553Z 17008KT 10SM FEW060 18/06 A3012 RMK AO2 T01830061\n"
    "TAF XLKF 041130Z 0412/0512 18008KT P6SM SCT060 FM041900 19012KT P6SM BKN080"
)
SLEPT = "22:30-06:30, 23:00-07:00"


_PRESSES = 3
_SHOWS_MS = 150


def _lit(group: Locator) -> object:
    """Which pills of a group are on."""
    return group.locator("button").evaluate_all("all => all.map(each => each.hasAttribute('data-selected'))")


class Pilot:
    """One briefing.

    Attributes:
        entries: How many values were given: typed, chosen or tapped.
        presses: How many buttons were pressed beside them.
    """

    def __init__(self, page: Page) -> None:
        self.page = page
        self.entries = 0
        self.presses = 0

    def band(self) -> Locator:
        return self.page.locator(".rb-band")

    def sees(self, words: str) -> None:
        expect(self.band()).to_contain_text(words, timeout=15_000)

    def choose(self, label: str, option: str) -> None:
        self.entries += 1
        box = self.page.get_by_label(label, exact=True)
        for _ in range(_PRESSES):
            box.click()
            self.page.get_by_role("option", name=option).click()
            with suppress(AssertionError):
                expect(box).to_have_value(option)
                break
        expect(box).to_have_value(option)
        self.settle()

    def tap(self, question: str, answer: str) -> None:
        """Tap a pill, and again where nothing came of it: a press whose pill is redrawn under the thumb is no press."""
        self.entries += 1
        group = self.page.get_by_role("radiogroup", name=question).or_(self.page.get_by_role("toolbar", name=question))
        pill = group.locator("button").filter(has_text=re.compile(rf"^{re.escape(answer)}$"))
        before = _lit(group)
        for _ in range(_PRESSES):
            # A thumb taps what it sees, not what it scrolls.
            pill.evaluate("each => each.scrollIntoView({block: 'center'})")
            pill.click()
            self.settle()
            self.page.wait_for_timeout(_SHOWS_MS)
            if _lit(group) != before:
                return
        raise AssertionError(f"{answer!r} was tapped {_PRESSES} times and nothing came of it")

    def number(self, label: str, value: str) -> None:
        self.entries += 1
        box = self.page.get_by_role("spinbutton", name=label, exact=True)
        box.fill(value)
        box.press("Enter")
        self.settle()

    def write(self, label: str, value: str) -> None:
        self.entries += 1
        box = self.page.get_by_role("textbox", name=label, exact=True)
        box.fill(value)
        box.blur()
        self.settle()

    def settle(self) -> None:
        """Until the page has come to rest: nothing is running, and nothing on it is from before."""
        self.page.wait_for_timeout(80)
        self.page.wait_for_function(
            "() => document.querySelector('.stApp')?.dataset.testScriptState !== 'running'", timeout=20_000
        )

    def start(self, aircraft: str = "LRS-01", route: str = "Circuits at Larkfield") -> None:
        self.choose("Registration", f"{aircraft}, Tarnwick 2 (invented)")
        self.choose("Usual flight", route)
        self.sees("still blank")

    def weather(self, report: str = REPORT) -> None:
        self.write("Report and forecast, pasted (METAR, TAF)", report)
        self.page.get_by_text("Not in use yet").wait_for()
        self.tap("Compare with the report and look beyond it: which of these are true?", "None of these")
        self.page.get_by_text("In use.").wait_for()

    def yourself(self) -> None:
        self.write("Sleep of the last two nights, naps too", SLEPT)
        self.tap("Sleepiness now (1 extremely alert to 9 fighting sleep)", "3")
        self.tap("Which of these are true of you?", "None of these")

    def routine(self) -> None:
        """Everything up to the signature, for a flight with nothing special."""
        self.start()
        self.tap("What kind of flight?", "Rental, nobody else aboard")
        self.tap("Planned take-off", "10:30")
        self.number("Usable fuel (US gal)", "30")
        self.weather()
        self.yourself()
        self.tap("Which of these are true today?", "None of these")
        self.tap("Which of these are done?", "All done")

    def sign(self, button: str, pin: str = "4927") -> None:
        self.entries += 1
        self.presses += 1
        form = self.page.get_by_test_id("stForm").filter(has=self.page.get_by_role("button", name=button))
        form.get_by_role("textbox", name="PIN").fill(pin)
        form.get_by_role("button", name=button).click()
        self.settle()
