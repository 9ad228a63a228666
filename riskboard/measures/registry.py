"""The registry: what every measure is called, its unit, its worse direction, what it needs, and where it comes from.

A measure is one function whose parameter names say what it needs: a worksheet column (``worksheet/columns.py``), a
context column, or another measure. It gets float64 arrays with one row per worksheet and returns one value per row, NaN
where unknown. Registering is all it takes: the policy language, the docs and the shape, NaN, range and direction tests
follow from the registry.
"""

import inspect
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import cache

import numpy as np

from riskboard.words import Direction, Group, Guard
from riskboard.worksheet.columns import CONTEXT, Columns, FloatArray, column_fields

__all__ = [
    "GUARDS",
    "MEASURES",
    "Measure",
    "evaluate",
    "evaluate_guards",
    "guard",
    "inputs_of",
    "load_all",
    "measure",
    "quantity",
]

Function = Callable[..., FloatArray]


@dataclass(frozen=True)
class Measure:
    """One computed quantity.

    Attributes:
        name: Name used in policies, with its unit as suffix.
        label: What a person reads, e.g. "density altitude at departure".
        unit: Unit as shown ("ft", "kt", "h", ...); "" for a yes-or-no (0 or 1) or a code.
        worse: Which way it gets worse.
        low: Lowest valid value; anything below is unknown.
        high: Highest valid value; anything above is unknown.
        group: PAVE group it usually belongs to.
        source: Published rule or formula, or "common practice, no source".
        needs: Parameter names: columns or other measures.
        function: The computation.
        decimals: Resolution to round to before comparing and showing.
        words: For codes and yes-or-no: what each whole number means.
        internal: An intermediate that policies cannot name.
    """

    name: str
    label: str
    unit: str
    worse: Direction
    low: float
    high: float
    group: Group
    source: str
    needs: tuple[str, ...]
    function: Function
    decimals: int
    words: Mapping[int, str]
    internal: bool

    @property
    def doc(self) -> str:
        """The function's own description."""
        return inspect.getdoc(self.function) or ""


MEASURES: dict[str, Measure] = {}
GUARDS: dict[Guard, Measure] = {}


def _needs(function: Function) -> tuple[str, ...]:
    return tuple(inspect.signature(function).parameters)


def measure(
    label: str,
    unit: str,
    *,
    worse: Direction,
    valid: tuple[float, float],
    group: Group,
    source: str,
    decimals: int = 0,
    words: Mapping[int, str] | None = None,
) -> Callable[[Function], Function]:
    """Register a function as the measure of the same name. See :class:`Measure` for the arguments."""

    def register(function: Function) -> Function:
        name = function.__name__
        if name in MEASURES or name in column_fields() or name in CONTEXT:
            raise ValueError(f"the name {name!r} is taken; every fact and measure has a name of its own")
        MEASURES[name] = Measure(
            name,
            label,
            unit,
            worse,
            *valid,
            group,
            source,
            _needs(function),
            function,
            decimals,
            words or {},
            internal=False,
        )
        return function

    return register


def quantity(function: Function) -> Function:
    """Register an intermediate that measures need but no policy names: any shape, one row per worksheet."""
    name = function.__name__
    if name in MEASURES or name in column_fields() or name in CONTEXT:
        raise ValueError(f"the name {name!r} is taken; every fact and measure has a name of its own")
    MEASURES[name] = Measure(
        name,
        name,
        "",
        Direction.neither,
        -np.inf,
        np.inf,
        Group.environment,
        "",
        _needs(function),
        function,
        0,
        {},
        internal=True,
    )
    return function


def guard(function: Function) -> Function:
    """Register the truth of a guard word: 1 true, 0 false, NaN unknown. The function has the word's name."""
    word = Guard(function.__name__)
    GUARDS[word] = Measure(
        word,
        word.replace("_", " "),
        "",
        Direction.neither,
        0,
        1,
        Group.environment,
        "",
        _needs(function),
        function,
        0,
        {},
        internal=False,
    )
    return function


def load_all() -> None:
    """Import every module that registers measures. Cheap; needed before the registry is read."""
    from riskboard.measures import (  # noqa: F401, PLC0415  - importing registers; done on demand so that the registry itself imports nothing
        register_air,
        register_aircraft,
        register_external,
        register_fitness,
        register_forecast,
        register_guards,
        register_light,
        register_pilot,
        register_wind,
    )


def _compute(name: str, columns: Columns, done: Columns, rows: int) -> FloatArray:
    if name in done:
        return done[name]
    if name in columns:
        return columns[name]
    entry = MEASURES[name]
    raw = entry.function(*(_compute(need, columns, done, rows) for need in entry.needs))
    done[name] = raw if entry.internal else _checked(entry, raw, rows)
    return done[name]


def _checked(entry: Measure, raw: FloatArray, rows: int) -> FloatArray:
    """Outside its valid range a measure is unknown: better a question than a wrong number."""
    if raw.shape != (rows,):
        raise TypeError(f"measure {entry.name} returned shape {raw.shape}, expected ({rows},)")
    known = (raw >= entry.low) & (raw <= entry.high)
    return np.where(known, np.round(raw, entry.decimals) + 0.0, np.nan)


def evaluate(columns: Columns, names: Iterable[str]) -> Columns:
    """Compute the named measures.

    Args:
        columns: From ``to_columns``; all with the same number of rows.
        names: Measures to compute; what they need is computed once.

    Returns:
        name -> (rows,) float64, rounded to the measure's resolution, NaN where unknown or outside the valid range.

    Raises:
        KeyError: No measure has that name.
    """
    rows = len(columns["decided_at"])
    done: Columns = {}
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        return {name: _compute(name, columns, done, rows) for name in names}


def evaluate_guards(columns: Columns, words: Iterable[Guard]) -> dict[Guard, FloatArray]:
    """The truth of guard words: 1 true, 0 false, NaN unknown; shape (rows,)."""
    rows = len(columns["decided_at"])
    done: Columns = {}
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        return {
            word: _checked(
                GUARDS[word],
                GUARDS[word].function(*(_compute(need, columns, done, rows) for need in GUARDS[word].needs)),
                rows,
            )
            for word in words
        }


@cache
def inputs_of(name: str) -> frozenset[str]:
    """The worksheet fields a measure (or guard word) depends on, directly or through other measures."""
    if name in column_fields():
        return frozenset({column_fields()[name]})
    if name in CONTEXT:
        return frozenset(
            {"decided_at": set(), "utc_offset_s": {"time_zone", "take_off_at"}, "weather_true_at": {"observed_at"}}[
                name
            ]
        )
    entry = MEASURES[name] if name in MEASURES else GUARDS[Guard(name)]
    return frozenset().union(*(inputs_of(need) for need in entry.needs))
