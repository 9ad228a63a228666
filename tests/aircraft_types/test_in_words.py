"""A type read aloud leaves no figure of its file out."""

from collections.abc import Iterator
from dataclasses import fields, is_dataclass, replace
from datetime import date
from enum import Enum

import pytest

from riskboard.aircraft_types import AircraftType
from riskboard.aircraft_types.in_words import type_in_words
from riskboard.aircraft_types.shipped import shipped_types
from tests.aircraft_types.samples import by_moment, good, other

TYPES = (*shipped_types(), good(), other(), by_moment())


def told(aircraft: AircraftType) -> str:
    """All of it on one line, numbers as a file writes them."""
    sections = type_in_words(aircraft)
    text = " ".join(" ".join((section.heading, *section.lines, *section.table)) for section in sections)
    return text.replace(",", "").replace("\N{MINUS SIGN}", "-")


def figures(value: object) -> Iterator[float]:
    """Every number anywhere in a type; sides and signs of arms are words when read aloud."""
    if is_dataclass(value):
        for field in fields(value):
            yield from figures(getattr(value, field.name))
    elif isinstance(value, tuple):
        for each in value:
            yield from figures(each)
    elif isinstance(value, int | float) and not isinstance(value, bool | Enum):
        yield float(value)


@pytest.mark.parametrize("aircraft", TYPES, ids=lambda each: each.id)
def test_every_figure_is_told(aircraft: AircraftType) -> None:
    words = {word.strip("().;:") for word in told(aircraft).split()}
    missing = {number for number in figures(aircraft) if f"{number:g}" not in words and f"{abs(number):g}" not in words}
    centre_line = {0.0}  # a lateral arm of 0 is "on the centre line", a least load of 0 is left out
    assert {number for number in missing if f"{number:.0f}" not in words} <= centre_line


@pytest.mark.parametrize("aircraft", TYPES, ids=lambda each: each.id)
def test_every_name_is_told(aircraft: AircraftType) -> None:
    text = told(aircraft)
    names = [station.name for station in aircraft.stations] + [piece.name for piece in aircraft.equipment]
    names += [tank.name for tank in aircraft.fuel.tanks] + [table.name for table in aircraft.power_tables]
    assert [name for name in names if f"({name})" not in text] == []
    upkeep = [entry.name for entry in (*aircraft.inspections, *aircraft.life_limits)]
    aboard = [item.name for item in aircraft.loose_equipment]
    assert [name for name in (*upkeep, *aboard) if name.replace(",", "") not in text] == []


def test_who_says_so_and_whether_it_is_invented() -> None:
    shown = type_in_words(good())[0]
    assert "Invented: no aircraft has these figures, and nobody may fly by them." in shown.lines
    real = replace(good(), invented=False)
    assert not any("Invented:" in line for line in type_in_words(real)[0].lines)
    assert date.fromisoformat(str(real.source.checked_on)).isoformat() in " ".join(shown.lines)


def test_a_limit_that_is_not_stated_is_said_so() -> None:
    bare = replace(good(), limits=replace(good().limits, wind_max_kt=None, crosswind_max_kt=None))
    lines = next(section.lines for section in type_in_words(bare) if section.heading == "Limits")
    assert "Wind, gusts included: no limit stated." in lines
    assert "Crosswind: no limit stated." in lines


def test_a_blank_cell_is_called_blank() -> None:
    tables = {section.heading: section.table for section in type_in_words(shipped_types()[0])}
    assert tables["Hover ceiling out of ground effect"][-1].split() == [
        "1,560",
        "lb",
        "8,500",
        "7,500",
        "6,500",
        "5,600",
        "4,600",
        "3,600",
        "blank",
    ]
