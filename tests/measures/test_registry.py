"""Checks that follow from the registry: every measure gets them without writing them again."""

import ast
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from riskboard.measures.registry import GUARDS, MEASURES, Measure, evaluate, evaluate_guards, inputs_of, load_all
from riskboard.words import Direction, Guard
from riskboard.worksheet import FIELD_PART, Worksheet
from riskboard.worksheet.columns import CONTEXT, column_fields, to_columns

load_all()
PUBLIC = [entry for entry in MEASURES.values() if not entry.internal]
AT = datetime(2026, 5, 4, 14, tzinfo=UTC)


def named(entry: Measure) -> str:
    return entry.name


def test_there_are_sixty_or_more() -> None:
    assert len(PUBLIC) >= 60


@pytest.mark.parametrize("entry", PUBLIC, ids=named)
def test_a_blank_worksheet_is_unknown_in_every_measure(entry: Measure) -> None:
    found = evaluate(to_columns([Worksheet()] * 3, AT), [entry.name])[entry.name]
    assert found.shape == (3,)
    assert found.dtype == np.float64
    assert np.isnan(found).all()


@pytest.mark.parametrize("word", list(Guard))
def test_a_blank_worksheet_is_unknown_in_every_guard(word: Guard) -> None:
    assert np.isnan(evaluate_guards(to_columns([Worksheet()], AT), [word])[word]).all()


@pytest.mark.parametrize("entry", [*PUBLIC, *GUARDS.values()], ids=named)
def test_what_it_needs_exists(entry: Measure) -> None:
    for need in entry.needs:
        assert need in column_fields() or need in CONTEXT or need in MEASURES
    assert inputs_of(entry.name) <= set(FIELD_PART)


@pytest.mark.parametrize("entry", PUBLIC, ids=named)
def test_it_is_described(entry: Measure) -> None:
    assert entry.doc
    assert entry.source
    assert entry.label
    assert entry.low < entry.high
    assert np.isfinite([entry.low, entry.high]).all()
    suffixes = {
        "ft AGL": "_ft",
        "ft": "_ft",
        "kt": "_kt",
        "min": "_min",
        "h": "_h",
        "d": "_d",
        "NM": "_nm",
        "lb": "_lb",
        "in": "_in",
        "SM": "_sm",
    }
    suffix = {**suffixes, "%": "_pct", "°C": "_c", "": ""}[entry.unit]
    assert entry.name.endswith(suffix) or (suffix == "_d" and entry.name.startswith("days_")), (
        "the unit belongs in the name"
    )
    if entry.words:
        assert set(entry.words) == set(range(int(entry.low), int(entry.high) + 1)), "every code needs its word"


@pytest.mark.parametrize("entry", PUBLIC, ids=named)
def test_out_of_its_range_it_is_unknown(entry: Measure, monkeypatch: pytest.MonkeyPatch) -> None:
    from dataclasses import replace  # noqa: PLC0415

    step = 10.0**-entry.decimals
    values = np.array([entry.low - step, entry.low, entry.high, entry.high + step, np.inf, -np.inf, np.nan])
    monkeypatch.setitem(MEASURES, entry.name, replace(entry, function=lambda: values, needs=()))
    found = evaluate(to_columns([Worksheet()] * len(values), AT), [entry.name])[entry.name]
    np.testing.assert_array_equal(np.isnan(found), [True, False, False, True, True, True, True])


def test_no_measure_is_without_a_direction_by_accident() -> None:
    """A measure with no single worse end can only feed a non-monotone factor; there is none today."""
    assert [entry.name for entry in PUBLIC if entry.worse is Direction.neither] == []


def test_every_measure_has_a_check_of_its_name() -> None:
    """``test_<name>``, or the name among the parameters of a table-driven check in the same folder."""
    names: set[str] = set()
    for path in Path(__file__).parent.glob("test_*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef) and node.name.startswith("test_"):
                names.add(node.name.removeprefix("test_"))
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                names.add(node.value)
    assert sorted(entry.name for entry in PUBLIC if entry.name not in names) == []
