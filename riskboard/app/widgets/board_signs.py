"""Where a flight stands, as a gate of the same family as the verdict's: told apart by form, named by a word."""

from base64 import b64encode
from dataclasses import dataclass

from riskboard.jobs import FlightCard
from riskboard.ledger import Status

__all__ = ["OVERDUE", "Sign", "sign_of", "sign_source"]


@dataclass(frozen=True)
class Sign:
    """How a state is shown.

    Attributes:
        word: The state in words.
        tone: Name of its tone in the style.
        drawing: Its form.
    """

    word: str
    tone: str
    drawing: str


_POSTS = '<path d="M8 8v44M64 8v44" stroke-width="6"/><path d="M2 54h68" stroke-width="3"/>'
_BAR = '<path d="M8 20h56" stroke-width="6"/>'
_LEAVES = '<path d="M8 14l14 6v30l-14 -4M64 14l-14 6v30l14 -4"/>'
_LINE = '<path d="M18 44h36" stroke-width="2"/>'
_NAME = '<path d="M20 40c4 -12 7 -10 6 -2s5 -8 8 -8s-1 10 3 9s5 -7 8 -6" stroke-width="2.5"/>'
_CROSS = '<path d="M8 16h56M8 30h56M8 44h56" stroke-width="5"/><path d="M10 46L62 14M10 14L62 46"/>'
_ROTOR = '<path d="M22 18h28M36 18v8" stroke-width="4"/><circle cx="36" cy="32" r="7"/>'

OVERDUE = Sign(
    "Overdue",
    "alarm",
    '<path d="M14 8v12M14 30v22M58 8v22M58 40v12" stroke-width="6"/><path d="M36 6v28" stroke-width="8"/>'
    '<path d="M36 48v2" stroke-width="9"/><path d="M2 54h68" stroke-width="3"/>',
)
WITHDRAWN = Sign("Release withdrawn", "no", _POSTS + _CROSS + _ROTOR)
_SIGNS = {
    Status.BRIEFED: Sign("Briefed", "open", _POSTS + _BAR),
    Status.SIGN_OFF_REQUESTED: Sign("Waits for a signature", "sign", _POSTS + _BAR + _LINE),
    Status.SENT_BACK: Sign(
        "Sent back with a question",
        "open",
        _POSTS + '<path d="M28 22c0 -12 17 -12 17 0c0 8 -9 7 -9 15" stroke-width="5"/><path d="M36 46v1" '
        'stroke-width="7"/>',
    ),
    Status.SIGNED: Sign("Signed, the pilot has to take it", "sign", _POSTS + _BAR + _LINE + _NAME),
    Status.ACCEPTED: Sign("Accepted", "go", _POSTS + _LEAVES),
    Status.LAPSED: Sign("The yes has lapsed", "open", _POSTS + '<path d="M8 24h20M44 24h20" stroke-width="6"/>'),
    Status.RELEASED: Sign("Released", "go", _POSTS + _LEAVES + _ROTOR),
    Status.AIRBORNE: Sign("Airborne", "go", '<path d="M2 54h68" stroke-width="3"/>' + _ROTOR),
    Status.DEBRIEFED: Sign("Back", "back", _POSTS + '<path d="M20 32l11 12l22 -26" stroke-width="6"/>'),
    Status.CANCELLED: Sign("Called off", "back", _POSTS + '<path d="M12 46L60 14" stroke-width="6"/>'),
    Status.DECLINED: Sign("Declined by the pilot", "no", _POSTS + _CROSS),
    Status.REFUSED: Sign("Refused", "no", _POSTS + _CROSS),
}


def sign_of(card: FlightCard) -> Sign:
    """The sign of a flight; an overdue one has its own, and so has a release that holds no longer."""
    if card.overdue_min is not None:
        return OVERDUE
    return WITHDRAWN if card.status is Status.RELEASED and card.void else _SIGNS[card.status]


def sign_source(sign: Sign) -> str:
    """The drawing as an image source."""
    drawing = (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 72 58" fill="none" stroke="#fff" stroke-width="4" '
        f'stroke-linecap="round" stroke-linejoin="round">{sign.drawing}</svg>'
    )
    return f"data:image/svg+xml;base64,{b64encode(drawing.encode()).decode()}"
