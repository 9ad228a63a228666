"""How an aircraft stands, as a tag on its hook: told apart by form, named by a word."""

from riskboard.app.widgets.board_signs import Sign
from riskboard.upkeep.state import Stand

__all__ = ["stand_sign"]

_TAG = '<path d="M14 4h44v50h-44z" stroke-width="4"/><circle cx="36" cy="13" r="4"/>'

_SIGNS = {
    Stand.grounded: Sign(
        "GROUNDED", "no", _TAG + '<path d="M8 26h56M8 36h56M8 46h56" stroke-width="6"/><path d="M8 50L64 22"/>'
    ),
    Stand.overdue: Sign(
        "WORK OVERDUE", "no", _TAG + '<path d="M25 24h22M25 48h22M27 24c0 14 18 10 18 24M45 24c0 14 -18 10 -18 24"/>'
    ),
    Stand.unknown: Sign(
        "NOT KNOWN",
        "open",
        _TAG
        + '<path d="M29 30c0 -10 14 -10 14 0c0 6 -7 6 -7 11" stroke-width="5"/><path d="M36 48v1" stroke-width="6"/>',
    ),
    Stand.restricted: Sign(
        "RESTRICTED", "sign", _TAG + '<path d="M8 36h30" stroke-width="7"/><path d="M46 26v20" stroke-width="3"/>'
    ),
    Stand.watch: Sign(
        "WATCH",
        "back",
        _TAG + '<path d="M22 36c8 -12 20 -12 28 0c-8 12 -20 12 -28 0z"/><circle cx="36" cy="36" r="4"/>',
    ),
    Stand.nothing_open: Sign("NOTHING OPEN", "go", _TAG + '<path d="M24 46h24" stroke-width="2"/>'),
}
"""A word, a tone and a form each."""


def stand_sign(stand: Stand) -> Sign:
    """The tag of an aircraft that stands so."""
    return _SIGNS[stand]
