"""Where a school's store is: as the command line or the environment says, else a file in the user's data folder."""

import os
import sys
from collections.abc import Mapping
from pathlib import Path

__all__ = ["DATABASE_VARIABLE", "database_address", "default_database", "is_made"]

DATABASE_VARIABLE = "RISKBOARD_DATABASE_URL"


def default_database(environment: Mapping[str, str] = os.environ, platform: str = sys.platform) -> Path:
    """The SQLite file used when nothing else is said, in the folder that the system keeps for a user's data."""
    home = Path.home()
    if platform == "darwin":
        folder = home / "Library" / "Application Support"
    elif platform == "win32":
        folder = Path(environment.get("LOCALAPPDATA") or home / "AppData" / "Local")
    else:
        given = Path(environment.get("XDG_DATA_HOME") or "")
        folder = given if given.is_absolute() else home / ".local" / "share"  # the standard says to ignore others
    return folder / "riskboard" / "riskboard.sqlite3"


def database_address(given: str | None, environment: Mapping[str, str] = os.environ) -> str | Path:
    """The store to use: what was given, else the environment's, else the user's own file."""
    return given or environment.get(DATABASE_VARIABLE) or default_database(environment)


def is_made(where: str | Path) -> bool:
    """Whether there is a store already. Reading a log must not make an empty one and then call it sound.

    Raises:
        LedgerError: The place cannot be looked at, or holds something else.
    """
    from riskboard.ledger.engine import Database, database_url  # noqa: PLC0415  - the database driver loads on demand
    from riskboard.ledger.migrations import current_version  # noqa: PLC0415  - as above

    url = database_url(where)
    if url.drivername == "sqlite" and not Path(str(url.database)).is_file():
        return False
    database = Database(where, lock_timeout_s=10.0)
    try:
        with database.reading() as connection:
            return current_version(connection, database.place) > 0
    finally:
        database.close()
