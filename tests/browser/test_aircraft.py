"""The aircraft in a browser: all of them in one glance on a phone, one in ten seconds, on light and dark ground."""

import time
from collections.abc import Callable, Iterator

import pytest
from playwright.sync_api import Browser, expect

from riskboard import jobs
from tests.app import flights
from tests.app.desk_app import NOW, PLANNED, make_morning
from tests.app.flights import INES, TOBIN
from tests.browser.served import PHONE, WIDE, Somebody, served
from tests.browser.test_access import _serious

pytestmark = pytest.mark.browser

JOSS = "joss-okonjo-lind"
PIN = "4927"
TEN_S = 10
Comes = Callable[..., Somebody]


@pytest.fixture(scope="module")
def line(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """A server on a morning on which a run-up has grounded an aircraft."""
    path = tmp_path_factory.mktemp("aircraft") / "riskboard.sqlite3"
    make_morning(path)
    office = jobs.open_office(path, now=NOW)
    jobs.release(office, TOBIN, PLANNED, event_id="release", at=NOW)
    flights.run_up(office, PLANNED, TOBIN, NOW, magneto_left_drop_pct=9)
    office.store.close()
    with served(path, NOW.isoformat()) as address:
        yield address


@pytest.fixture
def comes(chromium: Browser, line: str) -> Iterator[Comes]:
    """Somebody comes in, at a screen of their own."""
    opened: list[Somebody] = []

    def come(person_id: str, size: tuple[int, int], *, dark: bool = False) -> Somebody:
        opened.append(Somebody(chromium, line, person_id, size, dark=dark))
        return opened[-1]

    yield come
    for each in opened:
        each.leaves()


def fits(screen: Somebody) -> None:
    assert screen.page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


@pytest.mark.parametrize(("size", "dark"), [(PHONE, False), (WIDE, True)])
def test_all_at_one_glance_and_one_by_one_for_every_eye(comes: Comes, size: tuple[int, int], *, dark: bool) -> None:
    screen = comes(INES, size, dark=dark).opens("aircraft")
    tags = screen.page.locator(".rb-tag")
    expect(tags).to_have_count(6)
    for tag in tags.all():
        box = tag.bounding_box()
        assert box is not None
        assert box["y"] < size[1], "every aircraft shows without scrolling"
    fits(screen)
    assert _serious(screen.page) == []
    screen.opens("aircraft?aircraft=LRS-04")
    expect(screen.page.get_by_role("heading", name="LRS-04: GROUNDED")).to_be_visible()
    fits(screen)
    assert _serious(screen.page) == []


def test_the_next_pilot_reads_why_within_the_first_screen(comes: Comes) -> None:
    phone = comes(INES, PHONE).opens("aircraft")
    began = time.monotonic()
    phone.page.locator(".rb-tag", has_text="LRS-04").click()
    why = phone.page.locator(".rb-know li").first
    expect(why).to_contain_text("Run-up: Drop on the left magneto: 9 %; at most 7 % is right.")
    assert time.monotonic() - began < TEN_S
    box = why.bounding_box()
    assert box is not None
    assert box["y"] + box["height"] < PHONE[1], "why it is grounded shows without scrolling"


def test_a_defect_opened_on_one_phone_shows_on_another(comes: Comes) -> None:
    other = comes(TOBIN, WIDE).opens("aircraft")
    phone = comes(INES, PHONE).opens("aircraft?aircraft=LRS-01")
    phone.page.get_by_role("textbox", name="What is wrong, in a few words").fill("Seat rail <b>loose</b>")
    phone.page.get_by_test_id("stButtonGroup").get_by_text("No solo").click()
    phone.page.get_by_role("button", name="Open the defect").click()
    phone.sees("LRS-01: RESTRICTED")
    expect(other.page.locator(".rb-tag", has_text="LRS-01")).to_contain_text(
        "No solo: Seat rail <b>loose</b>", timeout=30_000
    )


def test_maintenance_has_a_form_that_every_eye_reads(comes: Comes) -> None:
    phone = comes(JOSS, PHONE).opens("aircraft?aircraft=LRS-06")
    phone.page.get_by_role("radio", name="is deferred").or_(
        phone.page.get_by_role("button", name="is deferred")
    ).click()
    phone.sees("Entry in the aircraft's papers")
    phone.settle()
    fits(phone)
    assert _serious(phone.page) == []
