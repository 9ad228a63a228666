"""``riskboard log`` and ``riskboard recheck``: reading the risk log. Nothing here writes to it."""

import json
import sys
from argparse import Namespace
from itertools import islice
from pathlib import Path
from typing import TextIO, cast

from riskboard.cli.office import opened_office
from riskboard.cli.refusals import refusals
from riskboard.cli.status import CommandError, Status
from riskboard.cli.text import harmless_json, say, say_json, wrapped
from riskboard.jobs import export_log, log_entries, verify_log
from riskboard.jobs import recheck as recheck_log
from riskboard.ledger import Entry
from riskboard.ledger.entry import UnreadableError

__all__ = ["export", "recheck", "show", "verify"]

_NO_RECEIPT = "Without a receipt kept elsewhere, a cut tail or a full rewrite cannot be seen; give one with --receipt."


def verify(options: Namespace) -> Status:
    """Verify the whole log."""
    with refusals(), opened_office(options) as office:
        findings = verify_log(office, options.receipt)
        count = sum(1 for _ in log_entries(office))
    for finding in findings:
        say(str(finding))
    say(f"{count} records, {len(findings)} findings." if findings else f"{count} records verified, no finding.")
    if options.receipt is None:
        say(_NO_RECEIPT)
    return Status.found if findings else Status.fine


def show(options: Namespace) -> Status:
    """List the records, or print one in full."""
    with refusals(), opened_office(options) as office:
        if options.seq is None:
            for entry in log_entries(office):
                say(_row(entry))
            return Status.fine
        found = next((entry for entry in islice(log_entries(office, options.seq), 1)), None)
    if found is None or found.seq != options.seq:
        raise CommandError(f"there is no record {options.seq}")
    say(_row(found))
    say_json(_body(found))
    return Status.fine


def _row(entry: Entry) -> str:
    try:
        header = entry.header
    except UnreadableError as error:
        return f"{entry.seq:>6}  unreadable: {error}"
    what = f"{header.kind}  {header.subject}"
    return f"{entry.seq:>6}  {header.at:%Y-%m-%d %H:%M:%SZ}  {header.actor} ({header.role})  {what}"


def _body(entry: Entry) -> str:
    if entry.body is None:
        return "null"
    try:
        return json.dumps(entry.body.value, indent=2, ensure_ascii=False)
    except UnreadableError as error:
        return json.dumps({"unreadable": str(error)})


class _Screen:
    """Standard output for an export: the same JSON, without characters that a terminal obeys."""

    def write(self, text: str) -> int:
        return sys.stdout.write(harmless_json(text))


def export(options: Namespace) -> Status:
    """Write the log as JSON Lines, to a new file or to standard output."""
    with refusals(), opened_office(options) as office:
        if options.file is None:
            export_log(office, cast("TextIO", _Screen()))  # writing is all that an export does
            return Status.fine
        with Path(options.file).open("x", encoding="utf-8", newline="") as out:
            count = export_log(office, out)
    say(f"{count} records written to {options.file}.")
    return Status.fine


def recheck(options: Namespace) -> Status:
    """Score every past decision again under its own stored policy."""
    with refusals(), opened_office(options) as office:
        result = recheck_log(office)
    for finding in result.findings:
        say(f"record {finding.seq}: {finding.message}")
    for sentence in (*result.policies, *result.types):
        say(wrapped(sentence, rest="  "))
    same = result.decisions - len(result.findings)
    say(f"{same} of {result.decisions} past decisions come out the same; {result.without} records hold none.")
    return Status.found if result.findings else Status.fine
