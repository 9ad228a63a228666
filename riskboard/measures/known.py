"""Checked numbers, and three-valued logic in which known failure beats unknown beats pass.

Truth is a float64 so that it can live beside every measure: 1 is true, 0 is false, NaN is unknown.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "Floats",
    "Number",
    "all_of",
    "any_of",
    "both",
    "checked",
    "either",
    "limited",
    "not_below",
    "not_of",
    "plain",
    "rounded",
    "row_of",
    "settled",
    "tightest",
    "tightest_rows",
    "truth",
]

Floats = NDArray[np.float64]
Number = float | Floats
"""One value or an array of them; a result has the shape of what came in."""

_NOISE = 1e6


def checked(
    name: str,
    value: ArrayLike | None,
    *,
    at_least: float | None = None,
    above: float | None = None,
    up_to: float | None = None,
) -> Floats:
    """Read one argument as float64, refusing what cannot be.

    Args:
        name: The argument's name, for the error.
        value: Number or array; None and NaN are unknown and always allowed.
        at_least: Lowest possible value, inclusive.
        above: Bound that the value must exceed.
        up_to: Highest possible value, inclusive.

    Returns:
        The value as a float64 array (0-d for a scalar).

    Raises:
        ValueError: A value is no number, infinite or outside the bounds; the message names the argument.
    """
    raw = np.asarray(value)
    if raw.dtype.kind not in "biufO" or any(isinstance(item, str) for item in raw.flat if raw.dtype.kind == "O"):
        raise ValueError(f"{name} must be a number or an array of numbers; found {value!r}")
    array = raw.astype(np.float64)
    _refuse(name, array, np.isinf(array), "finite, or NaN for unknown")
    if at_least is not None:
        _refuse(name, array, array < at_least, f"at least {at_least:g}")
    if above is not None:
        _refuse(name, array, array <= above, f"above {above:g}")
    if up_to is not None:
        _refuse(name, array, array > up_to, f"at most {up_to:g}")
    return array


def plain(array: Floats) -> Number:
    """A 0-d array as a float, anything larger as it is: scalars in, scalars out."""
    return float(array) if array.ndim == 0 else array


def truth(condition: NDArray[np.bool_], *facts: Floats) -> Number:
    """A condition as 1 or 0, and NaN where any of the facts behind it is unknown."""
    unknown = np.zeros(condition.shape, dtype=np.bool_)
    for fact in facts:
        unknown = unknown | np.isnan(fact)
    return plain(np.where(unknown, np.nan, np.where(condition, 1.0, 0.0)))


def settled(value: ArrayLike) -> Number:
    """Take the binary noise off a difference of typed decimals (rounded to 1e-6, never to -0).

    Without it 1300 - (1298.5 + 1.5) style arithmetic can end a hair below zero, on the wrong side of a limit.
    """
    return plain(rounded(np.asarray(value, dtype=np.float64)))


def rounded(value: Floats) -> Floats:
    """:func:`settled` on arrays."""
    return np.asarray(np.rint(value * _NOISE) / _NOISE + 0.0)


def limited(value: Floats, low: float | Floats, high: float | Floats) -> Floats:
    """Hold values within a range; NaN stays NaN. ``np.clip`` costs five times as much on one row."""
    return np.asarray(np.minimum(np.maximum(value, low), high))


def both(*parts: Floats) -> Floats:
    """Three-valued "and" of arrays of 1, 0 and NaN: a sure 0 settles it; otherwise the product, NaN if one is."""
    refuted, product = parts[0] == 0, parts[0]
    for part in parts[1:]:
        refuted, product = refuted | (part == 0), product * part
    return np.where(refuted, 0.0, product)


def either(*parts: Floats) -> Floats:
    """Three-valued "or" of arrays of 1, 0 and NaN: a sure 1 settles it; otherwise the sum, 0 or NaN."""
    sure, total = parts[0] == 1, parts[0]
    for part in parts[1:]:
        sure, total = sure | (part == 1), total + part
    return np.where(sure, 1.0, total)


def not_below(value: ArrayLike, bound: ArrayLike) -> Number:
    """Whether ``value >= bound``: 1, 0, or NaN where either is unknown."""
    left, right = np.asarray(value, dtype=np.float64), np.asarray(bound, dtype=np.float64)
    return truth(np.asarray(left >= right), left, right)


def not_of(value: ArrayLike) -> Number:
    """Three-valued "not": unknown stays unknown."""
    return plain(1.0 - _truth(value, "value"))


def all_of(*truths: ArrayLike) -> Number:
    """Three-valued "and": 0 if any part is false, else NaN if any is unknown, else 1.

    With no parts the answer is 1: an empty list has nothing that fails.

    Args:
        truths: Each 1, 0 or NaN; scalars or arrays that broadcast.

    Returns:
        1, 0 or NaN, in the broadcast shape.

    Raises:
        ValueError: A part is neither 0, 1 nor NaN.
    """
    return plain(both(np.asarray(1.0), *(_truth(part, f"truths[{index}]") for index, part in enumerate(truths))))


def any_of(*truths: ArrayLike) -> Number:
    """Three-valued "or": 1 if any part is true, else NaN if any is unknown, else 0."""
    return not_of(all_of(*(not_of(part) for part in truths)))


def tightest(margins: ArrayLike, *, applies: ArrayLike | None = None) -> Number:
    """Fold the margins of a list of items (last axis) into one: known failure beats unknown beats pass.

    A negative margin is a failure. If any item is known to fail, the answer is the worst known margin even when
    other items are unknown; otherwise NaN if any is unknown; otherwise the smallest margin. An unknown item beside a
    failed one could be still worse, so policy bounds on such a measure belong at 0 or above.

    Args:
        margins: Margins in any one unit, shape (..., items); inf where an item sets no limit.
        applies: Mask of the same shape; items where it is false are not looked at (padding, not fitted).

    Returns:
        One margin per row; +inf where no item applies ("none" is an answer).
    """
    values = np.asarray(margins, dtype=np.float64)
    if applies is not None:
        values = np.where(np.asarray(applies, dtype=np.bool_), values, np.inf)
    return plain(tightest_rows(values))


def tightest_rows(margins: Floats, axis: int = -1) -> Floats:
    """:func:`tightest` on an array, along an axis; +inf where an item does not apply."""
    unknown = np.isnan(margins)
    smallest = np.where(unknown, np.inf, margins).min(axis=axis, initial=np.inf)
    return np.where((smallest >= 0) & unknown.any(axis=axis), np.nan, smallest)


def _truth(value: ArrayLike, name: str) -> Floats:
    array = checked(name, value)
    _refuse(name, array, ~np.isnan(array) & (array != 0) & (array != 1), "1 (true), 0 (false) or NaN (unknown)")
    return array


def _refuse(name: str, array: Floats, wrong: NDArray[np.bool_], right: str) -> None:
    if np.any(wrong):
        index = tuple(int(i) for i in np.argwhere(wrong)[0])
        place = f" at index {index}" if index else ""
        raise ValueError(f"{name} must be {right}; found {array[index]:g}{place}")


def row_of(block: NDArray[np.float64], position: int) -> NDArray[np.float64]:
    """One row of a quantity that holds several: (rows,) from (several, rows)."""
    found: NDArray[np.float64] = block[position]
    return found
