"""The stores that the contract is tried on."""

import os
import uuid
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from sqlalchemy import create_engine
from sqlalchemy.engine import make_url

from riskboard.ledger.sql import SqlStore, open_store
from tests.ledger.made_logs import NOON

POSTGRES = "RISKBOARD_TEST_POSTGRES_URL"

Opener = Callable[..., SqlStore]


@pytest.fixture
def postgres_url() -> Iterator[str]:
    """An address with a schema of its own, dropped afterwards."""
    given = os.environ.get(POSTGRES)
    if not given:
        pytest.skip(f"no PostgreSQL server: set {POSTGRES} to postgresql://user@host/an_empty_database to run this")
    name = f"t{uuid.uuid4().hex}"
    url = make_url(given).set(drivername="postgresql+psycopg")
    owner = create_engine(url, isolation_level="AUTOCOMMIT")
    with owner.connect() as connection:
        connection.exec_driver_sql(f"CREATE SCHEMA {name}")
    own = url.set(drivername="postgresql").update_query_dict({"options": f"-csearch_path={name}"})
    yield own.render_as_string(hide_password=False)
    with owner.connect() as connection:
        connection.exec_driver_sql(f"DROP SCHEMA {name} CASCADE")
    owner.dispose()


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
