"""A decision that was overtaken, and what is saved in the same transaction as a record: the same for every store."""

import io
import threading
from datetime import timedelta

import pytest

from riskboard.ledger import errors
from riskboard.ledger.jsonl import export
from riskboard.ledger.sql import SqlStore
from riskboard.ledger.store import AccountRecord, DocumentChange, PinChange, SessionRecord
from tests.ledger.made_logs import NOON, intent

LATER = NOON + timedelta(hours=1)


def aircraft(text: str = '{"meter_h": 812.4}', revision: int | None = None) -> DocumentChange:
    return DocumentChange("aircraft", "meadow-01", text, revision)


def test_a_decision_on_the_log_as_it_stands_is_recorded(store: SqlStore) -> None:
    _, receipt = store.append(intent(1), head=store.head().size)
    assert receipt.size == 2
    assert store.append(intent(2), head=2)[1].size == 3


def test_a_decision_that_was_overtaken_is_not_recorded_and_says_by_what(store: SqlStore) -> None:
    first, _ = store.append(intent(1, kind="refused", actor="Tove Lind"), head=1)
    with pytest.raises(
        errors.OvertakenError, match=r"ended with record 1.*record 2 \(refused by Tove Lind\)"
    ) as caught:
        store.append(intent(2), head=1, documents=[aircraft()])
    assert (caught.value.entry.digest, caught.value.entry.body) == (first.digest, first.body)
    assert store.head().size == 2
    assert store.get_document("aircraft", "meadow-01") is None
    assert not isinstance(caught.value, errors.NotWrittenError | errors.RefusedError)


def test_the_same_event_again_is_found_though_the_log_has_moved_on(store: SqlStore) -> None:
    first = store.append(intent(1), head=1, documents=[aircraft(revision=0)], access=[PinChange("wren", "hash")])
    store.append(intent(2))
    store.put_document("aircraft", "meadow-01", "2", at=LATER)
    store.remove_pin("wren")
    again = store.append(intent(1), head=1, documents=[aircraft(revision=0)], access=[PinChange("wren", "hash")])
    assert (again[0].digest, again[1]) == (first[0].digest, first[1])
    kept = store.get_document("aircraft", "meadow-01")
    assert kept is not None
    assert (kept.text, kept.revision) == ("2", 2)
    assert store.get_pin("wren") is None


def test_the_same_event_with_other_content_is_refused_before_being_overtaken(store: SqlStore) -> None:
    store.append(intent(1))
    with pytest.raises(errors.EventIdReusedError):
        store.append(intent(1, actor="Someone Else"), head=1)


def test_a_decision_on_a_record_that_is_not_there_is_refused(store: SqlStore) -> None:
    with pytest.raises(errors.RefusedError, match=r"decided on record 9, but the log ends with record 1.*backup"):
        store.append(intent(1), head=9)
    assert store.head().size == 1


@pytest.mark.parametrize("taps", [8])
def test_of_many_decisions_on_the_same_record_one_is_recorded(store: SqlStore, taps: int) -> None:
    told: list[str] = []
    gate = threading.Barrier(taps)

    def decide(number: int) -> None:
        gate.wait()
        try:
            told.append(store.append(intent(number), head=1)[0].header.event_id)
        except errors.OvertakenError as error:
            told.append(f"after {error.entry.header.event_id}")

    threads = [threading.Thread(target=decide, args=(number,)) for number in range(taps)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    (first,) = [each for each in told if not each.startswith("after")]
    assert told.count(f"after {first}") == taps - 1
    assert store.head().size == 2


def test_documents_are_saved_with_the_record(store: SqlStore) -> None:
    before = store.put_document("aircraft", "meadow-01", '{"meter_h": 811}', at=NOON)
    person = DocumentChange("person", "wren", '{"name": "Wren Adair"}')
    store.append(intent(7, at=LATER), documents=[aircraft(revision=before.revision), person])
    kept = store.get_document("aircraft", "meadow-01")
    assert kept is not None
    assert (kept.text, kept.revision, kept.saved_at) == ('{"meter_h": 812.4}', 2, LATER)
    made = store.get_document("person", "wren")
    assert made is not None
    assert made.revision == 1


def test_a_document_that_was_saved_in_between_keeps_everything_off_the_record(store: SqlStore) -> None:
    store.put_document("aircraft", "meadow-01", "1", at=NOON)
    person = DocumentChange("person", "wren", "1")
    with pytest.raises(errors.RevisionError, match="Somebody saved in between"):
        store.append(intent(1), documents=[person, aircraft(revision=0)], access=[PinChange("wren", "hash")])
    assert store.head().size == 1
    assert store.get_document("person", "wren") is None
    assert store.get_pin("wren") is None


def test_what_cannot_be_saved_keeps_everything_off_the_record(store: SqlStore) -> None:
    with pytest.raises(errors.RefusedError, match="aircraft meadow-01 was not saved"):
        store.append(intent(1), documents=[aircraft(text="{")])
    half = AccountRecord("wren", "wren", "hash", "https://login.example", "", NOON)
    with pytest.raises(errors.RefusedError, match="both an issuer and a subject"):
        store.append(intent(1), access=[half])
    store.put_account(AccountRecord("tove", "tove", "hash", "", "", NOON), at=NOON)
    with pytest.raises(errors.AccountTakenError, match="tove has the login name 'Tove'"):
        store.append(intent(1), documents=[aircraft()], access=[AccountRecord("wren", "Tove", "x", "", "", NOON)])
    assert store.head().size == 1
    assert store.get_document("aircraft", "meadow-01") is None


def test_accounts_and_pins_are_saved_with_the_record(store: SqlStore) -> None:
    account = AccountRecord("wren", "wren", "hash", "", "", NOON)
    store.append(intent(1, at=LATER), access=[account, PinChange("wren", "pin hash")])
    kept, pin = store.get_account("wren"), store.get_pin("wren")
    assert kept is not None
    assert pin is not None
    assert (kept.set_at, pin.set_at, pin.pin_hash) == (LATER, LATER, "pin hash")
    store.append(intent(2), access=[PinChange("wren", None)])
    assert store.get_pin("wren") is None


def test_an_erasure_saves_the_documents_without_the_answers_in_the_same_step(store: SqlStore) -> None:
    store.append(intent(1, body={"medicine": "sneezewort"}))
    kept = store.put_document("person", "wren", '{"takes": "sneezewort"}', at=NOON)
    order = intent(50, kind="erased", role="safety officer", body={"reason": "asked by the person"})
    stale = DocumentChange("person", "wren", "{}", kept.revision + 1)
    with pytest.raises(errors.RevisionError):
        store.erase(order, [2], documents=[stale])
    assert store.places_holding("sneezewort") == ["body of record 2", "person wren"]
    done = store.erase(order, [2], documents=[DocumentChange("person", "wren", "{}", kept.revision)])
    assert done.scrubbed
    assert store.places_holding("sneezewort") == []
    assert store.verify(done.receipt) == []


def test_entries_of_some_kinds(store: SqlStore) -> None:
    for number in range(1, 9):
        store.append(intent(number, kind=("role_given", "role_ended", "briefed", "accepted")[number % 4]))
    roles = {"role_given", "role_ended"}
    assert [entry.seq for entry in store.entries(kinds=roles)] == [2, 5, 6, 9]
    assert [entry.seq for entry in store.entries(5, kinds=roles)] == [5, 6, 9]
    assert [entry.seq for entry in store.entries(kinds=["briefed", "briefed"], subject="flight-2")] == [3]
    assert list(store.entries(kinds=())) == []
    assert list(store.entries(kinds=["never"])) == []


@pytest.mark.parametrize("batch", [1, 2, 3, 4])
def test_entries_of_some_kinds_in_batches(store: SqlStore, monkeypatch: pytest.MonkeyPatch, batch: int) -> None:
    for number in range(1, 8):
        store.append(intent(number, kind=("role_given", "briefed")[number % 2]))
    monkeypatch.setattr("riskboard.ledger.sql._BATCH", batch)
    assert [entry.seq for entry in store.entries(kinds=["role_given"])] == [3, 5, 7]


def test_no_hash_of_a_secret_goes_into_an_export(store: SqlStore) -> None:
    account = AccountRecord("wren", "wren", "swordfish hash", "https://login.example", "subject 17", NOON)
    store.append(intent(1), access=[account, PinChange("wren", "herring hash")])
    store.open_session(SessionRecord("mackerel hash", "wren", "passphrase", NOON, NOON))
    out = io.StringIO(newline="")
    assert export(store.entries(), out) == 2
    for secret in ("swordfish", "herring", "mackerel", "login.example", "subject 17"):
        assert secret not in out.getvalue()
        assert store.places_holding(secret) == []
