"""Weights, arms and margins as people of the trade say them; a margin is cut down, as the measures of it are."""

from math import floor, isfinite

from riskboard.assessment.phrases import MINUS

__all__ = ["at_most", "feet", "gallons", "inches", "listed", "pounds"]

_LITTLE = 1e-6
"""Margins are worked out to a millionth of their unit; nearer than this to a step is on it."""


def _said(value: float, decimals: int, unit: str) -> str:
    digits = f"{value:,.{decimals}f}"
    if "." in digits:
        digits = digits.rstrip("0").rstrip(".")
    return f"{'0' if digits == '-0' else digits} {unit}".replace("-", MINUS)


def pounds(value: float) -> str:
    """Pounds, to a tenth."""
    return _said(value, 1, "lb")


def feet(value: float) -> str:
    """Feet."""
    return _said(value, 0, "ft")


def inches(value: float) -> str:
    """Inches, to a hundredth."""
    return _said(value, 2, "in")


def gallons(value: float) -> str:
    """US gallons, to a tenth."""
    return _said(value, 1, "US gal")


def at_most(value: float, decimals: int) -> float:
    """A margin or a limit cut down to what is shown of it: the rest is no room to use. NaN and infinities stay."""
    if not isfinite(value):
        return value
    step = 10.0**decimals
    return floor(value * step + _LITTLE) / step


def listed(names: list[str]) -> str:
    """Names in one line: a, b and c."""
    if len(names) < 2:  # noqa: PLR2004 - nothing to join
        return "".join(names)
    return f"{', '.join(names[:-1])} and {names[-1]}"
