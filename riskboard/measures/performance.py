"""Hover margins and power limits from the tables of the aircraft type; outside a table is unknown, never extrapolated.

A hover table gives the ceiling, as pressure or density altitude, by gross weight and temperature. The margin in feet is
the ceiling less the altitude of the place; the margin in pounds is the heaviest weight of the table that still hovers
there, less the weight.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt

from riskboard.aircraft_types.model import AircraftType, AltitudeKind, HoverTable, PowerTable
from riskboard.measures.atmosphere import density_altitude_ft, pressure_altitude_ft
from riskboard.measures.frame import frame_of, hover_grid
from riskboard.measures.known import Floats, Number, checked, plain, rounded
from riskboard.measures.tables import Grid, between_lines, grid_of, mixed, placed

__all__ = [
    "PlacePerformance",
    "hover_ceiling_ft",
    "hover_margin_ft",
    "hover_margin_lb",
    "hover_rows",
    "hover_weight_max_lb",
    "performance_at",
    "power_limit",
    "site_temperature_c",
    "site_temperature_rows",
]

_LAPSE_C_PER_FT: Final = 0.0065 * 0.3048
"""Standard lapse: 6.5 C per geopotential kilometre (ICAO Doc 7488), 1.98 C per 1,000 ft."""


@lru_cache(maxsize=64)
def _hover_grid(table: HoverTable) -> Grid:
    return hover_grid(table)


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
    known = high > low  # false beside a blank as well
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


def hover_rows(grid: Grid, gross_lb: Floats, temperature_c: Floats, altitude_ft: Floats) -> tuple[Floats, Floats]:
    """:func:`hover_margin_ft` and :func:`hover_margin_lb` together, on arrays of one shape (rows,), without the checks.

    Args:
        grid: A hover table made ready (``frame.hover_grid``).
        gross_lb: Gross weight.
        temperature_c: Outside temperature at the place.
        altitude_ft: Pressure or density altitude of the place, as the table says.

    Returns:
        Margin in feet and in pounds, bit by bit those of the two functions.
    """
    rows, here = grid.rows, np.arange(gross_lb.size)
    left, right, aside = placed(grid.columns, temperature_c)
    ceilings = mixed(grid.cells[:, left], grid.cells[:, right], aside)
    lower, upper, share = placed(rows, gross_lb)
    feet = rounded(mixed(ceilings[lower, here], ceilings[upper, here], share) - altitude_ft)
    holds = ceilings >= altitude_ft
    last = holds.sum(axis=0) - 1
    light = np.maximum(last, 0)
    heavy = np.minimum(light + 1, rows.size - 1)
    high, low = ceilings[light, here], ceilings[heavy, here]
    between = high > low  # false beside a blank as well
    part = np.where(between, (high - altitude_ft) / np.where(between, high - low, 1.0), 0.0)
    heaviest = np.where(last >= 0, rows[light] + (rows[heavy] - rows[light]) * part, np.nan)
    tabled = np.where((gross_lb >= rows[0]) & (gross_lb <= rows[-1]), gross_lb, np.nan)
    return feet, rounded(heaviest - tabled)


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
    places = checked("elevation_ft", elevation_ft), checked("site_elevation_ft", site_elevation_ft)
    return plain(site_temperature_rows(checked("temperature_c", temperature_c), *places))


def site_temperature_rows(temperature_c: Floats, elevation_ft: Floats, site_elevation_ft: Floats) -> Floats:
    """:func:`site_temperature_c` without the checks."""
    return rounded(temperature_c - _LAPSE_C_PER_FT * (site_elevation_ft - elevation_ft))


@dataclass(frozen=True, eq=False)
class PlacePerformance:
    """What the tables say at one place, such as the departure or the highest landing site.

    Attributes:
        pressure_altitude_ft: Of the place, at this altimeter setting.
        density_altitude_ft: Of the place, dry air, as manuals mean it.
        in_ground_effect_ft: Hover ceiling in ground effect above the place.
        in_ground_effect_lb: Weight that could be added and still hover in ground effect.
        out_of_ground_effect_ft: The same out of ground effect.
        out_of_ground_effect_lb: The same out of ground effect.
        power_limits: Limit of each power table of the type by its name, in the table's unit.
    """

    pressure_altitude_ft: Number
    density_altitude_ft: Number
    in_ground_effect_ft: Number
    in_ground_effect_lb: Number
    out_of_ground_effect_ft: Number
    out_of_ground_effect_lb: Number
    power_limits: Mapping[str, Number]


def performance_at(
    aircraft: AircraftType,
    gross_lb: npt.ArrayLike,
    temperature_c: npt.ArrayLike,
    elevation_ft: npt.ArrayLike,
    altimeter_inhg: npt.ArrayLike,
) -> PlacePerformance:
    """Hover margins and power limits at a place.

    For a landing site give the weight at take-off, as if nothing were burned on the way, and :func:`site_temperature_c`
    where nobody has measured there.

    Args:
        aircraft: The type.
        gross_lb: Gross weight, above 0.
        temperature_c: Outside temperature at the place.
        elevation_ft: Elevation of the place.
        altimeter_inhg: Altimeter setting.

    Returns:
        Margins, NaN where something is unknown or outside a table.

    Raises:
        ValueError: Names the impossible argument.
    """
    pressure = pressure_altitude_ft(elevation_ft, altimeter_inhg)
    density = density_altitude_ft(pressure, temperature_c)
    frame = frame_of(aircraft)
    gross, temperature = checked("gross_lb", gross_lb, above=0), checked("temperature_c", temperature_c)
    margins: list[Number] = []
    tables = ((aircraft.hover_in_ground_effect, frame.inside), (aircraft.hover_out_of_ground_effect, frame.outside))
    for table, grid in tables:
        altitude = np.asarray(pressure if table.altitude is AltitudeKind.pressure else density)
        parts = np.broadcast_arrays(gross, temperature, altitude)
        found = hover_rows(grid, *(np.ravel(part) for part in parts))
        margins += (plain(margin.reshape(parts[0].shape)) for margin in found)
    limits = {table.name: power_limit(table, pressure, temperature_c) for table in aircraft.power_tables}
    return PlacePerformance(pressure, density, margins[0], margins[1], margins[2], margins[3], limits)
