"""What a flight leaves behind for the next one: the aircraft's document after a debrief. Pure, on plain data."""

from collections.abc import Mapping
from copy import deepcopy
from datetime import datetime
from typing import Any

from riskboard.words import NONE, ItemLeft, ItemState
from riskboard.worksheet.debrief import LOOSE_ITEMS, Condition, Debrief, FlightFacts, debrief_data, flown_h, left_items
from riskboard.worksheet.typed_times import iso_utc

__all__ = ["aircraft_after", "changes_between", "not_fitted", "unknown_after_flight"]

unknown_after_flight = ("meter_h", "meter_read_at")
"""Stored facts that a flight makes untrue: without a new reading they are blank, for the next pilot to read."""


def aircraft_after(
    before: Mapping[str, Any], told: Debrief, flight: FlightFacts, *, flight_id: str, person_id: str, at: datetime
) -> dict[str, Any]:
    """The aircraft's document after a debrief.

    A defect is only ever added. Meter and condition are taken over, blanks too: after a flight the old ones are no
    longer true. Only where the aircraft is known better from a later flight do they stay as they are.

    Args:
        before: The document.
        told: The debrief.
        flight: What was known of the flight.
        flight_id: Which flight.
        person_id: Who tells.
        at: Now.

    Returns:
        A new document; ``clocks`` says of each fact that changed when it was true and when it was typed.
    """
    after = deepcopy(dict(before))
    facts = after.setdefault("aircraft", {})
    true_at = iso_utc(told.landed_at or at)
    changed = _add_defects(facts, told, true_at)
    if not flight.is_late(told):
        changed |= _take_meter(facts, told, flight, true_at)
        changed |= _take_condition(facts, told.condition)
        after["condition_left"] = {
            "items": debrief_data(told).get("condition", {}),
            "by": person_id,
            "at": true_at,
            "flight": flight_id,
        } | ({} if told.fuel_left_gal is None else {"fuel_left_gal": told.fuel_left_gal})
        after["last_user"] = {"person": person_id, "at": true_at}
        changed |= set(unknown_after_flight)  # a reading that is gone is news too
    moment = {"true_at": true_at, "typed_at": iso_utc(at)}
    after["clocks"] = after.get("clocks", {}) | dict.fromkeys(sorted(changed), moment)
    return after


_REST_UNKNOWN = {"text": "Whatever else stood open before this flight: nobody had said"}
_LOOSE_UNKNOWN = {"name": "Other loose equipment: nobody had said", "required": True}


def _listed(stored: Any, rest_unknown: Mapping[str, Any]) -> list[Any]:
    """The entries of a stored list; of an unknown one an entry of unknown state, or what is added looks complete."""
    if isinstance(stored, list):
        return stored
    return [] if stored == NONE else [dict(rest_unknown)]


def _add_defects(facts: dict[str, Any], told: Debrief, true_at: str) -> set[str]:
    if not told.defects:
        return set()
    found = [{"reported_at": true_at} | entry for entry in debrief_data(told)["defects"]]
    facts["open_defects"] = [*_listed(facts.get("open_defects"), _REST_UNKNOWN), *found]
    return {"open_defects"}


def _take_meter(facts: dict[str, Any], told: Debrief, flight: FlightFacts, true_at: str) -> set[str]:
    for name in unknown_after_flight:
        facts.pop(name, None)
    if told.meter_h is None:
        return set()
    facts.update({"meter_h": told.meter_h, "meter_read_at": true_at})
    flown, since = flown_h(told, flight), facts.get("hours_since_major_maintenance_h")
    if flown is None or not isinstance(since, int | float) or isinstance(since, bool):
        return set(unknown_after_flight)
    facts["hours_since_major_maintenance_h"] = round(since + flown, 1)
    return {*unknown_after_flight, "hours_since_major_maintenance_h"}


def _take_condition(facts: dict[str, Any], left: Condition) -> set[str]:
    facts["left_by_last_user"] = left_items(left)
    changed = {"left_by_last_user"}
    for name in LOOSE_ITEMS:
        state: ItemLeft | None = getattr(left, name)
        if state in {ItemLeft.in_place, ItemLeft.out_of_place} and _take_loose(
            facts, Condition.facts()[name].label, in_place=state is ItemLeft.in_place
        ):
            changed.add("loose_equipment")
    return changed


def _take_loose(facts: dict[str, Any], label: str, *, in_place: bool) -> bool:
    """Put the state of one piece into the list of loose equipment; what is out of place is added where not listed."""
    said = {"state": (ItemState.in_place if in_place else ItemState.not_in_place).value}
    listed = _listed(facts.get("loose_equipment"), _LOOSE_UNKNOWN)
    if any(item.get("name") == label for item in listed):
        facts["loose_equipment"] = [item | said if item.get("name") == label else item for item in listed]
    elif not in_place:
        facts["loose_equipment"] = [*listed, {"name": label, "required": True} | said]
    else:
        return False
    return True


def changes_between(before: Mapping[str, Any], after: Mapping[str, Any]) -> tuple[dict[str, Any], dict[str, Any]]:
    """What changed between two documents of the same kind, before and after, None where there is none.

    Facts of the worksheet part are named by themselves; times of typing are no change of their own.
    """
    old, new = _flat(before), _flat(after)
    names = [name for name in (*old, *new) if old.get(name) != new.get(name)]
    names = list(dict.fromkeys(names))
    return {name: old.get(name) for name in names}, {name: new.get(name) for name in names}


def _flat(document: Mapping[str, Any]) -> dict[str, Any]:
    flat: dict[str, Any] = {}
    for name, value in document.items():
        if name in {"aircraft", "pilot", "plan"} and isinstance(value, Mapping):
            flat.update(value)
        elif name not in {"clocks", "as_of", "id"}:
            flat[name] = value
    return flat


def not_fitted(document: Mapping[str, Any]) -> tuple[str, ...]:
    """Items of the condition that this aircraft does not have, as last told."""
    items = document.get("condition_left", {}).get("items", {})
    return tuple(name for name in Condition.model_fields if items.get(name) == ItemLeft.not_fitted.value)
