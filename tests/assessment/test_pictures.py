"""The rows behind the charts, against the sources of the measures they picture."""

from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path

import pytest
import yaml

from riskboard.aircraft_types.shipped import shipped_types
from riskboard.assessment.assess import assess
from riskboard.assessment.facts import prepare
from riskboard.assessment.pictures import alertness_rows, day_rows, group_rows, icing_point, icing_rows, missing
from riskboard.jobs.files import shipped_book
from riskboard.shipped import shipped
from riskboard.worksheet import Worksheet
from riskboard.worksheet.file import read_worksheet_file

REFERENCE = Path(__file__).parents[1] / "reference"


@pytest.fixture(scope="module")
def calm() -> tuple[Worksheet, datetime]:
    sheet, at = read_worksheet_file(shipped("weather_samples") / "calm_morning.yaml")
    assert at is not None
    return sheet, at


def test_groups_are_those_of_the_assessment_with_their_ceilings(calm: tuple[Worksheet, datetime]) -> None:
    policy = shipped_book().in_force("rotor-school-vfr", calm[1])
    found = assess(calm[0], prepare(policy, shipped_types()), calm[1])
    rows = group_rows(found)
    assert {row["group"]: row["points"] for row in rows} == {
        group.value: points for group, points in found.groups.items()
    }
    assert {row["group"]: row["ceiling"] for row in rows} == {c.group.value: c.up_to for c in policy.group_ceilings}


def test_the_icing_bands_hold_every_published_inner_point() -> None:
    """EGAST GA5 chart, tests/reference/carb_icing.yaml: an inner point of a zone lies in a band of at least that zone.

    The picture shows the more cautious of two charts, so a point may lie in a worse zone, never in a better one.
    """
    bands = icing_rows()
    zones = yaml.safe_load((REFERENCE / "carb_icing.yaml").read_text(encoding="utf-8"))["zones"]
    for zone in zones:
        outline = zone["polygon_temperature_dewpoint_c"]
        temperature_c = round(sum(corner[0] for corner in outline) / len(outline))
        lows = [d for (t0, d), (t1, _) in pairwise(outline) if min(t0, t1) <= temperature_c <= max(t0, t1)]
        dew_point_c = (min(lows) + temperature_c) / 2
        covering = [
            row["code"]
            for row in bands
            if row["temperature_c"] == temperature_c
            and row["dew_point_low_c"] <= dew_point_c <= row["dew_point_high_c"]
        ]
        assert max(covering) >= zone["code"]


def test_the_icing_point_names_its_zone() -> None:
    """11 °C and 5 °C: serious at any power (AAIB report as quoted in tests/reference/carb_icing.yaml, carb-stmt-01)."""
    sheet = Worksheet().but(temperature_c=11.0, dew_point_c=5.0)
    point = icing_point(sheet)
    assert point is not None
    assert point.zone == "serious, any power"
    assert icing_point(Worksheet()) is None


def test_the_light_of_the_day_has_the_reference_events() -> None:
    """Skyfield with JPL DE421, tests/reference/atmosphere.yaml, sun_events: high desert on 2026-07-04, within 90 s."""
    take_off_at = datetime(2026, 7, 4, 16, tzinfo=UTC)
    sheet = Worksheet().but(
        departure_latitude_deg=35.1,
        departure_longitude_deg=-106.6,
        time_zone="America/Denver",
        take_off_at=take_off_at,
        landing_at=take_off_at + timedelta(hours=1),
    )
    light = [row for row in day_rows(sheet) if row["strip"] == "light"]
    assert [row["what"] for row in light] == ["night", "twilight", "day", "twilight", "night"]
    expected = [
        datetime(2026, 7, 4, 11, 27, 46, tzinfo=UTC),
        datetime(2026, 7, 4, 11, 57, 19, tzinfo=UTC),
        datetime(2026, 7, 5, 2, 24, 17, tzinfo=UTC),
        datetime(2026, 7, 5, 2, 53, 48, tzinfo=UTC),
    ]
    for (before, after), event in zip(pairwise(light), expected, strict=True):
        assert before["end"] == after["start"]
        assert abs(before["end"] - event) < timedelta(seconds=90)


def test_alertness_is_the_measure_of_the_same_name(calm: tuple[Worksheet, datetime]) -> None:
    """The worst value in flight is the measure, within what lies between two ten-minute steps."""
    policy = shipped_book().in_force("rotor-school-vfr", calm[1])
    found = assess(calm[0], prepare(policy, shipped_types()), calm[1])
    flying = [row["sleepiness_kss"] for row in alertness_rows(calm[0]) if row["flying"]]
    measured = found.measures["modelled_sleepiness_kss"]
    assert measured is not None
    assert abs(max(flying) - measured) < 0.1


@pytest.mark.parametrize("picture", ["icing", "alertness", "day"])
def test_a_picture_without_its_facts_says_which_are_missing(picture: str) -> None:
    blank = missing(picture, Worksheet())
    assert blank
    assert alertness_rows(Worksheet()) == day_rows(Worksheet()) == []
