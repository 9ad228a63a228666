"""The one place where the app reads a clock. RISKBOARD_NOW holds it still, for tests and demonstrations.

It names an instant, or ``@`` and a file that holds one: then whoever writes to the file moves the clock of a running
server on. Every screen says that the clock is held.
"""

import os
from datetime import UTC, datetime
from pathlib import Path

__all__ = ["HELD_VARIABLE", "held", "now"]

HELD_VARIABLE = "RISKBOARD_NOW"


def held() -> datetime | None:
    """The instant at which the clock is held, or None when it runs.

    Raises:
        ValueError: The variable, or the file that it names, holds no instant with a zone.
        OSError: The file cannot be read.
    """
    text = os.environ.get(HELD_VARIABLE)
    if not text:
        return None
    if text.startswith("@"):
        text = Path(text[1:]).read_text(encoding="utf-8").strip()
    moment = datetime.fromisoformat(text)
    if moment.tzinfo is None:
        raise ValueError(f"{HELD_VARIABLE}={text!r} has no zone; write one such as 2026-05-04T14:00Z")
    return moment.astimezone(UTC)


def now() -> datetime:
    """The time, UTC, whole seconds."""
    return held() or datetime.now(UTC).replace(microsecond=0)
