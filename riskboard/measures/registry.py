"""The registry: what every measure is called, its unit, its worse direction, what it needs, and where it comes from.

A measure is one function whose parameter names say what it needs: a worksheet column (``worksheet/columns.py``), a
context column, or another measure. It gets float64 arrays with one row per worksheet and returns one value per row, NaN
where unknown. Registering is all it takes: the policy language, the docs and the shape, NaN, range and direction tests
follow from the registry.
"""

import inspect
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import cache, lru_cache
from operator import itemgetter
from typing import NamedTuple

import numpy as np

from riskboard.words import Direction, Group, Guard
from riskboard.worksheet.columns import AIRFRAME, CONTEXT, Columns, FloatArray, column_fields

__all__ = [
    "GUARDS",
    "MEASURES",
    "Measure",
    "evaluate",
    "evaluate_guards",
    "evaluate_together",
    "guard",
    "inputs_of",
    "load_all",
    "measure",
    "quantity",
    "rests_on_airframe",
]

Function = Callable[..., FloatArray]


@dataclass(frozen=True, eq=False)
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
        rests_on: What the value rests on, where that is less than all it needs: of an intermediate that holds several
            quantities in one pass, what the quantity used is made of.
        function: The computation.
        decimals: Resolution to round to before comparing and showing.
        words: For codes and yes-or-no: what each whole number means.
        internal: An intermediate that policies cannot name.
        at_low: What the lowest valid value means where it is no quantity, such as a margin that nothing can restore.
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
    rests_on: tuple[str, ...] = ()
    at_low: str = ""

    @property
    def doc(self) -> str:
        """The function's own description."""
        return inspect.getdoc(self.function) or ""


BLOCK_ROWS = 2_048
"""Rows worked out at a time: what a measure builds on stays in the processor's cache. 65,536 rows took 2.8 s in such
blocks and 7.5 s at once; from 2,048 to 8,192 it makes no difference."""

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
    rests_on: tuple[str, ...] = (),
    at_low: str = "",
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
            rests_on=rests_on,
            at_low=at_low,
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
        register_airframe,
        register_external,
        register_fitness,
        register_forecast,
        register_guards,
        register_light,
        register_pilot,
        register_wind,
    )


class _Step(NamedTuple):
    """One function to call, with what it needs and the range and resolution to hold its answer to."""

    name: str
    function: Function
    pick: Callable[[Columns], tuple[FloatArray, ...]]
    internal: bool
    low: float
    high: float
    scale: float


class _Plan(NamedTuple):
    """What to work out for some measures: first what they build on, in an order that can be followed, then they.

    The ranges and resolutions of the measures asked for are columns, so that all of them are checked at once.
    """

    inner: tuple[_Step, ...]
    asked: tuple[_Step, ...]
    low: FloatArray
    high: FloatArray
    scale: FloatArray


def _picker(needs: tuple[str, ...]) -> Callable[[Columns], tuple[FloatArray, ...]]:
    """What takes the needs out of the facts, in their order."""
    if len(needs) > 1:
        return itemgetter(*needs)
    return lambda facts: tuple(facts[need] for need in needs)


def _step(entry: Measure) -> _Step:
    pick, scale = _picker(entry.needs), 10.0**entry.decimals
    return _Step(entry.name, entry.function, pick, entry.internal, entry.low, entry.high, scale)


@lru_cache(maxsize=1024)
def _plan(entries: tuple[Measure, ...], given: tuple[str, ...]) -> _Plan:
    inner: dict[str, _Step] = {}

    def require(name: str) -> None:
        if name not in given and name not in inner:
            entry = MEASURES[name]
            for need in entry.needs:
                require(need)
            inner[name] = _step(entry)

    for entry in entries:
        for need in entry.needs:
            require(need)
    asked = tuple(_step(entry) for entry in entries)
    low, high, scale = (
        np.array([values], dtype=np.float64).T
        for values in ([s.low for s in asked], [s.high for s in asked], [s.scale for s in asked])
    )
    return _Plan(tuple(inner.values()), asked, low, high, scale)


def _checked(
    raw: FloatArray, low: float | FloatArray, high: float | FloatArray, scale: float | FloatArray
) -> FloatArray:
    """Outside its valid range a measure is unknown: better a question than a wrong number."""
    # Adding zero turns a negative zero into zero, so that equal facts print alike.
    return np.where((raw >= low) & (raw <= high), np.rint(raw * scale) / scale + 0.0, np.nan)


def _called(step: _Step, facts: Columns, rows: int) -> FloatArray:
    found = step.function(*step.pick(facts))
    if not step.internal and found.shape != (rows,):
        raise TypeError(f"measure {step.name} returned shape {found.shape}, expected ({rows},)")
    return found


def _evaluated(entries: tuple[Measure, ...], columns: Columns, done: Columns) -> FloatArray:
    """(entries, rows). What others build on is checked and rounded before they get it, and worked out once."""
    rows = len(columns["decided_at"])
    if not entries:
        return np.empty((0, rows))
    plan = _plan(entries, tuple(columns))
    facts = columns | done
    raw = np.empty((len(entries), rows))
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        for step in plan.inner:
            if step.name not in facts:
                found = _called(step, facts, rows)
                checked = found if step.internal else _checked(found, step.low, step.high, step.scale)
                facts[step.name] = done[step.name] = checked
        for i, step in enumerate(plan.asked):
            # Not ``facts``: a guard word may have the name of a column.
            raw[i] = done[step.name] if step.name in done else _called(step, facts, rows)
        return _checked(raw, plan.low, plan.high, plan.scale)


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
    shared = {} if done is None else done
    found = dict(zip((entry.name for entry in entries), _evaluated(entries, columns, shared), strict=True))
    shared |= found
    return found


def evaluate_guards(
    columns: Columns, words: Iterable[Guard], *, done: Columns | None = None
) -> dict[Guard, FloatArray]:
    """The truth of guard words: 1 true, 0 false, NaN unknown; shape (rows,). ``done`` as in :func:`evaluate`."""
    entries = tuple(GUARDS[word] for word in words)
    found = _evaluated(entries, columns, {} if done is None else done)
    return dict(zip((Guard(entry.name) for entry in entries), found, strict=True))


def evaluate_together(
    columns: Columns, names: Iterable[str], words: Iterable[Guard]
) -> tuple[Columns, dict[Guard, FloatArray]]:
    """Measures and guard words of any number of worksheets, a block of rows at a time; no row depends on another.

    Args:
        columns: From ``to_columns``; all with the same number of rows.
        names: Measures to compute.
        words: Guard words to compute.

    Returns:
        As :func:`evaluate` and :func:`evaluate_guards`.

    Raises:
        KeyError: No measure has that name.
    """
    entries, guards = tuple(MEASURES[name] for name in names), tuple(GUARDS[word] for word in words)
    rows = len(columns["decided_at"])
    found, truths = np.empty((len(entries), rows)), np.empty((len(guards), rows))
    for start in range(0, rows, BLOCK_ROWS):
        part = slice(start, start + BLOCK_ROWS)
        block = columns if rows <= BLOCK_ROWS else {name: values[part] for name, values in columns.items()}
        done: Columns = {}
        found[:, part] = _evaluated(entries, block, done)
        done |= zip((entry.name for entry in entries), found[:, part], strict=True)
        truths[:, part] = _evaluated(guards, block, done)
    measures = dict(zip((entry.name for entry in entries), found, strict=True))
    return measures, dict(zip((Guard(entry.name) for entry in guards), truths, strict=True))


@cache
def rests_on_airframe(name: str) -> bool:
    """Whether a measure needs what the type of the aircraft says."""
    if name in MEASURES:
        return any(rests_on_airframe(need) for need in MEASURES[name].needs)
    return name in AIRFRAME


@cache
def inputs_of(name: str) -> frozenset[str]:
    """The worksheet fields a measure (or guard word) depends on, directly or through other measures."""
    if name in column_fields():
        return frozenset({column_fields()[name]})
    if name in AIRFRAME:
        return frozenset(AIRFRAME[name])
    if name in CONTEXT:
        return frozenset(
            {"decided_at": set(), "utc_offset_s": {"time_zone", "take_off_at"}, "weather_true_at": {"observed_at"}}[
                name
            ]
        )
    entry = MEASURES[name] if name in MEASURES else GUARDS[Guard(name)]
    return frozenset().union(*(inputs_of(need) for need in entry.rests_on or entry.needs))
