"""``riskboard store``: backing up, restoring, and saying what a store holds."""

from argparse import Namespace
from pathlib import Path

from riskboard.cli.office import now
from riskboard.cli.refusals import refusals
from riskboard.cli.status import Status
from riskboard.cli.text import say, table, wrapped
from riskboard.jobs.keeping import Kept, back_up, restore, store_info
from riskboard.jobs.place import database_address

__all__ = ["backup", "info", "put_back"]

_GUARD = (
    "The file holds everything the store holds, health answers and hashes of PINs among it: keep it as safe as the "
    "store. Nobody stays signed in by it."
)
_KEEP = "Keep this receipt apart from the file: it shows later whether the log in it was cut or rewritten."


def backup(options: Namespace) -> Status:
    """Copy the store into a new file, and verify it."""
    with refusals():
        made = back_up(database_address(options.database), Path(options.file), now=now())
    say(f"{made.receipt.size} records backed up to {made.place}.")
    status = _verified(made)
    for line in (_KEEP, _GUARD):
        say(wrapped(line))
    return status


def put_back(options: Namespace) -> Status:
    """Put a backup into an empty place."""
    with refusals():
        where = database_address(options.database)
        made = restore(Path(options.file), where, now=now(), receipt_code=options.receipt)
    say(f"{made.receipt.size} records restored to {made.place}.")
    status = _verified(made)
    if options.receipt is None:
        say(wrapped("Without a receipt, nobody can tell whether this is the latest backup; give one with --receipt."))
    return status


def _verified(made: Kept) -> Status:
    for finding in made.findings:
        say(str(finding))
    say(f"Verified, {len(made.findings)} findings." if made.findings else "Verified, no finding.")
    say(f"Receipt: {made.receipt.code}")
    return Status.found if made.findings else Status.fine


def info(options: Namespace) -> Status:
    """Say what the store holds, without changing anything in it."""
    with refusals():
        found = store_info(database_address(options.database))
    schema = f"{found.version}" + ("" if found.version == found.newest else f", {found.newest} once riskboard opens it")
    rows = [
        ("place", found.place),
        ("kind", "SQLite file" if found.is_file else "PostgreSQL database"),
        ("schema", schema),
        ("records", str(found.receipt.size)),
        ("last record", f"{found.receipt.at:%Y-%m-%d %H:%M:%SZ}"),
        ("receipt", found.receipt.code),
        *((name.replace("_", " "), str(count)) for name, count in found.counts.items()),
    ]
    for line in table(rows):
        say(line)
    return Status.fine
