"""What a field accepts, read off its own type: the form, the error messages and the blank sheet all say the same."""

import types
import typing
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from enum import Enum
from functools import cache
from typing import Literal

from pydantic import AwareDatetime, BaseModel
from pydantic.fields import FieldInfo

from riskboard.words import NONE
from riskboard.worksheet.kinds import LONGEST_TEXT
from riskboard.yaml_record import nearest

__all__ = ["Kind", "Shape", "nearest", "shape_of"]

Kind = Literal["number", "whole", "flag", "choice", "day", "instant", "text", "note", "list"]


@dataclass(frozen=True)
class Shape:
    """What may be written in one field. Blank is always allowed in a part and means unknown.

    Attributes:
        kind: Sort of value.
        lowest: Least number accepted, for numbers.
        highest: Greatest number accepted, for numbers.
        words: Words accepted: a choice's vocabulary, or "variable" beside a number. Never "none".
        none_answer: The answer "none" is accepted (a list answers "none" by being empty).
        longest: Most characters of a text.
        entry: Model of one entry of a list.
        vocabulary: The enumeration behind a choice.
    """

    kind: Kind
    lowest: float | None = None
    highest: float | None = None
    words: tuple[str, ...] = ()
    none_answer: bool = False
    longest: int | None = None
    entry: type[BaseModel] | None = None
    vocabulary: type[Enum] | None = None

    def right(self, unit: str = "") -> str:
        """What would be right, as the end of a sentence that begins with "write"."""
        return " or ".join([_RIGHT[self.kind](self, unit), *self._extra_words()])

    def _extra_words(self) -> Iterator[str]:
        if self.kind in {"number", "whole"}:
            yield from (f"'{word}'" for word in self.words)
        if self.none_answer and self.kind != "choice":
            yield f"'{NONE}'"


def _number_right(shape: Shape, unit: str) -> str:
    what = "a whole number" if shape.kind == "whole" else "a number"
    return f"{what} from {shape.lowest:g} to {shape.highest:g}{' ' + unit if unit else ''}"


def _list_right(shape: Shape, _: str) -> str:
    names = ", ".join(shape.entry.model_fields) if shape.entry is not None else ""
    return f"a list of entries, each with {names}"


_RIGHT = {
    "number": _number_right,
    "whole": _number_right,
    "flag": lambda _shape, _unit: "true or false",
    "choice": lambda shape, _unit: f"one of {', '.join(shape.words)}",
    "day": lambda _shape, _unit: "a date such as 2026-05-04",
    "instant": lambda _shape, _unit: "a date and time with its zone, such as 2026-05-04T14:30Z",
    "text": lambda shape, _unit: f"one line of up to {shape.longest} characters",
    "note": lambda shape, _unit: f"a text of up to {shape.longest} characters",
    "list": _list_right,
}


@dataclass
class _Leaf:
    """One alternative of a field's type, with the bounds that stand beside it."""

    of: object
    bounds: dict[str, float] = field(default_factory=dict)


def _bounds(metadata: Iterable[object]) -> dict[str, float]:
    found: dict[str, float] = {}
    for item in metadata:
        if isinstance(item, FieldInfo):
            found |= _bounds(item.metadata)
        for name in ("ge", "le", "max_length"):
            value = getattr(item, name, None)
            if isinstance(value, int | float):
                found[name] = value
    return found


def _leaves(annotation: object, bounds: dict[str, float]) -> Iterator[_Leaf]:
    origin, arguments = typing.get_origin(annotation), typing.get_args(annotation)
    if origin is typing.Annotated:
        yield from _leaves(arguments[0], bounds | _bounds(arguments[1:]))
    elif origin in {typing.Union, types.UnionType}:
        for part in arguments:
            yield from _leaves(part, bounds)
    elif annotation is not type(None):
        yield _Leaf(annotation, bounds)


_PLAIN_KINDS: dict[object, Kind] = {bool: "flag", datetime: "instant", AwareDatetime: "instant", date: "day"}


def _leaf_shape(leaf: _Leaf) -> Shape:
    kind = leaf.of
    if kind in _PLAIN_KINDS:
        return Shape(_PLAIN_KINDS[kind])
    if typing.get_origin(kind) is tuple:
        return Shape("list", none_answer=True, entry=typing.get_args(kind)[0])
    if kind in {int, float}:
        return Shape("whole" if kind is int else "number", leaf.bounds["ge"], leaf.bounds["le"])
    if kind is str:
        longest = int(leaf.bounds["max_length"])
        return Shape("text" if longest <= LONGEST_TEXT else "note", longest=longest)
    if isinstance(kind, type) and issubclass(kind, Enum):
        return Shape("choice", words=tuple(str(word.value) for word in kind), vocabulary=kind)
    raise TypeError(f"no shape for {kind!r}")


@cache
def shape_of(model: type[BaseModel], name: str) -> Shape:
    """What the field ``name`` of a part or an entry accepts.

    Raises:
        KeyError: The model has no such field.
        TypeError: The field's type is none that a worksheet knows.
    """
    info = model.model_fields[name]
    leaves = list(_leaves(info.annotation, _bounds(info.metadata)))
    literals = [leaf for leaf in leaves if typing.get_origin(leaf.of) is Literal]
    words = [str(word) for leaf in literals for word in typing.get_args(leaf.of)]
    (main,) = (leaf for leaf in leaves if leaf not in literals)
    shape = _leaf_shape(main)
    extra = tuple(word for word in words if word != NONE)
    return replace(shape, words=shape.words + extra, none_answer=shape.none_answer or NONE in words + list(shape.words))
