"""Worksheet -> plain data, and -> YAML text that reads back as the same worksheet."""

import re
from collections.abc import Iterator, Mapping
from datetime import UTC, date, datetime
from decimal import Decimal
from enum import Enum
from typing import Any

from pydantic import BaseModel

from riskboard.words import NONE
from riskboard.worksheet.fact import FactClock
from riskboard.worksheet.model import PARTS, SCHEMA, Worksheet

__all__ = ["entry_data", "instant_text", "worksheet_data", "worksheet_yaml"]

_MOST_DIGITS = 15
"""What the YAML reader takes in a number; nothing that was read as a worksheet has more."""

_WORD = re.compile(r"[A-Za-z][a-z_]*")
_RESERVED = frozenset({"true", "false", "null"})


def instant_text(moment: datetime) -> str:
    """A moment as ISO 8601 in UTC with Z, to the minute where it falls on one: 2026-05-04T14:30Z."""
    at = moment.astimezone(UTC)
    spec = "auto" if at.second or at.microsecond else "minutes"
    return at.replace(tzinfo=None).isoformat(timespec=spec) + "Z"


def worksheet_data(sheet: Worksheet) -> dict[str, Any]:
    """The worksheet as plain data that JSON can hold and ``read_worksheet`` reads back as an equal worksheet.

    Args:
        sheet: Any worksheet.

    Returns:
        ``schema``, the parts that hold an entry, and ``clocks`` where there are any. Blanks are left out, an empty
        list is the answer "none", instants are ISO 8601 with Z, choices their words.
    """
    data: dict[str, Any] = {"schema": SCHEMA}
    for part in PARTS:
        entries = _entries(getattr(sheet, part))
        if entries:
            data[part] = entries
    clocks = {name: _entries(clock) for name, clock in sheet.clocks.items()}
    if clocks:
        data["clocks"] = clocks
    return data


def _entries(model: BaseModel) -> dict[str, Any]:
    return {name: _plain(value) for name, value in _filled(model)}


def _filled(model: BaseModel) -> Iterator[tuple[str, Any]]:
    """The entries that are not blank, in reading order."""
    for name in type(model).model_fields:
        value = getattr(model, name)
        if value is not None:
            yield name, value


def entry_data(value: Any) -> Any:
    """One entry as plain data that JSON can hold: an empty list is the answer "none", a choice its word."""
    return _plain(value)


def _plain(value: Any) -> Any:
    if isinstance(value, tuple):
        return [_entries(entry) for entry in value] or NONE
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, datetime):
        return instant_text(value)
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, FactClock):
        return _entries(value)
    return value


def worksheet_yaml(sheet: Worksheet, *, decided_at: datetime | None = None, comment: str = "") -> str:
    """The worksheet as the text of a worksheet file.

    Args:
        sheet: Any worksheet that was read from data.
        decided_at: The moment the worksheet is about, aware; left out when None.
        comment: Text for the top of the file; each of its lines becomes a comment.

    Returns:
        YAML that ``read_worksheet_text`` reads back as an equal worksheet.

    Raises:
        ValueError: ``decided_at`` has no zone, or a number has more than 15 digits (no entry has, a computed one may).
    """
    if decided_at is not None and decided_at.tzinfo is None:
        raise ValueError("decided_at needs a time zone")
    lines = [f"# {line}".rstrip() for line in comment.splitlines()]
    lines.append(f"schema: {SCHEMA}")
    if decided_at is not None:
        lines.append(f"decided_at: {_scalar(decided_at, 'decided_at')}")
    for part in PARTS:
        entries = dict(_filled(getattr(sheet, part)))
        if entries:
            lines.append(f"{part}:")
            lines += _map_lines(entries, "  ")
    if sheet.clocks:
        lines.append("clocks:")
        for name, clock in sheet.clocks.items():
            lines.append(f"  {name}: {_flow(clock)}")
    return "\n".join(lines) + "\n"


def _map_lines(entries: Mapping[str, Any], indent: str) -> Iterator[str]:
    for name, value in entries.items():
        if isinstance(value, tuple) and value:
            yield f"{indent}{name}:"
            yield from (f"{indent}  - {_flow(entry)}" for entry in value)
        else:
            yield f"{indent}{name}: {_scalar(value, name)}"


def _flow(entry: BaseModel) -> str:
    filled = (f"{name}: {_scalar(value, name)}" for name, value in _filled(entry))
    return "{" + ", ".join(filled) + "}"


def _scalar(value: Any, name: str) -> str:
    plain = _plain(value)
    if isinstance(plain, bool):
        return "true" if plain else "false"
    if isinstance(plain, int | float):
        return _number(plain, name)
    if isinstance(value, date) and not (isinstance(value, datetime) and value.microsecond):
        return str(plain)
    if (isinstance(value, Enum) or plain == NONE) and _WORD.fullmatch(str(plain)) and plain not in _RESERVED:
        return str(plain)
    escaped = str(plain).replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n")
    return f'"{escaped}"'


def _number(value: float, name: str) -> str:
    text = format(Decimal(repr(value)), "f")
    text = text.removesuffix(".0")
    if sum(character.isdigit() for character in text) > _MOST_DIGITS:
        raise ValueError(f"{name} {text} has more than {_MOST_DIGITS} digits; round it before it is written")
    return text
