"""The worksheet: five parts, frozen, every entry optional, contradictions refused."""

from collections.abc import Iterator, Mapping
from typing import Literal, Self

from pydantic import BaseModel, ConfigDict, Field, model_validator

from riskboard.worksheet.aircraft import Aircraft
from riskboard.worksheet.checks import contradictions
from riskboard.worksheet.fact import FactClock, FactInfo, Part
from riskboard.worksheet.pilot import Pilot
from riskboard.worksheet.plan import Plan
from riskboard.worksheet.pressures import Pressures
from riskboard.worksheet.weather import Weather

__all__ = ["FIELD_PART", "PARTS", "SCHEMA", "Worksheet", "facts"]

SCHEMA: Literal["riskboard-worksheet/1"] = "riskboard-worksheet/1"

PARTS: Mapping[str, type[Part]] = {
    "pilot": Pilot,
    "aircraft": Aircraft,
    "weather": Weather,
    "plan": Plan,
    "pressures": Pressures,
}

FIELD_PART: Mapping[str, str] = {name: part for part, model in PARTS.items() for name in model.model_fields}
"""Which part holds a field. Field names are unique over the whole worksheet, so a fact is named without its part."""


def facts() -> Iterator[tuple[str, str, FactInfo]]:
    """Every input as (part, field, description), in reading order."""
    for part, model in PARTS.items():
        for name, info in model.facts().items():
            yield part, name, info


class Worksheet(BaseModel):
    """What people entered about one proposed flight.

    Attributes:
        pilot: Who flies and in what state.
        aircraft: Which machine and in what state.
        weather: What the air does.
        plan: What is going to be done.
        pressures: What pulls toward going.
        clocks: For a field name, when that fact was true and when it was typed. A weather fact without an entry here
            was true at ``weather.observed_at``.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    format: Literal["riskboard-worksheet/1"] = SCHEMA
    pilot: Pilot = Pilot()
    aircraft: Aircraft = Aircraft()
    weather: Weather = Weather()
    plan: Plan = Plan()
    pressures: Pressures = Pressures()
    clocks: Mapping[str, FactClock] = Field(default_factory=dict)

    @model_validator(mode="after")
    def _consistent(self) -> Self:
        unknown = sorted(set(self.clocks) - set(FIELD_PART))
        if unknown:
            raise ValueError(f"clocks: no input is called {unknown[0]!r}")
        found = contradictions(self)
        if found:
            raise ValueError("\n".join(f"{problem.field}: {problem.message}" for problem in found))
        return self

    def value(self, field: str) -> object:
        """The entry called ``field``, whatever part holds it; None is unknown.

        Raises:
            KeyError: No input has that name.
        """
        return getattr(getattr(self, FIELD_PART[field]), field)

    def but(self, **changes: object) -> "Worksheet":
        """The same worksheet with some entries replaced (None blanks one), checked anew.

        Raises:
            KeyError: No input has that name.
            ValidationError: The changed worksheet is impossible.
        """
        parts = {name: dict(getattr(self, name)) for name in PARTS}
        for field, value in changes.items():
            parts[FIELD_PART[field]][field] = value
        return Worksheet.model_validate({**parts, "clocks": dict(self.clocks)})
