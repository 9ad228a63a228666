"""What these pages answer with: a page, and one word that tells the script what became of what it sent."""

from dataclasses import dataclass
from enum import StrEnum
from http import HTTPStatus

__all__ = ["Answer", "Outcome"]


class Outcome(StrEnum):
    """What became of a request."""

    page = "page"
    """Nothing was sent; this is what stands."""
    saved = "saved"
    """It is on record, durable."""
    mend = "mend"
    """Nothing is on record; what was typed is on the page, with what to mend."""
    refused = "refused"
    """Nothing is on record, and typing will not change that."""
    signed_out = "signed-out"
    """Nothing is on record; nobody is signed in any more."""
    sign_again = "sign-again"
    """Nothing is on record; the form was drawn for an earlier session of this person."""
    trouble = "trouble"
    """Whether anything is on record is not known; the same again finds out."""


@dataclass(frozen=True)
class Answer:
    """One answer.

    Attributes:
        outcome: What became of it.
        html: The page.
        status: HTTP status.
        then: Where a browser without a script goes to look at it; "" to stay.
    """

    outcome: Outcome
    html: str
    status: HTTPStatus = HTTPStatus.OK
    then: str = ""
