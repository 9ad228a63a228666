"""The stores that the contract is tried on."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from riskboard.ledger.sql import SqlStore, open_store
from tests.ledger.made_logs import NOON
from tests.ledger.postgres_schema import POSTGRES, fresh_schema, given_server

Opener = Callable[..., SqlStore]


@pytest.fixture
def postgres_url() -> Iterator[str]:
    """An address with a schema of its own, dropped afterwards."""
    server = given_server()
    if server is None:
        pytest.skip(f"no PostgreSQL server: set {POSTGRES} to postgresql://user@host/an_empty_database to run this")
    with fresh_schema(server) as address:
        yield address


@pytest.fixture(params=["sqlite", pytest.param("postgres", marks=pytest.mark.postgres)])
def where(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """The address of an empty store."""
    if request.param == "sqlite":
        return str(tmp_path / "log.sqlite3")
    return str(request.getfixturevalue("postgres_url"))


@pytest.fixture
def opener() -> Iterator[Opener]:
    """Opens stores and closes them afterwards."""
    opened: list[SqlStore] = []

    def open_one(where: str | Path, **options: object) -> SqlStore:
        store = open_store(where, **{"now": NOON, **options})  # type: ignore[arg-type]
        opened.append(store)
        return store

    yield open_one
    for store in opened:
        store.close()


@pytest.fixture
def store(where: str, opener: Opener) -> SqlStore:
    """A new store."""
    return opener(where)
