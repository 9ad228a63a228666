"""The six aircraft of the invented school: all of the invented type, each weighed and kept in its own way.

One is sound; one is almost due; one leaks a little; one has a deferred defect; one has just been worked on and was left
with its battery on; one is grounded.
"""

from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Any

from riskboard.worksheet.debrief import Condition, all_in_place, left_items
from riskboard.worksheet.typed_times import iso_utc

__all__ = ["TYPE_NAME", "fleet"]

Facts = dict[str, Any]

TYPE_NAME = "Tarnwick 2 (invented)"
"""Title of the shipped aircraft type, as worksheets call it."""
_TANKS_GAL = 32.0
"""Usable fuel of full tanks of that type."""


def _day(today: datetime, days_ago: int) -> str:
    return (today - timedelta(days=days_ago)).date().isoformat()


def _items(*names: str) -> list[Facts]:
    return [{"name": name, "state": "in_place", "required": True} for name in names]


def _due(name: str, *, day: str = "none", at_h: float | None = None) -> Facts:
    return {"name": name, "due_on": day, "due_at_h": "none" if at_h is None else at_h}


def _weighed(today: datetime, days_ago: int, weight_lb: float, arm_in: float, lateral_in_lb: float) -> Facts:
    """A weighing, and what was fitted then: doors and dual controls, no floats. The arm is from the type's datum."""
    fitted = {"right_door": True, "left_door": True, "dual_controls": True, "floats": False}
    return {
        "empty_weight_lb": weight_lb,
        "empty_longitudinal_moment_in_lb": float(round(weight_lb * arm_in)),
        "empty_lateral_moment_in_lb": lateral_in_lb,
        "weighed_on": _day(today, days_ago),
        "equipment_fitted": [{"name": name, "fitted": yes} for name, yes in fitted.items()],
    }


def _sound_aircraft(today: datetime, meter_h: float) -> Facts:
    """A Tarnwick 2 with nothing wrong; each aircraft of the fleet is this with its own differences."""
    return {
        "type_name": TYPE_NAME,
        "induction": "carburetted",
        "rotor_direction": "counterclockwise",
        "type_training_required": True,
        "meter_h": meter_h,
        "meter_read_at": (today - timedelta(minutes=45)).isoformat(),
        "last_inspection_at_h": meter_h - 38.0,
        "annual_on": _day(today, 150),
        "hundred_hour_due_at_h": meter_h + 62.0,
        "inspections": [
            _due("Drive belt inspection", at_h=meter_h + 110.0),
            _due("Blade bond directive", day=_day(today, -140), at_h=meter_h + 210.0),
        ],
        "life_limits": [
            _due("Main rotor blades", day=_day(today, -1900), at_h=meter_h + 640.0),
            _due("Tail rotor blades", day=_day(today, -1900), at_h=meter_h + 640.0),
            _due("Drive belts", at_h=meter_h + 410.0),
        ],
        "transponder_check_on": _day(today, 260),
        "locator_check_on": _day(today, 150),
        "hours_since_major_maintenance_h": 240.0,
        "open_defects": [],
        "loose_equipment": _items("Doors", "Dual controls or their covers", "Mixture guard", "Fire extinguisher"),
        "night_equipment": _items("Position lights", "Anticollision light", "Landing light", "Spare fuses"),
        "fuel_burn_gal_h": 12.0,
        "start_and_taxi_gal": 1.0,
    }


def _of_its_own(today: datetime) -> Iterator[tuple[str, Facts]]:
    """Registration -> everything of an aircraft but how it was left."""
    yield "LRS-01", _sound_aircraft(today, 2231.4) | _weighed(today, 262, 988.5, 86.15, 112.0)
    yield (
        "LRS-02",
        _sound_aircraft(today, 1904.7)
        | _weighed(today, 611, 981.2, 86.24, 84.0)
        | {"hundred_hour_due_at_h": 1906.1, "last_inspection_at_h": 1806.1},
    )
    watch = {
        "text": "Slight mist of oil at the mast seal; wipe and look after each flight",
        "effect": "watch",
        "id": "lrs03-seal",
    }
    yield (
        "LRS-03",
        _sound_aircraft(today, 3120.9)
        | _weighed(today, 95, 1003.8, 86.02, 141.0)
        | {"open_defects": [watch], "annual_on": _day(today, 305), "hundred_hour_due_at_h": 3208.6},
    )
    lamp = {
        "text": "Landing light does not come on",
        "effect": "no_night",
        "deferred_until": _day(today, -6),
        "id": "lrs04-lamp",
        "reported_at": iso_utc(today - timedelta(days=4)),
        "deferred_by": "Joss Okonjo-Lind",
        "reference": "Deferral sheet LRS-04, line 7",
    }
    yield (
        "LRS-04",
        _sound_aircraft(today, 845.2)
        | _weighed(today, 418, 977.9, 86.28, 63.0)
        | {"open_defects": [lamp], "hundred_hour_due_at_h": 869.0, "last_inspection_at_h": 769.0},
    )
    yield (
        "LRS-05",
        _sound_aircraft(today, 2790.0)
        | _weighed(today, 21, 994.1, 86.09, 105.0)
        | {
            "hours_since_major_maintenance_h": 3.2,
            "last_inspection_at_h": 2786.8,
            "hundred_hour_due_at_h": 2886.8,
        },
    )
    grounded = {"text": "Low rotor rpm horn silent on test", "effect": "grounding", "id": "lrs06-horn"}
    yield (
        "LRS-06",
        _sound_aircraft(today, 1412.3) | _weighed(today, 340, 985.0, 86.2, 98.0) | {"open_defects": [grounded]},
    )


_LAST_FLOWN = {
    "LRS-01": ("ines-vasko", 15.0),
    "LRS-02": ("mara-oduya", 16.5),
    "LRS-03": ("tobin-reyes-hall", 40.0),
    "LRS-04": ("mara-oduya", 18.0),
    "LRS-05": ("tobin-reyes-hall", 14.0),
    "LRS-06": ("ines-vasko", 63.0),
}
"""Who flew each aircraft last, and how many hours ago they left it."""
_LEFT_OUT = {"LRS-05": ("battery_master",)}


def _left(today: datetime, registration: str) -> Facts:
    """How the last user left an aircraft, told after the flight; a Tarnwick 2 has no rotor brake."""
    person_id, hours_ago = _LAST_FLOWN[registration]
    at = iso_utc(today - timedelta(hours=hours_ago))
    items = all_in_place(("rotor_brake",)) | dict.fromkeys(_LEFT_OUT.get(registration, ()), "out_of_place")
    return {
        "condition_left": {"items": items, "by": person_id, "at": at},
        "last_user": {"person": person_id, "at": at},
        "clocks": {"left_by_last_user": {"true_at": at, "typed_at": at}},
    }


def fleet(today: datetime) -> Iterator[tuple[str, Facts]]:
    """Registration -> the stored document of each aircraft, without its id and the time of its facts.

    Args:
        today: The moment the school is set up, UTC.
    """
    for registration, facts in _of_its_own(today):
        left = _left(today, registration)
        items = left_items(Condition.model_validate(left["condition_left"]["items"]))
        aircraft = {"registration": registration} | facts | {"left_by_last_user": items}
        yield registration, {"tank_gal": _TANKS_GAL, "aircraft": aircraft} | left
