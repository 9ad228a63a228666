"""A worksheet that is written reads back equal, whatever it holds."""

import json
import math
from datetime import UTC, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from riskboard import yaml_source
from riskboard.worksheet import (
    FIELD_PART,
    PARTS,
    Worksheet,
    clock_contradictions,
    partial_worksheet,
    read_worksheet,
    worksheet_data,
    worksheet_yaml,
)
from riskboard.worksheet.file import read_worksheet_text
from riskboard.worksheet.kinds import _UNSEEN
from riskboard.worksheet.write import instant_text
from tests.strategies import DECIDED_AT, plain_worksheets, worksheets


@given(worksheets())
def test_plain_data_survive_json_and_read_back_equal(sheet: Worksheet) -> None:
    assert read_worksheet(json.loads(json.dumps(worksheet_data(sheet), allow_nan=False))) == sheet


@given(worksheets())
def test_yaml_text_reads_back_equal_with_its_moment(sheet: Worksheet) -> None:
    text = worksheet_yaml(sheet, decided_at=DECIDED_AT, comment="two\nlines")
    assert read_worksheet_text(text, name="made.yaml") == (sheet, DECIDED_AT)


@given(worksheets(blanks=False))
@settings(max_examples=20)
def test_a_full_worksheet_survives_too_and_has_no_blank(sheet: Worksheet) -> None:
    assert all(sheet.value(field) is not None for field in FIELD_PART)
    assert read_worksheet_text(worksheet_yaml(sheet), name="made.yaml") == (sheet, None)


@given(worksheets())
def test_generated_worksheets_are_possible_at_the_moment_of_decision(sheet: Worksheet) -> None:
    assert clock_contradictions(sheet, DECIDED_AT) == ()


@given(plain_worksheets(), st.data())
def test_one_bad_entry_loses_no_other(data: dict[str, dict[str, object]], choice: st.DataObject) -> None:
    sheet = read_worksheet(data)
    field = choice.draw(st.sampled_from(sorted(FIELD_PART)))
    spoiled = {part: dict(data[part]) for part in PARTS} | {"clocks": data.get("clocks", {})}
    spoiled[FIELD_PART[field]][field] = object()
    partial, problems = partial_worksheet(spoiled)
    assert [problem.field for problem in problems] == [field]
    assert partial == sheet.but(**{field: None})


@given(st.dictionaries(st.text(max_size=8), st.recursive(st.none() | st.integers() | st.text(max_size=5), st.lists)))
def test_names_that_do_not_exist_are_all_reported(names: dict[str, object]) -> None:
    unknown = {name: value for name, value in names.items() if name not in PARTS["weather"].model_fields}
    _, problems = partial_worksheet({"weather": unknown})
    assert {problem.path[-1] for problem in problems} == set(unknown)


def test_blanks_are_left_out_and_an_empty_list_is_the_answer_none() -> None:
    sheet = read_worksheet({"aircraft": {"open_defects": "none", "life_limits": [], "meter_h": None}, "plan": {}})
    assert worksheet_data(sheet) == {
        "schema": "riskboard-worksheet/1",
        "aircraft": {"open_defects": "none", "life_limits": "none"},
    }


def test_instants_are_written_in_utc_to_the_minute_where_they_fall_on_one() -> None:
    assert instant_text(datetime.fromisoformat("2026-05-04T08:30-06:00")) == "2026-05-04T14:30Z"
    assert instant_text(datetime(2026, 5, 4, 14, 30, 5, tzinfo=UTC)) == "2026-05-04T14:30:05Z"


def test_seconds_and_their_parts_survive_yaml() -> None:
    exact = datetime(2026, 5, 4, 14, 30, 5, 123456, tzinfo=UTC)
    sheet = read_worksheet({"weather": {"observed_at": exact}})
    assert read_worksheet_text(worksheet_yaml(sheet), name="x")[0].weather.observed_at == exact


def test_a_computed_number_that_yaml_cannot_hold_is_refused_not_rounded() -> None:
    sheet = Worksheet.model_validate({"weather": {"altimeter_inhg": 29.910000000000004}})
    with pytest.raises(ValueError, match=r"altimeter_inhg .* more than 15 digits"):
        worksheet_yaml(sheet)


def test_a_moment_without_zone_is_not_written() -> None:
    with pytest.raises(ValueError, match="time zone"):
        worksheet_yaml(Worksheet(), decided_at=DECIDED_AT.replace(tzinfo=None))


def test_every_text_the_worksheet_takes_is_one_the_yaml_reader_takes() -> None:
    for code in [*range(0x3000), *range(0xD7F0, 0xE010), *range(0xFE00, 0x10010)]:
        character = chr(code)
        if character not in "\n\t":
            assert (_UNSEEN.search(character) is None) == (yaml_source._FORBIDDEN.search(character) is None), hex(code)


def test_a_number_keeps_nine_decimals_and_no_negative_zero() -> None:
    sheet = read_worksheet({"weather": {"wind_kt": 0.1 + 0.2, "temperature_c": -0.0}})
    assert sheet.weather.wind_kt == 0.3
    assert math.copysign(1, float(sheet.weather.temperature_c or 0.0)) == 1
