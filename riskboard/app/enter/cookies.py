"""The session cookie: read from a request, written and taken away by an answer."""

from riskboard.app.address import Address

__all__ = ["cookies_of", "keep_cookie", "take_cookie"]

_LASTS_S = 12 * 60 * 60


def cookies_of(header: str) -> dict[str, str]:
    """Names and values of a Cookie header; of a name that comes twice, the first."""
    found: dict[str, str] = {}
    for piece in header.split(";"):
        name, equals, value = piece.strip().partition("=")
        if equals:
            found.setdefault(name, value)
    return found


def keep_cookie(address: Address, token: str) -> str:
    """The Set-Cookie value that lets a browser in: no script reads it, no other site's form sends it along."""
    return f"{address.cookie}={token}; Max-Age={_LASTS_S}; {_attributes(address)}"


def take_cookie(address: Address, name: str = "") -> str:
    """The Set-Cookie value that takes a cookie away."""
    return f"{name or address.cookie}=; Max-Age=0; {_attributes(address)}"


def _attributes(address: Address) -> str:
    return "Path=/; HttpOnly; SameSite=Lax" + ("; Secure" if address.secure else "")
