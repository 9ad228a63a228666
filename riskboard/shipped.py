"""Where the files that travel with riskboard are: beside the package in a wheel, in the checkout otherwise."""

from pathlib import Path

__all__ = ["AIRCRAFT_TYPE_NAMES", "POLICY_NAMES", "aircraft_type_files", "policy_files", "shipped"]

POLICY_NAMES = ("rotor_school_vfr.yaml", "student_solo.yaml")
"""Shipped policies, a policy before those that extend it."""
AIRCRAFT_TYPE_NAMES = ("tarnwick_2.yaml",)
"""Shipped aircraft types. Invented, and each says so."""


def shipped(folder: str) -> Path:
    """The folder ``policies`` or ``weather_samples``.

    Raises:
        FileNotFoundError: Neither place holds it; the installation is incomplete.
    """
    here = Path(__file__).resolve().parent
    for place in (here / "_shipped" / folder, here.parent / folder):
        if place.is_dir():
            return place
    raise FileNotFoundError(f"the folder {folder!r} is missing; install riskboard again")


def policy_files() -> list[tuple[str, str]]:
    """(file name, text) of each shipped policy."""
    folder = shipped("policies")
    return [(name, (folder / name).read_text(encoding="utf-8")) for name in POLICY_NAMES]


def aircraft_type_files() -> list[tuple[str, str]]:
    """(file name, text) of each shipped aircraft type."""
    folder = shipped("policies") / "aircraft_types"
    return [(name, (folder / name).read_text(encoding="utf-8")) for name in AIRCRAFT_TYPE_NAMES]
