"""Strict YAML as records: what may stand where, and a reader that notes every problem and reads on.

Policies and aircraft types are both read by this; each adds the kinds of value that only it knows. What a text may hold
is described by plain data (a :class:`Record` of :class:`Key`), from which the reader and an editor's schema follow.
"""

import difflib
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from riskboard.yaml_source import MAX_PROBLEMS, Node, Problem

__all__ = [
    "READERS",
    "Choice",
    "Day",
    "Entry",
    "Key",
    "KindReader",
    "ListOf",
    "MapOf",
    "Place",
    "Reader",
    "Record",
    "Text",
    "Whole",
    "at",
    "listed",
    "nearest",
    "read_choice",
    "suggestion",
]

Place = tuple[int, int]
"""Line and column."""
_MOST_WORDS_SHOWN = 12
_LONGEST_NAME_COMPARED = 60


# -- what may stand in a text ------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Text:
    """A text. ``pattern`` matches the whole of it and ``what`` says in words what the pattern wants."""

    longest: int = 200
    pattern: str = ""
    what: str = ""


@dataclass(frozen=True)
class Whole:
    """A whole number, bounds inclusive."""

    low: int
    high: int


@dataclass(frozen=True)
class Choice:
    """One of some words."""

    words: tuple[str, ...]


@dataclass(frozen=True)
class Day:
    """A calendar day."""


@dataclass(frozen=True)
class ListOf:
    """A list with at least some items, and at most so many where ``at_most`` is given."""

    item: object
    at_least: int = 0
    at_most: int | None = None


@dataclass(frozen=True)
class MapOf:
    """A map from names to one kind of value; ``words`` closes the set of names, ``name`` describes it otherwise."""

    item: object
    name: Text = Text()
    words: tuple[str, ...] = ()
    at_least: int = 0


@dataclass(frozen=True)
class Key:
    """One key of a record: the kind of its value, what it means, and whether it must be there."""

    kind: object
    about: str
    required: bool = True


@dataclass(frozen=True)
class Record:
    """A map with known keys. Of the keys in each group of ``one_of``, exactly one must be given.

    ``name`` is what a sentence calls it: "the limits", or with ``article`` "factor" for "a factor" and "this factor".
    """

    name: str
    keys: Mapping[str, Key]
    one_of: tuple[tuple[str, ...], ...] = ()
    article: bool = False

    @property
    def any_of_it(self) -> str:
        """As in "is no key of a factor"."""
        return f"a {self.name}" if self.article else self.name

    @property
    def this_one(self) -> str:
        """As in "this factor has no"."""
        return f"this {self.name}" if self.article else self.name


# -- words of problems -------------------------------------------------------------------------------------------------


def nearest(name: str, known: Iterable[str]) -> str | None:
    """The known word most like ``name``, or None when none is close."""
    found = difflib.get_close_matches(name[:_LONGEST_NAME_COMPARED].strip().lower(), known, n=1, cutoff=0.6)
    return found[0] if found else None


def listed(words: Iterable[str]) -> str:
    """Words for an error message; a long list is cut, and sorted so that it can be searched."""
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


def at(node: Node) -> Place:
    """Line and column of a node."""
    return node.line, node.column


def _shown(node: Node) -> str:
    if node.kind != "scalar":
        return f"a {node.kind}"
    return "nothing" if node.value is None else repr(node.text)


# -- reading -----------------------------------------------------------------------------------------------------------


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


KindReader = Callable[[Any, Any, Node], Any]
"""(reader, kind, node) -> the value; None, and a problem noted, where it is not what the kind asks for."""


@dataclass
class Reader:
    """Reads one text. ``problems`` grows; nothing is raised. A format derives its own reader with its own kinds."""

    name: str
    problems: list[Problem] = field(default_factory=list)

    def readers(self) -> Mapping[type, KindReader]:
        """How each kind of value is read."""
        return READERS

    def hint(self, key: str, known: Iterable[str]) -> str:
        """The end of a sentence about a key that is not known."""
        return suggestion(key, known)

    def excused(self, key: str) -> bool:  # noqa: ARG002 - a format may look at it
        """Whether a key may be left out although it is required."""
        return False

    def value(self, key: str, kind: object, node: Node) -> Any:  # noqa: ARG002 - a format may look at it
        """The value under a key of a record."""
        return self.read(kind, node)

    def problem(self, place: Place, message: str, found: str = "", allowed: str = "") -> None:
        """Note a problem at (line, column); after very many no more are kept."""
        if len(self.problems) < MAX_PROBLEMS:
            self.problems.append(Problem(self.name, *place, message, found, allowed))

    def wrong(self, node: Node, wanted: str) -> None:
        """Note that a value is not what is wanted there."""
        found = _shown(node)
        self.problem(at(node), f"{found} stands where {wanted} is needed", found, wanted)

    def word(self, place: Place, word: str, known: Iterable[str], what: str) -> None:
        """Note a word that is not known, with the nearest one."""
        words = list(known)
        self.problem(place, f"{word!r} is no {what}; {suggestion(word, words)}", word, listed(words))

    def read(self, kind: object, node: Node) -> Any:
        """The value of a node; meaningless (None) where a problem was noted."""
        return self.readers()[type(kind)](self, kind, node)

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
                message = f"{key!r} is no key of {kind.any_of_it}; {self.hint(key, kind.keys)}"
                self.problem(node.keys[key], message, key, listed(kind.keys))
        for key, rule in kind.keys.items():
            if rule.required and key not in node.value and not self.excused(key):
                self.problem(at(node), f"{kind.this_one} has no {key!r}. {rule.about}", "", key)
        for group in kind.one_of:
            given = [key for key in group if key in node.value]
            if len(given) != 1:
                what = f"{len(given)} are given" if given else "none is"
                message = f"{kind.this_one} needs exactly one of {', '.join(group)}; {what}"
                self.problem(at(node), message, "", group[0])
        return Entry(node, values, len(self.problems) > before)


def _text(reader: Reader, kind: Text, node: Node) -> str | None:
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


def _whole(reader: Reader, kind: Whole, node: Node) -> int | None:
    value = node.value
    if isinstance(value, bool) or not isinstance(value, int) or not kind.low <= value <= kind.high:
        reader.wrong(node, f"a whole number from {kind.low} to {kind.high}")
        return None
    return value


def read_choice(reader: Reader, kind: Choice, node: Node) -> str | None:
    """One of some words; None where it is none of them, with the problem noted."""
    if node.kind != "scalar" or not isinstance(node.value, str):
        reader.wrong(node, f"one of {listed(kind.words)}")
        return None
    if node.value not in kind.words:
        message = f"{node.value!r} is not allowed here; {suggestion(node.value, kind.words)}"
        reader.problem(at(node), message, node.value, listed(kind.words))
        return None
    return node.value


def _day(reader: Reader, _: Day, node: Node) -> date | None:
    if not isinstance(node.value, date) or isinstance(node.value, datetime):
        reader.wrong(node, "a date such as 2026-03-01")
        return None
    return node.value


def _list(reader: Reader, kind: ListOf, node: Node) -> list[Any]:
    if node.kind != "list":
        reader.wrong(node, "a list")
        return []
    if len(node.value) < kind.at_least:
        reader.problem(at(node), f"a list of {len(node.value)}; at least {kind.at_least} are needed")
    if kind.at_most is not None and len(node.value) > kind.at_most:
        reader.problem(at(node), f"a list of {len(node.value)}; at most {kind.at_most} are allowed")
    return [reader.read(kind.item, item) for item in node.value]


def _map(reader: Reader, kind: MapOf, node: Node) -> dict[str, Any]:
    if node.kind != "map":
        reader.wrong(node, "a map of names and what they mean")
        return {}
    if len(node.value) < kind.at_least:
        reader.problem(at(node), f"at least {kind.at_least} is needed here")
    for key in node.value:
        if kind.words and key not in kind.words:
            message = f"{key!r} is not allowed here; {suggestion(key, kind.words)}"
            reader.problem(node.keys[key], message, key, listed(kind.words))
        elif kind.name.pattern and (len(key) > kind.name.longest or not re.fullmatch(kind.name.pattern, key)):
            what = f"{kind.name.what}, at most {kind.name.longest}"
            reader.problem(node.keys[key], f"{key[:60]!r} is no name: {what}", key[:60], what)
    return {key: reader.read(kind.item, value) for key, value in node.value.items()}


READERS: Mapping[type, KindReader] = {
    Text: _text,
    Whole: _whole,
    Choice: read_choice,
    Day: _day,
    ListOf: _list,
    MapOf: _map,
    Record: Reader.record,
}
"""How the kinds of this module are read."""
