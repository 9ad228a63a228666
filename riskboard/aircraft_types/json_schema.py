"""JSON Schema (draft 2020-12) of type files, so that an editor completes keys and marks slips while typing.

Made from ``schema.py``; nothing is said twice. What passes here may still be refused by the loader: it alone decides.
"""

from collections.abc import Callable, Mapping
from typing import Any

from riskboard.aircraft_types import shape
from riskboard.aircraft_types.schema import SCHEMA, TYPE

__all__ = ["aircraft_type_json_schema"]

_DIALECT = "https://json-schema.org/draft/2020-12/schema"
_DAY = "^[0-9]{4}-[0-9]{2}-[0-9]{2}$"
_Schema = dict[str, Any]


def aircraft_type_json_schema() -> _Schema:
    """The schema as plain data, ready for ``json.dumps``; dates as texts."""
    return {"$schema": _DIALECT, "title": SCHEMA, "description": "An aircraft type of riskboard.", **_of(TYPE)}


def _of(kind: object) -> _Schema:
    make: Callable[[Any], _Schema] = _MAKERS[type(kind)]
    return make(kind)


def _text(kind: shape.Text) -> _Schema:
    found: _Schema = {"type": "string", "minLength": 1, "maxLength": kind.longest}
    if kind.pattern:
        found["pattern"] = f"^{kind.pattern}$"
    return found


def _number(kind: shape.Number) -> _Schema:
    low = "exclusiveMinimum" if kind.above else "minimum"
    return {"type": "number", low: kind.low, "maximum": kind.high}


def _pair(first: shape.Number, second: shape.Number) -> _Schema:
    items = [_number(first), _number(second)]
    return {"type": "array", "prefixItems": items, "items": False, "minItems": len(items)}


def _table(kind: shape.Table) -> _Schema:
    cell = {"anyOf": [_number(kind.item), {"type": "null"}]}
    return {"type": "array", "minItems": 1, "items": {"type": "array", "minItems": 1, "items": cell}}


def _map(kind: shape.MapOf) -> _Schema:
    names = {"enum": list(kind.words)} if kind.words else _text(kind.name)
    item = _of(kind.item)
    return {"type": "object", "minProperties": kind.at_least, "propertyNames": names, "additionalProperties": item}


def _record(kind: shape.Record) -> _Schema:
    found: _Schema = {
        "type": "object",
        "additionalProperties": False,
        "required": [key for key, rule in kind.keys.items() if rule.required],
        "properties": {key: {**_of(rule.kind), "description": rule.about} for key, rule in kind.keys.items()},
    }
    if kind.one_of:
        found["allOf"] = [{"oneOf": [{"required": [key]} for key in group]} for group in kind.one_of]
    return found


_MAKERS: Mapping[type, Callable[[Any], _Schema]] = {
    shape.Text: _text,
    shape.Flag: lambda _: {"type": "boolean"},
    shape.Whole: lambda kind: {"type": "integer", "minimum": kind.low, "maximum": kind.high},
    shape.Number: _number,
    shape.Range: lambda kind: _pair(kind.item, kind.item),
    shape.Axis: lambda kind: {"type": "array", "minItems": 2, "items": _number(kind.item)},
    shape.Table: _table,
    shape.Corners: lambda kind: {"type": "array", "minItems": 3, "items": _pair(kind.x, kind.y)},
    shape.Choice: lambda kind: {"enum": list(kind.words)},
    shape.Day: lambda _: {"type": "string", "pattern": _DAY},
    shape.ListOf: lambda kind: {"type": "array", "minItems": kind.at_least, "items": _of(kind.item)},
    shape.MapOf: _map,
    shape.Record: _record,
}
