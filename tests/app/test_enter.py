"""The way in over HTTP, without a browser: forms from elsewhere or too large, other hosts, where links lead."""

import asyncio
import re
import shutil
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Route

from riskboard import demo, jobs
from riskboard.app.address import Address, AddressError, public_address, same_origin_path
from riskboard.app.enter import page
from riskboard.app.enter.cookies import cookies_of, keep_cookie
from riskboard.app.enter.guard import Doorkeeper, HostGuard
from riskboard.app.enter.routes import MAX_BODY_BYTES, Entrance
from riskboard.app.outside import OutsideError, outside_identity, outside_provider
from tests.app.conftest import NOW

HOST = "127.0.0.1:8501"
ORIGIN = f"http://{HOST}"


@dataclass
class Answer:
    """What came back."""

    status: int = 0
    headers: list[tuple[str, str]] = field(default_factory=list)
    body: bytes = b""

    def header(self, name: str) -> str:
        return next((value for each, value in self.headers if each == name), "")

    @property
    def text(self) -> str:
        return self.body.decode()


class Door:
    """Our routes and guards, called as a server calls them."""

    def __init__(self, office: jobs.Office, address: Address | None = None) -> None:
        self.address = address or Address()
        entrance = Entrance(self.address, lambda: office, "Invented Identities")

        async def anything(_request: Request) -> Response:
            return PlainTextResponse("a page")

        inner = Starlette(routes=[*entrance.routes(), Route("/{path:path}", anything)])
        kept: Any = Doorkeeper(inner, self.address, entrance.is_in)
        self.app = HostGuard(kept, self.address)

    def ask(self, method: str, path: str, form: dict[str, str] | bytes | None = None, **headers: str) -> Answer:
        """One request. Header names with underscores; a form comes from our own page unless said otherwise."""
        stated = {"host": HOST, "accept": "text/html"}
        if method == "POST":
            stated |= {"origin": ORIGIN, "content_type": "application/x-www-form-urlencoded"}
        stated |= headers
        body = form if isinstance(form, bytes) else urlencode(form or {}).encode()
        where, _, query = path.partition("?")
        scope: dict[str, Any] = {
            "type": "http",
            "method": method,
            "path": where,
            "raw_path": where.encode(),
            "root_path": "",
            "scheme": "http",
            "query_string": query.encode(),
            "http_version": "1.1",
            "server": ("127.0.0.1", 8501),
            "client": ("127.0.0.1", 5),
            "headers": [(name.replace("_", "-").encode(), value.encode()) for name, value in stated.items() if value],
        }
        answer, left = Answer(), [body[at : at + 4000] for at in range(0, len(body), 4000)] or [b""]

        async def receive() -> dict[str, Any]:
            piece = left.pop(0) if left else b""
            return {"type": "http.request", "body": piece, "more_body": bool(left)}

        async def send(message: Any) -> None:
            if message["type"] == "http.response.start":
                answer.status = message["status"]
                answer.headers = [(name.decode().lower(), value.decode()) for name, value in message["headers"]]
            elif message["type"] == "http.response.body":
                answer.body += message.get("body", b"")

        _run(self.app(scope, receive, send))
        return answer

    def socket(self, **headers: str) -> list[dict[str, Any]]:
        """What a socket is told first."""
        sent: list[dict[str, Any]] = []

        async def receive() -> dict[str, Any]:
            return {"type": "websocket.connect"}

        async def send(message: Any) -> None:
            sent.append(dict(message))

        async def inner(_scope: Any, _receive: Any, answer: Any) -> None:
            await answer({"type": "websocket.accept"})

        stated = [(name.encode(), value.encode()) for name, value in ({"host": HOST} | headers).items()]
        scope: dict[str, Any] = {"type": "websocket", "path": "/_stcore/stream", "headers": stated}
        _run(HostGuard(inner, self.address)(scope, receive, send))
        return sent


def _run(work: Any) -> None:
    """In a thread of its own: a browser test in the same process may hold this thread's event loop."""
    import threading  # noqa: PLC0415

    failed: list[BaseException] = []

    def act() -> None:
        try:
            asyncio.run(work)
        except BaseException as error:  # noqa: BLE001  - raised again below
            failed.append(error)

    thread = threading.Thread(target=act)
    thread.start()
    thread.join()
    if failed:
        raise failed[0]


@pytest.fixture
def office(demo_store: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> jobs.Office:
    own = tmp_path / "riskboard.sqlite3"
    shutil.copy(demo_store, own)
    monkeypatch.setenv("RISKBOARD_NOW", NOW.isoformat())
    return jobs.open_office(own, now=NOW)


@pytest.fixture
def door(office: jobs.Office) -> Door:
    return Door(office)


GOOD = {"login_name": "mara", "passphrase": demo.DEMO_PASSPHRASE}


def test_the_right_words_set_a_cookie_and_lead_on(door: Door, office: jobs.Office) -> None:
    got = door.ask("POST", "/enter", GOOD | {"next": "/record?id=7"})
    assert (got.status, got.header("location"), got.header("cache-control")) == (303, "/record?id=7", "no-store")
    cookie = got.header("set-cookie")
    match = re.fullmatch(r"riskboard=([\w-]{43}); Max-Age=43200; Path=/; HttpOnly; SameSite=Lax", cookie)
    assert match is not None
    assert jobs.caller(office, match[1], at=NOW) is not None
    assert door.ask("GET", "/record", cookie=f"riskboard={match[1]}").text == "a page"


_ELSEWHERE = [
    {"origin": "http://evil.invented"},
    {"origin": "null"},
    {"origin": "https://127.0.0.1:8501"},
    {"origin": "http://127.0.0.1:8502"},
    {"origin": ""},
    {"origin": "", "sec_fetch_site": "cross-site"},
    {"origin": "", "sec_fetch_site": "same-site"},
    {"origin": "", "sec_fetch_site": "none"},
    {"content_type": "application/json"},
    {"content_type": "text/plain"},
    {"content_type": "multipart/form-data; boundary=x"},
]


@pytest.mark.parametrize("path", ["/enter", "/enter/code", "/enter/demo", "/enter/first", "/enter/outside", "/leave"])
def test_a_form_from_elsewhere_or_of_another_sort_does_nothing(door: Door, office: jobs.Office, path: str) -> None:
    token = jobs.sign_in(office, "tobin", demo.DEMO_PASSPHRASE, at=NOW)
    size = office.store.head().size
    for headers in _ELSEWHERE:
        got = door.ask("POST", path, GOOD, cookie=f"riskboard={token}", **headers)
        assert got.status in {403, 409, 415}, headers
        assert not got.header("set-cookie")
    assert jobs.caller(office, token, at=NOW) is not None
    assert office.store.head().size == size


@pytest.mark.parametrize(
    ("body", "status"),
    [
        (b"passphrase=" + b"x" * MAX_BODY_BYTES, 413),
        (b"&".join(b"a%d=1" % number for number in range(50)), 400),
        (b"login_name=m\xffara", 400),
    ],
)
def test_a_form_that_is_too_large_or_odd_is_refused_before_any_work(door: Door, body: bytes, status: int) -> None:
    assert door.ask("POST", "/enter", body).status == status


def test_no_secret_comes_back_on_a_page(door: Door) -> None:
    typed = {"login_name": "<script>mara", "passphrase": "zq7 secret words", "pin": "739182", "code": "ZZZZ-9999"}
    for path in ("/enter", "/enter/code"):
        got = door.ask("POST", path, typed)
        assert got.status == 403
        assert not [each for each in ("zq7 secret", "739182", "ZZZZ", "<script>mara") if each in got.text]
        assert "&lt;script&gt;mara" in got.text


def test_every_page_keeps_its_own_tight_policy(door: Door) -> None:
    for path in ("/enter", "/enter/code", "/leave"):
        got = door.ask("GET", path)
        assert got.header("content-security-policy") == page.CONTENT_POLICY
        assert "<script" not in got.text
        assert got.header("cache-control") == "no-store"


def test_the_style_of_the_pages_is_the_one_that_the_policy_allows(door: Door) -> None:
    import base64  # noqa: PLC0415
    import hashlib  # noqa: PLC0415

    (style,) = re.findall(r"<style>(.*?)</style>", door.ask("GET", "/enter").text, re.DOTALL)
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    assert f"'sha256-{digest}'" in page.CONTENT_POLICY


@pytest.mark.parametrize("path", ["/", "/record", "/desk?flight=abc", "/nonsense", "/record/"])
def test_whoever_is_not_in_is_led_to_the_way_in_and_back(door: Door, path: str) -> None:
    for cookie in ("", "riskboard=" + "a" * 43, "riskboard=x"):
        got = door.ask("GET", path, cookie=cookie)
        assert got.status == 303
        assert got.header("location").startswith("/enter")
    if path.startswith("/desk"):
        assert got.header("location") == "/enter?next=%2Fdesk%3Fflight%3Dabc"


def test_what_is_no_page_is_left_alone(door: Door) -> None:
    for path in ("/static/app.js", "/_stcore/health", "/health", "/favicon.png"):
        assert door.ask("GET", path).text == "a page"
    assert door.ask("GET", "/record", accept="application/json").text == "a page"


def test_leaving_asks_first_where_nobody_says_who_sent_the_request(door: Door, office: jobs.Office) -> None:
    token = jobs.sign_in(office, "mara", demo.DEMO_PASSPHRASE, at=NOW)
    for site in ("", "cross-site", "same-site"):
        got = door.ask("GET", "/leave", cookie=f"riskboard={token}", sec_fetch_site=site)
        assert got.status == 200
        assert jobs.caller(office, token, at=NOW) is not None
    got = door.ask("GET", "/leave", cookie=f"riskboard={token}", sec_fetch_site="same-origin")
    assert (got.status, got.header("set-cookie")) == (303, "riskboard=; Max-Age=0; Path=/; HttpOnly; SameSite=Lax")
    assert jobs.caller(office, token, at=NOW) is None


def test_entering_again_in_the_same_browser_ends_the_session_before(door: Door, office: jobs.Office) -> None:
    before = jobs.sign_in(office, "tobin", demo.DEMO_PASSPHRASE, at=NOW)
    door.ask("POST", "/enter", GOOD, cookie=f"riskboard={before}")
    assert jobs.caller(office, before, at=NOW) is None


def test_the_outside_way_forgets_an_earlier_answer_first(door: Door) -> None:
    got = door.ask("GET", "/enter/outside?next=//evil", cookie="_streamlit_user=x; _streamlit_user_1=y; other=z")
    assert (got.status, got.header("location")) == (303, "/outside")
    set_again = [value for name, value in got.headers if name == "set-cookie"]
    assert [each.split("=")[0] for each in set_again] == ["riskboard_next", "_streamlit_user", "_streamlit_user_1"]
    assert set_again[0].startswith("riskboard_next=%2F;")
    assert all("Max-Age=0" in each for each in set_again[1:])


@pytest.mark.parametrize(
    ("text", "path"),
    [
        ("/record?id=7", "/record?id=7"),
        ("/", "/"),
        ("", "/"),
        ("record", "/"),
        ("//evil.invented/x", "/"),
        ("/\\evil.invented", "/"),
        ("\\\\evil.invented", "/"),
        ("https://evil.invented/", "/"),
        ("javascript:alert(1)", "/"),
        ("/\tevil", "/"),
        ("/a\r\nSet-Cookie: x=y", "/"),
        ("/enter?next=/enter", "/"),
        ("/leave", "/"),
        ("/é", "/"),
        ("/" + "a" * 1000, "/"),
    ],
)
def test_a_link_leads_to_a_path_of_ours_or_to_the_first_page(text: str, path: str) -> None:
    assert same_origin_path(text) == path


PUBLIC = public_address("https://board.example")


@pytest.mark.parametrize(
    ("address", "host", "answers"),
    [
        (Address(), "127.0.0.1:8501", True),
        (Address(), "localhost:8501", True),
        (Address(), "[::1]:8501", True),
        (Address(), "192.168.1.20:8501", True),
        (Address(), "board.example", False),
        (Address(), "127.0.0.1.evil.invented", False),
        (Address(), "localhost.evil.invented:8501", False),
        (Address(), "", False),
        (Address(), "user@127.0.0.1", False),
        (Address(), "127.0.0.1:port", False),
        (PUBLIC, "board.example", True),
        (PUBLIC, "BOARD.example.:443", True),
        (PUBLIC, "xboard.example", False),
        (PUBLIC, "board.example.evil.invented", False),
        (PUBLIC, "board.example/evil", False),
    ],
)
def test_only_our_hosts_are_answered(office: jobs.Office, address: Address, host: str, *, answers: bool) -> None:
    """A name can be resolved to this machine by a stranger (DNS rebinding), a bare address cannot."""
    assert address.answers_to(host) is answers
    assert (Door(office, address).ask("GET", "/health", host=host).status == 200) is answers


@pytest.mark.parametrize(
    ("headers", "first"),
    [
        ({}, "websocket.accept"),
        ({"origin": ORIGIN}, "websocket.accept"),
        ({"origin": "http://evil.invented"}, "websocket.close"),
        ({"origin": "null"}, "websocket.close"),
        ({"origin": "http://127.0.0.1:9999"}, "websocket.close"),
        ({"host": "evil.invented", "origin": "http://evil.invented"}, "websocket.close"),
        ({"host": "evil.invented"}, "websocket.close"),
    ],
)
def test_a_socket_opens_from_our_own_page_only(door: Door, headers: dict[str, str], first: str) -> None:
    assert [message["type"] for message in door.socket(**headers)] == [first]


def test_behind_tls_the_cookie_is_secure_and_the_origin_is_the_public_one(office: jobs.Office) -> None:
    door = Door(office, PUBLIC)
    assert door.ask("POST", "/enter", GOOD, host="board.example").status == 403
    got = door.ask("POST", "/enter", GOOD, host="board.example", origin="https://board.example")
    assert re.fullmatch(
        r"__Host-riskboard=[\w-]{43}; Max-Age=43200; Path=/; HttpOnly; SameSite=Lax; Secure", got.header("set-cookie")
    )


@pytest.mark.parametrize(
    "text",
    ["board.example", "ftp://board.example", "https://", "https://board.example/app", "https://a:b@board.example",
     "https://board.example?x=1", "https://board.example:port", "javascript:alert(1)"],
)  # fmt: skip
def test_a_public_address_that_will_not_do_says_what_would(text: str) -> None:
    with pytest.raises(AddressError, match="such as https://board"):
        public_address(text, {})


def test_the_public_address_is_written_as_a_browser_writes_it() -> None:
    for text, origin in (
        ("https://Board.example/", "https://board.example"),
        ("https://board.example:443", "https://board.example"),
        ("http://board.lan:8501", "http://board.lan:8501"),
        ("http://[::1]:80", "http://[::1]"),
        ("", ""),
    ):
        assert public_address(text, {}).origin == origin
    assert public_address(None, {"RISKBOARD_PUBLIC_URL": "https://board.example"}) == PUBLIC


def test_cookies_are_read_as_a_browser_sends_them() -> None:
    assert cookies_of("a=1; riskboard=x=y; a=2;  ; odd") == {"a": "1", "riskboard": "x=y"}
    assert cookies_of("") == {}
    assert "Secure" not in keep_cookie(Address(), "t")


_OIDC = {
    "RISKBOARD_OIDC_METADATA_URL": "https://id.invented.example/.well-known/openid-configuration",
    "RISKBOARD_OIDC_CLIENT_ID": "board",
    "RISKBOARD_OIDC_CLIENT_SECRET": "s",
    "RISKBOARD_OIDC_COOKIE_SECRET": "c" * 32,
}


def test_an_outside_provider_is_known_whole_or_not_at_all() -> None:
    assert outside_provider({}) is None
    known = outside_provider(_OIDC)
    assert known is not None
    assert known.name == "id.invented.example"
    assert "c" * 32 not in repr(known)
    assert known.secrets(PUBLIC)["auth"]["redirect_uri"] == "https://board.example/oauth2callback"
    for name in _OIDC:
        with pytest.raises(OutsideError, match=name):
            outside_provider(_OIDC | {name: ""})
    with pytest.raises(OutsideError, match="32"):
        outside_provider(_OIDC | {"RISKBOARD_OIDC_COOKIE_SECRET": "short"})
    with pytest.raises(OutsideError, match="https"):
        outside_provider(_OIDC | {"RISKBOARD_OIDC_METADATA_URL": "http://id.invented.example/x"})
    with pytest.raises(OutsideError, match="--public-url"):
        known.secrets(Address())


def test_a_providers_answer_counts_for_ten_minutes() -> None:
    from datetime import UTC, datetime  # noqa: PLC0415  - the provider's clock is this machine's, never the held one

    made = datetime.now(UTC).timestamp()
    sound = {"iss": "https://id.invented.example", "sub": "s-17", "iat": made}
    assert outside_identity(sound) == ("https://id.invented.example", "s-17")
    for change in (
        {"iat": made - 601},
        {"iat": made + 200},
        {"iat": None},
        {"iat": "now"},
        {"iat": True},
        {"sub": ""},
        {"sub": None},
        {"iss": 5},
    ):
        assert outside_identity(sound | change) is None
