"""Every contradiction, in the worksheet itself and against the clock, by itself."""

# ruff: noqa: E501  - the rows of a table are read across, one case a line

from datetime import date, datetime, timedelta
from typing import Any

import pytest

from riskboard.worksheet import PARTS, clock_contradictions, partial_worksheet, read_worksheet
from riskboard.worksheet.checks import _ORDERED, _PAST_DAYS, _PAST_INSTANTS
from tests.strategies import DECIDED_AT

TODAY = date(2026, 5, 4)
HOUR = timedelta(hours=1)


def span(start: int, end: int) -> dict[str, datetime]:
    return {"start_at": DECIDED_AT + start * HOUR, "end_at": DECIDED_AT + end * HOUR}


LANDING = {"period": "day", "takeoffs": 3, "landings": 3, "full_stop": 3}

# part, entries, field reported, other fields made doubtful, words of the message
IMPOSSIBLE: list[tuple[str, dict[str, Any], str, tuple[str, ...], str]] = [
    ("weather", {"temperature_c": 4, "dew_point_c": 5}, "temperature_c", ("dew_point_c",), "below the dew point"),
    ("weather", {"wind_kt": 12, "gust_kt": 11}, "gust_kt", ("wind_kt",), "below the wind"),
    ("weather", {"ceiling_ft_agl": 900, "lowest_cloud_ft_agl": 1000}, "ceiling_ft_agl", ("lowest_cloud_ft_agl",), "a cloud too"),
    ("weather", {"ceiling_ft_agl": 900, "lowest_cloud_ft_agl": "none"}, "lowest_cloud_ft_agl", ("ceiling_ft_agl",), "a cloud too"),
    ("weather", {"wind_variable_from_deg": 10, "wind_variable_to_deg": "none"}, "wind_variable_to_deg", ("wind_variable_from_deg",), "both ends"),
    ("weather", {"wind_variable_from_deg": "none", "wind_variable_to_deg": 10}, "wind_variable_to_deg", ("wind_variable_from_deg",), "both ends"),
    ("aircraft", {"meter_h": 99.9, "last_inspection_at_h": 100}, "meter_h", ("last_inspection_at_h",), "read the meter again"),
    ("pilot", {"total_helicopter_h": 10, "hours_in_type_h": 11}, "total_helicopter_h", ("hours_in_type_h",), "in this type"),
    ("pilot", {"total_helicopter_h": 10, "hours_last_90_days_h": 11}, "total_helicopter_h", ("hours_last_90_days_h",), "last 90 days"),
    ("pilot", {"born_on": TODAY, "certificate_on": TODAY}, "certificate_on", ("born_on",), "older than its holder"),
    ("pilot", {"born_on": TODAY, "medical_exam_on": TODAY}, "medical_exam_on", ("born_on",), "before the birth"),
    ("pilot", {"certificate_on": TODAY, "recent_landings": [{"on": date(2026, 5, 3), **LANDING}]}, "recent_landings", ("certificate_on",), "before the certificate"),
    ("pilot", {"sleeps": [span(-16, -10), span(-11, -9)]}, "sleeps", (), "overlap"),
    ("pilot", {"instruction_given": [span(-4, -2), span(-3, -1)]}, "instruction_given", (), "overlap"),
    ("plan", {"take_off_at": DECIDED_AT, "landing_at": DECIDED_AT}, "landing_at", ("take_off_at",), "not after take-off"),
    ("plan", {"take_off_at": DECIDED_AT, "landing_at": DECIDED_AT + 13 * HOUR}, "landing_at", ("take_off_at",), "more than 12 h"),
]  # fmt: skip

# The nearest thing that is possible, for each of them: equal values, spans that touch, the longest flight.
POSSIBLE: list[tuple[str, dict[str, Any]]] = [
    ("weather", {"temperature_c": 5, "dew_point_c": 5, "wind_kt": 12, "gust_kt": 12}),
    ("weather", {"ceiling_ft_agl": 1000, "lowest_cloud_ft_agl": 1000}),
    ("weather", {"ceiling_ft_agl": "none", "lowest_cloud_ft_agl": 1000, "wind_kt": 12, "gust_kt": "none"}),
    ("weather", {"wind_variable_from_deg": "none", "wind_variable_to_deg": "none"}),
    ("weather", {"wind_variable_from_deg": 350, "wind_variable_to_deg": 40, "temperature_c": 1}),
    ("aircraft", {"meter_h": 100, "last_inspection_at_h": 100}),
    ("pilot", {"total_helicopter_h": 10, "hours_in_type_h": 10, "hours_last_90_days_h": 10}),
    ("pilot", {"certificate_on": TODAY, "recent_landings": [{"on": TODAY, **LANDING}]}),
    ("pilot", {"sleeps": [span(-11, -9), span(-16, -11)]}),
    ("plan", {"take_off_at": DECIDED_AT, "landing_at": DECIDED_AT + 12 * HOUR}),
]


@pytest.mark.parametrize(("part", "entries", "field", "also", "words"), IMPOSSIBLE)
def test_what_cannot_be_true_together_is_refused(
    part: str, entries: dict[str, Any], field: str, also: tuple[str, ...], words: str
) -> None:
    sheet, problems = partial_worksheet({part: entries})
    assert [(problem.field, problem.also) for problem in problems] == [(field, also)]
    assert words in problems[0].message
    assert all(sheet.value(name) is None for name in (field, *also))


@pytest.mark.parametrize(("part", "entries"), POSSIBLE)
def test_the_nearest_possible_thing_is_accepted(part: str, entries: dict[str, Any]) -> None:
    read_worksheet({part: entries})


def test_every_ordered_pair_has_its_case() -> None:
    reported = {(field, *also) for _, _, field, also, _ in IMPOSSIBLE}
    assert {(high, low) for high, low, _ in _ORDERED} <= reported


def test_a_span_that_ends_before_it_starts() -> None:
    _, problems = partial_worksheet({"pilot": {"sleeps": [span(-1, -2)]}})
    assert "give the end after the start" in problems[0].message


def test_a_forecast_line_that_ends_before_it_starts() -> None:
    _, problems = partial_worksheet({"weather": {"forecast_lines": [{**span(2, 1), "kind": "prevailing"}]}})
    assert "give the end after the start" in problems[0].message


def test_more_full_stops_than_landings() -> None:
    entry = {"on": TODAY, "period": "night", "takeoffs": 3, "landings": 2, "full_stop": 3}
    _, problems = partial_worksheet({"pilot": {"recent_landings": [entry]}})
    assert "full_stop 3 is more than landings 2" in problems[0].message


def clock_problems(data: dict[str, Any], at: datetime = DECIDED_AT) -> list[tuple[str, str]]:
    return [(problem.field, problem.message) for problem in clock_contradictions(read_worksheet(data), at)]


def part_of(field: str) -> str:
    return next(part for part, model in PARTS.items() if field in model.model_fields)


@pytest.mark.parametrize("field", _PAST_INSTANTS)
def test_moments_that_have_not_come(field: str) -> None:
    part = part_of(field)
    ((name, message),) = clock_problems({part: {field: DECIDED_AT + timedelta(minutes=1)}})
    assert name == field
    assert "is in the future" in message
    assert clock_problems({part: {field: DECIDED_AT}}) == []


@pytest.mark.parametrize("field", _PAST_DAYS)
def test_days_that_have_not_come(field: str) -> None:
    part = part_of(field)
    zone = {"time_zone": "America/Denver"}
    data = {part: {field: TODAY + timedelta(days=1)}}
    ((name, message),) = clock_problems({**data, "plan": zone})
    assert name == field
    assert "is in the future" in message
    assert clock_problems({part: {field: TODAY}, "plan": zone}) == []
    assert clock_problems(data) == []  # where the zone is not known, the local day may be ahead


def test_the_day_is_the_local_one() -> None:
    # 23:30Z on 4 May is 5 May in Auckland and still 4 May in Denver.
    late = DECIDED_AT.replace(hour=23)
    for zone, expected in (("Pacific/Auckland", 0), ("America/Denver", 1)):
        data = {"pilot": {"flight_review_on": date(2026, 5, 5)}, "plan": {"time_zone": zone}}
        assert len(clock_problems(data, late)) == expected


@pytest.mark.parametrize(
    ("data", "field", "words"),
    [
        ({"pilot": {"recent_landings": [{"on": TODAY + timedelta(days=2), **LANDING}]}}, "recent_landings", "future"),
        ({"pilot": {"sleeps": [span(-1, 1)]}}, "sleeps", "what has happened"),
        ({"pilot": {"instruction_given": [span(-1, 1)]}}, "instruction_given", "what has happened"),
        ({"plan": {"take_off_at": DECIDED_AT - HOUR}}, "take_off_at", "has passed"),
        ({"aircraft": {"open_defects": [{"text": "x", "reported_at": DECIDED_AT + HOUR}]}}, "open_defects", "future"),
        ({"clocks": {"wind_kt": {"true_at": DECIDED_AT + HOUR}}}, "wind_kt", "was true at"),
        ({"clocks": {"wind_kt": {"typed_at": DECIDED_AT + HOUR}}}, "wind_kt", "was typed at"),
    ],
)
def test_other_things_that_have_not_come(data: dict[str, Any], field: str, words: str) -> None:
    ((name, message),) = clock_problems(data)
    assert name == field
    assert words in message


def test_dates_that_lie_ahead_by_nature_are_fine() -> None:
    ahead = {"instructor_period_ends_on": date(2027, 5, 31)}
    due = {
        "inspections": [{"name": "x", "due_on": date(2027, 1, 1)}],
        "open_defects": [{"text": "x", "deferred_until": date(2027, 1, 1)}],
    }
    assert clock_problems({"pilot": ahead, "aircraft": due, "plan": {"take_off_at": DECIDED_AT}}) == []


def test_the_moment_needs_a_zone() -> None:
    with pytest.raises(ValueError, match="time zone"):
        clock_contradictions(read_worksheet({}), DECIDED_AT.replace(tzinfo=None))
