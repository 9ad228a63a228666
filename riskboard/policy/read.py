"""From nodes to values by the description in ``schema.py``. Notes every problem and reads on."""

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from riskboard.measures.registry import Measure
from riskboard.policy import schema
from riskboard.policy.schema import Kind, Record
from riskboard.words import NONE, Guard
from riskboard.worksheet import FIELD_PART, PARTS
from riskboard.worksheet.shape import nearest
from riskboard.yaml_source import MAX_PROBLEMS, Node, Problem

__all__ = ["Entry", "Reader", "listed", "suggestion"]

UNKNOWN = "unknown"
_MOST_WORDS_SHOWN = 12
_CASE_LENGTH = 2

EXPLAINING = frozenset({"why", "source", "cases", "worksheets", "tests"})
"""Keys that explain and try a policy: no decision rests on them."""


@dataclass(frozen=True)
class Entry:
    """A record as read. ``broken`` says that a problem was noted in it, so nothing is to be built from it."""

    node: Node
    values: Mapping[str, Any]
    broken: bool

    def get(self, key: str, default: Any = None) -> Any:
        """The value of a key, or the default where it is not given."""
        return self.values.get(key, default)


def listed(words: Iterable[str]) -> str:
    """Words for an error message; a long list is cut."""
    all_words = list(words)
    if len(all_words) > _MOST_WORDS_SHOWN:
        all_words.sort()
    shown = ", ".join(all_words[:_MOST_WORDS_SHOWN])
    return shown if len(all_words) <= _MOST_WORDS_SHOWN else f"{shown}, ... ({len(all_words)} in all)"


def suggestion(word: str, known: Iterable[str]) -> str:
    """The end of a sentence about a word that is not known: the nearest known one, or the list."""
    words = list(known)
    near = nearest(word, words)
    return f"did you mean {near}?" if near is not None else f"allowed: {listed(words)}"


def _shown(node: Node) -> str:
    if node.kind != "scalar":
        return f"a {node.kind}"
    return "nothing" if node.value is None else repr(node.text)


@dataclass
class Reader:
    """Reads one text. ``problems`` grows; nothing is raised.

    Attributes:
        published: The text was proved when it was published: what only explains and tries it may be as it likes.
        renamed: Old names of measures, understood in a published text.
    """

    name: str
    registry: Mapping[str, Measure]
    published: bool = False
    renamed: Mapping[str, str] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)

    def problem(self, place: tuple[int, int], message: str, found: str = "", allowed: str = "") -> None:
        """Note a problem at (line, column); after very many no more are kept."""
        if len(self.problems) < MAX_PROBLEMS:
            self.problems.append(Problem(self.name, *place, message, found, allowed))

    def wrong(self, node: Node, wanted: str) -> None:
        """Note that a value is not what is wanted there."""
        found = _shown(node)
        self.problem((node.line, node.column), f"{found} stands where {wanted} is needed", found, wanted)

    def read(self, kind: Kind, node: Node) -> Any:
        """The value of a node; meaningless (None) where a problem was noted."""
        reader: Callable[[Reader, Any, Node], Any] = _READERS[type(kind)]
        return reader(self, kind, node)

    def record(self, kind: Record, node: Node) -> Entry:
        """A map with known keys: unknown ones are refused with the nearest valid word, missing ones are named."""
        before = len(self.problems)
        values = {}
        if node.kind != "map":
            self.wrong(node, f"a map with {listed(kind.keys)}")
            return Entry(node, {}, broken=True)
        for key, value in node.value.items():
            if key in kind.keys:
                values[key] = self.value(key, kind.keys[key].kind, value)
            else:
                hint = suggestion(key, kind.keys)
                self.problem(node.keys[key], f"{key!r} is no key of a {kind.name}; {hint}", key, listed(kind.keys))
        for key, rule in kind.keys.items():
            if rule.required and key not in node.value and not self.excused(key):
                self.problem((node.line, node.column), f"this {kind.name} has no {key!r}. {rule.about}", "", key)
        return Entry(node, values, len(self.problems) > before)

    def excused(self, key: str) -> bool:
        """Whether problems under a key do not matter any more."""
        return self.published and key in EXPLAINING

    def value(self, key: str, kind: Kind, node: Node) -> Any:
        """The value under a key of a record."""
        before = len(self.problems)
        value = self.read(kind, node)
        if self.excused(key) and len(self.problems) > before:
            del self.problems[before:]
            return [] if isinstance(kind, schema.CaseRows) else value
        return value

    def word(self, place: tuple[int, int], word: str, known: Iterable[str], what: str) -> None:
        """Note a word that is not known, with the nearest one."""
        words = list(known)
        self.problem(place, f"{word!r} is no {what}; {suggestion(word, words)}", word, listed(words))


def _at(node: Node) -> tuple[int, int]:
    return node.line, node.column


def _text(reader: Reader, kind: schema.Text, node: Node) -> str | None:
    if node.kind != "scalar" or not isinstance(node.value, str):
        reader.wrong(node, "a text" + (f" ({kind.what})" if kind.what else " (quote it if it is meant as one)"))
        return None
    text = node.value.strip()
    if not text:
        reader.problem(_at(node), "an empty text; write what it should say", "''", "a text")
    elif len(text) > kind.longest:
        reader.problem(_at(node), f"a text of {len(text)} characters; at most {kind.longest} are allowed", text[:60])
    elif kind.pattern and not re.fullmatch(kind.pattern, text):
        reader.problem(_at(node), f"{text!r} is no name: {kind.what}", text, kind.what)
    return text


def _whole(reader: Reader, kind: schema.Whole, node: Node) -> int | None:
    value = node.value
    if isinstance(value, bool) or not isinstance(value, int) or not kind.low <= value <= kind.high:
        reader.wrong(node, f"a whole number from {kind.low} to {kind.high}")
        return None
    return value


def _number(reader: Reader, _: schema.Number, node: Node) -> float | None:
    if isinstance(node.value, bool) or not isinstance(node.value, int | float):
        reader.wrong(node, "a plain decimal such as -3 or 7.5")
        return None
    return float(node.value)


def _choice(reader: Reader, kind: schema.Choice, node: Node) -> str | None:
    if node.kind != "scalar" or not isinstance(node.value, str):
        reader.wrong(node, f"one of {listed(kind.words)}")
        return None
    if node.value not in kind.words:
        message = f"{node.value!r} is not allowed here; {suggestion(node.value, kind.words)}"
        reader.problem(_at(node), message, node.value, listed(kind.words))
    return node.value


def _day(reader: Reader, _: schema.Day, node: Node) -> date | None:
    if not isinstance(node.value, date) or isinstance(node.value, datetime):
        reader.wrong(node, "a date such as 2026-03-01")
        return None
    return node.value


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
            reader.problem(_at(node), message, node.value, today)
        return today
    if node.value not in known:
        what = "measure that a policy may name" if node.value in reader.registry else "measure"
        reader.word(_at(node), node.value, known, what)
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
        return number, _whole(reader, schema.Whole(0, schema.MAX_POINTS), expected) or 0
    return number, _choice(reader, schema.Choice(kind.words), expected) or ""


def _list(reader: Reader, kind: schema.ListOf, node: Node) -> list[Any]:
    if node.kind != "list":
        reader.wrong(node, "a list")
        return []
    if len(node.value) < kind.at_least:
        reader.problem(_at(node), f"a list of {len(node.value)}; at least {kind.at_least} are needed")
    if kind.at_most is not None and len(node.value) > kind.at_most:
        reader.problem(_at(node), f"a list of {len(node.value)}; at most {kind.at_most} are allowed")
    return [reader.read(kind.item, item) for item in node.value]


def _map(reader: Reader, kind: schema.MapOf, node: Node) -> dict[str, Any]:
    if node.kind != "map":
        reader.wrong(node, "a map of names and what they mean")
        return {}
    if len(node.value) < kind.at_least:
        reader.problem(_at(node), f"at least {kind.at_least} is needed here")
    for key in node.value:
        if kind.words and key not in kind.words:
            message = f"{key!r} is not allowed here; {suggestion(key, kind.words)}"
            reader.problem(node.keys[key], message, key, listed(kind.words))
        elif kind.name.pattern and (len(key) > kind.name.longest or not re.fullmatch(kind.name.pattern, key)):
            what = f"{kind.name.what}, at most {kind.name.longest}"
            reader.problem(node.keys[key], f"{key[:60]!r} is no name: {what}", key[:60], what)
    return {key: reader.read(kind.item, value) for key, value in node.value.items()}


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
        reader.problem(_at(node), "this worksheet has no 'decided_at': the moment at which its tests decide", "", "")
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


_READERS: Mapping[type, Callable[[Reader, Any, Node], Any]] = {
    schema.Text: _text,
    schema.Whole: _whole,
    schema.Number: _number,
    schema.Choice: _choice,
    schema.Day: _day,
    schema.Instant: _instant,
    schema.MeasureName: _measure,
    schema.Guards: _guards,
    schema.Waiver: _waiver,
    schema.CaseRows: _cases,
    schema.WorksheetData: _worksheet,
    schema.Entries: _entries,
    schema.ListOf: _list,
    schema.MapOf: _map,
    schema.Record: Reader.record,
}
