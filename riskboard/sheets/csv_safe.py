"""Tables for a spreadsheet in which typed text stays text.

A spreadsheet runs a cell that begins like a formula, whoever typed it. The rule followed here is the prefix rule of
OWASP's page on CSV injection, from memory: a cell that begins with ``=``, ``+``, ``-``, ``@``, tab or carriage return
gets an apostrophe before it, every cell is quoted, and quotes are doubled. The full-width forms of those signs, which
some spreadsheets read alike, and blanks before the sign are treated the same way.
"""

import csv
import io
from collections.abc import Iterable, Sequence
from datetime import date
from decimal import Decimal

__all__ = ["Cell", "csv_text", "safe_cell"]

Cell = str | float | bool | date | Decimal | None
"""What a cell may hold; None is an empty cell."""

_SIGNS = frozenset(
    "=+-@\t\r\n\N{FULLWIDTH EQUALS SIGN}\N{FULLWIDTH PLUS SIGN}\N{FULLWIDTH HYPHEN-MINUS}\N{MINUS SIGN}"
    "\N{FULLWIDTH COMMERCIAL AT}\N{SMALL PLUS SIGN}\N{SMALL EQUALS SIGN}\N{SMALL COMMERCIAL AT}"
)
_UNSEEN = frozenset("\x00\ufeff\u200b\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
_GUARD = "'"


def safe_cell(value: Cell) -> str:
    """One cell as text that no spreadsheet runs.

    Args:
        value: A number, a truth value or a date is written plainly (-5 stays -5: it is no text that somebody typed);
            a text is guarded where it begins like a formula.

    Returns:
        The text, without the quotes that :func:`csv_text` puts around it. The first character of what somebody typed
        stays visible behind the apostrophe, so that nothing is lost.
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if not isinstance(value, str):
        return str(value)
    text = value.replace("\x00", "\N{REPLACEMENT CHARACTER}")  # some readers end the cell there
    begins = text.lstrip(" \u00a0\u3000" + "".join(_UNSEEN))
    guarded = text[:1] in _SIGNS or begins[:1] in _SIGNS or text[:1] in _UNSEEN
    return _GUARD + text if guarded else text


def csv_text(rows: Iterable[Sequence[Cell]]) -> str:
    """Rows as the text of a CSV file (RFC 4180: quoted cells, CR LF between rows), safe to open in a spreadsheet.

    Args:
        rows: The table, its head among them. Every cell that is a text counts as typed by somebody.

    Returns:
        The text; write it as UTF-8.
    """
    out = io.StringIO()
    writer = csv.writer(out, quoting=csv.QUOTE_ALL, lineterminator="\r\n")
    writer.writerows([safe_cell(value) for value in row] for row in rows)
    return out.getvalue()
