"""An outside provider of identities (OpenID Connect), where the environment names one; Streamlit's login speaks to it.

The provider says who somebody is; whether that is anybody here, an administrator has said before. Streamlit keeps the
provider's answer in a cookie for a month; here it counts for ten minutes, once, and the cookie is taken away.
"""

import os
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any
from urllib.parse import urlsplit

from riskboard.app.address import Address

__all__ = ["OutsideError", "OutsideProvider", "outside_identity", "outside_provider"]

_PREFIX = "RISKBOARD_OIDC_"
_NEEDED = ("METADATA_URL", "CLIENT_ID", "CLIENT_SECRET", "COOKIE_SECRET")
_SHORTEST_SECRET = 32
_ANSWER_LASTS = timedelta(minutes=10)
_CLOCKS_DIFFER = timedelta(minutes=2)


class OutsideError(ValueError):
    """The settings of the outside provider are not complete; the message says what is missing."""


@dataclass(frozen=True)
class OutsideProvider:
    """What the environment says about the provider.

    Attributes:
        name: What the button says after "Enter with".
        metadata_url: Its discovery document.
        client_id: This school's id there.
        client_secret: Its secret.
        cookie_secret: Signs Streamlit's cookie; the same after a restart and on every server.
    """

    name: str
    metadata_url: str
    client_id: str
    client_secret: str = field(repr=False)
    cookie_secret: str = field(repr=False)

    def secrets(self, address: Address) -> dict[str, Any]:
        """What Streamlit's login is given.

        Raises:
            OutsideError: No public address is known, to which the provider could send people back.
        """
        if not address.origin:
            raise OutsideError("The outside provider sends people back to a public address: start with --public-url.")
        return {
            "auth": {
                "redirect_uri": f"{address.origin}/oauth2callback",
                "cookie_secret": self.cookie_secret,
                "client_id": self.client_id,
                "client_secret": self.client_secret,
                "server_metadata_url": self.metadata_url,
                # Whoever sits at a shared desk proves who they are each time.
                "client_kwargs": {"prompt": "login", "scope": "openid"},
            }
        }


def outside_provider(environment: Mapping[str, str] = os.environ) -> OutsideProvider | None:
    """The provider that the environment names, or None where it names none.

    Raises:
        OutsideError: Something is missing, or would not be safe.
    """
    stated = {name: environment.get(f"{_PREFIX}{name}", "") for name in _NEEDED}
    if not any(stated.values()):
        return None
    missing = [f"{_PREFIX}{name}" for name, value in stated.items() if not value]
    if missing:
        raise OutsideError(f"For the outside provider, set also: {', '.join(missing)}.")
    if len(stated["COOKIE_SECRET"]) < _SHORTEST_SECRET:
        raise OutsideError(f"{_PREFIX}COOKIE_SECRET has fewer than {_SHORTEST_SECRET} characters; make a random one.")
    parts = urlsplit(stated["METADATA_URL"])
    if parts.scheme != "https" and parts.hostname not in {"127.0.0.1", "::1", "localhost"}:
        raise OutsideError(f"{_PREFIX}METADATA_URL must begin with https://, or name this machine.")
    name = environment.get(f"{_PREFIX}NAME", "") or str(parts.hostname)
    return OutsideProvider(
        name, stated["METADATA_URL"], stated["CLIENT_ID"], stated["CLIENT_SECRET"], stated["COOKIE_SECRET"]
    )


def outside_identity(claims: Mapping[str, Any]) -> tuple[str, str] | None:
    """Issuer and subject of a provider's answer; None where it names nobody, or is older than ten minutes.

    The age is told by this machine's own clock, also where the app's is held: the provider's runs.
    """
    issuer, subject, made = claims.get("iss"), claims.get("sub"), claims.get("iat")
    if not isinstance(issuer, str) or not isinstance(subject, str) or not issuer or not subject:
        return None
    if isinstance(made, bool) or not isinstance(made, int | float):
        return None
    age = datetime.now(UTC) - datetime.fromtimestamp(made, UTC)
    return (issuer, subject) if -_CLOCKS_DIFFER <= age <= _ANSWER_LASTS else None
