"""What is missing for loading, hover and the type's limits is named down to the seat; nothing missing ends in a go."""

from datetime import datetime
from functools import cache
from typing import Any

import pytest

from riskboard.aircraft_types.shipped import shipped_types
from riskboard.assessment.assess import Assessment, CannotAssessError, assess
from riskboard.assessment.facts import PreparedPolicy, prepare
from riskboard.assessment.reasons import Standing
from riskboard.jobs.files import shipped_book
from riskboard.shipped import shipped
from riskboard.words import Decision
from riskboard.worksheet import FIELD_PART, Worksheet
from riskboard.worksheet.columns import AIRFRAME
from riskboard.worksheet.file import read_worksheet_file

_NEW = ("empty_weight_lb", "empty_longitudinal_moment_in_lb", "empty_lateral_moment_in_lb", "equipment_fitted")
CLAUSES = {
    "weights": ("highest_weight", "lowest_weight"),
    "balance": ("balance_along", "balance_aside"),
    "hover": ("hover_at_departure", "hover_at_highest_site"),
    "limits": ("type_wind", "type_gust_spread", "type_crosswind", "type_tailwind", "type_temperature", "type_altitude"),
}


@cache
def prepared() -> PreparedPolicy:
    policy = next(policy for policy in shipped_book().policies if policy.id == "rotor-school-vfr")
    return prepare(policy, shipped_types())


@cache
def calm() -> tuple[Worksheet, datetime]:
    sheet, at = read_worksheet_file(shipped("weather_samples") / "calm_morning.yaml")
    assert at is not None
    return sheet, at


def assessed(**changed: Any) -> Assessment:
    sheet, at = calm()
    return assess(sheet.but(**changed), prepared(), at)


def sentence(found: Assessment, clause: str) -> str:
    return next(line.sentence for line in found.lines if line.clause == clause)


def blank(found: Assessment, clause: str) -> tuple[str, ...]:
    return next(line.blank for line in found.lines if line.clause == clause)


def entries(name: str, **changed: Any) -> list[dict[str, Any]]:
    """A list of the calm morning with one entry's value changed; None blanks it."""
    given: Any = calm()[0].value(name)
    key, value = ("station", "load_lb") if name == "station_loads" else ("name", "fitted")
    return [{key: getattr(each, key), value: changed.get(getattr(each, key), getattr(each, value))} for each in given]


def test_the_calm_morning_names_nothing() -> None:
    found = assessed()
    assert found.decision is Decision.go
    assert found.type_digest == shipped_types()[0].digest
    assert found.as_data()["type_digest"] == found.type_digest
    assert not found.unknown


@pytest.mark.parametrize("field", _NEW)
def test_an_entry_left_blank_is_named_and_stops(field: str) -> None:
    found = assessed(**{field: None})
    assert found.decision is Decision.no_go
    named = {line.blank for line in found.unknown}
    assert named == {(field,)}


def test_a_seat_that_nobody_spoke_of_is_named_by_its_label() -> None:
    left_out = [each for each in entries("station_loads") if each["station"] != "left_seat"]
    for loads in (left_out, entries("station_loads", left_seat=None)):
        found = assessed(station_loads=loads)
        assert found.decision is Decision.no_go
        assert "the load on “Left seat” is blank" in sentence(found, "highest_weight")
        assert "the load on “Left seat” is blank" in sentence(found, "seats_and_baggage")
        assert blank(found, "highest_weight") == ("station_loads",)


def test_nobody_spoke_of_any_load() -> None:
    found = assessed(station_loads=None)
    assert "“Loads on seats and baggage places” is blank" in sentence(found, "highest_weight")


def test_a_piece_that_may_be_fitted_is_named_by_its_label() -> None:
    found = assessed(equipment_fitted=entries("equipment_fitted", left_door=None))
    assert found.decision is Decision.no_go
    assert "whether “Left door” is fitted is blank" in sentence(found, "balance_along")


def test_what_is_blank_beside_it_is_named_too() -> None:
    """Wind and gusts are asked for by the measures, the type by its limits; the load has no part in it."""
    found = assessed(wind_kt=None, gust_kt=None, station_loads=None, type_name=None)
    assert blank(found, "type_wind") == ("type_name", "wind_kt", "gust_kt")
    assert blank(found, "highest_weight") == ("type_name",)
    assert blank(assessed(wind_kt=None, gust_kt=None), "type_wind") == ("wind_kt", "gust_kt")


@pytest.mark.parametrize("clause", [clause for clauses in CLAUSES.values() for clause in clauses])
def test_a_type_that_is_not_on_file_stops_and_says_so(clause: str) -> None:
    found = assessed(type_name="Wren 9")
    assert (found.decision, found.type_digest) == (Decision.no_go, "")
    assert "no aircraft type called “Wren 9” is on file" in sentence(found, clause)


def test_without_any_type_on_file_nothing_goes() -> None:
    sheet, at = calm()
    found = assess(sheet, prepare(prepared().policy), at)
    assert found.decision is Decision.no_go
    assert {line.clause for line in found.unknown} >= {clause for clauses in CLAUSES.values() for clause in clauses}


def test_two_types_of_one_title_are_refused() -> None:
    from dataclasses import replace  # noqa: PLC0415

    (first, *_) = shipped_types()
    with pytest.raises(ValueError, match="two aircraft types are called"):
        prepare(prepared().policy, [first, replace(first, digest="0" * 64)])
    assert len(prepare(prepared().policy, [first, first]).types) == 1


def test_outside_the_table_says_so() -> None:
    """The weights of the hover tables begin at 1,060 lb: nothing is blank, and still nothing is known."""
    light = entries("station_loads", right_seat=50.0, left_seat=0.0, left_baggage=0.0)
    found = assessed(station_loads=light, fuel_usable_gal=3.0)
    assert "has no value for this weight and temperature" in sentence(found, "hover_at_departure")
    assert found.decision is Decision.no_go


def test_less_fuel_than_the_start_needs_says_so() -> None:
    found = assessed(fuel_usable_gal=0.5)
    assert "start and taxi need more than the usable fuel" in sentence(found, "highest_weight")
    assert found.decision is Decision.no_go


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"fuel_usable_gal": 40.0}, "fuel_usable_gal"),
        ({"empty_weight_lb": 1200.0}, "empty_weight_lb"),
        ({"station_loads": [{"station": "roof", "load_lb": 10.0}]}, "station_loads"),
        ({"equipment_fitted": [{"name": "hoist", "fitted": True}]}, "equipment_fitted"),
    ],
)
def test_what_cannot_be_of_this_type_is_mended_not_scored(changed: dict[str, Any], field: str) -> None:
    with pytest.raises(CannotAssessError) as caught:
        assessed(**changed)
    assert [problem.field for problem in caught.value.problems] == [field]


@pytest.mark.parametrize("name", ["station_loads", "equipment_fitted"])
def test_a_place_given_twice_is_a_contradiction(name: str) -> None:
    twice = entries(name)
    with pytest.raises(ValueError, match="given twice"):
        calm()[0].but(**{name: [*twice, twice[0]]})


def test_too_heavy_for_the_envelope_is_said_without_a_number_of_inches() -> None:
    """At 1,600 lb and more no arm is inside: the envelope ends at 1,560 lb."""
    found = assessed(station_loads=entries("station_loads", right_seat=235.0, left_seat=238.0))
    assert found.decision is Decision.no_go
    assert sentence(found, "balance_along") == (
        "Distance inside the longitudinal envelope: outside wherever the load lies, at this weight; "
        "must be at least 0 in. No-go."
    )
    assert next(line.margin for line in found.lines if line.clause == "balance_along") == ""
    assert "lb; must be at least 0 lb. No-go." in sentence(found, "highest_weight")


def test_all_that_is_blank_is_named_in_reading_order() -> None:
    """With everything blank each clause names what it needs and nothing else."""
    fields = {field for columns in AIRFRAME.values() for field in columns} - {"type_name"}
    nothing = assessed(**dict.fromkeys(fields))
    needed: dict[str, set[str]] = {}
    for field in fields:
        for line in assessed(**{field: None}).unknown:
            needed.setdefault(line.clause, set()).update(line.blank)
    for line in nothing.unknown:
        assert set(line.blank) == needed[line.clause], line.clause
        assert list(line.blank) == sorted(line.blank, key=list(FIELD_PART).index)


def test_old_weather_takes_the_hover_with_it() -> None:
    """Temperature and pressure too old to count: the hover is unknown, the weight is not."""
    sheet, at = calm()
    assert sheet.weather.observed_at is not None
    assert sheet.plan.take_off_at is not None
    late = sheet.weather.observed_at.replace(hour=sheet.weather.observed_at.hour - 3)
    found = assess(sheet.but(observed_at=late), prepared(), at)
    assert "“Temperature” is too old" in sentence(found, "hover_at_departure")
    assert sentence(found, "highest_weight").startswith("Room below the highest weight allowed: ")


def test_every_entry_behind_a_column_is_named_alone() -> None:
    """Each entry that some column rests on, blank by itself, is what the reasons name and nothing else."""
    for field in sorted({field for fields in AIRFRAME.values() for field in fields} - {"type_name"}):
        unknown = [line for line in assessed(**{field: None}).unknown if line.standing is Standing.unknown]
        assert unknown, field
        for line in unknown:
            assert line.blank == (field,), (line.clause, line.blank)
