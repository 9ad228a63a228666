"""Passphrases, login names and one-time codes, as a guesser and as a person in a hurry meet them."""

from datetime import UTC, datetime, timedelta
from typing import Literal

import argon2
import pytest
from hypothesis import given
from hypothesis import strategies as st

from riskboard.people import accounts
from riskboard.people.accounts import PASSPHRASE_BACKOFF, PassphraseRefusedError, refusal

QUICK = argon2.PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)
NAMES = {"the login name": "quillon", "the name": "Petra Quillon-Aas", "the name of the school": "Larkfield Rotors"}
GOOD = "seven herons at dusk"


@pytest.mark.parametrize(
    ("bad", "why"),
    [
        ("elevenchars", "at least 12"),
        ("", "at least 12"),
        ("x" * 257, "at most 256"),
        ("seven herons\x00at dusk", "control"),
        ("seven herons \ud800 dusk", "control"),
        ("my PETRA flies well", "the name"),
        ("my p.e.t.r.a flies well", "the name"),
        ("mine is quillon today", "the login name"),
        ("over larkfield at dusk", "the name of the school"),
        ("aaaabbbbccccdd", "different"),
        ("ab1ab1ab1ab1ab1", "different"),
        ("heron1heron1heron1", "repeats"),
        ("password1234", "guessed first"),
        ("Pass-Word 1234!", "guessed first"),
        ("correct horse battery staple", "guessed first"),
        ("qwertyuiop1234", "guessed first"),
        ("abcdefghijklmnop", "guessed first"),
        ("987654321098765", "guessed first"),
        ("iloveyou1234567", "guessed first"),
        ("helicopter pilot", "guessed first"),
    ],
)
def test_what_is_guessed_first_is_refused_without_being_repeated(bad: str, why: str) -> None:
    with pytest.raises(PassphraseRefusedError, match=why) as caught:
        accounts.set_passphrase(bad, NAMES, hasher=QUICK)
    assert not bad or bad not in str(caught.value)


@pytest.mark.parametrize(
    "good",
    [
        GOOD,
        "kettle orbit mossy lamp",
        "twelve chars",
        "lower case only words",
        "ジャイロコプターの夜間飛行",
        "38571 62094 81",
        " " * 6 + "spaces stay",
        "x9!" + "kT" * 5 + "w",
    ],
)
def test_length_is_enough_whatever_it_is_composed_of(good: str) -> None:
    """NIST SP 800-63B, memorised secrets (from memory): no composition rules; all printable characters and spaces."""
    kept = accounts.set_passphrase(good, NAMES, hasher=QUICK)
    assert kept.startswith("$argon2id$")
    assert good not in kept
    assert accounts.check_passphrase(good, kept, hasher=QUICK)
    assert kept != accounts.set_passphrase(good, NAMES, hasher=QUICK)


def test_the_same_words_typed_on_another_keyboard_fit() -> None:
    """NIST SP 800-63B (from memory): Unicode is normalised (NFKC or NFKD) before hashing."""
    kept = accounts.set_passphrase("gr\u00fcner reiher am see", {}, hasher=QUICK)
    assert accounts.check_passphrase("gru\u0308ner reiher am see", kept, hasher=QUICK)
    assert accounts.check_passphrase("gr\u00fcner\u00a0reiher am see", kept, hasher=QUICK)


@given(typed=st.text(max_size=40))
def test_any_other_text_is_wrong(typed: str) -> None:
    kept = accounts.set_passphrase(GOOD, {}, hasher=QUICK)
    assert accounts.check_passphrase(typed, kept, hasher=QUICK) == (accounts._tidy(typed) == GOOD)


@given(typed=st.text())
def test_a_refusal_never_holds_what_was_typed(typed: str) -> None:
    said = refusal(typed, NAMES)
    assert said is None or len(typed) < 5 or typed not in said


@pytest.mark.parametrize("kept", [None, "", "x", "$argon2id$v=19$m=8,t=1,p=1$short", "code|", "code|soon|x"])
def test_no_hash_or_a_damaged_one_lets_nobody_in(kept: str | None) -> None:
    assert not accounts.check_passphrase(GOOD, kept, hasher=QUICK)
    assert not accounts.check_code("ABCD", kept, NOON, hasher=QUICK)


def test_a_page_of_text_is_no_more_work_than_a_passphrase() -> None:
    kept = accounts.set_passphrase("y7" * 128, {}, hasher=QUICK) if refusal("y7" * 128, {}) is None else ""
    assert not accounts.check_passphrase(GOOD * 100_000, kept, hasher=QUICK)


def test_an_unknown_person_costs_one_hash_of_the_same_strength() -> None:
    used: list[str] = []

    class Counted(argon2.PasswordHasher):
        def verify(self, hash: str | bytes, password: str | bytes) -> Literal[True]:  # noqa: A002  - the library's name
            used.append(str(hash).rsplit("$", 2)[0])
            return super().verify(hash, password)

    hasher = Counted()
    known = accounts.set_passphrase(GOOD, {})
    accounts.check_passphrase("kettle orbit mossy lamp", known, hasher=hasher)
    accounts.check_passphrase("kettle orbit mossy lamp", None, hasher=hasher)
    assert len(used) == 2
    assert used[0] == used[1]


def test_five_wrong_ones_are_free_and_then_the_wait_grows_to_a_quarter_of_an_hour() -> None:
    """Five free, 5 s doubled: 5, 10, 20, 40, 80, 160, 320, 640, then 900 s for ever."""
    waits = [accounts.wait_after(failures, NOON, NOON).total_seconds() for failures in range(16)]
    assert waits == [0, 0, 0, 0, 0, 5, 10, 20, 40, 80, 160, 320, 640, 900, 900, 900]
    assert accounts.wait_after(10**9, NOON, NOON) == timedelta(minutes=15)
    assert not accounts.may_try(6, NOON, NOON + timedelta(seconds=9))
    assert accounts.may_try(6, NOON, NOON + timedelta(seconds=10))


def test_a_clock_set_back_shortens_no_wait() -> None:
    assert PASSPHRASE_BACKOFF.wait(6, NOON, NOON - timedelta(days=1)) == timedelta(seconds=10)


@pytest.mark.parametrize(
    ("typed", "kept"), [(" Mara ", "mara"), ("\uff2dara.O-1", "mara.o-1"), ("Ægir", "ægir"), ("a1", "a1")]
)
def test_login_names_are_kept_folded(typed: str, kept: str) -> None:
    assert accounts.check_login_name(typed) == kept


@pytest.mark.parametrize(
    "typed",
    ["", "a", "two words", ".dot", "dot.", "a/b", "a@b", "x" * 41, "a\nb", "<b>", "a\u202eb", "-a"],
)
def test_other_login_names_are_refused_with_what_is_right(typed: str) -> None:
    with pytest.raises(accounts.LoginNameRefusedError, match="2 to 40"):
        accounts.check_login_name(typed)


@pytest.mark.parametrize(("name", "login"), [("Mara Oduya", "mara"), ("Élodie", "élodie"), ("(x)", ""), ("", "")])
def test_a_login_name_is_suggested_from_a_name(name: str, login: str) -> None:
    assert accounts.suggested_login_name(name) == login


def test_a_one_time_code_is_no_passphrase_and_ends() -> None:
    code = accounts.made_code()
    until = NOON + accounts.CODE_LASTS
    kept = accounts.code_hash(code, until=until, hasher=QUICK)
    assert code not in kept
    assert accounts.awaits_code(kept)
    assert not accounts.check_passphrase(code, kept, hasher=QUICK)
    assert accounts.check_code(code, kept, NOON, hasher=QUICK)
    assert accounts.check_code(f" {code.lower().replace('-', ' ')} ", kept, until, hasher=QUICK)
    assert not accounts.check_code(code, kept, until + timedelta(seconds=1), hasher=QUICK)
    assert not accounts.check_code(accounts.made_code(), kept, NOON, hasher=QUICK)
    assert not accounts.check_code("", kept, NOON, hasher=QUICK)
    assert not accounts.check_code(code, accounts.set_passphrase(GOOD, {}, hasher=QUICK), NOON, hasher=QUICK)


def test_codes_differ_and_hold_nothing_that_reads_alike() -> None:
    made = {accounts.made_code() for _ in range(200)}
    assert len(made) == 200
    assert not set("".join(made)) & set("01OIL")
