"""Legal weather minima for a helicopter under visual flight rules, and the margins above them.

These are the least that the rule allows, US rules as the example. A school's own minima are normally far higher and
belong in its policy.

Facts: yes-or-no facts are 1 or True, 0 or False, NaN or None for unknown. An answer is NaN only where the unknown
fact matters: in Class B nobody needs to know the height. Night is the night of 14 CFR 1.1 (`is_night_for_logging`).
Clear of clouds is written as a clearance of 0, 0, 0 ft.
"""

from functools import cache
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from riskboard.measures.known import Floats, Number, both, checked, plain

AIRSPACE_CLASSES = ("B", "C", "D", "E", "G")
_LOW_AGL_FT = 1_200.0
_HIGH_MSL_FT = 10_000.0
_SM_FT = 5_280.0
_SURFACE_AREA_CEILING_FT = 1_000.0
_SURFACE_AREA_VISIBILITY_SM = 3.0
_STUDENT_DAY_SM, _STUDENT_NIGHT_SM = 3.0, 5.0
_NO = np.asarray(0.0)


class Minima(NamedTuple):
    """Least flight visibility and distances from cloud; all four are NaN together where unknown."""

    visibility_sm: Number
    cloud_below_ft: Number
    cloud_above_ft: Number
    cloud_horizontal_ft: Number


# Visibility SM, then distance below, above and beside cloud in ft. Each row stands once, so that two branches of the
# rule that ask the same are the same row, and a fact that only chooses between them does not matter.
_ROWS = np.asarray(
    [
        (0.0, 0.0, 0.0, 0.0),
        (0.5, 0.0, 0.0, 0.0),
        (1.0, 0.0, 0.0, 0.0),
        (3.0, 0.0, 0.0, 0.0),
        (1.0, 500.0, 1_000.0, 2_000.0),
        (3.0, 500.0, 1_000.0, 2_000.0),
        (5.0, 1_000.0, 1_000.0, _SM_FT),
        (np.nan, np.nan, np.nan, np.nan),
    ]
)
_SPECIAL, _HALF_CLEAR, _ONE_CLEAR, _THREE_CLEAR, _ONE_USUAL, _THREE_USUAL, _FIVE_HIGH, _UNKNOWN = (
    np.asarray(float(row)) for row in range(len(_ROWS))
)


def vfr_minima(
    airspace: ArrayLike,
    height_agl_ft: ArrayLike | None,
    altitude_msl_ft: ArrayLike | None,
    night: ArrayLike | None,
    *,
    pattern_within_half_mile: ArrayLike | None = False,
    special_vfr: ArrayLike | None = False,
    surface_area: ArrayLike | None = False,
    student_solo: ArrayLike | None = False,
) -> Minima:
    """Least flight visibility and distance from cloud for a helicopter.

    | airspace | where | visibility day / night | cloud below / above / beside |
    | --- | --- | --- | --- |
    | B | anywhere | 3 SM | clear of clouds |
    | C, D | anywhere | 3 SM | 500 / 1,000 / 2,000 ft |
    | E | below 10,000 ft MSL | 3 SM | 500 / 1,000 / 2,000 ft |
    | E | 10,000 ft MSL and up | 5 SM | 1,000 / 1,000 ft / 1 SM |
    | G | 1,200 ft AGL or less | 1/2 SM / 1 SM | clear of clouds |
    | G | above 1,200 ft AGL, below 10,000 ft MSL | 1 SM / 3 SM | 500 / 1,000 / 2,000 ft |
    | G | above 1,200 ft AGL, 10,000 ft MSL and up | 5 SM | 1,000 / 1,000 ft / 1 SM |

    In the traffic pattern within half a mile of the runway or helipad, in Class G below 1,200 ft AGL, 1/2 SM and clear
    of clouds will do at night too. Under a special VFR clearance, inside a surface area and below 10,000 ft MSL, a
    helicopter needs no stated visibility and must stay clear of clouds. A student alone needs 3 SM by day and 5 SM at
    night whatever the rest says.

    Args:
        airspace: "B", "C", "D", "E" or "G", "" for unknown; any shape.
        height_agl_ft: Height above the surface in ft, 0 to 60,000; any shape.
        altitude_msl_ft: Altitude above mean sea level in ft, -2,000 to 60,000; any shape.
        night: Night of 14 CFR 1.1.
        pattern_within_half_mile: In the pattern within half a mile of the runway or helipad of landing.
        special_vfr: A special VFR clearance has been given.
        surface_area: Inside the surface area of an airport.
        student_solo: A student pilot is in command.

    Returns:
        Visibility in SM and clearances in ft, each of the broadcast shape.

    Raises:
        ValueError: Outside the ranges, for another airspace class, or for a fact that is neither yes nor no. Class A
            is refused: there is no VFR in it (14 CFR 91.135).

    Source:
        14 CFR 91.155(a) and (b)(1), 91.157, 61.89(a)(6). The helicopter's exemption in 91.157 is from memory and an
        older manual.
    """
    letters = _airspace(airspace)
    place, height, altitude, dark, pattern, special, surface, student = np.broadcast_arrays(
        np.asarray(sum((letters == letter) * (code + 1.0) for code, letter in enumerate(AIRSPACE_CLASSES)) - 1.0),
        checked("height_agl_ft", height_agl_ft, at_least=0.0, up_to=60_000.0),
        checked("altitude_msl_ft", altitude_msl_ft, at_least=-2_000.0, up_to=60_000.0),
        _fact("night", night),
        _fact("pattern_within_half_mile", pattern_within_half_mile),
        _fact("special_vfr", special_vfr),
        _fact("surface_area", surface_area),
        _fact("student_solo", student_solo),
    )
    minima = vfr_minima_rows(
        place,
        height,
        altitude,
        dark,
        special_vfr=special,
        surface_area=surface,
        student_solo=student,
        pattern_within_half_mile=pattern,
    )
    return Minima(*(plain(part) for part in minima))


def vfr_minima_rows(
    airspace: Floats,
    height_agl_ft: Floats,
    altitude_msl_ft: Floats,
    night: Floats,
    *,
    special_vfr: Floats,
    surface_area: Floats,
    student_solo: Floats,
    pattern_within_half_mile: Floats = _NO,
) -> Floats:
    """:func:`vfr_minima` without the checks.

    Args:
        airspace: Position in ``AIRSPACE_CLASSES``; any other number is unknown. Arrays of one shape.
        height_agl_ft: As :func:`vfr_minima`, and so are the rest; a yes-or-no that is neither counts as unknown.
        altitude_msl_ft: Likewise.
        night: Likewise.
        special_vfr: Likewise.
        surface_area: Likewise.
        student_solo: Likewise.
        pattern_within_half_mile: Likewise.

    Returns:
        The four parts of :class:`Minima`, shape (4, ...).
    """
    unknown_height, unknown_altitude = np.isnan(height_agl_ft), np.isnan(altitude_msl_ft)
    high = np.where(unknown_altitude, np.nan, altitude_msl_ft >= _HIGH_MSL_FT)
    answers = np.array(
        (
            np.where(unknown_height, np.nan, height_agl_ft <= _LOW_AGL_FT),
            # The exception speaks of "below 1,200 ft" where the table speaks of "1,200 ft or less".
            both(pattern_within_half_mile, np.where(unknown_height, np.nan, height_agl_ft < _LOW_AGL_FT)),
            high,
            night,
            both(special_vfr, surface_area, 1.0 - high),
            student_solo,
        )
    )
    digits = 2.0 - 2.0 * (answers == 0.0) - (answers == 1.0)
    known_class = (airspace >= 0.0) & (airspace < len(AIRSPACE_CLASSES)) & (airspace == np.floor(airspace))
    index = np.where(known_class, airspace, len(AIRSPACE_CLASSES)) * 3.0 ** len(answers)
    index = index + (digits * _PLACES.reshape(-1, *[1] * airspace.ndim)).sum(axis=0)
    # INVARIANT: only whole numbers reach this cast; an unknown has become the digit 2, or the last airspace.
    return _every_case()[:, index.astype(np.intp)]


_PLACES = 3.0 ** np.arange(5.0, -1.0, -1.0)
"""Weights of the answers read as the digits of one number."""


@cache
def _every_case() -> Floats:
    """The rule worked out for every airspace and every yes, no and unknown, shape (4, cases).

    Every question the rule asks has three answers, so all of it is a table: a lookup instead of some fifty steps.
    """
    digits = np.indices((len(AIRSPACE_CLASSES) + 1, *[3] * 6)).reshape(7, -1).astype(np.float64)
    answers = np.where(digits[1:] == 2.0, np.nan, digits[1:])  # noqa: PLR2004  - the digit of an unknown
    return _rule(digits[0], *answers)


def _rule(
    airspace: Floats, low: Floats, near_pad: Floats, high: Floats, dark: Floats, special: Floats, student: Floats
) -> Floats:
    """The table of :func:`vfr_minima` on its yes-or-no questions, shape (4, n)."""
    low_g = _choose(dark, _choose(near_pad, _HALF_CLEAR, _ONE_CLEAR), _HALF_CLEAR)
    high_g = _choose(high, _FIVE_HIGH, _choose(dark, _THREE_USUAL, _ONE_USUAL))
    b, c, d, e, g = (airspace == code for code in range(len(AIRSPACE_CLASSES)))
    row = np.where(b, _THREE_CLEAR, np.nan)
    row = np.where(c | d, _THREE_USUAL, row)
    row = np.where(e, _choose(high, _FIVE_HIGH, _THREE_USUAL), row)
    row = np.where(g, _choose(low, low_g, high_g), row)
    row = _choose(special, _SPECIAL, row)
    by_light = _choose(dark, np.asarray(_STUDENT_NIGHT_SM), np.asarray(_STUDENT_DAY_SM))
    student_sm = _choose(student, by_light, np.asarray(0.0))
    row = np.where(np.isnan(row + student_sm), _UNKNOWN, row)
    minima = _ROWS[row.astype(np.intp)].T.copy()
    minima[0] = np.maximum(minima[0], student_sm)
    return minima


def visibility_margin_sm(flight_visibility_sm: ArrayLike | None, required_visibility_sm: ArrayLike | None) -> Number:
    """Visibility above (positive) or below (negative) the least allowed.

    Args:
        flight_visibility_sm: Visibility in SM, 0 or more; any shape.
        required_visibility_sm: Least allowed in SM, 0 or more; any shape.

    Returns:
        Margin in SM, the broadcast shape; 0 is allowed.

    Raises:
        ValueError: For a negative visibility.

    Source:
        14 CFR 91.155(a): "less than" is forbidden.
    """
    visibility = checked("flight_visibility_sm", flight_visibility_sm, at_least=0.0)
    return plain(np.asarray(visibility - checked("required_visibility_sm", required_visibility_sm, at_least=0.0)))


def ceiling_margin_ft(
    ceiling_ft_agl: ArrayLike | None, height_agl_ft: ArrayLike | None, clearance_below_ft: ArrayLike | None
) -> Number:
    """How far the ceiling lies above the least that a flight at a height needs.

    Equation: ceiling - height - required clearance below cloud.

    Args:
        ceiling_ft_agl: Ceiling above the surface in ft, 0 or more; infinity where there is none. Any shape.
        height_agl_ft: Planned height above the same surface in ft, 0 or more; any shape.
        clearance_below_ft: Required clearance below cloud in ft, as `vfr_minima` gives; any shape.

    Returns:
        Margin in ft, the broadcast shape; 0 is allowed, infinity where there is no ceiling.

    Raises:
        ValueError: For a negative value.

    Source:
        14 CFR 91.155(a).
    """
    ceiling = _ceiling(ceiling_ft_agl)
    height = checked("height_agl_ft", height_agl_ft, at_least=0.0)
    return plain(np.asarray(ceiling - height - checked("clearance_below_ft", clearance_below_ft, at_least=0.0)))


def surface_area_ceiling_margin_ft(
    ceiling_ft_agl: ArrayLike | None, surface_area: ArrayLike | None, special_vfr: ArrayLike | None = False
) -> Number:
    """Ceiling above the 1,000 ft that flight beneath it needs inside a surface area without special VFR.

    Args:
        ceiling_ft_agl: Ceiling in ft, 0 or more; infinity where there is none. Any shape.
        surface_area: Inside the surface area of an airport.
        special_vfr: A special VFR clearance has been given.

    Returns:
        Margin in ft, the broadcast shape; infinity where the rule does not apply.

    Raises:
        ValueError: For a negative ceiling, or for a fact that is neither yes nor no.

    Source:
        14 CFR 91.155(c).
    """
    applies = both(_fact("surface_area", surface_area), 1.0 - _fact("special_vfr", special_vfr))
    margin = _ceiling(ceiling_ft_agl) - _SURFACE_AREA_CEILING_FT
    return plain(_choose(applies, np.asarray(margin), np.asarray(np.inf)))


def surface_area_visibility_margin_sm(
    ground_visibility_sm: ArrayLike | None,
    flight_visibility_sm: ArrayLike | None,
    surface_area: ArrayLike | None,
    *,
    ground_visibility_reported: ArrayLike | None,
    special_vfr: ArrayLike | None = False,
) -> Number:
    """Visibility above the 3 SM that take-off, landing and the pattern need in a surface area without special VFR.

    The reported ground visibility governs; where the airport does not report one, the flight visibility does. A report
    that exists but was not read is not "not reported".

    Args:
        ground_visibility_sm: Ground visibility in SM, 0 or more; any shape.
        flight_visibility_sm: Flight visibility in SM, 0 or more; any shape.
        surface_area: Inside the surface area of an airport.
        ground_visibility_reported: The airport reports ground visibility.
        special_vfr: A special VFR clearance has been given.

    Returns:
        Margin in SM, the broadcast shape; infinity where the rule does not apply.

    Raises:
        ValueError: For a negative visibility, or for a fact that is neither yes nor no.

    Source:
        14 CFR 91.155(d).
    """
    applies = both(_fact("surface_area", surface_area), 1.0 - _fact("special_vfr", special_vfr))
    ground = checked("ground_visibility_sm", ground_visibility_sm, at_least=0.0)
    flight = checked("flight_visibility_sm", flight_visibility_sm, at_least=0.0)
    reported = _fact("ground_visibility_reported", ground_visibility_reported)
    margin = _choose(reported, ground, flight) - _SURFACE_AREA_VISIBILITY_SM
    return plain(_choose(applies, np.asarray(margin), np.asarray(np.inf)))


def _fact(name: str, value: ArrayLike | None) -> Floats:
    fact = np.asarray(value, dtype=np.float64)
    if np.any(~np.isnan(fact) & (fact != 0.0) & (fact != 1.0)):
        raise ValueError(f"{name} must be 1 (yes), 0 (no) or NaN (unknown), got {value!r}")
    return fact


def _airspace(airspace: ArrayLike) -> NDArray[np.str_]:
    letters = np.asarray(airspace, dtype=np.str_)
    wrong = ~np.isin(letters, [*AIRSPACE_CLASSES, ""])
    if np.any(wrong):
        raise ValueError(f"airspace must be one of {', '.join(AIRSPACE_CLASSES)}, or '' for unknown, got {airspace!r}")
    return letters


def _ceiling(ceiling_ft_agl: ArrayLike | None) -> Floats:
    ceiling = np.asarray(ceiling_ft_agl, dtype=np.float64)
    if np.any(ceiling < 0.0):
        raise ValueError(f"ceiling_ft_agl must be 0 or more, got {ceiling_ft_agl!r}")
    return ceiling


def _choose(condition: Floats, if_true: Floats, if_false: Floats) -> Floats:
    """Choose element by element; an unknown condition matters only where the two sides differ."""
    unknown = np.where(if_true == if_false, if_true, np.nan)
    return np.asarray(np.where(np.isnan(condition), unknown, np.where(condition == 1.0, if_true, if_false)))
