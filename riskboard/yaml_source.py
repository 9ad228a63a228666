"""Strict YAML with positions: what policies, worksheets and aircraft types are written in.

The usual safe loader turns ``no`` into False, ``12:30`` into 750, ``010`` into 8 and keeps the last of two equal keys
without a word. This reader types very little, says where everything stands, and refuses what it will not guess at:

* typed when not quoted: ``true``, ``false``, ``null`` (also an empty value), plain decimals such as ``-3`` or ``7.5``,
  days ``2026-03-01``, instants ``2026-03-01T00:00Z`` (or with an offset, or with seconds), kept in UTC. All else: text.
* refused: duplicate keys, keys that are no text, anchors, aliases, tags, directives, a second document, tabs, control
  and text-direction characters, a time without a zone, more than 256 KiB, more than 12 levels, anything but UTF-8.

INVARIANT: the tree is built from parser events with a list as the stack. Nothing recurses while reading and no alias is
ever followed, so neither a deep text nor an alias bomb costs more than its own length.
"""

import re
import sys
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from typing import Any, Literal, NoReturn

import yaml
from yaml.events import (
    AliasEvent,
    CollectionEndEvent,
    CollectionStartEvent,
    DocumentEndEvent,
    DocumentStartEvent,
    Event,
    MappingStartEvent,
    NodeEvent,
    ScalarEvent,
)

__all__ = ["MAX_BYTES", "MAX_LEVELS", "Node", "Problem", "Scalar", "SourceError", "load"]

MAX_BYTES = 256 * 1024
MAX_LEVELS = 12
MAX_DIGITS = 15
"""More digits than this do not survive in a float64."""
MAX_PROBLEMS = 50
_FOUND_LENGTH = 60

_QUICK_LOADER: type[yaml.CBaseLoader] | None = getattr(yaml, "CBaseLoader", None)
"""The same parser in C, twenty times as fast, where PyYAML was built with it."""

Scalar = None | bool | int | float | str | date | datetime

_NUMBER = re.compile(r"-?(?:0|[1-9][0-9]*)(\.[0-9]+)?")
_LONG_ESCAPE = re.compile(r"\\U([0-9A-Fa-f]{8})")
_BLOCK_STYLES = frozenset("|>")
_NUMBER_STARTS = frozenset("-0123456789")
_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_INSTANT = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}(?::[0-9]{2})?(?:Z|[+-][0-9]{2}:[0-9]{2})")
_INSTANT_LIKE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}[Tt ][0-9]{1,2}:[0-9]{2}\S*")
# Control characters but line feed, half surrogate pairs, other line ends, marks that reorder or hide what people read.
_FORBIDDEN = re.compile(
    "[\x00-\x09\x0b-\x1f\x7f-\x9f\u2028\u2029\u200b\u200e\u200f\u202a-\u202e\u2060-\u2069\ufeff\ufffe\uffff\ud800-\udfff]"
)
_WORDS: Mapping[str, bool | None] = {"true": True, "false": False, "null": None, "": None}


@dataclass(frozen=True)
class Problem:
    """One thing to mend in a source text.

    Attributes:
        name: Name of the text, usually its file name.
        line: Line, from 1.
        column: Column in characters, from 1.
        message: What is wrong, and what would be right.
        found: The offending value as written; "" where there is none.
        allowed: What is allowed there; "" where the message says it all.
    """

    name: str
    line: int
    column: int
    message: str
    found: str = ""
    allowed: str = ""

    def __str__(self) -> str:
        """``name:line:column: message``."""
        return f"{self.name}:{self.line}:{self.column}: {self.message}"


class SourceError(Exception):
    """The text is refused. ``problems`` holds every reason, in the order of the text."""

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        super().__init__("\n".join(str(problem) for problem in problems))
        self.problems = problems


@dataclass(frozen=True)
class Node:
    """One value with the place where it stands.

    Attributes:
        kind: "map", "list" or "scalar".
        value: A typed scalar, a dict of nodes, or a list of nodes.
        line: Line of its first character, from 1.
        column: Column of its first character, from 1.
        text: A scalar as written, without its quotes.
        keys: For a map, where each key stands: key -> (line, column).
    """

    kind: Literal["map", "list", "scalar"]
    value: Any
    line: int
    column: int
    text: str = ""
    keys: Mapping[str, tuple[int, int]] = field(default_factory=dict)

    def plain(self) -> Any:
        """The value without positions: None, bool, int, float, str, date, datetime, dict, list."""
        if self.kind == "map":
            return {key: node.plain() for key, node in self.value.items()}
        if self.kind == "list":
            return [node.plain() for node in self.value]
        return self.value


def load(text: str | bytes, *, name: str, max_bytes: int = MAX_BYTES, max_levels: int = MAX_LEVELS) -> Node:
    """Read one strict YAML document.

    Args:
        text: The document; bytes are UTF-8, with or without a byte order mark. Windows line ends are fine.
        name: What problems call the text.
        max_bytes: Largest size accepted, in bytes of UTF-8.
        max_levels: Deepest nesting of maps and lists accepted.

    Returns:
        The root node.

    Raises:
        SourceError: The text is refused; every problem that could be found is listed.
    """
    decoded = _decoded(text, name, max_bytes)
    problems = [
        Problem(name, *place, _character_message(character), repr(character))
        for place, character in _forbidden_characters(decoded)
    ]
    if problems:
        raise SourceError(tuple(problems))
    quick = _read_quickly(decoded, name, max_levels)
    return _read(decoded, name, max_levels) if quick is None else quick


def _read_quickly(text: str, name: str, max_levels: int) -> Node | None:
    """The tree by the parser in C; None where it is not there, takes offence, or cannot be trusted to be the same.

    The two parsers agree on every text in which this one finds nothing to refuse, except for what is doubtful below: so
    an answer, a refusal's words and its place are the same with it and without it.
    """
    if _QUICK_LOADER is None:
        return None
    tree = _Tree(name, max_levels)
    try:
        for event in yaml.parse(text, Loader=_QUICK_LOADER):
            if _is_doubtful(event):
                return None
            tree.take(event)
        return tree.finished()
    except (SourceError, yaml.YAMLError):
        return None


def _is_doubtful(event: Event) -> bool:
    """What the parsers place or even read differently.

    That is: blank values, a question mark in a text without quotes, text blocks, the marks around a document.
    """
    if isinstance(event, ScalarEvent):
        return event.style in _BLOCK_STYLES if event.style else (not event.value or "?" in event.value)
    return isinstance(event, DocumentStartEvent | DocumentEndEvent) and bool(event.explicit)


def _read(text: str, name: str, max_levels: int) -> Node:
    tree = _Tree(name, max_levels)
    try:
        for event in yaml.parse(text, Loader=yaml.BaseLoader):
            tree.take(event)
    except yaml.MarkedYAMLError as error:
        tree.refuse_syntax(error)
    except yaml.YAMLError as error:  # pragma: no cover - only the character check, already made, raises without a mark
        tree.problem(1, 1, str(error))
    except (ValueError, OverflowError):
        # The parser turns an escape such as \\U00110000 into a character without looking whether there is one.
        found = next((match for match in _LONG_ESCAPE.finditer(text) if int(match.group(1), 16) > sys.maxunicode), None)
        place = (1, 1) if found is None else _place(text, found.start())
        tree.problem(*place, "an escape beyond the last character there is", found.group() if found else "")
    return tree.finished()


def _decoded(text: str | bytes, name: str, max_bytes: int) -> str:
    size = len(text)
    if isinstance(text, str) and size <= max_bytes:
        size = len(text.encode("utf-8", "surrogatepass"))
    if size > max_bytes:
        raise SourceError(
            (Problem(name, 1, 1, f"the text has {size} bytes; at most {max_bytes} are read", allowed=f"{max_bytes}"),)
        )
    decoded = text if isinstance(text, str) else _utf8(text, name)
    return decoded.removeprefix("\ufeff").replace("\r\n", "\n")


def _utf8(data: bytes, name: str) -> str:
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        before = data[: error.start].decode("utf-8")
        found = repr(data[error.start : error.start + 1])
        message = f"the byte {found} is not UTF-8; save the file as UTF-8"
        raise SourceError((Problem(name, *_place(before, len(before)), message, found, "UTF-8"),)) from error


def _place(text: str, position: int) -> tuple[int, int]:
    return text.count("\n", 0, position) + 1, position - text.rfind("\n", 0, position)


def _forbidden_characters(text: str) -> Iterator[tuple[tuple[int, int], str]]:
    for count, match in enumerate(_FORBIDDEN.finditer(text)):
        if count == MAX_PROBLEMS:
            return
        yield _place(text, match.start()), match.group()


def _character_message(character: str) -> str:
    if character == "\t":
        return "a tab; indent and separate with spaces"
    return f"the character U+{ord(character):04X} is invisible or breaks the line; remove it"


def _start(event: Event) -> tuple[int, int]:
    mark = event.start_mark
    return (mark.line + 1, mark.column + 1) if mark is not None else (1, 1)


def _shorten(text: str) -> str:
    return text if len(text) <= _FOUND_LENGTH else text[: _FOUND_LENGTH - 1] + "…"


@dataclass
class _Open:
    """A map or list that has not ended yet."""

    kind: Literal["map", "list"]
    line: int
    column: int
    items: dict[str, Node] | list[Node]
    keys: dict[str, tuple[int, int]] = field(default_factory=dict)
    key: str | None = None
    """The key that waits for its value; None when a key comes next."""
    is_key: bool = False
    """The collection stands where a key should."""


class _Tree:
    """Builds nodes from events and notes what is refused."""

    def __init__(self, name: str, max_levels: int) -> None:
        self.name = name
        self.max_levels = max_levels
        self.problems: list[Problem] = []
        self.open: list[_Open] = []
        self.root: Node | None = None
        self.documents = 0

    def problem(self, line: int, column: int, message: str, found: str = "", allowed: str = "") -> None:
        self.problems.append(Problem(self.name, line, column, message, _shorten(found), allowed))
        if len(self.problems) >= MAX_PROBLEMS:
            self.stop()

    def stop(self) -> NoReturn:
        raise SourceError(tuple(sorted(self.problems, key=lambda problem: (problem.line, problem.column))))

    def finished(self) -> Node:
        if self.problems:
            self.stop()
        if self.root is None:
            self.problem(1, 1, "the text is empty; a map of keys and values is needed")
            self.stop()
        return self.root

    def refuse_syntax(self, error: yaml.MarkedYAMLError) -> None:
        mark = error.problem_mark or error.context_mark
        what = ", ".join(part for part in (error.context, error.problem) if part)
        line, column = (mark.line + 1, mark.column + 1) if mark else (1, 1)
        self.problem(line, column, f"not readable as YAML: {what}; quote a text that holds special characters")

    def take(self, event: Event) -> None:
        if isinstance(event, NodeEvent):
            line, column = _start(event)
            self.refuse_extras(event, line, column)
            if isinstance(event, CollectionStartEvent):
                self.start_collection(event, line, column)
            else:
                self.scalar(event, line, column)
        elif isinstance(event, CollectionEndEvent):
            self.end_collection()
        elif isinstance(event, DocumentStartEvent):
            self.start_document(event, *_start(event))

    def start_document(self, event: DocumentStartEvent, line: int, column: int) -> None:
        self.documents += 1
        if self.documents > 1:
            self.problem(line, column, "a second document begins here; one text holds one document", "---")
            self.stop()
        if event.version or event.tags:
            self.problem(line, column, "directives (%YAML, %TAG) are not allowed; remove the line", "%")

    def refuse_extras(self, event: NodeEvent, line: int, column: int) -> None:
        if isinstance(event, AliasEvent):
            self.problem(line, column, "an alias (*name) is not allowed; write the value again", f"*{event.anchor}")
        elif event.anchor is not None:
            self.problem(line, column, "an anchor (&name) is not allowed; write the value again", f"&{event.anchor}")
        tag = getattr(event, "tag", None)
        if tag is not None:
            self.problem(line, column, "a tag (!name) is not allowed; write plain values", str(tag))

    def start_collection(self, event: CollectionStartEvent, line: int, column: int) -> None:
        if len(self.open) >= self.max_levels:
            self.problem(line, column, f"nested more than {self.max_levels} levels deep", allowed=f"{self.max_levels}")
            self.stop()
        parent = self.open[-1] if self.open else None
        is_key = parent is not None and parent.kind == "map" and parent.key is None
        if is_key:
            self.problem(line, column, "a key must be a text, not a map or a list")
        if isinstance(event, MappingStartEvent):
            self.open.append(_Open("map", line, column, {}, is_key=is_key))
        else:
            self.open.append(_Open("list", line, column, [], is_key=is_key))

    def end_collection(self) -> None:
        done = self.open.pop()
        if done.is_key:
            self.open[-1].key = "?"
        else:
            self.place(Node(done.kind, done.items, done.line, done.column, keys=done.keys))

    def scalar(self, event: NodeEvent, line: int, column: int) -> None:
        text, quoted = (event.value, bool(event.style)) if isinstance(event, ScalarEvent) else ("", False)
        parent = self.open[-1] if self.open else None
        if parent is not None and parent.kind == "map" and parent.key is None:
            self.key(parent, event, text, quoted=quoted)
            return
        self.place(Node("scalar", self.typed(text, line, column, quoted=quoted), line, column, text))

    def key(self, parent: _Open, event: NodeEvent, text: str, *, quoted: bool) -> None:
        line, column = _start(event)
        parent.key = text
        if not quoted and not isinstance(self.typed(text, line, column, quoted=False), str):
            message = f"a key must be a text; {text!r} is not one, quote it if it is meant"
            if not isinstance(event, AliasEvent):
                self.problem(line, column, message, text)
        elif text in parent.keys:
            first = parent.keys[text][0]
            self.problem(line, column, f"the key {_shorten(text)!r} is already given in line {first}; keep one", text)
        else:
            self.refuse_hidden(text, line, column)
            parent.keys[text] = (line, column)

    def place(self, node: Node) -> None:
        if not self.open:
            self.root = node
            return
        parent = self.open[-1]
        if isinstance(parent.items, list):
            parent.items.append(node)
        elif parent.key is not None:
            parent.items.setdefault(parent.key, node)
            parent.key = None

    def refuse_hidden(self, text: str, line: int, column: int) -> None:
        """Escapes in double quotes can smuggle in what the first look over the characters refused."""
        found = _FORBIDDEN.search(text)
        if found:
            self.problem(line, column, _character_message(found.group()), repr(found.group()))

    def typed(self, text: str, line: int, column: int, *, quoted: bool) -> Scalar:
        if quoted:
            self.refuse_hidden(text, line, column)
            return text
        if text in _WORDS:
            return _WORDS[text]
        if text[0] not in _NUMBER_STARTS:
            return text
        number = _NUMBER.fullmatch(text)
        if number:
            return self.number(text, line, column, whole=number.group(1) is None)
        if _DAY.fullmatch(text) or _INSTANT_LIKE.fullmatch(text):
            return self.moment(text, line, column)
        return text

    def number(self, text: str, line: int, column: int, *, whole: bool) -> float:
        if sum(character.isdigit() for character in text) > MAX_DIGITS:
            message = f"a number with more than {MAX_DIGITS} digits; shorten it, or quote it if it is a text"
            self.problem(line, column, message, text)
            return 0
        return int(text) if whole else float(text) + 0.0

    def moment(self, text: str, line: int, column: int) -> Scalar:
        try:
            if _DAY.fullmatch(text):
                return date.fromisoformat(text)
            if _INSTANT.fullmatch(text):
                return datetime.fromisoformat(text).astimezone(UTC)
        except (ValueError, OverflowError):
            self.problem(line, column, f"{text} is not in the calendar", text, "a real day such as 2026-03-01")
            return None
        message = (
            f"{text} is not a time with a zone; write 2026-03-01T14:30Z or 2026-03-01T08:30-06:00, or quote a text"
        )
        self.problem(line, column, message, text, "2026-03-01T14:30Z")
        return None
