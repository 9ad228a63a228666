"""Aircraft types: what a flight manual says about loading, performance, run-up and upkeep, as strict YAML."""

from riskboard.aircraft_types.json_schema import aircraft_type_json_schema
from riskboard.aircraft_types.load import TypeFileError, load_type
from riskboard.aircraft_types.model import AircraftType

__all__ = ["AircraftType", "TypeFileError", "aircraft_type_json_schema", "load_type"]
