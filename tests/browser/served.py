"""A server of its own on a given store and clock, and people who come in to it from their own browsers."""

import os
import subprocess
import sys
import urllib.request
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from playwright.sync_api import Browser, BrowserContext, Locator, Page, expect

from riskboard import demo
from tests.browser import conftest
from tests.browser.line_server import GOOD, LOOKED

PHONE, WIDE = (390, 844), (1280, 900)


@contextmanager
def served(store: Path, now: str) -> Iterator[str]:
    """The address of a server on this store, its clock held at ``now``."""
    port = conftest._free_port()
    address = f"http://127.0.0.1:{port}"
    environment = os.environ | {"RISKBOARD_NOW": now, "PYTHONPATH": str(Path(__file__).resolve().parents[2])}
    log = store.parent / f"server-{port}.log"
    with log.open("wb") as out:
        process = subprocess.Popen(
            [sys.executable, "-c", conftest._SERVE, str(store), str(port)],
            env=environment,
            cwd=store.parent,
            stdout=out,
            stderr=subprocess.STDOUT,
        )
        try:
            conftest._wait_for(address, process, log)
            with urllib.request.urlopen(f"{address}/health", timeout=5):  # noqa: S310  - our own server
                pass
            yield address
        finally:
            process.terminate()
            process.wait(timeout=20)


class Somebody:
    """One person at one screen."""

    def __init__(
        self, chromium: Browser, address: str, person_id: str, size: tuple[int, int], *, dark: bool = False
    ) -> None:
        self.address = address
        self.context: BrowserContext = chromium.new_context(
            viewport={"width": size[0], "height": size[1]}, color_scheme="dark" if dark else "light"
        )
        login: dict[str, str | float | bool] = {
            "login_name": demo.LOGIN_NAMES[person_id],
            "passphrase": demo.DEMO_PASSPHRASE,
            "next": "/health",
        }
        came_in = self.context.request.post(f"{address}/enter", form=login, headers={"origin": address})
        assert came_in.ok, came_in.text()
        self.page: Page = self.context.new_page()
        self.page.set_default_timeout(20_000)

    def opens(self, path: str) -> "Somebody":
        """Open a page and wait until it stands."""
        self.page.goto(f"{self.address}/{path}")
        self.page.get_by_text("It does not mean safe").wait_for()
        self.settle()
        return self

    def sees(self, words: str, *, within_s: float = 15) -> None:
        """Wait until the words stand on the page, without touching it."""
        expect(self.page.locator(".stMain")).to_contain_text(words, timeout=within_s * 1000)

    def settle(self) -> None:
        """Until nothing is running."""
        self.page.wait_for_timeout(80)
        self.page.wait_for_function(
            "() => document.querySelector('.stApp')?.dataset.testScriptState !== 'running'", timeout=20_000
        )

    def form(self, button: str, *, exact: bool = True) -> Locator:
        """The form that ends with this button."""
        pressed = self.page.get_by_role("button", name=button, exact=exact)
        return self.page.get_by_test_id("stForm").filter(has=pressed)

    def presses(
        self, button: str, typed: Mapping[str, str] | None = None, *, pin: str = "", exact: bool = True
    ) -> None:
        """Type into the form of this button, label by label, and press it."""
        form = self.form(button, exact=exact)
        for label, text in (typed or {}).items():
            form.get_by_role("textbox", name=label, exact=True).fill(text)
        if pin:
            form.get_by_role("textbox", name="PIN").fill(pin)
        form.get_by_role("button", name=button, exact=exact).click()
        self.settle()

    def runs_up(self, **changed: str) -> "Somebody":
        """From a released flight's page to the aircraft: enter a good run-up, save what is changed, by label."""
        self.page.get_by_role("link", name="Run-up at the aircraft").click()
        for label, value in GOOD.items():
            self.page.get_by_label(label, exact=True).fill(changed.get(label, value))
        for question in LOOKED:
            self.answers(question, "Yes")
        self.answers("Anything odd heard, felt or smelt", "Nothing odd")
        self.page.get_by_role("button", name="Save the run-up", exact=True).click()
        expect(self.page.get_by_text("On record", exact=True)).to_be_visible()
        return self

    def answers(self, question: str, answer: str) -> None:
        """Answer on a plain page at the aircraft."""
        group = self.page.get_by_role("group", name=question, exact=True)
        tile = group.get_by_role("radio", name=answer, exact=True).or_(
            group.get_by_role("checkbox", name=answer, exact=True)
        )
        tile.check()

    def leaves(self) -> None:
        """Close the browser."""
        self.context.close()
