"""A routine briefing in a real browser, and what must not happen on the way."""

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from playwright.sync_api import Dialog, Page, expect

from tests.browser.pilot import Pilot

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("screen", ["wide", "phone"])
def test_routine_briefing_needs_fewer_than_fifteen_entries(screen: str, request: pytest.FixtureRequest) -> None:
    page: Page = request.getfixturevalue(screen)
    pilot = Pilot(page)
    pilot.routine()
    pilot.sees("no listed reason to stop")
    pilot.sees("acceptable")
    pilot.sign("Accept until")
    pilot.sees("Accepted: go")
    expect(page.get_by_text("What you signed")).to_be_visible()
    expect(page.locator(".rb-receipt").first).to_have_text(re.compile(r"^([0-9A-Z]{4}-){11}[0-9A-Z]{4}$"))
    assert pilot.entries < 15
    assert pilot.presses == 1


def test_pin_and_enter_signs_too(wide: Page) -> None:
    pilot = Pilot(wide)
    pilot.routine()
    pilot.sees("no listed reason to stop")
    form = wide.get_by_test_id("stForm").filter(has=wide.get_by_role("button", name="Accept until"))
    pin = form.get_by_role("textbox", name="PIN")
    pin.fill("4927")
    pin.press("Enter")
    pilot.sees("Accepted: go")


def test_reload_in_the_middle_loses_nothing(phone: Page) -> None:
    pilot = Pilot(phone)
    pilot.start()
    pilot.tap("What kind of flight?", "Rental, nobody else aboard")
    pilot.tap("Planned take-off", "10:30")
    pilot.number("Usable fuel (US gal)", "30")
    pilot.write("Sleep of the last two nights, naps too", "22:30-06:30, 23:00-07:00")
    address = phone.url
    phone.reload()
    phone.get_by_text("Asleep Mon 04 May 22:30").or_(phone.get_by_text("Asleep Sun 03 May 22:30")).wait_for()
    assert phone.url == address
    expect(phone.get_by_role("spinbutton", name="Usable fuel (US gal)", exact=True)).to_have_value("30")
    expect(phone.get_by_role("textbox", name="Sleep of the last two nights, naps too")).to_have_value(
        "22:30-06:30, 23:00-07:00"
    )
    expect(phone.get_by_role("radio", name="10:30")).to_be_checked()
    expect(phone.get_by_role("radio", name="Rental, nobody else aboard")).to_be_checked()


def test_two_tabs_on_one_flight_keep_each_others_entries(wide: Page) -> None:
    first = Pilot(wide)
    first.start()
    other = wide.context.new_page()
    other.goto(wide.url)
    second = Pilot(other)
    second.sees("still blank")
    first.number("Usable fuel (US gal)", "30")
    second.write("Sleep of the last two nights, naps too", "22:30-06:30, 23:00-07:00")
    wide.reload()
    expect(wide.get_by_role("spinbutton", name="Usable fuel (US gal)", exact=True)).to_have_value("30")
    expect(wide.get_by_role("textbox", name="Sleep of the last two nights, naps too")).to_have_value(
        "22:30-06:30, 23:00-07:00"
    )


def test_going_to_the_record_and_back_keeps_the_flight(wide: Page) -> None:
    pilot = Pilot(wide)
    pilot.start()
    address = wide.url
    wide.get_by_role("link", name="Record").click()
    wide.get_by_role("button", name="Verify the record").wait_for()
    wide.get_by_role("link", name="Brief a flight").click()
    pilot.sees("still blank")
    assert wide.url == address


def test_a_wrong_pin_signs_nothing_and_loses_nothing(wide: Page) -> None:
    pilot = Pilot(wide)
    pilot.routine()
    pilot.sign("Accept until", pin="1111")
    expect(wide.get_by_role("alert").filter(has_text="That PIN is not right; nothing was signed.")).to_be_visible()
    pilot.sees("no listed reason to stop")
    expect(wide.get_by_role("spinbutton", name="Usable fuel (US gal)", exact=True)).to_have_value("30")
    pilot.sign("Accept until")
    pilot.sees("Accepted: go")


def test_a_no_go_offers_only_to_decline(wide: Page) -> None:
    pilot = Pilot(wide)
    pilot.start(aircraft="LRS-06")
    pilot.tap("What kind of flight?", "Rental, nobody else aboard")
    pilot.sees("Say what presses first")
    pilot.tap("Which of these are true today?", "None of these")
    pilot.sees("No-go")
    expect(wide.get_by_text("A no-go cannot be accepted")).to_be_visible()
    expect(wide.get_by_role("button", name="Accept until")).to_have_count(0)
    expect(wide.get_by_role("button", name="Ask for a sign-off")).to_have_count(0)
    wide.get_by_role("toolbar", name="Why").get_by_role("button", name="Aircraft").click()
    pilot.sign("Decline")
    pilot.sees("Declined")


def test_what_needs_a_sign_off_can_only_be_asked_for(wide: Page) -> None:
    pilot = Pilot(wide)
    pilot.routine()
    pilot.tap("Which of these are true today?", "Go now or the weather closes")
    pilot.sees("Go with sign-off")
    expect(wide.get_by_role("button", name="Accept until")).to_have_count(0)
    pilot.sign("Ask for a sign-off")
    pilot.sees("Sign-off asked for, not given")
    expect(wide.get_by_text("Do not fly before somebody else has signed.")).to_be_visible()


def test_decline_is_offered_before_anything_is_filled_in(phone: Page) -> None:
    pilot = Pilot(phone)
    pilot.start()
    form = phone.get_by_test_id("stForm").filter(has=phone.get_by_role("button", name="Decline"))
    form.get_by_role("textbox", name="Why, in your words").fill("Not today <b>at all</b>")
    pilot.sign("Decline")
    pilot.sees("Declined")
    expect(phone.get_by_text("Not today <b>at all</b>")).to_be_visible()


@pytest.mark.parametrize(
    "text",
    [
        "<img src=x onerror=alert(1)><b>bold</b>",
        "**stars** `ticks` [link](http://invented.example) $x^2$ :material/warning: :red[red]",
    ],
)
def test_markup_in_a_text_is_shown_as_text(wide: Page, text: str) -> None:
    asked: list[str] = []

    def noted(dialog: Dialog) -> None:
        asked.append(dialog.message)
        dialog.dismiss()

    wide.on("dialog", noted)
    pilot = Pilot(wide)
    pilot.start()
    pilot.tap("Which of these are true today?", "Something else worries me")
    pilot.write("Anything else that worries you", text)
    wide.get_by_text("All entries here").nth(4).click()
    expect(wide.locator(".rb-facts dd", has_text=text).first).to_be_visible()
    form = wide.get_by_test_id("stForm").filter(has=wide.get_by_role("button", name="Decline"))
    form.get_by_role("textbox", name="Why, in your words").fill(text)
    pilot.sign("Decline")
    pilot.sees("Declined")
    expect(wide.get_by_text(text).first).to_be_visible()
    wide.get_by_role("link", name="Record").click()
    expect(wide.locator(".rb-log li", has_text=text).first).to_be_visible()
    assert not asked


def test_an_unsound_entry_is_kept_and_says_what_is_right(wide: Page) -> None:
    pilot = Pilot(wide)
    pilot.start()
    pilot.write("Sleep of the last two nights, naps too", "22:30 til late")
    pilot.sees("Cannot decide: mend these first")
    expect(wide.get_by_text("write one such as 22:30-06:30").first).to_be_visible()
    wide.reload()
    expect(wide.get_by_role("textbox", name="Sleep of the last two nights, naps too")).to_have_value("22:30 til late")
    pilot.write("Sleep of the last two nights, naps too", "22:30-06:30, 23:00-07:00")
    pilot.sees("still blank")


@pytest.mark.parametrize("screen", ["wide", "phone"])
def test_the_verdict_stays_in_view_and_nothing_sticks_out_sideways(screen: str, request: pytest.FixtureRequest) -> None:
    page: Page = request.getfixturevalue(screen)
    Pilot(page).start()
    page.locator("#sign").scroll_into_view_if_needed()
    page.wait_for_timeout(300)
    box, height = page.locator(".rb-band").bounding_box(), page.viewport_size
    assert box is not None
    assert height is not None
    assert 0 <= box["y"] < height["height"] / 3
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


def test_a_blank_reason_leads_to_its_entry(wide: Page) -> None:
    pilot = Pilot(wide)
    pilot.start()
    pilot.tap("Which of these are true today?", "None of these")
    link = wide.get_by_role("link", name="Fill in:").first
    target = str(link.get_attribute("href"))
    link.click()
    wide.wait_for_timeout(300)
    assert wide.evaluate("id => document.getElementById(id)?.getBoundingClientRect().top", target[1:]) < 900
    expect(wide.locator(target)).to_have_count(1)


def test_the_downloaded_worksheet_reproduces_the_decision_on_the_command_line(wide: Page, tmp_path: Path) -> None:
    pilot = Pilot(wide)
    pilot.routine()
    pilot.sign("Accept until")
    pilot.sees("Accepted: go")
    with wide.expect_download() as download:
        wide.get_by_role("button", name="Download the worksheet").click()
    name = download.value.suggested_filename
    download.value.save_as(tmp_path / name)
    line = wide.locator(".rb-receipt", has_text="riskboard assess").inner_text()
    assert line == f"riskboard assess {name}"
    done = subprocess.run(
        [sys.executable, "-m", "riskboard", *line.split()[1:], "--json"],
        cwd=tmp_path,
        env=os.environ | {"PYTHONPATH": str(Path(__file__).resolve().parents[2])},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    again = json.loads(done.stdout)
    said = wide.locator(".rb-facts").inner_text()
    assert f"Go, level {again['level']}, total {again['total']}" in said
