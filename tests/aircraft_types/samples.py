"""Small invented types to break and to fly."""

from riskboard.aircraft_types import AircraftType, load_type

__all__ = ["BY_MOMENT", "GOOD", "OTHER", "by_moment", "good", "other"]

GOOD = """\
schema: riskboard-aircraft-type/1
id: wren-3
version: 2
title: Wren 3 (invented)
invented: true
source: {text: "Invented for tests", kind: invented, checked_on: 2026-10-01}
engine: {induction: carburetted, rpm_at_100_pct: 2500}
rotor_direction: clockwise
limits:
  gross_min_lb: 900
  gross_max_lb: 1400
  temperature_min_c: -15
  temperature_max_c: 38
  pressure_altitude_max_ft: 10000
  wind_max_kt: 30
  crosswind_max_kt: 17
airframe:
  longitudinal_arms_in: [10, 300]
  lateral_arms_in: [-35, 35]
loading:
  stations:
    right_seat: {label: Right seat, kind: seat, longitudinal_arm_in: 70, lateral_arm_in: 10, max_lb: 230, min_lb: 120}
    left_seat: {label: Left seat, kind: seat, longitudinal_arm_in: 70, lateral_arm_in: -10, max_lb: 230}
    baggage: {label: Baggage, kind: baggage, longitudinal_arm_in: 95, lateral_arm_in: 0, max_lb: 50}
  pilot_station: right_seat
  together:
    - {stations: [left_seat, baggage], max_lb: 260}
empty:
  weight_lb: 800
  longitudinal_moment_in_lb: 80800
  lateral_moment_in_lb: -160
  plausible_within_lb: 60
optional_equipment:
  left_door:
    {label: Left door, kind: door, weight_lb: 6, longitudinal_arm_in: 70, lateral_arm_in: -20, in_empty_weight: true}
  dual_controls:
    label: Dual controls
    kind: dual_controls
    weight_lb: 4
    longitudinal_arm_in: 60
    lateral_arm_in: -9
    in_empty_weight: false
envelopes:
  - doors: fitted
    longitudinal_corners_arm_in_weight_lb: [[88, 900], [88, 1250], [89.5, 1400], [96, 1400], [98, 900]]
    lateral_corners_arm_in_weight_lb: [[-3, 900], [-3, 1400], [3, 1400], [3.5, 900]]
  - doors: removed
    longitudinal_corners_arm_in_weight_lb: [[88, 900], [88, 1250], [89, 1350], [96, 1350], [98, 900]]
    lateral_corners_arm_in_weight_lb: [[-3, 900], [-3, 1350], [3, 1350], [3.5, 900]]
performance:
  hover_in_ground_effect:
    gross_weights_lb: [900, 1150, 1400]
    temperatures_c: [-15, 10, 38]
    ceilings_pressure_altitude_ft:
      - [10000, 9000, 7000]
      - [9000, 8000, 6000]
      - [8000, 6500, 4000]
  hover_out_of_ground_effect:
    gross_weights_lb: [900, 1150, 1400]
    temperatures_c: [-15, 10, 38]
    ceilings_pressure_altitude_ft:
      - [9000, 8000, 6000]
      - [8000, 6600, 4500]
      - [6000, 4000, null]
  power:
    continuous:
      label: Maximum continuous
      pressure_altitudes_ft: [0, 4000, 8000]
      temperatures_c: [-15, 38]
      limits_inhg:
        - [23.0, 24.0]
        - [22.0, 23.0]
        - [21.0, null]
    take_off:
      label: Take-off
      held_max_min: 5
      pressure_altitudes_ft: [0, 4000]
      temperatures_c: [-15, 38]
      limits_inhg:
        - [24.5, 25.5]
        - [23.5, 24.5]
fuel:
  lb_per_gal: 6
  feed: in_order
  tanks:
    main: {label: Main, capacity_gal: 18, usable_gal: 17.5, longitudinal_arm_in: 105, lateral_arm_in: -8}
    spare: {label: Spare, capacity_gal: 9, usable_gal: 8.8, longitudinal_arm_in: 102, lateral_arm_in: 9}
  start_and_taxi_gal: 1
  burn_gal_per_h: {ground: 4, hover: 11, cruise: 9, training: 10}
  burn_spread: {between_aircraft_sd_gal_per_h: 0.6, between_flights_sd_gal_per_h: 0.7, reading_sd_gal: 0.5}
run_up:
  stated_in: Wren 3 handbook, section 4
  oil_pressure_within_s: 30
  rotor_turning_within_s: 5
  clutch_light_out_within_s: 80
  magneto_check_rpm_pct: [74, 76]
  magneto_drop_max_pct: 7
  magneto_difference_max_pct: 3
  magneto_hold_s: [1, 5]
  carburettor_heat_rise_min_c: 12
  governor_rpm_pct: [101, 103]
  low_rotor_warning_rpm_pct: [95, 97]
  hydraulics: false
shut_down:
  idle_rpm_pct: [55, 65]
  cool_down_at_idle_s: 120
  before_mixture_off_s: 30
  before_rotor_brake_s: 30
loose_equipment:
  - {name: Doors, why: Doors off changes the envelope.}
inspections:
  - {name: Annual inspection, every_months: 12}
  - {name: 100-hour inspection, every_h: 100}
life_limits:
  - {name: Main rotor blades, every_h: 2000, every_months: 120}
"""


def good() -> AircraftType:
    """The first of them, read."""
    return load_type(GOOD, name="wren_3.yaml")


def _swapped(text: str, *pairs: tuple[str, str]) -> str:
    for old, new in pairs:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return text


def _without(text: str, *starts: str) -> str:
    return "".join(line for line in text.splitlines(keepends=True) if not line.strip().startswith(starts))


_REMOVED = GOOD[GOOD.index("  - doors: removed") : GOOD.index("performance:")]
_TURBINE = _swapped(
    GOOD.replace("limits_inhg", "limits_pct").replace("ceilings_pressure_altitude_ft", "ceilings_density_altitude_ft"),
    ("id: wren-3", "id: wren-5"),
    ("title: Wren 3 (invented)", "title: Wren 5 (invented)"),
    ("induction: carburetted", "induction: turbine"),
    ("feed: in_order", "feed: together"),
    ("  - doors: fitted\n", "  - doors: either\n"),
    (_REMOVED, ""),
    (
        "lateral_corners_arm_in_weight_lb: [[-3, 900], [-3, 1400], [3, 1400], [3.5, 900]]",
        "lateral_corners_arm_in_arm_in: [[88, -3], [88, 3], [94, 3.5], [98, 2], [98, -3]]",
    ),
    ("[23.0, 24.0]", "[90, 90]"),
    ("[22.0, 23.0]", "[80, 80]"),
    ("[21.0, null]", "[70, null]"),
    ("[24.5, 25.5]", "[95, 95]"),
    ("[23.5, 24.5]", "[85, 85]"),
)
OTHER = _without(_TURBINE, "magneto_", "carburettor_heat")


def other() -> AircraftType:
    """The second: a turbine, one envelope for any doors, lateral against longitudinal, density altitudes."""
    return load_type(OTHER, name="wren_5.yaml")


BY_MOMENT = _swapped(
    OTHER,
    ("id: wren-5", "id: wren-6"),
    (
        "lateral_corners_arm_in_arm_in: [[88, -3], [88, 3], [94, 3.5], [98, 2], [98, -3]]",
        "lateral_corners_arm_in_moment_in_lb: [[88, -3000], [88, 3000], [94, 3500], [98, 2000], [98, -3000]]",
    ),
)


def by_moment() -> AircraftType:
    """The second with its lateral envelope as a moment, the way some handbooks draw it."""
    return load_type(BY_MOMENT, name="wren_6.yaml")
