"""How an aircraft stands: its open defects with what they forbid, and the work that falls due. Pure."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum
from typing import Any, Final

from pydantic import ValidationError

from riskboard.upkeep.defects import id_of, listed
from riskboard.upkeep.forecast import DueDay, FlyingRate, due_day
from riskboard.upkeep.work import WorkItem
from riskboard.words import DefectEffect
from riskboard.worksheet.entries import Defect

__all__ = ["DueState", "OpenDefect", "Stand", "WorkDue", "open_defects_of", "stand_of", "work_due"]

SOON_H: Final = 10.0
"""Hours below which work is due soon: common practice, no source."""
SOON: Final = timedelta(days=14)
"""Days below which work is due soon: common practice, no source."""


class Stand(StrEnum):
    """How an aircraft stands, the gravest first. None of these is an airworthiness decision."""

    grounded = "grounded"
    overdue = "overdue"
    unknown = "unknown"
    restricted = "restricted"
    watch = "watch"
    nothing_open = "nothing_open"


class DueState(StrEnum):
    """How near a piece of work is, the gravest first."""

    over = "over"
    unknown = "unknown"
    soon = "soon"
    later = "later"


@dataclass(frozen=True)
class OpenDefect:
    """One open defect.

    Attributes:
        defect_id: What a signature names it by.
        text: What is wrong.
        effect: What it forbids; None where nobody has said, and then it may forbid everything.
        grounds: Whether the aircraft may not fly with it: it says so, or its deferral has ended.
        reported_at: When it was reported.
        deferred_until: Last day of its deferral.
        deferral_over: Whether that day has passed.
        deferred_by: Who deferred it.
        reference: Under which entry of the aircraft's papers.
    """

    defect_id: str
    text: str
    effect: DefectEffect | None
    grounds: bool
    reported_at: datetime | None = None
    deferred_until: date | None = None
    deferral_over: bool = False
    deferred_by: str = ""
    reference: str = ""


@dataclass(frozen=True)
class WorkDue:
    """One piece of work and how near it is.

    Attributes:
        item: Which.
        days_left: Days to its last good day; None where it does not end by a day, or that is not known.
        hours_left: Hours by the meter; None likewise, or where the meter is not known.
        due: Day at the rate of flying, and how early it may be; None where no rate is known.
        state: How near it is.
    """

    item: WorkItem
    days_left: int | None
    hours_left: float | None
    due: DueDay | None
    state: DueState


def open_defects_of(facts: Mapping[str, Any], today: date) -> tuple[OpenDefect, ...] | None:
    """Every open defect, the gravest first; None where nobody has said whether there are any."""
    known = listed(facts.get("open_defects"))
    if known is None:
        return None
    order: list[DefectEffect | None] = [None, *DefectEffect]
    found = [_defect(each, today) for each in known]
    return tuple(sorted(found, key=lambda each: (not each.grounds, order.index(each.effect))))


def _defect(data: Any, today: date) -> OpenDefect:
    identity = id_of(data) if isinstance(data, Mapping) else ""
    try:
        read = Defect.model_validate(data)
    except ValidationError:  # what cannot be read is not taken for harmless
        text = str(data.get("text", data)) if isinstance(data, Mapping) else str(data)
        return OpenDefect(identity, text, None, grounds=False)
    over = read.deferred_until is not None and read.deferred_until < today
    return OpenDefect(
        identity,
        read.text,
        read.effect,
        grounds=over or read.effect is DefectEffect.grounding,
        reported_at=read.reported_at,
        deferred_until=read.deferred_until,
        deferral_over=over,
        deferred_by=read.deferred_by or "",
        reference=read.reference or "",
    )


def work_due(items: Sequence[WorkItem], meter_h: float | None, rate: FlyingRate, today: date) -> tuple[WorkDue, ...]:
    """How near each piece of work is, the gravest and soonest first. Known failure beats unknown beats pass.

    Args:
        items: The work.
        meter_h: Meter reading now; None unknown.
        rate: The rate of flying.
        today: The school's day.
    """
    found = [_work(item, meter_h, rate, today) for item in items]
    states = list(DueState)
    return tuple(sorted(found, key=lambda each: (states.index(each.state), _soonest(each, today), each.item.label)))


def _work(item: WorkItem, meter_h: float | None, rate: FlyingRate, today: date) -> WorkDue:
    days = None if item.due_on is None else (item.due_on - today).days
    hours = None if item.due_at_h is None or meter_h is None else round(item.due_at_h - meter_h, 1)
    due = None if hours is None else due_day(hours, rate, today)
    if (days is not None and days < 0) or (hours is not None and hours < 0):
        state = DueState.over
    elif not item.known or (item.due_at_h is not None and hours is None):
        state = DueState.unknown
    elif _is_soon(days, hours, due, today):
        state = DueState.soon
    else:
        state = DueState.later
    return WorkDue(item, days, hours, due, state)


def _is_soon(days: int | None, hours: float | None, due: DueDay | None, today: date) -> bool:
    by_day = days is not None and days <= SOON.days
    by_hours = hours is not None and hours <= SOON_H
    return by_day or by_hours or (due is not None and due.earliest - today <= SOON)


def _soonest(work: WorkDue, today: date) -> date:
    """The day by which the work is ordered; without a rate ten hours count as a week."""
    ends = [] if work.item.due_on is None else [work.item.due_on]
    if work.due is not None:
        ends.append(work.due.on)
    elif work.hours_left is not None:
        ends.append(today + timedelta(days=round(work.hours_left * 0.7)))
    return min(ends, default=date.max)


def stand_of(
    defects: Sequence[OpenDefect] | None, work: Sequence[WorkDue], *, all_known: bool, look: bool = False
) -> Stand:
    """How the aircraft stands: the gravest thing there is.

    Args:
        defects: Its open defects; None where nobody has said.
        work: What falls due.
        all_known: Whether everything else that the next pilot must know is known.
        look: Whether something else deserves a look: a drift, something not in place, new work.
    """
    open_now = defects or ()
    if any(each.grounds for each in open_now):
        return Stand.grounded
    if any(each.state is DueState.over for each in work):
        return Stand.overdue
    not_said = any(each.effect is None for each in open_now) or any(each.state is DueState.unknown for each in work)
    if defects is None or not all_known or not_said:
        return Stand.unknown
    if any(each.effect is not DefectEffect.watch for each in open_now):
        return Stand.restricted
    return Stand.watch if open_now or look else Stand.nothing_open
