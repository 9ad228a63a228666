"""Accounts and sessions: the same for every store."""

from dataclasses import replace
from datetime import timedelta

import pytest

from riskboard.ledger import errors
from riskboard.ledger.sql import SqlStore
from riskboard.ledger.store import AccountRecord, SessionRecord
from riskboard.people.pin import may_try
from tests.ledger.conftest import Opener
from tests.ledger.made_logs import NOON

LATER = NOON + timedelta(hours=1)
WREN = AccountRecord("wren-1", "Wren", "hash", "https://login.example", "subject-17", NOON)


def test_an_account_comes_back_as_it_was_saved(store: SqlStore, where: str, opener: Opener) -> None:
    assert store.get_account("wren-1") is None
    assert store.put_account(WREN, at=NOON) == WREN
    again = opener(where)
    assert again.get_account("wren-1") == WREN
    assert again.find_account_by_identity("https://login.example", "subject-17") == WREN
    store.put_account(AccountRecord("ada-2", "", "", "", "", NOON), at=NOON)
    assert [account.person_id for account in again.list_accounts()] == ["ada-2", "wren-1"]


@pytest.mark.parametrize("typed", ["Wren", "wren", "WREN", " wren ", "\uff37ren"])
def test_a_login_name_is_found_however_it_is_written(store: SqlStore, typed: str) -> None:
    store.put_account(WREN, at=NOON)
    assert store.find_account(typed) == WREN
    with pytest.raises(errors.AccountTakenError, match="wren-1 has the login name"):
        store.put_account(AccountRecord("other", typed, "x", "", "", NOON), at=NOON)
    assert store.get_account("other") is None


def test_sharp_s_and_accents_are_one_name_in_both_ways_of_writing(store: SqlStore) -> None:
    store.put_account(replace(WREN, login_name="Zo\u00eb Stra\u00dfe"), at=NOON)
    found = store.find_account("zoe\u0308 STRASSE")
    assert found is not None
    assert found.person_id == "wren-1"


def test_nothing_is_found_by_nothing(store: SqlStore) -> None:
    store.put_account(AccountRecord("ada", "", "hash", "", "", NOON), at=NOON)
    store.put_account(AccountRecord("ben", "", "hash", "", "", NOON), at=NOON)
    assert store.find_account("") is None
    assert store.find_account("  ") is None
    assert store.find_account_by_identity("", "") is None
    assert store.find_account_by_identity("https://login.example", "") is None


def test_an_outside_identity_belongs_to_one_person(store: SqlStore) -> None:
    store.put_account(WREN, at=NOON)
    other = AccountRecord("tove", "tove", "x", WREN.issuer, WREN.subject, NOON)
    with pytest.raises(errors.AccountTakenError, match="wren-1 has that outside identity"):
        store.put_account(other, at=NOON)
    store.put_account(replace(other, issuer="https://other.example"), at=NOON)
    store.put_account(replace(WREN, issuer="", subject=""), at=NOON)
    store.put_account(other, at=NOON)
    found = store.find_account_by_identity(WREN.issuer, WREN.subject)
    assert found is not None
    assert found.person_id == "tove"


@pytest.mark.parametrize(("issuer", "subject"), [("https://login.example", ""), ("", "subject-17")])
def test_half_an_outside_identity_is_refused(store: SqlStore, issuer: str, subject: str) -> None:
    with pytest.raises(errors.RefusedError, match="both an issuer and a subject"):
        store.put_account(replace(WREN, issuer=issuer, subject=subject), at=NOON)
    with pytest.raises(errors.RefusedError, match="names no person"):
        store.put_account(replace(WREN, person_id=" "), at=NOON)


def test_saving_an_account_never_undoes_a_count_of_failures(store: SqlStore) -> None:
    store.put_account(WREN, at=NOON)
    results = [store.claim_passphrase_attempt("wren-1", at=NOON, may_try=may_try) for _ in range(5)]
    assert results == [True, True, True, False, False]
    saved = store.put_account(replace(WREN, closed_at=LATER, failures=0, set_at=LATER), at=LATER)
    assert saved == store.get_account("wren-1")
    assert (saved.failures, saved.last_failure_at, saved.set_at, saved.closed_at) == (3, NOON, NOON, LATER)
    store.clear_passphrase_failures("wren-1")
    saved = store.put_account(WREN, at=LATER)
    assert (saved.failures, saved.last_failure_at, saved.closed_at) == (0, None, None)


def test_a_new_passphrase_starts_without_failures(store: SqlStore) -> None:
    store.put_account(WREN, at=NOON)
    store.claim_passphrase_attempt("wren-1", at=NOON, may_try=may_try)
    saved = store.put_account(replace(WREN, passphrase_hash="new", failures=9), at=LATER)  # noqa: S106 - a hash
    assert (saved.passphrase_hash, saved.failures, saved.last_failure_at, saved.set_at) == ("new", 0, None, LATER)


def test_an_unknown_person_may_try_and_nothing_is_kept(store: SqlStore) -> None:
    assert all(store.claim_passphrase_attempt("nobody", at=NOON, may_try=may_try) for _ in range(9))
    store.clear_passphrase_failures("nobody")
    assert store.list_accounts() == []


SESSION = SessionRecord("aa" * 32, "wren-1", "passphrase", NOON, NOON)


def test_a_session_from_opening_to_end(store: SqlStore, where: str, opener: Opener) -> None:
    assert store.get_session(SESSION.token_hash) is None
    store.open_session(SESSION)
    assert opener(where).get_session(SESSION.token_hash) == SESSION
    store.touch_session(SESSION.token_hash, LATER)
    assert store.get_session(SESSION.token_hash) == replace(SESSION, seen_at=LATER)
    store.end_session(SESSION.token_hash, LATER)
    assert store.get_session(SESSION.token_hash) == replace(SESSION, seen_at=LATER, ended_at=LATER)


def test_a_touch_never_moves_back_and_never_revives(store: SqlStore) -> None:
    half_past = NOON + timedelta(seconds=0.5)  # as text, this stands before the whole second
    store.open_session(replace(SESSION, seen_at=half_past))
    store.touch_session(SESSION.token_hash, NOON)
    assert store.get_session(SESSION.token_hash) == replace(SESSION, seen_at=half_past)
    store.end_session(SESSION.token_hash, LATER)
    store.touch_session(SESSION.token_hash, LATER + timedelta(hours=1))
    store.end_session(SESSION.token_hash, LATER + timedelta(hours=2))
    assert store.get_session(SESSION.token_hash) == replace(SESSION, seen_at=half_past, ended_at=LATER)
    store.touch_session("unknown", LATER)
    store.end_session("unknown", LATER)
    assert store.get_session("unknown") is None


def test_all_sessions_of_a_person_end_at_once_and_no_others(store: SqlStore) -> None:
    others = [replace(SESSION, token_hash=name, person_id="tove") for name in ("bb", "cc")]
    for record in (SESSION, replace(SESSION, token_hash="dd"), *others):  # noqa: S106 - a hash
        store.open_session(record)
    store.end_session("dd", NOON)
    assert store.end_sessions_of("wren-1", LATER) == 1
    assert store.end_sessions_of("wren-1", LATER) == 0
    ended = {name: kept.ended_at for name in ("aa" * 32, "bb", "cc", "dd") if (kept := store.get_session(name))}
    assert ended == {"aa" * 32: LATER, "bb": None, "cc": None, "dd": NOON}


def test_a_token_is_never_used_twice(store: SqlStore) -> None:
    store.open_session(SESSION)
    with pytest.raises(errors.RefusedError, match="same token"):
        store.open_session(replace(SESSION, person_id="tove"))
    assert store.get_session(SESSION.token_hash) == SESSION
