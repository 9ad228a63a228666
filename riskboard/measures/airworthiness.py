"""What stands open on the aircraft, and what runs out before the end of the planned flight.

Hours are time in service on one meter. Licensed maintenance staff decide airworthiness; these functions count. On
every list, known failure beats unknown beats pass.
"""

from collections.abc import Collection, Mapping, Sequence
from typing import Final

import numpy as np
import numpy.typing as npt

from riskboard.measures.dates import DayLike, as_days, days_left
from riskboard.measures.known import Floats, Number, all_of, any_of, checked, not_below, not_of, plain, settled
from riskboard.words import DefectEffect, ItemState

__all__ = [
    "ALWAYS_REQUIRED",
    "NIGHT_REQUIRED",
    "days_left_after",
    "defects_with_effect",
    "deferral_allowed",
    "equipment_missing",
    "hours_left_after_h",
    "hundred_hour_due_at_h",
    "hundred_hour_margin_h",
    "inoperative_but_required",
    "life_left_after_h",
    "locator_battery_ok",
    "next_due_at_h",
    "tightest_item",
]

_HUNDRED_H: Final = 100.0
_EN_ROUTE_ALLOWANCE_H: Final = 10.0
_LOCATOR_USE_H: Final = 1.0

ALWAYS_REQUIRED: Final[frozenset[str]] = frozenset(
    {
        "airspeed_indicator",
        "altimeter",
        "magnetic_direction_indicator",
        "tachometer_each_engine_and_rotor",
        "oil_pressure_gauge",
        "oil_temperature_gauge_air_cooled",
        "coolant_temperature_gauge_liquid_cooled",
        "manifold_pressure_gauge_altitude_engine",
        "fuel_gauge_each_tank",
        "seat_belts",
        "shoulder_harness_if_built_after_1992_09_16",
    }
)
"""Visual flight by day, piston rotorcraft: 14 CFR 91.205(b). The rotor tachometer comes from certification, and the
flight manual's equipment list may ask for more."""
NIGHT_REQUIRED: Final[frozenset[str]] = frozenset(
    {"position_lights", "anticollision_light", "adequate_electrical_source", "spare_fuses"}
)
"""Added at night: 14 CFR 91.205(c). A landing light too when the flight is for hire."""
_FUEL_GAUGE: Final = "fuel_gauge"


def hours_left_after_h(due_at_h: npt.ArrayLike, now_h: npt.ArrayLike, planned_h: npt.ArrayLike) -> Number:
    """Hours to an inspection at the end of the planned flight: due - (now + planned).

    Args:
        due_at_h: Meter reading at which it is due.
        now_h: Meter reading now.
        planned_h: Planned time in service.

    Returns:
        Hours; 0 is still inside the limit, negative is over.

    Raises:
        ValueError: A reading or the plan is negative or infinite.

    Source: arithmetic; 14 CFR 91.409(b), 91.403(c).
    """
    due, now = checked("due_at_h", due_at_h, at_least=0), checked("now_h", now_h, at_least=0)
    return settled(due - now - checked("planned_h", planned_h, at_least=0))


def life_left_after_h(limit_h: npt.ArrayLike, since_new_h: npt.ArrayLike, planned_h: npt.ArrayLike) -> Number:
    """Hours of a component's life at the end of the planned flight: limit - since new - planned.

    Source: airworthiness limitations bind through 14 CFR 91.403(c) and 43.16 (from memory); arithmetic.
    """
    limit, used = checked("limit_h", limit_h, above=0), checked("since_new_h", since_new_h, at_least=0)
    return settled(limit - used - checked("planned_h", planned_h, at_least=0))


def days_left_after(valid_until: DayLike, landing_on: DayLike) -> Number:
    """Days to a calendar limit on the day of the planned landing: 0 on the last good day, negative when lapsed."""
    return days_left(valid_until, landing_on)


def next_due_at_h(due_at_h: npt.ArrayLike, inspected_at_h: npt.ArrayLike, interval_h: float = _HUNDRED_H) -> Number:
    """When the next inspection is due after one that was made late or early.

    Hours flown beyond the due point count in the next interval; an early inspection restarts at its own reading.

    Args:
        due_at_h: When the inspection was due.
        inspected_at_h: When it was made.
        interval_h: Hours between inspections.

    Returns:
        Meter reading.

    Source: 14 CFR 91.409(b).
    """
    due, made = checked("due_at_h", due_at_h, at_least=0), checked("inspected_at_h", inspected_at_h, at_least=0)
    return settled(np.minimum(due, made) + checked("interval_h", interval_h, above=0))


def hundred_hour_due_at_h(last_at_h: npt.ArrayLike, annual_at_h: npt.ArrayLike | None = None) -> Number:
    """When the 100-hour inspection is due; an annual inspection counts as one.

    Args:
        last_at_h: Meter reading from which the running 100 h count.
        annual_at_h: Reading at the last annual; None or NaN gives it no credit.

    Returns:
        The later reading plus 100 h.

    Source: 14 CFR 91.409(b).
    """
    last, annual = np.broadcast_arrays(
        checked("last_at_h", last_at_h, at_least=0), checked("annual_at_h", annual_at_h, at_least=0)
    )
    return settled(np.where(annual > last, annual, last) + _HUNDRED_H)


def hundred_hour_margin_h(left_after_h: npt.ArrayLike, en_route_to_inspection: npt.ArrayLike) -> Number:
    """Margin to what 14 CFR 91.409(b) permits: 10 h over only on the way to the place of inspection.

    The rule binds instruction for hire and the carriage of persons for hire, not plain rental; whether the margin is
    looked at is the policy's guard.

    Args:
        left_after_h: Hours left at the end of the flight.
        en_route_to_inspection: 1, 0 or NaN; unknown gives no allowance.

    Returns:
        Hours, negative when not permitted.
    """
    left = checked("left_after_h", left_after_h)
    allowance = np.where(checked("en_route_to_inspection", en_route_to_inspection) == 1, _EN_ROUTE_ALLOWANCE_H, 0.0)
    return settled(left + allowance)


def locator_battery_ok(use_h: npt.ArrayLike, replace_by: DayLike, on: DayLike) -> Number:
    """Whether a locator transmitter's battery may stay: at most 1 h of use, and not past its date.

    Args:
        use_h: Cumulative use in h.
        replace_by: Date marked, at half of the useful life; the date itself is still good (convention).
        on: Day of the flight.

    Returns:
        1, 0 or NaN.

    Source: 14 CFR 91.207(c); that section binds airplanes, so for a helicopter this is a school's policy item.
    """
    used = checked("use_h", use_h, at_least=0)
    return all_of(not_below(_LOCATOR_USE_H, used), not_below(as_days("replace_by", replace_by), as_days("on", on)))


def deferral_allowed(
    *,
    type_basis_vfr_day: npt.ArrayLike,
    equipment_list: npt.ArrayLike,
    other_rule: npt.ArrayLike,
    directive: npt.ArrayLike,
    removed_or_deactivated: npt.ArrayLike,
    placarded: npt.ArrayLike,
    recorded: npt.ArrayLike,
    judged_no_hazard: npt.ArrayLike,
    inspection_passed_since: npt.ArrayLike,
) -> Number:
    """Whether an inoperative item may stay so without a minimum equipment list.

    Args:
        type_basis_vfr_day: It belongs to the VFR-day type certification basis. Each argument is 1, 0 or NaN.
        equipment_list: The equipment list or kinds-of-operation list asks for it.
        other_rule: 14 CFR 91.205 or another rule asks for it.
        directive: An airworthiness directive asks for it.
        removed_or_deactivated: It has been removed or deactivated.
        placarded: It is placarded.
        recorded: The maintenance record says so.
        judged_no_hazard: A pilot or mechanic judged it no hazard.
        inspection_passed_since: A required inspection has passed without action.

    Returns:
        1, 0 or NaN: known failure beats unknown beats pass.

    Source: 14 CFR 91.213(d), 91.405(c).
    """
    asked_for = any_of(type_basis_vfr_day, equipment_list, other_rule, directive)
    return all_of(
        not_of(asked_for),
        removed_or_deactivated,
        placarded,
        recorded,
        judged_no_hazard,
        not_of(inspection_passed_since),
    )


def inoperative_but_required(
    inoperative: Collection[str], *, night: bool | None, for_hire: bool | None, uses_fuses: bool | None = None
) -> tuple[str, ...]:
    """Which inoperative items the rule asks for on this flight.

    Args:
        inoperative: Names of items, as in :data:`ALWAYS_REQUIRED`; any name that begins with ``fuel_gauge`` is a
            gauge of one tank, and each tank needs one.
        night: Whether the night list applies; None (unknown) counts as yes.
        for_hire: Whether the flight is for hire; None counts as yes.
        uses_fuses: Whether the aircraft has fuses; None counts as yes.

    Returns:
        The names, in the order given.

    Source: 14 CFR 91.205(b), (c). An empty answer is no proof: type design, equipment list and directives may ask
    for more.
    """
    required = set(ALWAYS_REQUIRED)
    if night is not False:
        required |= NIGHT_REQUIRED
        if for_hire is not False:
            required.add("landing_light")
        if uses_fuses is False:
            required.discard("spare_fuses")
    return tuple(name for name in inoperative if name in required or name.startswith(_FUEL_GAUGE))


def defects_with_effect(effects: Sequence[DefectEffect | None] | None, effect: DefectEffect) -> float:
    """How many open defects have an effect.

    Args:
        effects: The effect of each open defect, None where nobody has said; None for the list means unknown.
        effect: The effect to count.

    Returns:
        The count. A known one shows whatever else is unknown; with none known and something unknown, NaN.
    """
    return _count(None if effects is None else [None if e is None else e is effect for e in effects])


def equipment_missing(items: Mapping[str, ItemState | None] | None) -> float:
    """How many required loose items are not in place; None or a blank state is unknown. See `defects_with_effect`."""
    return _count(
        None if items is None else [None if s is None else s is ItemState.not_in_place for s in items.values()]
    )


def tightest_item(names: Sequence[str], margins: npt.ArrayLike) -> tuple[str, float] | None:
    """Which item ends first, and its margin; unknown items come after a failed one and before the rest.

    Args:
        names: The items.
        margins: One margin each, in one unit, NaN unknown.

    Returns:
        Name and margin (NaN if that item is unknown); None for an empty list.

    Raises:
        ValueError: The two lists differ in length.
    """
    values = np.asarray(margins, dtype=np.float64)
    if values.shape != (len(names),):
        raise ValueError(f"margins must have one value for each of the {len(names)} names; found {values.shape}")
    if not names:
        return None
    rank = np.where(np.isnan(values), -0.5, np.where(values < 0, -1.0, 0.0))
    first = int(np.lexsort((np.where(np.isnan(values), 0.0, values), rank))[0])
    return names[first], float(values[first])


def _count(found: Sequence[bool | None] | None) -> float:
    if found is None:
        return float(np.nan)
    known: Floats = np.array([np.nan if one is None else float(one) for one in found], dtype=np.float64)
    total = float(np.count_nonzero(known == 1))
    return float(plain(np.where((total == 0) & np.any(np.isnan(known)), np.nan, total)))
