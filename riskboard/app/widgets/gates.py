"""The verdict's own sign: a gate. Open, waiting for a signature, barred, or not yet built. Told apart by form alone."""

from base64 import b64encode

from riskboard.words import Decision

__all__ = ["gate_drawing", "gate_source"]

_POSTS = '<path d="M8 8v44M64 8v44" stroke-width="6"/>'
_GROUND = '<path d="M2 54h68" stroke-width="3"/>'
_DRAWINGS = {
    # Both leaves swung back: the way between the posts is free.
    Decision.go: '<path d="M8 14l14 6v30l-14 -4M64 14l-14 6v30l14 -4M8 30l14 5M64 30l-14 5"/>',
    # One closed bar, and under it the line on which a second name is missing.
    Decision.go_with_sign_off: '<path d="M8 20h56" stroke-width="6"/><path d="M18 44h36" stroke-width="2"/>'
    '<path d="M20 40c4 -12 7 -10 6 -2s5 -8 8 -8s-1 10 3 9s5 -7 8 -6" stroke-width="2.5"/>',
    # Closed, braced and crossed.
    Decision.no_go: '<path d="M8 16h56M8 30h56M8 44h56" stroke-width="5"/><path d="M10 46L62 14M10 14L62 46" '
    'stroke-width="4"/>',
    None: '<path d="M8 16h56M8 30h56M8 44h56" stroke-width="4" stroke-dasharray="5 7"/>',
}


def gate_drawing(decision: Decision | None) -> str:
    """The drawing itself, for a page of plain HTML; the word beside it says the same. None is "no decision"."""
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 72 58" fill="none" stroke="#fff" stroke-width="4" '
        f'stroke-linecap="round" stroke-linejoin="round" aria-hidden="true">{_POSTS}{_GROUND}{_DRAWINGS[decision]}'
        "</svg>"
    )


def gate_source(decision: Decision | None) -> str:
    """The drawing as an image source."""
    return f"data:image/svg+xml;base64,{b64encode(gate_drawing(decision).encode()).decode()}"
