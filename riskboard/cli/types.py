"""``riskboard type``: check the file of an aircraft type, read it aloud, print its schema."""

import json
from argparse import Namespace
from pathlib import Path

from riskboard.aircraft_types import AircraftType, aircraft_type_json_schema
from riskboard.aircraft_types.in_words import type_in_words
from riskboard.cli.refusals import refusals
from riskboard.cli.status import Status
from riskboard.cli.text import say, say_json, wrapped
from riskboard.jobs.files import read_type_file

__all__ = ["check", "explain", "schema"]


def _read(options: Namespace) -> AircraftType:
    with refusals():
        return read_type_file(Path(options.file))


def check(options: Namespace) -> Status:
    """Check the file of a type; every problem is reported with its place."""
    aircraft = _read(options)
    invented = " Its figures are invented: no aircraft has them." if aircraft.invented else ""
    say(f"{aircraft.id} version {aircraft.version}, {aircraft.title}, is sound.{invented}")
    say(f"digest {aircraft.digest}")
    return Status.fine


def explain(options: Namespace) -> Status:
    """Say in plain words what the file of a type says."""
    for section in type_in_words(_read(options)):
        say(section.heading)
        for line in section.lines:
            say(wrapped(line, first="  ", rest="    "))
        for row in section.table:
            say(f"    {row}".rstrip())
        say()
    return Status.fine


def schema(_: Namespace) -> Status:
    """Print the JSON Schema of the files of aircraft types."""
    say_json(json.dumps(aircraft_type_json_schema(), indent=2, ensure_ascii=False))
    return Status.fine
