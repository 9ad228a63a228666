"""What is seen at a run-up, for tests."""

from collections.abc import Mapping
from typing import Any

__all__ = ["RUN_UP"]

RUN_UP: Mapping[str, Any] = {
    "oil_pressure_after_s": 8,
    "rotor_turning_after_s": 3,
    "clutch_light_out_after_s": 70,
    "magneto_check_rpm_pct": 75,
    "magneto_left_drop_pct": 3,
    "magneto_right_drop_pct": 4,
    "magneto_left_held_s": 2,
    "magneto_right_held_s": 2,
    "magnetos_smooth": True,
    "carburettor_heat_rise_c": 20,
    "governor_rpm_pct": 101.5,
    "low_rotor_warning_rpm_pct": 97,
    "hydraulics_good": True,
    "warning_lights_out": True,
    "gauges_normal": True,
    "fuel_as_briefed": True,
    "anything_odd": "none",
}
"""A run-up of the invented type with everything as its handbook says."""
