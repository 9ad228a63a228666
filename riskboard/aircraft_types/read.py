"""From nodes to values by the description in ``schema.py``. Notes every problem and reads on."""

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from riskboard.aircraft_types import shape
from riskboard.aircraft_types.shape import UNIT_SUFFIXES, Kind, Number, Record
from riskboard.worksheet.shape import nearest
from riskboard.yaml_source import MAX_PROBLEMS, Node, Problem

__all__ = ["Entry", "Place", "Reader", "at"]

Place = tuple[int, int]
_MOST_WORDS_SHOWN = 12
_PAIR = 2
_LEAST_AXIS = 2


@dataclass(frozen=True)
class Entry:
    """A record as read. ``broken`` says that a problem was noted in it, so nothing is to be built from it."""

    node: Node
    values: Mapping[str, Any]
    broken: bool

    def get(self, key: str, default: Any = None) -> Any:
        """The value of a key, or the default where it is not given."""
        return self.values.get(key, default)

    def __getitem__(self, key: str) -> Any:
        return self.values[key]

    def place(self, key: str) -> Place:
        """Where the value of a key stands; the record itself where the key is not given."""
        inner = self.node.value.get(key) if self.node.kind == "map" else None
        return at(inner if inner is not None else self.node)


def at(node: Node) -> Place:
    """Line and column of a node."""
    return node.line, node.column


def _listed(words: Iterable[str]) -> str:
    shown = list(words)
    if len(shown) <= _MOST_WORDS_SHOWN:
        return ", ".join(shown)
    return f"{', '.join(shown[:_MOST_WORDS_SHOWN])}, ... ({len(shown)} in all)"


def _unit_of(key: str) -> tuple[str, str]:
    """A key without its unit, and the unit; "" where it has none."""
    for unit in UNIT_SUFFIXES:
        if key.endswith(f"_{unit}"):
            return key.removesuffix(f"_{unit}"), unit
    return key, ""


def _hint(key: str, known: Iterable[str]) -> str:
    """The end of a sentence about a key that is not known."""
    words = list(known)
    stem, unit = _unit_of(key)
    for word in words:
        other, wanted = _unit_of(word)
        if wanted and other == stem:
            what = f"the unit is {wanted}, not {unit}" if unit else "the unit is missing"
            return f"{what}: write {word}"
    near = nearest(key, words)
    return f"did you mean {near}?" if near is not None else f"allowed: {_listed(words)}"


def _suggestion(word: str, known: Iterable[str]) -> str:
    words = list(known)
    near = nearest(word, words)
    return f"did you mean {near}?" if near is not None else f"allowed: {_listed(words)}"


def _shown(node: Node) -> str:
    if node.kind != "scalar":
        return f"a {node.kind}"
    return "nothing" if node.value is None else repr(node.text)


def _bounds(kind: Number) -> str:
    low = "above" if kind.above else "from"
    return f"a number {low} {kind.low:g} {'and up to' if kind.above else 'to'} {kind.high:g}"


@dataclass
class Reader:
    """Reads one text. ``problems`` grows; nothing is raised."""

    name: str
    problems: list[Problem] = field(default_factory=list)

    def problem(self, place: Place, message: str, found: str = "", allowed: str = "") -> None:
        """Note a problem at (line, column); after very many no more are kept."""
        if len(self.problems) < MAX_PROBLEMS:
            self.problems.append(Problem(self.name, *place, message, found, allowed))

    def wrong(self, node: Node, wanted: str) -> None:
        """Note that a value is not what is wanted there."""
        found = _shown(node)
        self.problem(at(node), f"{found} stands where {wanted} is needed", found, wanted)

    def read(self, kind: Kind, node: Node) -> Any:
        """The value of a node; meaningless (None) where a problem was noted."""
        reader: Callable[[Reader, Any, Node], Any] = _READERS[type(kind)]
        return reader(self, kind, node)

    def record(self, kind: Record, node: Node) -> Entry:
        """A map with known keys: unknown ones are refused with the nearest valid word, missing ones are named."""
        before = len(self.problems)
        values = {}
        if node.kind != "map":
            self.wrong(node, f"a map with {_listed(kind.keys)}")
            return Entry(node, {}, broken=True)
        for key, value in node.value.items():
            if key in kind.keys:
                values[key] = self.read(kind.keys[key].kind, value)
            else:
                message = f"{key!r} is no key of {kind.name}; {_hint(key, kind.keys)}"
                self.problem(node.keys[key], message, key, _listed(kind.keys))
        for key, rule in kind.keys.items():
            if rule.required and key not in node.value:
                self.problem(at(node), f"{kind.name} has no {key!r}. {rule.about}", "", key)
        for group in kind.one_of:
            given = [key for key in group if key in node.value]
            if len(given) != 1:
                what = f"{len(given)} are given" if given else "none is"
                self.problem(at(node), f"{kind.name} needs exactly one of {', '.join(group)}; {what}", "", group[0])
        return Entry(node, values, len(self.problems) > before)


def _text(reader: Reader, kind: shape.Text, node: Node) -> str | None:
    if node.kind != "scalar" or not isinstance(node.value, str):
        reader.wrong(node, "a text" + (f" ({kind.what})" if kind.what else " (quote it if it is meant as one)"))
        return None
    text = node.value.strip()
    if not text:
        reader.problem(at(node), "an empty text; write what it should say", "''", "a text")
    elif len(text) > kind.longest:
        reader.problem(at(node), f"a text of {len(text)} characters; at most {kind.longest} are allowed", text[:60])
    elif kind.pattern and not re.fullmatch(kind.pattern, text):
        reader.problem(at(node), f"{text!r} is no name: {kind.what}", text, kind.what)
    return text


def _flag(reader: Reader, _: shape.Flag, node: Node) -> bool | None:
    if not isinstance(node.value, bool):
        reader.wrong(node, "true or false")
        return None
    return node.value


def _whole(reader: Reader, kind: shape.Whole, node: Node) -> int | None:
    value = node.value
    if isinstance(value, bool) or not isinstance(value, int) or not kind.low <= value <= kind.high:
        reader.wrong(node, f"a whole number from {kind.low} to {kind.high}")
        return None
    return value


def _number(reader: Reader, kind: Number, node: Node) -> float | None:
    value = node.value
    if isinstance(value, bool) or not isinstance(value, int | float):
        unit = " (the unit stands in the key)" if node.kind == "scalar" and re.match(r"-?[0-9]", node.text) else ""
        reader.wrong(node, f"{_bounds(kind)}, written as a plain decimal{unit},")
        return None
    if not kind.low <= value <= kind.high or (kind.above and value == kind.low):
        reader.wrong(node, _bounds(kind))
        return None
    return float(value)


def _numbers(reader: Reader, item: Number, node: Node) -> list[float] | None:
    """Every number of a list; None where one is none."""
    found = [_number(reader, item, inner) for inner in node.value]
    known = [value for value in found if value is not None]
    return known if len(known) == len(found) else None


def _range(reader: Reader, kind: shape.Range, node: Node) -> tuple[float, float] | None:
    if node.kind != "list" or len(node.value) != _PAIR:
        reader.wrong(node, "a pair [lowest, highest]")
        return None
    found = _numbers(reader, kind.item, node)
    if found is None:
        return None
    low, high = found
    if low >= high:
        reader.problem(at(node.value[1]), f"{high:g} is not above {low:g}; a range is [lowest, highest]", f"{high:g}")
        return None
    return low, high


def _axis(reader: Reader, kind: shape.Axis, node: Node) -> tuple[float, ...] | None:
    if node.kind != "list" or len(node.value) < _LEAST_AXIS:
        reader.wrong(node, f"a list of at least {_LEAST_AXIS} numbers, each greater than the one before,")
        return None
    found = _numbers(reader, kind.item, node)
    if found is None:
        return None
    for i in range(1, len(found)):
        if found[i] <= found[i - 1]:
            message = f"{found[i]:g} after {found[i - 1]:g}: a table's places must rise, each once"
            reader.problem(at(node.value[i]), message, f"{found[i]:g}")
            return None
    return tuple(found)


def _table(reader: Reader, kind: shape.Table, node: Node) -> tuple[tuple[float | None, ...], ...] | None:
    if node.kind != "list" or not node.value or any(row.kind != "list" for row in node.value):
        reader.wrong(node, "a list of rows, each a list of numbers with null where the manual is blank,")
        return None
    before = len(reader.problems)
    rows = tuple(
        tuple(
            None if cell.kind == "scalar" and cell.value is None else _number(reader, kind.item, cell)
            for cell in row.value
        )
        for row in node.value
    )
    return rows if len(reader.problems) == before else None


def _corners(reader: Reader, kind: shape.Corners, node: Node) -> tuple[tuple[float, float], ...] | None:
    if node.kind != "list":
        reader.wrong(node, f"a list of corners {kind.what}")
        return None
    before = len(reader.problems)
    found = []
    for corner in node.value:
        if corner.kind != "list" or len(corner.value) != _PAIR:
            reader.wrong(corner, f"a corner {kind.what}")
            continue
        x, y = _number(reader, kind.x, corner.value[0]), _number(reader, kind.y, corner.value[1])
        if x is not None and y is not None:
            found.append((x, y))
    return tuple(found) if len(reader.problems) == before else None


def _choice(reader: Reader, kind: shape.Choice, node: Node) -> str | None:
    if node.kind != "scalar" or not isinstance(node.value, str):
        reader.wrong(node, f"one of {_listed(kind.words)}")
        return None
    if node.value not in kind.words:
        message = f"{node.value!r} is not allowed here; {_suggestion(node.value, kind.words)}"
        reader.problem(at(node), message, node.value, _listed(kind.words))
        return None
    return node.value


def _day(reader: Reader, _: shape.Day, node: Node) -> date | None:
    if not isinstance(node.value, date) or isinstance(node.value, datetime):
        reader.wrong(node, "a date such as 2026-03-01")
        return None
    return node.value


def _list(reader: Reader, kind: shape.ListOf, node: Node) -> list[Any]:
    if node.kind != "list":
        reader.wrong(node, "a list")
        return []
    if len(node.value) < kind.at_least:
        reader.problem(at(node), f"a list of {len(node.value)}; at least {kind.at_least} must be there")
    return [reader.read(kind.item, item) for item in node.value]


def _map(reader: Reader, kind: shape.MapOf, node: Node) -> dict[str, Any]:
    if node.kind != "map":
        reader.wrong(node, "a map of names and what they mean")
        return {}
    if len(node.value) < kind.at_least:
        reader.problem(at(node), f"at least {kind.at_least} must be here")
    for key in node.value:
        if kind.words and key not in kind.words:
            message = f"{key!r} is not allowed here; {_suggestion(key, kind.words)}"
            reader.problem(node.keys[key], message, key, _listed(kind.words))
        elif kind.name.pattern and (len(key) > kind.name.longest or not re.fullmatch(kind.name.pattern, key)):
            reader.problem(node.keys[key], f"{key[:60]!r} is no name: {kind.name.what}", key[:60], kind.name.what)
    return {key: reader.read(kind.item, value) for key, value in node.value.items()}


_READERS: Mapping[type, Callable[[Reader, Any, Node], Any]] = {
    shape.Text: _text,
    shape.Flag: _flag,
    shape.Whole: _whole,
    shape.Number: _number,
    shape.Range: _range,
    shape.Axis: _axis,
    shape.Table: _table,
    shape.Corners: _corners,
    shape.Choice: _choice,
    shape.Day: _day,
    shape.ListOf: _list,
    shape.MapOf: _map,
    shape.Record: Reader.record,
}
