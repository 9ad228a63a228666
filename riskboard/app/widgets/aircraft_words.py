"""An aircraft's state in words: what the next pilot must know, the gravest first."""

from collections.abc import Iterator
from datetime import date, datetime
from zoneinfo import ZoneInfo

from riskboard.assessment.phrases import clock_time
from riskboard.jobs import AircraftStatus
from riskboard.ledger import Status
from riskboard.upkeep.state import DueState, OpenDefect, WorkDue
from riskboard.words import DefectEffect

__all__ = [
    "EFFECT_SAID",
    "day_said",
    "defect_said",
    "due_said",
    "due_short",
    "first_line",
    "left_said",
    "must_know",
    "where_said",
]

EFFECT_SAID = {
    DefectEffect.grounding: "Grounds it",
    DefectEffect.no_night: "No night",
    DefectEffect.no_passengers: "No passengers",
    DefectEffect.no_solo: "No solo",
    DefectEffect.watch: "Watch",
    None: "Effect not said",
}
"""What a defect forbids, in two words."""


def day_said(day: date) -> str:
    """A day as people say it."""
    return f"{day:%a} {day.day} {day:%b %Y}"


def defect_said(defect: OpenDefect) -> str:
    """What is wrong, and the deferral if there is one."""
    said = defect.text
    if defect.deferred_until is not None:
        ended = "deferral ENDED" if defect.deferral_over else "deferred until"
        by = f" by {defect.deferred_by}" if defect.deferred_by else ""
        under = f" under {defect.reference}" if defect.reference else ""
        said += f" ({ended} {day_said(defect.deferred_until)}{by}{under})"
    return said


def due_said(work: WorkDue) -> str:
    """How near a piece of work is, with the day at the rate of flying."""
    parts = []
    if work.hours_left is not None:
        left = work.hours_left
        parts.append(f"OVER by {-left:.1f} h" if left < 0 else f"{left:.1f} h left")
    if work.due is not None and work.hours_left is not None and work.hours_left > 0 and _tells(work, work.due.earliest):
        parts.append(f"about {day_said(work.due.on)}, as early as {day_said(work.due.earliest)}")
    if work.item.due_on is not None and work.days_left is not None:
        ended = "ENDED" if work.days_left < 0 else "until"
        parts.append(f"{ended} {day_said(work.item.due_on)}")
    if work.state is DueState.unknown:
        parts.append("NOT KNOWN")
    return ", ".join(parts) or "no end stated"


def _tells(work: WorkDue, earliest: date) -> bool:
    """Whether a day at the rate of flying says anything: only where it may come before the last good day."""
    return work.item.due_on is None or earliest < work.item.due_on


def due_short(work: WorkDue) -> str:
    """The same in a few words, for a tag."""
    if work.state is DueState.unknown:
        return "NOT KNOWN"
    hours = "" if work.hours_left is None else f"{work.hours_left:.1f} h"
    if work.state is DueState.over:
        return "OVERDUE"
    day = "" if work.item.due_on is None else f"until {day_said(work.item.due_on)}"
    return ", ".join(each for each in (hours, day) if each)


def left_said(status: AircraftStatus, zone: ZoneInfo) -> str:
    """How it was left, by whom and when."""
    left = status.left
    if left is None:
        return "Nobody has told how it was left."
    by = f" by {left.by}" if left.by else ""
    when = f" {_when(left.at, zone)}" if left.at is not None else ""
    if left.wrong:
        return f"NOT IN PLACE: {', '.join(left.wrong)}. Left{by}{when}."
    if left.untold:
        return f"Left{by}{when}; not told: {', '.join(label.lower() for label in left.untold)}."
    return f"All in place. Left{by}{when}."


def where_said(status: AircraftStatus, zone: ZoneInfo, *, short: bool = False) -> str:
    """Whether it is out, and how it was left where it is not."""
    out = status.out
    if out is None and short and status.left is not None and status.left.at is not None:
        return f"Here since {_when(status.left.at, zone)}, left by {status.left.by or 'somebody'}."
    if out is None:
        return left_said(status, zone)
    if out.state.status is Status.AIRBORNE and out.took_off_at is not None:
        back = "" if out.landing_at is None else f", planned back {clock_time(out.landing_at, zone.key)}"
        return f"OUT since {clock_time(out.took_off_at, zone.key)}{back}."
    return f"Handed over at {clock_time(out.state.since, zone.key)}; run-up: {out.run_up_said}."


def first_line(status: AircraftStatus) -> str:
    """The gravest thing in one line."""
    for said in must_know(status):
        return f"{said[0]}: {said[1]}"
    return ""


def must_know(status: AircraftStatus) -> Iterator[tuple[str, str]]:
    """What the next pilot must know: (word, sentence) each, the gravest first."""
    for defect in status.defects or ():
        yield "Grounds it" if defect.grounds else EFFECT_SAID[defect.effect], defect_said(defect)
    yield from _work(status, DueState.over, "Overdue")
    yield from _unknown(status)
    if status.left is not None and status.left.wrong:
        yield "Not in place", ", ".join(status.left.wrong)
    yield from _work(status, DueState.soon, "Due soon")
    for drift in status.drifts:
        if drift.warns:
            yield "Drifts", f"{drift.label}. {drift.sentence}"
    if status.raised_watch:
        yield "Watch", f"only {status.since_major_h:.1f} h since major maintenance"


def _work(status: AircraftStatus, state: DueState, word: str) -> Iterator[tuple[str, str]]:
    for work in status.work:
        if work.state is state:
            yield word, f"{work.item.label}, {due_said(work)}"


def _unknown(status: AircraftStatus) -> Iterator[tuple[str, str]]:
    if status.unknown:
        yield "Not known", "; ".join(status.unknown)
    due = [work.item.label for work in status.work if work.state is DueState.unknown]
    if due:
        yield "Not known", f"when due: {', '.join(due)}"


def _when(at: datetime, zone: ZoneInfo) -> str:
    local = at.astimezone(zone)
    return f"{local:%a} {local.day} {local:%b %H:%M}"
