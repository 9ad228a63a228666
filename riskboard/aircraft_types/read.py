"""From nodes to values by the description in ``schema.py``. Notes every problem and reads on."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from riskboard import yaml_record
from riskboard.aircraft_types import shape
from riskboard.aircraft_types.shape import UNIT_SUFFIXES, Number
from riskboard.yaml_record import READERS, Entry, KindReader, Place, at, suggestion
from riskboard.yaml_source import Node

__all__ = ["Entry", "Place", "Reader", "at"]

_PAIR = 2
_LEAST_AXIS = 2


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
    return suggestion(key, words)


def _bounds(kind: Number) -> str:
    low = "above" if kind.above else "from"
    return f"a number {low} {kind.low:g} {'and up to' if kind.above else 'to'} {kind.high:g}"


@dataclass
class Reader(yaml_record.Reader):
    """Reads one text. ``problems`` grows; nothing is raised."""

    def readers(self) -> Mapping[type, KindReader]:
        """How each kind of value is read."""
        return _READERS

    def hint(self, key: str, known: Iterable[str]) -> str:
        """The end of a sentence about a key that is not known: often only its unit is wrong or missing."""
        return _hint(key, known)


def _flag(reader: Reader, _: shape.Flag, node: Node) -> bool | None:
    if not isinstance(node.value, bool):
        reader.wrong(node, "true or false")
        return None
    return node.value


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


_READERS: Mapping[type, KindReader] = {
    **READERS,
    shape.Flag: _flag,
    shape.Number: _number,
    shape.Range: _range,
    shape.Axis: _axis,
    shape.Table: _table,
    shape.Corners: _corners,
}
