"""Every piece of work that falls due on an aircraft: what it is, and when, as its stored facts and its type say."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from riskboard.aircraft_types.model import AircraftType
from riskboard.measures.currency import calendar_months_valid_until
from riskboard.words import NONE

__all__ = ["WorkItem", "work_items"]

_CALENDAR = {
    "annual": ("annual_on", 12),
    "transponder": ("transponder_check_on", 24),
    "locator": ("locator_check_on", 12),
}
_LABELS = {
    "annual": "Annual inspection",
    "hundred_hour": "100-hour inspection",
    "transponder": "Transponder check",
    "locator": "Emergency locator check",
}
_LISTS = {"inspection": "inspections", "life": "life_limits"}
_HUNDRED_H = 100.0


@dataclass(frozen=True)
class WorkItem:
    """One inspection, check or life limit.

    Attributes:
        key: "annual", "hundred_hour", "transponder", "locator", "inspection:NAME" or "life:NAME".
        label: What people call it.
        due_on: Last good day; None where there is none, or it is not known.
        due_at_h: Meter reading at which it is due; None likewise.
        known: Whether all that ends it is known. Where it is not, nothing about it is good.
        every_h: Its interval in hours, as the type says; None for none.
        every_months: Its interval in months; None for none.
    """

    key: str
    label: str
    due_on: date | None
    due_at_h: float | None
    known: bool
    every_h: float | None = None
    every_months: int | None = None


def work_items(facts: Mapping[str, Any], kind: AircraftType | None) -> tuple[WorkItem, ...]:
    """Everything that falls due, in the order people think of it. What does not apply is left out.

    Args:
        facts: The aircraft's stored facts of the worksheet.
        kind: Its type, for intervals and for what the type asks for that nobody has stated; None where none is on file.
    """
    found = [_calendar(key, facts) for key in ("annual",)]
    found += [_hundred_hour(facts)]
    found += [_calendar(key, facts) for key in ("transponder", "locator")]
    listed = [item for prefix in _LISTS for item in _listed(prefix, facts, kind)]
    return tuple(item for item in [*found, *listed] if item is not None)


def _calendar(key: str, facts: Mapping[str, Any]) -> WorkItem | None:
    name, months = _CALENDAR[key]
    value = facts.get(name)
    if value == NONE:
        return None
    done = _day(value)
    until = None if done is None else calendar_months_valid_until(done, months)
    due = until if isinstance(until, date) else None
    return WorkItem(key, _LABELS[key], due, None, due is not None, every_months=months)


def _hundred_hour(facts: Mapping[str, Any]) -> WorkItem | None:
    value = facts.get("hundred_hour_due_at_h")
    if value == NONE:
        return None
    due = _number(value)
    return WorkItem("hundred_hour", _LABELS["hundred_hour"], None, due, due is not None, every_h=_HUNDRED_H)


def _listed(prefix: str, facts: Mapping[str, Any], kind: AircraftType | None) -> list[WorkItem]:
    upkeep = () if kind is None else (kind.inspections if prefix == "inspection" else kind.life_limits)
    asked = {each.name: each for each in upkeep}
    entries = facts.get(_LISTS[prefix])
    found = []
    for entry in entries if isinstance(entries, list | tuple) else []:
        if isinstance(entry, Mapping) and entry.get("name"):
            name = str(entry["name"])
            of_type = asked.pop(name, None)
            known = entry.get("due_on") is not None and entry.get("due_at_h") is not None
            found.append(
                WorkItem(
                    f"{prefix}:{name}",
                    name,
                    _day(entry.get("due_on")),
                    _number(entry.get("due_at_h")),
                    known,
                    None if of_type is None else of_type.every_h,
                    None if of_type is None else of_type.every_months,
                )
            )
    own = {_LABELS["annual"], _LABELS["hundred_hour"]}
    missing = [each for name, each in asked.items() if name not in own]
    found += [
        WorkItem(
            f"{prefix}:{each.name}",
            each.name,
            None,
            None,
            known=False,
            every_h=each.every_h,
            every_months=each.every_months,
        )
        for each in missing
    ]
    return found


def _day(found: object) -> date | None:
    try:
        return date.fromisoformat(found) if isinstance(found, str) else None
    except ValueError:
        return None


def _number(found: object) -> float | None:
    return float(found) if isinstance(found, int | float) and not isinstance(found, bool) else None
