"""Larkfield Rotorcraft School: everything here is invented, and every screen that shows it says so.

Dates are given as days before ``today``, so that the school is alive whenever it is opened. The people differ on
purpose: one is current in everything, one is lapsing, one is a student with written limits.
"""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

from riskboard.worksheet.debrief import Condition, all_in_place, left_items
from riskboard.worksheet.typed_times import iso_utc

__all__ = ["SCHOOL_NAME", "school_documents"]

SCHOOL_NAME = "Larkfield Rotorcraft School"
_ZONE = "America/Denver"
Facts = dict[str, Any]


def _day(today: datetime, days_ago: int) -> str:
    return (today - timedelta(days=days_ago)).date().isoformat()


def _landings(today: datetime, *entries: tuple[int, str, int]) -> list[Facts]:
    return [
        {"on": _day(today, days), "period": period, "takeoffs": count, "landings": count, "full_stop": count}
        for days, period, count in entries
    ]


def _no_student() -> Facts:
    """What a pilot who flies on no solo endorsement answers: none, not blank."""
    papers = (
        "solo_training_on",
        "solo_endorsed_on",
        "solo_night_training_on",
        "student_limits_by",
        "student_limits_on",
    )
    limits = (
        "student_wind_limit_kt",
        "student_crosswind_limit_kt",
        "student_visibility_limit_sm",
        "student_ceiling_limit_ft_agl",
        "student_area_limit_nm",
    )
    return dict.fromkeys((*papers, *limits), "none")


def _no_instructor() -> Facts:
    names = (
        "instructor_name",
        "instructor_experience_on",
        "instructor_period_ends_on",
        "instructor_in_type_h",
        "instructor_exercise_last_on",
    )
    return dict.fromkeys(names, "none") | {"instruction_given": []}


def _people(today: datetime) -> Iterator[tuple[str, Facts]]:
    """Person id -> name, and the stored facts of their pilot part; what they may do stands in `access`."""
    yield (
        "mara-oduya",
        {
            "name": "Mara Oduya",
            "pilot": _no_student()
            | {
                "certificate": "commercial",
                "certificate_on": _day(today, 2900),
                "born_on": "1988-03-14",
                "medical_kind": "second",
                "medical_exam_on": _day(today, 120),
                "basic_med_course_on": "none",
                "flight_review_on": _day(today, 200),
                "recent_landings": _landings(today, (2, "day", 8), (9, "day", 12), (11, "night", 5)),
                "total_helicopter_h": 1640.5,
                "hours_in_type_h": 720.0,
                "hours_last_90_days_h": 118.0,
                "last_flight_in_type_on": _day(today, 2),
                "last_night_flight_on": _day(today, 11),
                "exercise_last_flown_on": _day(today, 5),
                "type_training_on": _day(today, 240),
                "instructor_name": "Mara Oduya",
                "instructor_experience_on": _day(today, 300),
                "instructor_period_ends_on": "none",
                "instructor_in_type_h": 610.0,
                "instructor_exercise_last_on": _day(today, 5),
                "instruction_given": [],
                "first_flight_together": False,
            },
        },
    )
    yield (
        "tobin-reyes-hall",
        {
            "name": "Tobin Reyes-Hall",
            "pilot": _no_student()
            | _no_instructor()
            | {
                "certificate": "private",
                "certificate_on": _day(today, 700),
                "born_on": "1979-11-02",
                "medical_kind": "third",
                "medical_exam_on": _day(today, 410),
                "basic_med_course_on": "none",
                "flight_review_on": _day(today, 320),
                "recent_landings": _landings(today, (12, "day", 4), (30, "day", 6), (33, "night", 3)),
                "total_helicopter_h": 186.4,
                "hours_in_type_h": 64.0,
                "hours_last_90_days_h": 11.5,
                "last_flight_in_type_on": _day(today, 12),
                "last_night_flight_on": _day(today, 33),
                "exercise_last_flown_on": _day(today, 12),
                "type_training_on": _day(today, 190),
                "first_flight_together": False,
            },
        },
    )
    yield (
        "ines-vasko",
        {
            "name": "Ines Vasko",
            "pilot": _no_instructor()
            | {
                "certificate": "student",
                "certificate_on": _day(today, 210),
                "born_on": "2001-06-21",
                "medical_kind": "third",
                "medical_exam_on": _day(today, 230),
                "basic_med_course_on": "none",
                "flight_review_on": "none",
                "recent_landings": [],
                "total_helicopter_h": 41.2,
                "hours_in_type_h": 41.2,
                "hours_last_90_days_h": 22.0,
                "last_flight_in_type_on": _day(today, 3),
                "last_night_flight_on": "none",
                "exercise_last_flown_on": _day(today, 3),
                "type_training_on": _day(today, 150),
                "solo_training_on": _day(today, 20),
                "solo_endorsed_on": _day(today, 20),
                "solo_night_training_on": "none",
                "solo_endorsed_for_this_type": True,
                "student_limits_by": "Mara Oduya",
                "student_limits_on": _day(today, 20),
                "student_wind_limit_kt": 12,
                "student_crosswind_limit_kt": 7,
                "student_visibility_limit_sm": 6,
                "student_ceiling_limit_ft_agl": 2500,
                "student_area_limit_nm": 15,
                "instructor_name": "Mara Oduya",
                "first_flight_together": False,
            },
        },
    )
    yield "wendell-achterberg", {"name": "Wendell Achterberg", "pilot": {}}
    yield (
        "sigrun-palo",
        {
            "name": "Sigrun Palo",
            "pilot": _no_student()
            | {
                "certificate": "commercial",
                "certificate_on": _day(today, 6100),
                "born_on": "1974-06-30",
                "medical_kind": "second",
                "medical_exam_on": _day(today, 75),
                "basic_med_course_on": "none",
                "flight_review_on": _day(today, 90),
                "recent_landings": _landings(today, (4, "day", 6), (15, "night", 4)),
                "total_helicopter_h": 5210.0,
                "hours_in_type_h": 1480.0,
                "hours_last_90_days_h": 74.0,
                "last_flight_in_type_on": _day(today, 4),
                "last_night_flight_on": _day(today, 15),
                "exercise_last_flown_on": _day(today, 4),
                "type_training_on": _day(today, 130),
                "instructor_name": "Sigrun Palo",
                "instructor_experience_on": _day(today, 210),
                "instructor_period_ends_on": "none",
                "instructor_in_type_h": 1320.0,
                "instructor_exercise_last_on": _day(today, 4),
                "instruction_given": [],
                "first_flight_together": False,
            },
        },
    )
    yield "noor-farrant", {"name": "Noor Farrant", "pilot": {}}
    yield "joss-okonjo-lind", {"name": "Joss Okonjo-Lind", "pilot": {}}
    yield "edda-quaye", {"name": "Edda Quaye", "pilot": {}}


def _items(*names: str) -> list[Facts]:
    return [{"name": name, "state": "in_place", "required": True} for name in names]


def _sound_aircraft(today: datetime, meter_h: float) -> Facts:
    """A Tarnwick 2 with nothing wrong; each aircraft of the fleet is this with its own differences."""
    return {
        "type_name": "Tarnwick 2 (invented)",
        "induction": "carburetted",
        "rotor_direction": "counterclockwise",
        "type_training_required": True,
        "meter_h": meter_h,
        "meter_read_at": (today - timedelta(minutes=45)).isoformat(),
        "last_inspection_at_h": meter_h - 38.0,
        "annual_on": _day(today, 150),
        "hundred_hour_due_at_h": meter_h + 62.0,
        "inspections": [
            {"name": "Drive belt inspection", "due_on": "none", "due_at_h": meter_h + 110.0},
            {"name": "Blade bond directive", "due_on": _day(today, -140), "due_at_h": "none"},
        ],
        "life_limits": [{"name": "Main rotor blades", "due_on": _day(today, -1900), "due_at_h": meter_h + 640.0}],
        "transponder_check_on": _day(today, 260),
        "locator_check_on": _day(today, 150),
        "hours_since_major_maintenance_h": 240.0,
        "open_defects": [],
        "loose_equipment": _items("Doors", "Dual controls or their covers", "Mixture guard", "Fire extinguisher"),
        "night_equipment": _items("Position lights", "Anticollision light", "Landing light", "Spare fuses"),
        "fuel_burn_gal_h": 12.0,
        "start_and_taxi_gal": 1.0,
    }


def _fleet(today: datetime) -> Iterator[tuple[str, Facts]]:
    yield "LRS-01", _sound_aircraft(today, 2231.4)
    yield (
        "LRS-02",
        _sound_aircraft(today, 1904.7)
        | {
            "hundred_hour_due_at_h": 1906.1,
            "last_inspection_at_h": 1806.1,
        },
    )
    watch = [{"text": "Slight mist of oil at the mast seal; wipe and look after each flight", "effect": "watch"}]
    yield "LRS-03", _sound_aircraft(today, 3120.9) | {"open_defects": watch}
    lamp = [{"text": "Landing light does not come on", "effect": "no_night", "deferred_until": _day(today, -6)}]
    yield "LRS-04", _sound_aircraft(today, 845.2) | {"open_defects": lamp}
    yield "LRS-05", _sound_aircraft(today, 2790.0) | {"hours_since_major_maintenance_h": 3.2}
    grounded = [{"text": "Low rotor rpm horn silent on test", "effect": "grounding"}]
    yield "LRS-06", _sound_aircraft(today, 1412.3) | {"open_defects": grounded}


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


def _sites() -> Iterator[tuple[str, Facts]]:
    larkfield = {
        "departure_name": "Larkfield",
        "departure_latitude_deg": 39.21,
        "departure_longitude_deg": -104.88,
        "departure_elevation_ft": 1240,
        "time_zone": _ZONE,
        "airspace": "G",
        "surface_area": False,
        "transponder_used": True,
    }
    yield "larkfield", {"name": "Larkfield", "plan": larkfield}
    ridge = {
        "departure_name": "Corbel Ridge",
        "departure_latitude_deg": 39.02,
        "departure_longitude_deg": -105.31,
        "departure_elevation_ft": 6900,
        "time_zone": _ZONE,
        "airspace": "G",
        "surface_area": False,
        "transponder_used": True,
    }
    yield "corbel-ridge", {"name": "Corbel Ridge", "plan": ridge}


def _local_route() -> Facts:
    """What every flight near Larkfield shares."""
    return {
        "approach_heading_deg": 170,
        "special_vfr": False,
        "over_water": False,
        "off_airport_landing": False,
        "site_surface": "grass",
        "ground_lights": "some",
        "terrain": "flat",
        "highest_site_elevation_ft": 1240,
    }


def _routes() -> Iterator[tuple[str, Facts]]:
    """Flights the school makes every day, so that nobody types them again."""
    circuits = {
        "exercise": "circuits",
        "destination_name": "Larkfield circuit",
        "distance_from_base_nm": 3,
        "cruise_ft_agl": 700,
        "highest_obstacle_ft_agl": 180,
        "alternative": "Land on the grass strip north of the field; the duty instructor decides on the radio.",
        "turn_back_triggers": "Wind above 20 kt on the ground, or ceiling below 1,500 ft.",
        "reserve_min": 30,
    }
    yield (
        "larkfield-circuits",
        {"name": "Circuits at Larkfield", "site": "larkfield", "duration_min": 60, "plan": _local_route() | circuits},
    )
    area = {
        "exercise": "autorotation_power_recovery",
        "destination_name": "South practice area",
        "distance_from_base_nm": 9,
        "cruise_ft_agl": 1200,
        "highest_obstacle_ft_agl": 320,
        "alternative": "Back to Larkfield by the river line; decide at the water tower.",
        "turn_back_triggers": "Ceiling below 2,000 ft, visibility below 5 SM, or wind above 20 kt.",
        "reserve_min": 30,
    }
    yield (
        "south-area",
        {"name": "South practice area", "site": "larkfield", "duration_min": 75, "plan": _local_route() | area},
    )
    ridge = {
        "exercise": "mountain_flight",
        "destination_name": "Corbel Ridge and back",
        "distance_from_base_nm": 31,
        "cruise_ft_agl": 1500,
        "highest_obstacle_ft_agl": 410,
        "highest_site_elevation_ft": 6900,
        "terrain": "mountainous",
        "off_airport_landing": True,
        "site_surface": "rough",
        "ground_lights": "few_or_none",
        "alternative": "Turn back at the saddle; land at the quarry pad, agreed with its owner.",
        "turn_back_triggers": "Wind above 15 kt at the ridge, cloud below the saddle, or less than 50 min fuel there.",
        "reserve_min": 30,
    }
    yield (
        "corbel-ridge",
        {"name": "Corbel Ridge and back", "site": "larkfield", "duration_min": 95, "plan": _local_route() | ridge},
    )


def school_documents(today: datetime) -> Iterator[tuple[str, str, Facts]]:
    """Every stored fact of the invented school.

    Args:
        today: The moment the school is set up, aware; facts count as true a little before it.

    Yields:
        (kind, id, document): kinds are "school", "person", "aircraft", "site" and "route".

    Raises:
        ValueError: ``today`` has no zone.
    """
    if today.tzinfo is None:
        raise ValueError("the day needs a time zone")
    # Facts were true and typed an hour ago, whatever the hour: never in the future of the first briefing.
    as_of = (today - timedelta(hours=1)).astimezone(UTC).replace(microsecond=0).isoformat()
    local = today.astimezone(UTC)
    yield "school", "school", {"name": SCHOOL_NAME, "time_zone": _ZONE, "idle_min": 30, "invented": True}
    for identity, person in _people(local):
        yield "person", identity, {"id": identity, "as_of": as_of} | person
    for registration, facts in _fleet(local):
        left = _left(local, registration)
        items = left_items(Condition.model_validate(left["condition_left"]["items"]))
        aircraft = {"registration": registration} | facts | {"left_by_last_user": items}
        document = {"id": registration, "as_of": as_of, "tank_gal": 46.5, "aircraft": aircraft}
        yield "aircraft", registration, document | left
    for identity, site in _sites():
        yield "site", identity, {"id": identity, "as_of": as_of} | site
    for identity, route in _routes():
        yield "route", identity, {"id": identity, "as_of": as_of} | route
