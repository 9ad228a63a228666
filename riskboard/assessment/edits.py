"""What was changed to get to a decision: an honest correction and shopping for a threshold look different.

A worksheet keeps every answer that replaced another one. Going back through them and asking the one engine at each step
shows what the decision was before and after. Pure: the final entries and the edits are given.
"""

from collections.abc import Callable, Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from riskboard.assessment.privacy import HEALTH_FIELDS
from riskboard.assessment.reasons import field_info
from riskboard.words import Decision
from riskboard.worksheet.model import FIELD_PART

__all__ = ["Edit", "Judge", "Verdict", "edits_of"]

MOST_JUDGED = 40
"""Newest edits for which the engine is asked; older ones are listed without a decision."""


@dataclass(frozen=True, slots=True)
class Verdict:
    """Decision and level of a worksheet at one step; total in the policy's points."""

    decision: Decision
    level: str
    total: int


Judge = Callable[[Mapping[str, Any], datetime], Verdict | None]
"""Asks the engine about worksheet data at a moment; None where nothing could be decided."""


@dataclass(frozen=True, slots=True)
class Edit:
    """One answer that replaced another.

    Attributes:
        at: When.
        field: Which entry, or the choice (``aircraft_id`` and the like).
        label: What a person reads.
        before: As typed before.
        after: As typed after; None where it was blanked.
        was: What the worksheet came to before it; None where not known.
        became: What it came to after it.
        times: How often this entry was changed in all.
        health: Whether it is a health answer.
    """

    at: datetime
    field: str
    label: str
    before: object
    after: object
    was: Verdict | None
    became: Verdict | None
    times: int
    health: bool

    @property
    def eased(self) -> bool:
        """Whether this change by itself made the decision or the level better."""
        if self.was is None or self.became is None:
            return False
        if self.became.decision != self.was.decision:
            return self.became.decision < self.was.decision
        return self.became.level != self.was.level and self.became.total < self.was.total


_CHOICES = {
    "pilot_id": "Pilot",
    "aircraft_id": "Aircraft",
    "site_id": "Site",
    "route_id": "Usual flight",
    "instructor_id": "Instructor",
}


def edits_of(entries: Mapping[str, Any], edits: Sequence[Mapping[str, Any]], judge: Judge) -> tuple[Edit, ...]:
    """The edits of a worksheet, oldest first, with the decision before and after each of the newest.

    Args:
        entries: The final entries as typed: part -> field -> value.
        edits: ``{"at", "field", "before", "after"}`` each, oldest first.
        judge: Asks the engine.

    Returns:
        One :class:`Edit` each. Beyond a choice of another aircraft, pilot, site or usual flight nothing is judged:
        the facts that came with the old choice are not kept.
    """
    counts: dict[str, int] = {}
    for edit in edits:
        counts[edit["field"]] = counts.get(edit["field"], 0) + 1
    found: list[Edit] = []
    data = deepcopy(dict(entries))
    became: Verdict | None = None
    known = True
    for place, edit in enumerate(reversed(edits)):
        at = datetime.fromisoformat(edit["at"])
        known = known and place < MOST_JUDGED and edit["field"] in FIELD_PART
        if known and became is None:
            became = judge(_known_at(data, at), at)
        was = None
        if known:
            data.setdefault(FIELD_PART[edit["field"]], {})[edit["field"]] = edit["before"]
            was = judge(_known_at(data, at), at)
        found.append(_edit(edit, at, was, became if known else None, counts[edit["field"]]))
        became = was
    return tuple(reversed(found))


def _known_at(data: Mapping[str, Any], at: datetime) -> dict[str, Any]:
    """The entries without the clocks of what was typed later: at ``at`` those would lie in the future."""
    clocks = data.get("clocks")
    if not isinstance(clocks, Mapping):
        return dict(data)
    return {**data, "clocks": {name: clock for name, clock in clocks.items() if not _later(clock, at)}}


def _later(clock: object, at: datetime) -> bool:
    if not isinstance(clock, Mapping):
        return False
    moments = [value for value in clock.values() if isinstance(value, str)]
    return any(datetime.fromisoformat(moment) > at for moment in moments)


def _edit(edit: Mapping[str, Any], at: datetime, was: Verdict | None, became: Verdict | None, times: int) -> Edit:
    name = edit["field"]
    label = field_info(name).label if name in FIELD_PART else _CHOICES.get(name, name)
    return Edit(at, name, label, edit["before"], edit["after"], was, became, times, name in HEALTH_FIELDS)
