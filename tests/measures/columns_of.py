"""Evaluates one registered measure on columns given by hand."""

import math
from datetime import UTC, datetime
from typing import Any

import numpy as np

from riskboard.measures.registry import evaluate, load_all

NAN = math.nan
NONE = math.inf
"""How a column writes the answer "none"."""


def one(measure: str, **columns: Any) -> float:
    """The measure of one worksheet; a list gives the padded entries of a list column."""
    load_all()
    given = {"decided_at": 0.0} | columns
    rows = {name: np.atleast_1d(np.asarray(value, dtype=np.float64)) for name, value in given.items()}
    rows = {name: row[np.newaxis] if isinstance(given[name], list) else row for name, row in rows.items()}
    found = evaluate(rows, [measure])[measure]
    assert found.shape == (1,)
    return float(found[0])


def at(text: str) -> float:
    """UNIX seconds of a UTC time such as 2026-07-04T11:57."""
    return datetime.fromisoformat(text).replace(tzinfo=UTC).timestamp()
