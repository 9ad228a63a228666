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


def _needed(name: str, columns: Columns, done: Columns, rows: int) -> FloatArray:
    """A column, or a measure as others may build on it: checked and rounded, worked out once."""
    if name in columns:
        return columns[name]
    if name not in done:
        entry = MEASURES[name]
        raw = _raw(entry, columns, done, rows)
        done[name] = raw if entry.internal else _checked(raw[None, :], (entry,))[0]
    return done[name]


def _raw(entry: Measure, columns: Columns, done: Columns, rows: int) -> FloatArray:
    if entry.name in done:
        return done[entry.name]
    found = entry.function(*[_needed(need, columns, done, rows) for need in entry.needs])
    if not entry.internal and found.shape != (rows,):
        raise TypeError(f"measure {entry.name} returned shape {found.shape}, expected ({rows},)")
    return found


def _checked(raw: FloatArray, entries: tuple[Measure, ...]) -> FloatArray:
    """Outside its valid range a measure is unknown: better a question than a wrong number. (measures, rows)."""
    low = np.array([entry.low for entry in entries])[:, None]
    high = np.array([entry.high for entry in entries])[:, None]
    scale = np.array([10.0**entry.decimals for entry in entries])[:, None]
    # Adding zero turns a negative zero into zero, so that equal facts print alike.
    return np.where((raw >= low) & (raw <= high), np.rint(raw * scale) / scale + 0.0, np.nan)


def _evaluated(entries: tuple[Measure, ...], columns: Columns, done: Columns) -> FloatArray:
    rows = len(columns["decided_at"])
    if not entries:
        return np.empty((0, rows))
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        return _checked(np.stack([_raw(entry, columns, done, rows) for entry in entries]), entries)


def evaluate(columns: Columns, names: Iterable[str], *, done: Columns | None = None) -> Columns:
    """Compute the named measures.

    Args:
        columns: From ``to_columns``; all with the same number of rows.
        names: Measures to compute; what they need is computed once.
        done: What was worked out before for the same columns, and what is worked out now; share it between calls.

    Returns:
        name -> (rows,) float64, rounded to the measure's resolution, NaN where unknown or outside the valid range.

    Raises:
        KeyError: No measure has that name.
    """
    entries = tuple(MEASURES[name] for name in names)
    found = _evaluated(entries, columns, {} if done is None else done)
    return {entry.name: found[i] for i, entry in enumerate(entries)}


def evaluate_guards(
    columns: Columns, words: Iterable[Guard], *, done: Columns | None = None
) -> dict[Guard, FloatArray]:
    """The truth of guard words: 1 true, 0 false, NaN unknown; shape (rows,). ``done`` as in :func:`evaluate`."""
    entries = tuple(GUARDS[word] for word in words)
    found = _evaluated(entries, columns, {} if done is None else done)
    return {Guard(entry.name): found[i] for i, entry in enumerate(entries)}


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
