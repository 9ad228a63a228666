"""The repeating entries of a worksheet: sleeps, landings, inspections, defects, equipment, loads, forecast lines."""

from datetime import datetime
from typing import Annotated, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, model_validator

from riskboard.words import DefectEffect, Difference, ItemState, LandingPeriod, LineKind, Precipitation
from riskboard.worksheet.kinds import Day, Flag, Instant, NoneAnswer, Note, Text, within

__all__ = [
    "Defect",
    "Differed",
    "FittedItem",
    "ForecastLine",
    "Inspection",
    "Item",
    "LandingEntry",
    "MitigationTaken",
    "Span",
    "StationLoad",
]


class _Entry(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False, str_strip_whitespace=True)


def _refuse_backward(start_at: datetime, end_at: datetime) -> None:
    if end_at <= start_at:
        raise ValueError(
            f"ends ({end_at:%Y-%m-%d %H:%MZ}) at or before it starts ({start_at:%Y-%m-%d %H:%MZ}); "
            "give the end after the start"
        )


class Span(_Entry):
    """A span of time, for a sleep or a block of flight instruction."""

    start_at: Instant
    end_at: Instant

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        _refuse_backward(self.start_at, self.end_at)
        return self


class LandingEntry(_Entry):
    """Take-offs and landings made on one day in a helicopter, as sole manipulator."""

    on: Day
    period: LandingPeriod
    takeoffs: Annotated[int, within(0, 200)]
    landings: Annotated[int, within(0, 200)]
    full_stop: Annotated[int, within(0, 200)]

    @model_validator(mode="after")
    def _full_stops_are_landings(self) -> Self:
        if self.full_stop > self.landings:
            raise ValueError(
                f"full_stop {self.full_stop} is more than landings {self.landings}; a full stop is one of the landings"
            )
        return self


class Inspection(_Entry):
    """One inspection or life limit, with what ends it: a day, a meter reading, or both.

    "none" is written where one of the two does not apply.
    """

    name: Text
    due_on: Day | NoneAnswer | None = None
    due_at_h: Annotated[float, within(0, 100_000)] | NoneAnswer | None = None


class Defect(_Entry):
    """One open defect and what it forbids.

    ``id`` tells it from another of the same words; one written before there were ids has none. ``deferred_by`` and
    ``reference`` say who deferred it and under which entry of the papers.
    """

    text: Note
    effect: DefectEffect | None = None
    reported_at: Instant | None = None
    deferred_until: Day | None = None
    id: Text | None = None
    deferred_by: Text | None = None
    reference: Text | None = None


class Item(_Entry):
    """One piece of loose equipment, or one thing the last user should have left in order."""

    name: Text
    state: ItemState | None = None
    required: Flag = True


class FittedItem(_Entry):
    """One piece of the type's optional equipment, by the name that the type file gives it, and whether it is fitted."""

    name: Text
    fitted: Flag | None = None


class StationLoad(_Entry):
    """What lies or sits on one seat or baggage place, by the name that the type file gives it. 0 is an empty seat."""

    station: Text
    load_lb: Annotated[float, within(0, 1000)] | None = None


class ForecastLine(_Entry):
    """One forecast line, decoded or typed: what holds between two instants.

    A blank quantity is not stated by the line.
    """

    start_at: Instant
    end_at: Instant
    kind: LineKind
    wind_kt: Annotated[float, within(0, 150)] | None = None
    gust_kt: Annotated[float, within(0, 200)] | NoneAnswer | None = None
    visibility_sm: Annotated[float, within(0, 100)] | None = None
    ceiling_ft_agl: Annotated[float, within(0, 60_000)] | NoneAnswer | None = None
    thunderstorm: Flag | None = None
    wind_from_deg: Annotated[float, within(0, 360)] | Literal["variable"] | None = None
    lowest_cloud_ft_agl: Annotated[float, within(0, 60_000)] | NoneAnswer | None = None
    temperature_c: Annotated[float, within(-60, 55)] | None = None
    dew_point_c: Annotated[float, within(-80, 40)] | None = None
    precipitation: Precipitation | None = None

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        _refuse_backward(self.start_at, self.end_at)
        return self


class MitigationTaken(_Entry):
    """A mitigation of the policy that somebody states is in place: which, by whom, and what exactly is done."""

    name: Annotated[str, Field(min_length=1, max_length=80)]
    by: Text
    done: Note


class Differed(_Entry):
    """One thing that was not as planned, told after the flight."""

    what: Difference
    said: Note | None = None
