"""Registered measures of the aircraft: inspections, life limits, defects, equipment, fuel, readiness.

Hours and days left are those at the end of the planned flight. A limit that does not apply ("none") is the best end.
On every list, known failure beats unknown beats pass.
"""

import numpy as np
from numpy.typing import NDArray

from riskboard.measures.dates import end_of_calendar_month
from riskboard.measures.fuel import endurance_rows
from riskboard.measures.known import limited, rounded, row_of, tightest_rows
from riskboard.measures.register_pilot import days_margin, elapsed, held
from riskboard.measures.registry import measure, quantity
from riskboard.words import DefectEffect, Direction, Group, ItemState
from riskboard.worksheet.columns import FloatArray

Mask = NDArray[np.bool_]

_DAYS = 3650.0
_HOURS = 10_000.0
_FUEL_MIN = 1440.0
_HOUR_S = 3600.0
_OWN = "common practice, no source"
_LIMITS = "airworthiness limitations through 14 CFR 91.403(c) (from memory)"
_OPEN = "14 CFR 91.213(d), 91.405(c)"
_NO = {0: "done", 1: "not done"}
_MOST_ITEMS = 100
_CHECK_MONTHS = np.array([[12.0], [24.0], [12.0]])
_EFFECTS = tuple(DefectEffect)
_EFFECT_CODES = np.arange(float(len(_EFFECTS)))[:, None, None]
_GROUNDING = _EFFECTS.index(DefectEffect.grounding)
_NOT_IN_PLACE = float(list(ItemState).index(ItemState.not_in_place))


@quantity
def aircraft_check_ends(
    annual_on: FloatArray, transponder_check_on: FloatArray, locator_check_on: FloatArray
) -> FloatArray:
    """Last good days of annual inspection, transponder check and locator check, (3, rows), worked in one pass."""
    return end_of_calendar_month(held(np.array((annual_on, transponder_check_on, locator_check_on))), _CHECK_MONTHS)


@measure(
    "annual inspection left",
    "d",
    worse=Direction.lower,
    valid=(-_DAYS, _DAYS),
    group=Group.aircraft,
    source="14 CFR 91.409(a): 12 calendar months",
    rests_on=("annual_on", "landing_day"),
)
def annual_days_left_d(aircraft_check_ends: FloatArray, landing_day: FloatArray) -> FloatArray:
    """Days until the annual inspection ends."""
    return days_margin(aircraft_check_ends[0], landing_day)


@measure(
    "100-hour inspection left",
    "h",
    worse=Direction.lower,
    valid=(-_HOURS, _HOURS),
    group=Group.aircraft,
    source="14 CFR 91.409(b)",
    decimals=1,
)
def hundred_hour_left_h(hundred_hour_due_at_h: FloatArray, meter_h: FloatArray, flight_min: FloatArray) -> FloatArray:
    """Hours until the 100-hour inspection at the end of the flight; the best end where it does not apply."""
    return _hours_left(hundred_hour_due_at_h, meter_h, flight_min)


@measure(
    "earliest other inspection left",
    "d",
    worse=Direction.lower,
    valid=(-_DAYS, _DAYS),
    group=Group.aircraft,
    source=_OWN,
)
def inspection_days_left_d(
    inspections_due_on: FloatArray, inspections_count: FloatArray, landing_day: FloatArray
) -> FloatArray:
    """Days until the earliest of the other inspections and directives is due by date."""
    return _earliest(inspections_due_on - landing_day[:, None], inspections_count, _DAYS)


@measure(
    "earliest other inspection left",
    "h",
    worse=Direction.lower,
    valid=(-_HOURS, _HOURS),
    group=Group.aircraft,
    source=_OWN,
    decimals=1,
)
def inspection_hours_left_h(
    inspections_due_at_h: FloatArray, inspections_count: FloatArray, meter_h: FloatArray, flight_min: FloatArray
) -> FloatArray:
    """Hours from the end of the flight until the earliest of the other inspections and directives by the meter."""
    return _earliest(_hours_left(inspections_due_at_h, meter_h, flight_min), inspections_count, _HOURS)


@measure(
    "earliest life limit left",
    "d",
    worse=Direction.lower,
    valid=(-_DAYS, _DAYS),
    group=Group.aircraft,
    source=_LIMITS,
)
def life_limit_days_left_d(
    life_limits_due_on: FloatArray, life_limits_count: FloatArray, landing_day: FloatArray
) -> FloatArray:
    """Days until the earliest calendar life limit."""
    return _earliest(life_limits_due_on - landing_day[:, None], life_limits_count, _DAYS)


@measure(
    "earliest life limit left",
    "h",
    worse=Direction.lower,
    valid=(-_HOURS, _HOURS),
    group=Group.aircraft,
    source=_LIMITS,
    decimals=1,
)
def life_limit_hours_left_h(
    life_limits_due_at_h: FloatArray, life_limits_count: FloatArray, meter_h: FloatArray, flight_min: FloatArray
) -> FloatArray:
    """Hours until the earliest life limit by the meter, at the end of the flight."""
    return _earliest(_hours_left(life_limits_due_at_h, meter_h, flight_min), life_limits_count, _HOURS)


@measure(
    "transponder check left",
    "d",
    worse=Direction.lower,
    valid=(-_DAYS, _DAYS),
    group=Group.aircraft,
    source="14 CFR 91.413(a): 24 calendar months where it is used",
    rests_on=("transponder_check_on", "landing_day"),
)
def transponder_days_left_d(aircraft_check_ends: FloatArray, landing_day: FloatArray) -> FloatArray:
    """Days until the transponder check ends; the low end where none was made."""
    return days_margin(aircraft_check_ends[1], landing_day)


@measure(
    "emergency locator check left",
    "d",
    worse=Direction.lower,
    valid=(-_DAYS, _DAYS),
    group=Group.aircraft,
    source="14 CFR 91.207(d): 12 calendar months; the section binds airplanes, so a school's own policy here",
    rests_on=("locator_check_on", "landing_day"),
)
def locator_days_left_d(aircraft_check_ends: FloatArray, landing_day: FloatArray) -> FloatArray:
    """Days until the locator check ends; the low end where none was made."""
    return days_margin(aircraft_check_ends[2], landing_day)


@quantity
def defects_by_effect(
    open_defects_effect: FloatArray,
    open_defects_deferred_until: FloatArray,
    open_defects_count: FloatArray,
    landing_day: FloatArray,
) -> FloatArray:
    """Open defects with each effect, (effects, rows); a deferral that ends before the landing day grounds."""
    entries = _used(open_defects_effect, open_defects_count)
    blank = np.isnan(open_defects_effect)
    overdue = open_defects_deferred_until < landing_day[:, None]
    undated = np.isnan(landing_day)[:, None] & ~np.isnan(open_defects_deferred_until)
    has = open_defects_effect == _EFFECT_CODES
    has[_GROUNDING] |= overdue
    perhaps = np.repeat(blank[np.newaxis], len(_EFFECTS), axis=0)
    perhaps[_GROUNDING] |= undated
    return _count(entries & has, entries & perhaps & ~has, open_defects_count)


@measure("grounding defects", "", worse=Direction.higher, valid=(0, _MOST_ITEMS), group=Group.aircraft, source=_OPEN)
def grounding_defects(defects_by_effect: FloatArray) -> FloatArray:
    """Open defects that ground the aircraft, ended deferrals included."""
    return row_of(defects_by_effect, _GROUNDING)


@measure(
    "defects that forbid night flight",
    "",
    worse=Direction.higher,
    valid=(0, _MOST_ITEMS),
    group=Group.aircraft,
    source=_OPEN,
    rests_on=("open_defects_effect", "open_defects_count"),
)
def night_defects(defects_by_effect: FloatArray) -> FloatArray:
    """Open defects that forbid night flight."""
    return row_of(defects_by_effect, _EFFECTS.index(DefectEffect.no_night))


@measure(
    "defects that forbid passengers",
    "",
    worse=Direction.higher,
    valid=(0, _MOST_ITEMS),
    group=Group.aircraft,
    source=_OPEN,
    rests_on=("open_defects_effect", "open_defects_count"),
)
def passenger_defects(defects_by_effect: FloatArray) -> FloatArray:
    """Open defects that forbid passengers."""
    return row_of(defects_by_effect, _EFFECTS.index(DefectEffect.no_passengers))


@measure(
    "defects that forbid solo flight",
    "",
    worse=Direction.higher,
    valid=(0, _MOST_ITEMS),
    group=Group.aircraft,
    source=_OPEN,
    rests_on=("open_defects_effect", "open_defects_count"),
)
def solo_defects(defects_by_effect: FloatArray) -> FloatArray:
    """Open defects that forbid solo flight."""
    return row_of(defects_by_effect, _EFFECTS.index(DefectEffect.no_solo))


@measure(
    "defects to watch",
    "",
    worse=Direction.higher,
    valid=(0, _MOST_ITEMS),
    group=Group.aircraft,
    source=_OPEN,
    rests_on=("open_defects_effect", "open_defects_count"),
)
def watch_defects(defects_by_effect: FloatArray) -> FloatArray:
    """Open defects to watch."""
    return row_of(defects_by_effect, _EFFECTS.index(DefectEffect.watch))


@measure(
    "required loose equipment missing",
    "",
    worse=Direction.higher,
    valid=(0, _MOST_ITEMS),
    group=Group.aircraft,
    source=_OWN,
)
def equipment_missing(
    loose_equipment_state: FloatArray, loose_equipment_required: FloatArray, loose_equipment_count: FloatArray
) -> FloatArray:
    """Required loose items that are not in place, control guards among them."""
    return _missing(loose_equipment_state, loose_equipment_required == 0, loose_equipment_count)


@measure(
    "required night equipment missing",
    "",
    worse=Direction.higher,
    valid=(0, _MOST_ITEMS),
    group=Group.aircraft,
    source="14 CFR 91.205(c)",
)
def night_equipment_missing(
    night_equipment_state: FloatArray, night_equipment_required: FloatArray, night_equipment_count: FloatArray
) -> FloatArray:
    """Required items of the night list that are not in place or not working."""
    return _missing(night_equipment_state, night_equipment_required == 0, night_equipment_count)


@measure(
    "left undone by the last user",
    "",
    worse=Direction.higher,
    valid=(0, _MOST_ITEMS),
    group=Group.aircraft,
    source=_OWN,
)
def left_undone(left_by_last_user_state: FloatArray, left_by_last_user_count: FloatArray) -> FloatArray:
    """Switches, locks, covers and the like that the last user did not leave in order."""
    return _missing(left_by_last_user_state, np.zeros(left_by_last_user_state.shape, np.bool_), left_by_last_user_count)


@measure(
    "since major maintenance",
    "h",
    worse=Direction.lower,
    valid=(0, 100_000),
    group=Group.aircraft,
    source=_OWN,
    decimals=1,
)
def hours_since_maintenance_h(hours_since_major_maintenance_h: FloatArray) -> FloatArray:
    """Hours flown since major maintenance: new work deserves extra watch."""
    return hours_since_major_maintenance_h


@quantity
def airborne_endurance_min(
    fuel_usable_gal: FloatArray, fuel_burn_gal_h: FloatArray, start_and_taxi_gal: FloatArray
) -> FloatArray:
    """Minutes of flight in the tanks after start and taxi; unknown where burn, fuel or taxi fuel cannot be."""
    possible = (fuel_burn_gal_h > 0) & (fuel_usable_gal >= 0) & (start_and_taxi_gal >= 0)
    return np.where(possible, endurance_rows(fuel_usable_gal, fuel_burn_gal_h, start_and_taxi_gal), np.nan)


@measure(
    "fuel beyond flight and reserve",
    "min",
    worse=Direction.lower,
    valid=(-_FUEL_MIN, _FUEL_MIN),
    group=Group.aircraft,
    source="14 CFR 91.151(b): 20 min at normal cruise for rotorcraft",
    decimals=1,
)
def fuel_margin_min(airborne_endurance_min: FloatArray, flight_min: FloatArray, reserve_min: FloatArray) -> FloatArray:
    """Endurance after start and taxi, less the planned flight and the reserve."""
    return airborne_endurance_min - flight_min - reserve_min


@measure(
    "fuel left at landing",
    "min",
    worse=Direction.lower,
    valid=(-_FUEL_MIN, _FUEL_MIN),
    group=Group.aircraft,
    source="14 CFR 91.151(b)",
    decimals=1,
)
def fuel_at_landing_min(airborne_endurance_min: FloatArray, flight_min: FloatArray) -> FloatArray:
    """Minutes of fuel left at the planned landing."""
    return airborne_endurance_min - flight_min


@measure(
    "fuel checked by sight or dip",
    "",
    worse=Direction.higher,
    valid=(0, 1),
    group=Group.aircraft,
    source=_OWN,
    words=_NO,
)
def fuel_unchecked(fuel_checked_by_sight: FloatArray) -> FloatArray:
    """1 when the fuel was not checked by sight or dip."""
    return 1.0 - fuel_checked_by_sight


@measure(
    "preflight inspection",
    "",
    worse=Direction.higher,
    valid=(0, 1),
    group=Group.aircraft,
    source="14 CFR 91.7(b) (from memory)",
    words=_NO,
)
def preflight_not_done(preflight_done: FloatArray) -> FloatArray:
    """1 when the preflight inspection for this flight is not done."""
    return 1.0 - preflight_done


@measure(
    "age of the meter reading",
    "h",
    worse=Direction.higher,
    valid=(0, 8760),
    group=Group.aircraft,
    source=_OWN,
    decimals=1,
)
def meter_reading_age_h(decided_at: FloatArray, meter_read_at: FloatArray) -> FloatArray:
    """Hours between the reading of the hour meter and the decision: somebody may have flown since."""
    return elapsed(decided_at / _HOUR_S, meter_read_at / _HOUR_S, 8760.0)


def _hours_left(due_at_h: FloatArray, meter_h: FloatArray, flight_min: FloatArray) -> FloatArray:
    """Hours left of one limit a row, or of a list of them; a limit that does not apply (+inf) is the best end.

    Cut down to whole tenths, so that two minutes over a limit do not round to "just inside".
    """
    spent = meter_h + flight_min / 60.0
    left = limited(due_at_h - (spent[:, None] if due_at_h.ndim > 1 else spent), -_HOURS, _HOURS)
    return np.asarray(np.floor(rounded(left) * 10.0) / 10.0)


def _used(entries: FloatArray, count: FloatArray) -> Mask:
    return np.asarray(np.arange(entries.shape[1]) < count[:, None])


def _earliest(margins: FloatArray, count: FloatArray, best: float) -> FloatArray:
    folded = tightest_rows(np.where(_used(margins, count), margins, np.inf))
    return np.where(np.isnan(count), np.nan, limited(folded, -best, best))


def _count(known: Mask, perhaps: Mask, listed: FloatArray) -> FloatArray:
    """How many are known; unknown when none is and one might be, or when the list itself is unknown."""
    total = known.sum(axis=-1, dtype=np.float64)
    return np.where(np.isnan(listed) | ((total == 0) & perhaps.any(axis=-1)), np.nan, total)


def _missing(state: FloatArray, optional: Mask, count: FloatArray) -> FloatArray:
    entries = _used(state, count) & ~optional
    return _count(entries & (state == _NOT_IN_PLACE), entries & np.isnan(state), count)
