"""The closed list of what an entry can be: each kind with its sentence, and whether its body may be erased.

A new kind is one line here. Writing checks against this list; reading does not, so that a log written by a newer
program still verifies.
"""

import difflib
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

__all__ = ["ERASED", "KINDS", "OPENED", "Kind", "UnknownKindError", "check_kind"]


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of entry.

    Attributes:
        sentence: What an entry of this kind states.
        erasable: Whether a signed `erased` entry may take its body away. What the log needs to judge other entries
            (who held a role, which policy held, what was erased) stays.
    """

    sentence: str
    erasable: bool


OPENED = "opened"
ERASED = "erased"

KINDS: Mapping[str, Kind] = MappingProxyType(
    {
        OPENED: Kind("The log was begun; always record 1, and only record 1.", erasable=False),
        "briefed": Kind(
            "An assessment was shown to a person: what was typed, the reasons and the decision.", erasable=True
        ),
        "accepted": Kind("The pilot in command said yes to one assessment, until a stated time.", erasable=True),
        "declined": Kind("The pilot in command decided not to fly.", erasable=True),
        "sign_off_requested": Kind("The pilot in command asked for a second person's signature.", erasable=True),
        "signed": Kind(
            "A second person said yes in a role: entries accurate, flight can be made safely.", erasable=True
        ),
        "refused": Kind("A second person said no, with a reason.", erasable=True),
        "waived": Kind(
            "One named hard limit was waived by a person whom the policy names, with a reason.", erasable=True
        ),
        "viewed": Kind(
            "A second person opened the facts of a flight that waits for a signature, its health answers among them.",
            erasable=True,
        ),
        "sent_back": Kind("A second person sent a request back with a question to the pilot.", erasable=True),
        "released": Kind("An accepted flight may go to the aircraft.", erasable=True),
        "run_up": Kind(
            "What was seen at the run-up of a released flight, and what of it stands against taking off.", erasable=True
        ),
        "took_off": Kind("The aircraft left on a released flight.", erasable=True),
        "cancelled": Kind("A flight that had been accepted was called off before it left.", erasable=True),
        "overdue_step": Kind("A step of the school's plan for an overdue aircraft was taken.", erasable=True),
        "debriefed": Kind("What happened was entered after the flight.", erasable=True),
        "defect_reported": Kind("Somebody opened a defect of an aircraft.", erasable=True),
        "maintenance_signed": Kind(
            "Maintenance signed work on an aircraft: defects closed or deferred, inspections done.", erasable=False
        ),
        "fact_changed": Kind("A fact of the school changed: a person, an aircraft or a site.", erasable=True),
        "policy_published": Kind("A policy text was published under its digest.", erasable=False),
        "type_published": Kind("An aircraft type was published under its digest.", erasable=False),
        "role_given": Kind("A person was given a role.", erasable=False),
        "role_ended": Kind("A person's role ended.", erasable=False),
        "access_changed": Kind(
            "A person's way in changed: account opened or closed, passphrase or PIN set anew, outside identity linked.",
            erasable=False,
        ),
        ERASED: Kind("Named bodies were removed at a person's signed order; their headers stay.", erasable=False),
    }
)


class UnknownKindError(ValueError):
    """A kind that is not on the list; the message names the nearest one that is."""


def check_kind(kind: str) -> None:
    """Raise UnknownKindError unless the kind is on the list."""
    if kind in KINDS:
        return
    near = difflib.get_close_matches(kind, KINDS, n=1)
    hint = f" Did you mean {near[0]!r}?" if near else ""
    raise UnknownKindError(f"{kind!r} is not a kind of entry.{hint} Allowed: {', '.join(KINDS)}.")
