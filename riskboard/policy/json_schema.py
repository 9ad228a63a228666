"""JSON Schema (draft 2020-12) of the policy language, so that an editor completes keys and marks slips while typing.

Made from ``schema.py``, the measure registry and the worksheet models; nothing is said twice. An editor reads YAML in
its own way and knows no positions of meaning: what passes here may still be refused by the loader, which alone decides.
"""

from collections.abc import Callable, Mapping
from typing import Any

from riskboard.measures.registry import MEASURES, Measure, load_all
from riskboard.policy import schema
from riskboard.policy.schema import EXTENSION, POLICY
from riskboard.words import NONE, Guard
from riskboard.worksheet import PARTS, facts

__all__ = ["policy_json_schema"]

_DIALECT = "https://json-schema.org/draft/2020-12/schema"
_DAY = "^[0-9]{4}-[0-9]{2}-[0-9]{2}$"
_INSTANT = "^[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}(:[0-9]{2})?(Z|[+-][0-9]{2}:[0-9]{2})$"
_Schema = dict[str, Any]


def policy_json_schema(registry: Mapping[str, Measure] | None = None) -> _Schema:
    """The schema as plain data, ready for ``json.dumps``.

    Args:
        registry: Measures by name; the program's own where not given.

    Returns:
        A draft 2020-12 schema for the data of one policy file, dates and times as texts.
    """
    if registry is None:
        load_all()
        registry = MEASURES
    return {
        "$schema": _DIALECT,
        "title": schema.SCHEMA,
        "description": "A scoring policy of riskboard.",
        "if": {"required": ["extends"]},
        "then": _of(EXTENSION),
        "else": _of(POLICY),
        "$defs": {
            "measure": {"oneOf": [_measure(entry) for entry in registry.values() if not entry.internal]},
            "guards": _guards(truth=[True, False]),
            "needs": _guards(truth=[True]),
            "worksheet": _worksheet(),
            "entries": {
                "type": "object",
                "additionalProperties": False,
                "properties": {name: {"title": info.label, "description": info.why} for _, name, info in facts()},
            },
        },
    }


def _measure(entry: Measure) -> _Schema:
    unit = f" in {entry.unit}" if entry.unit else ""
    worse = {"higher": "higher is worse", "lower": "lower is worse", "neither": "no single worse end"}
    return {"const": entry.name, "title": f"{entry.label}{unit}", "description": worse[entry.worse.value]}


def _guards(truth: list[bool]) -> _Schema:
    return {
        "type": "object",
        "additionalProperties": False,
        "properties": {word.value: {"enum": truth} for word in Guard},
    }


def _worksheet() -> _Schema:
    """The parts with their entries. Values are left to the loader: it says better what is wrong with one."""
    properties: _Schema = {"decided_at": _of(schema.Instant()), "clocks": {"type": "object"}}
    for part, model in PARTS.items():
        known = {name: {"title": info.label, "description": info.why} for name, info in model.facts().items()}
        # An entry may also be given in another unit, under a name that only the reader of worksheets knows.
        properties[part] = {"type": "object", "properties": known}
    return {"type": "object", "additionalProperties": False, "required": ["decided_at"], "properties": properties}


def _of(kind: object) -> _Schema:
    make: Callable[[Any], _Schema] = _MAKERS[type(kind)]
    return make(kind)


def _text(kind: schema.Text) -> _Schema:
    found: _Schema = {"type": "string", "minLength": 1, "maxLength": kind.longest}
    # ECMAScript and Python disagree about such classes beyond ASCII, so such patterns are left to the loader.
    if kind.pattern and "\\w" not in kind.pattern.lower():
        found["pattern"] = f"^{kind.pattern}$"
    return found


def _record(kind: schema.Record) -> _Schema:
    choice = [{"oneOf": [{"required": [key]} for key in group]} for group in kind.one_of]
    return {
        "type": "object",
        "additionalProperties": False,
        **({"allOf": choice} if choice else {}),
        "required": [key for key, rule in kind.keys.items() if rule.required],
        "properties": {key: {**_of(rule.kind), "description": rule.about} for key, rule in kind.keys.items()},
    }


def _list(kind: schema.ListOf) -> _Schema:
    most = {} if kind.at_most is None else {"maxItems": kind.at_most}
    return {"type": "array", "minItems": kind.at_least, **most, "items": _of(kind.item)}


def _map(kind: schema.MapOf) -> _Schema:
    names = {"enum": list(kind.words)} if kind.words else _text(kind.name)
    return {
        "type": "object",
        "minProperties": kind.at_least,
        "propertyNames": names,
        "additionalProperties": _of(kind.item),
    }


def _cases(kind: schema.CaseRows) -> _Schema:
    value = {"anyOf": [{"type": "number"}, {"const": "unknown"}]}
    words: _Schema = {"enum": list(kind.words)}
    points = _of(schema.Whole(0, schema.MAX_POINTS))
    expected = {"anyOf": [points, words]} if kind.points else words
    row = {"type": "array", "prefixItems": [value, expected], "items": False, "minItems": 2}
    return {"type": "array", "items": row}


def _waiver(_: schema.Waiver) -> _Schema:
    roles = {"type": "array", "minItems": 1, "items": {"enum": [role.value for role in schema.SECOND_PERSONS]}}
    return {"anyOf": [{"const": NONE}, roles]}


_MAKERS: Mapping[type, Callable[[Any], _Schema]] = {
    schema.Text: _text,
    schema.Whole: lambda kind: {"type": "integer", "minimum": kind.low, "maximum": kind.high},
    schema.Number: lambda _: {"type": "number"},
    schema.Choice: lambda kind: {"enum": list(kind.words)},
    schema.Day: lambda _: {"type": "string", "pattern": _DAY},
    schema.Instant: lambda _: {"type": "string", "pattern": _INSTANT},
    schema.MeasureName: lambda _: {"$ref": "#/$defs/measure"},
    schema.Guards: lambda kind: {"$ref": "#/$defs/needs" if kind.only_true else "#/$defs/guards"},
    schema.Waiver: _waiver,
    schema.CaseRows: _cases,
    schema.WorksheetData: lambda _: {"$ref": "#/$defs/worksheet"},
    schema.Entries: lambda _: {"$ref": "#/$defs/entries"},
    schema.ListOf: _list,
    schema.MapOf: _map,
    schema.Record: _record,
}
