"""Numbers as people of the trade say them, and clauses as sentences. Pure text, no arithmetic on results."""

from datetime import UTC, datetime, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

from riskboard.measures.registry import MEASURES, Measure
from riskboard.words import Direction, Guard

__all__ = ["amount", "beyond_word", "clock_time", "must_be", "points_phrase", "upper_first", "within_word"]


MINUS = "\N{MINUS SIGN}"


def upper_first(text: str) -> str:
    """Capital first letter, the rest untouched."""
    return text[:1].upper() + text[1:]


def _digits(value: float, decimals: int) -> str:
    text = f"{value:,.{decimals}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in {"-0", ""} else text.replace("-", MINUS)


@lru_cache(maxsize=8192)  # bounds are said again at every assessment; a school's policies hold a few hundred
def amount(measure: str, value: float | None) -> str:
    """A measure's value with its unit, or the word its code stands for; None reads "unknown"."""
    if value is None:
        return "unknown"
    entry = MEASURES[measure]
    if entry.at_low and value == entry.low:
        return entry.at_low
    if entry.words:
        return entry.words.get(int(value), _digits(value, entry.decimals)) if value == int(value) else _digits(value, 1)
    return _with_unit(entry, value)


def _with_unit(entry: Measure, value: float) -> str:
    digits = _digits(value, entry.decimals)
    if not entry.unit:
        return digits
    if entry.unit == "d":
        return f"{digits} day" if abs(value) == 1 else f"{digits} days"
    return f"{digits}{'' if entry.unit in {'°', '%'} else ' '}{entry.unit}"


def beyond_word(measure: str) -> str:
    """The word for "on the worse side of a bound"; a code that reads as words is not above or below anything."""
    entry = MEASURES[measure]
    if entry.words:
        return "worse than"
    return "below" if entry.worse is Direction.lower else "above"


def within_word(measure: str) -> str:
    """The word for a bound that must be kept."""
    return "at least" if MEASURES[measure].worse is Direction.lower else "at most"


def must_be(measure: str, bound: float) -> str:
    """What a limit asks for: "at most 20 kt", or just the bound where nothing better exists ("must be done")."""
    entry = MEASURES[measure]
    shown = amount(measure, bound)
    if bound == (entry.high if entry.worse is Direction.lower else entry.low):
        return shown
    return f"{within_word(measure)} {shown}"


def points_phrase(points: int) -> str:
    """Points with their noun in the right number."""
    return "1 point" if points == 1 else f"{points} points"


def guard_phrase(word: Guard, wanted: bool) -> str:
    """A guard as people read it: "civil night", "not solo"."""
    return ("" if wanted else "not ") + word.value.replace("_", " ")


def clock_time(moment: datetime, zone: str | None) -> str:
    """A moment in the school's or departure's zone, with the zone's short name."""
    local = moment.astimezone(ZoneInfo(zone)) if zone else moment.astimezone(UTC)
    return f"{local:%H:%M} {local.tzname()}" if local.utcoffset() != timedelta(0) or zone else f"{local:%H:%M}Z"
