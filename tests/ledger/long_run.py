"""``python -m tests.ledger.long_run``: the long trials of the log, with figures. Ends with 1 when something is found.

Kills 300 signings and 300 streams of records on each store, lets 8 processes write 2,000 records of which each is sent
twice, and tampers 500 times at random with a file. PostgreSQL takes part where a server is given.
"""

import argparse
import random
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.ledger.crowd import crowd
from tests.ledger.killed import fill_school, signings, streams
from tests.ledger.postgres_schema import POSTGRES, fresh_schema, given_server
from tests.ledger.tampered import tamper_at_random


def say(text: str) -> None:
    """Print at once: the trials are long."""
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


@contextmanager
def place_on(database: str) -> Iterator[str]:
    """An empty place of a kind."""
    server = given_server()
    if database == "PostgreSQL" and server is not None:
        with fresh_schema(server) as address:
            yield address
        return
    with tempfile.TemporaryDirectory(prefix="riskboard-long-") as folder:
        yield str(Path(folder) / "log.sqlite3")


def killed_signings(database: str, kills: int, seed: int) -> list[str]:
    """Kill signings by the app's own job."""
    with place_on(database) as address:
        fill_school(address)
        done = signings(address, kills, random.Random(seed))  # noqa: S311 - trials are to be repeated, not secret
    say(f"{database}: signings by the job: {done}")
    return done.findings


def killed_streams(database: str, kills: int, seed: int) -> list[str]:
    """Kill streams of records with documents."""
    with place_on(database) as address:
        done = streams(address, kills, random.Random(seed))  # noqa: S311
    say(f"{database}: streams of records with documents: {done}")
    return done.findings


def crowded(database: str, records: int, seed: int) -> list[str]:
    """Eight processes at once; then, on SQLite, tampering with what they wrote."""
    with place_on(database) as address:
        findings, spent, longest = crowd(address, writers=8, each=records // 8)
        say(
            f"{database}: {records} records by 8 processes, each sent twice: {spent:.1f} s, "
            f"longest append {longest * 1000:.0f} ms, {len(findings)} findings"
        )
        if database == "SQLite":
            begun = time.perf_counter()
            missed = tamper_at_random(Path(address), 500, random.Random(seed))  # noqa: S311
            say(f"SQLite: 500 random tamperings, {500 - len(missed)} named, {time.perf_counter() - begun:.0f} s")
            findings += [f"not named: {each}" for each in missed]
    return findings


def main() -> int:
    """Run the trials that were asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=300)
    parser.add_argument("--records", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=20260301)
    parser.add_argument("--only", choices=["signings", "streams", "crowd"], default=None)
    parser.add_argument("--on", choices=["SQLite", "PostgreSQL"], default=None)
    options = parser.parse_args()
    databases = ["SQLite"] + (["PostgreSQL"] if given_server() else [])
    if not given_server():
        say(f"No PostgreSQL server given ({POSTGRES}): its trials are left out.")
    trials: dict[str, Callable[[str], list[str]]] = {
        "signings": lambda on: killed_signings(on, options.kills, options.seed),
        "streams": lambda on: killed_streams(on, options.kills, options.seed),
        "crowd": lambda on: crowded(on, options.records, options.seed),
    }
    findings: list[str] = []
    for name, trial in trials.items():
        for database in databases:
            if options.only in {None, name} and options.on in {None, database}:
                findings += trial(database)
    for finding in findings:
        say(f"  {finding}")
    return 1 if findings else 0


if __name__ == "__main__":
    sys.exit(main())
