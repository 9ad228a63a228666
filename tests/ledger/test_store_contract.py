"""What every store keeps: the same tests for each of them."""

import io
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from riskboard.ledger import erasure as erasing
from riskboard.ledger import errors
from riskboard.ledger.appending import append
from riskboard.ledger.engine import Statements
from riskboard.ledger.entry import Header
from riskboard.ledger.jsonl import export, read_export
from riskboard.ledger.receipt import Receipt, receipt_for
from riskboard.ledger.sql import SqlStore
from riskboard.ledger.store import PolicyText, Store, TypeText
from riskboard.people.pin import may_try
from tests.ledger.conftest import Opener
from tests.ledger.made_logs import NOON, intent, made_log, sound_log, with_body

LATER = NOON + timedelta(hours=1)


def erasure(**changes: object) -> dict[str, object]:
    return {"kind": "erased", "role": "safety officer", "body": {"reason": "asked by the person"}, **changes}


def test_it_meets_the_contract(store: SqlStore) -> None:
    checked: Store = store
    assert checked.head().size == 1


def test_a_new_log_has_its_opening_record_and_verifies(store: SqlStore) -> None:
    (opening,) = store.entries()
    assert (opening.header.kind, opening.header.seq, opening.header.at) == ("opened", 1, NOON)
    assert store.verify(store.head()) == []


def test_two_logs_have_two_origins(opener: Opener, where: str, tmp_path: object) -> None:
    one, other = opener(where), opener(f"{tmp_path}/other.sqlite3")
    assert one.head().origin != other.head().origin


def test_appended_entries_come_back_as_they_were(store: SqlStore) -> None:
    kept = [store.append(intent(number)) for number in range(1, 6)]
    found = list(store.entries())
    assert [(e.header_bytes, e.body) for e in found[1:]] == [(e.header_bytes, e.body) for e, _ in kept]
    assert [receipt.size for _, receipt in kept] == [2, 3, 4, 5, 6]
    assert store.head() == kept[-1][1]
    assert Receipt.from_code(store.head().code) == store.head()
    assert store.verify([receipt for _, receipt in kept]) == []


def test_entries_from_a_number_on_and_of_one_subject(store: SqlStore) -> None:
    for number in range(1, 6):
        store.append(intent(number, subject="flight-odd" if number % 2 else "flight-even"))
    assert [entry.seq for entry in store.entries(4)] == [4, 5, 6]
    assert [entry.seq for entry in store.entries(subject="flight-odd")] == [2, 4, 6]
    assert [entry.seq for entry in store.entries(3, subject="flight-odd")] == [4, 6]
    assert list(store.entries(99)) == []


@pytest.mark.parametrize("batch", [1, 2, 3, 5, 6, 7])
def test_reading_in_batches_loses_and_repeats_nothing(
    store: SqlStore, monkeypatch: pytest.MonkeyPatch, batch: int
) -> None:
    for number in range(1, 6):
        store.append(intent(number))
    monkeypatch.setattr("riskboard.ledger.sql._BATCH", batch)
    assert [entry.seq for entry in store.entries()] == [1, 2, 3, 4, 5, 6]
    assert store.verify() == []


def test_the_same_event_again_is_the_first_entry_and_the_same_receipt(store: SqlStore) -> None:
    first, receipt = store.append(intent(1, timed={"valid_until": LATER}))
    store.append(intent(2))
    again, same = store.append(intent(1, at=LATER, timed={"valid_until": LATER + timedelta(seconds=1)}))
    assert (again.header_bytes, again.body, same) == (first.header_bytes, first.body, receipt)
    assert store.head().size == 3
    found = store.find_by_event_id("event-1")
    assert found is not None
    assert (found[0].seq, found[1]) == (first.seq, receipt)
    assert store.find_by_event_id("never") is None


@pytest.mark.parametrize(
    "changes", [{"body": {"sleep_last_24h_h": 9}}, {"actor": "Someone Else"}, {"kind": "accepted"}, {"subject": "x"}]
)
def test_the_same_event_with_other_content_is_refused(store: SqlStore, changes: dict[str, object]) -> None:
    store.append(intent(1))
    with pytest.raises(errors.EventIdReusedError, match="event-1 is on record already, as record 2"):
        store.append(intent(1, **changes))
    assert store.head().size == 2
    assert store.verify() == []


def test_opening_and_erasing_have_their_own_ways(store: SqlStore) -> None:
    for kind in ("opened", "erased"):
        with pytest.raises(errors.RefusedError, match=kind):
            store.append(intent(1, kind=kind))
    assert store.head().size == 1


def test_what_cannot_be_written_is_refused_and_nothing_is_recorded(store: SqlStore) -> None:
    with pytest.raises(ValueError, match="write unknown as null"):
        store.append(intent(1, body={"dew_point_c": float("nan")}))
    assert store.head().size == 1


def test_it_is_all_there_after_opening_again(opener: Opener, where: str) -> None:
    first = opener(where)
    _, receipt = first.append(intent(1, body={"note": "Zoë \x00 \U0001d518"}))
    first.close()
    again = opener(where, now=LATER)
    assert again.head() == receipt
    assert [entry.body.value for entry in again.entries(2) if entry.body] == [{"note": "Zoë \x00 \U0001d518"}]
    assert again.verify(receipt) == []


def test_a_signer_without_authority_is_found(store: SqlStore) -> None:
    store.append(intent(1))
    findings = store.verify(authorised=lambda header, _: "Not then." if header.seq == 2 else None)
    assert [str(finding) for finding in findings] == ["record 2: signer not authorised at the time: Not then."]


# Erasure


def test_an_erased_body_is_gone_and_the_log_still_verifies(store: SqlStore) -> None:
    _, before = store.append(intent(1, body={"medicine": "sneezewort"}))
    store.append(intent(2))
    store.save_draft("draft-1", '{"medicine": "sneezewort"}', owner="Wren Adair", at=NOON)
    store.put_document("person", "wren", '{"takes": "sneezewort"}', at=NOON)
    assert store.places_holding("sneezewort") == ["body of record 2", "draft draft-1", "person wren"]
    done = store.erase(intent(50, **erasure()), [2], drafts=["draft-1"])
    assert store.places_holding("sneezewort") == ["person wren"]
    assert done.scrubbed
    assert any("Backups" in sentence for sentence in done.left)
    assert done.entry.body is not None
    assert done.entry.body.value == {"erases": [2], "reason": "asked by the person"}
    assert [entry.body is None for entry in store.entries()] == [False, True, False, False]
    assert store.verify([before, done.receipt]) == []


def test_erasing_twice_under_the_same_event_is_one_erasure(store: SqlStore) -> None:
    store.append(intent(1))
    first = store.erase(intent(50, **erasure()), [2])
    again = store.erase(intent(50, **erasure()), [2, 2])
    assert first.receipt == again.receipt
    assert again.scrubbed
    with pytest.raises(errors.EventIdReusedError):
        store.erase(intent(50, **erasure()), [1])


def test_an_event_whose_body_was_erased_is_still_found(store: SqlStore) -> None:
    _, receipt = store.append(intent(1))
    store.erase(intent(50, **erasure()), [2])
    assert store.append(intent(1))[1] == receipt
    with pytest.raises(errors.EventIdReusedError):
        store.append(intent(1, actor="Someone Else"))


@pytest.mark.parametrize(
    ("numbers", "changes", "said"),
    [
        ([1], {}, "'opened', which must stay"),
        ([3], {}, "'policy_published', which must stay"),
        ([2, 9], {}, "no record 9"),
        ([], {}, "no record was named"),
        ([2], {"kind": "briefed"}, "must be 'erased'"),
        ([2], {"body": {"erases": [2]}}, "`erases` is added"),
    ],
)
def test_what_may_not_be_erased_is_refused(
    store: SqlStore, numbers: list[int], changes: dict[str, object], said: str
) -> None:
    store.append(intent(1))
    store.append(intent(2, kind="policy_published"))
    with pytest.raises(errors.ErasureRefusedError, match=said):
        store.erase(intent(50, **erasure(**changes)), numbers)
    assert store.head().size == 3
    assert store.verify() == []


def test_a_body_that_is_gone_and_an_erasure_itself_cannot_be_erased(store: SqlStore) -> None:
    store.append(intent(1))
    store.erase(intent(50, **erasure()), [2])
    with pytest.raises(errors.ErasureRefusedError, match="gone already"):
        store.erase(intent(51, **erasure()), [2])
    with pytest.raises(errors.ErasureRefusedError, match="'erased', which must stay"):
        store.erase(intent(51, **erasure()), [3])


def test_the_database_itself_keeps_the_opening_record_and_the_erasures(store: SqlStore) -> None:
    store.append(intent(1))
    store.erase(intent(50, **erasure()), [2])
    for number in (1, 3):
        # Past the program's own check: an entry that names what must stay.
        named = erasing.signed_intent(intent(60, **erasure()), [number])
        with (  # noqa: PT012 - the whole transaction is refused
            pytest.raises(errors.NotWrittenError, match="append-only"),
            store._database.writing() as connection,
        ):
            append(Statements.of(connection), named, named.body_bytes(), place=store.place)
            erasing.delete_rows(connection, [number], ())
    assert store.head().size == 3
    assert store.verify() == []


def test_an_erasure_while_somebody_verifies_is_no_finding_and_does_not_hang(
    opener: Opener, where: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("riskboard.ledger.sql._BATCH", 2)
    opener(where).close()
    store = opener(where, lock_timeout_s=0.2)
    for number in range(1, 6):
        store.append(intent(number))
    scrubbed: list[bool] = []

    def meanwhile(header: Header, _body: object) -> None:
        if header.seq == 4:
            scrubbed.append(store.erase(intent(50, **erasure()), [2]).scrubbed)

    assert store.verify(authorised=meanwhile) == []
    assert scrubbed == [False]  # the reader's view still held the old text, and the erasure said so
    assert store.erase(intent(50, **erasure()), [2]).scrubbed
    assert store.verify() == []


# Moving a log


def exported(store: SqlStore) -> list[str]:
    out = io.StringIO(newline="")
    export(store.entries(), out)
    return out.getvalue().splitlines(keepends=True)


def test_a_log_moves_to_another_store_and_goes_on(store: SqlStore, opener: Opener, tmp_path: object) -> None:
    store.append(intent(1))
    _, receipt = store.append(intent(2))
    store.erase(intent(50, **erasure()), [2])
    moved = opener(f"{tmp_path}/moved.sqlite3", now=LATER, adopt=read_export(exported(store)))
    assert moved.head() == store.head()
    moved.append(intent(60))
    assert moved.verify([receipt, store.head(), moved.head()]) == []


def test_an_empty_store_of_either_sort_adopts(opener: Opener, where: str) -> None:
    log = sound_log()
    store = opener(where, adopt=log)
    assert store.head() == receipt_for(log[-1])
    assert store.verify() == []


@pytest.mark.parametrize(
    "tamper",
    [
        lambda log: log[:3] + log[4:],
        lambda log: [*log[:3], with_body(log[3], b"{}"), *log[4:]],
        lambda log: [*log[:3], replace(log[3], header_bytes=b"{"), *log[4:]],
        lambda log: [replace(log[0], seq=2**70)],
        lambda log: log[:0],
    ],
)
def test_a_doctored_log_is_not_adopted_and_leaves_nothing(
    opener: Opener, where: str, tamper: Callable[[list[object]], list[object]]
) -> None:
    with pytest.raises(errors.RefusedError, match="not adopted"):
        opener(where, adopt=tamper(list(sound_log())))
    assert opener(where).head().size == 1


def test_a_store_with_a_log_adopts_none(opener: Opener, where: str) -> None:
    opener(where)
    with pytest.raises(errors.RefusedError, match="has a log already"):
        opener(where, adopt=made_log())


# Beside the log


def test_drafts_are_kept_with_their_revision(store: SqlStore) -> None:
    assert store.load_draft("d") is None
    first = store.save_draft("d", '{"wind_kt": null}', owner="Wren Adair", at=NOON)
    second = store.save_draft("d", '{"wind_kt": 12}', owner="Wren Adair", at=LATER, revision=first.revision)
    assert (first.revision, second.revision) == (1, 2)
    assert store.load_draft("d") == second
    assert second.saved_at == LATER
    store.delete_draft("d")
    store.delete_draft("d")
    assert store.load_draft("d") is None


def test_a_save_over_somebody_elses_save_is_refused(store: SqlStore) -> None:
    store.save_draft("d", "1", owner="Wren Adair", at=NOON, revision=0)
    store.save_draft("d", "2", owner="Wren Adair", at=NOON, revision=1)
    for stale in (0, 1, 3):
        with pytest.raises(errors.RevisionError, match=f"revision 2, and this save starts from {stale}"):
            store.save_draft("d", "3", owner="Wren Adair", at=NOON, revision=stale)
    assert store.save_draft("d", "4", owner="Wren Adair", at=NOON).revision == 3


def test_a_draft_of_another_person_cannot_be_saved_but_one_of_nobody_can_be_taken(store: SqlStore) -> None:
    store.save_draft("d", "1", owner="", at=NOON)
    store.save_draft("d", "2", owner="Wren Adair", at=NOON)
    with pytest.raises(errors.DraftOwnerError, match="belongs to Wren Adair"):
        store.save_draft("d", "3", owner="Idris Vale", at=NOON)


def test_a_persons_drafts_are_listed_last_saved_first(store: SqlStore) -> None:
    moments: list[datetime] = [NOON, LATER, NOON + timedelta(microseconds=1)]
    for number, at in enumerate(moments):
        store.save_draft(f"d{number}", "{}", owner="Wren Adair", at=at)
    store.save_draft("other", "{}", owner="Idris Vale", at=NOON)
    assert [draft.draft_id for draft in store.list_drafts("Wren Adair")] == ["d1", "d2", "d0"]


@pytest.mark.parametrize("text", ["", "{", '{"a": NaN}', '{"a": 1, "a": 2}'])
def test_a_text_that_is_not_json_is_not_saved(store: SqlStore, text: str) -> None:
    with pytest.raises(errors.RefusedError, match="draft d was not saved"):
        store.save_draft("d", text, owner="Wren Adair", at=NOON)
    with pytest.raises(errors.RefusedError, match="site s was not saved"):
        store.put_document("site", "s", text, at=NOON)
    assert store.load_draft("d") is None


def test_documents_are_kept_by_kind(store: SqlStore) -> None:
    store.put_document("aircraft", "b", '"Bee"', at=NOON)
    kept = store.put_document("aircraft", "a", '"Ay"', at=NOON, revision=0)
    store.put_document("site", "a", '"Meadow"', at=NOON)
    changed = store.put_document("aircraft", "a", '"Ay, changed"', at=LATER, revision=kept.revision)
    assert store.get_document("aircraft", "a") == changed
    assert [document.document_id for document in store.list_documents("aircraft")] == ["a", "b"]
    with pytest.raises(errors.RevisionError):
        store.put_document("aircraft", "a", "1", at=NOON, revision=1)
    store.delete_document("aircraft", "a")
    assert store.get_document("aircraft", "a") is None
    assert store.get_document("site", "a") is not None


def policy(version: int = 1, text: str = "id: meadow\n", digest: str = "aa") -> PolicyText:
    return PolicyText(digest, "meadow", version, text, NOON)


def test_a_policy_is_published_once_with_its_exact_text(store: SqlStore) -> None:
    text = "id: meadow\r\n# Zoë\t\n"
    first = store.publish_policy(policy(text=text))
    again = store.publish_policy(replace(policy(text=text), published_at=LATER))
    assert again == first
    assert store.get_policy("aa") == first
    assert first.text == text
    assert store.get_policy("bb") is None
    store.publish_policy(policy(version=2, digest="bb", text="other"))
    assert [kept.version for kept in store.list_policies()] == [1, 2]


@pytest.mark.parametrize(
    "other", [policy(text="x", digest="bb"), policy(text="x"), policy(version=2), policy(digest="bb")]
)
def test_the_same_version_or_digest_with_another_text_is_refused(store: SqlStore, other: PolicyText) -> None:
    store.publish_policy(policy())
    with pytest.raises(errors.PolicyVersionReusedError, match="kept for ever"):
        store.publish_policy(other)
    assert store.list_policies() == [policy()]


def kept_type(version: int = 1, text: str = "id: heron\n", digest: str = "aa") -> TypeText:
    return TypeText(digest, "heron", version, "Heron 1", text, NOON)


def test_an_aircraft_type_is_published_with_its_record_and_its_exact_text(store: SqlStore) -> None:
    text = "id: heron\r\n# Zoë\t\n"
    first = kept_type(text=text)
    store.append(intent(1), types=[first])
    store.append(intent(2), types=[replace(first, published_at=LATER)])
    assert store.get_type("aa") == first
    assert store.get_type("bb") is None
    store.append(intent(3), types=[kept_type(version=2, digest="bb", text="other")])
    assert [kept.version for kept in store.list_types()] == [1, 2]
    assert store.append(intent(1), types=[kept_type(version=9, digest="cc")])[0].seq == 2
    assert store.get_type("cc") is None, "the event was on record already"


@pytest.mark.parametrize(
    "other",
    [
        kept_type(text="x", digest="bb"),
        kept_type(text="x"),
        kept_type(version=2),
        kept_type(digest="bb"),
        replace(kept_type(), title="Heron 2"),
    ],
)
def test_the_same_type_version_or_digest_with_another_text_is_refused_and_so_is_its_record(
    store: SqlStore, other: TypeText
) -> None:
    _, receipt = store.append(intent(1), types=[kept_type()])
    with pytest.raises(errors.TypeVersionReusedError, match="kept for ever"):
        store.append(intent(2), types=[other])
    assert store.list_types() == [kept_type()]
    assert store.head() == receipt


def test_pin_hashes_and_their_failures(store: SqlStore) -> None:
    assert store.get_pin("wren") is None
    store.set_pin_hash("wren", "hash", at=NOON)
    results = [store.claim_pin_attempt("wren", at=NOON, may_try=may_try) for _ in range(5)]
    assert results == [True, True, True, False, False]  # three are free, a refused one does not count
    kept = store.get_pin("wren")
    assert kept is not None
    assert (kept.failures, kept.last_failure_at, kept.pin_hash) == (3, NOON, "hash")
    assert store.claim_pin_attempt("wren", at=NOON + timedelta(seconds=15), may_try=may_try)
    store.clear_pin_failures("wren")
    kept = store.get_pin("wren")
    assert kept is not None
    assert (kept.failures, kept.last_failure_at) == (0, None)
    store.claim_pin_attempt("wren", at=NOON, may_try=may_try)
    store.set_pin_hash("wren", "new", at=LATER)
    kept = store.get_pin("wren")
    assert kept is not None
    assert (kept.failures, kept.pin_hash, kept.set_at) == (0, "new", LATER)
    store.remove_pin("wren")
    assert store.get_pin("wren") is None


def test_an_unknown_person_may_try_and_nothing_is_kept(store: SqlStore) -> None:
    assert all(store.claim_pin_attempt("nobody", at=NOON, may_try=may_try) for _ in range(9))
    store.clear_pin_failures("nobody")
    assert store.get_pin("nobody") is None
