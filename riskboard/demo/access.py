"""How the invented people come in and what they may do: one shown passphrase and PIN for all, roles by person."""

from collections.abc import Mapping

__all__ = ["DEMO_PASSPHRASE", "DEMO_PIN", "LOGIN_NAMES", "ROLES"]

DEMO_PIN = "4927"
"""Every invented person signs with this; the app says so wherever it asks."""

DEMO_PASSPHRASE = "seven herons at dusk"  # noqa: S105  - shown on the sign-in page of the invented school
"""Every invented person enters with this; the sign-in page shows it."""

ROLES: Mapping[str, tuple[str, ...]] = {
    "mara-oduya": ("instructor", "renter"),
    "tobin-reyes-hall": ("renter",),
    "ines-vasko": ("student",),
    "wendell-achterberg": ("dispatcher",),
    "sigrun-palo": ("chief_instructor", "instructor"),
    "noor-farrant": ("safety_officer",),
    "joss-okonjo-lind": ("maintenance",),
    "edda-quaye": ("administrator",),
}
"""Person id -> names of roles."""

LOGIN_NAMES: Mapping[str, str] = {person_id: person_id.split("-", maxsplit=1)[0] for person_id in ROLES}
"""Person id -> login name: the first name in lower case."""
