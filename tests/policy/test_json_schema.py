"""The schema for editors: good policies validate, broken ones do not. The validator is an independent library."""

import json
from datetime import date, datetime
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from riskboard.policy.json_schema import policy_json_schema
from riskboard.yaml_source import load
from tests.policy.measures import REGISTRY
from tests.policy.samples import EXTENSION, GOOD, good

SHIPPED = sorted((Path(__file__).parents[2] / "policies").glob("*.yaml"))


def as_an_editor_reads(value: Any) -> Any:
    """Dates and times as the texts that stand in the file."""
    if isinstance(value, dict):
        return {key: as_an_editor_reads(item) for key, item in value.items()}
    if isinstance(value, list):
        return [as_an_editor_reads(item) for item in value]
    if isinstance(value, datetime):
        return value.strftime("%Y-%m-%dT%H:%M:%SZ")
    return value.isoformat() if isinstance(value, date) else value


def errors(text: str, schema: dict[str, Any]) -> list[str]:
    validator = jsonschema.Draft202012Validator(schema)
    return [error.message for error in validator.iter_errors(as_an_editor_reads(load(text, name="t").plain()))]


SCHEMA = policy_json_schema(REGISTRY)


def test_it_is_a_schema_and_plain_json() -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    assert json.loads(json.dumps(SCHEMA)) == SCHEMA


@pytest.mark.parametrize("text", [GOOD, EXTENSION, good().text])
def test_good_policies_validate(text: str) -> None:
    assert errors(text, SCHEMA) == []


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.name)
def test_shipped_policies_validate(path: Path) -> None:
    assert errors(path.read_text(encoding="utf-8"), policy_json_schema()) == []


def test_there_are_shipped_policies() -> None:
    assert SHIPPED


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("schema: riskboard-policy/1", "schema: riskboard-policy/2"),
        ("version: 4\n", ""),
        ("version: 4\n", "version: 4.5\n"),
        ("title:", "titel:"),
        ("id: small-school", "id: Small School"),
        ("measure: type_h", "measure: typ_h"),
        ("measure: slept_h", "measure: sleep_sum"),
        ("when: {solo: true}", "when: {slo: true}"),
        ("when: {solo: true}", "when: {solo: yes}"),
        ("needs: {instructor_aboard: true}", "needs: {instructor_aboard: false}"),
        ("[dispatcher, chief_instructor]", "[dispatcher, chief]"),
        ("decision: no_go}", "decision: never}"),
        ("waiver: none", "waiver: nobody"),
        ("waiver: [chief_instructor]", "waiver: [pilot]"),
        ("kind: flight manual", "kind: hearsay"),
        ("checked_on: 2026-02-11", "checked_on: lately"),
        ("effective_from: 2026-03-01T00:00Z", "effective_from: 2026-03-01"),
        ("[[0, pass]", "[[0, passed]"),
        ("[[0, pass]", "[[0, pass, 3]"),
        ("{up_to: 11, points: 2}", "{up_to: 11, points: -2}"),
        ("{up_to: 11, points: 2}", "{upto: 11, points: 2}"),
        ("{gust_kt: 29}", "{gusts_kt: 29}"),
        ("pilot: {up_to: 8", "pilots: {up_to: 8"),
        ("max_min: 60", "max_min: 181"),
        ("margin_min: 40", "margin_min: 241"),
        ("margin_min: 40", "margin_min: 4"),
        ("  margin_min: 40\n", ""),
        ("    - Call the fields along its route.\n", "".join(f"    - Step {i}.\n" for i in range(12))),
        ("- Call the fields along its route.", "- " + "x" * 201),
        ("    weather: {", "    wether: {"),
    ],
)
def test_broken_policies_do_not_validate(old: str, new: str) -> None:
    assert old in GOOD
    assert errors(GOOD.replace(old, new, 1), SCHEMA)


def test_only_an_extension_may_leave_out_what_it_inherits() -> None:
    text = EXTENSION.replace("extends: {id: small-school, version: 4}\n", "")
    assert errors(text, SCHEMA)
