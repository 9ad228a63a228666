"""What is printed: never a character that a terminal obeys, and lines of one width whatever the terminal is.

INVARIANT: everything this package prints passes through :func:`say`, :func:`say_json` or :func:`complain`.
"""

import sys
import textwrap
from collections.abc import Iterable

__all__ = ["WIDTH", "complain", "harmless", "harmless_json", "say", "say_json", "table", "wrapped"]

WIDTH = 100


def harmless(text: str) -> str:
    """The text with everything but newlines that cannot be seen as itself replaced by U+FFFD.

    Control characters, escape sequences and marks that hide or reorder text come from data, and a terminal obeys them.
    """
    return "".join(c if c == "\n" or c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in text)


def harmless_json(text: str) -> str:
    r"""JSON with every character that cannot be seen written as ``\uXXXX``: the same data, safe on a terminal."""
    if text.isprintable():
        return text
    return "".join(c if c == "\n" or c.isprintable() else _escaped(c) for c in text)


def _escaped(character: str) -> str:
    units = character.encode("utf-16-be", "surrogatepass")
    return "".join(f"\\u{units[i]:02x}{units[i + 1]:02x}" for i in range(0, len(units), 2))


def say(text: str = "") -> None:
    """Print to standard output."""
    sys.stdout.write(harmless(text) + "\n")


def say_json(text: str) -> None:
    """Print JSON to standard output."""
    sys.stdout.write(harmless_json(text) + "\n")


def complain(text: str) -> None:
    """Print to standard error."""
    sys.stderr.write(harmless(text) + "\n")


def wrapped(text: str, *, first: str = "", rest: str = "") -> str:
    """A paragraph in lines of :data:`WIDTH`, the first indented by ``first``, the others by ``rest``."""
    return textwrap.fill(
        text, WIDTH, initial_indent=first, subsequent_indent=rest, break_long_words=False, break_on_hyphens=False
    )


def table(rows: Iterable[tuple[str, ...]]) -> list[str]:
    """Rows in columns as wide as their widest cell, two spaces apart."""
    kept = list(rows)
    widths = [max(map(len, column)) for column in zip(*kept, strict=True)]
    return ["  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in kept]
