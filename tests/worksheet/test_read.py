"""What the reader accepts, what it refuses, and in which words."""

# ruff: noqa: E501  - the rows of a table are read across, one case a line

import math
from collections.abc import Mapping
from datetime import UTC, date, datetime
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from riskboard.units import convert_rounded
from riskboard.words import Certificate, Precipitation
from riskboard.worksheet import PARTS, Worksheet, WorksheetError, facts, partial_worksheet, read_worksheet
from riskboard.worksheet.kinds import shown
from riskboard.worksheet.names import entry_names
from riskboard.worksheet.read import MAX_LIST_ENTRIES, MAX_PROBLEMS
from riskboard.worksheet.shape import shape_of


def problems_of(data: Mapping[str, Any]) -> tuple[tuple[str, str], ...]:
    return tuple((problem.field, problem.message) for problem in partial_worksheet(data)[1])


def only_message(part: str, **entries: Any) -> str:
    found = problems_of({part: entries})
    assert len(found) == 1, found
    return found[0][1]


EVERY_NUMBER = [
    (part, name)
    for part, model in PARTS.items()
    for name in model.model_fields
    if shape_of(model, name).kind in {"number", "whole"}
]
EVERY_FIELD = [(part, name) for part, model in PARTS.items() for name in model.model_fields]
OTHER_UNITS = [
    (part, name, meaning)
    for part, model in PARTS.items()
    for name, meaning in entry_names(model).items()
    if meaning.from_unit is not None
]


@pytest.mark.parametrize(("part", "name"), EVERY_NUMBER)
def test_bounds_are_inclusive_and_beyond_them_is_refused(part: str, name: str) -> None:
    shape = shape_of(PARTS[part], name)
    low, high = shape.lowest, shape.highest
    assert low is not None
    assert high is not None
    step = 1 if shape.kind == "whole" else 0.001
    for value in (low, high):
        assert read_worksheet({part: {name: value}}).value(name) == value
    assert "is too low; write" in only_message(part, **{name: low - step})
    assert "is too high; write" in only_message(part, **{name: high + step})


@pytest.mark.parametrize(("part", "name"), EVERY_NUMBER)
def test_what_is_no_plain_number_is_refused(part: str, name: str) -> None:
    value: Any
    for value in (math.nan, math.inf, -math.inf, True, "5", [], {}, 10**400, -(10**5000), 1e300, b"5", 1j):
        sheet, problems = partial_worksheet({part: {name: value}})
        assert sheet.value(name) is None
        assert [problem.field for problem in problems] == [name]
        assert len(problems[0].message) < 300


@pytest.mark.parametrize(("part", "name"), EVERY_FIELD)
def test_wrong_types_never_get_in_and_never_raise(part: str, name: str) -> None:
    label = next(info.label for _, field, info in facts() if field == name)
    for value in (object(), {"a": 1}, 3.25j, b"none", [[1]], "\x00", "x" * 100_000, {1, 2}):
        sheet, problems = partial_worksheet({part: {name: value}})
        assert sheet.value(name) is None
        assert {problem.field for problem in problems} == {name}
        assert all(problem.message.startswith(label) for problem in problems)
        assert all(len(problem.message) < 600 and problem.message.isprintable() for problem in problems)


@pytest.mark.parametrize(("part", "name"), EVERY_FIELD)
def test_a_blank_is_unknown_never_zero_never_none(part: str, name: str) -> None:
    for blank in (None, "", "  ", "\n"):
        assert read_worksheet({part: {name: blank}}).value(name) is None


@pytest.mark.parametrize(("part", "name"), EVERY_FIELD)
def test_none_is_an_answer_exactly_where_the_trade_has_one(part: str, name: str) -> None:
    shape = shape_of(PARTS[part], name)
    sheet, problems = partial_worksheet({part: {name: "none"}})
    if shape.none_answer or shape.kind in {"text", "note"}:
        if name == "time_zone":
            assert problems
        else:
            assert not problems
            assert sheet.value(name) == (() if shape.kind == "list" else "none")
    else:
        assert problems
        assert sheet.value(name) is None


@pytest.mark.parametrize(("part", "name", "meaning"), OTHER_UNITS)
def test_other_units_are_converted_once_and_rounded(part: str, name: str, meaning: Any) -> None:
    shape = shape_of(PARTS[part], meaning.field)
    middle = round((shape.lowest or 0) + ((shape.highest or 0) - (shape.lowest or 0)) / 2.7, 2)
    given = round(convert_rounded(middle, meaning.to_unit, meaning.from_unit, 0.01), 2)
    value = read_worksheet({part: {name: given}}).value(meaning.field)
    assert value == convert_rounded(given, meaning.from_unit, meaning.to_unit, meaning.resolution)
    info = PARTS[part].facts()[meaning.field]
    assert meaning.resolution == info.rounding


@pytest.mark.parametrize(("part", "name", "meaning"), OTHER_UNITS)
def test_both_units_of_one_fact_are_refused(part: str, name: str, meaning: Any) -> None:
    sheet, problems = partial_worksheet({part: {name: 30, meaning.field: 30}})
    assert sheet.value(meaning.field) is None
    assert [problem.field for problem in problems] == [meaning.field]
    assert f"given more than once, as {name} and {meaning.field}" in problems[0].message


@pytest.mark.parametrize(
    ("name", "value", "field", "expected"),
    [
        ("altimeter_hpa", 1013, "altimeter_inhg", 29.91),  # 1013 / 33.86389 = 29.9139
        ("visibility_m", 5000, "visibility_sm", 3.1),  # 5000 / 1609.344 = 3.107
        ("visibility_km", 8, "visibility_sm", 4.95),  # 4.971
        ("ceiling_m_agl", 300, "ceiling_ft_agl", 1000),  # 984 ft; ICAO writes 300 m (1 000 ft)
        ("wind_ms", 5, "wind_kt", 10),  # 9.72 kt
        ("gust_kmh", 50, "gust_kt", 27),  # 26.998 kt
        ("temperature_f", 59, "temperature_c", 15.0),
        ("dew_point_f", 41, "dew_point_c", 5.0),
        ("station_distance_km", 10, "station_distance_nm", 5.4),
        ("gust_ms", "none", "gust_kt", "none"),
    ],
)
def test_weather_in_other_units_by_hand(name: str, value: object, field: str, expected: object) -> None:
    assert read_worksheet({"weather": {name: value}}).value(field) == expected


def test_other_units_in_fuel_place_and_forecast() -> None:
    sheet = read_worksheet(
        {
            "aircraft": {"fuel_usable_l": 60, "fuel_burn_l_h": 45.4},  # 60 / 3.785411784 = 15.85; 45.4 -> 11.99
            "plan": {"departure_elevation_m": 378},  # 1240.2 ft
            "weather": {
                "forecast_lines": [
                    {
                        "start_at": "2026-05-04T12:00Z",
                        "end_at": "2026-05-05T12:00Z",
                        "kind": "prevailing",
                        "wind_ms": 5,
                        "visibility_km": 10,
                        "ceiling_m_agl": 450,
                    }
                ]
            },
        }
    )
    assert (sheet.aircraft.fuel_usable_gal, sheet.aircraft.fuel_burn_gal_h) == (15.9, 12.0)
    assert sheet.plan.departure_elevation_ft == 1240
    (line,) = sheet.weather.forecast_lines or ()
    assert (line.wind_kt, line.visibility_sm, line.ceiling_ft_agl) == (10, 6.2, 1500)


def test_no_other_name_hides_a_field() -> None:
    for model in PARTS.values():
        plain = set(model.model_fields)
        assert all(meaning.from_unit is None for name, meaning in entry_names(model).items() if name in plain)


def test_weights_in_kilograms() -> None:
    """448.4 kg / 0.45359237 = 988.553 lb; 97.5 kg = 214.951 lb; 3 kg = 6.61 lb. A moment has no other unit."""
    sheet = read_worksheet(
        {
            "pilot": {"flying_weight_kg": 97.5},
            "aircraft": {"empty_weight_kg": 448.4},
            "plan": {"station_loads": [{"station": "left_baggage", "load_kg": 3}]},
        }
    )
    assert (sheet.pilot.flying_weight_lb, sheet.aircraft.empty_weight_lb) == (215.0, 988.6)
    assert [entry.load_lb for entry in sheet.plan.station_loads or ()] == [6.6]
    _, problems = partial_worksheet({"aircraft": {"empty_lateral_moment_in_kg": 50}})
    assert "the nearest name is 'empty_lateral_moment_in_lb'" in problems[0].message


def test_a_defect_of_before_there_were_ids_still_reads() -> None:
    old = {"aircraft": {"open_defects": [{"text": "Hum at idle", "effect": "watch"}]}}
    (defect,) = read_worksheet(old).aircraft.open_defects or ()
    assert (defect.id, defect.deferred_by, defect.reference) == (None, None, None)
    named = {"text": "Hum at idle", "id": "d-7", "deferred_by": "Paola Wrenfield", "reference": "DEF 12/3"}
    (defect,) = read_worksheet({"aircraft": {"open_defects": [named]}}).aircraft.open_defects or ()
    assert (defect.id, defect.reference) == ("d-7", "DEF 12/3")


def test_a_value_too_high_in_another_unit_shows_both() -> None:
    message = only_message("weather", wind_ms=100)
    assert message == "Wind: 100 m/s (194 in the unit of the entry) is too high; write a number from 0 to 120 kt"


@pytest.mark.parametrize(
    ("part", "name", "value", "message"),
    [
        ("weather", "gust_kt", "non", "Gusts to: 'non' is not accepted (did you mean 'none'?); write a number from 0 to 160 kt or 'none'"),
        ("weather", "wind_kt", "12", "Wind: '12' is a text, not a number; write a number from 0 to 120 kt"),
        ("weather", "wind_from_deg", "VRB", "Wind from (true): 'VRB' is not accepted; write a number from 0 to 360 ° or 'variable'"),
        ("weather", "precipitation", "lite", "Precipitation: 'lite' is not accepted (did you mean 'light'?); write one of none, light, moderate, heavy"),
        ("pilot", "ill_today", "no", "Ill, in pain or recovering: 'no' is not accepted; write true or false"),
        ("pilot", "flights_today", 2.5, "Flights already flown today: 2.5 is not a whole number; write a whole number from 0 to 30"),
        ("pilot", "sleepiness_rating", 0, "Sleepiness now (1 extremely alert to 9 fighting sleep): 0 is too low; write a whole number from 1 to 9"),
        ("pilot", "flight_review_on", 20260504, "Last flight review or check on: 20260504 is not a day; write a date such as 2026-05-04, or 'none'"),
        ("weather", "observed_at", "2026-05-04", "Observation time: '2026-05-04' is not a moment in time; write a date and time with its zone, such as 2026-05-04T14:30Z or 2026-05-04T08:30-06:00"),
        ("plan", "time_zone", "Mars/Base", "Time zone of departure: 'Mars/Base' is no time zone; write one such as America/Denver or UTC"),
        ("aircraft", "open_defects", "two", "Open defects: 'two' is no list; write a list of entries, each with text, effect, reported_at, deferred_until, id, deferred_by, reference or 'none'"),
        ("aircraft", "open_defects", ["cracked"], "Open defects, entry 1: 'cracked' is no entry; give text, effect, reported_at, deferred_until, id, deferred_by, reference"),
        ("aircraft", "open_defects", [{"effect": "no_nite"}], None),
    ],
)  # fmt: skip
def test_messages_say_what_was_wrong_and_what_would_be_right(part: str, name: str, value: object, message: str) -> None:
    found = problems_of({part: {name: value}})
    if message is not None:
        assert found == ((name, message),)
    else:
        assert {field for field, _ in found} == {name}
        assert any("text is missing" in sentence for _, sentence in found)
        assert any("did you mean 'no_night'" in sentence for _, sentence in found)


@pytest.mark.parametrize(
    "value",
    [
        "1714832000", 1714832000, 1714832000.5, "2026-05-04T14:30", "2026-05-04", "14:30Z", "now", date(2026, 5, 4),
        datetime(2026, 5, 4, 14, 30), True, "2026-13-04T14:30Z", "2026-05-04T25:30Z", "1850-05-04T14:30Z",  # noqa: DTZ001
        "2300-01-01T00:00Z", "2026-05-04T14:30+99:00", "\uff12026-05-04T14:30Z",
    ],
)  # fmt: skip
def test_moments_without_zone_or_written_as_something_else_are_refused(value: object) -> None:
    assert [field for field, _ in problems_of({"weather": {"observed_at": value}})] == ["observed_at"]


def test_moments_are_kept_in_utc() -> None:
    sheet = read_worksheet({"weather": {"observed_at": "2026-05-04T08:53-06:00"}})
    assert sheet.weather.observed_at == datetime(2026, 5, 4, 14, 53, tzinfo=UTC)
    assert sheet.weather.observed_at.tzinfo is UTC


@pytest.mark.parametrize(
    "value",
    ["2026-02-30", "04.05.2026", 20260504, "2026-05-04T00:00Z", datetime(2026, 5, 4, tzinfo=UTC), "20260504", 0],
)
def test_days_are_days_of_the_calendar(value: object) -> None:
    assert [field for field, _ in problems_of({"aircraft": {"annual_on": value}})] == ["annual_on"]


@pytest.mark.parametrize("character", ["\x00", "\x1b", "\x7f", "\u2028", "\u202e", "\u200b", "\ud800", "\ufeff"])
def test_characters_that_no_reader_sees_are_refused(character: str) -> None:
    for part, name in (("pilot", "pilot_name"), ("pressures", "gained_by_going")):
        assert f"U+{ord(character):04X}" in only_message(part, **{name: f"a{character}b"})


def test_notes_keep_their_lines_and_a_name_has_one() -> None:
    sheet = read_worksheet({"pressures": {"gained_by_going": "one\r\ntwo\tthree"}})
    assert sheet.pressures.gained_by_going == "one\ntwo three"
    assert "U+000A" in only_message("pilot", pilot_name="one\ntwo")


@pytest.mark.parametrize("text", ["no", "12:30", "010", "true", "none", "1e3"])
def test_every_text_is_stored_as_text(text: str) -> None:
    assert read_worksheet({"pilot": {"pilot_name": text}}).pilot.pilot_name == text


@pytest.mark.parametrize("value", [5, True, 2.0, date(2026, 5, 4)])
def test_what_is_no_text_is_not_made_one(value: object) -> None:
    assert [field for field, _ in problems_of({"pilot": {"pilot_name": value}})] == ["pilot_name"]


def test_all_problems_come_at_once() -> None:
    data = {
        "weather": {"wind_kt": -1, "gust_kt": "x"},
        "pilot": {"certificate": 7},
        "plane": {},
        "clocks": {"nope": {}},
    }
    with pytest.raises(WorksheetError) as caught:
        read_worksheet(data)
    assert {problem.field for problem in caught.value.problems} == {
        "wind_kt",
        "gust_kt",
        "certificate",
        "plane",
        "nope",
    }
    assert all(problem.message in str(caught.value) for problem in caught.value.problems)


@pytest.mark.parametrize(
    ("data", "message"),
    [
        ({"weather": {"gusts_kt": 5}}, "the part weather has no entry called 'gusts_kt'; the nearest name is 'gust_kt'"),
        ({"plan": {"gust_kt": 5}}, "the part plan has no entry called 'gust_kt'; it belongs in weather"),
        ({"wether": {}}, "a worksheet has no entry called 'wether'; the nearest name is 'weather'"),
        ({"schema": "riskboard-worksheet/2"}, "schema is 'riskboard-worksheet/2'; this program reads 'riskboard-worksheet/1'"),
        ({"weather": [1]}, "weather is a map of entries, not a list"),
        ({"weather": {7: 1}}, "the part weather has no entry called 7 (which is no text); remove it or correct the name"),
        ({"clocks": {"gust_kt": 5}}, "Clock of gust_kt: 5 is no clock; give true_at and typed_at"),
        ({"clocks": "late"}, "clocks is a map from an entry's name to its two times, not 'late'"),
    ],
)  # fmt: skip
def test_names_and_shapes_that_do_not_exist(data: Mapping[str, Any], message: str) -> None:
    assert [sentence for _, sentence in problems_of(data)] == [message]


@pytest.mark.parametrize("data", [None, [], "text", 5, object()])
def test_what_is_no_map_is_no_worksheet(data: Any) -> None:
    sheet, problems = partial_worksheet(data)
    assert sheet == Worksheet()
    assert [problem.field for problem in problems] == ["worksheet"]


def test_one_bad_entry_blanks_its_whole_list() -> None:
    # Without the bad entry the list would look complete, and the bad one may be the grounding defect.
    data = {
        "aircraft": {"open_defects": [{"text": "scratch", "effect": "watch"}, {"text": "leak", "effect": "grounds"}]}
    }
    sheet, problems = partial_worksheet(data)
    assert sheet.aircraft.open_defects is None
    assert problems[0].path == ("aircraft", "open_defects", 1, "effect")


def test_a_strange_name_inside_an_entry_is_reported_at_its_list() -> None:
    sheet, problems = partial_worksheet({"aircraft": {"open_defects": [{"text": "leak", "severity": "bad"}]}})
    assert sheet.aircraft.open_defects is None
    assert [problem.field for problem in problems] == ["open_defects"]
    assert "Open defects, entry 1 has no entry called 'severity'" in problems[0].message


def test_floods_are_refused_in_short() -> None:
    long_list = [{"name": "x"}] * (MAX_LIST_ENTRIES + 1)
    assert f"at most {MAX_LIST_ENTRIES} are read" in only_message("aircraft", inspections=long_list)
    _, problems = partial_worksheet({"weather": {f"name_{n}": n for n in range(400)}})
    assert len(problems) == MAX_PROBLEMS
    assert problems[-1].message == "and 301 more problems after these"
    assert len(partial_worksheet({"weather": {str(n): n for n in range(10**5)}})[1]) == 1
    assert len(partial_worksheet({str(n): n for n in range(10**5)})[1]) == 1


def test_contradictory_entries_are_all_blank_in_the_partial_sheet() -> None:
    sheet, problems = partial_worksheet({"weather": {"temperature_c": 5, "dew_point_c": 9, "wind_kt": 4}})
    assert (sheet.weather.temperature_c, sheet.weather.dew_point_c, sheet.weather.wind_kt) == (None, None, 4)
    assert [(problem.field, problem.also) for problem in problems] == [("temperature_c", ("dew_point_c",))]


def test_clocks_are_read_with_their_zone() -> None:
    sheet = read_worksheet({"clocks": {"wind_kt": {"true_at": "2026-05-04T14:30Z"}}})
    assert sheet.clocks["wind_kt"].true_at == datetime(2026, 5, 4, 14, 30, tzinfo=UTC)
    assert [field for field, _ in problems_of({"clocks": {"wind_kt": {"true_at": "14:30"}}})] == ["wind_kt"]


def test_python_values_are_taken_as_they_are() -> None:
    sheet = read_worksheet(
        {"pilot": {"certificate": Certificate.private}, "weather": {"precipitation": Precipitation.none}}
    )
    assert sheet.pilot.certificate is Certificate.private


@given(st.text())
def test_a_shown_value_is_short_printable_and_one_line(text: str) -> None:
    assert shown(text).isprintable()
    assert len(shown(text)) <= 43


def test_the_model_itself_refuses_what_the_reader_refuses() -> None:
    for part, name, value in (("weather", "wind_kt", "5"), ("weather", "observed_at", "5"), ("pilot", "ill_today", 1)):
        with pytest.raises(ValidationError):
            Worksheet.model_validate({part: {name: value}})


# An entry ends up in the worksheet or in a problem: nothing is lost without a word.
_ANY = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=6) | st.just("none") | st.just("2026-05-04T14:30Z"),
    lambda inner: st.lists(inner, max_size=2) | st.dictionaries(st.sampled_from(["start_at", "end_at", "text"]), inner),
    max_leaves=4,
)  # fmt: skip
_NAMES = {part: sorted(entry_names(model)) for part, model in PARTS.items()}


@given(st.fixed_dictionaries({part: st.dictionaries(st.sampled_from(names), _ANY, max_size=6) for part, names in _NAMES.items()}))  # fmt: skip
def test_nothing_entered_is_lost(data: dict[str, dict[str, Any]]) -> None:
    sheet, problems = partial_worksheet(data)
    named = {name for problem in problems for name in (problem.field, *problem.also)}
    for part, entries in data.items():
        for name, raw in entries.items():
            field = entry_names(PARTS[part])[name].field
            blank = raw is None or (isinstance(raw, str) and not raw.strip())
            assert blank or sheet.value(field) is not None or field in named
