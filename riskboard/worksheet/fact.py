"""What every worksheet field carries beside its type: label, unit, why it is asked, and its PAVE group.

The form, the CLI, CSV import and the blank paper sheet are made from these; a page never holds a label of its own.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any, ClassVar

from pydantic import BaseModel, ConfigDict, Field
from pydantic.fields import FieldInfo

from riskboard.words import Group
from riskboard.worksheet.kinds import Instant

__all__ = ["FactClock", "FactInfo", "FactSheet", "Part", "fact", "fact_info"]


@dataclass(frozen=True)
class FactInfo:
    """The description of one input.

    Attributes:
        label: What the person reads beside the entry.
        unit: Unit as shown, or "" for a choice, a date or a text.
        why: One short sentence: why it is asked.
        health: True for answers that only the pilot and whoever must sign may see.
        step: Practical resolution of the entry in its unit, for number fields; None otherwise.
        resolution: Multiple that a value converted from another unit is rounded to; ``step`` where not given. Finer
            than the step where rounding to the step could lift a value over a limit.
    """

    label: str
    unit: str
    why: str
    health: bool = False
    step: float | None = None
    resolution: float | None = None

    @property
    def rounding(self) -> float | None:
        """The multiple a converted value is rounded to; None for what is no number."""
        return self.step if self.resolution is None else self.resolution


_KEY = "riskboard"


def fact(
    label: str,
    unit: str = "",
    *,
    why: str,
    health: bool = False,
    step: float | None = None,
    resolution: float | None = None,
) -> Any:
    """Declare one worksheet field. Blank (None) is always allowed and always means unknown.

    Args:
        label: What the person reads.
        unit: Unit shown.
        why: Why it is asked.
        health: Restrict who sees it.
        step: Practical resolution of the entry.
        resolution: Finer multiple for converted values, see :class:`FactInfo`.

    Returns:
        A pydantic field with None as its default. Bounds stand in the field's own type (:func:`within`).
    """
    info = FactInfo(label, unit, why, health, step, resolution)
    return Field(default=None, title=label, description=why, json_schema_extra={_KEY: vars(info).copy()})


def fact_info(field: FieldInfo) -> FactInfo:
    """Read back what :func:`fact` stored.

    Raises:
        TypeError: The field was declared without :func:`fact`.
    """
    extra = field.json_schema_extra
    if not isinstance(extra, dict) or not isinstance(extra.get(_KEY), dict):
        raise TypeError(f"worksheet field {field.title!r} must be declared with fact(...)")
    return FactInfo(**extra[_KEY])  # type: ignore[arg-type]


class FactClock(BaseModel):
    """The two clocks of a fact: when it was true, and when it was typed. A late entry is not a fresh one."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    true_at: Instant | None = None
    typed_at: Instant | None = None


class FactSheet(BaseModel):
    """Facts that belong together. Immutable; unknown names are refused; numbers must be finite."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False, str_strip_whitespace=True)

    @classmethod
    def facts(cls) -> dict[str, FactInfo]:
        """Every input of this sheet by name, in the order people read them."""
        return dict(_facts(cls))


@cache
def _facts(sheet: type[FactSheet]) -> Mapping[str, FactInfo]:
    return {name: fact_info(field) for name, field in sheet.model_fields.items()}


class Part(FactSheet):
    """One of the five parts of a worksheet."""

    group: ClassVar[Group]
