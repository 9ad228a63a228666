"""Which font prints which character. What no bundled font holds becomes a visible mark and is named, never lost."""

import unicodedata
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

__all__ = [
    "FONTS",
    "MARK",
    "Face",
    "Printable",
    "Run",
    "clusters",
    "faces",
    "missing_note",
    "printable",
    "runs",
    "shortened",
]

FONTS = Path(__file__).resolve().parent / "fonts"
MARK = "\N{REPLACEMENT CHARACTER}"
"""Printed in place of a character that cannot be printed."""

_NAMED = 8
_JOINERS = "\N{ZERO WIDTH NON-JOINER}\N{ZERO WIDTH JOINER}"
"""Invisible, but they decide how Persian and Indic letters join."""


@dataclass(frozen=True)
class Face:
    """One bundled font.

    Attributes:
        key: Name inside the PDF library.
        file: File under :data:`FONTS`.
        blocks: Unicode ranges it is asked for first, ends included; empty for the fonts asked for everything.
        shaped: Whether its letters change form, join or stack, so that it needs the shaping engine.
    """

    key: str
    file: str
    blocks: tuple[tuple[int, int], ...] = ()
    shaped: bool = False

    @property
    def path(self) -> Path:
        """Where the file is."""
        return FONTS / self.file


PLAIN = Face("plain", "NotoSans-Regular.ttf")
BOLD = Face("bold", "NotoSans-Bold.ttf")


def _of_script(script: str, *blocks: tuple[int, int]) -> Face:
    return Face(script.lower(), f"NotoSans{script}-Regular.ttf", blocks, shaped=True)


_SCRIPTS = (
    Face("armenian", "NotoSansArmenian-Regular.ttf", ((0x530, 0x58F), (0xFB13, 0xFB17))),
    Face("georgian", "NotoSansGeorgian-Regular.ttf", ((0x10A0, 0x10FF), (0x1C90, 0x1CBF), (0x2D00, 0x2D2F))),
    _of_script("Hebrew", (0x590, 0x5FF), (0xFB1D, 0xFB4F)),
    _of_script("Arabic", (0x600, 0x6FF), (0x750, 0x77F), (0x8A0, 0x8FF), (0xFB50, 0xFDFF), (0xFE70, 0xFEFC)),
    _of_script("Thaana", (0x780, 0x7BF)),
    _of_script("Devanagari", (0x900, 0x97F), (0xA8E0, 0xA8FF), (0x1CD0, 0x1CFF)),
    _of_script("Bengali", (0x980, 0x9FF)),
    _of_script("Gurmukhi", (0xA00, 0xA7F)),
    _of_script("Gujarati", (0xA80, 0xAFF)),
    _of_script("Oriya", (0xB00, 0xB7F)),
    _of_script("Tamil", (0xB80, 0xBFF)),
    _of_script("Telugu", (0xC00, 0xC7F)),
    _of_script("Kannada", (0xC80, 0xCFF)),
    _of_script("Malayalam", (0xD00, 0xD7F)),
    _of_script("Sinhala", (0xD80, 0xDFF)),
    _of_script("Thai", (0xE00, 0xE7F)),
    _of_script("Lao", (0xE80, 0xEFF)),
    _of_script("Myanmar", (0x1000, 0x109F), (0xA9E0, 0xA9FF), (0xAA60, 0xAA7F)),
    _of_script("Ethiopic", (0x1200, 0x139F), (0x2D80, 0x2DDF), (0xAB00, 0xAB2F)),
    _of_script("Khmer", (0x1780, 0x17FF), (0x19E0, 0x19FF)),
    Face("hangul", "NanumSquareR.ttf", ((0x3130, 0x318F), (0xAC00, 0xD7A3))),
)
_ANYTHING = (
    Face("math", "NotoSansMath-Regular.ttf"),
    Face("symbols", "NotoSansSymbols2-Regular.ttf"),
    Face("han", "DroidSansFallbackFull.ttf"),
)


def faces() -> tuple[Face, ...]:
    """Every bundled font."""
    return (PLAIN, BOLD, *_SCRIPTS, *_ANYTHING)


@cache
def _characters(file: str) -> frozenset[int]:
    from fontTools.ttLib import TTFont  # noqa: PLC0415  - a slow import, needed only when a sheet is made

    with TTFont(FONTS / file, lazy=True) as font:
        return frozenset(font.getBestCmap())


def _holds(face: Face, character: str) -> bool:
    return ord(character) in _characters(face.file)


@cache
def _face_of(character: str) -> Face | None:
    """The font that prints a character by itself, or None."""
    code = ord(character)
    own = (face for face in _SCRIPTS if any(first <= code <= last for first, last in face.blocks))
    return next((face for face in (PLAIN, *own, *_ANYTHING) if _holds(face, character)), None)


@dataclass(frozen=True)
class Printable:
    """A text that can be printed as it stands.

    Attributes:
        text: One line, no control characters, nothing that reorders what people read.
        missing: What was typed and cannot be printed, each as often as it stood there.
    """

    text: str
    missing: tuple[str, ...] = ()


def printable(text: str) -> Printable:
    """A text made fit for paper: one line, composed letters, and a visible mark for everything that cannot be printed.

    Control characters and marks that hide or reorder text count as what cannot be printed; line ends become spaces.
    """
    kept, missing = [], []
    for character in unicodedata.normalize("NFC", text):
        if character.isspace():
            kept.append(" ")
        elif character in _JOINERS:
            kept.append(character)
        elif unicodedata.category(character)[0] == "C" or _face_of(character) is None:
            kept.append(MARK)
            missing.append(character)
        else:
            kept.append(character)
    return Printable(" ".join("".join(kept).split()), tuple(missing))


def missing_note(missing: tuple[str, ...]) -> str:
    """The sentence that names what is shown as a mark; "" when there is nothing."""
    if not missing:
        return ""
    counts = Counter(missing)
    named = [_named(character, count) for character, count in sorted(counts.items())[:_NAMED]]
    if len(counts) > _NAMED:
        named.append(f"and {len(counts) - _NAMED} other characters")
    return f"{MARK} stands for what cannot be printed here: {', '.join(named)}. See the record for the text as typed."


def _named(character: str, count: int) -> str:
    name = unicodedata.name(character, "").lower()
    said = f"U+{ord(character):04X}{' ' + name if name else ''}"
    return said if count == 1 else f"{said} ({count} times)"


def shortened(text: str, most: int) -> str:
    """A text of at most ``most`` characters; a longer one is cut between letters and says how much is not there."""
    if len(text) <= most:
        return text
    end = most
    while end > 1 and _stays_with_the_last(text[end]):
        end -= 1
    return f"{text[:end].rstrip()} … ({len(text) - end:,} more characters in the record)"


def _stays_with_the_last(character: str) -> bool:
    """Marks and joiners belong to the letter before them; a line never breaks there."""
    return character in _JOINERS or unicodedata.category(character)[0] == "M"


def clusters(text: str) -> Iterator[str]:
    """The text in pieces between which it may be broken."""
    piece = ""
    for character in text:
        if piece and not _stays_with_the_last(character) and not piece.endswith(_JOINERS[1]):
            yield piece
            piece = ""
        piece += character
    if piece:
        yield piece


@dataclass(frozen=True)
class Run:
    """Neighbouring characters in one font."""

    face: Face
    text: str

    @property
    def shaped(self) -> bool:
        """Whether the shaping engine has to place the letters."""
        return self.face.shaped or any(_stays_with_the_last(character) for character in self.text)


def runs(text: str, *, bold: bool = False) -> list[Run]:
    """A printable text cut where the font changes. Only Latin, Greek and Cyrillic letters have a bold form here."""
    found: list[Run] = []
    for piece in clusters(text):
        face = _face_for(piece, found[-1].face if found else None)
        if bold and face is PLAIN and all(_holds(BOLD, character) for character in piece):
            face = BOLD
        if found and found[-1].face is face:
            found[-1] = Run(face, found[-1].text + piece)
        else:
            found.append(Run(face, piece))
    return found


def _face_for(piece: str, before: Face | None) -> Face:
    """A space or a stop stays in the font before it, so that a name is shaped as one; all else has its own font."""
    neutral = unicodedata.category(piece[0])[0] in {"Z", "P"}
    if neutral and before is not None and before not in {PLAIN, BOLD} and _holds(before, piece[0]):
        return before
    own = _face_of(piece[0])
    if own is None:  # a joiner or a mark at the very beginning
        return PLAIN
    return next((face for face in (own, *_SCRIPTS) if all(_covered(face, each) for each in piece)), own)


def _covered(face: Face, character: str) -> bool:
    return character in _JOINERS or _holds(face, character)
