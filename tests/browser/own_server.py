"""A server started as a user starts it, by its command, with settings of its own; and an outside provider beside it."""

import os
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.browser.conftest import NOW, free_port, wait_for_server

ROOT = Path(__file__).resolve().parents[2]


@dataclass
class Served:
    """A running server.

    Attributes:
        address: Where it is reached.
        store: Its store.
        hand: The file that holds its clock.
        log: What it prints.
    """

    address: str
    store: Path
    hand: Path
    log: Path

    def clock(self, now: str) -> None:
        """Move its clock."""
        self.hand.write_text(now, encoding="utf-8")


@contextmanager
def own_server(folder: Path, *, port: int = 0, arguments: tuple[str, ...] = (), **environment: str) -> Iterator[Served]:
    """A server on an empty store in a folder, its clock held by a file there."""
    port = port or free_port()
    served = Served(f"http://127.0.0.1:{port}", folder / "riskboard.sqlite3", folder / "now", folder / "server.log")
    served.clock(NOW)
    with served.log.open("wb") as log:
        process = subprocess.Popen(
            [
                *(sys.executable, "-m", "riskboard", "--no-browser", "--port", str(port)),
                *("--database", str(served.store), *arguments),
            ],
            env=os.environ | {"RISKBOARD_NOW": f"@{served.hand}", "PYTHONPATH": str(ROOT)} | environment,
            cwd=folder,
            stdout=log,
            stderr=subprocess.STDOUT,
        )
    try:
        wait_for_server(served.address, process, served.log)
        yield served
    finally:
        process.terminate()
        process.wait(timeout=20)


@contextmanager
def outside_server(folder: Path, port: int) -> Iterator[str]:
    """A provider of identities that lets anybody be anybody; a general tool for tests."""
    address = f"http://127.0.0.1:{port}"
    with (folder / "provider.log").open("wb") as log:
        process = subprocess.Popen(
            [sys.executable, "-W", "ignore", "-m", "oidc_provider_mock", "--port", str(port)],
            cwd=folder,
            stdout=log,
            stderr=subprocess.STDOUT,
        )
    try:
        _wait_for_provider(f"{address}/.well-known/openid-configuration", process, folder / "provider.log")
        yield address
    finally:
        process.terminate()
        process.wait(timeout=20)


def _wait_for_provider(url: str, process: "subprocess.Popen[bytes]", log: Path) -> None:
    ends = time.monotonic() + 30
    while time.monotonic() < ends and process.poll() is None:
        try:
            with urllib.request.urlopen(url, timeout=2):  # noqa: S310  - our own server
                return
        except OSError:
            time.sleep(0.2)
    pytest.fail(f"the provider did not start: {log.read_text(errors='replace')[-2000:]}")
