"""Reads the reference files under ``tests/reference``; every case keeps its id, so that a test can name it."""

from datetime import UTC, date, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import yaml

FOLDER = Path(__file__).parent.parent / "reference"
Case = dict[str, Any]


@cache
def document(name: str) -> dict[str, Any]:
    """One reference file, e.g. ``rules``. Clock times without seconds stay text, dates become dates."""
    loaded = yaml.safe_load((FOLDER / f"{name}.yaml").read_text(encoding="utf-8"))
    assert isinstance(loaded, dict)
    return loaded


def topic(name: str, section: str) -> list[Case]:
    """The cases of one section of ``rules`` or topic of ``rules_more``."""
    loaded = document(name)
    cases: list[Case] = loaded["sections" if "sections" in loaded else "topics"][section]["cases"]
    return cases


def params(cases: list[Case], *, where: Any = None) -> list[Any]:
    """Cases as pytest parameters under their own ids; ``where`` picks some."""
    return [pytest.param(case, id=case["id"]) for case in cases if where is None or where(case)]


def day(value: str | date | None) -> date | None:
    """A calendar day; "unknown" and null are None."""
    if value is None or value == "unknown":
        return None
    return value if isinstance(value, date) else date.fromisoformat(value)


def known_day(value: str | date) -> date:
    """A calendar day that the case must give."""
    found = day(value)
    assert found is not None
    return found


def number(value: float | str | None) -> float:
    """A number; "unknown" and null are NaN."""
    return float("nan") if value is None or value == "unknown" else float(value)


def clock(value: str) -> datetime:
    """A naive local clock time, as the reference files write it."""
    return datetime.fromisoformat(value)


def at_utc(value: str) -> datetime:
    """The same clock time in a zone without clock changes."""
    return datetime.fromisoformat(value).replace(tzinfo=UTC)


def spans(pairs: list[list[str]]) -> list[tuple[datetime, datetime]]:
    """Pairs of naive clock times."""
    return [(clock(a), clock(b)) for a, b in pairs]


def hours(value: float) -> timedelta:
    """A duration."""
    return timedelta(hours=value)
