"""Contradictions: facts that cannot all be true. They are errors to mend, never unknowns to score."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from riskboard.words import NONE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from riskboard.worksheet.entries import Span
    from riskboard.worksheet.model import Worksheet

__all__ = ["WorksheetProblem", "clock_contradictions", "contradictions"]

LONGEST_FLIGHT_H = 12


@dataclass(frozen=True)
class WorksheetProblem:
    """One thing to mend: which entry, and what would be right."""

    field: str
    message: str


def _number(value: object) -> float | None:
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None


def _above(sheet: Worksheet, higher: str, lower: str, sentence: str) -> Iterator[WorksheetProblem]:
    high, low = _number(sheet.value(higher)), _number(sheet.value(lower))
    if high is not None and low is not None and high < low:
        yield WorksheetProblem(higher, sentence.format(high=f"{high:g}", low=f"{low:g}"))


def _overlapping(field: str, spans: tuple[Span, ...] | None) -> Iterator[WorksheetProblem]:
    ordered = sorted(spans or (), key=lambda span: span.start_at)
    for earlier, later in zip(ordered, ordered[1:], strict=False):
        if later.start_at < earlier.end_at:
            yield WorksheetProblem(
                field, f"two spans overlap around {later.start_at:%Y-%m-%d %H:%MZ}; give each span once"
            )


def _flight_times(sheet: Worksheet) -> Iterator[WorksheetProblem]:
    plan = sheet.plan
    if plan.take_off_at is None or plan.landing_at is None:
        return
    if plan.landing_at <= plan.take_off_at:
        yield WorksheetProblem(
            "landing_at",
            f"landing {plan.landing_at:%Y-%m-%d %H:%MZ} is not after take-off {plan.take_off_at:%Y-%m-%d %H:%MZ}",
        )
    elif plan.landing_at - plan.take_off_at > timedelta(hours=LONGEST_FLIGHT_H):
        yield WorksheetProblem("landing_at", f"the flight would last more than {LONGEST_FLIGHT_H} h; check both dates")


def _paper_dates(sheet: Worksheet) -> Iterator[WorksheetProblem]:
    pilot = sheet.pilot
    if pilot.born_on and pilot.certificate_on and pilot.certificate_on <= pilot.born_on:
        yield WorksheetProblem("certificate_on", "the certificate cannot be older than its holder")
    if pilot.born_on and pilot.medical_exam_on and pilot.medical_exam_on <= pilot.born_on:
        yield WorksheetProblem("medical_exam_on", "the examination cannot be before the date of birth")
    # A student logs landings before any certificate is issued only under instruction, which does not count for carrying passengers.
    for entry in pilot.recent_landings or ():
        if pilot.certificate_on and entry.on < pilot.certificate_on:
            yield WorksheetProblem(
                "recent_landings",
                f"landings on {entry.on} are before the certificate of {pilot.certificate_on}; check both dates",
            )


def _wind_range(sheet: Worksheet) -> Iterator[WorksheetProblem]:
    ends = (sheet.weather.wind_variable_from_deg, sheet.weather.wind_variable_to_deg)
    if (ends[0] == NONE) != (ends[1] == NONE) and None not in ends:
        yield WorksheetProblem("wind_variable_to_deg", "give both ends of the variable direction, or 'none' for both")


def contradictions(sheet: Worksheet) -> tuple[WorksheetProblem, ...]:
    """What in this worksheet cannot be true together, whatever the time. Pure."""
    found: list[WorksheetProblem] = []
    found += _above(
        sheet,
        "temperature_c",
        "dew_point_c",
        "temperature {high} °C is below the dew point {low} °C; air holds no more water than its temperature allows, check both",
    )
    found += _above(
        sheet,
        "gust_kt",
        "wind_kt",
        "gusts to {high} kt are below the wind of {low} kt; a gust is stronger than the mean wind, or write 'none'",
    )
    found += _above(
        sheet,
        "meter_h",
        "last_inspection_at_h",
        "meter {high} h is below the {low} h of the last inspection; read the meter again",
    )
    found += _above(
        sheet,
        "ceiling_ft_agl",
        "lowest_cloud_ft_agl",
        "ceiling {high} ft is below the lowest cloud at {low} ft; the ceiling is a cloud too",
    )
    found += _above(sheet, "total_helicopter_h", "hours_in_type_h", "total {high} h is below the {low} h in this type")
    found += _above(
        sheet, "total_helicopter_h", "hours_last_90_days_h", "total {high} h is below the {low} h of the last 90 days"
    )
    found += _flight_times(sheet)
    found += _paper_dates(sheet)
    found += _wind_range(sheet)
    found += _overlapping("sleeps", sheet.pilot.sleeps)
    found += _overlapping("instruction_given", sheet.pilot.instruction_given)
    return tuple(found)


_PAST_INSTANTS = ("observed_at", "forecast_issued_at", "meter_read_at", "last_drink_at", "last_meal_at")
_PAST_DAYS = (
    "certificate_on", "medical_exam_on", "basic_med_course_on", "flight_review_on", "last_flight_in_type_on", "last_night_flight_on",
    "exercise_last_flown_on", "type_training_on", "solo_training_on", "solo_endorsed_on", "solo_night_training_on", "student_limits_on",
    "instructor_experience_on", "instructor_exercise_last_on", "annual_on", "transponder_check_on", "locator_check_on",
)  # fmt: skip


def _local_day(sheet: Worksheet, at: datetime) -> date:
    return at.astimezone(ZoneInfo(sheet.plan.time_zone) if sheet.plan.time_zone else UTC).date()


def clock_contradictions(sheet: Worksheet, at: datetime) -> tuple[WorksheetProblem, ...]:
    """What cannot be true at the moment of decision ``at`` (aware): a future observation, a take-off already past.

    Raises:
        ValueError: ``at`` has no zone.
    """
    if at.tzinfo is None:
        raise ValueError("the moment of decision needs a time zone")
    found: list[WorksheetProblem] = []
    for field in _PAST_INSTANTS:
        value = sheet.value(field)
        if isinstance(value, datetime) and value > at:
            found.append(
                WorksheetProblem(
                    field, f"{value:%Y-%m-%d %H:%MZ} is in the future; now it is {at.astimezone(UTC):%Y-%m-%d %H:%MZ}"
                )
            )
    # One day of grace where the zone is not known: the local day may be ahead of UTC.
    today = _local_day(sheet, at) + timedelta(days=0 if sheet.plan.time_zone else 1)
    for field in _PAST_DAYS:
        day = sheet.value(field)
        if isinstance(day, date) and day > today:
            found.append(WorksheetProblem(field, f"{day} is in the future; today is {today}"))
    found += [
        WorksheetProblem("recent_landings", f"landings on {e.on} are in the future; today is {today}")
        for e in sheet.pilot.recent_landings or ()
        if e.on > today
    ]
    for field in ("sleeps", "instruction_given"):
        spans: tuple[Span, ...] = getattr(sheet.pilot, field) or ()
        found += [
            WorksheetProblem(field, f"ends at {s.end_at:%Y-%m-%d %H:%MZ}, in the future; give what has happened")
            for s in spans
            if s.end_at > at
        ]
    if sheet.plan.take_off_at is not None and sheet.plan.take_off_at < at:
        found.append(
            WorksheetProblem(
                "take_off_at", f"planned take-off {sheet.plan.take_off_at:%Y-%m-%d %H:%MZ} has passed; set the new time"
            )
        )
    for name, clock in sheet.clocks.items():
        for which, moment in (("true", clock.true_at), ("typed", clock.typed_at)):
            if moment is not None and moment > at:
                found.append(WorksheetProblem(name, f"was {which} at {moment:%Y-%m-%d %H:%MZ}, in the future"))
    return tuple(found)
