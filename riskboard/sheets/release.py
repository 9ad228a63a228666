"""The release sheet: one page that says what was decided about one flight, by whom, on which conditions, until when.

A frozen set of ready texts in, a PDF out. Nothing is cut without a word: letters shrink to :data:`SMALLEST`, then
reasons are left out, last conditions, and each time the sheet says how many are missing and where they stand.
"""

from collections.abc import Iterator
from dataclasses import dataclass, fields, is_dataclass, replace
from datetime import datetime
from typing import Any

from riskboard.assessment.assess import CAUTION
from riskboard.sheets.canvas import LINE, PAPERS, Canvas
from riskboard.sheets.flow import Column, Flow
from riskboard.sheets.gates import GATE_HEIGHT, GATE_WIDTH, draw_gate
from riskboard.sheets.typeface import missing_note, printable, shortened
from riskboard.words import Decision

__all__ = [
    "SMALLEST",
    "LimitLine",
    "Plan",
    "ReasonLine",
    "ReleaseSheet",
    "SignatureLine",
    "loading",
    "made_printable",
    "plans",
    "release_pdf",
]

SMALLEST = 7.0
"""Size in points below which no sheet goes."""
_LARGEST = 10.5
_STEP = 0.5
_MARGIN = 40.0
_LONGEST = 320
_LONGEST_NAME = 90


@dataclass(frozen=True)
class SignatureLine:
    """One signature: who, in which role, what it said, when, until when."""

    who: str
    role: str
    said: str
    when: str
    until: str = ""


@dataclass(frozen=True)
class LimitLine:
    """One hard limit that was kept, with the value it was worked out with."""

    what: str
    counted_with: str
    must_be: str
    room: str


@dataclass(frozen=True)
class ReasonLine:
    """One reason: the word or points beside it, and its sentence."""

    mark: str
    sentence: str


@dataclass(frozen=True)
class ReleaseSheet:
    """Everything that is printed, as texts; times are written in the zone of the place.

    Attributes:
        school: Name of the school.
        title: What this paper is: a release, or what else.
        flight_id: Name of the flight in the record.
        aircraft: Registration.
        pilot: Pilot in command.
        instructor: Instructor, "" if none.
        route: Where to.
        purpose: What for.
        take_off: Planned.
        landing: Planned.
        outcome: The gate drawn; None where no decision holds.
        headline: The word beside it.
        standing: Where the flight stands, a sentence.
        void: Why it does not hold, or why this is no release; one sentence each.
        level: Level and points.
        valid: Until when it holds.
        signatures: Oldest first.
        waivers: Limits waived, each with its reason.
        conditions: Conditions of the signature.
        reasons: Worst first.
        reasons_kept_back: Reasons about the pilot's condition, which are not printed.
        limits: Nearest first.
        alternative: The pilot's plan B.
        turn_back: When the pilot turns back or lands.
        policy: Which policy it was decided under.
        record: Which record of the log was printed from.
        receipt: Code of the log as it stood.
        receipt_said: What the code covers.
        printed: When it was printed.
        made_at: Moment written into the file, aware.
        notes: Other lines, such as "Invented data".
        loading: Weight, margins, hover and power limits as names and values; none where no type is on file.
        loading_of: Whose figures these are, a sentence; it says so where the type is invented.
        wires: What would stop the flight, nearest first, a sentence each; for the kneeboard.
        wires_kept_back: How many of those speak of the pilot's condition, which are not printed.
        call: Whom to call when it is a no, "" where the policy does not say.
    """

    school: str
    title: str
    flight_id: str
    aircraft: str
    pilot: str
    instructor: str
    route: str
    purpose: str
    take_off: str
    landing: str
    outcome: Decision | None
    headline: str
    standing: str
    void: tuple[str, ...]
    level: str
    valid: str
    signatures: tuple[SignatureLine, ...]
    waivers: tuple[str, ...]
    conditions: tuple[str, ...]
    reasons: tuple[ReasonLine, ...]
    reasons_kept_back: int
    limits: tuple[LimitLine, ...]
    alternative: str
    turn_back: str
    policy: str
    record: str
    receipt: str
    receipt_said: str
    printed: str
    made_at: datetime
    notes: tuple[str, ...] = ()
    loading: tuple[tuple[str, str], ...] = ()
    loading_of: str = ""
    wires: tuple[str, ...] = ()
    wires_kept_back: int = 0
    call: str = ""


_NAMES = frozenset({"who", "pilot", "instructor", "aircraft", "role", "flight_id", "school"})


def made_printable(sheet: ReleaseSheet) -> tuple[ReleaseSheet, str]:
    """The same sheet with every text fit for paper, and the note that names what could not be printed."""
    missing: list[str] = []

    def fit(value: Any, name: str) -> Any:
        if isinstance(value, str):
            found = printable(shortened(value, _LONGEST_NAME if name in _NAMES else _LONGEST))
            missing.extend(found.missing)
            return found.text
        if isinstance(value, tuple):
            return tuple(fit(each, name) for each in value)
        if is_dataclass(value) and not isinstance(value, type):
            changes = {field.name: fit(getattr(value, field.name), field.name) for field in fields(value)}
            return replace(value, **changes)
        return value

    return fit(sheet, ""), missing_note(tuple(missing))


@dataclass(frozen=True)
class Plan:
    """How much of each list is printed, and how large."""

    size: float
    reasons: int
    limits: int
    signatures: int
    conditions: int


def plans(sheet: ReleaseSheet, *, largest: float, reasons: int, limits: int) -> Iterator[Plan]:
    """Ways to print a sheet, the fullest first: smaller letters, then fewer reasons, limits, signatures, conditions."""
    counts = [
        min(reasons, len(sheet.reasons)),
        min(limits, len(sheet.limits)),
        len(sheet.signatures),
        len(sheet.conditions),
    ]
    size = largest
    while size > SMALLEST:
        yield Plan(size, *counts)
        size -= _STEP
    yield Plan(SMALLEST, *counts)
    for place in range(len(counts)):
        while counts[place]:
            counts[place] -= 1
            yield Plan(SMALLEST, *counts)


def release_pdf(sheet: ReleaseSheet, paper: str) -> bytes:
    """The release sheet as a PDF of one page.

    Args:
        sheet: What is printed.
        paper: "letter" or "a4".

    Returns:
        The file; the same bytes for the same sheet and paper.

    Raises:
        KeyError: No such paper.
    """
    size = PAPERS[paper]
    fit, note = made_printable(sheet)
    with Canvas(size, title="Release sheet", made_at=sheet.made_at) as canvas:
        canvas.page()
        foot = _foot_lines(canvas, fit, note)
        bottom = canvas.height - _MARGIN - sum(height for _, height, _ in foot)
        for plan in plans(fit, largest=_LARGEST, reasons=10, limits=14):
            if _body(canvas, fit, plan, draws=False) <= bottom:
                break
        _body(canvas, fit, plan, draws=True)
        y = bottom
        for text, height, bold in foot:
            canvas.text(_MARGIN, y, text, height / LINE, bold=bold)
            y += height
        fold = canvas.height / 2
        for x in (0.0, canvas.width - 14):
            canvas.rule(x, fold, x + 14, fold, weight=0.3, dash=2)
        return canvas.finish()


def _foot_lines(canvas: Canvas, sheet: ReleaseSheet, note: str) -> list[tuple[str, float, bool]]:
    """(text, height, bold) of the lines at the foot, which every sheet carries whole."""
    width = canvas.width - 2 * _MARGIN
    found: list[tuple[str, float, bool]] = [("", 4, False)]

    def add(text: str, size: float, *, bold: bool = False) -> None:
        if text:
            found.extend((line, size * LINE, bold) for line in canvas.wrapped(text, width, size, bold=bold))

    add("Receipt of the record. Keep this paper: it shows if the record was cut or rewritten afterwards.", 7.5)
    add(sheet.receipt, 10.5, bold=True)
    add(f"{sheet.receipt_said} Check it with: riskboard log verify --receipt CODE", 7.5)
    add(f"{sheet.record} {sheet.policy} {sheet.printed}", 7.5)
    add(note, 7.5, bold=True)
    add(CAUTION, 8, bold=True)
    for text in sheet.notes:
        add(text, 7.5)
    return found


def _body(canvas: Canvas, sheet: ReleaseSheet, plan: Plan, *, draws: bool) -> float:
    """Measure or draw everything above the foot; returns where it ends."""
    width = canvas.width - 2 * _MARGIN
    flow = Flow(canvas, _MARGIN, _MARGIN, width, plan.size, folds=(canvas.height / 2,), draws=draws)
    _head(flow, sheet)
    flow.gap(0.4)
    banner(flow, sheet, gate=92, letters=21)
    flow.gap(0.5)
    flow.facts(flight_facts(sheet))
    conditions(flow, sheet, plan)
    loading(flow, sheet)
    if sheet.signatures:
        flow.heading("Signed")
        rows = [(line.who, line.role, line.said, line.when, line.until) for line in sheet.signatures[: plan.signatures]]
        flow.table(
            [Column("Who", 30), Column("Role", 17), Column("Said", 21), Column("When", 20), Column("Until", 17)], rows
        )
        left_out(flow, len(sheet.signatures) - plan.signatures, "signature", sheet)
    if sheet.limits:
        flow.heading("Check again at the aircraft: hard limits, nearest first")
        limit_rows = [
            (line.what, line.counted_with, line.must_be, line.room, "") for line in sheet.limits[: plan.limits]
        ]
        flow.table(
            [
                Column("Limit", 37),
                Column("Counted with", 19),
                Column("Must be", 21),
                Column("Room left", 16),
                Column("At the aircraft", 15, ruled=True),
            ],
            limit_rows,
        )
        left_out(flow, len(sheet.limits) - plan.limits, "limit", sheet)
    reasons(flow, sheet, plan)
    for name, text in (("If it does not work", sheet.alternative), ("Turn back or land when", sheet.turn_back)):
        if text:
            flow.gap(0.3)
            flow.paragraph(f"{name}: {text}")
    return flow.y


def _head(flow: Flow, sheet: ReleaseSheet) -> None:
    flow.paragraph(f"{sheet.school} · {sheet.title}", bold=True, scale=1.3)
    flow.paragraph(f"Flight {sheet.flight_id}", scale=0.9)


def banner(flow: Flow, sheet: ReleaseSheet, *, gate: float, letters: float) -> None:
    """The gate, the word, and what follows from it, in a frame."""
    top, pad = flow.y, 7.0
    inner = Flow(
        flow.canvas, flow.x + gate + 2.4 * pad, top + pad, flow.width - gate - 3.4 * pad, flow.size, draws=flow.draws
    )
    inner.paragraph(sheet.headline.upper(), bold=True, scale=letters / inner.size)
    inner.paragraph(sheet.standing, bold=True, scale=1.1)
    inner.paragraph(sheet.valid, scale=1.1)
    inner.paragraph(sheet.level)
    for text in sheet.void:
        inner.paragraph(text, bold=True)
    height = max(inner.y - top + pad, gate * GATE_HEIGHT / GATE_WIDTH + 2 * pad)
    if flow.draws:
        draw_gate(flow.canvas, sheet.outcome, flow.x + pad, top + pad, gate)
        flow.canvas.box(flow.x, top, flow.width, height, weight=1.6)
        if sheet.void or sheet.outcome is None:
            flow.canvas.box(flow.x + 3, top + 3, flow.width - 6, height - 6, weight=0.6)
    flow.y = top + height


def flight_facts(sheet: ReleaseSheet) -> list[tuple[str, str]]:
    """What flight it is, as names and values."""
    return [
        ("Aircraft", sheet.aircraft),
        ("Pilot in command", sheet.pilot),
        ("Where to", sheet.route),
        ("Instructor", sheet.instructor or "none"),
        ("Take-off", sheet.take_off),
        ("Purpose", sheet.purpose),
        ("Landing", sheet.landing),
    ]


def conditions(flow: Flow, sheet: ReleaseSheet, plan: Plan) -> None:
    """Conditions and waivers, each with a box to tick."""
    if not sheet.conditions and not sheet.waivers:
        return
    flow.heading("Conditions of this flight")
    for text in (*sheet.waivers, *sheet.conditions[: plan.conditions]):
        flow.make_room(flow.size * LINE)
        if flow.draws:
            side = flow.size * 0.8
            flow.canvas.box(flow.x, flow.y + flow.size * 0.26, side, side, weight=0.9)
        flow.paragraph(text, bold=True, indent=flow.size * 1.5)
    left_out(flow, len(sheet.conditions) - plan.conditions, "condition", sheet)


def loading(flow: Flow, sheet: ReleaseSheet) -> None:
    """What the aircraft weighs, where its balance lies, where it hovers and how much power it has today."""
    if not sheet.loading:
        return
    flow.heading("Loading, hover and power")
    flow.facts(sheet.loading, columns=1)
    flow.paragraph(sheet.loading_of, bold=True, scale=0.9)


def reasons(flow: Flow, sheet: ReleaseSheet, plan: Plan) -> None:
    """The reasons that weigh most, and how many are not here."""
    if not sheet.reasons and not sheet.reasons_kept_back:
        return
    flow.heading("Reasons that weigh most, worst first")
    for line in sheet.reasons[: plan.reasons]:
        flow.paragraph(line.sentence, indent=flow.size * 5.6, mark=line.mark)
    left_out(flow, len(sheet.reasons) - plan.reasons, "reason", sheet)
    if sheet.reasons_kept_back:
        count = sheet.reasons_kept_back
        what = "1 reason about the pilot's condition is"
        if count > 1:
            what = f"{count} reasons about the pilot's condition are"
        flow.paragraph(f"{what} not printed: only the pilot and whoever signs see them.")


def left_out(flow: Flow, count: int, what: str, sheet: ReleaseSheet) -> None:
    """Say how many of a list are not on this paper, and where they stand."""
    if count:
        said = f"1 more {what} is" if count == 1 else f"{count} more {what}s are"
        flow.paragraph(f"{said} not on this paper. Read the record of flight {sheet.flight_id}.", bold=True)
