"""Larkfield Rotorcraft School: everything here is invented, and every screen that shows it says so.

Dates are given as days before ``today``, so that the school is alive whenever it is opened. The people differ on
purpose: one is current in everything, one is lapsing, one is a student with written limits.
"""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

from riskboard.demo.fleet import fleet

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
                "flying_weight_lb": 172.0,
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
                "flying_weight_lb": 215.0,
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
                "flying_weight_lb": 138.0,
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
                "flying_weight_lb": 149.0,
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


def _baggage(left_lb: float, right_lb: float) -> list[Facts]:
    """What a usual flight carries under the seats: papers, covers, and away from the field a survival kit."""
    loads = (("right_baggage", right_lb), ("left_baggage", left_lb))
    return [{"station": station, "load_lb": float(load)} for station, load in loads]


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
        "station_loads": _baggage(6, 0),
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
        "station_loads": _baggage(6, 0),
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
        "station_loads": _baggage(12, 8),
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
    for registration, document in fleet(local):
        yield "aircraft", registration, {"id": registration, "as_of": as_of} | document
    for identity, site in _sites():
        yield "site", identity, {"id": identity, "as_of": as_of} | site
    for identity, route in _routes():
        yield "route", identity, {"id": identity, "as_of": as_of} | route
