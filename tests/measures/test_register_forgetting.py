"""Blanking an entry makes no measure of pilot, fitness or aircraft better, and a row alone is that row of a batch."""

from datetime import timedelta
from typing import Any

import numpy as np
import pytest

from riskboard.measures.registry import MEASURES, evaluate
from riskboard.words import Direction
from riskboard.worksheet.columns import to_columns
from riskboard.worksheet.model import FIELD_PART, Worksheet
from tests.measures.registered import FLIGHT, TAKE_OFF

MODULES = ("register_pilot", "register_fitness", "register_aircraft")
MINE = [m for m in MEASURES.values() if m.function.__module__.rpartition(".")[2] in MODULES and not m.internal]

GOOD: dict[str, Any] = FLIGHT | {
    "certificate": "private",
    "born_on": "1990-02-03",
    "medical_kind": "second",
    "medical_exam_on": "2025-06-10",
    "basic_med_course_on": "2025-07-01",
    "flight_review_on": "2025-03-02",
    "recent_landings": [{"on": "2026-04-20", "period": "night", "takeoffs": 4, "landings": 4, "full_stop": 4}],
    "total_helicopter_h": 260.0,
    "hours_in_type_h": 90.0,
    "hours_last_90_days_h": 14.0,
    "last_flight_in_type_on": "2026-04-28",
    "last_night_flight_on": "2026-04-20",
    "exercise_last_flown_on": "2026-04-20",
    "type_training_on": "2025-02-10",
    "solo_training_on": "2026-04-01",
    "solo_endorsed_on": "2026-04-02",
    "solo_night_training_on": "2026-04-02",
    "solo_endorsed_for_this_type": True,
    "student_limits_on": "2026-04-02",
    "instructor_experience_on": "2025-12-20",
    "instructor_period_ends_on": "2026-03-31",
    "instructor_in_type_h": 300.0,
    "instructor_exercise_last_on": "2026-04-20",
    "instruction_given": [{"start_at": TAKE_OFF - timedelta(hours=20), "end_at": TAKE_OFF - timedelta(hours=18)}],
    "first_flight_together": False,
    "sleeps": [
        {"start_at": TAKE_OFF - timedelta(hours=35), "end_at": TAKE_OFF - timedelta(hours=27)},
        {"start_at": TAKE_OFF - timedelta(hours=11), "end_at": TAKE_OFF - timedelta(hours=3)},
    ],
    "sleepiness_rating": 3,
    "ill_today": False,
    "medicines": "none",
    "last_drink_at": TAKE_OFF - timedelta(hours=40),
    "stress_level": 2,
    "life_event": False,
    "last_meal_at": TAKE_OFF - timedelta(hours=2),
    "duty_started_at": TAKE_OFF - timedelta(hours=1),
    "flights_today": 0,
    "days_in_row": 2,
    "meter_h": 1290.0,
    "meter_read_at": TAKE_OFF - timedelta(hours=1),
    "annual_on": "2025-11-04",
    "hundred_hour_due_at_h": 1300.0,
    "inspections": [{"name": "directive", "due_on": "2026-06-01", "due_at_h": 1310.0}],
    "life_limits": [{"name": "belt", "due_on": "none", "due_at_h": 1400.0}],
    "transponder_check_on": "2025-05-05",
    "locator_check_on": "2025-09-05",
    "hours_since_major_maintenance_h": 60.0,
    "open_defects": [{"text": "cabin light", "effect": "watch", "deferred_until": "2026-06-01"}],
    "loose_equipment": [{"name": "mixture guard", "state": "in_place"}],
    "night_equipment": [{"name": "position lights", "state": "in_place"}],
    "left_by_last_user": [{"name": "battery off", "state": "in_place"}],
    "preflight_done": True,
    "fuel_usable_gal": 24.0,
    "fuel_checked_by_sight": True,
    "fuel_burn_gal_h": 12.0,
    "start_and_taxi_gal": 1.0,
    "reserve_min": 30,
    "purpose": "instruction",
    "instructor_aboard": True,
}
BAD: dict[str, Any] = GOOD | {
    "certificate": "student",
    "instructor_aboard": False,
    "flight_review_on": "2023-01-02",
    "medical_exam_on": "2019-06-10",
    "recent_landings": [{"on": "2026-01-02", "period": "day", "takeoffs": 2, "landings": 4, "full_stop": 4}],
    "solo_training_on": "2026-01-01",
    "instructor_period_ends_on": "none",
    "type_training_on": "none",
    "sleeps": [{"start_at": TAKE_OFF - timedelta(hours=6), "end_at": TAKE_OFF - timedelta(hours=3)}],
    "meter_h": 1305.0,
    "inspections": [{"name": "directive", "due_on": "2026-05-01", "due_at_h": None}],
    "open_defects": [{"text": "cracked belt", "effect": None, "deferred_until": "2026-05-01"}],
    "fuel_usable_gal": 12.0,
}
FIELDS = sorted(name for name in set(GOOD) | set(BAD) if name in FIELD_PART)


def values(facts: dict[str, Any], blank: str | None = None) -> dict[str, float]:
    sheet = Worksheet().but(**(facts | ({} if blank is None else {blank: None})))
    found = evaluate(to_columns([sheet], TAKE_OFF - timedelta(minutes=30)), [m.name for m in MINE])
    return {name: float(value[0]) for name, value in found.items()}


def test_the_good_sheet_leaves_nothing_unknown() -> None:
    assert [name for name, value in values(GOOD).items() if np.isnan(value)] == []


@pytest.mark.parametrize("facts", [GOOD, BAD], ids=["good", "bad"])
@pytest.mark.parametrize("field", FIELDS)
def test_forgetting_never_helps(facts: dict[str, Any], field: str) -> None:
    before, after = values(facts), values(facts, blank=field)
    for entry in MINE:
        old, new = before[entry.name], after[entry.name]
        if np.isnan(new) or np.isnan(old):
            # An unknown may not turn into an answer by forgetting something else.
            assert np.isnan(new) or not np.isnan(old), entry.name
            continue
        assert (new >= old) if entry.worse is Direction.higher else (new <= old), entry.name


def test_a_row_of_a_batch_is_that_row_alone() -> None:
    """Rows with lists of different lengths, so that the padding differs between the batch and the row."""
    facts = [GOOD, BAD, FLIGHT, GOOD | {"sleeps": None}, GOOD | {"inspections": []}]
    facts.append(GOOD | {"recent_landings": [*GOOD["recent_landings"], *BAD["recent_landings"]], "landing_at": None})
    sheets = [Worksheet().but(**given) for given in facts]
    moment, names = TAKE_OFF - timedelta(minutes=30), [m.name for m in MINE]
    batch = evaluate(to_columns(sheets, moment), names)
    for row, sheet in enumerate(sheets):
        alone = evaluate(to_columns([sheet], moment), names)
        for name in names:
            np.testing.assert_array_equal(alone[name], batch[name][row : row + 1], err_msg=name)
