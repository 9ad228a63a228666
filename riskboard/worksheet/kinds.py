"""The kinds of value a worksheet accepts, each strict enough that nothing is guessed.

Numbers are numbers (a text "5" or a true is refused), instants carry a zone and are kept in UTC, days are calendar days
at the place of departure, and "none" is an answer beside a number where the trade has one ("no gust", "no ceiling").
"""

import re
from datetime import UTC, date, datetime
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, AwareDatetime, BeforeValidator, Field
from pydantic.fields import FieldInfo

__all__ = [
    "LONGEST_NOTE",
    "LONGEST_TEXT",
    "Day",
    "Flag",
    "Instant",
    "NoneAnswer",
    "Note",
    "Text",
    "Whole",
    "shown",
    "within",
]

EARLIEST_YEAR = 1920
LATEST_YEAR = 2120
LONGEST_TEXT = 200
LONGEST_NOTE = 2000

_SHOWN_CHARACTERS = 40
_SHOWN_DIGITS_BITS = 200


def shown(value: object) -> str:
    """A value as an error may repeat it: quoted, on one line, short, without characters that a screen obeys."""
    if isinstance(value, int) and not isinstance(value, bool) and value.bit_length() > _SHOWN_DIGITS_BITS:
        return (
            f"a whole number of about {value.bit_length() * 3 // 10} digits"  # printing it may be refused or take long
        )
    if isinstance(value, str):
        cut = value[:_SHOWN_CHARACTERS]
        harmless = "".join(character if character.isprintable() else "\N{REPLACEMENT CHARACTER}" for character in cut)
        return f"'{harmless}{'…' if len(value) > _SHOWN_CHARACTERS else ''}'"
    if value is None or isinstance(value, bool | int | float | date):
        return str(value).lower() if isinstance(value, bool) else str(value)
    return f"a {type(value).__name__}"  # the text of an unknown object may be long, or may not end


def within(lowest: float, highest: float) -> FieldInfo:
    """Physically plausible bounds of a number, inclusive; also refuses texts and truth values as numbers."""
    return Field(strict=True, ge=lowest, le=highest)  # type: ignore[no-any-return]


# A text of digits would be taken for a count of seconds since 1970, and a date without a time for midnight.
_INSTANT_FORM = re.compile(
    r"\d{4}-\d{2}-\d{2}[Tt ]\d{2}:\d{2}(:\d{2}(\.\d{1,6})?)?\s?([Zz]|[+-]\d{2}:?\d{2})?", re.ASCII
)
_DAY_FORM = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_LIKE_INSTANT = "write a date and time with its zone, such as 2026-05-04T14:30Z or 2026-05-04T08:30-06:00"
_LIKE_DAY = "write a date such as 2026-05-04"


def _instant_written_out(value: Any) -> Any:
    if isinstance(value, datetime):
        return value
    if isinstance(value, str) and _INSTANT_FORM.fullmatch(value.strip()):
        return value.strip()
    raise ValueError(f"{shown(value)} is not a moment in time; {_LIKE_INSTANT}")


def _day_written_out(value: Any) -> Any:
    if isinstance(value, date) and not isinstance(value, datetime):
        return value
    if isinstance(value, str) and _DAY_FORM.fullmatch(value.strip()):
        return value.strip()
    raise ValueError(f"{shown(value)} is not a day; {_LIKE_DAY}")


def _plausible_year(value: date) -> None:
    if not EARLIEST_YEAR <= value.year <= LATEST_YEAR:
        raise ValueError(f"the year {value.year} is not between {EARLIEST_YEAR} and {LATEST_YEAR}")


def _plausible_instant(value: datetime) -> datetime:
    _plausible_year(value)
    return value.astimezone(UTC)


def _plausible_day(value: date) -> date:
    _plausible_year(value)
    return value


Instant = Annotated[AwareDatetime, BeforeValidator(_instant_written_out), AfterValidator(_plausible_instant)]
"""A moment with its zone given, kept in UTC."""

Day = Annotated[date, BeforeValidator(_day_written_out), AfterValidator(_plausible_day)]
"""A calendar day, local at the place of departure."""

Flag = Annotated[bool, Field(strict=True)]
Whole = Annotated[int, Field(strict=True)]
NoneAnswer = Literal["none"]

# Control characters, half surrogate pairs, other line ends, marks that hide or reorder what people read: what is signed
# must be what is seen. The same set as the YAML reader's, so that every text can be written to a file and read back.
_UNSEEN = re.compile(
    "[\x00-\x1f\x7f-\x9f\u2028\u2029\u200b\u200e\u200f\u202a-\u202e\u2060-\u2069\ufeff\ufffe\uffff\ud800-\udfff]"
)


def _refuse_unseen(text: str, allowed: str = "") -> str:
    for match in _UNSEEN.finditer(text):
        if match.group() not in allowed:
            raise ValueError(
                f"character {match.start() + 1} is U+{ord(match.group()):04X}, which no reader can see; "
                "remove it and type the text again"
            )
    return text


# These look before the type is checked, because half a surrogate pair would be refused there in words of Unicode.
def _one_line(value: Any) -> Any:
    return _refuse_unseen(value.strip()) if isinstance(value, str) else value


def _lines(value: Any) -> Any:
    if not isinstance(value, str):
        return value
    return _refuse_unseen(value.replace("\r\n", "\n").replace("\t", " ").strip(), "\n")


Text = Annotated[str, Field(strict=True, min_length=1, max_length=LONGEST_TEXT), BeforeValidator(_one_line)]
"""One line of text."""

Note = Annotated[str, Field(strict=True, min_length=1, max_length=LONGEST_NOTE), BeforeValidator(_lines)]
"""Text of several lines. Windows line ends become newlines and a tab one space."""
