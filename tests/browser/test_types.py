"""Aircraft types in a real browser: uploaded, mended, published; and the hot afternoon that a usual sheet refuses."""

from pathlib import Path

import pytest
from playwright.sync_api import expect

from riskboard.shipped import aircraft_type_files
from tests.browser.out_server import Visit, out_server, visit
from tests.browser.pilot import Pilot
from tests.browser.test_access import _serious

__all__ = ["out_server", "visit"]  # fixtures: pytest finds them here by their names

pytestmark = pytest.mark.browser

((_, TEXT),) = aircraft_type_files()


@pytest.mark.parametrize(("width", "version"), [(1280, 2), (390, 3)])
def test_a_text_is_uploaded_mended_where_it_is_wrong_and_published(
    visit: Visit, tmp_path: Path, width: int, version: int
) -> None:
    page = visit("/school?kind=aircraft_type", "Joss Okonjo-Lind", width=width)
    expect(page.get_by_text("LRS-01, LRS-02, LRS-03")).to_be_visible()
    newer = TEXT.replace("\nversion: 1\n", f"\nversion: {version}\n")
    wrong = newer.replace("wind_max_kt: 35", "wind_max_kt: a lot")
    (tmp_path / "own.yaml").write_text(wrong, encoding="utf-8")
    page.locator("input[type=file]").set_input_files(str(tmp_path / "own.yaml"))
    expect(page.get_by_text("The text is refused; 1 thing to mend.")).to_be_visible()
    line = wrong.split("\n").index("  wind_max_kt: a lot") + 1
    expect(page.get_by_text(f"Line {line}, column 16")).to_be_visible()
    assert _serious(page) == []
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    person = Pilot(page)
    box = page.get_by_role("textbox", name="or paste it")
    expect(box).to_have_value(wrong)
    box.fill(newer)
    box.press("Control+Enter")
    expect(page.get_by_text("The text can be published.")).to_be_visible()
    person.write("Why, or where the figures come from", "Revision 4 of the handbook")
    page.get_by_role("button", name=f"Publish Tarnwick 2 (invented), version {version}").click()
    expect(page.get_by_text(f"version {version}. It is in force now.")).to_be_visible()
    expect(box).to_have_value("")
    page.reload()
    expect(page.locator(".rb-facts").first).to_contain_text(f"{version}, published 04 May 2026")
    assert _serious(page) == []
