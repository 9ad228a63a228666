"""Sleep, waking hours and modelled sleepiness.

The three-process model adds a homeostat S (rises asleep, falls awake), a circadian wave C (24 h) and an ultradian
wave U (12 h); sleep inertia W is reported apart. A modelled value is an aid, never proof of fitness: light,
caffeine, workload, time zones and the person are not in it (spread between people about 0.8 points).

Each question has one implementation on rows (``*_rows``: n people at once, UNIX seconds, sleeps padded with NaN at
the end), and a thin single-case form on datetimes that calls it. The body clock keeps one UTC offset for the whole
history: it does not jump when the wall clock does. The model does not promise that less sleep is never better.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final

import numpy as np
import numpy.typing as npt

from riskboard.measures.instants import Instants, one_clock, seconds, seconds_array, utc_offset_s
from riskboard.measures.known import Floats, Number, checked, limited, plain
from riskboard.measures.three_process import (
    HIGHEST_S,
    KSS_10_6,
    LOWEST_S,
    asleep,
    awake,
    circadian_wave,
    inertia,
    ultradian_wave,
)

__all__ = [
    "FIRST_WAKING_DAY_H",
    "Histories",
    "ThreeProcess",
    "hours_awake",
    "hours_awake_after_sound_sleeps",
    "hours_awake_rows",
    "in_wocl",
    "sleep_in_last_h",
    "sleep_in_last_h_rows",
    "sound_sleep_in_last_s",
    "three_process_alertness",
    "three_process_rows",
    "wocl_overlap_h",
    "wocl_overlap_h_rows",
    "wocl_overlap_s",
    "worst_kss_of_sound_rows",
    "worst_kss_rows",
]

_HOUR_S: Final = 3600.0
_DAY_S: Final = 86400.0
_WOCL_FROM_S: Final = 2 * _HOUR_S
_WOCL_LENGTH_S: Final = 4 * _HOUR_S

FIRST_WAKING_DAY_H: Final = 16.0
"""A record of sleeps is taken to cover the waking day before its first sleep, at most this long (common practice,
no source). An omitted sleep there can only make a sum too small, the careful side."""

Sleeps = Sequence[tuple[datetime, datetime]]


@dataclass(frozen=True, slots=True)
class ThreeProcess:
    """The model at one instant (floats) or many (arrays of the shape of ``at``).

    Attributes:
        s: Homeostat, 2.4 to 14.3.
        c: Circadian wave, -2.5 to 2.5.
        u: Ultradian wave, -1 to 0.
        w: Sleep inertia, -5.72 to 0; NaN while asleep. Not part of the alertness.
        kss: Karolinska Sleepiness Scale, unclipped; NaN while asleep or unknown.
    """

    s: Number
    c: Number
    u: Number
    w: Number
    kss: Number

    @property
    def alertness(self) -> Number:
        """S + C + U: about 3 extremely sleepy, 7 the threshold of sleepiness, 14 high alertness."""
        return self.s + self.c + self.u


@dataclass(frozen=True, slots=True)
class Histories:
    """The recorded sleep of n people, as arrays.

    Attributes:
        start: Awake since, UNIX s, (n,).
        start_s: Homeostat at ``start``, (n,), 2.4 to 14.3.
        sleeps_from: Begin of each sleep in order of time, UNIX s, (n, k), NaN padding at the end.
        sleeps_to: End of each sleep, likewise. Half a pair, or a gap in the middle, makes the row unknown.
        offset_s: Seconds that the body clock is ahead of UTC, (n,).
    """

    start: Floats
    start_s: Floats
    sleeps_from: Floats
    sleeps_to: Floats
    offset_s: Floats


def _sound_histories(history: Histories) -> npt.NDArray[np.bool_]:
    """Rows of the histories that are known throughout; impossible ones are refused."""
    checked("start_s", history.start_s, at_least=LOWEST_S, up_to=HIGHEST_S)
    sound = _sound_sleeps(history.sleeps_from, history.sleeps_to)
    if np.any(history.sleeps_from < history.start[:, None]):
        raise ValueError("sleeps must begin after start, when the person was awake")
    return sound


def three_process_alertness(
    start: datetime,
    start_s: float,
    sleeps: Sleeps,
    at: Instants,
    kss_coefficients: tuple[float, float] = KSS_10_6,
) -> ThreeProcess:
    """Three-process model of alertness for one person.

    Args:
        start: Awake since then. Datetimes are body-clock local: all naive (a clock that never changes), or all with
            a time zone; then durations are differences of instants and the body clock keeps the offset of ``start``.
        start_s: Homeostat at ``start``, 2.4 to 14.3; NaN if unknown.
        sleeps: (from, to) pairs after ``start``, not overlapping, in any order. Later than ``at`` is allowed.
        at: One instant or many. Before ``start`` the answer is unknown.
        kss_coefficients: Intercept and slope of KSS = intercept + slope * (S + C + U); a policy's one named set.

    Returns:
        s, c, u, w and kss in the shape of ``at``; inside a sleep, w and kss are NaN.

    Raises:
        ValueError: Names the argument that cannot be (a sleep that ends before it begins, overlaps, or begins
            before ``start``; a homeostat out of range; a slope that is not negative; mixed clocks).

    Source: as named at the top of the module; check values in the tests' fatigue reference files.
    """
    one_clock("start, sleeps, at", [start], *sleeps, _listed(at))
    instants = seconds_array(at)
    history = Histories(
        np.array([seconds(start)]), np.array([start_s]), *_sleep_rows(sleeps), np.array([utc_offset_s(start)])
    )
    rows = three_process_rows(history, instants.reshape(1, -1), kss_coefficients)
    s, c, u, w, kss = (
        plain(np.asarray(part).reshape(instants.shape)) for part in (rows.s, rows.c, rows.u, rows.w, rows.kss)
    )
    return ThreeProcess(s, c, u, w, kss)


def three_process_rows(
    history: Histories, at: Floats, kss_coefficients: tuple[float, float] = KSS_10_6
) -> ThreeProcess:
    """The model for n people at m instants each; the only implementation of it.

    Args:
        history: Sleeps of the n people.
        at: Instants, UNIX s, (n, m).
        kss_coefficients: Intercept and slope, slope negative.

    Returns:
        Arrays (n, m).

    Raises:
        ValueError: As :func:`three_process_alertness`.
    """
    if not kss_coefficients[1] < 0:
        raise ValueError(f"kss_coefficients: the slope must be negative; found {kss_coefficients[1]}")
    sound = _sound_histories(history)
    s, c, u, awake_h = _model(history, at)
    s = np.where(sound[:, None], s, np.nan)
    return ThreeProcess(s, c, u, inertia(awake_h), _kss(s, c, u, awake_h, kss_coefficients))


def _kss(s: Floats, c: Floats, u: Floats, awake_h: Floats, coefficients: tuple[float, float]) -> Floats:
    intercept, slope = coefficients
    return np.where(np.isnan(awake_h), np.nan, intercept + slope * (s + c + u))


def _model(history: Histories, at: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """S, C, U and the hours awake of people whose sleeps are sound, each (n, m)."""
    onsets, s_onsets, wakes, s_wakes = _turns(history)
    # The sleeps that have ended by then: how many, and so which waking counts and which sleep comes next.
    ended = np.zeros(at.shape, dtype=np.int64)
    for _, end in _columns(history.sleeps_from, history.sleeps_to):
        ended += at >= end
    person = np.arange(len(at))[:, None]
    onset = onsets[person, ended]
    s = awake(s_wakes[person, ended], _hours(at - wakes[person, ended]))
    in_bed = at >= onset
    if in_bed.any():
        s = np.where(in_bed, asleep(s_onsets[person, ended], _hours(at - onset)), s)
    s = np.where(at >= history.start[:, None], s, np.nan)
    awake_h = _time_awake_h(history.sleeps_from, history.sleeps_to, at, history.start)
    clock_h = (at + history.offset_s[:, None]) % _DAY_S / _HOUR_S
    return s, circadian_wave(clock_h), ultradian_wave(clock_h), awake_h


def worst_kss_rows(
    history: Histories,
    takeoff: Floats,
    landing: Floats,
    kss_coefficients: tuple[float, float] = KSS_10_6,
    step_s: float = 600.0,
) -> Floats:
    """Highest modelled KSS between take-off and landing, both ends included.

    Evaluated every ``step_s`` (10 min: away from a waking the model moves by less than 0.1 KSS in that time) and at
    both ends. Any unknown instant, a recorded sleep during the flight among them, makes the answer unknown.

    Args:
        history: Sleeps of the n people.
        takeoff: UNIX s, (n,).
        landing: UNIX s, (n,), not before take-off and at most 24 h after it.
        kss_coefficients: Intercept and slope.
        step_s: Spacing of the grid in s.

    Returns:
        KSS, unclipped, (n,).

    Raises:
        ValueError: Names the impossible argument.
    """
    if not step_s > 0:
        raise ValueError(f"step_s must be above 0; found {step_s}")
    checked("landing - takeoff", landing - takeoff, at_least=0, up_to=_DAY_S)
    sound = _sound_histories(history)
    return np.where(sound, worst_kss_of_sound_rows(history, takeoff, landing, kss_coefficients, step_s), np.nan)


def worst_kss_of_sound_rows(
    history: Histories,
    takeoff: Floats,
    landing: Floats,
    kss_coefficients: tuple[float, float] = KSS_10_6,
    step_s: float = 600.0,
) -> Floats:
    """:func:`worst_kss_rows` without the checks, for sleeps that are in order, whole, and apart."""
    length_s = landing - takeoff
    longest_s = float(np.where(np.isnan(length_s), 0.0, length_s).max(initial=0.0))
    offsets_s = np.append(np.arange(0.0, longest_s, step_s), longest_s)
    # A row shorter than the longest repeats its own landing, so its answer does not depend on its neighbours.
    at = np.minimum(takeoff[:, None] + offsets_s, landing[:, None])
    return np.asarray(_kss(*_model(history, at), kss_coefficients).max(axis=1))


def hours_awake(sleeps: Sleeps, at: Instants, *, awake_from: datetime | None = None) -> Number:
    """Hours since the last waking, a difference of instants.

    Args:
        sleeps: (from, to) pairs, not overlapping.
        at: One instant or many.
        awake_from: A known waking before the first sleep listed, if any.

    Returns:
        Hours in the shape of ``at``; NaN while asleep, and NaN when no waking at or before ``at`` is known.

    Raises:
        ValueError: ``sleeps`` cannot be, or clocks are mixed.
    """
    one_clock("sleeps, at", *sleeps, _listed(at), [awake_from])
    instants = seconds_array(at)
    rows = hours_awake_rows(*_sleep_rows(sleeps), instants.reshape(1, -1), np.array([seconds(awake_from)]))
    return plain(rows.reshape(instants.shape))


def hours_awake_rows(sleeps_from: Floats, sleeps_to: Floats, at: Floats, awake_from: Floats | None = None) -> Floats:
    """:func:`hours_awake` for n people at m instants: sleeps (n, k), at (n, m), awake_from (n,), all UNIX s."""
    sound = _sound_sleeps(sleeps_from, sleeps_to)
    return np.where(sound[:, None], _time_awake_h(sleeps_from, sleeps_to, at, awake_from), np.nan)


def hours_awake_after_sound_sleeps(sleeps_from: Floats, sleeps_to: Floats, at: Floats) -> Floats:
    """:func:`hours_awake_rows` without the checks, for sleeps that are in order, whole, and apart."""
    return _time_awake_h(sleeps_from, sleeps_to, at, None)


def sleep_in_last_h(sleeps: Sleeps, at: Instants, hours: float, *, known_from: datetime | None = None) -> Number:
    """Hours slept in the ``hours`` before ``at``.

    A window that reaches back before the record begins is unknown, never 0.

    Args:
        sleeps: (from, to) pairs, not overlapping; naps count.
        at: One instant or many.
        hours: Length of the window in h, above 0.
        known_from: When the record begins. Left out, it begins with the waking day before the first sleep listed,
            at most 16 h before it (:data:`FIRST_WAKING_DAY_H`); with no sleep listed nothing is known.

    Returns:
        Hours in the shape of ``at``; a sleep under way counts up to ``at``.

    Raises:
        ValueError: ``sleeps`` or ``hours`` cannot be, or clocks are mixed.
    """
    one_clock("sleeps, at", *sleeps, _listed(at), [known_from])
    instants = seconds_array(at)
    begin = None if known_from is None else np.array([seconds(known_from)])
    rows = sleep_in_last_h_rows(*_sleep_rows(sleeps), instants.reshape(1, -1), hours, begin)
    return plain(rows.reshape(instants.shape))


def sleep_in_last_h_rows(
    sleeps_from: Floats, sleeps_to: Floats, at: Floats, hours: float, known_from: Floats | None = None
) -> Floats:
    """:func:`sleep_in_last_h` for n people at m instants: sleeps (n, k), at (n, m), known_from (n,), UNIX s."""
    window_s = float(checked("hours", hours, at_least=1e-3, up_to=1000)) * _HOUR_S
    sound = _sound_sleeps(sleeps_from, sleeps_to)
    return np.where(sound[:, None], sound_sleep_in_last_s(sleeps_from, sleeps_to, at, window_s, known_from), np.nan)


def sound_sleep_in_last_s(
    sleeps_from: Floats, sleeps_to: Floats, at: Floats, window_s: float | Floats, known_from: Floats | None = None
) -> Floats:
    """:func:`sleep_in_last_h_rows` without the checks, for sleeps that are in order, whole, and apart.

    The windows are in s and broadcast against ``at``; hours come out in that shape.
    """
    total = np.zeros(np.broadcast_shapes(at.shape, np.shape(window_s)))
    begin = at - window_s
    for onset, end in _columns(sleeps_from, sleeps_to):
        slept = np.maximum(np.minimum(end, at) - np.maximum(onset, begin), 0.0)
        total = np.where(np.isnan(onset), total, total + slept)
    if known_from is None:
        first = sleeps_from[:, 0] if sleeps_from.shape[1] else np.full(at.shape[0], np.nan)
        known_from = first - FIRST_WAKING_DAY_H * _HOUR_S
    return np.where(begin >= known_from[:, None], total / _HOUR_S, np.nan)


def in_wocl(at: datetime) -> bool:
    """Whether the clock face of ``at`` reads 02:00 to 05:59, the window of circadian low.

    Source: 14 CFR 117.3 and EU ORO.FTL.105(28), for a person acclimatised to that clock (from memory).
    """
    return 2 <= at.hour < 6  # noqa: PLR2004 - the window's own bounds


def wocl_overlap_h(takeoff: datetime, landing: datetime) -> float:
    """Hours of a flight inside the window of circadian low, on the body clock of ``takeoff``'s UTC offset.

    Args:
        takeoff: Body-clock local time.
        landing: Not before ``takeoff``.

    Returns:
        Hours between 02:00 and 06:00.

    Raises:
        ValueError: ``landing`` is before ``takeoff``, or one has a time zone and the other has none.
    """
    one_clock("takeoff, landing", [takeoff, landing])
    rows = (np.array([value]) for value in (seconds(takeoff), seconds(landing), utc_offset_s(takeoff)))
    return float(wocl_overlap_h_rows(*rows)[0])


def wocl_overlap_h_rows(takeoff: Floats, landing: Floats, offset_s: Floats) -> Floats:
    """:func:`wocl_overlap_h` for n flights: UNIX s and seconds ahead of UTC, each (n,)."""
    checked("landing - takeoff", landing - takeoff, at_least=0)
    return wocl_overlap_s(takeoff + offset_s, landing + offset_s) / _HOUR_S


def wocl_overlap_s(local_takeoff_s: Floats, local_landing_s: Floats) -> Floats:
    """:func:`wocl_overlap_h_rows` in s on the body clock's own seconds, without the check."""
    return _wocl_before_s(local_landing_s) - _wocl_before_s(local_takeoff_s)


def _wocl_before_s(local_s: Floats) -> Floats:
    day = np.floor(local_s / _DAY_S)
    return day * _WOCL_LENGTH_S + limited(local_s - day * _DAY_S - _WOCL_FROM_S, 0.0, _WOCL_LENGTH_S)


def _hours(elapsed_s: Floats) -> Floats:
    # Branches that do not apply may look backwards; they are masked later and must not overflow before that.
    return np.maximum(elapsed_s / _HOUR_S, 0.0)


def _time_awake_h(sleeps_from: Floats, sleeps_to: Floats, at: Floats, awake_from: Floats | None) -> Floats:
    wake = np.full(at.shape, np.nan)
    if awake_from is not None:
        wake = np.where(at >= awake_from[:, None], awake_from[:, None], np.nan)
    for onset, end in _columns(sleeps_from, sleeps_to):
        wake = np.where(at >= end, end, np.where(at >= onset, np.nan, wake))
    hours: Floats = (at - wake) / _HOUR_S
    return hours


def _turns(history: Histories) -> tuple[Floats, Floats, Floats, Floats]:
    """Each falling asleep and each waking with its S, (n, k + 1): column j holds waking j and the sleep after it."""
    wake, s_wake = history.start[:, None], history.start_s[:, None]
    onsets: list[Floats] = []
    s_onsets: list[Floats] = []
    wakes, s_wakes = [wake], [s_wake]
    for onset, end in _columns(history.sleeps_from, history.sleeps_to):
        s_onset = awake(s_wake, _hours(onset - wake))
        padding = np.isnan(onset)
        wake = np.where(padding, wake, end)
        s_wake = np.where(padding, s_wake, asleep(s_onset, _hours(end - onset)))
        onsets, s_onsets = [*onsets, onset], [*s_onsets, s_onset]
        wakes, s_wakes = [*wakes, wake], [*s_wakes, s_wake]
    none = np.full(wake.shape, np.nan)
    together = ([*onsets, none], [*s_onsets, none], wakes, s_wakes)
    onset_at, s_onset_at, wake_at, s_wake_at = (np.concatenate(columns, axis=1) for columns in together)
    return onset_at, s_onset_at, wake_at, s_wake_at


def _columns(sleeps_from: Floats, sleeps_to: Floats) -> list[tuple[Floats, Floats]]:
    return [(sleeps_from[:, j : j + 1], sleeps_to[:, j : j + 1]) for j in range(sleeps_from.shape[1])]


def _sound_sleeps(sleeps_from: Floats, sleeps_to: Floats) -> npt.NDArray[np.bool_]:
    """Rows whose padded sleeps are known throughout; impossible sleeps are refused."""
    if sleeps_from.shape != sleeps_to.shape:
        raise ValueError(f"sleeps_from {sleeps_from.shape} and sleeps_to {sleeps_to.shape} must have one shape")
    if np.any(sleeps_to <= sleeps_from):
        raise ValueError("sleeps must end after they begin")
    if np.any(sleeps_from[:, 1:] < sleeps_to[:, :-1]):
        raise ValueError("sleeps must be in order of time and must not overlap")
    missing = np.isnan(sleeps_from)
    half = np.any(missing != np.isnan(sleeps_to), axis=1)
    hole = np.any(missing[:, :-1] & ~missing[:, 1:], axis=1)
    return np.asarray(~(half | hole))


def _sleep_rows(sleeps: Sleeps) -> tuple[Floats, Floats]:
    pairs = np.array([[seconds(a), seconds(b)] for a, b in sorted(sleeps)], dtype=np.float64).reshape(-1, 2)
    return pairs[None, :, 0], pairs[None, :, 1]


def _listed(at: Instants) -> list[datetime | None]:
    if isinstance(at, datetime):
        return [at]
    array = np.asarray(at)
    if array.dtype.kind == "M":
        return [datetime(1970, 1, 1)]  # noqa: DTZ001 - stands for "naive"
    return list(array.astype(object).ravel())
