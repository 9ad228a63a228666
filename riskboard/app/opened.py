"""The school's store, opened once for everything in this process: pages, and the way in."""

from functools import lru_cache
from pathlib import Path

from riskboard import jobs
from riskboard.app import clock
from riskboard.jobs.place import database_address

__all__ = ["opened_office"]


@lru_cache(maxsize=8)
def _opened(address: str) -> jobs.Office:
    if "://" not in address:
        Path(address).parent.mkdir(parents=True, exist_ok=True)
    return jobs.open_office(address, now=clock.now())


def opened_office() -> jobs.Office:
    """The office that the environment names.

    Raises:
        LedgerError: The store cannot be opened.
    """
    return _opened(str(database_address(None)))
