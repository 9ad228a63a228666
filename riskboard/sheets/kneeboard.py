"""The kneeboard card: half a page, both sides. One sheet on its side, folded once down the middle, print outward.

Front: the decision, the conditions, what to check again at the aircraft. Back: the reasons, the pilot's own way out,
room to write, and the proof. The same texts as the release sheet, cut down in the same way and never without a word.
"""

from collections.abc import Callable

from riskboard.assessment.assess import CAUTION
from riskboard.assessment.phrases import upper_first
from riskboard.sheets.canvas import LINE, PAPERS, Canvas
from riskboard.sheets.flow import Column, Flow
from riskboard.sheets.release import (
    Plan,
    ReleaseSheet,
    banner,
    conditions,
    flight_facts,
    left_out,
    loading,
    made_printable,
    plans,
    reasons,
)

__all__ = ["kneeboard_pdf"]

_LARGEST = 9.5
_MARGIN = 26.0
_FOOT = 7.0
_NOTES = 3
"""Empty lines to write on that a full card keeps."""

_Body = Callable[[Flow, ReleaseSheet, Plan], None]


def kneeboard_pdf(sheet: ReleaseSheet, paper: str) -> bytes:
    """The kneeboard card as a PDF of one page in landscape: front on the right half, back on the left.

    Args:
        sheet: The same texts as for the release sheet.
        paper: "letter" or "a4".

    Returns:
        The file; the same bytes for the same sheet and paper.

    Raises:
        KeyError: No such paper.
    """
    height, width = PAPERS[paper]
    fit, note = made_printable(sheet)
    with Canvas((width, height), title="Kneeboard card", made_at=sheet.made_at) as canvas:
        canvas.page()
        half = width / 2
        # Folded backward at the middle, the right half lies in front and the left half is its other side.
        _side(canvas, half, fit, _front, [CAUTION, f"{fit.record} {fit.policy} {fit.printed}"])
        foot = [f"Receipt: {fit.receipt}", fit.receipt_said, note, CAUTION, *fit.notes]
        _side(canvas, 0, fit, _back, [text for text in foot if text])
        canvas.rule(half, 0, half, height, weight=0.3, dash=3)
        return canvas.finish()


def _side(canvas: Canvas, left: float, sheet: ReleaseSheet, body: _Body, foot: list[str]) -> None:
    x, width = left + _MARGIN, canvas.width / 2 - 2 * _MARGIN
    lines = [line for text in foot for line in canvas.wrapped(text, width, _FOOT)]
    bottom = canvas.height - _MARGIN - len(lines) * _FOOT * LINE - 4
    for plan in plans(sheet, largest=_LARGEST, reasons=10, limits=12):
        flow = Flow(canvas, x, _MARGIN, width, plan.size, draws=False)
        body(flow, sheet, plan)
        if flow.y <= bottom:
            break
    flow = Flow(canvas, x, _MARGIN, width, plan.size)
    body(flow, sheet, plan)
    if body is _back:
        _write_on(flow, bottom)
    for number, line in enumerate(lines):
        canvas.text(x, bottom + 4 + number * _FOOT * LINE, line, _FOOT)


def _front(flow: Flow, sheet: ReleaseSheet, plan: Plan) -> None:
    flow.paragraph(f"{sheet.school} · kneeboard card", scale=0.9)
    banner(flow, sheet, gate=58, letters=15)
    flow.gap(0.4)
    flow.facts(flight_facts(sheet), columns=1)
    conditions(flow, sheet, plan)
    _wires(flow, sheet)
    loading(flow, sheet)
    if sheet.limits:
        flow.heading("Check again at the aircraft, nearest first")
        rows = [(line.what, line.counted_with, line.must_be, "") for line in sheet.limits[: plan.limits]]
        flow.table(
            [
                Column("Hard limit", 36),
                Column("Counted with", 21),
                Column("Must be", 23),
                Column("Now", 20, ruled=True),
            ],
            rows,
        )
        left_out(flow, len(sheet.limits) - plan.limits, "limit", sheet)


def _wires(flow: Flow, sheet: ReleaseSheet) -> None:
    """What would stop the flight, never cut: six lines at most."""
    if not sheet.wires and not sheet.wires_kept_back:
        return
    flow.heading("Stop and think again at")
    for wire in sheet.wires:
        flow.paragraph(wire)
    if sheet.wires_kept_back:
        flow.paragraph(
            "One that speaks of the pilot is known to the pilot."
            if sheet.wires_kept_back == 1
            else f"{sheet.wires_kept_back} that speak of the pilot are known to the pilot."
        )


def _back(flow: Flow, sheet: ReleaseSheet, plan: Plan) -> None:
    # Times stand before names: behind a right-to-left name a number would be read as a part of it and change places.
    flow.paragraph(f"{sheet.aircraft} · {sheet.take_off} · {sheet.pilot}", bold=True)
    own = (("Turn back or land when", sheet.turn_back), ("If it does not work", sheet.alternative))
    for name, text in (*own, ("If it is a no, call", sheet.call)):
        if text:
            flow.heading(name)
            flow.paragraph(text, bold=True)
    reasons(flow, sheet, plan)
    if sheet.signatures:
        flow.heading("Signed")
        for line in sheet.signatures[: plan.signatures]:
            until = f", until {line.until}" if line.until else ""
            flow.paragraph(f"{upper_first(line.said)} {line.when}{until}: {line.who} ({line.role})")
        left_out(flow, len(sheet.signatures) - plan.signatures, "signature", sheet)
    flow.heading("Notes")
    flow.gap(_NOTES * 2)


def _write_on(flow: Flow, bottom: float) -> None:
    """Rule what is left of the back for writing, the room kept for notes included."""
    step = flow.size * 2
    y = flow.y - _NOTES * 2 * flow.size + step
    while y <= bottom:
        flow.canvas.rule(flow.x, y, flow.x + flow.width, y, weight=0.3)
        y += step
