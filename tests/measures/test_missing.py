"""The blank entries that are named are those, and only those, whose filling in can make the measure known."""

import random
from collections.abc import Iterator
from contextlib import suppress
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from pydantic import ValidationError

from riskboard.measures.missing import wanted_entries
from riskboard.measures.registry import MEASURES, evaluate, inputs_of, load_all, rests_on_airframe
from riskboard.policy import Policy, load_policy
from riskboard.policy.check_tests import changed
from riskboard.worksheet import FIELD_PART, PARTS, Worksheet
from riskboard.worksheet.columns import CONTEXT, OBSERVED, column_fields, to_columns
from riskboard.worksheet.read import read_worksheet
from riskboard.worksheet.shape import shape_of
from tests.measures.registered import FLIGHT, TAKE_OFF
from tests.measures.test_register_forgetting import BAD, GOOD
from tests.strategies import DECIDED_AT, worksheets

load_all()
PUBLIC = [name for name, entry in MEASURES.items() if not entry.internal]
POLICIES = Path(__file__).parents[2] / "policies"
AT = TAKE_OFF - timedelta(minutes=30)


def wanted(name: str, **facts: Any) -> tuple[str, ...]:
    return wanted_of(Worksheet().but(**(FLIGHT | facts)), name, AT)


def wanted_of(sheet: Worksheet, name: str, at: datetime) -> tuple[str, ...]:
    columns = to_columns([sheet], at)
    assert np.isnan(evaluate(columns, [name])[name][0]), f"{name} is known"
    return wanted_entries([name], columns, [entry for entry in FIELD_PART if sheet.value(entry) is None])


def test_a_private_pilot_is_asked_for_the_flight_review_alone() -> None:
    assert wanted("flight_review_days_left_d", certificate="private") == ("flight_review_on",)


def test_a_student_may_fly_on_an_endorsement_a_review_or_with_an_instructor() -> None:
    """Any of them would do, so each is named."""
    entries = ("flight_review_on", "solo_training_on", "solo_endorsed_on", "instructor_aboard")
    assert wanted("flight_review_days_left_d", certificate="student") == entries
    assert wanted("flight_review_days_left_d", certificate="student", instructor_aboard=False) == entries[:3]


def test_a_course_is_asked_of_those_who_fly_on_one() -> None:
    plain = {"purpose": "rental", "medical_exam_on": "2025-06-10"}
    assert wanted("medical_days_left_d", medical_kind="second", **plain) == ("born_on",)
    assert wanted("medical_days_left_d", medical_kind="basic_med", **plain) == ("basic_med_course_on",)
    assert wanted("medical_days_left_d", **plain) == ("born_on", "medical_kind", "basic_med_course_on")


def test_each_check_of_the_aircraft_is_asked_for_by_its_own_measure() -> None:
    assert wanted("annual_days_left_d") == ("annual_on",)
    assert wanted("transponder_days_left_d") == ("transponder_check_on",)
    assert wanted("locator_days_left_d") == ("locator_check_on",)
    assert wanted("type_training_days_left_d") == ("type_training_on",)


def test_what_only_makes_an_answer_more_cautious_is_not_asked_for() -> None:
    """A blank period earns an instructor no extension, blank hours the shorter time: neither makes it unknown."""
    assert wanted("instructor_days_left_d") == ("instructor_experience_on",)


def test_the_ceiling_of_a_surface_area_is_asked_for_in_one() -> None:
    assert wanted("surface_ceiling_margin_ft", special_vfr=False) == ("ceiling_ft_agl", "surface_area")
    assert wanted("surface_ceiling_margin_ft", special_vfr=False, surface_area=True) == ("ceiling_ft_agl",)


def test_nothing_is_named_where_no_entry_would_help() -> None:
    """The list is there, but an entry in it says too little: it is no blank entry of the worksheet."""
    assert wanted("grounding_defects", open_defects=[{"text": "hum", "effect": None, "deferred_until": None}]) == ()
    assert wanted_entries([], to_columns([Worksheet()], AT), FIELD_PART) == ()


def test_several_measures_are_named_together_in_reading_order() -> None:
    sheet = Worksheet().but(**FLIGHT)
    names, blank = ["type_hours_h", "annual_days_left_d", "helicopter_hours_h"], [*FIELD_PART][::-1]
    entries = wanted_entries(names, to_columns([sheet], AT), [entry for entry in blank if sheet.value(entry) is None])
    assert entries == tuple(sorted(entries, key=list(FIELD_PART).index))
    assert set(entries) == {"annual_on", "total_helicopter_h", "hours_in_type_h"}


# -- by trying, with whole worksheets ---------------------------------------------------------------------------------


@cache
def school_policies() -> tuple[Policy, ...]:
    base = load_policy((POLICIES / "rotor_school_vfr.yaml").read_bytes(), name="base")
    student = (POLICIES / "student_solo.yaml").read_bytes()
    return base, load_policy(student, name="student", resolve=lambda _id, _version: base)


@cache
def flights() -> tuple[tuple[Worksheet, datetime], ...]:
    """The flights of the shipped policies' tests, and two of this folder's: possible, and of every sort."""
    found = []
    for policy in school_policies():
        for test in policy.tests:
            data = changed(policy.worksheets[test.worksheet], test.but)
            at = data.pop("decided_at")
            found.append((read_worksheet(data), at))
    return (*found, *((Worksheet().but(**facts), AT) for facts in (GOOD, BAD)))


@cache
def beside(at: datetime) -> tuple[Worksheet, ...]:
    """The flights of the same moment: what they slept and when they land fits."""
    return tuple(sheet for sheet, moment in flights() if moment == at)


@cache
def values_of(entry: str, at: datetime) -> tuple[Any, ...]:
    """Every value that some flight has there, every word and the ends of what the entry accepts."""
    shape = shape_of(PARTS[FIELD_PART[entry]], entry)
    timed = shape.kind == "instant" or (shape.entry is not None and "start_at" in shape.entry.model_fields)
    sheets = beside(at) if timed else [sheet for sheet, _ in flights()]
    seen = {repr(value): value for sheet in sheets if (value := sheet.value(entry)) is not None}
    more: list[Any] = [*shape.words, *((True, False) if shape.kind == "flag" else ())]
    if shape.lowest is not None and shape.highest is not None:
        more += [shape.lowest, shape.highest, (shape.lowest + shape.highest) // 2]
    if shape.none_answer and shape.kind != "choice":
        more.append([] if shape.kind == "list" else "none")
    return (*seen.values(), *more)


def named_measures() -> list[str]:
    """The measures of the factors, limits and combinations that a school has."""
    found = {factor.measure for policy in school_policies() for factor in policy.factors}
    found |= {limit.measure for policy in school_policies() for limit in policy.limits}
    found |= {part.measure for policy in school_policies() for each in policy.combinations for part in each.all_of}
    return sorted(found)


def blanked(name: str, chance: random.Random, contexts: int) -> Iterator[tuple[Worksheet, datetime]]:
    """Flights with some of what a measure rests on blank, so that it is unknown."""
    inputs = sorted(inputs_of(name))
    while contexts:
        sheet, at = chance.choice(flights())
        gone = chance.sample(inputs, min(len(inputs), chance.randint(1, 4)))
        sheet = sheet.but(**dict.fromkeys(gone))
        if "observed_at" in gone and all(sheet.value(entry) is None for entry in OBSERVED):
            continue  # the age of no weather at all
        if np.isnan(evaluate(to_columns([sheet], at), [name])[name][0]):
            contexts -= 1
            yield sheet, at


def some_way(at: datetime, blank: list[str], chance: random.Random) -> dict[str, Any]:
    """Mostly what some other flight has, so that the entries fit together; now and then anything."""
    other = chance.choice(beside(at))
    filled: dict[str, Any] = {}
    for entry in blank:
        value = other.value(entry)
        if values_of(entry, at) and (value is None or chance.random() < 0.3):
            value = chance.choice(values_of(entry, at))
        if value is not None:
            filled[entry] = value
    return filled


def tried(name: str, sheet: Worksheet, at: datetime, blank: list[str], chance: random.Random, ways: int) -> set[str]:
    """The entries without which some way of filling in the blank ones gives no answer."""
    rows: list[Worksheet] = [sheet]
    what: list[tuple[int, str | None]] = [(-1, None)]
    for way in range(ways):
        filled = some_way(at, [entry for entry in blank if chance.random() < 0.5 + 0.5 * (way % 2)], chance)
        with suppress(ValidationError):  # a contradiction is no way to fill it in
            sheets = [
                (left, sheet.but(**{entry: value for entry, value in filled.items() if entry != left}))
                for left in (None, *filled)
            ]
            rows += [each for _, each in sheets]
            what += [(way, left) for left, _ in sheets]
    known = ~np.isnan(evaluate(to_columns(rows, at), [name])[name])
    answered = {way for (way, left), here in zip(what, known, strict=True) if left is None and here}
    return {left for (way, left), here in zip(what, known, strict=True) if left and not here and way in answered}


@pytest.mark.parametrize("name", [name for name in named_measures() if not rests_on_airframe(name)])
def test_the_entries_named_are_exactly_those_that_can_help(name: str) -> None:
    chance = random.Random(name)  # noqa: S311 - no secret
    for sheet, at in blanked(name, chance, contexts=2):
        named = set(wanted_of(sheet, name, at))
        blank = [entry for entry in FIELD_PART if entry in inputs_of(name) and sheet.value(entry) is None]
        helped: set[str] = set()
        for _ in range(30):
            helped |= tried(name, sheet, at, blank, chance, ways=16)
            assert helped <= named, f"{helped - named} would help too"
            if helped == named:
                break
        assert helped == named, f"{named - helped} help nothing"


# -- what a measure rests on ------------------------------------------------------------------------------------------


@settings(max_examples=12)
@given(worksheets(blanks=False), worksheets())
def test_nothing_else_moves_a_measure(sheet: Worksheet, other: Worksheet) -> None:
    """Two worksheets that agree in what a measure rests on agree in the measure."""
    columns = to_columns([sheet, other], DECIDED_AT)
    entry_of = column_fields()
    alone = evaluate({column: values[:1] for column, values in columns.items()}, PUBLIC)
    for name in PUBLIC:
        inputs = inputs_of(name)
        mixed = {
            column: values[:1] if column in CONTEXT or entry_of.get(column) in inputs else values[1:]
            for column, values in columns.items()
        }
        np.testing.assert_array_equal(evaluate(mixed, [name])[name], alone[name], err_msg=name)


def test_what_it_rests_on_is_part_of_what_it_needs() -> None:
    for entry in MEASURES.values():
        below = frozenset().union(*(inputs_of(need) for need in entry.needs)) if entry.needs else frozenset()
        assert inputs_of(entry.name) <= below
        assert not entry.rests_on or inputs_of(entry.name) < below, f"{entry.name} says it for nothing"
