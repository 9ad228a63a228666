"""Hover margins and power limits from the tables of the aircraft type; outside a table is unknown, never extrapolated.

A hover table gives the ceiling, as pressure or density altitude, by gross weight and temperature. The margin in feet is
the ceiling less the altitude of the place; the margin in pounds is the heaviest weight of the table that still hovers
there, less the weight.
"""

from functools import lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt

from riskboard.aircraft_types.model import HoverTable, PowerTable
from riskboard.measures.known import Number, checked, plain, rounded
from riskboard.measures.tables import Grid, between_lines, grid_of

__all__ = [
    "hover_ceiling_ft",
    "hover_margin_ft",
    "hover_margin_lb",
    "hover_weight_max_lb",
    "power_limit",
    "site_temperature_c",
]

_LAPSE_C_PER_FT: Final = 0.0065 * 0.3048
"""Standard lapse: 6.5 C per geopotential kilometre (ICAO Doc 7488), 1.98 C per 1,000 ft."""


@lru_cache(maxsize=64)
def _hover_grid(table: HoverTable) -> Grid:
    return grid_of(table.gross_weights_lb, table.temperatures_c, table.ceilings_ft)


@lru_cache(maxsize=64)
def _power_grid(table: PowerTable) -> Grid:
    return grid_of(table.pressure_altitudes_ft, table.temperatures_c, table.limits)


def hover_ceiling_ft(table: HoverTable, gross_lb: npt.ArrayLike, temperature_c: npt.ArrayLike) -> Number:
    """Hover ceiling for a weight and a temperature.

    Args:
        table: In or out of ground effect.
        gross_lb: Gross weight, above 0.
        temperature_c: Outside temperature where it hovers.

    Returns:
        Feet, as pressure or density altitude as ``table.altitude`` says; NaN outside the table or where it is blank.

    Raises:
        ValueError: Names the impossible argument.

    Source: the type's own flight manual.
    """
    return between_lines(_hover_grid(table), checked("gross_lb", gross_lb, above=0), temperature_c)


def hover_margin_ft(
    table: HoverTable, gross_lb: npt.ArrayLike, temperature_c: npt.ArrayLike, altitude_ft: npt.ArrayLike
) -> Number:
    """Hover ceiling above the place: ceiling - altitude, ft.

    Args:
        table: In or out of ground effect.
        gross_lb: Gross weight, above 0.
        temperature_c: Outside temperature at the place.
        altitude_ft: Pressure or density altitude of the place, as ``table.altitude`` says.

    Returns:
        Feet; 0 still hovers, negative does not; NaN as :func:`hover_ceiling_ft`.
    """
    ceiling = np.asarray(hover_ceiling_ft(table, gross_lb, temperature_c))
    return plain(rounded(ceiling - checked("altitude_ft", altitude_ft)))


def hover_weight_max_lb(table: HoverTable, temperature_c: npt.ArrayLike, altitude_ft: npt.ArrayLike) -> Number:
    """Heaviest weight that the table lets hover at a place.

    Where even the heaviest weight with a value hovers, that weight is the answer: beyond it the table says nothing.

    Args:
        table: In or out of ground effect. The ceiling never rises with weight; the reader of types has seen to it.
        temperature_c: Outside temperature at the place.
        altitude_ft: Pressure or density altitude of the place, as ``table.altitude`` says.

    Returns:
        Pounds; NaN where the temperature is outside the table, the table is blank there, or not even the lightest
        weight hovers (how light it would have to be, the table does not say).
    """
    grid = _hover_grid(table)
    temperature, altitude = np.broadcast_arrays(
        checked("temperature_c", temperature_c), checked("altitude_ft", altitude_ft)
    )
    ceilings = np.asarray(between_lines(grid, grid.rows, temperature[..., None]))
    holds = ceilings >= altitude[..., None]
    last = holds.sum(axis=-1) - 1
    here = np.clip(last, 0, grid.rows.size - 1)[..., None]
    after = np.clip(here + 1, 0, grid.rows.size - 1)
    high, low = (
        np.take_along_axis(ceilings, here, axis=-1)[..., 0],
        np.take_along_axis(ceilings, after, axis=-1)[..., 0],
    )
    light, heavy = grid.rows[here[..., 0]], grid.rows[after[..., 0]]
    known = ~np.isnan(low) & (high > low)
    share = np.where(known, (high - altitude) / np.where(known, high - low, 1.0), 0.0)
    return plain(np.where(last >= 0, light + (heavy - light) * share, np.nan))


def hover_margin_lb(
    table: HoverTable, gross_lb: npt.ArrayLike, temperature_c: npt.ArrayLike, altitude_ft: npt.ArrayLike
) -> Number:
    """Weight that could still be added and the table lets it hover: :func:`hover_weight_max_lb` - gross.

    Returns:
        Pounds; negative is what must come off. NaN where the gross weight is outside the table, and as
        :func:`hover_weight_max_lb`.
    """
    grid = _hover_grid(table)
    gross = checked("gross_lb", gross_lb, above=0)
    tabled = np.where((gross >= grid.rows[0]) & (gross <= grid.rows[-1]), gross, np.nan)
    return plain(rounded(np.asarray(hover_weight_max_lb(table, temperature_c, altitude_ft)) - tabled))


def power_limit(table: PowerTable, pressure_altitude_ft: npt.ArrayLike, temperature_c: npt.ArrayLike) -> Number:
    """Manifold-pressure limit (inHg) or torque limit (%) of the day, as ``table.unit`` says.

    Args:
        table: The limit wanted, such as maximum continuous.
        pressure_altitude_ft: Pressure altitude.
        temperature_c: Outside temperature.

    Returns:
        The limit; NaN outside the table or where it is blank.

    Source: the type's own flight manual.
    """
    return between_lines(
        _power_grid(table),
        checked("pressure_altitude_ft", pressure_altitude_ft),
        checked("temperature_c", temperature_c),
    )


def site_temperature_c(
    temperature_c: npt.ArrayLike, elevation_ft: npt.ArrayLike, site_elevation_ft: npt.ArrayLike
) -> Number:
    """Temperature at a landing site from that measured elsewhere: standard lapse over the difference in elevation.

    An inversion makes a high site warmer than this; a measured temperature is better.

    Args:
        temperature_c: Temperature where it was measured.
        elevation_ft: Elevation there.
        site_elevation_ft: Elevation of the site.

    Returns:
        Degrees Celsius.

    Source: ICAO Doc 7488, standard lapse 6.5 C per km; that air follows it today is common practice, no source.
    """
    climb_ft = checked("site_elevation_ft", site_elevation_ft) - checked("elevation_ft", elevation_ft)
    return plain(rounded(checked("temperature_c", temperature_c) - _LAPSE_C_PER_FT * climb_ft))
