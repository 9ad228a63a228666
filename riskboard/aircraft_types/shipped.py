"""The aircraft types that travel with riskboard, read once."""

from functools import cache

from riskboard.aircraft_types.load import load_type
from riskboard.aircraft_types.model import AircraftType
from riskboard.shipped import aircraft_type_files

__all__ = ["shipped_types"]


@cache
def shipped_types() -> tuple[AircraftType, ...]:
    """Every shipped type. All of them are invented, for trying riskboard and for its own tests."""
    return tuple(load_type(text, name=name) for name, text in aircraft_type_files())
