"""Worksheet files: the shape of the file, and where a problem stands."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from riskboard import yaml_source
from riskboard.worksheet import WorksheetError
from riskboard.worksheet.file import read_worksheet_file, read_worksheet_text

HEAD = "schema: riskboard-worksheet/1\n"


def where(text: str) -> list[str]:
    with pytest.raises(WorksheetError) as caught:
        read_worksheet_text(HEAD + text, name="w.yaml")
    return [f"{problem.where} {problem.field}" for problem in caught.value.problems]


def test_a_small_file() -> None:
    text = HEAD + "decided_at: 2026-05-04T08:30-06:00\nweather:\n  wind_kt: 5\n  gust_kt: none\n"
    sheet, decided_at = read_worksheet_text(text, name="w.yaml")
    assert (sheet.weather.wind_kt, sheet.weather.gust_kt) == (5, "none")
    assert decided_at == datetime(2026, 5, 4, 14, 30, tzinfo=UTC)


def test_the_moment_may_be_left_out() -> None:
    assert read_worksheet_text(HEAD + "weather: {wind_kt: 5}\n", name="w")[1] is None


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("weather:\n  wind_kt: 500\n", ["w.yaml:3:3 wind_kt"]),
        ("weather:\n  wind_ms: 500\n", ["w.yaml:3:3 wind_kt"]),
        ("weather:\n  wint_kt: 5\n", ["w.yaml:3:3 wint_kt"]),
        ("decided_at: soon\n", ["w.yaml:2:1 decided_at"]),
        ("pilot:\n  sleeps:\n    - {start_at: 2026-05-04T04:00Z}\n", ["w.yaml:4:7 sleeps"]),
        ("pilot:\n  sleeps:\n    - start_at: 2026-05-04T04:00Z\n      end_at: later\n", ["w.yaml:5:7 sleeps"]),
        ("clocks:\n  wind_kt: {true_at: 5}\n", ["w.yaml:3:13 wind_kt"]),
        ("weather:\n  temperature_c: 4\n  dew_point_c: 9\n", ["w.yaml:3:3 temperature_c"]),
        ("weather:\n  wind_kt: 5\n  wind_kt: 6\n", ["w.yaml:4:3 worksheet"]),
        ("weather: [\n", ["w.yaml:3:1 worksheet"]),
    ],
)
def test_problems_say_where_they_stand(text: str, expected: list[str]) -> None:
    assert where(text) == expected


def test_the_schema_is_needed() -> None:
    with pytest.raises(WorksheetError, match="the first line should be 'schema: riskboard-worksheet/1'"):
        read_worksheet_text("weather: {wind_kt: 5}\n", name="w.yaml")


def test_a_list_is_no_worksheet() -> None:
    with pytest.raises(WorksheetError, match=r"w\.yaml:1:1: a worksheet is a map"):
        read_worksheet_text("- a\n", name="w.yaml")


def test_a_file_is_read_by_its_name(tmp_path: Path) -> None:
    path = tmp_path / "sheet.yaml"
    path.write_text(HEAD + "weather:\n  wind_kt: 500\n", encoding="utf-8")
    with pytest.raises(WorksheetError, match=r"sheet\.yaml:3:3"):
        read_worksheet_file(path)


def test_a_huge_file_is_refused_without_being_read_whole(tmp_path: Path) -> None:
    path = tmp_path / "sheet.yaml"
    with path.open("wb") as stream:
        stream.truncate(yaml_source.MAX_BYTES * 1000)
    with pytest.raises(WorksheetError, match="at most"):
        read_worksheet_file(path)
