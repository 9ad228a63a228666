"""Which entries keep loading, performance or a limit of the type unknown: named down to the seat or the piece.

All of what a column rests on is needed at once (``worksheet/columns.py``), so nothing has to be tried out.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import cache
from typing import NamedTuple

import numpy as np

from riskboard.aircraft_types.model import AircraftType, LateralAgainst
from riskboard.assessment.airframe import airframe_columns
from riskboard.measures.registry import MEASURES
from riskboard.worksheet.columns import AIRFRAME
from riskboard.worksheet.model import Worksheet

__all__ = ["Missing", "fields_of", "missing_for"]


class Missing(NamedTuple):
    """Something that is not known.

    Attributes:
        field: The entry in which it belongs.
        said: What a person reads: "“Left seat” is blank".
    """

    field: str
    said: str


def fields_of(missing: Sequence[Missing]) -> tuple[str, ...]:
    """The entries, each once."""
    return tuple(dict.fromkeys(each.field for each in missing))


@cache
def _columns_behind(measure: str) -> frozenset[str]:
    if measure in AIRFRAME:
        return frozenset({measure})
    entry = MEASURES.get(measure)
    return (
        frozenset().union(*(_columns_behind(need) for need in entry.rests_on or entry.needs))
        if entry is not None
        else frozenset()
    )


def missing_for(
    measures: Sequence[str], sheet: Worksheet, types: Mapping[str, AircraftType], said_of: Callable[[str], str]
) -> tuple[Missing, ...]:
    """What keeps measures unknown that rest on the type of the aircraft.

    Args:
        measures: Measures that are unknown.
        sheet: The worksheet, with what is too old to count left blank.
        types: Aircraft types by title.
        said_of: What is said of an entry that is blank, by its name.

    Returns:
        Each thing once; nothing where every entry is there and the type's tables still have no answer.
    """
    behind = frozenset().union(*(_columns_behind(measure) for measure in measures))
    title = sheet.aircraft.type_name
    if title is None:
        return (Missing("type_name", said_of("type_name")),) if behind else ()
    aircraft = types.get(title)
    if aircraft is None:
        return (Missing("type_name", f"no aircraft type called “{title}” is on file"),) if behind else ()
    columns = airframe_columns([sheet], types)
    unknown = [name for name in AIRFRAME if name in behind and np.isnan(columns[name][0])]
    fields = dict.fromkeys(field for name in unknown for field in _entries_behind(name, aircraft))
    found = [each for field in fields for each in _of_entry(field, sheet, aircraft, said_of)]
    if unknown and not found:
        found = list(_beyond(unknown, sheet, aircraft))
    return tuple(dict.fromkeys(found))


def _entries_behind(column: str, aircraft: AircraftType) -> Iterator[str]:
    """The entries a column needs with this type: a lateral envelope drawn against weight asks no more."""
    against_weight = all(each.lateral_against is LateralAgainst.gross_weight for each in aircraft.envelopes)
    for field in AIRFRAME[column]:
        if not (column == "loaded_lateral_in" and field == "empty_longitudinal_moment_in_lb" and against_weight):
            yield field


def _of_entry(field: str, sheet: Worksheet, aircraft: AircraftType, said_of: Callable[[str], str]) -> Iterator[Missing]:
    if sheet.value(field) is None:
        yield Missing(field, said_of(field))
    elif field == "station_loads":
        given = {entry.station: entry.load_lb for entry in sheet.plan.station_loads or ()}
        for station in aircraft.stations:
            if given.get(station.name) is None:
                yield Missing(field, f"the load on “{station.label}” is blank")
    elif field == "equipment_fitted":
        fitted = {entry.name: entry.fitted for entry in sheet.aircraft.equipment_fitted or ()}
        for piece in aircraft.equipment:
            if fitted.get(piece.name) is None:
                yield Missing(field, f"whether “{piece.label}” is fitted is blank")


def _beyond(unknown: Sequence[str], sheet: Worksheet, aircraft: AircraftType) -> Iterator[Missing]:
    """Every entry is there, and still there is no answer."""
    usable, taxi = sheet.aircraft.fuel_usable_gal, sheet.aircraft.start_and_taxi_gal
    if usable is not None and taxi is not None and usable < taxi:
        yield Missing("fuel_usable_gal", "start and taxi need more than the usable fuel")
    elif all(name.startswith("hover_") for name in unknown):
        yield Missing(
            "type_name", f"the hover table of the {aircraft.title} has no value for this weight and temperature"
        )
