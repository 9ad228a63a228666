"""What a value in a type file can be. The file's own keys stand in ``schema.py``; reader and editor schema follow."""

from collections.abc import Mapping
from dataclasses import dataclass

__all__ = [
    "UNIT_SUFFIXES",
    "Axis",
    "Choice",
    "Corners",
    "Day",
    "Flag",
    "Key",
    "Kind",
    "ListOf",
    "MapOf",
    "Number",
    "Range",
    "Record",
    "Table",
    "Text",
    "Whole",
]

UNIT_SUFFIXES = (
    "gal_per_h", "lb_per_gal", "in_lb", "months", "inhg", "gal", "pct", "rpm", "min", "lb", "in", "ft", "kt", "kg",
    "nm", "sm", "mm", "cm", "l", "f", "c", "s", "h", "m", "d",
)  # fmt: skip
"""Units as they end the name of a key, longest first, so that the longest that fits is taken."""


@dataclass(frozen=True)
class Text:
    """A text. ``pattern`` matches the whole of it and ``what`` says in words what the pattern wants."""

    longest: int = 200
    pattern: str = ""
    what: str = ""


@dataclass(frozen=True)
class Flag:
    """true or false."""


@dataclass(frozen=True)
class Whole:
    """A whole number, bounds inclusive."""

    low: int
    high: int


@dataclass(frozen=True)
class Number:
    """A plain decimal, bounds inclusive; ``above`` is a bound that must be exceeded instead of ``low``."""

    low: float
    high: float
    above: bool = False


@dataclass(frozen=True)
class Range:
    """``[lowest, highest]``: two numbers, the second greater."""

    item: Number


@dataclass(frozen=True)
class Axis:
    """The places of a table's rows or columns: numbers, each greater than the one before."""

    item: Number


@dataclass(frozen=True)
class Table:
    """Rows of numbers; a blank cell is ``null``."""

    item: Number


@dataclass(frozen=True)
class Corners:
    """Corners of a polygon, each ``[x, y]``, in order around it."""

    x: Number
    y: Number
    what: str


@dataclass(frozen=True)
class Choice:
    """One of some words."""

    words: tuple[str, ...]


@dataclass(frozen=True)
class Day:
    """A calendar day."""


@dataclass(frozen=True)
class ListOf:
    """A list with at least some items."""

    item: "Kind"
    at_least: int = 0


@dataclass(frozen=True)
class MapOf:
    """A map from names to one kind of value; ``words`` closes the set of names, ``name`` describes it otherwise."""

    item: "Kind"
    name: Text = Text()
    words: tuple[str, ...] = ()
    at_least: int = 0


@dataclass(frozen=True)
class Key:
    """One key of a record: the kind of its value, what it means, and whether it must be there."""

    kind: "Kind"
    about: str
    required: bool = True


@dataclass(frozen=True)
class Record:
    """A map with known keys. Of the keys in each group of ``one_of``, exactly one must be given."""

    name: str
    keys: Mapping[str, Key]
    one_of: tuple[tuple[str, ...], ...] = ()


Kind = Text | Flag | Whole | Number | Range | Axis | Table | Corners | Choice | Day | ListOf | MapOf | Record
