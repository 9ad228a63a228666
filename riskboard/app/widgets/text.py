"""Text from data, shown as text: nothing that somebody typed is ever read as markup."""

import re
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from enum import Enum
from html import escape
from typing import Any
from zoneinfo import ZoneInfo

import streamlit as st
from pydantic import BaseModel

from riskboard.worksheet.fact import FactInfo
from riskboard.worksheet.model import FIELD_PART, PARTS, Worksheet

__all__ = ["draw_alert", "draw_html", "fact_rows", "info_of", "label_of", "plain_label", "shown_value", "words"]


def draw_html(*pieces: str) -> None:
    """Put finished HTML on the page. Whoever builds it escapes what comes from data."""
    st.html("".join(pieces))


def draw_alert(message: str) -> None:
    """Say what was refused or must be mended, as plain text."""
    draw_html(f'<div class="rb-alert" role="alert">{escape(message)}</div>')


_MARKUP = re.compile(r"([\\`*_{}\[\]()<>#+\-.!|$~:&^=])")


def plain_label(text: str) -> str:
    """Typed text for the label of a button or link, where markup would be read: each sign of it is taken as text."""
    return _MARKUP.sub(r"\\\1", " ".join(text.split()))


def info_of(field: str) -> FactInfo:
    """The worksheet's own description of an entry."""
    return PARTS[FIELD_PART[field]].facts()[field]


def label_of(field: str) -> str:
    """Label with unit, as the worksheet says it."""
    info = info_of(field)
    return f"{info.label} ({info.unit})" if info.unit else info.label


def words(name: str) -> str:
    """A name of the vocabulary as people read it."""
    return name.replace("_", " ")


def shown_value(value: object, zone: ZoneInfo) -> str:  # noqa: PLR0911  - one line for each sort of value
    """One entry's value as people read it, without its unit."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Enum):
        return words(str(value.value))
    if isinstance(value, datetime):
        return f"{value.astimezone(zone):%a %d %b %H:%M}"
    if isinstance(value, date):
        return f"{value:%d %b %Y}"
    if isinstance(value, float):
        return f"{value:g}"
    if isinstance(value, BaseModel):
        said = ((name, getattr(value, name)) for name in type(value).model_fields)
        return ", ".join(f"{words(name)} {shown_value(part, zone)}" for name, part in said if part is not None)
    if isinstance(value, tuple):
        return "; ".join(shown_value(entry, zone) for entry in value) or "none"
    return str(value)


def fact_rows(sheet: Worksheet, fields: Sequence[str], zone: ZoneInfo) -> str:
    """Known entries as a description list, HTML."""
    rows = []
    for field in fields:
        value = sheet.value(field)
        if value is not None:
            info = info_of(field)
            unit = f" {info.unit}" if info.unit and isinstance(value, int | float) else ""
            rows.append(f"<dt>{escape(info.label)}</dt><dd>{escape(shown_value(value, zone) + unit)}</dd>")
    return f'<dl class="rb-facts">{"".join(rows)}</dl>' if rows else "<p>Nothing yet.</p>"


def plain_rows(rows: Mapping[str, Any]) -> str:
    """Name and value pairs as a description list, HTML."""
    found = "".join(f"<dt>{escape(str(name))}</dt><dd>{escape(str(value))}</dd>" for name, value in rows.items())
    return f'<dl class="rb-facts">{found}</dl>'
