"""A schema of its own on the PostgreSQL server for tests, so that many can run at once."""

import os
import uuid
from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy import create_engine
from sqlalchemy.engine import make_url

__all__ = ["POSTGRES", "fresh_schema", "given_server"]

POSTGRES = "RISKBOARD_TEST_POSTGRES_URL"


def given_server() -> str | None:
    """The address of an empty database for tests, if one was given."""
    return os.environ.get(POSTGRES) or None


@contextmanager
def fresh_schema(server: str) -> Iterator[str]:
    """An address with a schema of its own, dropped afterwards."""
    name = f"t{uuid.uuid4().hex}"
    url = make_url(server).set(drivername="postgresql+psycopg")
    owner = create_engine(url, isolation_level="AUTOCOMMIT")
    with owner.connect() as connection:
        connection.exec_driver_sql(f"CREATE SCHEMA {name}")
    own = url.set(drivername="postgresql").update_query_dict({"options": f"-csearch_path={name}"})
    try:
        yield own.render_as_string(hide_password=False)
    finally:
        with owner.connect() as connection:
            connection.exec_driver_sql(f"DROP SCHEMA {name} CASCADE")
        owner.dispose()
