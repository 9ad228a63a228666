"""The names an entry answers to: its own, and its own in another unit (``altimeter_hpa`` for ``altimeter_inhg``)."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from pydantic import BaseModel

from riskboard.worksheet.fact import FactSheet
from riskboard.worksheet.shape import shape_of

__all__ = ["EntryName", "entry_names"]

# (ending of the field, ((ending given, its unit, the unit as written), ...), the field's unit, resolution where the
# field states none). Longer endings first, so that a height above ground is not taken for one above the sea.
_UNITS_BY_ENDING: tuple[tuple[str, tuple[tuple[str, str, str], ...], str, float], ...] = (
    ("_ft_agl", (("_m_agl", "m", "m"),), "ft", 50),
    ("_gal_h", (("_l_h", "l", "L/h"),), "gal", 0.1),
    ("_gal", (("_l", "l", "L"),), "gal", 0.1),
    ("_inhg", (("_hpa", "hpa", "hPa"),), "inhg", 0.01),
    ("_in_lb", (), "in_lb", 1),
    ("_lb", (("_kg", "kg", "kg"),), "lb", 0.1),
    ("_ft", (("_m", "m", "m"),), "ft", 10),
    ("_sm", (("_m", "m", "m"), ("_km", "km", "km")), "sm", 0.05),
    ("_nm", (("_km", "km", "km"),), "nm", 0.1),
    ("_kt", (("_ms", "ms", "m/s"), ("_kmh", "kmh", "km/h")), "kt", 1),
    ("_c", (("_f", "f", "°F"),), "c", 0.1),
)


@dataclass(frozen=True)
class EntryName:
    """One name under which an entry may be given.

    Attributes:
        field: The field it fills.
        from_unit: Unit of the value given; None when it is the field's own unit.
        to_unit: The field's unit, as ``units.py`` calls it.
        resolution: Multiple that the converted value is rounded to.
        unit_word: The unit given, as people write it.
    """

    field: str
    from_unit: str | None = None
    to_unit: str = ""
    resolution: float = 1.0
    unit_word: str = ""


def _other_units(model: type[BaseModel], field: str) -> dict[str, EntryName]:
    if shape_of(model, field).kind != "number":
        return {}
    for ending, others, to_unit, usual in _UNITS_BY_ENDING:
        if field.endswith(ending):
            stated = model.facts()[field].rounding if issubclass(model, FactSheet) else None
            stem = field.removesuffix(ending)
            return {
                stem + other: EntryName(field, unit, to_unit, stated or usual, word) for other, unit, word in others
            }
    return {}


@cache
def entry_names(model: type[BaseModel]) -> Mapping[str, EntryName]:
    """Every name that a part or a list entry understands, own names first."""
    names = {field: EntryName(field) for field in model.model_fields}
    for field in model.model_fields:
        for name, meaning in _other_units(model, field).items():
            names.setdefault(name, meaning)
    return names
