"""From an old file to the present schema, and what must not be opened."""

import sqlite3
from pathlib import Path

import pytest
from sqlalchemy import inspect

from riskboard.ledger import migrations, schema
from riskboard.ledger.errors import NewerLedgerError, NotWrittenError
from riskboard.ledger.migrations import MIGRATIONS, Migration
from riskboard.ledger.receipt import Receipt
from riskboard.ledger.sql import SqlStore
from riskboard.ledger.store import AccountRecord, SessionRecord, TypeText
from tests.ledger.conftest import Opener
from tests.ledger.made_logs import NOON, intent, sound_log


def test_the_tables_that_queries_see_are_those_that_the_steps_make(store: SqlStore) -> None:
    found = inspect(store._database.engine)
    assert set(found.get_table_names()) == set(schema.metadata.tables)
    for name, table in schema.metadata.tables.items():
        columns = {column["name"]: bool(column["nullable"]) for column in found.get_columns(name)}
        # SQLite lets a TEXT PRIMARY KEY say it may be null; what counts is which columns a row must fill.
        keys = {column.name for column in table.primary_key}
        assert set(columns) == {column.name for column in table.columns}
        assert {n: v for n, v in columns.items() if n not in keys} == {
            column.name: bool(column.nullable) for column in table.columns if column.name not in keys
        }


def test_versions_count_from_one_without_gaps() -> None:
    assert [step.version for step in MIGRATIONS] == list(range(1, len(MIGRATIONS) + 1))


def next_step(*statements: str) -> tuple[Migration, ...]:
    return (*MIGRATIONS, Migration(len(MIGRATIONS) + 1, statements, statements))


def test_an_older_store_is_brought_up_to_date_with_its_log(
    where: str, opener: Opener, monkeypatch: pytest.MonkeyPatch
) -> None:
    old = opener(where)
    _, receipt = old.append(intent(1))
    old.close()
    monkeypatch.setattr(migrations, "MIGRATIONS", next_step("ALTER TABLE draft ADD COLUMN colour TEXT"))
    monkeypatch.setattr("riskboard.ledger.founding.MIGRATIONS", migrations.MIGRATIONS)
    store = opener(where)
    assert store.verify(receipt) == []
    assert "colour" in {column["name"] for column in inspect(store._database.engine).get_columns("draft")}
    with store._database.reading() as connection:
        rows = connection.execute(schema.schema_version.select()).all()
    assert [row.version for row in rows] == list(range(1, len(MIGRATIONS) + 2))


def test_a_step_that_fails_leaves_the_store_as_it_was(
    where: str, opener: Opener, monkeypatch: pytest.MonkeyPatch
) -> None:
    _, receipt = opener(where).append(intent(1))
    with monkeypatch.context() as patched:
        steps = next_step("ALTER TABLE draft ADD COLUMN colour TEXT", "ALTER TABLE nowhere ADD COLUMN x TEXT")
        patched.setattr(migrations, "MIGRATIONS", steps)
        patched.setattr("riskboard.ledger.founding.MIGRATIONS", steps)
        with pytest.raises(NotWrittenError, match="nowhere"):
            opener(where)
    store = opener(where)
    assert store.verify(receipt) == []
    assert "colour" not in {column["name"] for column in inspect(store._database.engine).get_columns("draft")}


def test_the_file_says_which_program_it_belongs_to(tmp_path: Path, opener: Opener) -> None:
    opener(tmp_path / "log.sqlite3", now=NOON).close()
    bare = sqlite3.connect(tmp_path / "log.sqlite3")
    assert bare.execute("PRAGMA application_id").fetchone() == (int.from_bytes(b"RBL1", "big"),)
    bare.close()


OLD_FILE = Path(__file__).with_name("version_1.sql")
"""A store with version 1 of the schema, written by the program of that time and dumped as text."""
OLD_RECEIPT = "4Y94-T1Y0-0000-0CD6-J3BY-4RM4-4B5A-410H-BSYS-SZ5N-84TH-N7ZJ"
"""What that program printed for it."""


FILE_3 = Path(__file__).with_name("version_3.sql")
"""The same, with version 3."""
RECEIPT_3 = "691C-0W60-0000-0CD6-J3BY-4SRM-E2SX-D73G-65ZR-MYZE-0GM6-K453"


def undumped(dump: Path, path: Path) -> Path:
    bare = sqlite3.connect(path)
    bare.executescript(dump.read_text(encoding="utf-8"))
    bare.close()
    return path


@pytest.fixture
def old_file(tmp_path: Path) -> Path:
    return undumped(OLD_FILE, tmp_path / "old.sqlite3")


def test_a_file_of_the_first_program_opens_upgrades_and_goes_on(old_file: Path, opener: Opener) -> None:
    receipt = Receipt.from_code(OLD_RECEIPT)
    store = opener(old_file)
    assert store.verify(receipt) == []
    assert store.head() == receipt
    assert [entry.body is None for entry in store.entries()] == [False, False, True, False, False, False]
    assert store.find_by_event_id("event-2") is not None
    draft, document = store.load_draft("draft-1"), store.get_document("aircraft", "meadow-01")
    assert draft is not None
    assert document is not None
    assert (draft.text, draft.owner, document.text) == ('{"gust_kt": 12}', "Wren Adair", '{"meter_h": 812.4}')
    assert [policy.text for policy in store.list_policies()] == ["id: meadow\n"]
    pin = store.get_pin("wren")
    assert pin is not None
    assert pin.pin_hash == "an invented hash"
    store.put_account(AccountRecord("wren", "wren", "hash", "", "", NOON), at=NOON)
    store.open_session(SessionRecord("aa", "wren", "passphrase", NOON, NOON))
    _, later = store.append(intent(60, kind="role_given"), head=6)
    assert [entry.seq for entry in store.entries(kinds=["role_given"])] == [7]
    assert store.verify([receipt, later]) == []


def test_a_file_without_aircraft_types_gets_room_for_them_and_keeps_the_rest(tmp_path: Path, opener: Opener) -> None:
    receipt = Receipt.from_code(RECEIPT_3)
    store = opener(undumped(FILE_3, tmp_path / "old.sqlite3"))
    assert store.verify(receipt) == []
    assert store.head() == receipt
    assert [entry.body is None for entry in store.entries()] == [False, False, True, False, False, False]
    account, session, pin = store.get_account("wren"), store.get_session("aa"), store.get_pin("wren")
    assert account is not None
    assert session is not None
    assert pin is not None
    assert (account.passphrase_hash, session.ended_at, pin.pin_hash) == (
        "another invented hash",
        None,
        "an invented hash",
    )
    assert [policy.text for policy in store.list_policies()] == ["id: meadow\n"]
    assert store.list_types() == []
    heron = TypeText("aa", "heron", 1, "Heron 1", "id: heron\n", NOON)
    _, later = store.append(intent(60, kind="type_published"), head=6, types=[heron])
    assert store.list_types() == [heron]
    assert store.verify([receipt, later]) == []


def test_the_program_before_this_one_refuses_a_store_of_this_one(
    where: str, opener: Opener, monkeypatch: pytest.MonkeyPatch
) -> None:
    heron = TypeText("aa", "heron", 1, "Heron 1", "id: heron\n", NOON)
    _, receipt = opener(where).append(intent(1, kind="type_published"), types=[heron])
    with monkeypatch.context() as patched:
        patched.setattr(migrations, "MIGRATIONS", MIGRATIONS[:3])
        patched.setattr("riskboard.ledger.founding.MIGRATIONS", MIGRATIONS[:3])
        with pytest.raises(NewerLedgerError, match=f"version {MIGRATIONS[-1].version}, this program knows up to 3"):
            opener(where)
    assert opener(where).verify(receipt) == []


def tables(file: Path) -> list[tuple[str, str]]:
    bare = sqlite3.connect(file)
    rows = bare.execute("SELECT name, sql FROM sqlite_master WHERE sql IS NOT NULL ORDER BY name").fetchall()
    bare.close()
    return rows


def test_the_first_step_is_the_one_that_was_released(
    old_file: Path, tmp_path: Path, opener: Opener, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(migrations, "MIGRATIONS", MIGRATIONS[:1])
    monkeypatch.setattr("riskboard.ledger.founding.MIGRATIONS", MIGRATIONS[:1])
    opener(tmp_path / "first.sqlite3").close()
    assert tables(tmp_path / "first.sqlite3") == tables(old_file)


def test_the_first_three_steps_are_those_that_were_released(
    tmp_path: Path, opener: Opener, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(migrations, "MIGRATIONS", MIGRATIONS[:3])
    monkeypatch.setattr("riskboard.ledger.founding.MIGRATIONS", MIGRATIONS[:3])
    opener(tmp_path / "third.sqlite3").close()
    assert tables(tmp_path / "third.sqlite3") == tables(undumped(FILE_3, tmp_path / "old.sqlite3"))


def test_a_store_of_the_first_version_upgrades_on_either_database(
    where: str, opener: Opener, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as patched:
        patched.setattr(migrations, "MIGRATIONS", MIGRATIONS[:1])
        patched.setattr("riskboard.ledger.founding.MIGRATIONS", MIGRATIONS[:1])
        old = opener(where, adopt=sound_log(3))
        receipt = old.head()
        old.put_document("site", "meadow", "1", at=NOON)
        assert "account" not in inspect(old._database.engine).get_table_names()
        old.close()
    store = opener(where)
    assert store.verify(receipt) == []
    assert store.get_document("site", "meadow") is not None
    store.put_account(AccountRecord("wren", "wren", "hash", "", "", NOON), at=NOON)
    assert store.append(intent(7), head=3)[1].size == 4
