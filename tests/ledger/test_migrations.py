import sqlite3
from pathlib import Path

import pytest
from sqlalchemy import inspect

from riskboard.ledger import migrations, schema
from riskboard.ledger.errors import NotWrittenError
from riskboard.ledger.migrations import MIGRATIONS, Migration
from riskboard.ledger.sql import SqlStore
from tests.ledger.conftest import Opener
from tests.ledger.made_logs import NOON, intent


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
    monkeypatch.setattr("riskboard.ledger.sql.MIGRATIONS", migrations.MIGRATIONS)
    store = opener(where)
    assert store.verify(receipt) == []
    assert "colour" in {column["name"] for column in inspect(store._database.engine).get_columns("draft")}
    with store._database.reading() as connection:
        rows = connection.execute(schema.schema_version.select()).all()
    assert [row.version for row in rows] == [1, 2]


def test_a_step_that_fails_leaves_the_store_as_it_was(
    where: str, opener: Opener, monkeypatch: pytest.MonkeyPatch
) -> None:
    _, receipt = opener(where).append(intent(1))
    with monkeypatch.context() as patched:
        steps = next_step("ALTER TABLE draft ADD COLUMN colour TEXT", "ALTER TABLE nowhere ADD COLUMN x TEXT")
        patched.setattr(migrations, "MIGRATIONS", steps)
        patched.setattr("riskboard.ledger.sql.MIGRATIONS", steps)
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
