"""From nodes to values by the description in ``schema.py``. Notes every problem and reads on."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from riskboard import yaml_record
from riskboard.measures.registry import Measure
from riskboard.policy import schema
from riskboard.words import NONE, Guard
from riskboard.worksheet import FIELD_PART, PARTS
from riskboard.yaml_record import READERS, Entry, KindReader, at, listed, read_choice, suggestion
from riskboard.yaml_source import Node

__all__ = ["Entry", "Reader", "listed", "suggestion"]

UNKNOWN = "unknown"
_CASE_LENGTH = 2

EXPLAINING = frozenset({"why", "source", "cases", "worksheets", "tests"})
"""Keys that explain and try a policy: no decision rests on them."""


@dataclass
class Reader(yaml_record.Reader):
    """Reads one text. ``problems`` grows; nothing is raised.

    Attributes:
        published: The text was proved when it was published: what only explains and tries it may be as it likes.
        renamed: Old names of measures, understood in a published text.
    """

    registry: Mapping[str, Measure] = field(default_factory=dict)
    published: bool = False
    renamed: Mapping[str, str] = field(default_factory=dict)

    def readers(self) -> Mapping[type, KindReader]:
        """How each kind of value is read."""
        return _READERS

    def excused(self, key: str) -> bool:
        """Whether problems under a key do not matter any more."""
        return self.published and key in EXPLAINING

    def value(self, key: str, kind: object, node: Node) -> Any:
        """The value under a key of a record."""
        before = len(self.problems)
        value = self.read(kind, node)
        if self.excused(key) and len(self.problems) > before:
            del self.problems[before:]
            return [] if isinstance(kind, schema.CaseRows) else value
        return value


def _number(reader: Reader, _: schema.Number, node: Node) -> float | None:
    if isinstance(node.value, bool) or not isinstance(node.value, int | float):
        reader.wrong(node, "a plain decimal such as -3 or 7.5")
        return None
    return float(node.value)


def _choice(reader: Reader, kind: schema.Choice, node: Node) -> str | None:
    """A word as it stands, also where a problem was noted: in a published text some of them do not matter any more."""
    read_choice(reader, kind, node)
    return node.value if isinstance(node.value, str) else None


def _instant(reader: Reader, _: schema.Instant, node: Node) -> datetime | None:
    if not isinstance(node.value, datetime):
        reader.wrong(node, "a time with its zone such as 2026-03-01T00:00Z")
        return None
    return node.value


def _measure(reader: Reader, _: schema.MeasureName, node: Node) -> str | None:
    known = [name for name, entry in reader.registry.items() if not entry.internal]
    if node.kind != "scalar" or not isinstance(node.value, str):
        reader.wrong(node, "the name of a measure")
        return None
    if node.value in reader.renamed and node.value not in known:
        today = reader.renamed[node.value]
        if not reader.published:
            message = f"the measure {node.value!r} is called {today!r} now; write that"
            reader.problem(at(node), message, node.value, today)
        return today
    if node.value not in known:
        what = "measure that a policy may name" if node.value in reader.registry else "measure"
        reader.word(at(node), node.value, known, what)
    return node.value


def _guards(reader: Reader, kind: schema.Guards, node: Node) -> dict[Guard, bool]:
    if node.kind != "map":
        reader.wrong(node, "a map such as {civil_night: true}")
        return {}
    found = {}
    for key, value in node.value.items():
        if key not in Guard.__members__:
            reader.word(node.keys[key], key, Guard.__members__, "guard word")
        elif kind.only_true and value.value is not True:
            reader.wrong(value, "true (a mitigation needs what is surely true)")
        elif not isinstance(value.value, bool):
            reader.wrong(value, "true or false")
        else:
            found[Guard(key)] = value.value
    return dict(sorted(found.items()))


def _waiver(reader: Reader, _: schema.Waiver, node: Node) -> list[str]:
    if node.kind == "scalar" and node.value == NONE:
        return []
    if node.kind != "list" or not node.value:
        reader.wrong(node, f"none, or a list of roles ({listed(schema.SECOND_PERSONS)})")
        return []
    return [_choice(reader, schema.Choice(schema.SECOND_PERSONS), item) or "" for item in node.value]


def _cases(reader: Reader, kind: schema.CaseRows, node: Node) -> list[tuple[float | None, int | str]]:
    if node.kind != "list":
        reader.wrong(node, "a list of cases such as [[7, 0], [unknown, no_go]]")
        return []
    return [_case(reader, kind, row) for row in node.value]


def _case(reader: Reader, kind: schema.CaseRows, row: Node) -> tuple[float | None, int | str]:
    if row.kind != "list" or len(row.value) != _CASE_LENGTH:
        reader.wrong(row, "a case [value, expected]")
        return None, ""
    value, expected = row.value
    number = None if value.value == UNKNOWN else _number(reader, schema.Number(), value)
    if kind.points and number is not None:
        return number, reader.read(schema.Whole(0, schema.MAX_POINTS), expected) or 0
    return number, _choice(reader, schema.Choice(kind.words), expected) or ""


def _worksheet(reader: Reader, _: schema.WorksheetData, node: Node) -> dict[str, Any]:
    allowed = ("decided_at", *PARTS, "clocks")
    if node.kind != "map":
        reader.wrong(node, f"a worksheet with {listed(allowed)}")
        return {}
    for key, value in node.value.items():
        if key not in allowed:
            reader.word(node.keys[key], key, allowed, "part of a worksheet")
        elif key == "decided_at":
            _instant(reader, schema.Instant(), value)
        elif value.kind != "map":
            reader.wrong(value, "a map of entries")
    if "decided_at" not in node.value:
        reader.problem(at(node), "this worksheet has no 'decided_at': the moment at which its tests decide", "", "")
    plain: dict[str, Any] = node.plain()
    return plain


def _entries(reader: Reader, _: schema.Entries, node: Node) -> dict[str, Any]:
    if node.kind != "map":
        reader.wrong(node, "a map of entries such as {gust_kt: 29}")
        return {}
    for key in node.value:
        if key not in FIELD_PART:
            reader.word(node.keys[key], key, FIELD_PART, "entry of a worksheet")
    plain: dict[str, Any] = node.plain()
    return plain


_READERS: Mapping[type, KindReader] = {
    **READERS,
    schema.Number: _number,
    schema.Choice: _choice,
    schema.Instant: _instant,
    schema.MeasureName: _measure,
    schema.Guards: _guards,
    schema.Waiver: _waiver,
    schema.CaseRows: _cases,
    schema.WorksheetData: _worksheet,
    schema.Entries: _entries,
}
