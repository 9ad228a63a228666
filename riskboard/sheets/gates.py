"""The sign of a decision on paper: the app's gate, in ink. Open, closed with a line to sign, barred, or not built."""

from riskboard.sheets.canvas import Canvas
from riskboard.words import Decision

__all__ = ["GATE_HEIGHT", "GATE_WIDTH", "draw_gate"]

GATE_WIDTH, GATE_HEIGHT = 72.0, 58.0
"""Units of the drawing."""

_Stroke = tuple[float, float, tuple[tuple[float, float], ...]]
"""Weight, length of a dash (0 is none), points."""


def _bars(weight: float, dash: float = 0) -> tuple[_Stroke, ...]:
    return tuple((weight, dash, ((8, y), (64, y))) for y in (16.0, 30.0, 44.0))


_FRAME: tuple[_Stroke, ...] = (
    (6, 0, ((8, 8), (8, 52))),
    (6, 0, ((64, 8), (64, 52))),
    (3, 0, ((2, 54), (70, 54))),
)
_STROKES: dict[Decision | None, tuple[_Stroke, ...]] = {
    # Both leaves swung back: the way between the posts is free.
    Decision.go: (
        (4, 0, ((8, 14), (22, 20), (22, 50), (8, 46))),
        (4, 0, ((64, 14), (50, 20), (50, 50), (64, 46))),
        (4, 0, ((8, 30), (22, 35))),
        (4, 0, ((64, 30), (50, 35))),
    ),
    # One closed bar, and under it a line with a second name on it.
    Decision.go_with_sign_off: (
        (6, 0, ((8, 20), (64, 20))),
        (2, 0, ((18, 45), (54, 45))),
        (2, 0, ((20, 41), (23, 33), (26, 32), (26, 38), (29, 34), (33, 31), (34, 34), (34, 38), (37, 39), (40, 35),
                (43, 33), (46, 32))),
    ),
    Decision.no_go: (*_bars(5), (4, 0, ((10, 46), (62, 14))), (4, 0, ((10, 14), (62, 46)))),
    None: _bars(3, dash=5),
}  # fmt: skip


def draw_gate(canvas: Canvas, decision: Decision | None, x: float, y: float, width: float) -> None:
    """Draw the gate with its top left corner at (x, y); None is "no decision holds"."""
    scale = width / GATE_WIDTH
    for weight, dash, points in (*_FRAME, *_STROKES[decision]):
        placed = [(x + px * scale, y + py * scale) for px, py in points]
        canvas.path(placed, weight=weight * scale, dash=dash * scale)
