"""How long papers, endorsements and recent experience last.

Every function takes a date and gives a date (None: there is none, or it is unknown), or takes day numbers
(days since 1970-01-01, scalar or array) and gives day numbers: NaN unknown, -inf "never valid". The day returned is
the last good one, inclusive; ``days_left`` turns it into a margin. Dates are local calendar days.

The rules are those of the United States as an example; the current text of the regulation prevails.
"""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Final

import numpy as np
import numpy.typing as npt

from riskboard.measures.dates import (
    DayLike,
    Days,
    age_rows,
    as_days,
    days_left,
    end_of_calendar_month,
    same_day_months_later,
    same_kind,
)
from riskboard.measures.instants import one_clock, seconds
from riskboard.measures.known import Floats, Number, checked, not_below, plain, truth

__all__ = [
    "PRIVILEGES",
    "basicmed_valid_until",
    "calendar_months_valid_until",
    "days_left",
    "days_valid_until",
    "flight_review_valid_until",
    "in_currency_night",
    "instructor_experience_met",
    "instructor_reinstatement_until",
    "instructor_valid_until",
    "instructor_valid_until_rows",
    "landings_within",
    "medical_valid_until",
    "medical_valid_until_rows",
    "months_valid_until",
    "recency_of_sorted_rows",
    "recency_valid_until",
    "recency_valid_until_rows",
    "student_solo_valid_until",
    "student_visibility_required_sm",
    "type_training_valid_until",
]

PRIVILEGES: Final[tuple[str, ...]] = ("private", "student_solo", "instructor_pic", "commercial", "atp")
"""Privileges by what the medical must carry, least demanding first; the position is the code used in arrays."""
_COMMERCIAL: Final = 3
_SAME_AS: Final[Mapping[str, str]] = {"student": "student_solo"}
_FORTY: Final = 40
_RECENT_DAYS: Final = 90
_NEEDED: Final = 3
_CALENDAR_MONTHS_24: Final = 24
_INSTRUCTOR_MONTHS: Final = np.array([24.0, 3.0, 0.0, 0.0, 24.0])


def medical_valid_until(
    exam_on: Days, medical_class: int | npt.ArrayLike, born_on: Days, privileges: str | Sequence[str]
) -> Days:
    """Last day on which a medical certificate serves the given privileges.

    Ends with the last day of the Nth month after the month of the examination. First class, airline transport: 12
    under age 40, 6 from 40. First or second class, commercial: 12. Any class, private, student or instructor as pilot
    in command: 60 under 40, 24 from 40. Age is the age on the day of the examination.

    Args:
        exam_on: Day of the examination.
        medical_class: 1, 2 or 3; one or an array.
        born_on: Date of birth, not after the examination.
        privileges: A word of :data:`PRIVILEGES` (or ``student``), or one a row.

    Returns:
        The last good day; None (-inf in arrays) where the class is too low for the privileges, whatever else is
        unknown; None (NaN in arrays) where a date is unknown.

    Raises:
        ValueError: Birth after the examination, no such class, no such privileges.

    Source: 14 CFR 61.23(a), (d).
    """
    words = [privileges] if isinstance(privileges, str) else list(privileges)
    unknown = [word for word in words if _SAME_AS.get(word, word) not in PRIVILEGES]
    if unknown:
        raise ValueError(f"privileges must be one of {', '.join(PRIVILEGES)}; found {unknown[0]!r}")
    codes = np.array([float(PRIVILEGES.index(_SAME_AS.get(word, word))) for word in words])
    code = codes[0] if isinstance(privileges, str) else codes
    held = checked("medical_class", medical_class, at_least=1, up_to=3)
    exam, born = as_days("exam_on", exam_on), as_days("born_on", born_on)
    if np.any(exam < born):
        raise ValueError("born_on must not be after the day of the event")
    rows = medical_valid_until_rows(exam, held, born, code)
    return same_kind(exam_on, rows)


def medical_valid_until_rows(
    exam_on: Floats, medical_class: Floats, born_on: Floats, privilege: npt.ArrayLike
) -> Floats:
    """:func:`medical_valid_until` on arrays; ``privilege`` is a position in :data:`PRIVILEGES`, NaN unknown."""
    wanted, held = np.asarray(privilege, dtype=np.float64), medical_class
    age = age_rows(*np.broadcast_arrays(born_on, exam_on))
    private, airline = np.where(age < _FORTY, 60.0, 24.0), np.where(age < _FORTY, 12.0, 6.0)
    months = np.where(wanted > _COMMERCIAL, airline, np.where(wanted == _COMMERCIAL, 12.0, private))
    unknown = np.isnan(age + wanted + held)
    too_low = ((wanted > _COMMERCIAL) & (held > 1)) | ((wanted == _COMMERCIAL) & (held > 2))  # noqa: PLR2004 - class
    until = end_of_calendar_month(exam_on, np.where(unknown, np.nan, months))
    return np.where(too_low, -np.inf, until)


def flight_review_valid_until(done_on: Days) -> Days:
    """Last day of the 24th calendar month after a flight review, practical test or proficiency check.

    Source: 14 CFR 61.56(c), (d).
    """
    return calendar_months_valid_until(done_on, _CALENDAR_MONTHS_24)


def calendar_months_valid_until(done_on: Days, months: float) -> Days:
    """Last day of the Nth calendar month after the month of the event (annual 12, transponder 24, ELT 12)."""
    return same_kind(done_on, end_of_calendar_month(as_days("done_on", done_on), _whole_months(months)))


def months_valid_until(done_on: Days, months: float) -> Days:
    """The same day N months later, clamped to a shorter month. Policy arithmetic; a maker's own print prevails."""
    return same_kind(done_on, same_day_months_later(as_days("done_on", done_on), _whole_months(months)))


def days_valid_until(done_on: Days, days: float) -> Days:
    """N days later, the last good day inclusive."""
    return same_kind(done_on, as_days("done_on", done_on) + checked("days", days, at_least=0))


def basicmed_valid_until(exam_on: Days, course_on: Days) -> Days:
    """The earlier end of the BasicMed examination (48 months to the day) and course (24 calendar months).

    Source: 14 CFR 61.23(c)(3), part 68. Not for commercial privileges. Keep a day of doubt on the border of the 48
    months: "to the day" is a common reading, not the text.
    """
    exam = same_day_months_later(as_days("exam_on", exam_on), 48)
    course = end_of_calendar_month(as_days("course_on", course_on), _CALENDAR_MONTHS_24)
    return same_kind(exam_on, np.minimum(exam, course))


def instructor_valid_until(met_on: Days, period_ends_on: Days) -> Days:
    """Last day of an instructor's 24 calendar months of recent experience.

    The new period starts with the month in which the experience was met, or with the last month of the running period
    when that is the same month or one of the three before it.

    Args:
        met_on: Day on which the recent experience was met, or of issue.
        period_ends_on: Last day of the running period; None or NaN where there is none or it is not known: the period
            then starts with ``met_on``, the earlier and careful answer.

    Returns:
        The last good day.

    Source: 14 CFR 61.197(a) as amended from 2024-12-01 (89 FR 80020). Work within the last month itself is treated
    like work in the three before it (interpretation).
    """
    met, end = np.broadcast_arrays(as_days("met_on", met_on), as_days("period_ends_on", period_ends_on))
    rows = instructor_valid_until_rows(met, end)
    return same_kind(met_on, rows)


def instructor_valid_until_rows(met_on: Floats, period_ends_on: Floats) -> Floats:
    """:func:`instructor_valid_until` on day numbers of one shape; no running period is NaN or infinite."""
    met, end = met_on, period_ends_on
    ends = end_of_calendar_month(np.array((met, met, met, end, end)), _INSTRUCTOR_MONTHS[:, *[None] * met.ndim])
    fresh, three_on, met_month, last, kept = ends
    # In the last month or the three before it: three months on reaches the last month, which is not past.
    in_window = (three_on >= last) & (met_month <= last) & np.isfinite(end) & np.isfinite(met)
    return np.asarray(np.where(in_window, kept, fresh))


def instructor_reinstatement_until(period_ends_on: Days) -> Days:
    """Last day on which a refresher course alone restores a lapsed instructor (14 CFR 61.199(a)(1)).

    No instruction may be given in these three calendar months; after them a practical test is needed.
    """
    return calendar_months_valid_until(period_ends_on, 3)


def instructor_experience_met(pic_hours_in_model_h: npt.ArrayLike) -> Number:
    """Whether an instructor has the 5 h as pilot in command in the make and model (14 CFR 61.195(f), from memory)."""
    return not_below(checked("pic_hours_in_model_h", pic_hours_in_model_h, at_least=0), 5.0)


def landings_within(
    events_on: DayLike, counts: npt.ArrayLike | None, flight_on: DayLike, days: float = _RECENT_DAYS
) -> Number:
    """Landings (or take-offs) in the days before a flight.

    An event on day E counts on day F when 0 <= F - E <= 90: the 90th day still counts, and so does an earlier flight
    of the same day (convention; plain reading of "within the preceding 90 days").

    Args:
        events_on: Days of the events, (k,) or padded (n, k); NaN or None with a NaN or zero count is padding. None
            for the whole log means that it is unknown; an empty log means no event.
        counts: How many on each, same shape.
        flight_on: Day of the flight, one or (n,).
        days: Length of the window.

    Returns:
        The count, one or (n,). NaN where the flight day, or any half of an entry, is unknown.

    Raises:
        ValueError: An event lies after the flight, or a count is negative.

    Source: 14 CFR 61.57(a)(1), (b)(1); for the night give full-stop landings inside the 61.57(b) window only.
    """
    day, count, unknown = _events(events_on, counts, as_days("flight_on", flight_on))
    age = np.asarray(as_days("flight_on", flight_on))[..., None] - day
    total = np.sum(np.where(age <= days, count, 0.0), axis=-1)
    return plain(np.where(unknown, np.nan, total))


def recency_valid_until(
    events_on: DayLike,
    counts: npt.ArrayLike | None,
    flight_on: Days,
    needed: float = _NEEDED,
    days: float = _RECENT_DAYS,
) -> Days:
    """Last day on which a log still shows ``needed`` landings (or take-offs) in the preceding 90 days.

    The day of the third newest event plus 90. Take-offs and landings are two logs; the earlier end governs.

    Args:
        events_on: As :func:`landings_within`.
        counts: As :func:`landings_within`.
        flight_on: Day of the flight; later events are refused.
        needed: How many are needed.
        days: Length of the window.

    Returns:
        The last good day; None (-inf in arrays) where the log holds fewer than ``needed``.

    Raises:
        ValueError: An event lies after the flight, or a count is negative.
    """
    day, count, unknown = _events(events_on, counts, as_days("flight_on", flight_on))
    until = recency_valid_until_rows(day, count, needed, days)
    return same_kind(flight_on, np.where(unknown, np.nan, until))


def recency_valid_until_rows(
    events_on: Floats, counts: Floats, needed: float = _NEEDED, days: float = _RECENT_DAYS
) -> Floats:
    """:func:`recency_valid_until` on day numbers: events on the last axis, padding -inf with a count of 0."""
    newest_first = np.argsort(-events_on, axis=-1, kind="stable")
    ordered = np.take_along_axis(events_on, newest_first, -1)
    return recency_of_sorted_rows(ordered, np.take_along_axis(counts, newest_first, -1), needed, days)


def recency_of_sorted_rows(
    newest_first_on: Floats, counts: Floats, needed: float = _NEEDED, days: float = _RECENT_DAYS
) -> Floats:
    """:func:`recency_valid_until_rows` on events in order, the newest first, of shapes that broadcast."""
    reached = counts.cumsum(axis=-1) >= needed
    return np.asarray(np.where(reached, newest_first_on, -np.inf).max(axis=-1, initial=-np.inf) + days)


def in_currency_night(landing: datetime, sunset: datetime, sunrise: datetime) -> bool:
    """Whether a landing counts for night recency: from 1 h after sunset until 1 h before the next sunrise.

    Args:
        landing: The landing.
        sunset: The sunset before it.
        sunrise: The sunrise after that sunset.

    Returns:
        True from sunset + 1 h, inclusive, until sunrise - 1 h, exclusive.

    Raises:
        ValueError: Datetimes with and without a zone are mixed, or sunrise is not after sunset.

    Source: 14 CFR 61.57(b)(1). Not the night of 14 CFR 1.1 and not the lights rule 91.209.
    """
    one_clock("landing, sunset, sunrise", [landing, sunset, sunrise])
    down, up = seconds(sunset), seconds(sunrise)
    if up <= down:
        raise ValueError("sunrise must be the one after sunset")
    return down + 3600.0 <= seconds(landing) < up - 3600.0


def student_solo_valid_until(training_on: Days, endorsed_on: Days) -> Days:
    """The 90th day after the training or its endorsement, whichever is earlier.

    Source: 14 CFR 61.87(n), (o), (p). That the earlier of the two dates governs is the careful reading.
    """
    earlier = np.minimum(as_days("training_on", training_on), as_days("endorsed_on", endorsed_on))
    return same_kind(training_on, earlier + _RECENT_DAYS)


def student_visibility_required_sm(night: npt.ArrayLike) -> Number:
    """Visibility a student pilot in command needs: 3 SM by day, 5 SM at night (14 CFR 61.89(a)(6)).

    Args:
        night: 1, 0 or NaN (unknown: NaN).

    Returns:
        Statute miles.
    """
    dark = checked("night", night, at_least=0, up_to=1)
    return plain(np.where(np.isnan(dark), np.nan, np.where(dark > 0, 5.0, 3.0)))


def type_training_valid_until(
    helicopter_h: npt.ArrayLike, type_h: npt.ArrayLike, endorsed_on: Days, review_in_type_on: Days
) -> Days:
    """Last good day under a rule that binds pilots of certain types until they have experience.

    Below 200 h in helicopters or below 50 h in the type: 12 calendar months from the endorsement, then 12 calendar
    months from each flight review in the type. From both figures on: 24 calendar months from the review in the type.

    Args:
        helicopter_h: Hours in helicopters.
        type_h: Hours in the type.
        endorsed_on: Day of the type endorsement.
        review_in_type_on: Last flight review in the type; None or NaN if none is recorded (no credit is given).

    Returns:
        The last good day.

    Source: generic form of SFAR No. 73 to part 61 (89 FR 59602, in force 2024-08-22); the credit between sister types
    is left out. Editable school policy for any other type.
    """
    total = checked("helicopter_h", helicopter_h, at_least=0)
    in_type = checked("type_h", type_h, at_least=0)
    endorsed, review = as_days("endorsed_on", endorsed_on), as_days("review_in_type_on", review_in_type_on)
    first_year = end_of_calendar_month(endorsed, 12)
    yearly = np.where(np.isnan(review), first_year, np.maximum(first_year, end_of_calendar_month(review, 12)))
    experienced = truth((total >= 200) & (in_type >= 50), total, in_type)  # noqa: PLR2004 - the rule's own figures
    normal = end_of_calendar_month(review, _CALENDAR_MONTHS_24)
    until = np.where(np.isnan(experienced), np.nan, np.where(experienced == 1, normal, yearly))
    return same_kind(endorsed_on, until)


def _whole_months(months: float) -> float:
    if months < 0 or months != np.floor(months):
        raise ValueError(f"months must be a whole number, 0 or more; found {months}")
    return months


def _events(
    events_on: DayLike, counts: npt.ArrayLike | None, flight: Floats
) -> tuple[Floats, Floats, npt.NDArray[np.bool_]]:
    """Events with padding at -inf and 0, and the rows in which something is unknown."""
    if events_on is None:
        return np.array([-np.inf]), np.zeros(1), np.ones(flight.shape, dtype=np.bool_)
    day, count = as_days("events_on", events_on), checked("counts", counts, at_least=0)
    if day.shape != count.shape:
        raise ValueError(f"events_on {day.shape} and counts {count.shape} must have one shape")
    if np.any(day > flight[..., None]):
        raise ValueError("events_on must not be after flight_on; an event in the future is a slip to mend")
    nothing = np.isnan(day) & (np.isnan(count) | (count == 0))
    unknown = np.any(~nothing & (np.isnan(day) | np.isnan(count)), axis=-1) | np.isnan(flight)
    return np.where(np.isnan(day), -np.inf, day), np.where(np.isnan(count), 0.0, count), unknown
