"""A briefing that starts from an old sheet: what in it is another thing than what was put before somebody last."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from riskboard.jobs.briefing import Briefing
from riskboard.jobs.flights import asked_entry
from riskboard.jobs.office import Office
from riskboard.worksheet.model import PARTS

__all__ = ["Since", "changed_since_asked"]


@dataclass(frozen=True)
class Since:
    """One entry that differs from the one on record.

    Attributes:
        field: The entry.
        then: What was put before somebody, plain; None where it was blank.
        now: What the sheet says now, plain; None where it is blank.
    """

    field: str
    then: Any
    now: Any


def changed_since_asked(office: Office, briefing: Briefing) -> tuple[Since, ...]:
    """The entries of a draft that differ from those last accepted, or put before a second person, in reading order.

    A draft stands on the newest facts of the school, so this names what the school learned since, and what the pilot
    changed since. Nothing when nothing was ever asked, or when its text was erased.
    """
    flight = office.log.look().flights.get(briefing.draft_id)
    entry = None if flight is None else asked_entry(office, flight)
    if entry is None or entry.body is None or not isinstance(entry.body.value.get("entries"), Mapping):
        return ()
    then = entry.body.value["entries"]
    found = []
    for part, model in PARTS.items():
        old, new = then.get(part, {}), briefing.data.get(part, {})
        found += [
            Since(name, old.get(name), new.get(name)) for name in model.model_fields if old.get(name) != new.get(name)
        ]
    return tuple(found)
