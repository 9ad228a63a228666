"""What a value in a type file can be. The file's own keys stand in ``schema.py``; reader and editor schema follow."""

from dataclasses import dataclass

from riskboard.yaml_record import Choice, Day, Key, ListOf, MapOf, Record, Text, Whole

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
class Flag:
    """true or false."""


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


Kind = Text | Flag | Whole | Number | Range | Axis | Table | Corners | Choice | Day | ListOf | MapOf | Record
