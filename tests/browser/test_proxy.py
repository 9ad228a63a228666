"""The README's proxy, as it stands there: a real nginx with a certificate of its own before a real server."""

import os
import re
import shutil
import ssl
import subprocess
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import browser_arguments, chromium_path, free_port
from tests.browser.own_server import ROOT, Served, own_server
from tests.browser.pilot import Pilot

pytestmark = pytest.mark.browser

HOST = "board.example"


@dataclass
class Proxied:
    """A server behind the proxy.

    Attributes:
        address: What people type.
        plain: The address without TLS.
        served: The server itself.
        certificate: The proxy's own certificate.
    """

    address: str
    plain: str
    served: Served
    certificate: Path


def _needed(tool: str, package: str) -> str:
    found = shutil.which(tool) or shutil.which(tool, path="/usr/sbin")
    if found is None:
        reason = f"no {tool} is installed (apt-get install {package})"
        if os.environ.get("CI"):
            pytest.fail(reason)
        pytest.skip(reason)
    return found


def _configuration(folder: Path, tls: int, plain: int, server: int) -> str:
    """The README's text; only ports and places differ, because a test owns none of the usual ones."""
    (text,) = re.findall(r"```nginx\n(.*?)```", (ROOT / "README.md").read_text(encoding="utf-8"), re.DOTALL)
    for stated, own in (
        ("listen 443 ssl;", f"listen 127.0.0.1:{tls} ssl;"),
        ("listen 80;", f"listen 127.0.0.1:{plain};"),
        (f"https://{HOST}$request_uri", f"https://{HOST}:{tls}$request_uri"),
        (f"/etc/nginx/{HOST}", f"{folder}/{HOST}"),
        ("http://127.0.0.1:8501", f"http://127.0.0.1:{server}"),
    ):
        assert stated in text, stated
        text = text.replace(stated, own)
    places = "".join(
        f"{name}_temp_path {folder}/{name};" for name in ("client_body", "proxy", "fastcgi", "uwsgi", "scgi")
    )
    return (
        f"daemon off; pid {folder}/nginx.pid; error_log {folder}/nginx.log; events {{}}\n"
        f"http {{ access_log off; {places}\n{text}\n}}\n"
    )


@pytest.fixture(scope="module")
def proxied(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Proxied]:
    nginx, openssl = _needed("nginx", "nginx-light"), _needed("openssl", "openssl")
    folder = tmp_path_factory.mktemp("proxy")
    folder.chmod(0o755)
    tls, plain, server = free_port(), free_port(), free_port()
    address = f"https://{HOST}:{tls}"
    subprocess.run(
        [
            *(openssl, "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj", f"/CN={HOST}"),
            *("-addext", f"subjectAltName=DNS:{HOST}"),
            *("-keyout", str(folder / f"{HOST}.key"), "-out", str(folder / f"{HOST}.pem")),
        ],
        check=True,
        capture_output=True,
    )
    (folder / "nginx.conf").write_text(_configuration(folder, tls, plain, server), encoding="utf-8")
    with own_server(folder, port=server, arguments=("--public-url", address)) as served:
        process = subprocess.Popen([nginx, "-p", str(folder), "-c", str(folder / "nginx.conf"), "-e", "stderr"])
        try:
            found = Proxied(address, f"http://{HOST}:{plain}", served, folder / f"{HOST}.pem")
            _wait(found, process)
            yield found
        finally:
            process.terminate()
            process.wait(timeout=20)


def _wait(proxied: Proxied, process: "subprocess.Popen[bytes]") -> None:
    ends = time.monotonic() + 20
    while time.monotonic() < ends and process.poll() is None:
        try:
            if _get(proxied, "/health")[0] == 200:
                return
        except OSError:
            time.sleep(0.2)
    pytest.fail("the proxy did not start")


def _get(proxied: Proxied, path: str, host: str = HOST) -> tuple[int, dict[str, str]]:
    """Status and headers, the certificate checked against the proxy's own."""
    trusted = ssl.create_default_context(cafile=str(proxied.certificate))
    trusted.check_hostname = False  # the test has no name service: it asks 127.0.0.1 for the host
    opener = urllib.request.build_opener(urllib.request.HTTPSHandler(context=trusted))
    port = proxied.address.rsplit(":", maxsplit=1)[1]
    asked = urllib.request.Request(f"https://127.0.0.1:{port}{path}", headers={"Host": f"{host}:{port}"})
    try:
        with opener.open(asked, timeout=5) as answer:
            return answer.status, dict(answer.headers.items())
    except urllib.error.HTTPError as error:
        return error.code, dict(error.headers.items())


@pytest.fixture(scope="module")
def named(chromium: Browser) -> Iterator[Browser]:
    """A browser to which the host's name means this machine."""
    opened = chromium.browser_type.launch(
        executable_path=chromium_path(), args=[*browser_arguments(), f"--host-resolver-rules=MAP {HOST} 127.0.0.1"]
    )
    yield opened
    opened.close()


@pytest.fixture
def screen(named: Browser) -> Iterator[Page]:
    with named.new_context(viewport={"width": 390, "height": 844}, ignore_https_errors=True) as context:
        context.set_default_timeout(20_000)
        yield context.new_page()


def test_a_flight_is_briefed_through_the_proxy_and_the_cookie_travels_by_https_only(
    screen: Page, proxied: Proxied
) -> None:
    screen.goto(f"{proxied.plain}/record?from=mail")
    school, person = "Open the invented demo school", "Enter as Mara Oduya"
    screen.get_by_role("button", name=school).or_(screen.get_by_role("button", name=person)).first.wait_for()
    if screen.get_by_role("button", name=school).count():
        screen.get_by_role("button", name=school).click()
    screen.get_by_role("button", name=person).click()
    screen.get_by_text("Mara Oduya is in").wait_for()
    assert screen.url.startswith(f"{proxied.address}/")
    (cookie,) = [each for each in screen.context.cookies() if "riskboard" in str(each["name"])]
    assert cookie["name"] == "__Host-riskboard"
    assert (cookie["secure"], cookie["httpOnly"], cookie["sameSite"]) == (True, True, "Lax")
    screen.goto(f"{proxied.address}/")
    pilot = Pilot(screen)
    pilot.start()
    expect(pilot.band()).to_contain_text("still blank")


def test_other_hosts_are_refused_and_every_answer_carries_the_headers(proxied: Proxied) -> None:
    assert _get(proxied, "/enter", host="other.example")[0] == 400
    status, headers = _get(proxied, "/enter")
    assert status == 200
    said = {name.lower(): value for name, value in headers.items()}
    assert said["strict-transport-security"] == "max-age=31536000"
    assert said["x-frame-options"] == "DENY"
    assert said["x-content-type-options"] == "nosniff"
    assert "default-src 'none'" in said["content-security-policy"]
    assert said["cache-control"] == "no-store"


def test_a_form_sent_without_tls_from_the_server_itself_is_not_our_page(screen: Page, proxied: Proxied) -> None:
    answer = screen.context.request.post(
        f"{proxied.served.address}/enter",
        form={"login_name": "mara", "passphrase": "x"},
        headers={"Host": f"{HOST}:1", "Origin": "http://board.example"},
    )
    assert answer.status == 403
