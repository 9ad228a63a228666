"""What a flight leaves behind for the next one: the aircraft's document after a debrief. Pure, on plain data."""

from collections.abc import Mapping
from copy import deepcopy
from datetime import datetime
from typing import Any

from riskboard.upkeep.defects import added, defect_id
from riskboard.words import ItemLeft, ItemState
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
    changed = _add_defects(facts, told, flight_id, true_at)
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


def _add_defects(facts: dict[str, Any], told: Debrief, flight_id: str, true_at: str) -> set[str]:
    if not told.defects:
        return set()
    entries = debrief_data(told)["defects"]
    found = [
        {"reported_at": true_at} | entry | {"id": defect_id(flight_id, place)} for place, entry in enumerate(entries)
    ]
    facts["open_defects"] = added(facts.get("open_defects"), found)
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
    states = {Condition.facts()[name].label: getattr(left, name) for name in LOOSE_ITEMS}
    loose = facts.get("loose_equipment")
    if not isinstance(loose, list) or not any(item.get("name") in states for item in loose):
        return {"left_by_last_user"}
    facts["loose_equipment"] = [
        _loose(item, states[item["name"]]) if item["name"] in states else item for item in loose
    ]
    return {"left_by_last_user", "loose_equipment"}


def _loose(item: Mapping[str, Any], left: ItemLeft | None) -> dict[str, Any]:
    """A piece of loose equipment as it was left. Of what nobody told, the old state is no longer known."""
    if left is ItemLeft.not_fitted:
        return dict(item)
    bare = {name: value for name, value in item.items() if name != "state"}
    if left is None:
        return bare
    return bare | {"state": (ItemState.in_place if left is ItemLeft.in_place else ItemState.not_in_place).value}


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
