"""At the aircraft with a thumb: a run-up and a shut-down on a phone whose connection comes and goes."""

import re
from collections.abc import Callable, Iterator
from datetime import timedelta

import pytest
from playwright.sync_api import Browser, Page, Route, expect

from riskboard import jobs
from riskboard.ledger import Status
from tests.app import flights
from tests.app.flights import MARA, TOBIN
from tests.browser.line_server import LOOKED, LineServer, Phone, line_server
from tests.browser.test_access import _serious

__all__ = ["line_server"]  # a fixture: pytest finds it here by its name

pytestmark = pytest.mark.browser

LEFT_DROP = "Drop on the left magneto alone"
SAVE = "Save the run-up"


@pytest.fixture
def phone(chromium: Browser, line_server: LineServer) -> Iterator[Callable[..., Phone]]:
    """A phone in somebody's hand."""
    opened: list[Phone] = []

    def take(who: str = "mara", *, dark: bool = False) -> Phone:
        opened.append(Phone(chromium, line_server, who, dark=dark))
        return opened[-1]

    yield take
    for each in opened:
        each.leaves()


def _fits(page: Page) -> None:
    """No wider than the screen, and each target large enough for a thumb (44 px, WCAG 2.5.5)."""
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    small = page.evaluate(
        """() => [...document.querySelectorAll('form button, form a, form input, form select, form summary, a.way')]
          .filter((each) => each.checkVisibility() && each.type !== 'hidden')
          .map((each) => [each.name || each.textContent, each.getBoundingClientRect()])
          .filter(([, box]) => box.height < 44 || box.width < 44).map(([name]) => name)"""
    )
    assert small == []


def test_a_run_up_with_a_thumb_then_off_and_back_and_closed(
    phone: Callable[..., Phone], line_server: LineServer
) -> None:
    flight = line_server.released("thumbflight")
    mara = phone().opens(f"/run-up/{flight}")
    _fits(mara.page)
    mara.types()
    assert "NOT SAVED YET" in mara.bar()
    mara.presses(SAVE)
    expect(mara.page.get_by_text("Run-up good")).to_be_visible()
    expect(mara.page.get_by_text("On record", exact=True)).to_be_visible()
    _fits(mara.page)
    mara.presses("It leaves now")
    expect(mara.page.get_by_text("LRS-01 left at")).to_be_visible()
    line_server.clock(line_server.now + timedelta(minutes=50))
    mara.page.get_by_role("link", name="Back again? Shut down and close the flight").tap()
    mara.tap("How did it go?", "As planned")
    mara.page.get_by_label("Hour meter after the flight").fill("2232.2")
    mara.page.get_by_label("Fuel left").fill("19")
    mara.tap("The aircraft was left", "Not all in place")
    mara.tap("Cabin clean", "out of place")
    _fits(mara.page)
    mara.presses("Close the flight")
    expect(mara.page.get_by_text("LRS-01: closed, as planned.")).to_be_visible()
    assert [line_server.kinds(flight, kind) for kind in ("run_up", "took_off", "debriefed")] == [1, 1, 1]
    left = jobs.document(line_server.office, "aircraft", "LRS-01")["condition_left"]
    assert left["items"] == {"cabin_clean": "out_of_place"}
    assert left["fuel_left_gal"] == 19.0


def test_a_minute_without_a_network_loses_nothing_and_saves_once_by_itself(
    phone: Callable[..., Phone], line_server: LineServer
) -> None:
    flight = line_server.released("offlineflight")
    mara = phone()
    mara.page.clock.install()
    mara.opens(f"/run-up/{flight}").types()
    mara.context.set_offline(True)
    mara.presses(SAVE)
    bar = mara.page.locator("[data-bar]")
    expect(bar).to_contain_text("NOT SAVED YET")
    for _ in range(6):
        mara.page.clock.fast_forward(10_000)
        expect(bar).to_contain_text("NOT SAVED YET")
    expect(bar).to_contain_text("sent again by itself")
    expect(mara.page.get_by_label(LEFT_DROP)).to_have_value("3,5")
    assert _serious(mara.page) == []
    assert line_server.kinds(flight, "run_up") == 0
    mara.context.set_offline(False)
    expect(mara.page.get_by_text("Run-up good")).to_be_visible()
    assert "NOT SAVED YET" not in mara.page.locator("main").inner_text()
    mara.page.clock.fast_forward(60_000)
    assert line_server.kinds(flight, "run_up") == 1


def test_a_server_that_is_down_is_waited_for(phone: Callable[..., Phone], line_server: LineServer) -> None:
    flight = line_server.released("downflight")
    mara = phone()
    mara.page.clock.install()
    mara.opens(f"/run-up/{flight}").types()
    line_server.stop()
    try:
        mara.presses(SAVE)
        expect(mara.page.locator("[data-bar]")).to_contain_text("NOT SAVED YET")
        assert line_server.kinds(flight, "run_up") == 0
    finally:
        line_server.start()
    mara.page.clock.fast_forward(20_000)
    expect(mara.page.get_by_text("Run-up good")).to_be_visible()
    assert line_server.kinds(flight, "run_up") == 1


def test_an_answer_that_is_lost_on_its_way_makes_no_second_record(
    phone: Callable[..., Phone], line_server: LineServer
) -> None:
    flight = line_server.released("lostflight")
    mara = phone().opens(f"/run-up/{flight}").types()

    def lose(route: Route) -> None:
        route.fetch()
        route.abort()

    mara.page.route("**/run-up/**", lose, times=1)
    mara.presses(SAVE)
    expect(mara.page.locator("[data-bar]")).to_contain_text("NOT SAVED YET")
    assert line_server.kinds(flight, "run_up") == 1
    mara.page.reload()  # what was pressed is sent again: it finds its own record
    expect(mara.page.get_by_text("Run-up good")).to_be_visible()
    assert line_server.kinds(flight, "run_up") == 1


def test_a_page_of_some_other_network_is_not_taken_for_an_answer(
    phone: Callable[..., Phone], line_server: LineServer
) -> None:
    """A hotel's sign-in page answers 200 to anything."""
    flight = line_server.released("hotelflight")
    mara = phone().opens(f"/run-up/{flight}").types()
    mara.page.route("**/run-up/**", lambda route: route.fulfill(status=200, body="<h1>Welcome</h1>"), times=1)
    mara.presses(SAVE)
    expect(mara.page.locator("[data-bar]")).to_contain_text("NOT SAVED YET The school's server does not answer.")
    assert line_server.kinds(flight, "run_up") == 0
    mara.presses("Try now")
    expect(mara.page.get_by_text("Run-up good")).to_be_visible()


def test_a_double_tap_is_one_record(phone: Callable[..., Phone], line_server: LineServer) -> None:
    flight = line_server.released("doubleflight")
    mara = phone().opens(f"/run-up/{flight}").types()
    mara.page.evaluate(
        "() => { const press = document.querySelector('form[data-kept] .bar button'); press.click(); press.click(); }"
    )
    expect(mara.page.get_by_text("Run-up good")).to_be_visible()
    assert line_server.kinds(flight, "run_up") == 1


def test_what_is_changed_after_the_press_is_not_sent_half_typed(
    phone: Callable[..., Phone], line_server: LineServer
) -> None:
    flight = line_server.released("changedflight")
    mara = phone().opens(f"/run-up/{flight}").types()
    mara.context.set_offline(True)
    mara.presses(SAVE)
    expect(mara.page.locator("[data-bar]")).to_contain_text("No connection")
    mara.page.get_by_label(LEFT_DROP).fill("4")
    expect(mara.page.locator("[data-bar]")).to_contain_text("You changed it after you had pressed. Press again.")
    mara.context.set_offline(False)
    mara.page.wait_for_timeout(300)
    assert line_server.kinds(flight, "run_up") == 0
    mara.presses(SAVE)
    expect(mara.page.get_by_text("Run-up good")).to_be_visible()
    assert line_server.kinds(flight, "run_up") == 1


def test_a_bad_magneto_names_who_must_clear_it(phone: Callable[..., Phone], line_server: LineServer) -> None:
    flight = line_server.released("magnetoflight", TOBIN, "LRS-03")
    tobin = phone("tobin", dark=True).opens(f"/run-up/{flight}").types(**{LEFT_DROP: "9"})
    tobin.presses(SAVE)
    record = tobin.page.get_by_role("region", name="On record")
    expect(record).to_contain_text("LRS-03 is grounded: it does not fly until maintenance has signed.")
    expect(record).to_contain_text("Drop on the left magneto: 9 %; at most 7 % is right")
    expect(record.get_by_text("Maintenance must sign before it flies").first).to_be_visible()
    assert tobin.page.get_by_role("button", name="It leaves now").count() == 0
    assert _serious(tobin.page) == []
    _fits(tobin.page)
    assert jobs.flight_card(line_server.office, flight, at=line_server.now).void


def test_a_session_that_ended_meanwhile_asks_to_sign_in_again_and_loses_nothing(
    phone: Callable[..., Phone], line_server: LineServer
) -> None:
    flight = line_server.released("endedflight")
    mara = phone().opens(f"/run-up/{flight}").types()
    mara.context.set_offline(True)
    mara.presses(SAVE)
    expect(mara.page.locator("[data-bar]")).to_contain_text("No connection")
    token = next(each["value"] for each in mara.context.cookies() if each["name"] == "riskboard")
    jobs.sign_out(line_server.office, token, at=line_server.now)
    mara.context.set_offline(False)
    again = mara.page.get_by_role("link", name="Sign in again")
    expect(again).to_be_visible()
    expect(mara.page.locator("[data-bar]")).to_contain_text("You are not signed in any more")
    expect(mara.page.get_by_label(LEFT_DROP)).to_have_value("3,5")
    assert line_server.kinds(flight, "run_up") == 0
    assert _serious(mara.page) == []
    _fits(mara.page)
    again.tap()
    mara.page.get_by_role("button", name="Enter as Mara Oduya").tap()
    expect(mara.page.get_by_text("Run-up good")).to_be_visible()
    assert line_server.kinds(flight, "run_up") == 1


def test_somebody_else_at_the_same_phone_finds_nothing_of_it(
    phone: Callable[..., Phone], line_server: LineServer
) -> None:
    flight = line_server.released("sharedflight")
    mara = phone().opens(f"/run-up/{flight}")
    mara.page.get_by_label(LEFT_DROP).fill("6")
    mara.page.reload()
    expect(mara.page.get_by_label(LEFT_DROP)).to_have_value("6")
    expect(mara.page.locator("[data-bar]")).to_contain_text("What you typed is here")
    mara.who = "sigrun"
    mara.enters()
    mara.page.reload()
    assert "6" not in mara.page.locator("main input").evaluate_all("all => all.map(each => each.value)")
    assert flights.SIGRUN not in {card.pilot_id for card in jobs.board(line_server.office, MARA, at=line_server.now)}


def test_waits_are_counted_and_not_lost_on_reload(phone: Callable[..., Phone], line_server: LineServer) -> None:
    flight = line_server.released("waitflight")
    mara = phone()
    mara.page.clock.install()
    mara.opens(f"/shut-down/{flight}")
    cool = mara.page.locator("[data-name=cool_down]")
    expect(cool.locator("[data-left]")).to_have_text("2:00")
    cool.get_by_role("button").tap()
    mara.page.clock.run_for(30_000)
    expect(cool.locator("[data-left]")).to_have_text(re.compile(r"^1:(29|30)$"))
    mara.page.reload()
    mara.page.clock.run_for(1_000)
    expect(cool.locator("[data-left]")).to_have_text(re.compile(r"^1:2\d$"))
    mara.page.clock.run_for(90_000)
    expect(cool.locator("[data-over]")).to_have_text("Cooled down.")
    expect(cool.locator("[data-left]")).to_have_text("0:00")
    assert _serious(mara.page) == []
    expect(mara.page.locator("[data-name=mixture] [data-left]")).to_have_text("0:30")


def test_a_shut_down_told_without_a_network_closes_the_flight_once(
    phone: Callable[..., Phone], line_server: LineServer
) -> None:
    flight = line_server.released("backflight")
    mara = phone().opens(f"/shut-down/{flight}")
    mara.context.set_offline(True)
    mara.tap("How did it go?", "As planned")
    mara.tap("The aircraft was left", "All in place")
    mara.presses("Close the flight")
    expect(mara.page.locator("[data-bar]")).to_contain_text("NOT SAVED YET")
    line_server.clock(line_server.now + timedelta(minutes=1))
    mara.context.set_offline(False)
    expect(mara.page.get_by_text("LRS-01: closed, as planned.")).to_be_visible()
    assert line_server.kinds(flight, "debriefed") == 1
    assert jobs.flight_card(line_server.office, flight, at=line_server.now).status is Status.DEBRIEFED


def test_without_a_script_the_form_works_as_forms_do(chromium: Browser, line_server: LineServer) -> None:
    flight = line_server.released("plainflight")
    mara = Phone(chromium, line_server)
    plain = chromium.new_context(java_script_enabled=False, storage_state=mara.context.storage_state())
    page = plain.new_page()
    page.goto(f"{line_server.address}/run-up/{flight}")
    page.get_by_label(LEFT_DROP).fill("3")
    page.get_by_role("button", name=SAVE).click()
    expect(page.get_by_text("It does not leave like this.")).to_be_visible()
    expect(page.get_by_label(LEFT_DROP)).to_have_value("3")
    assert line_server.kinds(flight, "run_up") == 1
    assert len(LOOKED) == 5
    plain.close()
    mara.leaves()


@pytest.mark.parametrize(("width", "scheme"), [(390, "light"), (1280, "dark")])
def test_no_serious_finding(phone: Callable[..., Phone], line_server: LineServer, scheme: str, width: int) -> None:
    flight = line_server.released(f"axe{scheme}{width}")
    mara = phone(dark=scheme == "dark")
    mara.page.set_viewport_size({"width": width, "height": 844})
    for path in (f"/run-up/{flight}", f"/shut-down/{flight}"):
        mara.opens(path)
        for box in mara.page.locator("summary").all():
            box.tap()
        assert _serious(mara.page) == []
    mara.page.get_by_role("button", name="Close the flight").tap()
    expect(mara.page.get_by_text("mend what is named below")).to_be_visible()
    assert _serious(mara.page) == []
    mara.page.evaluate("document.querySelector('.ask').style.color = '#eee9e0'" if scheme == "light" else "0")
    assert (_serious(mara.page) != []) == (scheme == "light")
