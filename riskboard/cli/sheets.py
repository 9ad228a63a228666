"""``riskboard sheet``: sheets to print, written as PDF files."""

import os
from argparse import Namespace
from collections.abc import Callable
from contextlib import nullcontext
from pathlib import Path

from riskboard.cli.office import now, opened_office
from riskboard.cli.refusals import refusals
from riskboard.cli.status import CommandError, Status
from riskboard.cli.text import say
from riskboard.jobs import NoSheetError, Office, kneeboard, release_sheet
from riskboard.jobs.files import read_policy_file
from riskboard.jobs.place import DATABASE_VARIABLE
from riskboard.jobs.sheets import blank_worksheet

__all__ = ["blank", "kneeboard_card", "release"]


def blank(options: Namespace) -> Status:
    """Write a blank paper worksheet."""
    with refusals():
        policy, policy_id = None, options.policy
        if policy_id is not None and (Path(policy_id).suffix in {".yaml", ".yml"} or Path(policy_id).is_file()):
            policy, policy_id = read_policy_file(Path(policy_id)), None
        stored = options.database is not None or bool(os.environ.get(DATABASE_VARIABLE))
        with opened_office(options) if stored else nullcontext() as office:
            _, pdf = blank_worksheet(office, policy=policy, policy_id=policy_id, paper=options.paper, at=now())
        return _written(options, pdf)


def release(options: Namespace) -> Status:
    """Write the release sheet of a flight."""
    return _of_flight(options, release_sheet)


def kneeboard_card(options: Namespace) -> Status:
    """Write the kneeboard card of a flight."""
    return _of_flight(options, kneeboard)


def _of_flight(options: Namespace, make: Callable[..., tuple[str, bytes]]) -> Status:
    with refusals():
        with opened_office(options) as office:
            pdf = _printed(office, options, make)
        return _written(options, pdf)


def _printed(office: Office, options: Namespace, make: Callable[..., tuple[str, bytes]]) -> bytes:
    try:
        # Nobody in particular: whoever may run commands at the store itself. Health answers stay out.
        _, pdf = make(office, None, options.flight, paper=options.paper, at=now())
    except NoSheetError as error:
        raise CommandError(str(error)) from error
    return pdf


def _written(options: Namespace, pdf: bytes) -> Status:
    with Path(options.out).open("xb") as out:
        out.write(pdf)
    say(f"{options.out} written.")
    return Status.fine
