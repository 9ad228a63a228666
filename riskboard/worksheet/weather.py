"""Weather part: the observation, the route, and the forecast lines. Everything is typed or pasted, never fetched."""

from typing import Annotated, ClassVar, Literal

from riskboard.words import Group, Precipitation, Turbulence
from riskboard.worksheet.entries import ForecastLine
from riskboard.worksheet.fact import Part, fact
from riskboard.worksheet.kinds import Flag, Instant, NoneAnswer, Note, within

__all__ = ["Weather"]

_Degrees = Annotated[float, within(0, 360)]
_Visibility = Annotated[float, within(0, 100)]
_Height = Annotated[float, within(0, 60_000)]


class Weather(Part):
    """What the air is doing, when somebody saw it, and what it is expected to do."""

    group: ClassVar[Group] = Group.environment

    observed_at: Instant | None = fact("Observation time", why="Old weather is unknown weather.")
    station_distance_nm: Annotated[float, within(0, 500)] | None = fact(
        "Station is this far from departure", "NM", why="Weather elsewhere is not weather here.", step=1, resolution=0.1
    )
    wind_from_deg: _Degrees | Literal["variable"] | None = fact(
        "Wind from (true)", "°", why="Crosswind, tailwind and tail-rotor azimuths.", step=10
    )
    wind_variable_from_deg: _Degrees | NoneAnswer | None = fact(
        "Wind varies from", "°", why="The worst direction in the range counts.", step=10
    )
    wind_variable_to_deg: _Degrees | NoneAnswer | None = fact(
        "Wind varies to", "°", why="The worst direction in the range counts.", step=10
    )
    wind_kt: Annotated[float, within(0, 120)] | None = fact("Wind", "kt", why="Control margin and handling.", step=1)
    gust_kt: Annotated[float, within(0, 160)] | NoneAnswer | None = fact(
        "Gusts to", "kt", why="Gusts eat tail-rotor and power margin.", step=1
    )
    visibility_sm: _Visibility | None = fact(
        "Visibility", "SM", why="See and be seen; legal minima.", step=0.5, resolution=0.05
    )
    ceiling_ft_agl: _Height | NoneAnswer | None = fact(
        "Ceiling (lowest broken or overcast)", "ft AGL", why="Room under the cloud.", step=100, resolution=50
    )
    lowest_cloud_ft_agl: _Height | NoneAnswer | None = fact(
        "Lowest cloud of any amount", "ft AGL", why="Distance from cloud.", step=100, resolution=50
    )
    temperature_c: Annotated[float, within(-60, 55)] | None = fact(
        "Temperature", "°C", why="Density altitude and icing.", step=1, resolution=0.1
    )
    dew_point_c: Annotated[float, within(-80, 40)] | None = fact(
        "Dew point", "°C", why="Icing, fog and humidity.", step=1, resolution=0.1
    )
    altimeter_inhg: Annotated[float, within(26.0, 32.0)] | None = fact(
        "Altimeter setting", "inHg", why="Pressure altitude.", step=0.01
    )
    precipitation: Precipitation | None = fact("Precipitation", why="Visibility, and ice when cold.")
    freezing_precipitation: Flag | None = fact(
        "Freezing rain or drizzle, or ice pellets", why="Rotor blades carry no ice protection."
    )
    fog_or_mist: Flag | None = fact("Fog or mist reported", why="It can close a field in minutes.")
    thunderstorm_nm: Annotated[float, within(0, 300)] | NoneAnswer | None = fact(
        "Nearest thunderstorm", "NM", why="Gusts reach far ahead of the rain.", step=1, resolution=0.1
    )
    turbulence: Turbulence | None = fact("Turbulence reported or forecast", why="Low-G and rotor speed upsets.")
    route_visibility_sm: _Visibility | None = fact(
        "Worst visibility along the route", "SM", why="The worst part of the route decides.", step=0.5, resolution=0.05
    )
    route_ceiling_ft_agl: _Height | NoneAnswer | None = fact(
        "Worst ceiling along the route", "ft AGL", why="The worst part of the route decides.", step=100, resolution=50
    )
    forecast_issued_at: Instant | None = fact("Forecast issued at", why="An old forecast has been overtaken.")
    forecast_lines: tuple[ForecastLine, ...] | None = fact("Forecast", why="What comes next, not only what is.")
    pasted_report: Note | None = fact("Report as pasted", why="Kept so that the decoding can be checked.")
    pasted_forecast: Note | None = fact("Forecast as pasted", why="Kept so that the decoding can be checked.")
