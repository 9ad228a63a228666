"""Rows that cannot be (a perturbed copy, an old record) come out unknown and disturb no other row of their batch."""

import numpy as np
import pytest

from riskboard.measures.registry import MEASURES, evaluate, inputs_of, load_all
from riskboard.worksheet.columns import CONTEXT, column_fields
from tests.measures.columns_of import at

load_all()
MODULES = {f"riskboard.measures.register_{name}" for name in ("air", "wind", "forecast", "light")}
NAMES = sorted(name for name, entry in MEASURES.items() if entry.function.__module__ in MODULES and not entry.internal)
ODD = (np.nan, np.inf, -np.inf, -1.0, 0.0, 0.5, 1.0, 2.0, 7.0, 59.9, 361.0, 1e5, 1e12, -1e12)


def odd_columns(rows: int) -> dict[str, np.ndarray]:
    rng = np.random.default_rng(5)
    lists = ("forecast_lines_",)
    columns: dict[str, np.ndarray] = {}
    for name in (*column_fields(), *CONTEXT):
        padded = name.startswith(lists) and not name.endswith("_count")
        columns[name] = rng.choice(ODD, (rows, 3) if padded else rows)
        if name.endswith(("_at", "_true_at")):
            sound = at("2026-05-01T00:00") + rng.uniform(0.0, 86_400.0, columns[name].shape)
            columns[name] = np.where(rng.random(columns[name].shape) < 0.7, sound, columns[name])
    # Truths and choices are what the worksheet's vocabulary can write; numbers may be anything.
    for name in ("special_vfr", "surface_area", "instructor_aboard", "fog_or_mist", "freezing_precipitation"):
        columns[name] = rng.choice((np.nan, 0.0, 1.0), rows)
    return columns


def test_odd_rows_never_raise_and_never_leave_the_valid_range() -> None:
    columns = odd_columns(3000)
    found = evaluate(columns, NAMES)
    for name in NAMES:
        values = found[name]
        entry = MEASURES[name]
        assert np.all(np.isnan(values) | ((values >= entry.low) & (values <= entry.high))), name


def test_a_row_alone_equals_the_same_row_in_a_batch_bit_for_bit() -> None:
    columns = odd_columns(60)
    found = evaluate(columns, NAMES)
    for row in range(60):
        alone = evaluate({name: column[row : row + 1] for name, column in columns.items()}, NAMES)
        for name in NAMES:
            assert np.array_equal(alone[name], found[name][row : row + 1], equal_nan=True), (name, row)


@pytest.mark.parametrize("name", NAMES)
def test_every_input_unknown_is_unknown(name: str) -> None:
    columns = {column: np.full_like(values, np.nan) for column, values in odd_columns(1).items()}
    assert inputs_of(name)
    assert np.isnan(evaluate(columns, [name])[name]).tolist() == [True]
