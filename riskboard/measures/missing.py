"""Which blank entries keep a measure unknown: found by trying, since what matters often hangs on the other entries.

A flight review is asked of a private pilot, a solo endorsement of a student only; a BasicMed course matters to those
who fly on one. No list of inputs can say that, and a second statement of every rule would drift from the first. So the
blank entries are filled in with many possible values, and then again with one of them left blank: an entry is wanted
when leaving it blank takes away an answer. INVARIANT: what is tried is worked out by the measure's own function, and
nothing here reaches a score.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from functools import cache
from hashlib import sha256

import numpy as np
from numpy.typing import NDArray

from riskboard.measures.registry import MEASURES, evaluate, inputs_of
from riskboard.worksheet.columns import CONTEXT, Columns, FloatArray, column_fields
from riskboard.worksheet.model import FIELD_PART, PARTS
from riskboard.worksheet.shape import Shape, shape_of

__all__ = ["wanted_entries"]

FIRST_TRIED = 8
TRIED = 256
"""Ways to fill in. With fewer, an entry that only matters beside certain answers to others may be overlooked."""

_DAY_S = 86_400.0
_HOUR_S = 3_600.0
_NUMBERS = (0.0, 0.02, 0.1, 0.25, 0.5, 0.75, 1.0)
_DAYS_AGO = (3.0, 20.0, 45.0, 200.0, 500.0, 1_500.0)
_HOURS_AGO = (0.5, 3.0, 11.0, 30.0)
_TAKE_OFF_IN_S = (1_800.0, 5_400.0, 43_200.0)
_FLIGHT_S = 3_600.0
_OFFSETS_S = (-21_600.0, 0.0, 43_200.0)
_PERIOD_S = {"start_at": -9.0 * _HOUR_S, "end_at": -2.0 * _HOUR_S}
_FORECAST_S = {"start_at": -2.0 * _HOUR_S, "end_at": 60.0 * _HOUR_S}


def wanted_entries(names: Iterable[str], columns: Columns, blank: Collection[str]) -> tuple[str, ...]:
    """The blank entries that filling in can help to make some measures known.

    Args:
        names: Measures, all of them unknown.
        columns: One worksheet as ``to_columns`` gives it, with what is too old to count left blank.
        blank: Entries that are blank in it.

    Returns:
        In reading order, every blank entry that some way of filling in the blank ones cannot do without. None where no
        way makes any of the measures known.
    """
    found: set[str] = set()
    for name in names:
        entries = tuple(sorted(inputs_of(name) & set(blank), key=_reading_order))
        if entries:
            found |= _wanted(name, columns, entries)
    return tuple(entry for entry in FIELD_PART if entry in found)


@cache
def _places() -> Mapping[str, int]:
    return {entry: place for place, entry in enumerate(FIELD_PART)}


def _reading_order(entry: str) -> int:
    return _places()[entry]


def _wanted(name: str, columns: Columns, entries: tuple[str, ...]) -> set[str]:
    """A few ways to fill in show most of the entries; the other ways are tried for the entries that are left."""
    found: set[str] = set()
    for ways in (slice(0, FIRST_TRIED), slice(FIRST_TRIED, TRIED)):
        left = tuple(entry for entry in entries if entry not in found)
        if left:
            found |= _tried(name, columns, entries, left, ways)
    return found


def _tried(name: str, columns: Columns, entries: tuple[str, ...], left: tuple[str, ...], ways: slice) -> set[str]:
    """Block 0 has entries filled in, block i the same but for the i-th of those left, which is blank."""
    count, blocks = ways.stop - ways.start, 1 + len(left)
    filled = {entry: np.tile(_is_filled(entry)[ways], (blocks, 1)) for entry in entries}
    for block, entry in enumerate(left, start=1):
        filled[entry][block] = False
    tried = {column: np.repeat(columns[column], blocks * count, axis=0) for column in _columns_of(name)}
    for entry in entries:
        for column, values in _fill(entry, columns).items():
            if column in tried:
                into = tried[column] if tried[column].ndim == 1 else tried[column][:, 0]
                into[:] = np.where(filled[entry], values[ways], np.nan).ravel()
    _fill_context(tried, columns, filled, ways)
    known = ~np.isnan(evaluate(tried, [name])[name]).reshape(blocks, count)
    return {entry for block, entry in enumerate(left, start=1) if (known[0] & ~known[block]).any()}


@cache
def _is_filled(entry: str) -> NDArray[np.bool_]:
    """In every other way to fill in, half of the entries stay blank: where one of several would do, each is wanted."""
    return (_picks(f"filled {entry}", 2) > 0) | (np.arange(TRIED) % 2 > 0)


def _fill_context(tried: Columns, columns: Columns, filled: Mapping[str, NDArray[np.bool_]], ways: slice) -> None:
    """Columns that are no entry follow from the entries they are made of."""
    given = [filled[entry] for entry in ("time_zone", "take_off_at") if entry in filled]
    if given and "utc_offset_s" in tried and np.isnan(columns["utc_offset_s"][0]):
        offsets = np.where(np.logical_and.reduce(given), _picked("time_zone", _OFFSETS_S)[ways], np.nan)
        tried["utc_offset_s"][:] = offsets.ravel()
    if "weather_true_at" in tried and "observed_at" in filled and np.isnan(columns["weather_true_at"][0]):
        tried["weather_true_at"][:] = np.where(filled["observed_at"].ravel(), tried["decided_at"] - 600.0, np.nan)


@cache
def _columns_of(name: str) -> frozenset[str]:
    """The columns a measure is worked out from, and the moment of decision, by which rows are counted."""
    found, waiting = {"decided_at"}, [name]
    while waiting:
        need = waiting.pop()
        if need in MEASURES:
            waiting += MEASURES[need].needs
        elif need in column_fields() or need in CONTEXT:
            found.add(need)
    return frozenset(found)


# -- what to fill in ---------------------------------------------------------------------------------------------------


@cache
def _columns_by_entry() -> Mapping[str, tuple[str, ...]]:
    found: dict[str, list[str]] = {}
    for column, entry in column_fields().items():
        found.setdefault(entry, []).append(column)
    return {entry: tuple(columns) for entry, columns in found.items()}


def _fill(entry: str, columns: Columns) -> dict[str, FloatArray]:
    """Values of an entry's columns, one for each way to fill in; of a list, none or one entry."""
    now = float(columns["decided_at"][0])
    shape = shape_of(PARTS[FIELD_PART[entry]], entry)
    if shape.entry is None:
        return {entry: _picked(entry, _single(entry, shape, now, columns))}
    counts = _picked(entry, (0.0, 1.0))
    found = {f"{entry}_count": counts}
    for column in _columns_by_entry()[entry]:
        sub = column.removeprefix(f"{entry}_")
        if column not in found:
            values = _picked(column, _of_a_list(entry, sub, shape_of(shape.entry, sub), now))
            found[column] = np.where(counts > 0.0, values, np.nan)
    return found


@cache
def _picks(what: str, choices: int) -> NDArray[np.intp]:
    """A choice for each way to fill in, as if at random and always the same."""
    drawn = [sha256(f"{what} {i}".encode()).digest() for i in range(TRIED)]
    return np.array([int.from_bytes(each[:4], "big") % choices for each in drawn])


def _picked(what: str, values: Sequence[float]) -> FloatArray:
    return np.array(values)[_picks(what, len(values))]


def _single(entry: str, shape: Shape, now: float, columns: Columns) -> Sequence[float]:
    if entry == "take_off_at":
        landing = float(columns["landing_at"][0])
        return [now + later for later in _TAKE_OFF_IN_S] if np.isnan(landing) else [landing - _FLIGHT_S]
    if entry == "landing_at":
        take_off = float(columns["take_off_at"][0])
        return [(now + _TAKE_OFF_IN_S[-1] if np.isnan(take_off) else take_off) + _FLIGHT_S]
    return _values(shape, now)


def _of_a_list(entry: str, sub: str, shape: Shape, now: float) -> Sequence[float]:
    period = _FORECAST_S if entry == "forecast_lines" else _PERIOD_S
    return [now + period[sub]] if sub in period else _values(shape, now)


def _values(shape: Shape, now: float) -> list[float]:
    """Possible values of a field as columns hold them (``worksheet/columns.py``)."""
    if shape.kind == "choice":
        found = [float(code) for code in range(len(shape.vocabulary or ()))]
    elif shape.kind == "flag":
        found = [0.0, 1.0]
    elif shape.kind == "day":
        today = now // _DAY_S
        found = [today - ago for ago in _DAYS_AGO]
    elif shape.kind == "instant":
        found = [now - ago * _HOUR_S for ago in _HOURS_AGO]
    elif shape.lowest is not None and shape.highest is not None:
        found = [shape.lowest + part * (shape.highest - shape.lowest) for part in _NUMBERS]
    else:
        found = [1.0]
    if shape.kind not in {"choice", "flag"} and (shape.none_answer or shape.words):
        found.append(0.0 if shape.kind in {"text", "note"} else np.inf)
    return found
