"""Calendar days as float64 "days since 1970-01-01", and the two month arithmetics that rules use.

NaN is unknown. -inf is "no day at all" (a privilege that never existed) and +inf "every day"; both pass through.
A day is a local calendar day; an instant is not accepted, because its day depends on the place.
"""

from collections.abc import Sequence
from datetime import date, datetime, timedelta
from typing import Any, Final, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from riskboard.measures.known import Floats, Number, plain

__all__ = [
    "Days",
    "age_on",
    "age_rows",
    "as_days",
    "days_left",
    "end_of_calendar_month",
    "same_day_months_later",
    "same_kind",
]

Days = TypeVar("Days", "date | None", "float | Floats")
"""A date in, a date out (None where there is none or it is unknown); day numbers in, day numbers out."""

DayLike = date | float | None | Sequence[date | float | None] | NDArray[Any]

_DAY: Final = np.dtype("datetime64[D]")
_MONTH: Final = np.dtype("datetime64[M]")
_EPOCH: Final = date(1970, 1, 1)
_EARLIEST: Final = (date(1800, 1, 1) - _EPOCH).days
_LATEST: Final = (date(2300, 1, 1) - _EPOCH).days


def as_days(name: str, value: DayLike) -> Floats:
    """Read a day, or many, as days since 1970-01-01.

    Args:
        name: The argument's name, for the error.
        value: A date, a day number, None (unknown), a sequence of these, or an array (datetime64 allowed).

    Returns:
        Whole day numbers in the shape given; NaN where unknown.

    Raises:
        ValueError: A datetime, a day with a fraction, or one outside the years 1800 to 2300.
    """
    array = np.asarray(value)
    if array.dtype.kind == "M":
        missing = np.isnat(array)
        whole = np.where(missing, np.datetime64(0, "D"), array.astype("datetime64[D]")).astype(np.int64)
        return np.where(missing, np.nan, whole.astype(np.float64))
    if array.dtype.kind == "O":
        array = np.asarray([_day_number(name, item) for item in array.ravel()], dtype=np.float64).reshape(array.shape)
    if array.dtype.kind not in "biuf":
        raise ValueError(f"{name} must be a date or a day number; found {value!r}")
    days = array.astype(np.float64)
    finite = np.isfinite(days)
    if np.any(finite & (days != np.floor(days))):
        raise ValueError(f"{name} must be whole days; an instant has no day until a place is given")
    if np.any(finite & ((days < _EARLIEST) | (days > _LATEST))):
        raise ValueError(f"{name} must lie between the years 1800 and 2300")
    return days


def same_kind(like: Days, days: Floats) -> Days:
    """Give day numbers back as what came in: a date for a date or None, numbers for numbers."""
    if like is None or isinstance(like, date):
        one = float(days)
        return _EPOCH + timedelta(days=one) if np.isfinite(one) else None
    return plain(days)


def end_of_calendar_month(days: ArrayLike, months: ArrayLike) -> Floats:
    """The last day of the Nth calendar month after the month of an event, whatever the day of the event.

    Args:
        days: Days of the events.
        months: N, a whole number; NaN is unknown.

    Returns:
        Day numbers; NaN where either is unknown; an infinite day stays what it is.

    Source: the reading of "N calendar months" in 14 CFR 61.56(c), 61.23(d), 91.409(a).
    """
    day, count = np.asarray(days, dtype=np.float64), np.asarray(months, dtype=np.float64)
    passed, month = _months(day, count)
    following = (month + 1).astype(_DAY).view(np.int64)
    return np.where(passed, day + count, following - 1.0)


def same_day_months_later(days: ArrayLike, months: ArrayLike) -> Floats:
    """The same day of the month N months later, or the last day of a month that is too short.

    For periods written in months and not calendar months (the BasicMed examination, 48 months). Convention.
    """
    day, count = np.asarray(days, dtype=np.float64), np.asarray(months, dtype=np.float64)
    passed, month = _months(day, count)
    first = month.astype(_DAY).view(np.int64)
    length = (month + 1).astype(_DAY).view(np.int64) - first
    whole = _datetime64(np.where(passed, 0.0, day))
    offset = whole.view(np.int64) - whole.astype(_MONTH).astype(_DAY).view(np.int64)
    return np.where(passed, day + count, first + np.minimum(offset, length - 1))


def age_on(born: ArrayLike, on: ArrayLike) -> Floats:
    """Completed years of age on a day; somebody born on 29 February has the birthday on 1 March of a common year.

    Raises:
        ValueError: ``on`` is before the birth.
    """
    birth, day = np.broadcast_arrays(np.asarray(born, dtype=np.float64), np.asarray(on, dtype=np.float64))
    if np.any(day < birth):
        raise ValueError("born_on must not be after the day of the event")
    return age_rows(birth, day)


def age_rows(born: Floats, on: Floats) -> Floats:
    """:func:`age_on` on arrays of one shape, without the check."""
    known = np.isfinite(born) & np.isfinite(on)
    both = _datetime64(np.where(known, np.array((born, on)), 0.0))
    month = both.astype(_MONTH)
    months = month.view(np.int64)
    # The month of the year, and the day within the month, as one number.
    birthday = months % 12 * 31 + (both - month.astype(_DAY)).view(np.int64)
    years = months // 12
    return np.where(known, years[1] - years[0] - (birthday[1] < birthday[0]), np.nan)


def days_left(valid_until: DayLike, on: DayLike) -> Number:
    """Days from ``on`` to the last good day: 0 on that day, negative when lapsed, NaN when unknown."""
    return plain(as_days("valid_until", valid_until) - as_days("on", on))


def _day_number(name: str, item: object) -> float:
    if item is None:
        return np.nan
    if isinstance(item, datetime):
        raise ValueError(f"{name} must be a calendar date, not an instant; found {item.isoformat()}")  # noqa: TRY004
    if isinstance(item, date):
        return float((item - _EPOCH).days)
    if isinstance(item, int | float):
        return float(item)
    raise ValueError(f"{name} must be a date; found {item!r}")


def _months(day: Floats, count: Floats) -> tuple[NDArray[np.bool_], NDArray[np.datetime64]]:
    """A mask of rows with nothing to compute (NaN, infinite), and elsewhere the Nth month after that of each day."""
    passed = ~np.isfinite(day + count)
    month = _datetime64(np.where(passed, 0.0, day)).astype(_MONTH)
    return passed, month + np.where(passed, 0.0, count).astype(np.int64)


def _datetime64(days: Floats) -> NDArray[np.datetime64]:
    # INVARIANT: only finite whole numbers reach this cast; every caller has replaced NaN and infinities first.
    return days.astype(np.int64).view(_DAY)
