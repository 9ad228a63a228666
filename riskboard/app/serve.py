"""Starts the server: safe settings, security headers, and a health address."""

import os
from collections.abc import Awaitable, Callable, MutableMapping
from pathlib import Path
from typing import Any

from riskboard import jobs
from riskboard.app import clock
from riskboard.app.settings import SETTINGS
from riskboard.jobs.office import policy_book
from riskboard.jobs.place import DATABASE_VARIABLE, database_address

__all__ = ["SecurityHeaders", "run"]

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
    (b"referrer-policy", b"no-referrer"),
    (b"permissions-policy", b"camera=(), microphone=(), geolocation=(), payment=()"),
    (b"cross-origin-opener-policy", b"same-origin"),
)


class SecurityHeaders:
    """Adds the security headers to every answer. Plain ASGI, so that WebSockets pass untouched."""

    def __init__(self, app: _App) -> None:
        self.app = app

    async def __call__(self, scope: _Message, receive: _Receive, send: _Send) -> None:
        """Handle one connection."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        async def send_with_headers(message: _Message) -> None:
            if message["type"] == "http.response.start":
                message["headers"] = [*message.get("headers", []), *_HEADERS]
            await send(message)

        await self.app(scope, receive, send_with_headers)


def _get_ready() -> None:
    """Open the store and check its policies before anybody waits for a page; a store that will not open says so."""
    where = database_address(None)
    if isinstance(where, Path):
        where.parent.mkdir(parents=True, exist_ok=True)
    office = jobs.open_office(where, now=clock.now())
    policy_book(office)
    office.store.close()


def run(database: str | None = None, host: str = "127.0.0.1", port: int = 8501, *, open_browser: bool = True) -> None:
    """Serve the app until it is stopped.

    Args:
        database: SQLite file or database URL; None for the environment's or the user's own file.
        host: Address to listen on. Anything but loopback opens the app to the network: put a proxy with TLS before it.
        port: Port to listen on.
        open_browser: Open a browser window on this machine.

    Raises:
        LedgerError: The store cannot be opened.
    """
    import streamlit as st  # noqa: PLC0415  - the page server loads only when it is started
    from starlette.middleware import Middleware  # noqa: PLC0415
    from starlette.requests import Request  # noqa: PLC0415
    from starlette.responses import PlainTextResponse, Response  # noqa: PLC0415
    from starlette.routing import Route  # noqa: PLC0415

    async def health(_request: Request) -> Response:
        return PlainTextResponse("ok")

    if database:
        os.environ[DATABASE_VARIABLE] = database  # pages run in threads of this process and find the store there
    _get_ready()
    app = st.App(MAIN, routes=[Route("/health", health)], middleware=[Middleware(SecurityHeaders)])
    own = {"server.address": host, "server.port": port, "server.headless": not open_browser}
    app.run(config=dict(SETTINGS) | own)
