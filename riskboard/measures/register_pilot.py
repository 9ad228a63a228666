"""Registered measures of the pilot's papers, recency and practice, and of the instructor's.

Days left count to the landing day: 0 on the last good day, negative when lapsed. "None held" is a known failure, the
low end; "never flown" is the high end. An odd row (a birth after the examination, an event after the flight) is
unknown here; the worksheet has refused it before.
"""

import numpy as np

from riskboard.measures.currency import (
    PRIVILEGES,
    instructor_valid_until_rows,
    medical_valid_until_rows,
    recency_of_sorted_rows,
)
from riskboard.measures.dates import end_of_calendar_month, same_day_months_later
from riskboard.measures.duty import max_hours_in_24h_rows
from riskboard.measures.known import limited, tightest_rows
from riskboard.measures.registry import measure, quantity
from riskboard.words import Certificate, Direction, Group, LandingPeriod, MedicalKind, Purpose
from riskboard.worksheet.columns import FloatArray

_DAYS = 3650.0
"""Ten years: the ends of every measure in days."""
_HOURS = 50_000.0
_RECENT_DAYS = 90.0
_OWN = "common practice, no source"
_YES = {0: "no", 1: "yes"}

_STUDENT = float(list(Certificate).index(Certificate.student))
_BASIC_MED = float(list(MedicalKind).index(MedicalKind.basic_med))
_INSTRUCTION = float(list(Purpose).index(Purpose.instruction))
_CHECK = float(list(Purpose).index(Purpose.check_flight))
_FOR_HIRE = float(list(Purpose).index(Purpose.sightseeing_for_hire))
_NIGHT = float(list(LandingPeriod).index(LandingPeriod.night))
_PRIVATE_CODE = float(PRIVILEGES.index("private"))
_COMMERCIAL_CODE = float(PRIVILEGES.index("commercial"))


def days_margin(until: FloatArray, day: FloatArray) -> FloatArray:
    """Days from ``day`` to the last good day, held within ten years either way; "never" (-inf) is the low end."""
    return limited(until - day, -_DAYS, _DAYS)


def held(paper_on: FloatArray) -> FloatArray:
    """The day of a paper, with the answer "none" (+inf) as "no such day" (-inf), a known failure."""
    return np.where(paper_on == np.inf, -np.inf, paper_on)


def elapsed(moment: FloatArray, past: FloatArray, longest: float) -> FloatArray:
    """``moment - past``, at most ``longest``; the answer "never" (+inf) is ``longest``; the future stays negative."""
    passed = moment - past
    return np.where(passed == -np.inf, longest, np.minimum(passed, longest))


@quantity
def pilot_paper_ends(
    flight_review_on: FloatArray,
    basic_med_course_on: FloatArray,
    type_training_on: FloatArray,
    total_helicopter_h: FloatArray,
    hours_in_type_h: FloatArray,
) -> FloatArray:
    """Last good days of flight review, BasicMed course and type training, (3, rows), worked in one pass."""
    experienced = (total_helicopter_h >= 200) & (hours_in_type_h >= 50)  # noqa: PLR2004 - the rule's own figures
    papers = held(np.array((flight_review_on, basic_med_course_on, type_training_on)))
    months = np.empty(papers.shape)
    months[:2], months[2] = 24.0, np.where(experienced, 24.0, 12.0)
    return end_of_calendar_month(papers, months)


@measure(
    "medical left",
    "d",
    worse=Direction.lower,
    valid=(-_DAYS, _DAYS),
    group=Group.pilot,
    source="14 CFR 61.23(a), (c), (d); part 68",
    rests_on=("medical_kind", "medical_exam_on", "basic_med_course_on", "born_on", "purpose", "landing_day"),
)
def medical_days_left_d(
    medical_kind: FloatArray,
    medical_exam_on: FloatArray,
    pilot_paper_ends: FloatArray,
    born_on: FloatArray,
    purpose: FloatArray,
    landing_day: FloatArray,
) -> FloatArray:
    """Days until the medical ends for the privileges this flight uses.

    Sightseeing for hire uses commercial privileges: first or second class, 12 calendar months. Any other purpose,
    teaching as pilot in command included: any class, 60 or 24 months by age, or BasicMed (examination 48 months to
    the day, course 24 calendar months). A kind that cannot carry the privileges is the low end.
    """
    possible = ~(born_on > medical_exam_on)
    born = np.where(possible, born_on, np.nan)
    privilege = np.where(np.isnan(purpose), np.nan, np.where(purpose == _FOR_HIRE, _COMMERCIAL_CODE, _PRIVATE_CODE))
    basic = medical_kind == _BASIC_MED
    medical_class = np.where(basic, np.nan, medical_kind + 1)
    by_class = medical_valid_until_rows(np.where(possible, medical_exam_on, np.nan), medical_class, born, privilege)
    parts = np.array((same_day_months_later(medical_exam_on, 48), pilot_paper_ends[1])) - landing_day
    by_course = np.where(np.isnan(privilege), np.nan, tightest_rows(parts, axis=0))
    by_course = np.where(privilege == _COMMERCIAL_CODE, -_DAYS, by_course)
    return np.where(basic, limited(by_course, -_DAYS, _DAYS), days_margin(by_class, landing_day))


@measure(
    "flight review left",
    "d",
    worse=Direction.lower,
    valid=(-_DAYS, _DAYS),
    group=Group.pilot,
    source="14 CFR 61.56(c), (g)",
    rests_on=("flight_review_on", "certificate", "instructor_aboard", "solo_days_left_d", "landing_day"),
)
def flight_review_days_left_d(
    pilot_paper_ends: FloatArray,
    certificate: FloatArray,
    instructor_aboard: FloatArray,
    solo_days_left_d: FloatArray,
    landing_day: FloatArray,
) -> FloatArray:
    """Days until the last flight review or check ends, 24 calendar months after its month.

    The best end for a student pilot who needs none: with an instructor aboard, or on a current solo endorsement.
    """
    margin = days_margin(pilot_paper_ends[0], landing_day)
    student = certificate == _STUDENT
    exempt = student & ((instructor_aboard == 1) | (solo_days_left_d >= 0))
    perhaps = student & ~exempt & (np.isnan(instructor_aboard) | np.isnan(solo_days_left_d))
    return np.where(exempt, _DAYS, np.where(perhaps & ~(margin >= 0), np.nan, margin))


@quantity
def recent_practice_until(
    recent_landings_on: FloatArray,
    recent_landings_period: FloatArray,
    recent_landings_takeoffs: FloatArray,
    recent_landings_landings: FloatArray,
    recent_landings_full_stop: FloatArray,
    recent_landings_count: FloatArray,
    flight_day: FloatArray,
) -> FloatArray:
    """Last day with 3 take-offs and 3 landings in the preceding 90 days: (2, rows), by any light and by night."""
    counts = recent_landings_on <= flight_day[:, None]
    night = recent_landings_period == _NIGHT
    days = np.where(counts, recent_landings_on, -np.inf)
    newest_first = np.argsort(-days, axis=-1, kind="stable")
    row = np.arange(len(days))[:, None]
    events = np.array((recent_landings_takeoffs, recent_landings_landings, recent_landings_full_stop))
    events = np.where(counts, events, 0.0)[:, row, newest_first]
    by_night = np.where(night[row, newest_first], events[::2], 0.0)
    until = recency_of_sorted_rows(days[row, newest_first], np.concatenate((events[:2], by_night)))
    unknown = np.isnan(recent_landings_count) | np.isnan(flight_day)
    return np.where(unknown, np.nan, np.minimum(until[::2], until[1::2]))


@measure(
    "passenger recency left",
    "d",
    worse=Direction.lower,
    valid=(-_DAYS, _DAYS),
    group=Group.pilot,
    source="14 CFR 61.57(a)(1)",
)
def passenger_day_days_left_d(recent_practice_until: FloatArray, landing_day: FloatArray) -> FloatArray:
    """Days until fewer than 3 take-offs and 3 landings lie in the preceding 90 days; the low end with fewer than 3."""
    return days_margin(recent_practice_until[0], landing_day)


@measure(
    "passenger recency by night left",
    "d",
    worse=Direction.lower,
    valid=(-_DAYS, _DAYS),
    group=Group.pilot,
    source="14 CFR 61.57(b)(1)",
)
def passenger_night_days_left_d(recent_practice_until: FloatArray, landing_day: FloatArray) -> FloatArray:
    """The same for take-offs and full-stop landings between 1 h after sunset and 1 h before sunrise."""
    return days_margin(recent_practice_until[1], landing_day)


@measure(
    "since the last flight in this type",
    "d",
    worse=Direction.higher,
    valid=(0, _DAYS),
    group=Group.pilot,
    source=_OWN,
)
def days_since_flight_in_type_d(last_flight_in_type_on: FloatArray, flight_day: FloatArray) -> FloatArray:
    """Days since the last flight in this type; the high end for never."""
    return elapsed(flight_day, last_flight_in_type_on, _DAYS)


@measure("since the last night flight", "d", worse=Direction.higher, valid=(0, _DAYS), group=Group.pilot, source=_OWN)
def days_since_night_flight_d(last_night_flight_on: FloatArray, flight_day: FloatArray) -> FloatArray:
    """Days since the last night flight; the high end for never."""
    return elapsed(flight_day, last_night_flight_on, _DAYS)


@measure(
    "hours in this type",
    "h",
    worse=Direction.lower,
    valid=(0, _HOURS),
    group=Group.pilot,
    source=_OWN,
    decimals=1,
)
def type_hours_h(hours_in_type_h: FloatArray) -> FloatArray:
    """Hours flown in this type."""
    return hours_in_type_h


@measure("helicopter hours", "h", worse=Direction.lower, valid=(0, _HOURS), group=Group.pilot, source=_OWN, decimals=1)
def helicopter_hours_h(total_helicopter_h: FloatArray) -> FloatArray:
    """Hours flown in helicopters."""
    return total_helicopter_h


@measure(
    "hours in the last 90 days",
    "h",
    worse=Direction.lower,
    valid=(0, 700),
    group=Group.pilot,
    source=_OWN,
    decimals=1,
)
def recent_90_day_hours_h(hours_last_90_days_h: FloatArray) -> FloatArray:
    """Hours flown in the last 90 days."""
    return hours_last_90_days_h


@measure(
    "since this exercise was last flown",
    "d",
    worse=Direction.higher,
    valid=(0, _DAYS),
    group=Group.pilot,
    source=_OWN,
)
def exercise_recency_d(exercise_last_flown_on: FloatArray, flight_day: FloatArray) -> FloatArray:
    """Days since the pilot last flew this exercise; the high end for never."""
    return elapsed(flight_day, exercise_last_flown_on, _DAYS)


@measure(
    "since the instructor last flew this exercise",
    "d",
    worse=Direction.higher,
    valid=(0, _DAYS),
    group=Group.pilot,
    source="EASA HE 11, as read second-hand: training accidents happen with an instructor aboard",
)
def instructor_exercise_recency_d(instructor_exercise_last_on: FloatArray, flight_day: FloatArray) -> FloatArray:
    """Days since the instructor last flew this exercise; the high end for never."""
    return elapsed(flight_day, instructor_exercise_last_on, _DAYS)


@measure(
    "instructor's recent experience left",
    "d",
    worse=Direction.lower,
    valid=(-_DAYS, _DAYS),
    group=Group.pilot,
    source="14 CFR 61.197(a) as amended from 2024-12-01 (89 FR 80020)",
)
def instructor_days_left_d(
    instructor_experience_on: FloatArray, instructor_period_ends_on: FloatArray, landing_day: FloatArray
) -> FloatArray:
    """Days until the instructor's 24 calendar months end; a running period not given earns no extension."""
    return days_margin(
        instructor_valid_until_rows(held(instructor_experience_on), instructor_period_ends_on), landing_day
    )


@measure(
    "instructor's hours in this type",
    "h",
    worse=Direction.lower,
    valid=(0, _HOURS),
    group=Group.pilot,
    source="14 CFR 61.195(f): 5 h as pilot in command in the make and model (from memory)",
    decimals=1,
)
def instructor_type_hours_h(instructor_in_type_h: FloatArray) -> FloatArray:
    """The instructor's hours as pilot in command in this type; the answer "none" is 0."""
    return np.where(instructor_in_type_h == np.inf, 0.0, instructor_in_type_h)


@measure(
    "instruction in 24 h",
    "h",
    worse=Direction.higher,
    valid=(0, 24),
    group=Group.pilot,
    source="14 CFR 61.195(a): at most 8 h of flight training in any 24 consecutive hours",
    decimals=1,
)
def instruction_in_24h_h(
    instruction_given_start_at: FloatArray,
    instruction_given_end_at: FloatArray,
    instruction_given_count: FloatArray,
    purpose: FloatArray,
    instructor_aboard: FloatArray,
    take_off_at: FloatArray,
    flight_min: FloatArray,
) -> FloatArray:
    """Most hours of flight instruction in any 24 h, this flight included unless it is surely no instruction."""
    checked_alone = (purpose == _CHECK) & (instructor_aboard == 0)
    counts = np.isnan(purpose) | (purpose == _INSTRUCTION) | ((purpose == _CHECK) & ~checked_alone)
    landing = take_off_at + flight_min * 60.0
    this_flight = np.where(counts, np.array((take_off_at, landing)), np.nan)[:, :, None]
    begins = np.concatenate((instruction_given_start_at, this_flight[0]), axis=1)
    ends = np.concatenate((instruction_given_end_at, this_flight[1]), axis=1)
    unknown = np.isnan(instruction_given_count) | (counts & np.isnan(landing))
    return np.where(unknown, np.nan, max_hours_in_24h_rows(begins, ends))


@measure(
    "solo endorsement left",
    "d",
    worse=Direction.lower,
    valid=(-_DAYS, _DAYS),
    group=Group.pilot,
    source="14 CFR 61.87(n), (p)",
)
def solo_days_left_d(solo_training_on: FloatArray, solo_endorsed_on: FloatArray, landing_day: FloatArray) -> FloatArray:
    """Days until the 90th day after the training or the endorsement, whichever is earlier; none held is the low end."""
    parts = held(np.array((solo_training_on, solo_endorsed_on))) + _RECENT_DAYS
    return limited(tightest_rows(parts - landing_day, axis=0), -_DAYS, _DAYS)


@measure(
    "night solo training left",
    "d",
    worse=Direction.lower,
    valid=(-_DAYS, _DAYS),
    group=Group.pilot,
    source="14 CFR 61.87(o)",
)
def solo_night_days_left_d(solo_night_training_on: FloatArray, landing_day: FloatArray) -> FloatArray:
    """Days until the 90th day after the night solo training; none held is the low end."""
    return days_margin(held(solo_night_training_on) + _RECENT_DAYS, landing_day)


@measure(
    "endorsement names another type",
    "",
    worse=Direction.higher,
    valid=(0, 1),
    group=Group.pilot,
    source="14 CFR 61.87(n)(1)",
    words=_YES,
)
def solo_type_mismatch(solo_endorsed_for_this_type: FloatArray) -> FloatArray:
    """1 when the solo endorsement does not name this make and model."""
    return np.asarray(1.0 - solo_endorsed_for_this_type)


@measure(
    "type-specific training left",
    "d",
    worse=Direction.lower,
    valid=(-_DAYS, _DAYS),
    group=Group.pilot,
    source="generic form of SFAR No. 73 to part 61 (89 FR 59602)",
    rests_on=("type_training_on", "total_helicopter_h", "hours_in_type_h", "landing_day"),
)
def type_training_days_left_d(pilot_paper_ends: FloatArray, landing_day: FloatArray) -> FloatArray:
    """Days until the type-specific training ends: 24 calendar months, or 12 below 200 h or below 50 h in the type.

    Hours that are not given earn the shorter time. The rule's split of endorsement and yearly review is left out:
    the date typed is the later of the two.
    """
    return days_margin(pilot_paper_ends[2], landing_day)


@measure(
    "age of the student's written limits",
    "d",
    worse=Direction.higher,
    valid=(0, _DAYS),
    group=Group.pilot,
    source="14 CFR 61.89(a)(8); that limits age is common practice, no source",
)
def student_limits_age_d(student_limits_on: FloatArray, flight_day: FloatArray) -> FloatArray:
    """Days since an instructor wrote the student's limits; the high end where none are written."""
    return elapsed(flight_day, student_limits_on, _DAYS)


@measure("first flight together", "", worse=Direction.higher, valid=(0, 1), group=Group.pilot, source=_OWN, words=_YES)
def new_pairing(first_flight_together: FloatArray) -> FloatArray:
    """1 when pilot and instructor have not flown together before."""
    return first_flight_together
