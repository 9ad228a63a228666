"""One PDF under construction: measured lines of text, rules and boxes, in points from the top left corner.

The only module that touches the PDF library. It prints what it is given: texts come from :func:`typeface.printable`.
"""

import unicodedata
from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import Self

from riskboard.sheets.typeface import Run, clusters, runs

__all__ = ["A4", "LETTER", "LINE", "PAPERS", "Canvas", "Size", "in_visual_order"]

Size = tuple[float, float]
LETTER: Size = (612.0, 792.0)
A4: Size = (595.28, 841.89)
PAPERS = {"letter": LETTER, "a4": A4}
"""Width and height in points, upright."""

LINE = 1.32
"""Height of a line in sizes of its letters: enough for the tallest bundled script."""

_MEASURED_AT = 100.0
_WIDE = frozenset("WF")
_RIGHT_TO_LEFT = frozenset({"R", "AL", "AN"})


class Canvas:
    """Pages of one size; every call says where it draws. A context: its font files are open until it ends."""

    def __init__(self, size: Size, *, title: str, made_at: datetime) -> None:
        """Begin a document.

        Args:
            size: Width and height of its pages, in points.
            title: What a viewer shows; no typed text.
            made_at: Moment written into the file, aware; the file's identity follows from it and from the content.
        """
        from riskboard.sheets.one_run import OneRunPdf  # noqa: PLC0415  - half a second, needed only for a sheet

        self.width, self.height = size
        self._pdf = OneRunPdf(unit="pt", format=size)
        self._pdf.set_auto_page_break(auto=False)
        self._pdf.set_margin(0)
        self._pdf.c_margin = 0
        self._pdf.alias_nb_pages("")  # else typed text that looks like the library's page counter would be replaced
        self._pdf.set_title(title)
        self._pdf.set_lang("en")
        self._pdf.set_producer("riskboard")
        self._pdf.set_creation_date(made_at)
        self._loaded: set[str] = set()
        self._widths: dict[tuple[str, bool], float] = {}
        self._words: dict[tuple[str, bool], list[tuple[str, float, float]]] = {}

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._pdf.close_fonts()

    def page(self) -> None:
        """Begin a page."""
        self._pdf.add_page()

    def finish(self) -> bytes:
        """The file."""
        return bytes(self._pdf.output())

    # -- lines and boxes ---------------------------------------------------------------------------------------------

    def rule(self, x: float, y: float, to_x: float, to_y: float, *, weight: float = 0.6, dash: float = 0) -> None:
        """A straight line, dashed if asked."""
        self._pdf.set_line_width(weight)
        if dash:
            self._pdf.set_dash_pattern(dash=dash, gap=dash)
        self._pdf.line(x, y, to_x, to_y)
        self._pdf.set_dash_pattern()

    def path(self, points: Sequence[tuple[float, float]], *, weight: float, dash: float = 0) -> None:
        """Straight lines from point to point."""
        self._pdf.set_line_width(weight)
        if dash:
            self._pdf.set_dash_pattern(dash=dash, gap=dash)
        self._pdf.polyline(list(points))
        self._pdf.set_dash_pattern()

    def box(self, x: float, y: float, width: float, height: float, *, weight: float = 0.6) -> None:
        """An empty rectangle."""
        self._pdf.set_line_width(weight)
        self._pdf.rect(x, y, width, height)

    # -- text --------------------------------------------------------------------------------------------------------

    def text(self, x: float, y: float, text: str, size: float, *, bold: bool = False) -> float:
        """One line of printable text, its top at ``y``; returns its width.

        Right-to-left text is put in order here and still starts at ``x``.
        """
        start = x
        for run, backward in in_visual_order(text, bold=bold):
            width = self._run_width(run, backward=backward) * size
            # Stacked letters are placed one by one; a search, a copy and a reader for the blind get the text itself.
            spoken = run.text if run.shaped and not backward else ""
            self._pdf.set_font(run.face.key, size=size)
            self._pdf.set_xy(x, y + (LINE - 1) / 2 * size)
            self._pdf.one_run(run.text, width, size, spoken=spoken)
            x += width
        return x - start

    def text_width(self, text: str, size: float, *, bold: bool = False) -> float:
        """How wide a line of printable text is."""
        known = self._widths.get((text, bold))
        if known is None:
            known = sum(self._run_width(run, backward=backward) for run, backward in in_visual_order(text, bold=bold))
            self._widths[text, bold] = known
        return known * size

    def wrapped(self, text: str, width: float, size: float, *, bold: bool = False) -> list[str]:
        """The text in lines that fit; a word too long for a line is broken between letters. Never an empty list."""
        lines: list[str] = []
        line, used, most = "", 0.0, width / size
        for word, bare, whole in self._measured(text, bold=bold):
            if used + bare > most and line:
                lines.append(line.rstrip())
                line, used = "", 0.0
            if bare > most:
                *full, line = self._pieces(word, most, bold=bold)
                lines += full
                used = self.text_width(line, 1, bold=bold)
            else:
                line += word
                used += whole
        return [*lines, line.rstrip()] if line.strip() or not lines else lines

    def _measured(self, text: str, *, bold: bool) -> list[tuple[str, float, float]]:
        """Words with their widths at size 1, without and with the space behind them."""
        known = self._words.get((text, bold))
        if known is None:
            known = [
                (word, self.text_width(word.rstrip(), 1, bold=bold), self.text_width(word, 1, bold=bold))
                for word in _words(text)
            ]
            self._words[text, bold] = known
        return known

    def _pieces(self, word: str, most: float, *, bold: bool) -> list[str]:
        pieces, piece, used = [], "", 0.0
        for cluster in clusters(word):
            more = self.text_width(cluster, 1, bold=bold)
            if piece and used + more > most:
                pieces.append(piece)
                piece, used = "", 0.0
            piece += cluster
            used += more
        return [*pieces, piece]

    def _run_width(self, run: Run, *, backward: bool) -> float:
        """Width at size 1; leaves the library set to shape this run."""
        if run.face.key not in self._loaded:
            self._pdf.add_font(run.face.key, fname=run.face.path)
            self._loaded.add(run.face.key)
        self._pdf.set_font(run.face.key, size=_MEASURED_AT)
        self._pdf.shape(run.shaped or backward, backward=backward)
        return float(self._pdf.get_string_width(run.text)) / _MEASURED_AT


def _words(text: str) -> Iterator[str]:
    """Pieces after which a line may end: words with the space behind them, and each wide (Chinese, Japanese) letter."""
    word = ""
    for piece in clusters(text):
        if word and piece != " " and (word[-1] == " " or _is_wide(piece) or _is_wide(word[-1])):
            yield word
            word = ""
        word += piece
    if word:
        yield word


def _is_wide(piece: str) -> bool:
    return unicodedata.east_asian_width(piece[0]) in _WIDE and unicodedata.category(piece[0]) == "Lo"


def in_visual_order(text: str, *, bold: bool) -> Iterator[tuple[Run, bool]]:
    """Runs from left to right, each with whether it reads from right to left."""
    if not any(unicodedata.bidirectional(character) in _RIGHT_TO_LEFT for character in text):
        yield from ((run, False) for run in runs(text, bold=bold))
        return
    for level, part in _left_to_right(_levels(text)):
        backward = level % 2 == 1
        found = runs(part, bold=bold)
        yield from ((run, backward) for run in (reversed(found) if backward else found))


def _levels(text: str) -> list[tuple[int, str]]:
    """Neighbours of the same embedding level, as typed (Unicode Annex 9, up to rule L1)."""
    from fpdf.bidi import BidiParagraph  # noqa: PLC0415  - loaded with the library itself

    parts: list[tuple[int, str]] = []
    for each in BidiParagraph(text=text, preserve_bn_chars=True).get_characters_with_embedding_level():
        if parts and parts[-1][0] == each.embedding_level:
            parts[-1] = (each.embedding_level, parts[-1][1] + each.character)
        else:
            parts.append((each.embedding_level, each.character))
    return parts


def _left_to_right(parts: list[tuple[int, str]]) -> list[tuple[int, str]]:
    """The parts as they stand on paper: rule L2, from the highest level down to 1 every stretch is turned round."""
    for level in range(max(each for each, _ in parts), 0, -1):
        turned: list[tuple[int, str]] = []
        stretch: list[tuple[int, str]] = []
        for part in parts:
            if part[0] >= level:
                stretch.insert(0, part)
            else:
                turned += [*stretch, part]
                stretch = []
        parts = turned + stretch
    return parts
