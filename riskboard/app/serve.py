"""Starts the server: safe settings, security headers, and a health address."""

import os
import sys
from collections.abc import Awaitable, Callable, MutableMapping
from pathlib import Path
from typing import Any

from riskboard import jobs
from riskboard.app import clock
from riskboard.app.address import PUBLIC_VARIABLE, Address, public_address
from riskboard.app.outside import outside_provider
from riskboard.app.settings import SETTINGS
from riskboard.jobs.office import policy_book
from riskboard.jobs.place import DATABASE_VARIABLE, database_address

__all__ = ["SecurityHeaders", "run"]

_LOOPBACK = ("127.0.0.1", "::1")
_EVERY = ("0.0.0.0", "::")  # noqa: S104  - named here to say what it means
MAIN = Path(__file__).resolve().parent / "main.py"

_Message = MutableMapping[str, Any]
_Receive = Callable[[], Awaitable[_Message]]
_Send = Callable[[_Message], Awaitable[None]]
_App = Callable[[_Message, _Receive, _Send], Awaitable[None]]

# Streamlit's page holds inline styles, and its charts compile their expressions: hence the two 'unsafe' words. What
# matters is that nothing is loaded from, or sent to, any other host.
_CONTENT_POLICY = "; ".join(  # noqa: FLY002  - one directive a line
    (
        "default-src 'self'",
        "script-src 'self' 'unsafe-inline' 'unsafe-eval'",
        "style-src 'self' 'unsafe-inline'",
        "img-src 'self' data: blob:",
        "font-src 'self' data:",
        "connect-src 'self' ws: wss:",
        "worker-src 'self' blob:",
        "object-src 'none'",
        "base-uri 'self'",
        "form-action 'self'",
        "frame-ancestors 'none'",
    )
)
_HEADERS = (
    (b"content-security-policy", _CONTENT_POLICY.encode()),
    (b"x-content-type-options", b"nosniff"),
    (b"x-frame-options", b"DENY"),
    (b"referrer-policy", b"same-origin"),
    (b"permissions-policy", b"camera=(), microphone=(), geolocation=(), payment=()"),
    (b"cross-origin-opener-policy", b"same-origin"),
)


class SecurityHeaders:
    """Adds the security headers that an answer does not state itself. Plain ASGI, so that WebSockets pass untouched."""

    def __init__(self, app: _App) -> None:
        self.app = app

    async def __call__(self, scope: _Message, receive: _Receive, send: _Send) -> None:
        """Handle one connection."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        async def send_with_headers(message: _Message) -> None:
            if message["type"] == "http.response.start":
                own = message.get("headers", [])
                stated = {bytes(name).lower() for name, _ in own}
                message["headers"] = [*own, *(each for each in _HEADERS if each[0] not in stated)]
            await send(message)

        await self.app(scope, receive, send_with_headers)


def _get_ready() -> None:
    """Open the store and check its policies before anybody waits for a page; a store that will not open says so."""
    where = database_address(None)
    if isinstance(where, Path):
        where.parent.mkdir(parents=True, exist_ok=True)
    office = jobs.open_office(where, now=clock.now())
    policy_book(office)
    code = jobs.first_start_code(office, at=clock.now())
    office.store.close()
    if code is not None:
        sys.stdout.write(
            f"\n  Nobody runs this school yet. To set it up, type this code on the page /enter/first:\n\n    {code}\n\n"
        )
        sys.stdout.flush()


def _say_where(address: Address, host: str, port: int) -> None:
    named = f"[{host}]" if ":" in host else host
    where = f"port {port} of every address of this machine" if host in _EVERY else f"http://{named}:{port}"
    public = f", reached as {address.origin}" if address.origin else ""
    sys.stdout.write(f"riskboard listens on {where}{public}. Stop it with Ctrl+C.\n")
    sys.stdout.flush()


def _server_settings(address: Address, host: str, port: int, *, open_browser: bool) -> dict[str, object]:
    """The settings of this start, beside those that always hold."""
    own: dict[str, object] = {"server.address": host, "server.port": port, "server.headless": not open_browser}
    if address.host:
        own |= {"browser.serverAddress": address.host, "browser.serverPort": address.port}
        if host in _LOOPBACK:  # a second lock behind our own; on a network, people may also come by the bare address
            own["server.allowedHosts"] = [address.host, "localhost", *_LOOPBACK]
    return dict(SETTINGS) | own


def run(
    database: str | None = None,
    host: str = "127.0.0.1",
    port: int = 8501,
    *,
    public_url: str | None = None,
    open_browser: bool = True,
) -> None:
    """Serve the app until it is stopped.

    Args:
        database: SQLite file or database URL; None for the environment's or the user's own file.
        host: Address to listen on. Anything but loopback opens the app to the network: put a proxy with TLS before it.
        port: Port to listen on.
        public_url: Scheme and host that people type, where that is not this machine's own address.
        open_browser: Open a browser window on this machine.

    Raises:
        AddressError: The public address will not do.
        OutsideError: The settings of the outside provider are not complete.
        LedgerError: The store cannot be opened.
    """
    import streamlit as st  # noqa: PLC0415  - the page server loads only when it is started
    from starlette.middleware import Middleware  # noqa: PLC0415
    from starlette.requests import Request  # noqa: PLC0415
    from starlette.responses import PlainTextResponse, Response  # noqa: PLC0415
    from starlette.routing import Route  # noqa: PLC0415
    from streamlit.runtime.pages_manager import PagesManager  # noqa: PLC0415

    from riskboard.app.enter.guard import Doorkeeper, HostGuard  # noqa: PLC0415
    from riskboard.app.enter.routes import Entrance  # noqa: PLC0415
    from riskboard.app.line.routes import Line  # noqa: PLC0415
    from riskboard.app.opened import opened_office  # noqa: PLC0415

    async def health(_request: Request) -> Response:
        return PlainTextResponse("ok")

    # Pages run in threads of this process and find these there.
    if database:
        os.environ[DATABASE_VARIABLE] = database
    if public_url:
        os.environ[PUBLIC_VARIABLE] = public_url
    address, outside = public_address(), outside_provider()
    # A folder called pages beside the main script makes Streamlit run the first page that anybody asks for by itself,
    # without the frame of main.py, until that has run once in this process.
    PagesManager.uses_pages_directory = False
    _get_ready()
    entrance = Entrance(address, opened_office, "" if outside is None else outside.name)
    app = st.App(
        MAIN,
        secrets=None if outside is None else outside.secrets(address),
        routes=[Route("/health", health), *entrance.routes(), *Line(address, opened_office).routes()],
        middleware=[
            Middleware(HostGuard, address=address),
            Middleware(SecurityHeaders),
            Middleware(Doorkeeper, address=address, is_in=entrance.is_in),
        ],
    )
    _say_where(address, host, port)
    app.run(config=_server_settings(address, host, port, open_browser=open_browser))
