"""A fault before and after each statement and at the commit; then the verifier judges what is left."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any

import pytest
from sqlalchemy import event

from riskboard.ledger.engine import Statements
from riskboard.ledger.errors import NotWrittenError
from riskboard.ledger.sql import SqlStore
from riskboard.ledger.store import AccountRecord, DocumentChange, PinChange, PolicyText, SessionRecord, TypeText
from tests.ledger.made_logs import NOON, intent

RUN = Statements.run


class Fault:
    """Counts the points at which a store could fail, and fails at one of them."""

    def __init__(self, fail_at: int) -> None:
        self.fail_at = fail_at
        self.count = 0
        self.point = ""

    def reach(self, point: str) -> None:
        self.count += 1
        if self.count == self.fail_at:
            self.point = point
            raise OSError(f"fault injected {point}")

    def before_statement(self, _c: Any, _cursor: Any, statement: str, *_rest: Any) -> None:
        self.reach(f"before {statement}")

    def after_statement(self, _c: Any, _cursor: Any, statement: str, *_rest: Any) -> None:
        self.reach(f"after {statement}")

    def at_the_driver(self, statements: Statements, statement: str, values: Sequence[object] = ()) -> Any:
        if statement == "ROLLBACK":
            return RUN(statements, statement, values)
        self.reach("at the commit" if statement == "COMMIT" else f"before {statement}")
        cursor = RUN(statements, statement, values)
        if statement != "COMMIT":
            self.reach(f"after {statement}")
        return cursor

    def commit(self, _connection: Any) -> None:
        self.reach("at the commit")


@contextmanager
def injected(store: SqlStore, fail_at: int) -> Iterator[Fault]:
    fault = Fault(fail_at)

    def run(statements: Statements, statement: str, values: Sequence[object] = ()) -> Any:
        return fault.at_the_driver(statements, statement, values)

    watched = store._database.engine
    hooks: list[tuple[str, Callable[..., None]]] = [
        ("before_cursor_execute", fault.before_statement),
        ("after_cursor_execute", fault.after_statement),
        ("commit", fault.commit),
    ]
    for name, hook in hooks:
        event.listen(watched, name, hook)
    try:
        with pytest.MonkeyPatch.context() as patched:
            patched.setattr(Statements, "run", run)
            yield fault
    finally:
        for name, hook in hooks:
            event.remove(watched, name, hook)


def everything(store: SqlStore) -> object:
    entries = [(e.seq, e.digest, e.header_bytes, e.body) for e in store.entries()]
    documents = store.list_documents("site")
    people = store.get_pin("wren"), store.list_accounts(), store.get_session("aa")
    return entries, store.list_drafts("Wren Adair"), documents, store.list_policies(), store.list_types(), people


AT_SERVER = "after SELECT * FROM riskboard_append"
ACCOUNT = AccountRecord("wren", "wren", "hash", "", "", NOON)
ACTIONS: dict[str, Callable[[SqlStore], object]] = {
    "append": lambda store: store.append(intent(7)),
    "append_together": lambda store: store.append(
        intent(7),
        head=2,
        documents=[DocumentChange("site", "meadow", "2"), DocumentChange("site", "hill", "3")],
        access=[ACCOUNT, PinChange("wren", "new")],
        types=[TypeText("aa", "heron", 1, "Heron 1", "text", NOON)],
    ),
    "erase": lambda store: store.erase(intent(8, kind="erased", body={"reason": "asked"}), [2], drafts=["d"]),
    "save_draft": lambda store: store.save_draft("d", "2", owner="Wren Adair", at=NOON),
    "put_document": lambda store: store.put_document("site", "meadow", "2", at=NOON),
    "publish_policy": lambda store: store.publish_policy(PolicyText("aa", "meadow", 1, "text", NOON)),
    "claim_pin_attempt": lambda store: store.claim_pin_attempt("wren", at=NOON, may_try=lambda *_: True),
    "put_account": lambda store: store.put_account(ACCOUNT, at=NOON),
    "open_session": lambda store: store.open_session(SessionRecord("aa", "wren", "passphrase", NOON, NOON)),
}


@pytest.mark.parametrize("name", ACTIONS)
def test_a_fault_at_any_point_changes_nothing_and_the_action_can_be_repeated(store: SqlStore, name: str) -> None:
    store.append(intent(1))
    store.save_draft("d", "1", owner="Wren Adair", at=NOON)
    store.set_pin_hash("wren", "hash", at=NOON)
    before = everything(store)
    points: list[str] = []
    for fail_at in range(1, 60):
        with injected(store, fail_at) as fault:
            try:
                ACTIONS[name](store)
            except NotWrittenError as error:
                said = str(error)
            else:
                break
        points.append(fault.point)
        assert "Nothing was acknowledged" in said
        if fault.point.startswith(AT_SERVER) and name == "append":
            # The statement was the whole transaction: the record stands, only its acknowledgement went missing.
            assert store.append(intent(7))[1].size == 3
            break
        assert everything(store) == before
        assert store.verify() == []
    assert everything(store) != before
    assert store.verify() == []
    if name == "append" and not store._database.is_sqlite:
        assert [point[:6] for point in points] == ["before", "after "]
        return
    assert "at the commit" in points
    assert sum(point.startswith(("before INSERT", "before UPDATE", "before DELETE")) for point in points) >= 1
    if name == "append":
        # Entry and body, before and after each: that these four were tried is the point of the test.
        assert sum("INSERT INTO" in point for point in points) == 4


def test_a_fault_while_the_file_is_rebuilt_is_reported_and_mended_by_repeating(store: SqlStore) -> None:
    store.append(intent(1))
    erase = ACTIONS["erase"]
    erase(store)
    reported = 0
    for fail_at in range(1, 60):
        with injected(store, fail_at) as fault:
            try:
                done: Any = erase(store)
            except NotWrittenError:
                continue
        if not fault.point:
            break
        reported += 1
        assert not done.scrubbed
        assert "was not rebuilt" in done.left[0]
    assert reported >= 2
    assert done.scrubbed
    assert store.head().size == 3
    assert store.verify() == []
