"""The worksheet as it was put before the second person: every entry, by the worksheet's own parts, and when typed."""

from html import escape
from zoneinfo import ZoneInfo

from riskboard.app.widgets.text import info_of, shown_value
from riskboard.assessment.phrases import clock_time
from riskboard.jobs import Review
from riskboard.worksheet.model import PARTS

__all__ = ["entries_of"]

_TITLES = {
    "plan": "Flight",
    "aircraft": "Aircraft",
    "weather": "Weather",
    "pilot": "Pilot",
    "pressures": "Pressures",
}
_PASTED = ("pasted_report", "pasted_forecast")


def entries_of(review: Review, zone: ZoneInfo) -> str:
    """The weather as it was pasted, then all parts, each to open and close, HTML."""
    pasted = "".join(_as_pasted(review, name) for name in _PASTED)
    return pasted + "".join(_part(review, part, title, zone) for part, title in _TITLES.items())


def _part(review: Review, part: str, title: str, zone: ZoneInfo) -> str:
    rows, blank = [], []
    for name, info in PARTS[part].facts().items():
        value = review.sheet.value(name)
        if name in _PASTED:
            continue
        if value is None:
            if review.reads_health or not info.health:
                blank.append(info.label)
            continue
        unit = f" {info.unit}" if info.unit and isinstance(value, int | float) and not isinstance(value, bool) else ""
        said = escape(shown_value(value, zone) + unit)
        rows.append(f"<dt>{escape(info.label)}</dt><dd>{said}{_typed(review, name, zone)}</dd>")
    known = f'<dl class="rb-facts">{"".join(rows)}</dl>' if rows else '<p class="rb-note">Nothing was entered.</p>'
    left_blank = f'<p class="rb-note">Left blank: {escape("; ".join(blank))}.</p>' if blank else ""
    return (
        f'<details class="rb-more"><summary><strong>{title}</strong>: {len(rows)} entries, {len(blank)} blank</summary>'
        f"{known}{left_blank}</details>"
    )


def _typed(review: Review, name: str, zone: ZoneInfo) -> str:
    """When it was typed, where it was typed on the day of the request; older ones are what the school has on file."""
    clock = review.sheet.clocks.get(name)
    if clock is None or clock.typed_at is None:
        return ""
    typed_at = clock.typed_at
    if typed_at.astimezone(zone).date() == review.asked_at.astimezone(zone).date():
        return f" <small>(typed {escape(clock_time(typed_at, zone.key))})</small>"
    return f" <small>(on file since {typed_at.astimezone(zone):%d %b %Y})</small>"


def _as_pasted(review: Review, name: str) -> str:
    value = review.sheet.value(name)
    if not value:
        return ""
    return f'<p class="rb-note">{escape(info_of(name).label)}:</p><pre class="rb-pasted">{escape(str(value))}</pre>'
