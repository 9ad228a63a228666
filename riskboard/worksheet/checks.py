"""Contradictions: facts that cannot all be true. They are errors to mend, never unknowns to score."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from itertools import chain, pairwise
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from riskboard.words import NONE
from riskboard.worksheet.kinds import shown

if TYPE_CHECKING:
    from collections.abc import Iterator

    from riskboard.worksheet.entries import Span
    from riskboard.worksheet.model import Worksheet

__all__ = ["WorksheetProblem", "clock_contradictions", "contradictions"]

LONGEST_FLIGHT_H = 12


@dataclass(frozen=True)
class WorksheetProblem:
    """One thing to mend: which entry, and what would be right.

    Attributes:
        field: Name of the entry, or of the part, or the name as given where no entry has it.
        message: What was wrong and what would be right, in plain words, complete by itself.
        also: Further entries that the same contradiction makes doubtful.
        path: Keys and positions that lead to the value in the data given; empty for a contradiction.
        where: ``file:line:column`` where the data came from a file, else "".
    """

    field: str
    message: str
    also: tuple[str, ...] = ()
    path: tuple[str | int, ...] = ()
    where: str = ""

    def __str__(self) -> str:
        return f"{self.where}: {self.message}" if self.where else f"{self.field}: {self.message}"


def _number(value: object) -> float | None:
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None


def _utc(moment: datetime) -> str:
    return f"{moment.astimezone(UTC):%Y-%m-%d %H:%MZ}"


# (must not be lower, than this, sentence)
_ORDERED = (
    (
        "temperature_c",
        "dew_point_c",
        "temperature {high} °C is below the dew point {low} °C; no air holds that much water, check both",
    ),
    (
        "gust_kt",
        "wind_kt",
        "gusts to {high} kt are below the wind of {low} kt; a gust is stronger than the mean wind, or write 'none'",
    ),
    (
        "meter_h",
        "last_inspection_at_h",
        "meter {high} h is below the {low} h of the last inspection; read the meter again",
    ),
    (
        "ceiling_ft_agl",
        "lowest_cloud_ft_agl",
        "ceiling {high} ft is below the lowest cloud at {low} ft; the ceiling is a cloud too",
    ),
    ("total_helicopter_h", "hours_in_type_h", "total {high} h is below the {low} h in this type; check both"),
    (
        "total_helicopter_h",
        "hours_last_90_days_h",
        "total {high} h is below the {low} h of the last 90 days; check both",
    ),
)


def _wrong_order(sheet: Worksheet) -> Iterator[WorksheetProblem]:
    for higher, lower, sentence in _ORDERED:
        high, low = _number(sheet.value(higher)), _number(sheet.value(lower))
        if high is not None and low is not None and high < low:
            yield WorksheetProblem(higher, sentence.format(high=f"{high:g}", low=f"{low:g}"), (lower,))


def _cloud_answers(sheet: Worksheet) -> Iterator[WorksheetProblem]:
    weather = sheet.weather
    if weather.lowest_cloud_ft_agl == NONE and _number(weather.ceiling_ft_agl) is not None:
        yield WorksheetProblem(
            "lowest_cloud_ft_agl",
            f"lowest cloud 'none', but a ceiling at {weather.ceiling_ft_agl:g} ft; the ceiling is a cloud too",
            ("ceiling_ft_agl",),
        )


def _overlapping(field: str, what: str, spans: tuple[Span, ...] | None) -> Iterator[WorksheetProblem]:
    ordered = sorted(spans or (), key=lambda span: span.start_at)
    for earlier, later in pairwise(ordered):
        if later.start_at < earlier.end_at:
            yield WorksheetProblem(
                field, f"two spans of {what} overlap around {_utc(later.start_at)}; give each span once"
            )


def _flight_times(sheet: Worksheet) -> Iterator[WorksheetProblem]:
    take_off_at, landing_at = sheet.plan.take_off_at, sheet.plan.landing_at
    if take_off_at is None or landing_at is None:
        return
    if landing_at <= take_off_at:
        message = f"landing {_utc(landing_at)} is not after take-off {_utc(take_off_at)}; check both"
    elif landing_at - take_off_at > timedelta(hours=LONGEST_FLIGHT_H):
        message = f"the flight would last more than {LONGEST_FLIGHT_H} h; check the dates of take-off and landing"
    else:
        return
    yield WorksheetProblem("landing_at", message, ("take_off_at",))


def _paper_dates(sheet: Worksheet) -> Iterator[WorksheetProblem]:
    pilot = sheet.pilot
    if pilot.born_on and pilot.certificate_on and pilot.certificate_on <= pilot.born_on:
        yield WorksheetProblem(
            "certificate_on",
            f"certificate of {pilot.certificate_on}, holder born on {pilot.born_on}; "
            "the certificate cannot be older than its holder",
            ("born_on",),
        )
    if pilot.born_on and pilot.medical_exam_on and pilot.medical_exam_on <= pilot.born_on:
        yield WorksheetProblem(
            "medical_exam_on",
            f"medical examination on {pilot.medical_exam_on}, date of birth {pilot.born_on}; "
            "the examination cannot be before the birth",
            ("born_on",),
        )
    # A student logs landings before any certificate is issued only under instruction, which does not count
    # for carrying passengers.
    for entry in pilot.recent_landings or ():
        if pilot.certificate_on and entry.on < pilot.certificate_on:
            yield WorksheetProblem(
                "recent_landings",
                f"landings on {entry.on} are before the certificate of {pilot.certificate_on}; check both dates",
                ("certificate_on",),
            )


def _wind_range(sheet: Worksheet) -> Iterator[WorksheetProblem]:
    ends = (sheet.weather.wind_variable_from_deg, sheet.weather.wind_variable_to_deg)
    if (ends[0] == NONE) != (ends[1] == NONE) and None not in ends:
        yield WorksheetProblem(
            "wind_variable_to_deg",
            "give both ends of the variable wind direction, or 'none' for both",
            ("wind_variable_from_deg",),
        )


def _named_twice(sheet: Worksheet) -> Iterator[WorksheetProblem]:
    """A list of loads or of equipment that says two things about one place or piece."""
    named = (
        ("station_loads", [entry.station for entry in sheet.plan.station_loads or ()]),
        ("equipment_fitted", [entry.name for entry in sheet.aircraft.equipment_fitted or ()]),
    )
    for field, names in named:
        for name in sorted({name for name in names if names.count(name) > 1}):
            yield WorksheetProblem(field, f"{_label(sheet, field)}: {shown(name)} is given twice; give it once")


def contradictions(sheet: Worksheet) -> tuple[WorksheetProblem, ...]:
    """What in this worksheet cannot be true together, whatever the time. Pure."""
    return tuple(
        chain(
            _wrong_order(sheet),
            _cloud_answers(sheet),
            _flight_times(sheet),
            _paper_dates(sheet),
            _wind_range(sheet),
            _named_twice(sheet),
            _overlapping("sleeps", "sleep", sheet.pilot.sleeps),
            _overlapping("instruction_given", "flight instruction", sheet.pilot.instruction_given),
        )
    )


_PAST_INSTANTS = (
    "observed_at",
    "forecast_issued_at",
    "meter_read_at",
    "last_drink_at",
    "last_meal_at",
    "duty_started_at",
)
_PAST_DAYS = (
    "born_on", "certificate_on", "medical_exam_on", "basic_med_course_on", "flight_review_on", "last_flight_in_type_on",
    "last_night_flight_on", "exercise_last_flown_on", "type_training_on", "solo_training_on", "solo_endorsed_on",
    "solo_night_training_on", "student_limits_on", "instructor_experience_on", "instructor_exercise_last_on",
    "annual_on", "transponder_check_on", "locator_check_on", "weighed_on",
)  # fmt: skip


def _label(sheet: Worksheet, field: str) -> str:
    parts = (sheet.pilot, sheet.aircraft, sheet.weather, sheet.plan, sheet.pressures)
    models = [type(part) for part in parts]
    return next(str(model.model_fields[field].title) for model in models if field in model.model_fields)


def _local_day(sheet: Worksheet, at: datetime) -> date:
    return at.astimezone(ZoneInfo(sheet.plan.time_zone) if sheet.plan.time_zone else UTC).date()


def _future_instants(sheet: Worksheet, at: datetime) -> Iterator[WorksheetProblem]:
    for field in _PAST_INSTANTS:
        value = sheet.value(field)
        if isinstance(value, datetime) and value > at:
            yield WorksheetProblem(
                field, f"{_label(sheet, field)}: {_utc(value)} is in the future, now it is {_utc(at)}; check the date"
            )
    for defect in sheet.aircraft.open_defects or ():
        if defect.reported_at is not None and defect.reported_at > at:
            yield WorksheetProblem(
                "open_defects", f"a defect was reported at {_utc(defect.reported_at)}, in the future; check the date"
            )


def _future_days(sheet: Worksheet, at: datetime) -> Iterator[WorksheetProblem]:
    # One day of grace where the zone is not known: the local day may be ahead of UTC.
    today = _local_day(sheet, at) + timedelta(days=0 if sheet.plan.time_zone else 1)
    for field in _PAST_DAYS:
        day = sheet.value(field)
        if isinstance(day, date) and day > today:
            yield WorksheetProblem(
                field, f"{_label(sheet, field)}: {day} is in the future, today is {today}; check the date"
            )
    for entry in sheet.pilot.recent_landings or ():
        if entry.on > today:
            yield WorksheetProblem(
                "recent_landings", f"landings on {entry.on} are in the future, today is {today}; check the date"
            )


def _future_spans(sheet: Worksheet, at: datetime) -> Iterator[WorksheetProblem]:
    spans = (("sleeps", sheet.pilot.sleeps), ("instruction_given", sheet.pilot.instruction_given))
    for field, entries in spans:
        for span in entries or ():
            if span.end_at > at:
                yield WorksheetProblem(
                    field,
                    f"{_label(sheet, field)}: ends at {_utc(span.end_at)}, in the future; give only what has happened",
                )


def _future_clocks(sheet: Worksheet, at: datetime) -> Iterator[WorksheetProblem]:
    for name, clock in sheet.clocks.items():
        for which, moment in (("true", clock.true_at), ("typed", clock.typed_at)):
            if moment is not None and moment > at:
                yield WorksheetProblem(
                    name, f"{_label(sheet, name)}: was {which} at {_utc(moment)}, in the future; check its time"
                )


def _take_off_passed(sheet: Worksheet, at: datetime) -> Iterator[WorksheetProblem]:
    take_off_at = sheet.plan.take_off_at
    if take_off_at is not None and take_off_at < at:
        yield WorksheetProblem("take_off_at", f"planned take-off {_utc(take_off_at)} has passed; set the new time")


def clock_contradictions(sheet: Worksheet, at: datetime) -> tuple[WorksheetProblem, ...]:
    """What cannot be true at the moment of decision ``at`` (aware): a future observation, a take-off already past.

    Raises:
        ValueError: ``at`` has no zone.
    """
    if at.tzinfo is None:
        raise ValueError("the moment of decision needs a time zone")
    checks = (_future_instants, _future_days, _future_spans, _take_off_passed, _future_clocks)
    return tuple(problem for check in checks for problem in check(sheet, at))
