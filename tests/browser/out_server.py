"""A server of its own on a school with one flight out, its clock held at the moment the flight is back."""

import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page

from tests.browser.conftest import _SERVE, _chromium, _free_port, _wait_for, enter
from tests.jobs.callers import flight_out

__all__ = ["Visit", "out_server", "visit"]

Visit = Callable[..., Page]


@pytest.fixture(scope="module")
def out_server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Address of the server."""
    _chromium()
    folder = tmp_path_factory.mktemp("out")
    path, at = flight_out(folder)
    port = _free_port()
    address = f"http://127.0.0.1:{port}"
    root = Path(__file__).resolve().parents[2]
    log = (folder / "server.log").open("wb")
    process = subprocess.Popen(
        [sys.executable, "-c", _SERVE, str(path), str(port)],
        env=os.environ | {"RISKBOARD_NOW": at.isoformat(), "PYTHONPATH": str(root)},
        cwd=folder,
        stdout=log,
        stderr=subprocess.STDOUT,
    )
    try:
        _wait_for(address, process, folder / "server.log")
        yield address
    finally:
        process.terminate()
        process.wait(timeout=20)
        log.close()


@pytest.fixture
def visit(chromium: Browser, out_server: str) -> Iterator[Visit]:
    """Opens a page of the app as somebody, on a desk's screen or a phone's."""
    opened = []

    def go(path: str, who: str = "Mara Oduya", *, width: int = 390) -> Page:
        context = chromium.new_context(viewport={"width": width, "height": 844})
        opened.append(context)
        page = context.new_page()
        page.set_default_timeout(20_000)
        enter(page, out_server, who, path)
        return page

    yield go
    for context in opened:
        context.close()
