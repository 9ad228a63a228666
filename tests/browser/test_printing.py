"""A pilot prints what was signed, in a real browser: the file is a sheet that proves the record it came from."""

import re
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.browser.pilot import Pilot
from tests.sheets.paper import page_sizes, text_of

pytestmark = pytest.mark.browser

RECEIPT = re.compile(r"\b(?:[0-9A-Z]{4}-){11}[0-9A-Z]{4}\b")


def downloaded(page: Page, label: str, folder: Path) -> bytes:
    with page.expect_download() as begun:
        page.get_by_role("button", name=label).click()
    path = folder / begun.value.suggested_filename
    begun.value.save_as(path)
    return path.read_bytes()


def test_the_pilot_prints_sheet_and_card(wide: Page, tmp_path: Path) -> None:
    pilot = Pilot(wide)
    pilot.routine()
    pilot.sees("no listed reason to stop")
    pilot.sign("Accept until")
    pilot.sees("Accepted: go")
    shown = wide.locator(".rb-receipt").first.text_content() or ""
    wide.get_by_role("button", name="Release sheet (PDF)").scroll_into_view_if_needed()
    sheet = downloaded(wide, "Release sheet (PDF)", tmp_path)
    text = text_of(sheet)
    assert len(page_sizes(sheet)) == 1
    assert RECEIPT.findall(text) == [shown.strip()]  # nothing was recorded between signing and printing
    assert "Mara Oduya" in text
    assert "this paper is no release" in text  # accepted, not handed over yet
    card = downloaded(wide, "Kneeboard card (PDF)", tmp_path)
    assert RECEIPT.findall(text_of(card)) == RECEIPT.findall(text)
    wide.get_by_role("link", name="Record").click()
    wide.get_by_role("textbox", name="Receipt code (may be left empty)").fill(shown)
    wide.get_by_role("button", name="Verify the record").click()
    expect(wide.get_by_text("the receipt agrees with it")).to_be_visible()
