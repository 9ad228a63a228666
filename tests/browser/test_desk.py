"""Pilot, desk and board in browsers of their own: what one does, the others see within seconds, without reloading."""

from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, expect

from riskboard import jobs
from tests.app import flights
from tests.app.desk_app import ASKED, LATER, NOW, OUT, make_morning
from tests.app.flights import INES, MARA, NOOR, RIDGE, SIGRUN, SOUTH, TOBIN, WENDELL
from tests.browser.pilot import REPORT, Pilot
from tests.browser.served import PHONE, WIDE, Somebody, served

pytestmark = pytest.mark.browser

PIN = "4927"
SECONDS = 10
"""Within how many seconds somebody else's act has to show by itself."""
RACED, DOUBTED, UNWANTED, WIDER = "raced000", "doubted0", "unwanted", "wider000"
ATTESTED = ("I have gone through the entries", "In my judgement this flight can be made safely")
CONDITIONS = "Conditions, one a line (may stay empty)"

Comes = Callable[..., Somebody]


def _make_day(path: Path) -> None:
    make_morning(path)
    office = jobs.open_office(path, now=NOW)
    asked = NOW - timedelta(minutes=15)
    for flight_id, pilot_id, aircraft_id, route_id in (
        (RACED, MARA, "LRS-02", RIDGE),
        (DOUBTED, TOBIN, "LRS-04", SOUTH),
        (UNWANTED, TOBIN, "LRS-05", SOUTH),
        (WIDER, MARA, "LRS-01", RIDGE),
    ):
        flights.fill_in(office, flight_id, pilot_id, aircraft_id, route_id, asked, leaves_in_min=60)
        flights.ask(office, flight_id, NOW - timedelta(minutes=9))
    office.store.close()


@pytest.fixture(scope="module")
def day(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """A server on a morning's store."""
    path = tmp_path_factory.mktemp("day") / "riskboard.sqlite3"
    _make_day(path)
    with served(path, NOW.isoformat()) as address:
        yield address


@pytest.fixture(scope="module")
def evening(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """A server hours later on a morning's store: an aircraft has not come back."""
    path = tmp_path_factory.mktemp("evening") / "riskboard.sqlite3"
    make_morning(path)
    with served(path, LATER.isoformat()) as address:
        yield address


@pytest.fixture
def comes(chromium: Browser) -> Iterator[Comes]:
    """Lets somebody come in at a screen of their own."""
    here: list[Somebody] = []

    def come(address: str, person_id: str, size: tuple[int, int], *, dark: bool = False) -> Somebody:
        here.append(Somebody(chromium, address, person_id, size, dark=dark))
        return here[-1]

    yield come
    for somebody in here:
        somebody.leaves()


def signs(desk: Somebody, conditions: str = "") -> None:
    form = desk.form("Sign")
    for words in ATTESTED:
        form.get_by_text(words).click()
    typed = {"You: awake since": "06:00", "You: on duty since": "8", CONDITIONS: conditions}
    desk.presses("Sign", typed, pin=PIN)


def opens_request(desk: Somebody, registration: str) -> None:
    desk.page.get_by_role("button", name=f"Open {registration}", exact=True).click()
    desk.sees("What the pilot saw")
    desk.settle()


def test_a_request_from_a_phone_is_signed_at_the_desk_taken_and_released(day: str, comes: Comes) -> None:
    phone = comes(day, TOBIN, PHONE).opens("")
    pilot = Pilot(phone.page)
    pilot.start(aircraft="LRS-03", route="South practice area")
    pilot.tap("What kind of flight?", "Rental, nobody else aboard")
    pilot.tap("Planned take-off", "10:45")
    pilot.number("Usable fuel (US gal)", "30")
    pilot.weather(REPORT.replace("041553Z", "041535Z"))  # a newer one would end every yes that stands
    pilot.yourself()
    pilot.tap("Which of these are true today?", "None of these")
    pilot.tap("Which of these are done?", "All done")
    pilot.sees("only with somebody else's signature")
    desk = comes(day, WENDELL, WIDE).opens("desk")
    expect(desk.page.get_by_role("button", name="Open LRS-03")).to_have_count(0)
    phone.presses("Ask for a sign-off", {"What the second person should know": "Rotor <b>tied</b>"}, pin=PIN)
    pilot.sees("Sign-off asked for")

    desk.sees("Rotor <b>tied</b>", within_s=SECONDS)
    opens_request(desk, "LRS-03")
    signs(desk, "Back by noon\nNo touchdown autorotations")
    desk.sees("Wendell Achterberg signed it at 10:00 MDT.")

    phone.sees("No touchdown autorotations", within_s=SECONDS)
    phone.sees("Yes by Wendell Achterberg, dispatcher, 10:00 MDT.")
    phone.presses("Take it until", pin=PIN, exact=False)
    pilot.sees("Accepted: go with sign-off")
    board, other = comes(day, WENDELL, WIDE).opens("board"), comes(day, INES, PHONE).opens("board")
    phone.page.get_by_role("button", name="Release: take the aircraft").click()
    phone.sees("LRS-03 is out on another flight.")  # Mara has it: a yes releases no aircraft that is away
    for screen in (board, other):
        row = screen.page.locator(".rb-flight", has_text="Tobin Reyes-Hall").filter(has_text="LRS-03")
        expect(row.filter(has_text="Accepted")).to_be_visible(timeout=SECONDS * 1000)


def test_what_is_taken_is_released_leaves_and_both_boards_follow(day: str, comes: Comes) -> None:
    desk = comes(day, WENDELL, WIDE).opens(f"desk?flight={ASKED}")
    board, other = comes(day, SIGRUN, WIDE).opens("board"), comes(day, INES, PHONE).opens("board")
    signs(desk)
    phone = comes(day, TOBIN, PHONE).opens(f"?flight={ASKED}")
    phone.presses("Take it until", pin=PIN, exact=False)
    phone.page.get_by_role("button", name="Release: take the aircraft").click()
    for state, goes in (("Released", True), ("Airborne", False)):
        for screen in (board, other):
            row = screen.page.locator(".rb-flight", has_text="LRS-01").filter(has_text="Tobin")
            expect(row.filter(has_text=state)).to_be_visible(timeout=SECONDS * 1000)
        if goes:
            phone.runs_up().page.get_by_role("button", name="It leaves now", exact=True).click()
            phone.page.get_by_text(" left at ").first.wait_for()
    phone.opens(f"?flight={ASKED}").sees("Airborne")


def test_a_refusal_shows_on_the_phone_and_at_the_next_briefing(day: str, comes: Comes) -> None:
    phone = comes(day, TOBIN, PHONE).opens(f"?flight={UNWANTED}")
    phone.sees("Sign-off asked for")
    desk = comes(day, SIGRUN, WIDE).opens("desk")
    opens_request(desk, "LRS-05")
    desk.presses("Refuse", {"Your reason": "Wind at the ridge <i>today</i>"}, pin=PIN)
    desk.sees("Sigrun Palo refused it at 10:00 MDT.")
    phone.sees("Sigrun Palo refused", within_s=SECONDS)
    phone.sees("Wind at the ridge <i>today</i>")
    phone.page.get_by_role("button", name="Change this flight and brief it again").click()
    phone.sees("Somebody said no today, at 10:00 MDT")


def test_a_question_comes_back_is_answered_and_asked_again(day: str, comes: Comes) -> None:
    phone = comes(day, TOBIN, PHONE).opens(f"?flight={DOUBTED}")
    desk = comes(day, WENDELL, WIDE).opens("desk")
    opens_request(desk, "LRS-04")
    desk.presses("Send back with a question", {"Your question": "Enough fuel for the detour?"}, pin=PIN)
    phone.sees("Enough fuel for the detour?", within_s=SECONDS)
    phone.sees("Wendell Achterberg asks")
    phone.page.get_by_role("button", name="Change the worksheet and ask again").click()
    phone.sees("starts from the sheet on record")
    Pilot(phone.page).number("Usable fuel (US gal)", "29")
    phone.sees("30 US gal \N{RIGHTWARDS ARROW} 29 US gal")
    phone.presses("Ask for a sign-off", {"What the second person should know": "Yes: 29 gal"}, pin=PIN)
    desk.sees("What the pilot saw", within_s=SECONDS)  # the same screen shows the new request by itself
    desk.sees("Yes: 29 gal")
    desk.sees("30 US gal \N{RIGHTWARDS ARROW} 29 US gal")


def test_of_two_desks_one_signs_and_the_other_is_told_who_was_first(day: str, comes: Comes) -> None:
    first, second = comes(day, WENDELL, WIDE).opens("desk"), comes(day, SIGRUN, WIDE).opens("desk")
    for desk in (first, second):
        opens_request(desk, "LRS-02")
    form = second.form("Sign")
    for words in ATTESTED:
        form.get_by_text(words).click()
    form.get_by_role("textbox", name=CONDITIONS).fill("Typed, not sent")
    second.page.wait_for_timeout(7_000)  # two looks later nothing typed is lost
    expect(form.get_by_role("textbox", name=CONDITIONS)).to_have_value("Typed, not sent")
    expect(form.get_by_role("checkbox").first).to_be_checked()
    signs(first)
    first.sees("Wendell Achterberg signed it at 10:00 MDT.")
    second.sees("Wendell Achterberg signed it at 10:00 MDT.", within_s=SECONDS)
    expect(second.page.get_by_role("button", name="Sign", exact=True)).to_have_count(0)


def test_a_link_into_the_desk_opens_with_the_frame_around_it(evening: str, comes: Comes) -> None:
    """The first page that anybody asks a fresh server for."""
    desk = comes(evening, WENDELL, WIDE).opens("desk")
    expect(desk.page.locator(".rb-head")).to_contain_text("Wendell Achterberg is in")
    expect(desk.page.get_by_role("link", name="Board")).to_be_visible()


def test_an_aircraft_that_is_not_back_alarms_on_every_page(evening: str, comes: Comes) -> None:
    watch = comes(evening, WENDELL, WIDE)
    for path in ("board", "desk", "", "record"):
        watch.opens(path)
        alarm = watch.page.get_by_role("alert").filter(has_text="OVERDUE: LRS-03, Mara Oduya, Circuits at Larkfield")
        expect(alarm).to_be_in_viewport()
    watch.opens("board")
    other = comes(evening, NOOR, PHONE).opens("")
    expect(other.page.get_by_role("alert").filter(has_text="OVERDUE: LRS-03")).to_be_in_viewport()
    own = watch.page.get_by_role("textbox", name="Something else was done")
    own.fill("Asked the quarry")
    watch.page.get_by_role("button", name="Done: step 1", exact=True).click()
    watch.sees("Wendell Achterberg, 1 h 30 min overdue", within_s=SECONDS)
    watch.page.wait_for_timeout(6_000)
    expect(own).to_have_value("Asked the quarry")  # what draws itself again takes nothing typed away
    other.sees("What to do now: 1 of", within_s=SECONDS)
    renter = comes(evening, TOBIN, PHONE).opens("board")
    renter.sees("Overdue by 90 min")
    expect(renter.page.get_by_role("alert")).to_have_count(0)
    pilot = comes(evening, MARA, PHONE).opens(f"?flight={OUT}")
    pilot.sees("If it is back, close it with a debrief now.")


def _serious(somebody: Somebody) -> list[str]:
    found = Axe().run(somebody.page).response["violations"]
    return [
        f"{each['id']}: {each['nodes'][0]['html'][:200]}" for each in found if each["impact"] in {"serious", "critical"}
    ]


@pytest.mark.parametrize("dark", [False, True])
def test_no_serious_finding_for_those_who_hear_or_see_less(day: str, evening: str, comes: Comes, *, dark: bool) -> None:
    desk = comes(day, SIGRUN, WIDE, dark=dark)
    for path in ("desk", f"desk?flight={WIDER}", "board", f"?flight={WIDER}"):
        assert _serious(desk.opens(path)) == [], path
    pilot = comes(day, MARA, PHONE, dark=dark)
    for path in ("board", f"?flight={WIDER}", f"?flight={RACED}"):
        assert _serious(pilot.opens(path)) == [], path
    watch = comes(evening, WENDELL, PHONE, dark=dark)
    assert _serious(watch.opens("board")) == []


def test_nothing_is_wider_than_a_phone(day: str, evening: str, comes: Comes) -> None:
    for address, path in ((day, f"desk?flight={WIDER}"), (day, "board"), (day, "desk"), (evening, "board")):
        desk = comes(address, SIGRUN, PHONE).opens(path)
        over = desk.page.evaluate("() => document.querySelector('.stMain').scrollWidth - window.innerWidth")
        assert over <= 0, path
