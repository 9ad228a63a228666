"""Opening the school's store for a command."""

from argparse import Namespace
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime

from riskboard.cli.status import CommandError, Status
from riskboard.jobs import Office, open_office
from riskboard.jobs.place import database_address, is_made

__all__ = ["now", "opened_office"]


def now() -> datetime:
    """The one place where the command line reads the clock."""
    return datetime.now(UTC)


@contextmanager
def opened_office(options: Namespace) -> Iterator[Office]:
    """The store that the options and the environment name; closed at the end.

    Raises:
        CommandError: There is none yet. Reading must not make one: an empty log would verify without a finding.
    """
    where = database_address(options.database)
    if not is_made(where):
        place = where if "://" not in str(where) else "that address"
        raise CommandError(f"there is no riskboard store at {place}; check --database", Status.no_store)
    office = open_office(where, now=now())
    try:
        yield office
    finally:
        office.store.close()
