"""The way in, in a real browser: wrong words, too many of them, an ended session, a link that leads elsewhere."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, Page, expect

from riskboard import demo
from tests.browser.conftest import enter
from tests.browser.own_server import Served, own_server
from tests.browser.pilot import Pilot

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory, chromium: Browser) -> Iterator[Served]:
    """A server with a clock that the tests move on; the invented school is open."""
    with own_server(tmp_path_factory.mktemp("entering")) as running:
        with chromium.new_context() as context:
            page = context.new_page()
            page.goto(running.address)
            page.get_by_role("button", name="Open the invented demo school").click()
            page.get_by_role("button", name="Enter as Mara Oduya").wait_for()
        yield running


@pytest.fixture
def context(chromium: Browser) -> Iterator[BrowserContext]:
    opened = chromium.new_context(viewport={"width": 390, "height": 844})
    opened.set_default_timeout(20_000)
    yield opened
    opened.close()


@pytest.fixture
def page(context: BrowserContext) -> Page:
    return context.new_page()


def sign_in(page: Page, name: str, words: str) -> None:
    page.get_by_label("Login name").fill(name)
    page.get_by_label("Passphrase").fill(words)
    page.get_by_role("button", name="Enter", exact=True).click()


def test_wrong_words_let_nobody_in_and_keep_the_name(page: Page, served: Served) -> None:
    page.goto(f"{served.address}/record")
    sign_in(page, "ines", "not her words at all")
    expect(page.get_by_role("alert")).to_have_text("That name and passphrase do not fit. Nobody was let in.")
    expect(page.get_by_label("Login name")).to_have_value("ines")
    expect(page.get_by_label("Passphrase")).to_have_value("")
    assert "riskboard" not in {cookie["name"] for cookie in page.context.cookies()}
    sign_in(page, "Ines", demo.DEMO_PASSPHRASE)
    page.get_by_text("Ines Vasko is in").wait_for()
    assert page.url == f"{served.address}/record"


def test_too_many_wrong_words_make_the_right_ones_wait_and_the_page_says_how_long(page: Page, served: Served) -> None:
    page.goto(served.address)
    for _ in range(6):
        sign_in(page, "noor", "not her words at all")
    expect(page.get_by_role("alert")).to_have_text(re.compile(r"Too many wrong tries for this name\. Wait \d+ s"))
    sign_in(page, "noor", demo.DEMO_PASSPHRASE)
    expect(page.get_by_role("alert")).to_contain_text("Too many wrong tries")
    served.clock("2026-05-04T16:00:30Z")
    sign_in(page, "noor", demo.DEMO_PASSPHRASE)
    page.get_by_text("Noor Farrant is in").wait_for()


def test_a_session_ends_by_itself_keeps_what_was_typed_and_leads_back_to_it(page: Page, served: Served) -> None:
    served.clock("2026-05-04T17:00:00Z")
    enter(page, served.address, "Mara Oduya")
    pilot = Pilot(page)
    pilot.start()
    pilot.number("Usable fuel (US gal)", "30")
    address = page.url
    page.wait_for_timeout(3_000)  # whatever the last entry still sets off belongs to the hour before
    served.clock("2026-05-04T17:29:00Z")
    page.wait_for_timeout(1_000)
    expect(page.get_by_text("is in")).to_be_visible()
    served.clock("2026-05-04T17:31:00Z")
    # Nobody touches anything: within seconds the screen clears itself.
    page.get_by_text("You are not signed in any more").wait_for(timeout=90_000)
    expect(page.get_by_text("Usable fuel")).to_have_count(0)
    page.get_by_role("link", name="Enter, and come back here").click()
    page.get_by_role("button", name="Enter as Mara Oduya").click()
    expect(page.get_by_role("spinbutton", name="Usable fuel (US gal)", exact=True)).to_have_value("30")
    assert page.url == address


def test_what_the_page_does_by_itself_keeps_nobody_in(page: Page, served: Served) -> None:
    served.clock("2026-05-04T18:00:00Z")
    enter(page, served.address, "Wendell Achterberg", "/board")
    for minute in (10, 20, 29):
        served.clock(f"2026-05-04T18:{minute}:00Z")
        page.wait_for_timeout(7_000)  # the board looks again every few seconds
        expect(page.get_by_text("is in")).to_be_visible()
    served.clock("2026-05-04T18:30:01Z")
    page.get_by_text("You are not signed in any more").wait_for(timeout=90_000)


def test_leaving_ends_the_session_in_every_tab(page: Page, context: BrowserContext, served: Served) -> None:
    enter(page, served.address, "Tobin Reyes-Hall")
    other = context.new_page()
    other.goto(f"{served.address}/record")
    other.get_by_text("Tobin Reyes-Hall is in").wait_for()
    page.get_by_role("link", name="Leave").click()
    if page.get_by_role("button", name="Leave riskboard").count():
        page.get_by_role("button", name="Leave riskboard").click()
    page.get_by_text("You have left").wait_for()
    other.get_by_text("You are not signed in").wait_for(timeout=90_000)


def test_the_next_person_at_a_shared_desk_is_the_only_one_in(
    page: Page, context: BrowserContext, served: Served
) -> None:
    enter(page, served.address, "Tobin Reyes-Hall")
    other = context.new_page()
    enter(other, served.address, "Ines Vasko", "/enter")
    other.get_by_text("Ines Vasko is in").wait_for()
    page.get_by_text("You are not signed in any more").wait_for(timeout=90_000)


@pytest.mark.parametrize(
    "wanted",
    ["//evil.invented", "https://evil.invented/", "/\\evil.invented", "/%09/evil.invented", "javascript:alert(1)"],
)
def test_the_way_in_leads_to_no_other_host(page: Page, served: Served, wanted: str) -> None:
    page.goto(f"{served.address}/enter?next={wanted}")
    page.get_by_role("button", name="Enter as Ines Vasko").click()
    page.get_by_text("Ines Vasko is in").wait_for()
    assert page.url.startswith(f"{served.address}/")


def test_it_works_without_a_script(chromium: Browser, served: Served) -> None:
    with chromium.new_context(java_script_enabled=False) as context:
        page = context.new_page()
        page.goto(f"{served.address}/enter?next=/health")
        sign_in(page, "sigrun", "wrong words, sorry")
        expect(page.get_by_role("alert")).to_contain_text("do not fit")
        sign_in(page, "sigrun", demo.DEMO_PASSPHRASE)
        expect(page.locator("body")).to_have_text("ok")
        (cookie,) = [each for each in context.cookies() if each["name"] == "riskboard"]
        assert (cookie["httpOnly"], cookie["sameSite"], cookie["path"]) == (True, "Lax", "/")


def test_a_wrong_pin_and_too_many_of_them_sign_nothing_and_the_page_says_how_long_to_wait(
    page: Page, served: Served
) -> None:
    enter(page, served.address, "Joss Okonjo-Lind", "/people")
    page.get_by_text("Change your PIN").click()
    form = page.get_by_test_id("stForm").filter(has=page.get_by_role("button", name="Set the PIN"))
    for said in ["That PIN is not right"] * 3 + ["Too many wrong PINs. Try again in"]:
        form.get_by_role("textbox", name="Present PIN").fill("8351")
        form.get_by_role("textbox", name="New PIN, 4 to 8 digits").fill("7306")
        form.get_by_role("button", name="Set the PIN").click()
        expect(form.get_by_role("alert")).to_contain_text(said)
        page.wait_for_function("() => document.querySelector('.stApp')?.dataset.testScriptState !== 'running'")


def test_somebody_new_sets_their_own_words_with_the_code_that_they_were_given(page: Page, served: Served) -> None:
    enter(page, served.address, "Edda Quaye", "/people")
    page.get_by_text("Add somebody").click()
    form = page.get_by_test_id("stForm").filter(has=page.get_by_role("button", name="Add this person"))
    form.get_by_role("textbox", name="Name", exact=True).fill("Pavel Sirin")
    form.get_by_role("textbox", name="Why").fill("joins the desk")
    form.get_by_role("textbox", name="Your PIN").fill(demo.DEMO_PIN)
    form.get_by_role("button", name="Add this person").click()
    code = page.locator(".rb-receipt").inner_text()
    page.goto(f"{served.address}/enter/code")
    for words, said in (("too short", "at least 12"), ("kettle orbit mossy lamp", "")):
        page.get_by_label("Login name").fill("pavel")
        page.get_by_label("One-time code").fill(code)
        page.get_by_label("New passphrase").fill(words)
        page.get_by_label("PIN for signing").fill("5829")
        page.get_by_role("button", name="Set the passphrase and enter").click()
        if said:
            expect(page.get_by_role("alert")).to_contain_text(said)
    page.get_by_text("Pavel Sirin is in").wait_for()


def _serious(page: Page) -> list[str]:
    found = Axe().run(page).response["violations"]
    return [f"{each['id']}: {each['nodes'][0]['html'][:200]}" for each in found]


@pytest.mark.parametrize(
    ("path", "scheme"),
    [
        ("/enter", "light"),
        ("/enter", "dark"),
        ("/enter/code", "dark"),
        ("/leave", "light"),
        ("/people", "light"),
        ("/people", "dark"),
        ("/enter?next=//x", "dark"),
    ],
)
def test_no_finding_and_nothing_sticks_out_sideways(page: Page, served: Served, path: str, scheme: str) -> None:
    page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
    if path == "/people":
        enter(page, served.address, "Edda Quaye", path)
        page.get_by_text("Keep people").wait_for()
    else:
        page.goto(f"{served.address}{path}")
        if path.startswith("/enter?"):
            sign_in(page, "nobody", "wrong words, sorry")
            page.get_by_role("alert").wait_for()
    assert _serious(page) == []
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


def test_the_check_can_fail(page: Page, served: Served) -> None:
    page.goto(f"{served.address}/enter")
    page.evaluate("document.querySelector('label[for=login_name]').remove()")
    assert _serious(page) != []


def test_a_school_of_ones_own_needs_the_code_from_the_console(chromium: Browser, tmp_path: Path) -> None:
    with own_server(tmp_path) as running, chromium.new_context(viewport={"width": 390, "height": 844}) as context:
        page = context.new_page()
        page.set_default_timeout(20_000)
        page.goto(running.address)
        page.get_by_role("link", name="Set up your school").click()
        assert _serious(page) == []
        (code,) = re.findall(r"^ +([2-9A-Z]{4}(?:-[2-9A-Z]{4}){4})$", running.log.read_text(), re.MULTILINE)
        fields = {
            "Name of the school": "Morrow Field Helicopters",
            "Time zone": "Europe/Zagreb",
            "Your name": "Ana Kovalčik",
            "Login name": "ana",
        }
        for tried, said in (("AAAA-AAAA-AAAA-AAAA-AAAA", "not the code"), (code, "")):
            for label, text in fields.items():
                page.get_by_label(label).fill(text)
            page.get_by_label("Code from the console").fill(tried)
            page.get_by_label("New passphrase").fill("kettle orbit mossy lamp")
            page.get_by_label("PIN for signing").fill("5829")
            page.get_by_role("button", name="Set up and enter").click()
            if said:
                expect(page.get_by_role("alert")).to_contain_text(said)
        page.get_by_text("Ana Kovalčik is in").wait_for()
        expect(page.get_by_text("Morrow Field Helicopters").first).to_be_visible()
        expect(page.get_by_text("administrator, since").first).to_be_visible()
        page.goto(f"{running.address}/enter/first")
        expect(page.get_by_role("alert")).to_contain_text("Somebody runs this school already")
