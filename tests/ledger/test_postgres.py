"""What holds on PostgreSQL beyond the shared contract."""

import threading
import time
from collections.abc import Iterator
from typing import Any

import pytest
from sqlalchemy import Engine, create_engine, event
from sqlalchemy.engine import make_url
from sqlalchemy.exc import DBAPIError, IntegrityError

from riskboard.ledger import errors
from riskboard.ledger.entry import seal
from riskboard.ledger.migrations import postgres_grants
from riskboard.ledger.sql import SqlStore
from riskboard.ledger.store import DocumentChange, TypeText
from tests.ledger.conftest import Opener
from tests.ledger.made_logs import NOON, intent

pytestmark = pytest.mark.postgres


@pytest.fixture
def kept(postgres_url: str, opener: Opener) -> SqlStore:
    store = opener(postgres_url)
    for number in range(1, 4):
        store.append(intent(number), types=[TypeText(f"{number}", "heron", number, "Heron", "text", NOON)])
    return store


@pytest.fixture
def owner(postgres_url: str) -> Iterator[Engine]:
    engine = create_engine(make_url(postgres_url).set(drivername="postgresql+psycopg"))
    yield engine
    engine.dispose()


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE entry SET subject = 'x'",
        "DELETE FROM entry WHERE seq = 4",
        "TRUNCATE entry CASCADE",
        "UPDATE entry_body SET content = 'x'",
        "DELETE FROM entry_body WHERE seq = 3",
        "TRUNCATE entry_body",
        "UPDATE log SET turn = 1",
        "DELETE FROM log",
        "TRUNCATE log",
        "TRUNCATE policy_text",
        "UPDATE type_text SET content = 'x'",
        "DELETE FROM type_text",
        "TRUNCATE type_text",
        "INSERT INTO entry SELECT 9, repeat('1', 64), repeat('2', 64), 'e', kind, subject, header FROM entry LIMIT 1",
        "INSERT INTO entry_body SELECT 2, salt, content FROM entry_body WHERE seq = 4",
    ],
)
def test_a_stray_statement_is_refused_by_the_database(kept: SqlStore, owner: Engine, statement: str) -> None:
    receipt = kept.head()
    with (
        pytest.raises(IntegrityError, match=r"append-only|must follow|comes with its entry"),
        owner.begin() as connection,
    ):
        connection.exec_driver_sql(statement)
    assert kept.verify(receipt) == []


def test_an_erasure_opens_the_way_for_the_bodies_it_names_and_no_others(kept: SqlStore, owner: Engine) -> None:
    done = kept.erase(intent(50, kind="erased", body={}), [2])
    for number in (1, 3, 5):
        with pytest.raises(IntegrityError, match="append-only"), owner.begin() as connection:
            connection.exec_driver_sql(f"DELETE FROM entry_body WHERE seq = {number}")  # noqa: S608 - a number
    assert kept.verify(done.receipt) == []


def test_a_role_that_does_not_own_the_tables_can_work_and_cannot_change_the_log(
    kept: SqlStore, owner: Engine, postgres_url: str, opener: Opener
) -> None:
    url = make_url(postgres_url)
    schema = str(url.query["options"]).removeprefix("-csearch_path=")
    role = f"desk_{schema}"
    with owner.begin() as connection:
        connection.exec_driver_sql(f"CREATE ROLE {role} LOGIN")
        connection.exec_driver_sql(f"GRANT USAGE ON SCHEMA {schema} TO {role}")
        for statement in postgres_grants(role):
            connection.exec_driver_sql(statement)
    try:
        desk_url = url.set(username=role, password=None).render_as_string(hide_password=False)
        desk = opener(desk_url)
        _, receipt = desk.append(intent(9), types=[TypeText("9", "heron", 9, "Heron", "text", NOON)])
        desk.save_draft("d", "1", owner="Wren Adair", at=intent(9).at)
        done = desk.erase(intent(50, kind="erased", body={}), [2], drafts=["d"])
        assert not done.scrubbed  # rebuilding a table is its owner's right
        assert kept.verify([receipt, done.receipt]) == []
        for statement in ("DROP TRIGGER entry_no_update ON entry", "UPDATE entry SET kind = 'x'", "TRUNCATE draft"):
            with (
                pytest.raises(DBAPIError, match=r"permission denied|must be owner"),
                desk._database.engine.begin() as connection,
            ):
                connection.exec_driver_sql(statement)
        desk.close()
    finally:
        with owner.begin() as connection:
            connection.exec_driver_sql(f"DROP OWNED BY {role}")
            connection.exec_driver_sql(f"DROP ROLE {role}")


def test_grants_take_plain_names_only() -> None:
    with pytest.raises(ValueError, match="plain role name"):
        postgres_grants("desk; DROP TABLE entry")


def test_a_log_that_others_keep_says_so(kept: SqlStore, owner: Engine, postgres_url: str, opener: Opener) -> None:
    hasty = opener(postgres_url, lock_timeout_s=0.1)
    with owner.begin() as connection:
        connection.exec_driver_sql("SELECT 1 FROM log FOR UPDATE")
        with pytest.raises(errors.LockedError, match="Nothing was acknowledged"):
            hasty.append(intent(9))
    assert hasty.append(intent(9))[1].size == 5
    assert kept.verify() == []


def waiting_backend(owner: Engine, pids: list[int]) -> int:
    """The last of the backends, once it waits for a lock."""
    deadline = time.monotonic() + 5
    while time.monotonic() < deadline:
        with owner.connect() as connection:
            query = f"SELECT 1 FROM pg_stat_activity WHERE wait_event_type = 'Lock' AND pid = {[0, *pids][-1]}"  # noqa: S608
            if connection.exec_driver_sql(query).first() is not None:
                return pids[-1]
    raise TimeoutError


def end_of(owner: Engine, pid: int) -> bool:
    with owner.connect() as connection:
        return bool(connection.exec_driver_sql(f"SELECT pg_terminate_backend({pid}, 5000)").scalar_one())


@pytest.fixture
def backends(kept: SqlStore) -> list[int]:
    """The backends that were asked for a connection, in order."""
    pids: list[int] = []
    event.listen(kept._database._by_itself, "checkout", lambda driver, *_: pids.append(driver.info.backend_pid))
    return pids


def test_an_append_whose_connection_is_lost_is_done_again_on_another_and_stands_once(
    kept: SqlStore, owner: Engine, backends: list[int]
) -> None:
    done: list[int] = []
    writer = threading.Thread(target=lambda: done.append(kept.append(intent(9))[1].size))
    with owner.begin() as connection:
        connection.exec_driver_sql("SELECT 1 FROM log FOR UPDATE")
        writer.start()
        assert end_of(owner, waiting_backend(owner, backends))
        assert waiting_backend(owner, backends) == backends[-1]
    writer.join(10)
    assert done == [5]
    assert kept.verify() == []


def test_an_append_whose_connection_is_lost_twice_is_said_and_can_be_repeated(
    kept: SqlStore, owner: Engine, backends: list[int]
) -> None:
    said: list[str] = []

    def append() -> None:
        with pytest.raises(errors.LostConnectionError) as caught:
            kept.append(intent(9))
        said.append(str(caught.value))

    with owner.begin() as connection:
        connection.exec_driver_sql("SELECT 1 FROM log FOR UPDATE")
        writer = threading.Thread(target=append)
        writer.start()
        first = waiting_backend(owner, backends)
        assert end_of(owner, first)
        while (second := waiting_backend(owner, backends)) == first:
            pass
        assert end_of(owner, second)
        writer.join(10)
    assert len(said) == 1
    assert "will not be recorded twice" in said[0]
    assert kept.head().size == 4
    assert kept.append(intent(9))[1].size == 5
    assert kept.verify() == []


def test_a_connection_lost_at_the_commit_is_said_and_nothing_of_the_action_stands(
    kept: SqlStore, owner: Engine
) -> None:
    def cut(writing: Any) -> None:
        assert end_of(owner, writing.connection.dbapi_connection.info.backend_pid)

    together = [DocumentChange("site", "meadow", "1")]
    event.listen(kept._database.engine, "commit", cut)
    with pytest.raises(errors.LostConnectionError, match="will not be recorded twice"):
        kept.append(intent(9), documents=together)
    event.remove(kept._database.engine, "commit", cut)
    assert kept.get_document("site", "meadow") is None
    assert kept.append(intent(9), documents=together)[1].size == 5
    assert kept.get_document("site", "meadow") is not None
    assert kept.verify() == []


def test_a_server_that_was_started_again_is_found_again(kept: SqlStore, owner: Engine) -> None:
    with kept._database.reading() as connection:
        driver: Any = connection.connection.driver_connection
        pid = driver.info.backend_pid
    assert end_of(owner, pid)
    assert kept.append(intent(9))[1].size == 5


def test_a_fault_inside_the_server_function_leaves_nothing(kept: SqlStore, owner: Engine) -> None:
    for table in ("entry", "entry_body"):
        with owner.begin() as connection:
            connection.exec_driver_sql(f"ALTER TABLE {table} ADD CONSTRAINT full_up CHECK (seq < 5) NOT VALID")
        with pytest.raises(errors.NotWrittenError, match="Nothing was acknowledged"):
            kept.append(intent(9))
        with owner.begin() as connection:
            connection.exec_driver_sql(f"ALTER TABLE {table} DROP CONSTRAINT full_up")
        assert kept.head().size == 4
    assert kept.append(intent(9))[1].size == 5
    assert kept.verify() == []


def test_the_server_writes_the_same_header_as_the_program(kept: SqlStore) -> None:
    odd = intent(
        9, actor='Zo\u00eb "Wren" \\ Adair', role="r\u2028", subject="\U0001d518 {}", policy_digest='"', body={}
    )
    entry, _ = kept.append(odd)
    before = list(kept.entries())[-2]
    assert entry.body is not None
    again = seal(odd, origin=entry.header.origin, seq=5, prev=before.digest, salt=entry.body.salt)
    assert (entry.header_bytes, entry.digest, entry.body) == (again.header_bytes, again.digest, again.body)


def test_a_server_that_is_not_there_is_said(opener: Opener, postgres_url: str) -> None:
    url = make_url(postgres_url).set(port=1, password="swordfish")  # noqa: S106 - must not be shown
    with pytest.raises(errors.LostConnectionError) as caught:
        opener(url.render_as_string(hide_password=False))
    assert "swordfish" not in str(caught.value)


def test_a_read_only_database_says_so(kept: SqlStore, postgres_url: str, opener: Opener) -> None:
    options = str(make_url(postgres_url).query["options"]) + " -cdefault_transaction_read_only=on"
    url = make_url(postgres_url).update_query_dict({"options": options})
    reader = opener(url.render_as_string(hide_password=False))
    assert reader.verify(kept.head()) == []
    with pytest.raises(errors.ReadOnlyError, match="Nothing was acknowledged"):
        reader.append(intent(9))


def test_server_defaults_of_another_isolation_and_durability_do_not_matter(
    kept: SqlStore, postgres_url: str, opener: Opener
) -> None:
    extra = " -cdefault_transaction_isolation=serializable -csynchronous_commit=off"
    url = make_url(postgres_url).update_query_dict({"options": str(make_url(postgres_url).query["options"]) + extra})
    store = opener(url.render_as_string(hide_password=False))
    with store._database.writing() as connection:
        assert connection.exec_driver_sql("SHOW transaction_isolation").scalar_one() == "read committed"
        assert connection.exec_driver_sql("SHOW synchronous_commit").scalar_one() == "on"
    shown = store._database.in_one_append(lambda here: here.run("SHOW transaction_isolation").fetchone())
    assert shown == ("read committed",)
    kept.append(intent(9))
    assert store.append(intent(10))[1].size == 6
