"""What is said once a flight is closed: where, how it weighs, what the next pilot will not know, the receipt."""

from riskboard import jobs
from riskboard.worksheet.debrief import Debrief, severity_of

__all__ = ["closed_words", "left_untold"]


def closed_words(name: str, told: Debrief, signed: jobs.Signed) -> tuple[str, str, str]:
    """What happened, what stays unknown, and the receipt.

    Args:
        name: The aircraft.
        told: What is on record.
        signed: The record.
    """
    weight = severity_of(told)
    how = f"noted for the safety officer as {weight.name.replace('_', ' ')}" if weight else "as planned"
    return f"{name}: closed, {how}. Record {signed.entry.seq}.", _unknown(told), signed.receipt.code


def left_untold(told: Debrief) -> str:
    """What the next pilot would not know of the aircraft; "" where all of it was told."""
    left = [name for name, state in told.condition if state is None]
    return " and ".join(["the hour meter"] * (told.meter_h is None) + ["how it was left"] * bool(left))


def _unknown(told: Debrief) -> str:
    said = left_untold(told)
    return f"Not told, and unknown to the next pilot: {said}." if said else ""
