"""When a session ends."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from riskboard.people.sessions import CLOCK_SLACK, SessionRule, looks_like_token, made_token, token_hash

NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)
RULE = SessionRule()
MINUTE = timedelta(minutes=1)


def live(*, opened: timedelta = timedelta(), seen: timedelta, now: timedelta, ended: timedelta | None = None) -> bool:
    ended_at = None if ended is None else NOON + ended
    return RULE.is_live(NOON + opened, NOON + seen, ended_at, NOON + now)


def test_thirty_minutes_without_anything_done_end_it() -> None:
    assert live(seen=timedelta(), now=30 * MINUTE - timedelta(seconds=1))
    assert not live(seen=timedelta(), now=30 * MINUTE)


def test_twelve_hours_end_it_whatever_was_done() -> None:
    assert live(seen=719 * MINUTE, now=720 * MINUTE - timedelta(seconds=1))
    assert not live(seen=719 * MINUTE, now=720 * MINUTE)


def test_an_ended_session_never_counts_again() -> None:
    assert not live(seen=timedelta(), now=timedelta(), ended=timedelta())
    assert not live(seen=timedelta(), now=MINUTE, ended=10 * MINUTE)


def test_a_clock_set_back_ends_it_but_two_servers_may_differ_a_little() -> None:
    assert live(seen=timedelta(), now=-CLOCK_SLACK)
    assert not live(seen=timedelta(), now=-CLOCK_SLACK - timedelta(seconds=1))
    assert not live(opened=timedelta(), seen=-10 * MINUTE, now=-5 * MINUTE)


@pytest.mark.parametrize(
    ("stated", "idle"),
    [(5, 5), (1, 1), (720, 720), (7.5, 7.5), (0, 30), (721, 30), (None, 30), ("5", 30), (True, 30), (float("nan"), 30)],
)
def test_the_schools_own_idle_time_counts_where_it_makes_sense(stated: object, idle: float) -> None:
    assert SessionRule.of_school(stated).idle == idle * MINUTE


@given(st.integers(0, 43_200), st.integers(0, 43_200), st.integers(0, 50_000))
def test_more_activity_never_ends_a_session_sooner(seen: int, more: int, now: int) -> None:
    earlier, later = (timedelta(seconds=each) for each in sorted((seen, more)))
    at = timedelta(seconds=now)
    if at >= later:
        assert live(seen=later, now=at) or not live(seen=earlier, now=at)


def test_activity_is_written_down_twice_a_minute_at_most_and_never_backwards() -> None:
    assert not RULE.worth_marking(NOON, NOON + timedelta(seconds=29))
    assert RULE.worth_marking(NOON, NOON + timedelta(seconds=30))
    assert not RULE.worth_marking(NOON, NOON - MINUTE)
    assert SessionRule(idle=MINUTE).worth_marking(NOON, NOON + timedelta(seconds=6))


def test_tokens_are_long_random_and_kept_only_as_a_hash() -> None:
    tokens = {made_token() for _ in range(100)}
    assert len(tokens) == 100
    assert all(looks_like_token(token) for token in tokens)
    assert len({token_hash(token) for token in tokens}) == 100
    # FIPS 180-4, the standard's example for the three letters "abc"
    assert token_hash("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


@pytest.mark.parametrize("text", ["", "abc", "a" * 42, "a" * 44, "a" * 42 + "\n", "a" * 42 + "/", "é" * 43])
def test_other_texts_are_not_even_looked_up(text: str) -> None:
    assert not looks_like_token(text)
