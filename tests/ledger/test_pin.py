from datetime import timedelta
from typing import Any

import argon2
import pytest
from hypothesis import given
from hypothesis import strategies as st

from riskboard.people import pin
from tests.ledger.made_logs import NOON

QUICK = argon2.PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)


@pytest.mark.parametrize(
    "bad",
    [
        *("", "123", "123456789", "12a4", " 5829", "५८२९", "5829\n"),
        *(
            "0000",
            "99999999",
            "1234",
            "4321",
            "7890",
            "0987",
            "2468",
            "1357",
            "1212",
            "123123",
            "58295829",
            "1987",
            "2026",
        ),
    ],
)
def test_pins_that_are_no_pins_or_guessed_first_are_refused_without_being_repeated(bad: str) -> None:
    with pytest.raises(pin.PinRefusedError) as caught:
        pin.set_pin(bad, hasher=QUICK)
    assert not bad or bad not in str(caught.value)


@pytest.mark.parametrize("good", ["5829", "58291", "58290374", "1899", "2100", "1213", "01987"])
def test_other_pins_of_four_to_eight_digits_are_taken(good: str) -> None:
    kept = pin.set_pin(good, hasher=QUICK)
    assert good not in kept
    assert kept.startswith("$argon2id$")
    assert pin.check_pin(good, kept, hasher=QUICK)
    assert kept != pin.set_pin(good, hasher=QUICK)


@pytest.mark.parametrize("typed", ["5828", "", "582", "58290", "5829 ", "५८२९", "\ud800", "5829\x00", "5829" * 100_000])
def test_other_pins_are_wrong(typed: str) -> None:
    assert not pin.check_pin(typed, pin.set_pin("5829", hasher=QUICK), hasher=QUICK)


def test_a_longer_text_that_starts_with_the_pin_is_wrong() -> None:
    assert not pin.check_pin("582903741", pin.set_pin("58290374", hasher=QUICK), hasher=QUICK)


@pytest.mark.parametrize("damaged", ["", "x", "$argon2id$v=19$m=8,t=1,p=1$short"])
def test_a_damaged_hash_lets_nobody_in(damaged: str) -> None:
    assert not pin.check_pin("5829", damaged, hasher=QUICK)


class Watched:
    """Stands for the hasher and notes what it is asked to do."""

    def __init__(self) -> None:
        self.verified: list[str] = []

    def verify(self, pin_hash: str, typed: str) -> bool:
        self.verified.append(pin_hash)
        return QUICK.verify(pin_hash, typed)


def test_an_unknown_person_costs_the_same_work_as_a_known_one() -> None:
    watched: Any = Watched()
    assert not pin.check_pin("5829", None, hasher=watched)
    (used,) = watched.verified
    assert argon2.extract_parameters(used) == argon2.extract_parameters(pin.set_pin("5829"))


def test_nobody_gets_in_as_an_unknown_person_even_if_the_pin_fitted() -> None:
    class Yes:
        def verify(self, _pin_hash: str, _typed: str) -> bool:
            return True

    yes: Any = Yes()
    assert not pin.check_pin("5829", None, hasher=yes)


def test_the_parameters_are_those_of_the_standard() -> None:
    # RFC 9106, section 4, second recommended option: argon2id, t=3, p=4, m=2^16 KiB, 128-bit salt, 256-bit tag.
    used = argon2.extract_parameters(pin.set_pin("5829"))
    assert (used.type, used.time_cost, used.parallelism, used.memory_cost) == (argon2.Type.ID, 3, 4, 2**16)
    assert (used.salt_len, used.hash_len) == (16, 32)


def test_a_hash_under_other_parameters_is_to_be_made_anew() -> None:
    assert pin.needs_rehash(pin.set_pin("5829", hasher=QUICK))
    assert not pin.needs_rehash(pin.set_pin("5829"))


@pytest.mark.parametrize(
    ("failures", "seconds"),
    # By hand: three free, then 15 s doubled each time, at most an hour.
    [(0, 0), (1, 0), (2, 0), (3, 15), (4, 30), (5, 60), (10, 1920), (11, 3600), (12, 3600), (10_000, 3600)],
)
def test_the_wait_doubles_up_to_an_hour(failures: int, seconds: int) -> None:
    last = NOON if failures else None
    assert pin.wait_after(failures, last, NOON) == timedelta(seconds=seconds)


def test_the_wait_runs_down_and_the_bound_is_free() -> None:
    assert pin.wait_after(4, NOON, NOON + timedelta(seconds=10)) == timedelta(seconds=20)
    assert not pin.may_try(4, NOON, NOON + timedelta(seconds=29.9))
    assert pin.may_try(4, NOON, NOON + timedelta(seconds=30))


def test_a_clock_set_back_does_not_shorten_the_wait() -> None:
    assert pin.wait_after(4, NOON, NOON - timedelta(days=1)) == timedelta(seconds=30)


@given(st.integers(0, 60), st.integers(0, 7200))
def test_more_failures_never_wait_less(failures: int, seconds: int) -> None:
    now = NOON + timedelta(seconds=seconds)
    assert pin.wait_after(failures + 1, NOON, now) >= pin.wait_after(failures, NOON, now)


def test_impossible_counts_are_refused() -> None:
    with pytest.raises(ValueError, match="0 or more"):
        pin.wait_after(-1, None, NOON)
    with pytest.raises(ValueError, match="give the time"):
        pin.wait_after(1, None, NOON)
