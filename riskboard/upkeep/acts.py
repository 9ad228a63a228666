"""What maintenance signs, and the aircraft's facts after it. Pure, on plain data."""

from collections.abc import Iterator, Mapping
from copy import deepcopy
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from riskboard.upkeep.defects import id_of, listed
from riskboard.words import NONE, DefectEffect

__all__ = ["Closed", "Deferred", "Inspected", "MaintenanceAct", "UpkeepError", "act_data", "after_maintenance"]

_CHECKS = {"annual": "annual_on", "transponder": "transponder_check_on", "locator": "locator_check_on"}
_LISTS = {"inspection": "inspections", "life": "life_limits"}


class UpkeepError(ValueError):
    """What is to be signed cannot be true of this aircraft. ``problems`` says what to mend, one sentence each."""

    def __init__(self, problems: tuple[str, ...]) -> None:
        super().__init__(" ".join(problems))
        self.problems = problems


@dataclass(frozen=True)
class Closed:
    """A defect is put right.

    Attributes:
        defect_id: Which, by ``upkeep.defects.id_of``.
        done: What was done, in a few words.
    """

    defect_id: str
    done: str


@dataclass(frozen=True)
class Deferred:
    """A defect stays, with what it forbids meanwhile, until a day.

    Attributes:
        defect_id: Which.
        effect: What it forbids meanwhile; never grounding, for that is no deferral.
        until: Last day on which the aircraft may fly with it.
        reference: Under which entry of the aircraft's papers.
    """

    defect_id: str
    effect: DefectEffect
    until: date
    reference: str


@dataclass(frozen=True)
class Inspected:
    """An inspection, a check or a part's replacement was done.

    Attributes:
        key: ``WorkItem.key``.
        done_on: When.
        at_h: Meter reading then; needed for what is due by the meter.
        next_on: Last good day of the next one; None where it does not end by a day. Annual, transponder and locator
            check need none: the rule counts their months.
        next_at_h: Meter reading at which the next one is due; None where it does not end by the meter.
    """

    key: str
    done_on: date
    at_h: float | None = None
    next_on: date | None = None
    next_at_h: float | None = None


@dataclass(frozen=True)
class MaintenanceAct:
    """Everything that one signature puts on record.

    Attributes:
        closes: Defects put right.
        defers: Defects that stay for now.
        inspections: Inspections done.
        major_done: Whether major maintenance was done: the hours since then begin anew.
        starts_over: Entries of the run-up whose part was changed or adjusted: their readings begin anew.
        note: What the next person should know; may be empty.
    """

    closes: tuple[Closed, ...] = ()
    defers: tuple[Deferred, ...] = ()
    inspections: tuple[Inspected, ...] = ()
    major_done: bool = False
    starts_over: frozenset[str] = field(default_factory=frozenset)
    note: str = ""


def act_data(act: MaintenanceAct) -> dict[str, Any]:
    """The act as plain data that JSON can hold."""
    return {
        "closes": [{"defect": each.defect_id, "done": each.done.strip()} for each in act.closes],
        "defers": [
            {
                "defect": each.defect_id,
                "effect": each.effect.value,
                "until": each.until.isoformat(),
                "reference": each.reference.strip(),
            }
            for each in act.defers
        ],
        "inspections": [
            {
                "key": each.key,
                "done_on": each.done_on.isoformat(),
                "at_h": each.at_h,
                "next_on": None if each.next_on is None else each.next_on.isoformat(),
                "next_at_h": each.next_at_h,
            }
            for each in act.inspections
        ],
        "major_done": act.major_done,
        "starts_over": sorted(act.starts_over),
        "note": act.note.strip(),
    }


def after_maintenance(document: Mapping[str, Any], act: MaintenanceAct, *, by: str, today: date) -> dict[str, Any]:
    """The aircraft's document after what was signed; defects that were not named stay as they are.

    Args:
        document: The document before.
        act: What is signed.
        by: Name of who signs, as it will stand beside a deferral.
        today: The school's day.

    Raises:
        UpkeepError: It names what does not stand open, a day or a reading that cannot be, or nothing at all.
    """
    facts: Mapping[str, Any] = document.get("aircraft") or {}
    problems = [*_nothing(act), *_defect_problems(facts, act, today)]
    for done in act.inspections:
        problems += _inspection_problems(facts, done, today)
    if problems:
        raise UpkeepError(tuple(problems))
    after = deepcopy(dict(document))
    changed = after.setdefault("aircraft", {})
    if act.closes or act.defers:
        changed["open_defects"] = _defects_after(facts, act, by) or NONE
    for done in act.inspections:
        _inspect(changed, done)
    if act.major_done:
        changed["hours_since_major_maintenance_h"] = 0.0
    return after


def _nothing(act: MaintenanceAct) -> Iterator[str]:
    if not (act.closes or act.defers or act.inspections or act.major_done or act.starts_over):
        yield "Nothing is named that was done; there is nothing to sign."


def _defect_problems(facts: Mapping[str, Any], act: MaintenanceAct, today: date) -> Iterator[str]:
    standing = [id_of(each) for each in listed(facts.get("open_defects")) or [] if isinstance(each, Mapping)]
    named = [closed.defect_id for closed in act.closes] + [deferred.defect_id for deferred in act.defers]
    for identity in dict.fromkeys(named):
        if named.count(identity) > 1:
            yield "A defect is named twice; close it or defer it, once."
        if standing.count(identity) != 1:
            yield "A defect that is named does not stand open any more. Look at the aircraft again, then sign."
    for closed in act.closes:
        if not closed.done.strip():
            yield "Say in a few words what was done about each defect that is closed."
    for deferred in act.defers:
        if deferred.effect is DefectEffect.grounding:
            yield "A deferral cannot ground the aircraft; leave the defect open instead."
        if deferred.until < today:
            yield f"The deferral would have ended on {deferred.until} already."
        if not deferred.reference.strip():
            yield "Name the entry in the aircraft's papers under which the defect is deferred."


def _defects_after(facts: Mapping[str, Any], act: MaintenanceAct, by: str) -> list[Any]:
    closed = {each.defect_id for each in act.closes}
    deferred = {each.defect_id: each for each in act.defers}
    left = []
    for defect in listed(facts.get("open_defects")) or []:
        identity = id_of(defect) if isinstance(defect, Mapping) else ""
        if identity in closed:
            continue
        if identity in deferred:
            said = deferred[identity]
            left.append(
                {
                    **defect,
                    "id": identity,
                    "effect": said.effect.value,
                    "deferred_until": said.until.isoformat(),
                    "deferred_by": by,
                    "reference": said.reference.strip(),
                }
            )
        else:
            left.append(defect)
    return left


def _inspection_problems(facts: Mapping[str, Any], done: Inspected, today: date) -> Iterator[str]:
    prefix, _, name = done.key.partition(":")
    called = name or done.key.replace("_", " ")
    if done.key != "hundred_hour" and done.key not in _CHECKS and prefix not in _LISTS:
        yield f"{called} is no inspection of this aircraft."
        return
    if done.done_on > today:
        yield f"The {called} would be done on {done.done_on}, in the future."
    if done.key in _CHECKS:
        return
    if done.next_on is None and done.next_at_h is None:
        yield f"Say when the {called} is due next: a day, a meter reading, or both."
    if done.key == "hundred_hour" and done.next_at_h is None:
        yield "Say at which meter reading the 100-hour inspection is due next."
    if done.next_on is not None and done.next_on <= done.done_on:
        yield f"The {called} would be due next on {done.next_on}, not after it was done."
    yield from _reading_problems(facts, done, called)


def _reading_problems(facts: Mapping[str, Any], done: Inspected, called: str) -> Iterator[str]:
    meter = facts.get("meter_h")
    if done.next_at_h is None:
        return
    if done.at_h is None:
        yield f"Say what the meter read when the {called} was done."
        return
    if done.next_at_h <= done.at_h:
        yield f"The {called} would be due next at {done.next_at_h:g} h, not after {done.at_h:g} h."
    if isinstance(meter, int | float) and not isinstance(meter, bool) and done.at_h > meter:
        yield f"The meter read {meter:g} h last; the {called} cannot have been done at {done.at_h:g} h."


def _inspect(facts: dict[str, Any], done: Inspected) -> None:
    if done.key in _CHECKS:
        facts[_CHECKS[done.key]] = done.done_on.isoformat()
        return
    if done.at_h is not None:
        last = facts.get("last_inspection_at_h")
        later = not isinstance(last, int | float) or isinstance(last, bool) or done.at_h > last
        if later:
            facts["last_inspection_at_h"] = done.at_h
    if done.key == "hundred_hour":
        facts["hundred_hour_due_at_h"] = done.next_at_h
        return
    prefix, _, name = done.key.partition(":")
    entry = {
        "name": name,
        "due_on": NONE if done.next_on is None else done.next_on.isoformat(),
        "due_at_h": NONE if done.next_at_h is None else done.next_at_h,
    }
    known = facts.get(_LISTS[prefix])
    entries = list(known) if isinstance(known, list) else []
    places = [place for place, each in enumerate(entries) if isinstance(each, Mapping) and each.get("name") == name]
    if places:
        entries[places[0]] = entry
    else:
        entries.append(entry)
    facts[_LISTS[prefix]] = entries
