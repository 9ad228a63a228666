"""Aircraft part: identity, weighing, hours, inspections, defects, loose equipment and fuel."""

from typing import Annotated, ClassVar

from riskboard.words import Group, Induction, RotorDirection
from riskboard.worksheet.entries import Defect, FittedItem, Inspection, Item
from riskboard.worksheet.fact import Part, fact
from riskboard.worksheet.kinds import Day, Flag, Instant, NoneAnswer, Text, within

__all__ = ["Aircraft"]

_Moment = Annotated[float, within(-5_000_000, 5_000_000)]
_MeterHours = Annotated[float, within(0, 100_000)]


class Aircraft(Part):
    """Which machine, and in what state."""

    group: ClassVar[Group] = Group.aircraft

    registration: Text | None = fact("Registration", why="Which machine.")
    type_name: Text | None = fact("Type", why="Which limits apply.")
    induction: Induction | None = fact("Engine induction", why="Only a carburettor ices the way the charts describe.")
    rotor_direction: RotorDirection | None = fact(
        "Main rotor turns, seen from above", why="Sets the wind azimuths that trouble the tail rotor."
    )
    type_training_required: Flag | None = fact(
        "Type needs recurrent awareness training", why="Some light types do, by rule or by school."
    )
    empty_weight_lb: Annotated[float, within(100, 20_000)] | None = fact(
        "Empty weight", "lb", why="From this very aircraft's weighing report, not from the type.", step=0.1
    )
    empty_longitudinal_moment_in_lb: _Moment | None = fact(
        "Empty longitudinal moment", "in·lb", why="From the same weighing: where the empty weight sits.", step=1
    )
    empty_lateral_moment_in_lb: _Moment | None = fact(
        "Empty lateral moment", "in·lb", why="From the same weighing; positive to the right.", step=1
    )
    weighed_on: Day | None = fact("Weighed on", why="A later change of equipment asks for a new weighing.")
    equipment_fitted: tuple[FittedItem, ...] | None = fact(
        "Optional equipment fitted", why="Doors and dual controls change weight, balance and limits."
    )
    meter_h: _MeterHours | None = fact("Hour meter now", "h", why="Every hour limit is measured from it.", step=0.1)
    meter_read_at: Instant | None = fact("Meter read at", why="Somebody may have flown since.")
    last_inspection_at_h: _MeterHours | None = fact(
        "Meter at the last inspection", "h", why="The meter cannot read less than this.", step=0.1
    )
    annual_on: Day | None = fact("Annual inspection on", why="12 calendar months.")
    hundred_hour_due_at_h: _MeterHours | NoneAnswer | None = fact(
        "100-hour inspection due at", "h", why="Binds paid instruction and passengers for hire.", step=0.1
    )
    inspections: tuple[Inspection, ...] | None = fact(
        "Other inspections and directives", why="The earliest one counts."
    )
    life_limits: tuple[Inspection, ...] | None = fact("Life-limited parts", why="A life limit has no grace.")
    transponder_check_on: Day | NoneAnswer | None = fact(
        "Transponder check on", why="24 calendar months where a transponder is used."
    )
    locator_check_on: Day | NoneAnswer | None = fact(
        "Emergency locator check on", why="School policy where one is fitted; no legal bar for a VFR helicopter."
    )
    hours_since_major_maintenance_h: Annotated[float, within(0, 100_000)] | None = fact(
        "Hours since major maintenance", "h", why="New work deserves extra watch.", step=0.1
    )
    open_defects: tuple[Defect, ...] | None = fact("Open defects", why="What is broken, and what that forbids.")
    loose_equipment: tuple[Item, ...] | None = fact(
        "Loose equipment for this flight", why="Doors, dual controls, control guards, life vests."
    )
    night_equipment: tuple[Item, ...] | None = fact("Night equipment", why="Lights, electrical source, spare fuses.")
    left_by_last_user: tuple[Item, ...] | None = fact(
        "As the last user left it", why="Switches, locks, tie-downs, fuel cap."
    )
    preflight_done: Flag | None = fact(
        "Preflight inspection done for this flight", why="The pilot judges whether the aircraft is fit."
    )
    fuel_usable_gal: Annotated[float, within(0, 500)] | None = fact(
        "Usable fuel", "US gal", why="Time in the tanks.", step=0.5, resolution=0.1
    )
    fuel_checked_by_sight: Flag | None = fact("Fuel checked by sight or dip", why="Gauges mislead.")
    fuel_burn_gal_h: Annotated[float, within(0.1, 300)] | None = fact(
        "Fuel burn", "US gal/h", why="Training burns more than the book.", step=0.1
    )
    start_and_taxi_gal: Annotated[float, within(0, 50)] | None = fact(
        "Fuel for start and run-up", "US gal", why="Burned before take-off.", step=0.1
    )
