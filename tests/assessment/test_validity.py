"""What ends a yes, one thing at a time."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from riskboard.assessment.validity import ChangedFact, Ground, News, void_reasons
from riskboard.words import Decision

AT = datetime(2026, 5, 4, 15, 0, tzinfo=UTC)
GROUND = Ground(
    AT + timedelta(minutes=30), Decision.go_with_sign_off, "tolerable", "digest", AT - timedelta(minutes=20)
)
QUIET = News((), None, "digest", Decision.go_with_sign_off, "tolerable")


def test_a_yes_holds_to_its_last_moment_while_nothing_happens() -> None:
    assert void_reasons(GROUND, QUIET, AT, "UTC") == ()
    assert GROUND.valid_until is not None
    assert void_reasons(GROUND, QUIET, GROUND.valid_until, "UTC") == ()
    assert void_reasons(GROUND, QUIET, GROUND.valid_until + timedelta(microseconds=1), "UTC") != ()


@pytest.mark.parametrize(
    ("news", "said"),
    [
        (replace(QUIET, changed=(ChangedFact("Aircraft LRS-01: open defects", AT),)), "open defects changed at 15:00"),
        (replace(QUIET, observed_at=AT - timedelta(minutes=19)), "newer observation"),
        (replace(QUIET, policy_digest="other"), "Another policy"),
        (replace(QUIET, policy_digest=None), "No policy"),
        (replace(QUIET, decision=None, problem="The medical ended."), "medical ended"),
        (replace(QUIET, decision=Decision.no_go, level="intolerable"), "no-go now"),
        (replace(QUIET, level="high"), "level high now"),
    ],
)
def test_each_piece_of_news_ends_it(news: News, said: str) -> None:
    (sentence,) = void_reasons(GROUND, news, AT, "UTC")
    assert said in sentence


@pytest.mark.parametrize(
    "news",
    [
        replace(QUIET, observed_at=GROUND.observed_at),
        replace(QUIET, decision=Decision.go, level="acceptable"),
    ],
)
def test_what_is_no_news_or_good_news_does_not(news: News) -> None:
    assert void_reasons(GROUND, news, AT, "UTC") == ()


def test_a_yes_without_a_readable_end_never_holds() -> None:
    assert void_reasons(replace(GROUND, valid_until=None), QUIET, AT, "UTC") != ()


def test_weather_without_a_time_is_older_than_any_observation() -> None:
    assert void_reasons(replace(GROUND, observed_at=None), replace(QUIET, observed_at=AT), AT, "UTC") != ()


def test_a_moment_needs_a_zone() -> None:
    with pytest.raises(ValueError, match="time zone"):
        void_reasons(GROUND, QUIET, AT.replace(tzinfo=None), "UTC")
