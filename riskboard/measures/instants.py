"""Datetimes as float64 UNIX seconds, so that every duration is a difference of instants and never of clock readings.

Python subtracts two datetimes that share one tzinfo object by their clock faces, which is an hour wrong across a
clock change. Everything here goes through UTC first.
"""

from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from typing import Any

import numpy as np
import numpy.typing as npt

from riskboard.measures.known import Floats

__all__ = ["Instants", "one_clock", "seconds", "seconds_array", "utc_offset_s"]

Instants = datetime | Sequence[datetime] | npt.NDArray[Any]
"""One datetime, a sequence of them, or an array of datetime64 (read as naive) or of datetimes."""


def seconds(when: datetime | None) -> float:
    """UNIX seconds of one datetime; a naive one is read on a clock that never changes. None (unknown) is NaN."""
    if when is None:
        return np.nan
    return (when.replace(tzinfo=UTC) if when.tzinfo is None else when).timestamp()


def seconds_array(when: Instants) -> Floats:
    """UNIX seconds of one datetime or many, in the same shape; NaT and None become NaN."""
    if isinstance(when, datetime):
        return np.asarray(seconds(when))
    array = np.asarray(when)
    if array.dtype.kind == "M":
        missing = np.isnat(array)
        whole = np.where(missing, np.datetime64(0, "us"), array.astype("datetime64[us]")).astype(np.int64)
        return np.where(missing, np.nan, whole / 1e6)
    items = array.astype(object)
    return np.asarray([seconds(item) for item in items.ravel()], dtype=np.float64).reshape(items.shape)


def utc_offset_s(when: datetime) -> float:
    """Seconds that local time is ahead of UTC; 0 for a naive datetime, whose seconds are already local."""
    offset = when.utcoffset()
    return 0.0 if offset is None else offset.total_seconds()


def one_clock(name: str, *groups: Iterable[datetime | None]) -> None:
    """Refuse a mix of naive and aware datetimes, whose differences would mean nothing.

    Raises:
        ValueError: Names the argument that mixes.
    """
    kinds = {when.tzinfo is None for group in groups for when in group if when is not None}
    if len(kinds) > 1:
        raise ValueError(f"{name}: give all datetimes with a time zone, or all without one")
