"""The registered measures of the pilot's papers and recency: reference cases once more, now through a worksheet.

Where a test names no file, the expected value is hand arithmetic on the rule named in the measure's source. The flight
of those tests is on Monday 4 May 2026, 09:00 to 10:00 local.
"""

import math
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from riskboard.measures.registry import evaluate
from riskboard.worksheet.columns import to_columns
from riskboard.worksheet.model import Worksheet
from tests.measures.reference import Case, at_utc, day, known_day, params, topic
from tests.measures.registered import FLIGHT, TAKE_OFF, measured, on_day

WORST, BEST = -3650, 3650
KINDS = {1: "first", 2: "second", 3: "third"}
PURPOSES = {
    "commercial": "sightseeing_for_hire",
    "instructor_pic": "instruction",
    "private": "rental",
    "student": "student_solo",
}


def unknown(value: float) -> bool:
    return math.isnan(value)


def left(until: Any, flight: date) -> int:
    found = day(until)
    return WORST if found is None else (found - flight).days


def flown_under_airline_privileges(case: Case) -> bool:
    return bool(case["inputs"]["privileges"] == "atp")  # no purpose of this school uses them


@pytest.mark.parametrize(
    "case", params(topic("rules", "medical"), where=lambda case: not flown_under_airline_privileges(case))
)
def test_medical_days_left_d(case: Case) -> None:
    given, flight = case["inputs"], known_day(case["inputs"]["flight_date"])
    facts = {
        "medical_kind": KINDS[given["certificate_class"]],
        "medical_exam_on": given["exam_date"],
        "born_on": given["birth_date"],
        "purpose": PURPOSES[given["privileges"]],
    }
    assert measured("medical_days_left_d", **facts, **on_day(flight)) == left(case["expected"]["valid_through"], flight)
    for blank in ("medical_kind", "medical_exam_on", "purpose"):
        value = measured("medical_days_left_d", **(facts | {blank: None}), **on_day(flight))
        assert unknown(value) or value == WORST


def test_a_birth_after_the_examination_is_unknown_and_leaves_its_neighbour_alone() -> None:
    facts = {"medical_kind": "second", "medical_exam_on": "2025-06-10", "born_on": "1990-02-03", "purpose": "rental"}
    sheet = Worksheet().but(**FLIGHT, **facts)
    columns = to_columns([sheet, sheet], TAKE_OFF - timedelta(hours=1))
    columns["born_on"][0] = columns["medical_exam_on"][0] + 1
    found = evaluate(columns, ["medical_days_left_d"])["medical_days_left_d"]
    assert unknown(found[0])
    assert found[1] == (date(2030, 6, 30) - date(2026, 5, 4)).days


@pytest.mark.parametrize("case", params([*topic("rules", "basicmed"), *topic("rules_more", "basicmed")]))
def test_medical_days_left_on_basic_med(case: Case) -> None:
    given, expected = case["inputs"], case["expected"]
    flight = known_day(given.get("flight_date", given.get("flight_on")))
    facts = {
        "medical_kind": "basic_med",
        "medical_exam_on": day(given.get("exam_date", given.get("examined_on"))),
        "basic_med_course_on": day(given.get("course_date", given.get("course_on"))),
    }
    found = measured("medical_days_left_d", **facts, purpose="rental", **on_day(flight))
    if expected["valid"] == "unknown":
        assert unknown(found)
        return
    ends = [
        left(expected.get("exam_valid_through", expected.get("examination_until")), flight),
        left(expected.get("course_valid_through", expected.get("course_until")), flight),
    ]
    assert found == min(ends)
    assert (found >= 0) is expected["valid"]
    assert measured("medical_days_left_d", **facts, purpose="sightseeing_for_hire", **on_day(flight)) == WORST
    no_course = facts | {"basic_med_course_on": "none"}
    assert measured("medical_days_left_d", **no_course, purpose="rental", **on_day(flight)) == WORST


@pytest.mark.parametrize("case", params([*topic("rules", "flight_review"), *topic("rules_more", "flight_review")]))
def test_flight_review_days_left_d(case: Case) -> None:
    given, expected = case["inputs"], case["expected"]
    if expected.get("flagged"):
        return  # refused by the worksheet's clock check, tested in test_currency.py
    flight = known_day(given.get("flight_date", given.get("flight_on")))
    done = day(given.get("done", given.get("review_on")))
    found = measured("flight_review_days_left_d", flight_review_on=done, certificate="private", **on_day(flight))
    if expected["valid"] == "unknown":
        assert unknown(found)
    else:
        assert found == left(expected.get("valid_through", expected.get("valid_until")), flight)


def test_flight_review_of_a_student_and_of_nobody() -> None:
    name, solo = "flight_review_days_left_d", {"solo_training_on": "2026-04-20", "solo_endorsed_on": "2026-04-20"}
    assert measured(name, flight_review_on="none", certificate="private") == WORST
    assert measured(name, flight_review_on="none", certificate="student", instructor_aboard=True) == BEST
    assert measured(name, flight_review_on="none", certificate="student", instructor_aboard=False, **solo) == BEST
    lapsed = {"solo_training_on": "2026-01-02", "solo_endorsed_on": "2026-01-02"}
    assert measured(name, flight_review_on="none", certificate="student", instructor_aboard=False, **lapsed) == WORST
    assert unknown(measured(name, flight_review_on="none", certificate="student", instructor_aboard=False))
    assert measured(name, flight_review_on="none") == WORST


def entries(log: list[Case], flight: date) -> list[dict[str, Any]]:
    keys = ("period", "takeoffs", "landings", "full_stop")
    return [
        {"on": e["date"], **{key: e[key] for key in keys}}
        for e in log
        if e["aircraft"] == "helicopter" and e["date"] <= flight
    ]


def passenger_cases() -> list[Any]:
    """PC15 (no log) and PC16 (an event after the flight) are asked below; PC14's night is not stated."""
    return params(topic("rules_more", "passenger_currency"), where=lambda case: case["id"] not in {"PC15", "PC16"})


@pytest.mark.parametrize("case", passenger_cases())
def test_passenger_day_days_left_d(case: Case) -> None:
    flight = case["inputs"]["flight"]["date"]
    found = measured(
        "passenger_day_days_left_d", recent_landings=entries(case["inputs"]["log"], flight), **on_day(flight)
    )
    days = case["expected"]["days_left"]
    assert found == (WORST if days is None else days)


@pytest.mark.parametrize("case", passenger_cases())
def test_passenger_night_days_left_d(case: Case) -> None:
    if "night_valid_until" not in case["expected"]:
        return
    flight = case["inputs"]["flight"]["date"]
    found = measured(
        "passenger_night_days_left_d", recent_landings=entries(case["inputs"]["log"], flight), **on_day(flight)
    )
    assert found == left(case["expected"]["night_valid_until"], flight)


@pytest.mark.parametrize("name", ["passenger_day_days_left_d", "passenger_night_days_left_d"])
def test_passenger_recency_without_a_log_and_with_an_empty_one(name: str) -> None:
    assert unknown(measured(name))
    assert measured(name, recent_landings=[]) == WORST
    tomorrow = {"on": "2026-05-05", "period": "night", "takeoffs": 3, "landings": 3, "full_stop": 3}
    assert measured(name, recent_landings=[tomorrow]) == WORST


def counts_days(name: str, field: str) -> None:
    """Ten days from 24 April to 4 May; never is the high end; blank is unknown."""
    assert measured(name, **{field: "2026-04-24"}) == 10
    assert measured(name, **{field: "2026-05-04"}) == 0
    assert measured(name, **{field: "none"}) == BEST
    assert unknown(measured(name))


def test_days_since_flight_in_type_d() -> None:
    counts_days("days_since_flight_in_type_d", "last_flight_in_type_on")


def test_days_since_night_flight_d() -> None:
    counts_days("days_since_night_flight_d", "last_night_flight_on")


def test_exercise_recency_d() -> None:
    counts_days("exercise_recency_d", "exercise_last_flown_on")


def test_instructor_exercise_recency_d() -> None:
    counts_days("instructor_exercise_recency_d", "instructor_exercise_last_on")


def test_student_limits_age_d() -> None:
    counts_days("student_limits_age_d", "student_limits_on")


def test_the_day_is_the_local_one() -> None:
    """02:00 UTC on 5 May is still 4 May at the place of departure."""
    evening = datetime(2026, 5, 5, 2, tzinfo=UTC)
    times = {"take_off_at": evening, "landing_at": evening + timedelta(hours=1)}
    assert measured("exercise_recency_d", exercise_last_flown_on="2026-05-04", **times) == 0
    assert measured("annual_days_left_d", annual_on="2025-05-10", **times) == 27


def takes_as_typed(name: str, field: str, value: float) -> None:
    assert measured(name, **{field: value}) == value
    assert unknown(measured(name))


def test_type_hours_h() -> None:
    takes_as_typed("type_hours_h", "hours_in_type_h", 49.9)


def test_helicopter_hours_h() -> None:
    takes_as_typed("helicopter_hours_h", "total_helicopter_h", 199.9)


def test_recent_90_day_hours_h() -> None:
    takes_as_typed("recent_90_day_hours_h", "hours_last_90_days_h", 12.5)


def test_instructor_type_hours_h() -> None:
    takes_as_typed("instructor_type_hours_h", "instructor_in_type_h", 4.9)
    assert measured("instructor_type_hours_h", instructor_in_type_h="none") == 0


@pytest.mark.parametrize("case", params(topic("rules", "instructor_recency")))
def test_instructor_days_left_d(case: Case) -> None:
    given, flight = case["inputs"], known_day(case["inputs"]["flight_date"])
    facts = {"instructor_experience_on": given["met_on"], "instructor_period_ends_on": given.get("period_end", "none")}
    assert measured("instructor_days_left_d", **facts, **on_day(flight)) == left(
        case["expected"]["valid_through"], flight
    )
    unsaid = measured("instructor_days_left_d", **(facts | {"instructor_period_ends_on": None}), **on_day(flight))
    assert unsaid <= left(case["expected"]["valid_through"], flight)


def test_instructor_days_left_without_experience() -> None:
    assert (
        measured("instructor_days_left_d", instructor_experience_on="none", instructor_period_ends_on="none") == WORST
    )
    assert unknown(measured("instructor_days_left_d"))


@pytest.mark.parametrize(
    "case", params([*topic("rules", "instructor_8h_in_24h"), *topic("rules_more", "instructor_hours_24h")])
)
def test_instruction_in_24h_h(case: Case) -> None:
    given, expected = case["inputs"], case["expected"]
    blocks = [
        {"start_at": at_utc(a), "end_at": at_utc(b)} for a, b in given.get("flight_training", given.get("blocks"))
    ]
    planned = {
        "take_off_at": at_utc(given["planned"][0]),
        "landing_at": at_utc(given["planned"][1]),
        "time_zone": "UTC",
    }
    wanted = pytest.approx(expected.get("max_hours_in_any_24h", expected.get("max_h")))
    for purpose in ("instruction", None):  # a purpose not said could be instruction
        assert measured("instruction_in_24h_h", instruction_given=blocks, purpose=purpose, **planned) == wanted


def test_instruction_in_24h_when_the_flight_is_none_or_unknown() -> None:
    name = "instruction_in_24h_h"
    assert measured(name, instruction_given=[], purpose="rental") == 0
    assert measured(name, instruction_given=[], purpose="check_flight", instructor_aboard=False) == 0
    assert measured(name, instruction_given=[], purpose="check_flight") == 1
    assert unknown(measured(name, purpose="instruction"))
    assert unknown(measured(name, instruction_given=[], purpose="instruction", landing_at=None))


@pytest.mark.parametrize(
    "case", params(topic("rules_more", "student_solo"), where=lambda c: "valid_until" in c["expected"])
)
def test_solo_days_left_d(case: Case) -> None:
    given, flight = case["inputs"], case["inputs"]["flight"]["date"]
    facts = {"solo_training_on": given["training_on"], "solo_endorsed_on": given["endorsed_on"]}
    assert measured("solo_days_left_d", **facts, **on_day(flight)) == left(case["expected"]["valid_until"], flight)
    for name in facts:
        assert measured("solo_days_left_d", **(facts | {name: "none"}), **on_day(flight)) == WORST
        assert measured("solo_days_left_d", **{name: "none"}, **on_day(flight)) == WORST
        found = measured("solo_days_left_d", **(facts | {name: None}), **on_day(flight))
        assert unknown(found) or found < 0


def test_solo_night_days_left_d() -> None:
    """6 May 2026 + 90 = 4 August (25 + 30 + 31 + 4), as SS01 counts."""
    trained = {"solo_night_training_on": "2026-05-06"}
    assert measured("solo_night_days_left_d", **trained, **on_day(date(2026, 8, 1))) == 3
    assert measured("solo_night_days_left_d", solo_night_training_on="none") == WORST
    assert unknown(measured("solo_night_days_left_d"))


def test_solo_type_mismatch() -> None:
    assert measured("solo_type_mismatch", solo_endorsed_for_this_type=True) == 0
    assert measured("solo_type_mismatch", solo_endorsed_for_this_type=False) == 1
    assert unknown(measured("solo_type_mismatch"))


@pytest.mark.parametrize("case", params(topic("rules_more", "model_recurrent_training")))
def test_type_training_days_left_d(case: Case) -> None:
    """The worksheet has one date, the later of endorsement and review in the type."""
    given, expected, flight = case["inputs"], case["expected"], case["inputs"]["flight_on"]
    facts = {
        "type_training_on": given["model_review_on"] or given["endorsed_on"],
        "total_helicopter_h": given["helicopter_h"],
        "hours_in_type_h": given["model_h"],
    }
    found = measured("type_training_days_left_d", **facts, **on_day(flight))
    assert (found >= 0) is expected["ok"]
    if "model_review_valid_until" in expected:
        assert found == left(expected["model_review_valid_until"], flight)
    blank = measured("type_training_days_left_d", **(facts | {"hours_in_type_h": None}), **on_day(flight))
    assert blank <= found
    assert measured("type_training_days_left_d", **(facts | {"type_training_on": "none"}), **on_day(flight)) == WORST


def test_new_pairing() -> None:
    assert measured("new_pairing", first_flight_together=True) == 1
    assert measured("new_pairing", first_flight_together=False) == 0
    assert unknown(measured("new_pairing"))
