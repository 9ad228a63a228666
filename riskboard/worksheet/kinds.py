"""The kinds of value a worksheet accepts, each strict enough that nothing is guessed.

Numbers are numbers (a text "5" or a true is refused), instants carry a zone and are kept in UTC, days are calendar days
at the place of departure, and "none" is an answer beside a number where the trade has one ("no gust", "no ceiling").
"""

from datetime import UTC, date, datetime
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, AwareDatetime, BeforeValidator, Field
from pydantic.fields import FieldInfo

__all__ = ["Day", "Flag", "Instant", "NoneAnswer", "Note", "Text", "Whole", "within"]

EARLIEST_YEAR = 1920
LATEST_YEAR = 2120


def within(lowest: float, highest: float) -> FieldInfo:
    """Physically plausible bounds of a number, inclusive; also refuses texts and truth values as numbers."""
    return Field(strict=True, ge=lowest, le=highest)  # type: ignore[no-any-return]


def _no_bare_number(value: Any) -> Any:
    if isinstance(value, int | float):
        raise ValueError(
            f"{value!r} is a bare number; write a date such as 2026-05-04 or a time such as 2026-05-04T14:30Z"
        )  # noqa: TRY004  - pydantic turns ValueError, not TypeError, into a field error
    return value


def _plausible_instant(value: datetime) -> datetime:
    if not EARLIEST_YEAR <= value.year <= LATEST_YEAR:
        raise ValueError(f"the year {value.year} is not between {EARLIEST_YEAR} and {LATEST_YEAR}")
    return value.astimezone(UTC)


def _plausible_day(value: date) -> date:
    if not EARLIEST_YEAR <= value.year <= LATEST_YEAR:
        raise ValueError(f"the year {value.year} is not between {EARLIEST_YEAR} and {LATEST_YEAR}")
    return value


Instant = Annotated[AwareDatetime, BeforeValidator(_no_bare_number), AfterValidator(_plausible_instant)]
"""A moment with its zone given, kept in UTC."""

Day = Annotated[date, BeforeValidator(_no_bare_number), AfterValidator(_plausible_day)]
"""A calendar day, local at the place of departure."""

Flag = Annotated[bool, Field(strict=True)]
Whole = Annotated[int, Field(strict=True)]
NoneAnswer = Literal["none"]
Text = Annotated[str, Field(min_length=1, max_length=200)]
Note = Annotated[str, Field(min_length=1, max_length=2000)]
