"""Typed text stays text in a spreadsheet (prefix rule of OWASP's CSV injection page, from memory)."""

import csv
import io
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from riskboard.sheets.csv_safe import csv_text, safe_cell

FORMULAS = [
    "=1+1", "+1", "-2+3", "@SUM(A1)", "\t=1", "\r=1", "\n=1", '=HYPERLINK("http://x")', " =1", "\u00a0=1", "\u200b=1",
    "\uff1d1", "\uff0b1", "\uff201", "\u2212" + "1", "\ufeff=1", "\u202e=1", "=cmd|' /C calc'!A0",
]  # fmt: skip


@pytest.mark.parametrize("typed", FORMULAS)
def test_what_begins_like_a_formula_is_guarded(typed: str) -> None:
    assert safe_cell(typed).startswith("'")
    assert safe_cell(typed) == "'" + typed


@pytest.mark.parametrize("typed", ["Kestrel", "a=b", "3-4", "", " plain", "'=1", "1e5", "N/A"])
def test_other_text_is_left_alone(typed: str) -> None:
    assert safe_cell(typed) == typed


@pytest.mark.parametrize(
    ("value", "written"), [(-5, "-5"), (-1.5, "-1.5"), (True, "true"), (None, ""), (date(2026, 5, 4), "2026-05-04")]
)
def test_numbers_and_dates_stay_what_they_are(value: float | bool | date | None, written: str) -> None:
    assert safe_cell(value) == written


def test_a_cell_never_ends_its_row_or_its_quotes() -> None:
    text = csv_text([["name", "note"], ['a","=1', "two\nlines,;\t"], ["x", "y"]])
    assert list(csv.reader(io.StringIO(text, newline=""))) == [
        ["name", "note"],
        ['a","=1', "two\nlines,;\t"],
        ["x", "y"],
    ]
    assert text.startswith('"name","note"\r\n')
    assert '"a"",""=1"' in text


def test_a_null_byte_is_shown_and_ends_nothing() -> None:
    assert safe_cell("a\x00b") == "a\N{REPLACEMENT CHARACTER}b"


@given(st.text())
def test_no_text_begins_a_cell_like_a_formula_and_none_is_lost(typed: str) -> None:
    written = safe_cell(typed)
    assert written.lstrip(" \u00a0\u3000")[:1] not in {"=", "+", "-", "@", "\t", "\r", "\n"}
    assert written.removeprefix("'") == typed.replace("\x00", "\N{REPLACEMENT CHARACTER}").removeprefix("'")
