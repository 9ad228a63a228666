"""The promises on real worksheets under the shipped policies: neither forgetting nor worse helps, odd is never go.

The long run is ``RISKBOARD_HYPOTHESIS=long``: 5,000 worksheets, each with every entry blanked in turn.
"""

import os
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime, timedelta
from functools import cache
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given, reject, settings
from hypothesis import strategies as st

from riskboard.aircraft_types.shipped import shipped_types
from riskboard.assessment.airframe import airframe_columns
from riskboard.assessment.assess import CannotAssessError, assess
from riskboard.assessment.engine import Facts, Scores, score
from riskboard.assessment.facts import PreparedPolicy, facts_of, prepare
from riskboard.jobs.files import shipped_book
from riskboard.measures.registry import evaluate_together, inputs_of
from riskboard.shipped import shipped
from riskboard.words import Decision, Guard
from riskboard.worksheet import FIELD_PART, Worksheet
from riskboard.worksheet.columns import Columns, FloatArray, expire_weather, to_columns
from riskboard.worksheet.entries import MitigationTaken
from riskboard.worksheet.file import read_worksheet_file
from riskboard.worksheet.read import WorksheetError, read_worksheet
from riskboard.worksheet.write import worksheet_data
from tests.strategies import DECIDED_AT, worksheets

LONG = os.environ.get("RISKBOARD_HYPOTHESIS") == "long"
RUN = settings(max_examples=5000 if LONG else 25)


@cache
def policies() -> Mapping[str, PreparedPolicy]:
    return {policy.id: prepare(policy, shipped_types()) for policy in shipped_book().policies}


@cache
def calm() -> tuple[Worksheet, datetime]:
    sheet, at = read_worksheet_file(shipped("weather_samples") / "calm_morning.yaml")
    assert at is not None
    return sheet, at


def scores(sheets: Sequence[Worksheet], prepared: PreparedPolicy, at: datetime) -> Scores:
    return score(prepared.compiled, facts_of(sheets, prepared, at)[0], keep=True)


def under_every_policy(sheets: Sequence[Worksheet], at: datetime) -> Mapping[str, Scores]:
    """Scores under each policy; columns and measures are worked out once where the same weather is too old."""
    stated = [frozenset(m.name for m in sheet.plan.mitigations or ()) for sheet in sheets]
    taken = {name: np.array([name in row for row in stated]) for name in frozenset().union(*stated)}
    done: dict[tuple[tuple[str, ...], ...], Facts] = {}
    found = {}
    for name, prepared in policies().items():
        kept = [expire_weather(sheet, at, prepared.policy.weather_age_max_min) for sheet in sheets]
        expired = tuple(names for _, names in kept)
        if expired not in done:
            fresh = [sheet for sheet, _ in kept]
            columns = to_columns(fresh, at) | airframe_columns(fresh, prepared.types)
            done[expired] = Facts(*every_measure(columns), taken)
        found[name] = score(prepared.compiled, done[expired], keep=True)
    return found


def every_measure(columns: Columns) -> tuple[Columns, dict[Guard, FloatArray]]:
    compiled = [prepared.compiled for prepared in policies().values()]
    return evaluate_together(
        columns,
        sorted({measure for each in compiled for measure in each.measures}),
        sorted({word for each in compiled for word in each.guards}),
    )


def blanked(sheet: Worksheet) -> dict[str, Worksheet]:
    """The worksheet with each of its entries forgotten in turn. Forgetting cannot make a contradiction."""
    return {field: sheet.but(**{field: None}) for field in FIELD_PART if sheet.value(field) is not None}


def blanked_unchecked(sheet: Worksheet) -> dict[str, Worksheet]:
    """As :func:`blanked`, without reading each anew: many times as fast, and the same by the test below."""
    parts = {field: getattr(sheet, part) for field, part in FIELD_PART.items() if sheet.value(field) is not None}
    return {
        field: sheet.model_copy(update={FIELD_PART[field]: part.model_copy(update={field: None})})
        for field, part in parts.items()
    }


MILD: Mapping[str, st.SearchStrategy[Any]] = {
    "wind_kt": st.integers(0, 7).map(float),
    "temperature_c": st.integers(14, 26).map(float),
    "altimeter_inhg": st.floats(29.7, 30.3).map(lambda value: round(value, 2)),
    "visibility_sm": st.integers(9, 30).map(float),
    "route_visibility_sm": st.integers(9, 30).map(float),
    "empty_weight_lb": st.integers(9700, 10000).map(lambda tenths: tenths / 10),
    "start_and_taxi_gal": st.integers(5, 15).map(lambda tenths: tenths / 10),
    "fuel_usable_gal": st.floats(21, 24).map(lambda value: round(value, 1)),
    "hours_in_type_h": st.integers(60, 150).map(float),
    "pressure_felt": st.integers(1, 2),
    "stress_level": st.integers(1, 2),
    "sleepiness_rating": st.integers(1, 4),
    "station_distance_nm": st.integers(0, 5).map(float),
    "flights_today": st.integers(0, 1),
    "cruise_ft_agl": st.integers(7, 12).map(lambda hundreds: hundreds * 100.0),
    "approach_heading_deg": st.integers(0, 35).map(lambda tens: tens * 10.0),
}


@st.composite
def fair_worksheets(draw: st.DrawFn) -> Worksheet:
    """A calm morning with other mild weather, people and fuel: a go, so that losing it can be seen."""
    chosen = draw(st.lists(st.sampled_from(sorted(MILD)), unique=True))
    return calm()[0].but(**{field: draw(MILD[field]) for field in chosen})


def test_the_calm_morning_is_a_go() -> None:
    sheet, at = calm()
    assert assess(sheet, policies()["rotor-school-vfr"], at).decision is Decision.go


@RUN
@given(fair_worksheets())
def test_blanking_an_entry_that_a_limit_needs_never_leaves_go(sheet: Worksheet) -> None:
    """Needs: the limit is in force, and without the entry its measure is unknown. Then it is even a no-go."""
    prepared, at = policies()["rotor-school-vfr"], calm()[1]
    forgetful = blanked_unchecked(sheet)
    found = scores([sheet, *forgetful.values()], prepared, at)
    assume(found.decision[0] == Decision.go)
    assert found.bands is not None
    limits = found.bands[prepared.compiled.factors :]
    # Without the observation time all weather is of unknown age, which is too old.
    needed = {"observed_at"}.union(*(inputs_of(limit.measure) for limit in prepared.policy.limits))
    lost = 0
    for row, field in enumerate(forgetful, start=1):
        unknown = (limits[:, row] == prepared.compiled.unknown).any()
        if unknown:
            lost += 1
            assert field in needed
            assert found.decision[row] == Decision.no_go, field
    assert lost >= 20, "this worksheet has too few entries that a limit needs; the check would say nothing"


@RUN
@given(st.one_of(fair_worksheets(), worksheets()))
def test_forgetting_any_one_entry_never_helps(sheet: Worksheet) -> None:
    at = calm()[1] if sheet.weather.observed_at == calm()[0].weather.observed_at else DECIDED_AT
    forgetful = blanked(sheet)
    for name, found in under_every_policy([sheet, *forgetful.values()], at).items():
        forgetting_helps = [
            field for field, level in zip(forgetful, found.level[1:], strict=True) if level < found.level[0]
        ]
        assert forgetting_helps == [], name


@settings(max_examples=25)
@given(st.one_of(fair_worksheets(), worksheets()))
def test_an_entry_blanked_unchecked_is_the_entry_blanked(sheet: Worksheet) -> None:
    assert blanked_unchecked(sheet) == blanked(sheet)


# Entries whose measures all agree on which way is worse. +1: more is worse. Times, headings, temperature, pressure and
# fuel have no single worse end, so they are not here; nor has what is burned before take-off (it is weight), nor a load
# or a weighing (each moves the balance, and there is a lowest weight as well as a highest).
ONE_WAY = {
    "gust_kt": +1,
    "visibility_sm": -1,
    "route_visibility_sm": -1,
    "thunderstorm_nm": -1,
    "station_distance_nm": +1,
    "fuel_burn_gal_h": +1,
    "meter_h": +1,
    "hours_in_type_h": -1,
    "hours_last_90_days_h": -1,
    "sleepiness_rating": +1,
    "stress_level": +1,
    "flights_today": +1,
    "days_in_row": +1,
    "passengers": +1,
    "distance_from_base_nm": +1,
    "highest_obstacle_ft_agl": +1,
    "reserve_min": +1,
    "cancelled_before": +1,
    "pressure_felt": +1,
    "student_wind_limit_kt": -1,
    "student_crosswind_limit_kt": -1,
    "student_area_limit_nm": -1,
    "student_visibility_limit_sm": +1,
    "student_ceiling_limit_ft_agl": +1,
    "instructor_in_type_h": -1,
}


@RUN
@given(st.one_of(fair_worksheets(), worksheets()), st.sampled_from(sorted(ONE_WAY)), st.integers(1, 40))
def test_making_one_entry_worse_never_helps(sheet: Worksheet, field: str, steps: int) -> None:
    value = sheet.value(field)
    assume(isinstance(value, int | float))
    assert isinstance(value, int | float)
    moved = value + ONE_WAY[field] * steps * (0.5 if isinstance(value, float) else 1)
    try:
        worse = sheet.but(**{field: moved})
    except ValueError:
        reject()  # outside the bounds, or in contradiction with another entry
    at = calm()[1] if sheet.weather.observed_at == calm()[0].weather.observed_at else DECIDED_AT
    for name, found in under_every_policy([sheet, worse], at).items():
        assert found.level[0] <= found.level[1], name


ODD: list[tuple[str, Any]] = [
    ("wind_kt", float("nan")),
    ("wind_kt", float("inf")),
    ("wind_kt", -1),
    ("wind_kt", 300),
    ("wind_kt", "4"),
    ("wind_kt", True),
    ("wind_kt", [4]),
    ("gust_kt", "calm"),
    ("visibility_sm", "10SM"),
    ("temperature_c", 71),
    ("dew_point_c", 40),
    ("altimeter_inhg", 1013),
    ("altimeter_inhg", 2992),
    ("fuel_usable_gal", -3),
    ("fuel_burn_gal_h", 0),
    ("empty_weight_lb", 0),
    ("empty_longitudinal_moment_in_lb", "84907"),
    ("station_loads", [{"station": "left_seat", "load_lb": -1}]),
    ("station_loads", [{"station": "left_seat", "load_lb": 1}, {"station": "left_seat", "load_lb": 2}]),
    ("equipment_fitted", [{"name": "left_door", "fitted": "yes"}]),
    ("flying_weight_lb", 1720),
    ("sleepiness_rating", 0),
    ("sleepiness_rating", 3.5),
    ("take_off_at", "2026-05-04T09:00"),
    ("take_off_at", "tomorrow"),
    ("take_off_at", 1777888800),
    ("landing_at", "2020-01-01T00:00Z"),
    ("medical_exam_on", "31/12/2025"),
    ("medical_exam_on", "2026-02-30"),
    ("purpose", "fun"),
    ("passengers", -1),
    ("sleeps", "well"),
    ("sleeps", [{"start_at": "2026-05-04T06:00Z"}]),
    ("open_defects", [{"text": ""}]),
    ("time_zone", "Mars/Olympus"),
    ("reserve_min", 5),
    ("meter_h", 1.0),
    ("ceiling_ft_agl", -500),
]


@pytest.mark.parametrize(("field", "value"), ODD, ids=[f"{field}={value!r}"[:50] for field, value in ODD])
def test_an_impossible_entry_is_an_error_that_names_it(field: str, value: Any) -> None:
    """Never a decision, and the message names the entry."""
    data = worksheet_data(calm()[0])
    data[FIELD_PART[field]][field] = value
    with pytest.raises(WorksheetError) as caught:
        read_worksheet(data)
    named = [(problem.field, *problem.also) for problem in caught.value.problems]
    assert any(field in name for names in named for name in names), named


FUTURE = datetime(2031, 1, 1, tzinfo=UTC)


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("observed_at", FUTURE),
        ("forecast_issued_at", FUTURE),
        ("meter_read_at", FUTURE),
        ("last_drink_at", FUTURE),
        ("medical_exam_on", FUTURE.date()),
        ("flight_review_on", FUTURE.date()),
        ("annual_on", FUTURE.date()),
        ("weighed_on", FUTURE.date()),
        ("last_flight_in_type_on", FUTURE.date()),
        ("type_training_on", FUTURE.date()),
    ],
)
def test_a_fact_from_the_future_is_an_error_that_names_it(field: str, value: Any) -> None:
    sheet, at = calm()
    with pytest.raises(CannotAssessError) as caught:
        assess(sheet.but(**{field: value}), policies()["rotor-school-vfr"], at)
    assert [problem.field for problem in caught.value.problems] == [field]


def test_a_take_off_that_has_passed_is_an_error() -> None:
    sheet, _ = calm()
    assert sheet.plan.take_off_at is not None
    with pytest.raises(CannotAssessError, match="has passed"):
        assess(sheet, policies()["rotor-school-vfr"], sheet.plan.take_off_at + timedelta(seconds=1))


def test_stale_weather_is_unknown_weather() -> None:
    """One minute past the age limit every observed fact is blank, and says why."""
    sheet, _ = calm()
    prepared = policies()["rotor-school-vfr"]
    assert sheet.weather.observed_at is not None
    fresh_until = sheet.weather.observed_at + timedelta(minutes=prepared.policy.weather_age_max_min)
    late = {"take_off_at": fresh_until + timedelta(minutes=20), "landing_at": fresh_until + timedelta(minutes=70)}
    stale = assess(sheet.but(**late), prepared, fresh_until + timedelta(minutes=1))
    assert stale.decision is Decision.no_go
    assert "wind_kt" in stale.expired
    assert stale.measures["gust_spread_kt"] is None
    assert any("too old" in line.sentence for line in stale.unknown)
    assert "wind_kt" not in assess(sheet.but(**late), prepared, fresh_until).expired


def test_the_same_input_gives_the_same_bytes() -> None:
    sheet, at = calm()
    prepared = policies()["rotor-school-vfr"]
    again = prepare(prepared.policy, prepared.types.values())
    assert (
        assess(sheet, prepared, at).as_json()
        == assess(Worksheet.model_validate(sheet.model_dump()), again, at).as_json()
    )


def test_an_acceptance_ends_with_the_weather() -> None:
    """Acceptable is valid 90 min; weather 20 min old under a 60 min limit ends it after 40."""
    sheet, at = calm()
    prepared = policies()["rotor-school-vfr"]
    assert sheet.weather.observed_at is not None
    found = assess(sheet, prepared, at)
    level = next(level for level in prepared.policy.levels if level.name == found.level)
    assert level.valid_min is not None
    by_time = at + timedelta(minutes=level.valid_min)
    by_weather = sheet.weather.observed_at + timedelta(minutes=prepared.policy.weather_age_max_min)
    assert found.valid_until == (min(by_weather, by_time))


def test_every_policy_at_once_is_each_policy_by_itself() -> None:
    """The short cut that the promises above take gives what assessing gives, bit by bit."""
    sheet, at = calm()
    told = MitigationTaken(name="those who wait were told", by="Tobin Reyes-Hall", done="Rang them.")
    eased = sheet.but(someone_waits=True, mitigations=(told,))
    variants = [sheet, eased, *list(blanked(eased).values())[::9]]
    for name, found in under_every_policy(variants, at).items():
        alone = scores(variants, policies()[name], at)
        for part in Scores.__dataclass_fields__:
            np.testing.assert_array_equal(getattr(found, part), getattr(alone, part))


def test_a_row_alone_and_in_a_batch_agree() -> None:
    sheet, at = calm()
    prepared = policies()["rotor-school-vfr"]
    variants = [sheet, *blanked(sheet).values()]
    together = scores(variants, prepared, at)
    for row in range(0, len(variants), 7):
        alone = scores([variants[row]], prepared, at)
        assert alone.total[0] == together.total[row]
        assert alone.level[0] == together.level[row]
        np.testing.assert_array_equal(alone.unknown[:, 0], together.unknown[:, row])
