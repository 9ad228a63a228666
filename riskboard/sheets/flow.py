"""Text running down a column: headings, paragraphs, tables; measured first, then drawn the same way.

A line never lies on a fold: where the paper will be folded the text jumps over the crease.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from riskboard.sheets.canvas import LINE, Canvas

__all__ = ["Column", "Flow"]

_CREASE = 4.0
"""Points kept free on either side of a fold."""
_CELL_GAP = 6.0


@dataclass(frozen=True)
class Column:
    """One column of a table: its title and its share of the width. ``ruled`` sets it off as room to write in."""

    title: str
    share: float
    ruled: bool = False


@dataclass(frozen=True)
class _Row:
    """One row of a table: its cells, whether it is the titles, and its least height."""

    cells: Sequence[str]
    bold: bool = False
    scale: float = 1
    least: float = 0


@dataclass
class Flow:
    """Where the next line goes.

    Attributes:
        canvas: Draws and measures.
        x: Left edge.
        y: Top of the next line.
        width: Width of the column.
        size: Size of the letters.
        folds: Heights at which the paper will be folded.
        draws: False only measures.
        bottom: Where the page is full; None never is.
        on_full: Begins the next page and sets ``y``.
    """

    canvas: Canvas
    x: float
    y: float
    width: float
    size: float
    folds: tuple[float, ...] = ()
    draws: bool = True
    bottom: float | None = None
    on_full: Callable[[], None] | None = None

    def gap(self, lines: float) -> None:
        """Leave room, in lines."""
        self.y += lines * self.size

    def make_room(self, height: float) -> None:
        """Begin a new page where the next ``height`` points do not fit; jump over a fold that they would lie on."""
        if self.bottom is not None and self.on_full is not None and self.y + height > self.bottom:
            self.on_full()
        for fold in self.folds:
            if self.y < fold + _CREASE and self.y + height > fold - _CREASE:
                self.y = fold + _CREASE

    def paragraph(self, text: str, *, bold: bool = False, indent: float = 0, scale: float = 1, mark: str = "") -> None:
        """A text over as many lines as it takes; ``mark`` stands before the first one, in the indent."""
        size = self.size * scale
        for number, line in enumerate(self.canvas.wrapped(text, self.width - indent, size, bold=bold)):
            self.make_room(size * LINE)
            if self.draws:
                if mark and not number:
                    self.canvas.text(self.x, self.y, mark, size, bold=True)
                self.canvas.text(self.x + indent, self.y, line, size, bold=bold)
            self.y += size * LINE

    def heading(self, text: str) -> None:
        """A ruled title. It jumps over a fold together with the line under it."""
        self.gap(0.55)
        self.make_room(self.size * ((2 if self.bottom is None else 5) * LINE + 0.3))
        if self.draws:
            self.canvas.rule(self.x, self.y, self.x + self.width, self.y, weight=1.2)
        self.y += self.size * 0.18
        self.paragraph(text, bold=True)

    def blanks(self, *names: str) -> None:
        """Lines to write on side by side, each behind its name."""
        height = self.size * LINE * 1.75
        self.make_room(height)
        if self.draws:
            each = self.width / len(names)
            longest = [self.canvas.text_width(name, self.size) for name in names]
            spare = (self.width - sum(longest)) / len(names)
            x = self.x
            for name, width in zip(names, longest, strict=True):
                self.canvas.text(x, self.y + height - self.size * LINE, name, self.size)
                end = x + width + (spare if spare > 0 else each - width)
                self.canvas.rule(x + width + 3, self.y + height - 1, end - _CELL_GAP, self.y + height - 1, weight=0.4)
                x = end
        self.y += height

    def table(self, columns: Sequence[Column], rows: Sequence[Sequence[str]], *, least: float = 0) -> None:
        """Rows of cells that wrap within their columns, ruled between, none lower than ``least``."""
        whole = sum(column.share for column in columns)
        widths = [self.width * column.share / whole - _CELL_GAP for column in columns]
        titles = _Row([column.title for column in columns], bold=True, scale=0.86)
        self._row(titles, columns, widths)
        for cells in rows:
            row = _Row(cells, least=least)
            before = self.y
            self.make_room(self._height(row, widths))
            if self.y < before:  # a new page: say again what the columns are
                self._row(titles, columns, widths)
            self._row(row, columns, widths)

    def _lines(self, row: "_Row", widths: Sequence[float]) -> list[list[str]]:
        size = self.size * row.scale
        return [
            self.canvas.wrapped(cell, width, size, bold=row.bold) for cell, width in zip(row.cells, widths, strict=True)
        ]

    def _height(self, row: "_Row", widths: Sequence[float]) -> float:
        lines = max(len(each) for each in self._lines(row, widths))
        return max(lines * self.size * row.scale * LINE, row.least)

    def _row(self, row: "_Row", columns: Sequence[Column], widths: Sequence[float]) -> None:
        size, height = self.size * row.scale, self._height(row, widths)
        self.make_room(height)
        bottom = self.y + height
        if self.draws:
            x = self.x
            for column, width, lines in zip(columns, widths, self._lines(row, widths), strict=True):
                for number, line in enumerate(lines):
                    self.canvas.text(x, self.y + number * size * LINE, line, size, bold=row.bold)
                if column.ruled and not row.bold:
                    self.canvas.rule(x - _CELL_GAP / 2, self.y, x - _CELL_GAP / 2, bottom, weight=0.4)
                x += width + _CELL_GAP
            self.canvas.rule(self.x, bottom, self.x + self.width, bottom, weight=0.25)
        self.y = bottom + size * 0.12

    def facts(self, pairs: Sequence[tuple[str, str]], *, columns: int = 2) -> None:
        """Names and values side by side, ``columns`` pairs to a row."""
        each = self.width / columns
        label = max(self.canvas.text_width(name, self.size) for name, _ in pairs) + 2 * _CELL_GAP
        for start in range(0, len(pairs), columns):
            self._fact_row(pairs[start : start + columns], each, label)

    def _fact_row(self, pairs: Sequence[tuple[str, str]], each: float, label: float) -> None:
        value = each - label - _CELL_GAP
        lines = [self.canvas.wrapped(text, value, self.size, bold=True) for _, text in pairs]
        height = max(len(found) for found in lines) * self.size * LINE
        self.make_room(height)
        if self.draws:
            for place, ((name, _), found) in enumerate(zip(pairs, lines, strict=True)):
                x = self.x + place * each
                self.canvas.text(x, self.y, name, self.size)
                for number, line in enumerate(found):
                    self.canvas.text(x + label, self.y + number * self.size * LINE, line, self.size, bold=True)
        self.y += height
