"""One JSON text for one value: what the risk log hashes and keeps.

Sorted keys, no white space, UTF-8, no NaN and no infinity, times in UTC with a ``Z``. The text is made once, when an
entry is sealed; to verify a log the stored bytes are hashed as they stand and nothing is ever encoded again.
"""

import json
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from itertools import chain
from typing import Any, NoReturn, TypeAlias

__all__ = ["Json", "NotCanonicalError", "canonical_json", "parse_json", "parse_utc", "utc_text"]

Json: TypeAlias = "bool | int | float | str | datetime | Sequence[Json] | Mapping[str, Json] | None"

MAX_DEPTH = 64
"""Deeper than any worksheet; a value that contains itself ends here and not in a full stack."""


class NotCanonicalError(ValueError):
    """A value that has no canonical JSON text; the message names the place in the value and what would be right."""


def canonical_json(value: Json) -> bytes:
    """Return the one canonical UTF-8 text of a value.

    Args:
        value: None, bool, int, finite float, text, timezone-aware datetime, or lists and mappings of these. Mapping
            keys are text. Subclasses (an enum that is text, a numpy float64 that is a float) count as their base type.

    Raises:
        NotCanonicalError: For NaN or infinity, a naive datetime, a key that is not text, half a surrogate pair, a
            value of any other type, or more than 64 levels.
    """
    # What is almost always given can be written as it stands; whatever is unusual or wrong goes the thorough way, which
    # gives the same text, or names the place in the value that has none.
    if _is_usual(value):
        try:
            return _ENCODER.encode(value).encode("utf-8")
        except ValueError:
            pass
    return _ENCODER.encode(_plain(value, "$", 0)).encode("utf-8")


def parse_json(data: bytes | str) -> object:
    """Read JSON strictly: duplicate keys, NaN and infinity are refused.

    Raises:
        NotCanonicalError: If the text is not JSON in UTF-8, or holds one of the above.
    """
    try:
        text = data.decode("utf-8") if isinstance(data, bytes) else data
        parsed: object = json.loads(text, parse_constant=_refuse_constant, object_pairs_hook=_unique_pairs)
    except NotCanonicalError:
        raise
    except (ValueError, RecursionError) as error:
        raise NotCanonicalError(f"The text is not valid JSON in UTF-8: {error}.") from error
    return parsed


def utc_text(moment: datetime) -> str:
    """Write a timezone-aware moment as ISO 8601 in UTC, for example ``2026-03-01T09:00:00Z``.

    Raises:
        NotCanonicalError: If the moment has no time zone.
    """
    if moment.utcoffset() is None:
        raise NotCanonicalError(f"The time {moment.isoformat()} has no time zone; give a timezone-aware time.")
    return moment.astimezone(UTC).replace(tzinfo=None).isoformat() + "Z"


def parse_utc(text: str) -> datetime:
    """Read what ``utc_text`` wrote.

    Raises:
        NotCanonicalError: If the text is not an ISO 8601 time that ends in ``Z``.
    """
    try:
        moment = datetime.fromisoformat(text)
    except ValueError as error:
        raise NotCanonicalError(f"{text!r} is not a time; expected one like 2026-03-01T09:00:00Z.") from error
    if not text.endswith("Z") or moment.tzinfo is None:
        raise NotCanonicalError(f"The time {text!r} is not in UTC; expected one that ends in Z.")
    return moment


# What it is given has been looked through to its depth before: a value that contains itself never gets here.
_ENCODER = json.JSONEncoder(
    ensure_ascii=False, allow_nan=False, sort_keys=True, separators=(",", ":"), default=utc_text, check_circular=False
)
_MANY = 1_000_000
"""More values than these on one level fit in no body; a list that holds itself twice doubles with each level."""
_ONLY_TEXT = frozenset({str})
_ONLY_MAPPINGS = frozenset({dict})
_USUAL = frozenset({str, int, float, bool, type(None), datetime})
_ALLOWED = _USUAL | {dict, list, tuple}


def _is_usual(value: object) -> bool:
    """Whether a value is made of the plain types only, with text for keys, and is not too deep.

    Level by level and never value by value: this is asked of every record, and with calls for each value it would cost
    as much as writing the text does.
    """
    level: list[Any] = [value]
    for _ in range(MAX_DEPTH + 1):
        kinds = set(map(type, level))
        if kinds <= _USUAL:
            return True
        if not kinds <= _ALLOWED:
            return False
        mappings = level if kinds == _ONLY_MAPPINGS else [each for each in level if type(each) is dict]
        lists = [] if mappings is level else [each for each in level if type(each) is list or type(each) is tuple]
        if not _ONLY_TEXT.issuperset(map(type, chain.from_iterable(mappings))):
            return False
        if sum(map(len, mappings)) + sum(map(len, lists)) > _MANY:
            return False
        level = [*chain.from_iterable(map(dict.values, mappings)), *chain.from_iterable(lists)]
    return False


def _plain(value: object, path: str, depth: int) -> object:  # noqa: PLR0911 - one return for each JSON type
    if depth > MAX_DEPTH:
        raise NotCanonicalError(f"{path[:80]}...: more than {MAX_DEPTH} levels; does the value contain itself?")
    if value is None or isinstance(value, bool):
        return value
    if isinstance(value, str):
        return _plain_text(value, path)
    if isinstance(value, int):
        return int(value)
    if isinstance(value, float):
        return _plain_number(value, path)
    if isinstance(value, datetime):
        return _plain_time(value, path)
    if isinstance(value, Mapping):
        return {_key(key, path): _plain(item, f"{path}.{key}", depth + 1) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item, f"{path}[{index}]", depth + 1) for index, item in enumerate(value)]
    raise NotCanonicalError(
        f"{path}: a {type(value).__name__} cannot stand in the log; "
        "use null, true/false, a number, text, a UTC time, a list or a mapping."
    )


def _plain_text(value: str, path: str) -> str:
    text = str.__str__(value)
    try:
        text.encode("utf-8")
    except UnicodeEncodeError as error:
        raise NotCanonicalError(f"{path}: the text holds half a surrogate pair, which UTF-8 cannot carry.") from error
    return text


def _plain_number(value: float, path: str) -> float:
    number = float(value)
    if number != number or number in {float("inf"), float("-inf")}:  # noqa: PLR0124 - NaN is what differs from itself
        raise NotCanonicalError(f"{path}: {number} is not a number the log can keep; write unknown as null.")
    return number


def _plain_time(value: datetime, path: str) -> str:
    try:
        return utc_text(value)
    except NotCanonicalError as error:
        raise NotCanonicalError(f"{path}: {error}") from error


def _key(key: object, path: str) -> str:
    if not isinstance(key, str):
        raise NotCanonicalError(f"{path}: the key {key!r} is not text; every key must be text.")
    return _plain_text(key, f"{path}.<key>")


def _refuse_constant(name: str) -> NoReturn:
    raise NotCanonicalError(f"The text holds {name}, which is not JSON; write unknown as null.")


def _unique_pairs(pairs: list[tuple[str, object]]) -> dict[str, object]:
    found = dict(pairs)
    if len(found) != len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise NotCanonicalError(f"The key {twice!r} stands twice in one mapping; keep one of them.")
    return found
