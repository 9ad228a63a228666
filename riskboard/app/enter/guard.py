"""What every connection passes first: a host that is ours, a socket from our own page, and nobody unknown further in.

Plain ASGI, so that sockets pass untouched.
"""

from collections.abc import Awaitable, Callable, MutableMapping
from typing import Any
from urllib.parse import quote

from riskboard.app.address import Address, same_origin_path
from riskboard.app.enter.cookies import cookies_of

__all__ = ["Doorkeeper", "HostGuard"]

_Message = MutableMapping[str, Any]
_Receive = Callable[[], Awaitable[_Message]]
_Send = Callable[[_Message], Awaitable[None]]
_App = Callable[[_Message, _Receive, _Send], Awaitable[None]]

STREAMLIT_USER = "_streamlit_user"
_OPEN = ("/enter", "/leave", "/health", "/outside", "/auth", "/oauth2callback", "/static", "/_stcore", "/component")
_POLICY_VIOLATION = 1008


def _headers(scope: _Message) -> dict[str, str]:
    return {name.decode("latin-1").lower(): value.decode("latin-1") for name, value in scope.get("headers", [])}


class HostGuard:
    """Refuses hosts that are not ours, and sockets that another site's page opened."""

    def __init__(self, app: _App, address: Address) -> None:
        self.app = app
        self.address = address

    async def __call__(self, scope: _Message, receive: _Receive, send: _Send) -> None:
        """Handle one connection."""
        if scope["type"] not in {"http", "websocket"}:
            await self.app(scope, receive, send)
            return
        headers = _headers(scope)
        host, origin = headers.get("host", ""), headers.get("origin")
        if not self.address.answers_to(host):
            await _refuse(scope, send, "riskboard is not reached under this name. See --public-url.")
        elif scope["type"] == "websocket" and origin is not None and not self.address.is_own_origin(origin, host):
            await _refuse(scope, send, "Another site's page may not open a connection here.")
        else:
            await self.app(scope, receive, send)


async def _refuse(scope: _Message, send: _Send, why: str) -> None:
    if scope["type"] == "websocket":
        await send({"type": "websocket.close", "code": _POLICY_VIOLATION, "reason": why})
        return
    await _answer(send, 400, why.encode(), [(b"content-type", b"text/plain; charset=utf-8")])


async def _answer(send: _Send, status: int, body: bytes, headers: list[tuple[bytes, bytes]]) -> None:
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})


class Doorkeeper:
    """Leads whoever opens a page without being in to the way in, and back to that page afterwards.

    A courtesy that saves loading a page which would only say the same. The lock is in the jobs.
    """

    def __init__(self, app: _App, address: Address, is_in: Callable[[str], Awaitable[bool]]) -> None:
        self.app = app
        self.address = address
        self.is_in = is_in

    async def __call__(self, scope: _Message, receive: _Receive, send: _Send) -> None:
        """Handle one connection."""
        if scope["type"] != "http" or not self._opens_page(scope):
            await self.app(scope, receive, send)
            return
        cookies = cookies_of(_headers(scope).get("cookie", ""))
        if STREAMLIT_USER in cookies or await self.is_in(cookies.get(self.address.cookie, "")):
            await self.app(scope, receive, send)
            return
        query = scope.get("query_string", b"").decode("latin-1")
        wanted = same_origin_path(f"{quote(scope['path'])}?{query}" if query else quote(scope["path"]))
        target = "/enter" if wanted == "/" else f"/enter?next={quote(wanted, safe='')}"
        await _answer(send, 303, b"", [(b"location", target.encode()), (b"cache-control", b"no-store")])

    @staticmethod
    def _opens_page(scope: _Message) -> bool:
        path = str(scope["path"])
        if scope["method"] not in {"GET", "HEAD"} or "text/html" not in _headers(scope).get("accept", ""):
            return False
        if any(path == each or path.startswith(f"{each}/") for each in _OPEN):
            return False
        return "." not in path.rsplit("/", maxsplit=1)[-1]
