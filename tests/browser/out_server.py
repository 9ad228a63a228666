"""A server of its own on a school with one flight out, its clock held at the moment the flight is back."""

from collections.abc import Callable, Iterator

import pytest
from playwright.sync_api import Browser, Page, ViewportSize

from tests.browser.conftest import _chromium, enter
from tests.browser.served import served
from tests.jobs.callers import flight_out

__all__ = ["Visit", "out_server", "visit"]

Visit = Callable[..., Page]


@pytest.fixture(scope="module")
def out_server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Address of the server."""
    _chromium()
    path, at = flight_out(tmp_path_factory.mktemp("out"))
    with served(path, at.isoformat()) as address:
        yield address


@pytest.fixture
def visit(chromium: Browser, out_server: str) -> Iterator[Visit]:
    """Opens a page of the app as somebody, on a desk's screen or a phone's."""
    opened = []

    def go(path: str, who: str = "Mara Oduya", *, width: int = 390, dark: bool = False) -> Page:
        viewport = ViewportSize(width=width, height=844)
        context = chromium.new_context(viewport=viewport, color_scheme="dark" if dark else "light")
        opened.append(context)
        page = context.new_page()
        page.set_default_timeout(20_000)
        enter(page, out_server, who, path)
        return page

    yield go
    for context in opened:
        context.close()
