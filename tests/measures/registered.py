"""Asks the registry for one measure of a small worksheet."""

from datetime import UTC, date, datetime, timedelta
from typing import Any

from riskboard.measures.registry import evaluate, load_all
from riskboard.worksheet.columns import to_columns
from riskboard.worksheet.model import Worksheet

load_all()

TAKE_OFF = datetime(2026, 5, 4, 15, 0, tzinfo=UTC)
"""09:00 at the place of departure, six hours behind UTC."""
FLIGHT: dict[str, Any] = {
    "take_off_at": TAKE_OFF,
    "landing_at": TAKE_OFF + timedelta(hours=1),
    "time_zone": "America/Denver",
}


def on_day(day: date) -> dict[str, Any]:
    """A flight from 18:00 to 19:00 on a day, in a zone without clock changes."""
    take_off = datetime(day.year, day.month, day.day, 18, tzinfo=UTC)
    return {"take_off_at": take_off, "landing_at": take_off + timedelta(hours=1), "time_zone": "UTC"}


def measured(name: str, **facts: Any) -> float:
    """The measure of a flight from 09:00 to 10:00 local on 4 May 2026, with these facts; everything else is blank."""
    sheet = Worksheet().but(**(FLIGHT | facts))
    return float(evaluate(to_columns([sheet], TAKE_OFF - timedelta(minutes=30)), [name])[name][0])
