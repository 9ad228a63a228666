"""Coming in and going out, called as somebody at the door would who means no good."""

from dataclasses import replace
from datetime import timedelta

import pytest

from riskboard import demo, jobs
from riskboard.ledger import SessionRecord
from riskboard.people.sessions import token_hash
from tests.people.conftest import ADMINISTRATOR, DISPATCHER, INSTRUCTOR, NOW, House

WRONG = "do not fit"


def test_the_right_words_let_in_and_the_store_holds_no_token(house: House) -> None:
    token = jobs.sign_in(house.office, " MARA ", demo.DEMO_PASSPHRASE, at=house.now)
    found = jobs.caller(house.office, token, at=house.now)
    assert found == jobs.Caller(INSTRUCTOR, "Mara Oduya", token_hash(token))
    assert house.office.store.places_holding(token) == []


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("mara", "seven herons at dawn"),
        ("mara", ""),
        ("mara", demo.DEMO_PASSPHRASE + " "),
        ("mara", demo.DEMO_PIN),
        ("nobody", demo.DEMO_PASSPHRASE),
        ("", demo.DEMO_PASSPHRASE),
        ("' OR 1=1 --", demo.DEMO_PASSPHRASE),
        ("mara\x00", demo.DEMO_PASSPHRASE),
        ("x" * 10_000, "y" * 10_000),
        ("mara-oduya", demo.DEMO_PASSPHRASE),
    ],
)
def test_anything_else_lets_nobody_in_and_says_the_same(house: House, name: str, words: str) -> None:
    with pytest.raises(jobs.NotLetInError, match=WRONG) as caught:
        jobs.sign_in(house.office, name, words, at=house.now)
    assert not words or words not in str(caught.value)


def test_guessing_is_slowed_for_the_right_words_too_and_only_for_this_person(house: House) -> None:
    said = []
    for guess in range(8):
        with pytest.raises(jobs.NotLetInError) as caught:
            jobs.sign_in(house.office, "mara", f"guess number {guess}", at=house.now)
        said.append("Too many" in str(caught.value))
    assert said == [False] * 5 + [True] * 3
    with pytest.raises(jobs.NotLetInError, match=r"Too many wrong tries for this name\. Wait 6 s"):
        jobs.sign_in(house.office, "mara", demo.DEMO_PASSPHRASE, at=house.now)
    assert jobs.sign_in(house.office, "tobin", demo.DEMO_PASSPHRASE, at=house.now)
    house.later(seconds=5)
    assert jobs.sign_in(house.office, "mara", demo.DEMO_PASSPHRASE, at=house.now)
    house.later(seconds=1)
    with pytest.raises(jobs.NotLetInError, match=WRONG):
        jobs.sign_in(house.office, "mara", "guess again please", at=house.now)


def test_a_clock_set_back_does_not_shorten_the_wait(house: House) -> None:
    for _ in range(6):
        with pytest.raises(jobs.NotLetInError):
            jobs.sign_in(house.office, "mara", "wrong words again", at=house.now)
    with pytest.raises(jobs.NotLetInError, match="Too many"):
        jobs.sign_in(house.office, "mara", demo.DEMO_PASSPHRASE, at=house.now - timedelta(days=2))


@pytest.mark.parametrize("token", ["", "x", "a" * 43, "a" * 44, "a" * 42 + "'", "é" * 43])
def test_a_token_that_was_never_given_is_nobody(house: House, token: str) -> None:
    assert jobs.caller(house.office, token, at=house.now) is None


def test_the_stored_hash_is_no_token(house: House) -> None:
    token = house.token(INSTRUCTOR)
    assert jobs.caller(house.office, token_hash(token)[:43], at=house.now) is None


def test_a_session_ends_after_idling_and_activity_keeps_it_until_the_day_is_over(house: House) -> None:
    token = house.token(INSTRUCTOR)
    for _ in range(24):  # 25 minutes at a time, ten hours
        house.later(minutes=25)
        assert jobs.caller(house.office, token, at=house.now) is not None
    assert jobs.caller(house.office, token, at=house.later(minutes=30)) is None
    again = house.token(INSTRUCTOR)
    for _ in range(28):
        assert jobs.caller(house.office, again, at=house.later(minutes=25)) is not None
    assert jobs.caller(house.office, again, at=house.later(minutes=20)) is None


def test_looking_is_no_activity(house: House) -> None:
    token = house.token(INSTRUCTOR)
    for _ in range(5):
        assert jobs.caller(house.office, token, at=house.later(minutes=5), touch=False) is not None
    assert jobs.caller(house.office, token, at=house.later(minutes=5), touch=False) is None


def test_what_has_ended_stays_ended_when_the_clock_is_set_back(house: House) -> None:
    token = house.token(INSTRUCTOR)
    assert jobs.caller(house.office, token, at=NOW + timedelta(minutes=31), touch=False) is None
    assert jobs.caller(house.office, token, at=NOW + timedelta(minutes=1)) is None


def test_the_schools_own_idle_time_counts(house: House) -> None:
    house.office.store.put_document("school", "school", '{"name": "x", "idle_min": 5}', at=house.now)
    token = house.token(INSTRUCTOR)
    assert jobs.caller(house.office, token, at=house.later(minutes=4), touch=False) is not None
    assert jobs.caller(house.office, token, at=house.later(minutes=1), touch=False) is None


def test_leaving_ends_this_session_and_no_other(house: House) -> None:
    here, there = house.token(INSTRUCTOR), house.token(INSTRUCTOR)
    jobs.sign_out(house.office, here, at=house.now)
    jobs.sign_out(house.office, "no such token", at=house.now)
    assert jobs.caller(house.office, here, at=house.now) is None
    assert jobs.caller(house.office, there, at=house.now) is not None


def test_a_caller_that_was_made_up_or_has_left_gets_no_further(house: House) -> None:
    token = house.token(INSTRUCTOR)
    mara = jobs.caller(house.office, token, at=house.now)
    assert mara is not None
    jobs.check_caller(house.office, mara, at=house.now)
    for made_up in (replace(mara, person_id=ADMINISTRATOR), replace(mara, token_hash="0" * 64)):
        with pytest.raises(jobs.NotLetInError, match="not signed in"):
            jobs.check_caller(house.office, made_up, at=house.now)
    jobs.sign_out(house.office, token, at=house.now)
    with pytest.raises(jobs.NotLetInError, match="not signed in"):
        jobs.check_caller(house.office, mara, at=house.now)


def link(
    house: House, person_id: str = INSTRUCTOR, issuer: str = "https://id.invented.example", subject: str = "s-17"
) -> None:
    edda = house.caller(ADMINISTRATOR)
    jobs.link_identity(house.office, edda, person_id, issuer, subject, house.signature(), at=house.now)


def test_an_outside_identity_enters_only_where_it_was_linked(house: House) -> None:
    link(house)
    with pytest.raises(jobs.NotLetInError, match="knows nobody by that identity"):
        jobs.enter_by_identity(house.office, "https://id.invented.example", "s-18", at=house.now)
    with pytest.raises(jobs.NotLetInError, match="knows nobody"):
        jobs.enter_by_identity(house.office, "https://other.invented.example", "s-17", at=house.now)
    with pytest.raises(jobs.NotLetInError, match="knows nobody"):
        jobs.enter_by_identity(house.office, "", "", at=house.now)
    people = len(house.office.store.list_accounts())
    ticket = jobs.enter_by_identity(house.office, "https://id.invented.example", "s-17", at=house.now)
    assert jobs.caller(house.office, ticket, at=house.now) is None
    token = jobs.carry_over(house.office, ticket, at=house.now)
    found = jobs.caller(house.office, token, at=house.now)
    assert found is not None
    assert found.person_id == INSTRUCTOR
    assert len(house.office.store.list_accounts()) == people


def test_a_ticket_is_good_once_and_for_two_minutes(house: House) -> None:
    link(house)
    ticket = jobs.enter_by_identity(house.office, "https://id.invented.example", "s-17", at=house.now)
    jobs.carry_over(house.office, ticket, at=house.now)
    with pytest.raises(jobs.NotLetInError, match="used already"):
        jobs.carry_over(house.office, ticket, at=house.now)
    late = jobs.enter_by_identity(house.office, "https://id.invented.example", "s-17", at=house.now)
    with pytest.raises(jobs.NotLetInError, match="too long"):
        jobs.carry_over(house.office, late, at=house.later(seconds=121))
    with pytest.raises(jobs.NotLetInError, match="used already"):
        jobs.carry_over(house.office, late, at=NOW)


def test_a_sessions_own_token_is_no_ticket(house: House) -> None:
    for token in (house.token(DISPATCHER), "", "x" * 43):
        with pytest.raises(jobs.NotLetInError):
            jobs.carry_over(house.office, token, at=house.now)


def test_a_closed_account_opens_by_no_way_and_its_sessions_are_over(house: House) -> None:
    link(house)
    token = house.token(INSTRUCTOR)
    ticket = jobs.enter_by_identity(house.office, "https://id.invented.example", "s-17", at=house.now)
    edda = house.caller(ADMINISTRATOR)
    jobs.close_account(house.office, edda, INSTRUCTOR, house.signature(), at=house.now)
    assert jobs.caller(house.office, token, at=house.now) is None
    with pytest.raises(jobs.NotLetInError, match="closed"):
        jobs.sign_in(house.office, "mara", demo.DEMO_PASSPHRASE, at=house.now)
    with pytest.raises(jobs.NotLetInError, match=WRONG):
        jobs.sign_in(house.office, "mara", "some other words", at=house.now)
    with pytest.raises(jobs.NotLetInError, match="closed"):
        jobs.enter_by_identity(house.office, "https://id.invented.example", "s-17", at=house.now)
    with pytest.raises(jobs.NotLetInError):
        jobs.carry_over(house.office, ticket, at=house.now)


def test_a_session_that_somebody_put_into_the_store_for_a_closed_account_counts_for_nothing(house: House) -> None:
    edda = house.caller(ADMINISTRATOR)
    jobs.close_account(house.office, edda, INSTRUCTOR, house.signature(), at=house.now)
    token = "b" * 43
    house.office.store.open_session(SessionRecord(token_hash(token), INSTRUCTOR, "passphrase", house.now, house.now))
    assert jobs.caller(house.office, token, at=house.now) is None
