"""Registered measures of the pilot's state: sleep, waking hours, sleepiness, alcohol, food, illness, stress, duty.

The recorded sleeps are sorted here. Before the first of them the person is taken to have been awake for at most 16 h
(common practice, no source): a sum that would need more history is unknown. "No sleep at all" is an answer: nothing
slept, awake to the end of the range, and no model value.
"""

import numpy as np

from riskboard.measures.fatigue import (
    FIRST_WAKING_DAY_H,
    Histories,
    hours_awake_after_sound_sleeps,
    sound_sleep_in_last_s,
    wocl_overlap_s,
    worst_kss_of_sound_rows,
)
from riskboard.measures.known import row_of
from riskboard.measures.register_pilot import elapsed
from riskboard.measures.registry import measure, quantity
from riskboard.measures.three_process import steady_start_s
from riskboard.words import Direction, Group
from riskboard.worksheet.columns import FloatArray

_HOUR_S = 3600.0
_LONGEST_FLIGHT_MIN = 1440.0
_AWAKE_MOST_H = 72.0
_ALCOHOL_FREE_MOST_H = 720.0
_SLEEP_WINDOWS_S = np.array([24.0, 48.0])[:, None, None] * _HOUR_S
_STEADY_S = float(steady_start_s(8.0))
"""Homeostat on waking of somebody who sleeps eight hours a day; the assumption where the record begins."""
_OWN = "common practice, no source"
_IMSAFE = "IMSAFE, FAA-H-8083-2A"
_PRIOR_SLEEP = "Dawson and McCulloch 2005, Sleep Med Rev 9:365-380 (from memory)"
_YES = {0: "no", 1: "yes"}


@quantity
def sleep_record(sleeps_start_at: FloatArray, sleeps_end_at: FloatArray, sleeps_count: FloatArray) -> FloatArray:
    """The sleeps in order of time, begin and end, (2, rows, longest); all NaN where unknown or impossible."""
    record = np.array((sleeps_start_at, sleeps_end_at))
    record.sort(axis=-1)
    begins, ends = record
    impossible = (ends <= begins).any(axis=1) | (begins[:, 1:] < ends[:, :-1]).any(axis=1)
    half = (np.isnan(begins) != np.isnan(ends)).any(axis=1)
    return np.where((impossible | half | np.isnan(sleeps_count))[:, None], np.nan, record)


@quantity
def slept_h(sleep_record: FloatArray, sleeps_count: FloatArray, take_off_at: FloatArray) -> FloatArray:
    """Hours slept in the 24 h and in the 48 h before take-off, (2, rows)."""
    slept = sound_sleep_in_last_s(
        row_of(sleep_record, 0), row_of(sleep_record, 1), take_off_at[:, None], _SLEEP_WINDOWS_S
    )[:, :, 0]
    return np.where((sleeps_count == 0) & ~np.isnan(take_off_at), 0.0, slept)


@measure(
    "sleep in the last 24 h",
    "h",
    worse=Direction.lower,
    valid=(0, 24),
    group=Group.pilot,
    source=_PRIOR_SLEEP,
    decimals=1,
)
def sleep_last_24h_h(slept_h: FloatArray) -> FloatArray:
    """Hours slept in the 24 h before take-off, naps included."""
    return row_of(slept_h, 0)


@measure(
    "sleep in the last 48 h",
    "h",
    worse=Direction.lower,
    valid=(0, 48),
    group=Group.pilot,
    source=_PRIOR_SLEEP,
    decimals=1,
)
def sleep_last_48h_h(slept_h: FloatArray) -> FloatArray:
    """Hours slept in the 48 h before take-off, naps included."""
    return row_of(slept_h, 1)


@measure(
    "awake at landing",
    "h",
    worse=Direction.higher,
    valid=(0, _AWAKE_MOST_H),
    group=Group.pilot,
    source="Dawson and Reid 1997, Nature 388:235 (partly from memory)",
    decimals=1,
)
def hours_awake_at_landing_h(sleep_record: FloatArray, sleeps_count: FloatArray, landing_at: FloatArray) -> FloatArray:
    """Hours from the last waking to the planned landing; the high end where no sleep was had in two nights."""
    awake = hours_awake_after_sound_sleeps(row_of(sleep_record, 0), row_of(sleep_record, 1), landing_at[:, None])[:, 0]
    none = (sleeps_count == 0) & ~np.isnan(landing_at)
    return np.where(none, _AWAKE_MOST_H, np.minimum(awake, _AWAKE_MOST_H))


@measure(
    "modelled sleepiness (1 extremely alert to 9 fighting sleep)",
    "",
    worse=Direction.higher,
    valid=(-5, 15),
    group=Group.pilot,
    source="three-process model, Ingre et al. 2014 (PLoS ONE 9:e108679); an aid, never proof of fitness",
    decimals=1,
)
def modelled_sleepiness_kss(
    sleep_record: FloatArray, take_off_at: FloatArray, flight_min: FloatArray, utc_offset_s: FloatArray
) -> FloatArray:
    """Highest modelled sleepiness between take-off and landing, unclipped.

    The history is taken to begin 16 h before the first sleep entered, on waking from a steady eight-hour night; the
    body clock is that of the place of departure.
    """
    begins, ends = sleep_record
    start = begins[:, 0] - FIRST_WAKING_DAY_H * _HOUR_S
    history = Histories(start, np.full(start.shape, _STEADY_S), begins, ends, utc_offset_s)
    length_min = np.where(flight_min <= _LONGEST_FLIGHT_MIN, flight_min, np.nan)
    return worst_kss_of_sound_rows(history, take_off_at, take_off_at + length_min * 60.0)


@measure(
    "flight in the window of circadian low",
    "min",
    worse=Direction.higher,
    valid=(0, 720),
    group=Group.pilot,
    source="14 CFR 117.3, as a yardstick (from memory): 02:00 to 05:59 body-clock time",
    decimals=1,
)
def circadian_low_min(take_off_at: FloatArray, flight_min: FloatArray, utc_offset_s: FloatArray) -> FloatArray:
    """Minutes of the flight between 02:00 and 06:00 at the place of departure."""
    local = take_off_at + utc_offset_s
    return wocl_overlap_s(local, take_off_at + flight_min * 60.0 + utc_offset_s) / _HOUR_S * 60.0


@measure(
    "sleepiness by own rating (1 extremely alert to 9 fighting sleep)",
    "",
    worse=Direction.higher,
    valid=(1, 9),
    group=Group.pilot,
    source="Akerstedt and Gillberg 1990, Int J Neurosci 52:29-37",
)
def sleepiness_self_rating(sleepiness_rating: FloatArray) -> FloatArray:
    """The pilot's own rating on the Karolinska Sleepiness Scale."""
    return sleepiness_rating


@measure(
    "since the last drink",
    "h",
    worse=Direction.lower,
    valid=(0, _ALCOHOL_FREE_MOST_H),
    group=Group.pilot,
    source="14 CFR 91.17(a)(1): 8 h; FAA AIM 8-1-1: 12 to 24 h",
    decimals=1,
)
def alcohol_free_h(take_off_at: FloatArray, last_drink_at: FloatArray) -> FloatArray:
    """Hours from the last alcoholic drink to take-off; the best end where there was none."""
    return elapsed(take_off_at / _HOUR_S, last_drink_at / _HOUR_S, _ALCOHOL_FREE_MOST_H)


@measure(
    "since the last meal, at landing",
    "h",
    worse=Direction.higher,
    valid=(0, 72),
    group=Group.pilot,
    source=_OWN,
    decimals=1,
)
def hours_since_meal_h(landing_at: FloatArray, last_meal_at: FloatArray) -> FloatArray:
    """Hours from the last meal to the planned landing."""
    return elapsed(landing_at / _HOUR_S, last_meal_at / _HOUR_S, 72.0)


@measure(
    "ill, in pain or recovering",
    "",
    worse=Direction.higher,
    valid=(0, 1),
    group=Group.pilot,
    source="14 CFR 61.53 (from memory)",
    words=_YES,
)
def unwell(ill_today: FloatArray) -> FloatArray:
    """1 when the pilot is ill, in pain or recovering."""
    return ill_today


@measure(
    "medicine",
    "",
    worse=Direction.higher,
    valid=(0, 3),
    group=Group.pilot,
    source="14 CFR 91.17(a)(3)",
    words={0: "none", 1: "approved for flying", 2: "not sure", 3: "not approved for flying"},
)
def medicine_concern(medicines: FloatArray) -> FloatArray:
    """What medicine may still act: none, approved, not sure, not approved."""
    return medicines


@measure("stress (1 none to 5 heavy)", "", worse=Direction.higher, valid=(1, 5), group=Group.pilot, source=_IMSAFE)
def stress_rating(stress_level: FloatArray) -> FloatArray:
    """The pilot's own rating of stress and preoccupation."""
    return stress_level


@measure("a life event weighs", "", worse=Direction.higher, valid=(0, 1), group=Group.pilot, source=_IMSAFE, words=_YES)
def life_event_weighs(life_event: FloatArray) -> FloatArray:
    """1 when a recent life event weighs on the pilot."""
    return life_event


@measure(
    "on duty at landing",
    "h",
    worse=Direction.higher,
    valid=(0, 48),
    group=Group.pilot,
    source="14 CFR 135.267, as a yardstick",
    decimals=1,
)
def duty_at_landing_h(landing_at: FloatArray, duty_started_at: FloatArray) -> FloatArray:
    """Hours from the start of today's work, whatever the work, to the planned landing."""
    return elapsed(landing_at / _HOUR_S, duty_started_at / _HOUR_S, 48.0)


@measure("flights already flown today", "", worse=Direction.higher, valid=(0, 30), group=Group.pilot, source=_OWN)
def flights_flown_today(flights_today: FloatArray) -> FloatArray:
    """Flights the pilot has flown today."""
    return flights_today


@measure("days worked in a row", "d", worse=Direction.higher, valid=(0, 60), group=Group.pilot, source=_OWN)
def days_worked_in_row(days_in_row: FloatArray) -> FloatArray:
    """Days worked in a row, today included."""
    return days_in_row
