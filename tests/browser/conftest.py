"""One server, started as a user starts it, with a store of its own and the clock held; one browser for all tests."""

import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect, sync_playwright

NOW = "2026-05-04T16:00:00Z"
_STARTS_S = 90
_ARGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
expect.set_options(timeout=15_000)  # a machine that does something else beside this is slow, not wrong
_SERVE = "import sys; from riskboard.app.serve import run; run(sys.argv[1], port=int(sys.argv[2]), open_browser=False)"


def chromium_path() -> str:
    found = os.environ.get("RISKBOARD_CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser")
    if found is None:
        reason = "no Chromium is installed (apt-get install chromium, or name one in RISKBOARD_CHROMIUM)"
        if os.environ.get("CI"):
            pytest.fail(reason)
        pytest.skip(reason)
    return found


def browser_arguments() -> tuple[str, ...]:
    """What every browser of these tests is started with."""
    return _ARGS


def free_port() -> int:
    with socket.socket() as opened:
        opened.bind(("127.0.0.1", 0))
        return int(opened.getsockname()[1])


@pytest.fixture(scope="session")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Address of a running server with the demo school in its store."""
    chromium_path()
    folder = tmp_path_factory.mktemp("store")
    port = free_port()
    address = f"http://127.0.0.1:{port}"
    environment = os.environ | {"RISKBOARD_NOW": NOW, "PYTHONPATH": str(Path(__file__).resolve().parents[2])}
    log = (folder / "server.log").open("wb")
    process = subprocess.Popen(
        [sys.executable, "-c", _SERVE, str(folder / "riskboard.sqlite3"), str(port)],
        env=environment,
        cwd=folder,
        stdout=log,
        stderr=subprocess.STDOUT,
    )
    try:
        wait_for_server(address, process, folder / "server.log")
        yield address
    finally:
        process.terminate()
        process.wait(timeout=20)
        log.close()


def wait_for_server(address: str, process: "subprocess.Popen[bytes]", log: Path) -> None:
    ends = time.monotonic() + _STARTS_S
    while time.monotonic() < ends:
        try:
            with urllib.request.urlopen(f"{address}/health", timeout=2) as answer:  # noqa: S310  - our own server
                if answer.read() == b"ok":
                    return
        except OSError:
            if process.poll() is not None:
                break
            time.sleep(0.2)
    pytest.fail(f"the server did not start: {log.read_text(errors='replace')[-2000:]}")


_free_port, _wait_for, _chromium = (
    free_port,
    wait_for_server,
    chromium_path,
)  # names that other modules of these tests know


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """A headless Chromium."""
    path = chromium_path()
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=path, args=list(_ARGS))
        yield opened
        opened.close()


@pytest.fixture
def wide(chromium: Browser, server: str) -> Iterator[Page]:
    """A desk's screen on the first page of the demo school."""
    yield from _opened(chromium, server, 1280, 900)


@pytest.fixture
def phone(chromium: Browser, server: str) -> Iterator[Page]:
    """A phone's screen on the first page of the demo school."""
    yield from _opened(chromium, server, 390, 844)


def _opened(chromium: Browser, server: str, width: int, height: int) -> Iterator[Page]:
    context = chromium.new_context(viewport={"width": width, "height": height})
    page = context.new_page()
    page.set_default_timeout(20_000)
    strangers: list[str] = []
    page.on("request", lambda request: strangers.append(request.url) if _foreign(request.url, server) else None)
    enter(page, server)
    yield page
    context.close()
    assert not strangers, "the page asked another host"


def enter(page: Page, server: str, who: str = "Mara Oduya", path: str = "/") -> None:
    """Come in as one of the invented people; opens the invented school where the store is still empty."""
    page.goto(f"{server}{path}")
    school = page.get_by_role("button", name="Open the invented demo school")
    person = page.get_by_role("button", name=f"Enter as {who}")
    school.or_(person).first.wait_for()
    if school.count():
        school.click()
    person.click()
    page.get_by_text("It does not mean safe").wait_for()
    page.wait_for_function("() => document.fonts.status === 'loaded'")


def _foreign(url: str, server: str) -> bool:
    return not url.startswith((server, server.replace("http", "ws"), "data:", "blob:"))
