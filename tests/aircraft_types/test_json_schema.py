"""The schema for editors: good types validate, broken ones do not. The validator is an independent library."""

import json
from datetime import date
from typing import Any

import jsonschema
import pytest

from riskboard.aircraft_types import aircraft_type_json_schema
from riskboard.shipped import aircraft_type_files
from riskboard.yaml_source import load
from tests.aircraft_types.samples import GOOD, OTHER

SCHEMA = aircraft_type_json_schema()


def as_an_editor_reads(value: Any) -> Any:
    """Dates as the texts that stand in the file."""
    if isinstance(value, dict):
        return {key: as_an_editor_reads(item) for key, item in value.items()}
    if isinstance(value, list):
        return [as_an_editor_reads(item) for item in value]
    return value.isoformat() if isinstance(value, date) else value


def errors(text: str) -> list[str]:
    validator = jsonschema.Draft202012Validator(SCHEMA)
    return [error.message for error in validator.iter_errors(as_an_editor_reads(load(text, name="t").plain()))]


def test_it_is_a_schema_and_plain_json() -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    assert json.loads(json.dumps(SCHEMA)) == SCHEMA


@pytest.mark.parametrize("text", [GOOD, OTHER, *(text for _, text in aircraft_type_files())])
def test_good_types_validate(text: str) -> None:
    assert errors(text) == []


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("schema: riskboard-aircraft-type/1", "schema: riskboard-aircraft-type/2"),
        ("version: 2\n", ""),
        ("version: 2\n", "version: 2.5\n"),
        ("title:", "titel:"),
        ("id: wren-3", "id: Wren 3"),
        ("gross_max_lb: 1400", "gross_max: 1400"),
        ("gross_max_lb: 1400", "gross_max_lb: 0"),
        ("gross_max_lb: 1400", 'gross_max_lb: "1400 lb"'),
        ("checked_on: 2026-10-01", "checked_on: lately"),
        ("rotor_direction: clockwise", "rotor_direction: left"),
        ("longitudinal_arms_in: [10, 300]", "longitudinal_arms_in: [10]"),
        ("kind: baggage", "kind: luggage"),
        ("in_empty_weight: false", "in_empty_weight: perhaps"),
        ("[89.5, 1400]", "[89.5, 1400, 1]"),
        (
            "lateral_corners_arm_in_weight_lb: [[-3, 900], [-3, 1350]",
            "lateral_corners_arm_in_arm_in: 3 # [[-3, 900], [-3, 1350]",
        ),
        ("    take_off:\n", "    takeoff:\n"),
        ("cruise: 9", "cruise: -9"),
        ("hydraulics: false", "hydraulics: none"),
        ("every_h: 100}", "every_h: 0}"),
    ],
)
def test_broken_types_do_not_validate(old: str, new: str) -> None:
    assert old in GOOD
    assert errors(GOOD.replace(old, new, 1))


def test_exactly_one_lateral_envelope() -> None:
    line = "    lateral_corners_arm_in_weight_lb: [[-3, 900], [-3, 1400], [3, 1400], [3.5, 900]]\n"
    assert errors(GOOD.replace(line, ""))
    assert errors(GOOD.replace(line, line + "    lateral_corners_arm_in_arm_in: [[88, -3], [88, 3], [94, 3]]\n"))
