"""The shipped samples are sound, complete where they say so, and agree with the texts pasted into them."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from riskboard.worksheet import FIELD_PART, clock_contradictions
from riskboard.worksheet.file import read_worksheet_file
from riskboard.worksheet.report import decode_report

SAMPLES = Path(__file__).parents[2] / "weather_samples"
SHEETS = sorted(path.name for path in SAMPLES.glob("*.yaml"))
TEXTS = sorted(path.name for path in SAMPLES.glob("*.txt"))
SEEN = datetime(2026, 5, 4, 20, 30, tzinfo=UTC)

BLANK = {"forgotten_entries.yaml": {"dew_point_c", "last_drink_at", "open_defects", "pasted_report"}}


def decoded_text(name: str) -> dict[str, object]:
    return decode_report((SAMPLES / name).read_text(encoding="utf-8"), seen_at=SEEN).entries()


@pytest.mark.parametrize("name", SHEETS)
def test_a_sample_worksheet_is_possible_at_its_moment(name: str) -> None:
    sheet, decided_at = read_worksheet_file(SAMPLES / name)
    assert decided_at is not None
    assert clock_contradictions(sheet, decided_at) == ()


@pytest.mark.parametrize("name", SHEETS)
def test_only_the_sample_about_blanks_has_blanks(name: str) -> None:
    sheet, _ = read_worksheet_file(SAMPLES / name)
    assert {field for field in FIELD_PART if sheet.value(field) is None} == BLANK.get(name, set())


@pytest.mark.parametrize("name", SHEETS)
def test_a_sample_says_what_it_shows_and_that_it_is_invented(name: str) -> None:
    first, *others = (SAMPLES / name).read_text(encoding="utf-8").splitlines()
    assert first.startswith("# ")
    assert len(first) > 40
    assert "# Invented school, people, places and codes." in others


@pytest.mark.parametrize("name", SHEETS)
def test_the_entries_are_what_the_pasted_texts_say(name: str) -> None:
    sheet, decided_at = read_worksheet_file(SAMPLES / name)
    assert decided_at is not None
    for text in (sheet.weather.pasted_report, sheet.weather.pasted_forecast):
        if text is not None:
            found = decode_report(text, seen_at=decided_at)
            wrong = {field: value for field, value in found.entries().items() if sheet.value(field) != value}
            assert wrong == {}
            assert len(found.fields) > 2


def test_the_readme_names_every_sample() -> None:
    text = (SAMPLES / "README.md").read_text(encoding="utf-8")
    named = {line.split("`")[1] for line in text.splitlines() if line.startswith("| `")}
    assert named == {*SHEETS, *TEXTS}
    assert len(named) >= 12


def test_the_calm_morning_is_known_for_48_hours_of_sleep() -> None:
    sheet, _ = read_worksheet_file(SAMPLES / "calm_morning.yaml")
    assert sheet.plan.take_off_at is not None
    sleeps = sheet.pilot.sleeps or ()
    assert min(sleep.start_at for sleep in sleeps) < sheet.plan.take_off_at - timedelta(hours=48)
    assert sum(((sleep.end_at - sleep.start_at) for sleep in sleeps[-2:]), timedelta()) >= timedelta(hours=16)


def test_the_calm_report() -> None:
    found = decoded_text("report_calm.txt")
    assert (found["wind_kt"], found["temperature_c"], found["dew_point_c"], found["ceiling_ft_agl"]) == (
        4,
        18.3,
        -2.8,
        "none",
    )


def test_the_automatic_report() -> None:
    found = decoded_text("report_gusty_automatic.txt")
    assert (found["wind_kt"], found["gust_kt"], found["wind_variable_to_deg"]) == (19, 31, 280)
    assert found["fog_or_mist"] is False


def test_the_mistyped_report_gives_only_what_is_certain() -> None:
    found = decoded_text("report_mistyped.txt")
    assert set(found) == {"observed_at", "visibility_sm", "precipitation", "fog_or_mist", "pasted_report"}


def test_the_forecast_of_the_front() -> None:
    found = decoded_text("forecast_front.txt")["forecast_lines"]
    assert isinstance(found, tuple)
    assert [line.ceiling_ft_agl for line in found] == ["none", 5000, 2000, 2000, 2000, "none", 2500]
    assert [line.wind_kt for line in found] == [8, 15, 15, 12, 12, 6, None]
