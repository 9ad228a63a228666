"""What may stand in a type file: which keys, of which kind, required or not. Units stand in the names of the keys.

Only the shape is here. What must hold between values (an envelope that does not cross itself, limits that agree) is
proved in ``checks.py`` and its neighbours.
"""

from riskboard.aircraft_types.model import (
    PHASES,
    DoorState,
    EquipmentKind,
    Feed,
    StationKind,
)
from riskboard.aircraft_types.shape import (
    Axis,
    Choice,
    Corners,
    Day,
    Flag,
    Key,
    Kind,
    ListOf,
    MapOf,
    Number,
    Range,
    Record,
    Table,
    Text,
    Whole,
)
from riskboard.words import Induction, RotorDirection

__all__ = ["SCHEMA", "SOURCE_KINDS", "TYPE"]

SCHEMA = "riskboard-aircraft-type/1"
SOURCE_KINDS = ("flight manual", "weighing report", "published guidance", "common practice", "invented")

NAME = Text(60, "[a-z][a-z0-9_]*", "small letters, digits and _, first a letter")
ID = Text(60, "[a-z][a-z0-9-]*", "small letters, digits and -, first a letter")

_WEIGHT = Number(0, 50_000, above=True)
_LOAD = Number(0, 50_000)
_ARM = Number(-2000, 2000)
_MOMENT = Number(-10_000_000, 10_000_000)
_TEMPERATURE = Number(-80, 80)
_ALTITUDE = Number(-2000, 40_000)
_KNOTS = Number(0, 150, above=True)
_GALLONS = Number(0, 2000, above=True)
_BURN = Number(0, 300, above=True)
_SPREAD = Number(0, 50, above=True)
_SECONDS = Number(0, 3600)
_PERCENT = Number(0, 130)
_HOURS = Number(0, 100_000, above=True)


def _optional(kind: Kind, about: str) -> Key:
    return Key(kind, about, required=False)


SOURCE = Record(
    "the source",
    {
        "text": Key(Text(300), "Where the figures come from, as a reader can find it."),
        "kind": Key(Choice(SOURCE_KINDS), "What sort of source that is."),
        "checked_on": Key(Day(), "When somebody last compared the file with its source."),
    },
)

ENGINE = Record(
    "the engine",
    {
        "induction": Key(Choice(tuple(Induction)), "How the engine breathes."),
        "rpm_at_100_pct": Key(Number(0, 100_000, above=True), "Engine speed at 100 % of the tachometer."),
    },
)

LIMITS = Record(
    "the limits",
    {
        "gross_min_lb": Key(_WEIGHT, "Lowest weight for flight."),
        "gross_max_lb": Key(_WEIGHT, "Highest weight for flight."),
        "temperature_min_c": Key(_TEMPERATURE, "Lowest outside temperature."),
        "temperature_max_c": Key(_TEMPERATURE, "Highest outside temperature."),
        "pressure_altitude_max_ft": Key(_ALTITUDE, "Highest pressure altitude."),
        "wind_max_kt": _optional(_KNOTS, "Highest wind, gusts included; leave out where the manual states none."),
        "gust_spread_max_kt": _optional(_KNOTS, "Greatest gust spread; leave out where the manual states none."),
        "crosswind_max_kt": _optional(_KNOTS, "Highest crosswind; leave out where the manual states none."),
        "tailwind_max_kt": _optional(_KNOTS, "Highest tailwind; leave out where the manual states none."),
    },
)

AIRFRAME = Record(
    "the airframe",
    {
        "longitudinal_arms_in": Key(Range(_ARM), "From the frontmost to the rearmost arm anything can have."),
        "lateral_arms_in": Key(Range(_ARM), "From the leftmost (negative) to the rightmost arm anything can have."),
    },
)

STATION = Record(
    "a station",
    {
        "label": Key(Text(80), "What a person reads."),
        "kind": Key(Choice(tuple(StationKind)), "Seat or baggage."),
        "longitudinal_arm_in": Key(_ARM, "Behind the datum."),
        "lateral_arm_in": Key(_ARM, "Right of the centre line; left is negative."),
        "max_lb": Key(_WEIGHT, "Most that it may carry."),
        "min_lb": _optional(_LOAD, "Least that it must carry in flight; 0 where not given."),
    },
)

TOGETHER = Record(
    "a shared limit",
    {
        "stations": Key(ListOf(NAME, at_least=2), "Stations that share the limit."),
        "max_lb": Key(_WEIGHT, "Most that they may carry together."),
    },
)

LOADING = Record(
    "the loading",
    {
        "stations": Key(MapOf(STATION, NAME, at_least=1), "Seats and baggage places."),
        "pilot_station": Key(NAME, "The seat of the pilot who flies alone."),
        "together": _optional(ListOf(TOGETHER), "Limits that stations share."),
    },
)

EMPTY = Record(
    "the empty aircraft",
    {
        "weight_lb": Key(_WEIGHT, "Typical empty weight, with unusable fuel and full oil."),
        "longitudinal_moment_in_lb": Key(_MOMENT, "Its moment about the datum."),
        "lateral_moment_in_lb": Key(_MOMENT, "Its moment about the centre line."),
        "plausible_within_lb": Key(_WEIGHT, "How far an aircraft's own weighing may differ and still be believed."),
    },
)

EQUIPMENT = Record(
    "a piece of equipment",
    {
        "label": Key(Text(80), "What a person reads."),
        "kind": Key(Choice(tuple(EquipmentKind)), "Door, dual controls or other."),
        "weight_lb": Key(_WEIGHT, "Its weight."),
        "longitudinal_arm_in": Key(_ARM, "Behind the datum."),
        "lateral_arm_in": Key(_ARM, "Right of the centre line; left is negative."),
        "in_empty_weight": Key(Flag(), "Whether the empty weight includes it."),
    },
)

_BY_WEIGHT = "[centre of gravity in inches, gross weight in pounds]"
_BY_MOMENT = "[longitudinal centre of gravity in inches, lateral moment in inch-pounds]"
_BY_ARM = "[longitudinal centre of gravity in inches, lateral centre of gravity in inches]"

ENVELOPE = Record(
    "an envelope",
    {
        "doors": Key(Choice(tuple(DoorState)), "Which doors it is for; either covers every mix."),
        "longitudinal_corners_arm_in_weight_lb": Key(
            Corners(_ARM, _WEIGHT, _BY_WEIGHT), "Corners in order around the polygon."
        ),
        "lateral_corners_arm_in_weight_lb": _optional(
            Corners(_ARM, _WEIGHT, _BY_WEIGHT), "The same for the lateral arm."
        ),
        "lateral_corners_arm_in_arm_in": _optional(
            Corners(_ARM, _ARM, _BY_ARM), "Lateral against longitudinal arm instead."
        ),
        "lateral_corners_arm_in_moment_in_lb": _optional(
            Corners(_ARM, _MOMENT, _BY_MOMENT), "Lateral moment against longitudinal arm instead."
        ),
    },
    one_of=(
        ("lateral_corners_arm_in_weight_lb", "lateral_corners_arm_in_arm_in", "lateral_corners_arm_in_moment_in_lb"),
    ),
)

HOVER = Record(
    "a hover table",
    {
        "gross_weights_lb": Key(Axis(_WEIGHT), "Gross weight of each row."),
        "temperatures_c": Key(Axis(_TEMPERATURE), "Temperature of each column."),
        "ceilings_pressure_altitude_ft": _optional(Table(_ALTITUDE), "Ceilings, row by row."),
        "ceilings_density_altitude_ft": _optional(Table(_ALTITUDE), "Ceilings as density altitude, row by row."),
    },
    one_of=(("ceilings_pressure_altitude_ft", "ceilings_density_altitude_ft"),),
)

POWER = Record(
    "a power table",
    {
        "label": Key(Text(80), "What a person reads."),
        "held_max_min": _optional(Number(0, 120, above=True), "How long it may be held; without end where not given."),
        "pressure_altitudes_ft": Key(Axis(_ALTITUDE), "Pressure altitude of each row."),
        "temperatures_c": Key(Axis(_TEMPERATURE), "Temperature of each column."),
        "limits_inhg": _optional(Table(Number(5, 60)), "Manifold pressure limits, row by row."),
        "limits_pct": _optional(Table(Number(5, 130)), "Torque limits, row by row."),
    },
    one_of=(("limits_inhg", "limits_pct"),),
)

PERFORMANCE = Record(
    "the performance",
    {
        "hover_in_ground_effect": Key(HOVER, "Hover ceiling in ground effect."),
        "hover_out_of_ground_effect": Key(HOVER, "Hover ceiling out of ground effect."),
        "power": Key(MapOf(POWER, NAME, words=("continuous", "take_off"), at_least=1), "Power limits."),
    },
)

TANK = Record(
    "a tank",
    {
        "label": Key(Text(80), "What a person reads."),
        "capacity_gal": Key(_GALLONS, "What it holds."),
        "usable_gal": Key(_GALLONS, "What of it the engine can use."),
        "longitudinal_arm_in": Key(_ARM, "Behind the datum."),
        "lateral_arm_in": Key(_ARM, "Right of the centre line; left is negative."),
    },
)

SPREAD = Record(
    "the spread of burn",
    {
        "between_aircraft_sd_gal_per_h": Key(_SPREAD, "Standard deviation from aircraft to aircraft."),
        "between_flights_sd_gal_per_h": Key(_SPREAD, "Standard deviation from flight to flight of one aircraft."),
        "reading_sd_gal": Key(_SPREAD, "Standard deviation of fuel used, as read."),
    },
)

FUEL = Record(
    "the fuel",
    {
        "lb_per_gal": Key(Number(3, 10), "Weight of a US gallon."),
        "feed": Key(Choice(tuple(Feed)), "How the tanks empty."),
        "tanks": Key(MapOf(TANK, NAME, at_least=1), "Tanks, in the order in which they empty."),
        "start_and_taxi_gal": Key(Number(0, 50), "Burned before take-off."),
        "burn_gal_per_h": Key(MapOf(_BURN, NAME, words=PHASES, at_least=1), "Burn by phase."),
        "burn_spread": Key(SPREAD, "How far burn scatters."),
    },
)

RUN_UP = Record(
    "the run-up",
    {
        "stated_in": Key(Text(200), "Where the manual states these tolerances."),
        "oil_pressure_within_s": Key(Number(0, 120, above=True), "Oil pressure must show within this after the start."),
        "rotor_turning_within_s": Key(Number(0, 120, above=True), "Rotor must turn within this of engaging."),
        "clutch_light_out_within_s": _optional(Number(0, 600, above=True), "Clutch light must be out within this."),
        "magneto_check_rpm_pct": _optional(Range(_PERCENT), "Engine speed of the magneto check."),
        "magneto_drop_max_pct": _optional(Number(0, 30, above=True), "Greatest drop on one magneto."),
        "magneto_difference_max_pct": _optional(Number(0, 30, above=True), "Greatest difference between the drops."),
        "magneto_hold_s": _optional(Range(_SECONDS), "How long each magneto is held alone."),
        "carburettor_heat_rise_min_c": _optional(Number(0, 100, above=True), "Least rise when heat is applied."),
        "governor_rpm_pct": _optional(Range(_PERCENT), "Where the governor must hold the speed; out where none."),
        "low_rotor_warning_rpm_pct": Key(Range(_PERCENT), "Rotor speed at which the warning must come on."),
        "hydraulics": Key(Flag(), "Whether there are hydraulics to check off and on."),
    },
)

SHUT_DOWN = Record(
    "the shut-down",
    {
        "idle_rpm_pct": Key(Range(_PERCENT), "Idle speed while cooling."),
        "cool_down_at_idle_s": Key(_SECONDS, "How long to idle before anything is cut."),
        "before_mixture_off_s": _optional(_SECONDS, "Wait before the mixture is cut."),
        "before_rotor_brake_s": _optional(_SECONDS, "Wait before the rotor brake."),
    },
)

LOOSE = Record(
    "a loose item",
    {"name": Key(Text(200), "What must be aboard."), "why": Key(Text(300), "Why.")},
)

UPKEEP = Record(
    "an interval",
    {
        "name": Key(Text(200), "What is inspected or replaced."),
        "every_h": _optional(_HOURS, "Hours in service."),
        "every_months": _optional(Whole(1, 600), "Calendar months."),
    },
)

TYPE = Record(
    "the type",
    {
        "schema": Key(Choice((SCHEMA,)), "The format of this file."),
        "id": Key(ID, "Which type this is, over all its versions."),
        "version": Key(Whole(1, 1_000_000), "Its version; another text needs another version."),
        "title": Key(Text(), "What people call it; worksheets name the type so."),
        "invented": Key(Flag(), "Whether the figures come from no flight manual."),
        "source": Key(SOURCE, "Where the figures come from."),
        "engine": Key(ENGINE, "The engine."),
        "rotor_direction": Key(Choice(tuple(RotorDirection)), "Turn of the main rotor seen from above."),
        "limits": Key(LIMITS, "Limits of the type."),
        "airframe": Key(AIRFRAME, "How far arms can reach."),
        "loading": Key(LOADING, "Where people and baggage go."),
        "empty": Key(EMPTY, "The empty aircraft."),
        "optional_equipment": Key(MapOf(EQUIPMENT, NAME), "What can be fitted or not."),
        "envelopes": Key(ListOf(ENVELOPE, at_least=1), "Where the centre of gravity may be."),
        "performance": Key(PERFORMANCE, "Hover ceilings and power limits."),
        "fuel": Key(FUEL, "Fuel and its use."),
        "run_up": Key(RUN_UP, "What must be seen before take-off."),
        "shut_down": Key(SHUT_DOWN, "Waits at shut-down."),
        "loose_equipment": Key(ListOf(LOOSE), "What must be aboard."),
        "inspections": Key(ListOf(UPKEEP, at_least=1), "Inspections and directives."),
        "life_limits": Key(ListOf(UPKEEP), "Parts with a life."),
    },
)
