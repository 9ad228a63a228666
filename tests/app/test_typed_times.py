"""Times as typed at a desk."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from riskboard.worksheet.typed_times import TypedTimeError, moment_from_text, quarter_hours, sleeps_from_text

DENVER = ZoneInfo("America/Denver")
AT = datetime(2026, 5, 4, 16, tzinfo=UTC)  # 10:00 in Denver, six hours behind


@pytest.mark.parametrize("typed", ["22:30-06:30, 23:00-07:00", "2230-630; 23-7", "22.30 to 6:30 and 23 until 7"])
def test_two_nights_the_latest_first(typed: str) -> None:
    assert sleeps_from_text(typed, at=AT, zone=DENVER) == [
        {"start_at": "2026-05-04T04:30:00Z", "end_at": "2026-05-04T12:30:00Z"},
        {"start_at": "2026-05-03T05:00:00Z", "end_at": "2026-05-03T13:00:00Z"},
    ]


def test_a_nap_today_comes_before_last_night() -> None:
    spans = sleeps_from_text("9:00-9:30, 22-6", at=AT, zone=DENVER)
    assert spans[0] == {"start_at": "2026-05-04T15:00:00Z", "end_at": "2026-05-04T15:30:00Z"}
    assert spans[1] == {"start_at": "2026-05-04T04:00:00Z", "end_at": "2026-05-04T12:00:00Z"}


def test_no_sleep_is_an_answer() -> None:
    assert sleeps_from_text(" None ", at=AT, zone=DENVER) == []


def test_the_night_of_the_clock_change_is_an_hour_shorter() -> None:
    """Clocks in Denver went from 02:00 to 03:00 on 2026-03-08 (second Sunday of March, 15 USC 260a)."""
    at = datetime(2026, 3, 8, 16, tzinfo=UTC)
    (span,) = sleeps_from_text("22:00-06:00", at=at, zone=DENVER)
    assert span == {"start_at": "2026-03-08T05:00:00Z", "end_at": "2026-03-08T12:00:00Z"}


@pytest.mark.parametrize("typed", ["", "22:30", "25-7", "22:61-7", "soon", "22-6," * 9])
def test_what_is_no_span_says_what_would_be(typed: str) -> None:
    with pytest.raises(TypedTimeError, match="22:30"):
        sleeps_from_text(typed, at=AT, zone=DENVER)


@pytest.mark.parametrize(
    ("typed", "ahead", "moment"),
    [
        ("9:30", False, "2026-05-04T15:30"),
        ("23:00", False, "2026-05-04T05:00"),
        ("23:00", True, "2026-05-05T05:00"),
        ("0930", True, "2026-05-05T15:30"),
        ("2026-05-02 07:15", False, "2026-05-02T13:15"),
    ],
)
def test_a_time_without_a_date_is_the_nearest_on_its_side(typed: str, ahead: bool, moment: str) -> None:
    assert moment_from_text(typed, at=AT, zone=DENVER, ahead=ahead) == datetime.fromisoformat(f"{moment}:00+00:00")


@pytest.mark.parametrize("typed", ["half past nine", "24:00", "2026-02-30 10:00", "10:00Z"])
def test_no_time_is_refused(typed: str) -> None:
    with pytest.raises(TypedTimeError, match="such as"):
        moment_from_text(typed, at=AT, zone=DENVER, ahead=True)


def test_quarter_hours_begin_after_now() -> None:
    found = [f"{moment:%H:%M}" for moment in quarter_hours(AT.replace(minute=14), DENVER, 3)]
    assert found == ["10:15", "10:30", "10:45"]
    assert f"{quarter_hours(AT, DENVER, 1)[0]:%H:%M}" == "10:15"
