"""Where the app is reached: which hosts it answers to, what counts as its own page, how its cookie is called.

A browser can be made to send requests to this server from a stranger's page (a name that is suddenly resolved to this
machine, a form on another site). So every request names a host that is ours, and every request that changes something,
and every socket, comes from our own origin.
"""

import ipaddress
import os
from collections.abc import Mapping
from dataclasses import dataclass
from urllib.parse import urlsplit

__all__ = ["PUBLIC_VARIABLE", "Address", "AddressError", "public_address", "same_origin_path"]

PUBLIC_VARIABLE = "RISKBOARD_PUBLIC_URL"
_PORTS = {"http": 80, "https": 443}
_LONGEST_PATH = 1_000
_OWN_DOORS = ("/enter", "/leave")


class AddressError(ValueError):
    """A public address that will not do; the message says what would."""


@dataclass(frozen=True)
class Address:
    """The address that people type.

    Attributes:
        scheme: "http" or "https"; "" where no public address was given.
        host: Host without port, in lower case; "" where no public address was given.
        port: Port; 0 where no public address was given.
    """

    scheme: str = ""
    host: str = ""
    port: int = 0

    @property
    def secure(self) -> bool:
        """Whether browsers reach it by https only; then the cookie never travels in the clear."""
        return self.scheme == "https"

    @property
    def cookie(self) -> str:
        """Name of the session cookie. The prefix makes browsers refuse one that another host or http has set."""
        return "__Host-riskboard" if self.secure else "riskboard"

    @property
    def origin(self) -> str:
        """The public origin as a browser writes it; "" where no public address was given."""
        if not self.host:
            return ""
        host = f"[{self.host}]" if ":" in self.host else self.host
        return f"{self.scheme}://{host}" if self.port == _PORTS[self.scheme] else f"{self.scheme}://{host}:{self.port}"

    def answers_to(self, host_header: str) -> bool:
        """Tell whether a Host header names this server.

        The public host and "localhost" do, and so does any bare IP address: a stranger's name can be resolved to this
        machine, an address cannot.
        """
        host = _host_of(host_header)
        if not host:
            return False
        return host in {"localhost", self.host} or _is_ip(host)

    def is_own_origin(self, origin: str, host_header: str) -> bool:
        """Tell whether an Origin header is that of our own pages, as reached under a Host header."""
        said = origin.lower()
        if self.host and _host_of(host_header) == self.host:
            return said == self.origin
        return bool(host_header) and said == f"http://{host_header.lower()}"


def public_address(text: str | None = None, environment: Mapping[str, str] = os.environ) -> Address:
    """The public address as given, else as the environment says, else none.

    Raises:
        AddressError: It is no http or https address of a host, or has a path.
    """
    stated = text or environment.get(PUBLIC_VARIABLE) or ""
    if not stated:
        return Address()
    wrong = AddressError(
        f"{stated!r} is no public address. Write scheme and host, without a path, such as https://board.example"
    )
    try:
        parts = urlsplit(stated)
        port = parts.port
    except ValueError as error:
        raise wrong from error
    if parts.scheme not in _PORTS or not parts.hostname or parts.username or parts.path not in {"", "/"}:
        raise wrong
    if parts.query or parts.fragment or not parts.hostname.isascii():
        raise wrong
    return Address(parts.scheme, parts.hostname.lower().rstrip("."), port or _PORTS[parts.scheme])


def same_origin_path(text: str) -> str:
    r"""Where to go after entering: a path on this server, "/" for anything else.

    A browser reads "//host" and "/\host" as another host, and drops control characters before it decides.
    """
    fits = text.startswith("/") and not text.startswith("//") and len(text) <= _LONGEST_PATH
    if not fits or not text.isprintable() or "\\" in text or not text.isascii():
        return "/"
    path = urlsplit(text).path
    return "/" if any(path == door or path.startswith(f"{door}/") for door in _OWN_DOORS) else text


def _host_of(header: str) -> str:
    try:
        parts = urlsplit(f"//{header}")
        host, _ = parts.hostname, parts.port  # reading the port checks it
    except ValueError:
        return ""
    if host is None or parts.username is not None or parts.path or parts.query or parts.fragment:
        return ""
    return host.lower().rstrip(".")


def _is_ip(host: str) -> bool:
    try:
        ipaddress.ip_address(host)
    except ValueError:
        return False
    return True
