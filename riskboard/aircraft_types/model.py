"""An aircraft type as data: what its flight manual says about loading, performance, run-up and upkeep.

Everything is frozen and plain. A type describes every aircraft of it; what differs from one aircraft to the next (its
own weighing, what is fitted today) belongs to the aircraft and arrives with the flight.
"""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from riskboard.words import Induction, RotorDirection

__all__ = [
    "PHASES",
    "AircraftType",
    "AirframeExtent",
    "AltitudeKind",
    "BurnSpread",
    "Corner",
    "DoorState",
    "EmptyAircraft",
    "Engine",
    "Envelope",
    "Equipment",
    "EquipmentKind",
    "Feed",
    "Fuel",
    "HoverTable",
    "Interval",
    "LateralAgainst",
    "Limits",
    "LooseItem",
    "PowerTable",
    "PowerUnit",
    "RunUp",
    "ShutDown",
    "Source",
    "Station",
    "StationKind",
    "Tank",
    "TogetherLimit",
    "Upkeep",
]

Corner = tuple[float, float]
Interval = tuple[float, float]
"""Lowest and highest value, both allowed."""
Rows = tuple[tuple[float | None, ...], ...]
"""Rows of a table; None is a blank cell."""

PHASES = ("ground", "hover", "climb", "cruise", "descent", "training")
"""Phases of flight that fuel burn is stated for."""


class StationKind(StrEnum):
    """What a station carries."""

    seat = "seat"
    baggage = "baggage"


class EquipmentKind(StrEnum):
    """What a piece of optional equipment is: a door decides which envelope applies."""

    door = "door"
    dual_controls = "dual_controls"
    other = "other"


class DoorState(StrEnum):
    """Which doors an envelope is for. ``either`` covers both, and some doors off."""

    fitted = "fitted"
    removed = "removed"
    either = "either"


class LateralAgainst(StrEnum):
    """What the lateral envelope is drawn against; as a moment it shows the lateral moment instead of the arm."""

    gross_weight = "gross_weight"
    longitudinal_cg = "longitudinal_cg"
    longitudinal_cg_as_moment = "longitudinal_cg_as_moment"


class Feed(StrEnum):
    """How tanks empty: all by the same share of their usable fuel, or one after the other as they are listed."""

    together = "together"
    in_order = "in_order"


class AltitudeKind(StrEnum):
    """Which altitude the ceilings of a hover table are."""

    pressure = "pressure"
    density = "density"


class PowerUnit(StrEnum):
    """The instrument that limits power: manifold pressure or torque."""

    inhg = "inhg"
    pct = "pct"


@dataclass(frozen=True)
class Source:
    """Where the figures come from."""

    text: str
    kind: str
    checked_on: date


@dataclass(frozen=True)
class Engine:
    """The engine. ``rpm_at_100_pct`` turns a tachometer reading in rpm into per cent."""

    induction: Induction
    rpm_at_100_pct: float


@dataclass(frozen=True)
class Limits:
    """Limits of the type; None where the manual states none."""

    gross_min_lb: float
    gross_max_lb: float
    temperature_min_c: float
    temperature_max_c: float
    pressure_altitude_max_ft: float
    wind_max_kt: float | None
    gust_spread_max_kt: float | None
    crosswind_max_kt: float | None
    tailwind_max_kt: float | None


@dataclass(frozen=True)
class AirframeExtent:
    """Within which arms anything can hang. An arm beyond is a slip of the pen."""

    longitudinal_arms_in: Interval
    lateral_arms_in: Interval


@dataclass(frozen=True)
class Station:
    """One seat or baggage place. Lateral arms are positive to the right."""

    name: str
    label: str
    kind: StationKind
    longitudinal_arm_in: float
    lateral_arm_in: float
    max_lb: float
    min_lb: float


@dataclass(frozen=True)
class TogetherLimit:
    """Stations that share a limit, such as a seat and the baggage under it."""

    stations: tuple[str, ...]
    max_lb: float


@dataclass(frozen=True)
class Equipment:
    """One piece that can be fitted or not. ``in_empty_weight`` says whether the weighing included it."""

    name: str
    label: str
    kind: EquipmentKind
    weight_lb: float
    longitudinal_arm_in: float
    lateral_arm_in: float
    in_empty_weight: bool


@dataclass(frozen=True)
class EmptyAircraft:
    """The empty aircraft as weighed: unusable fuel and full oil included, usable fuel not.

    The figures of the type are typical; every aircraft has a weighing of its own, and only one within
    ``plausible_within_lb`` of these is believed.
    """

    weight_lb: float
    longitudinal_moment_in_lb: float
    lateral_moment_in_lb: float
    plausible_within_lb: float

    @property
    def longitudinal_arm_in(self) -> float:
        """Longitudinal centre of gravity of the empty aircraft."""
        return self.longitudinal_moment_in_lb / self.weight_lb

    @property
    def lateral_arm_in(self) -> float:
        """Lateral centre of gravity of the empty aircraft."""
        return self.lateral_moment_in_lb / self.weight_lb


@dataclass(frozen=True)
class Envelope:
    """Where the centre of gravity may be, as two closed polygons; their edges and corners belong to them.

    Attributes:
        doors: Which doors it is for.
        longitudinal: Corners (longitudinal centre of gravity in inches, gross weight in pounds).
        lateral: Corners (lateral centre of gravity in inches, gross weight in pounds), or (longitudinal, lateral
            centre of gravity in inches), or (longitudinal centre of gravity in inches, lateral moment in inch-pounds),
            as ``lateral_against`` says.
        lateral_against: What the lateral polygon is drawn against.
    """

    doors: DoorState
    longitudinal: tuple[Corner, ...]
    lateral: tuple[Corner, ...]
    lateral_against: LateralAgainst


@dataclass(frozen=True)
class HoverTable:
    """Hover ceiling in feet by gross weight (rows) and temperature (columns); None where the manual is blank."""

    gross_weights_lb: tuple[float, ...]
    temperatures_c: tuple[float, ...]
    ceilings_ft: Rows
    altitude: AltitudeKind


@dataclass(frozen=True)
class PowerTable:
    """Power limit by pressure altitude (rows) and temperature (columns), in the unit of the instrument."""

    name: str
    label: str
    pressure_altitudes_ft: tuple[float, ...]
    temperatures_c: tuple[float, ...]
    limits: Rows
    unit: PowerUnit
    held_max_min: float | None


@dataclass(frozen=True)
class Tank:
    """One tank."""

    name: str
    label: str
    capacity_gal: float
    usable_gal: float
    longitudinal_arm_in: float
    lateral_arm_in: float


@dataclass(frozen=True)
class BurnSpread:
    """How far fuel burn scatters (standard deviations): what the estimate of one aircraft's own burn rests on."""

    between_aircraft_gal_per_h: float
    between_flights_gal_per_h: float
    reading_gal: float


@dataclass(frozen=True)
class Fuel:
    """Fuel aboard and how it is used."""

    lb_per_gal: float
    feed: Feed
    tanks: tuple[Tank, ...]
    start_and_taxi_gal: float
    burn_gal_per_h: tuple[tuple[str, float], ...]
    spread: BurnSpread

    @property
    def usable_gal(self) -> float:
        """Usable fuel with every tank full."""
        return sum(tank.usable_gal for tank in self.tanks)

    def burn_in(self, phase: str) -> float | None:
        """Burn in one phase of :data:`PHASES`, US gal/h; None where the type states none."""
        return dict(self.burn_gal_per_h).get(phase)


@dataclass(frozen=True)
class RunUp:
    """What must be seen before take-off. None where the type has nothing of the kind.

    Engine and rotor speeds are per cent of the tachometer.
    """

    stated_in: str
    oil_pressure_within_s: float
    rotor_turning_within_s: float
    clutch_light_out_within_s: float | None
    magneto_check_rpm_pct: Interval | None
    magneto_drop_max_pct: float | None
    magneto_difference_max_pct: float | None
    magneto_hold_s: Interval | None
    carburettor_heat_rise_min_c: float | None
    governor_rpm_pct: Interval | None
    low_rotor_warning_rpm_pct: Interval
    hydraulics: bool


@dataclass(frozen=True)
class ShutDown:
    """Waits at shut-down."""

    idle_rpm_pct: Interval
    cool_down_at_idle_s: float
    before_mixture_off_s: float | None
    before_rotor_brake_s: float | None


@dataclass(frozen=True)
class LooseItem:
    """Loose equipment that must be aboard, and why."""

    name: str
    why: str


@dataclass(frozen=True)
class Upkeep:
    """An inspection or a life limit: hours, calendar months, or both, whichever comes first."""

    name: str
    every_h: float | None
    every_months: int | None


@dataclass(frozen=True)
class AircraftType:
    """One aircraft type.

    Attributes:
        id: Which type this is, over all its versions.
        version: Another text needs another version.
        title: What people call it; a worksheet's ``type_name`` says the same.
        invented: True where the figures come from no flight manual. Every screen that shows them says so.
        digest: SHA-256 of the file's data, so that a release can tell that the type has changed.
    """

    id: str
    version: int
    title: str
    invented: bool
    source: Source
    engine: Engine
    rotor_direction: RotorDirection
    limits: Limits
    extent: AirframeExtent
    stations: tuple[Station, ...]
    pilot_station: str
    together: tuple[TogetherLimit, ...]
    empty: EmptyAircraft
    equipment: tuple[Equipment, ...]
    envelopes: tuple[Envelope, ...]
    hover_in_ground_effect: HoverTable
    hover_out_of_ground_effect: HoverTable
    power_tables: tuple[PowerTable, ...]
    fuel: Fuel
    run_up: RunUp
    shut_down: ShutDown
    loose_equipment: tuple[LooseItem, ...]
    inspections: tuple[Upkeep, ...]
    life_limits: tuple[Upkeep, ...]
    digest: str

    def station(self, name: str) -> Station:
        """The station of that name.

        Raises:
            KeyError: There is none.
        """
        for station in self.stations:
            if station.name == name:
                return station
        raise KeyError(name)

    @property
    def doors(self) -> tuple[Equipment, ...]:
        """The equipment that is a door."""
        return tuple(piece for piece in self.equipment if piece.kind is EquipmentKind.door)
