"""``riskboard log erase``: what a person said about their health goes, at their request. There is no way back."""

import getpass
import secrets
import sys
from argparse import Namespace

from riskboard.cli.office import now, opened_office
from riskboard.cli.refusals import refusals
from riskboard.cli.status import CommandError, Status
from riskboard.cli.text import say
from riskboard.jobs import NotSignedError
from riskboard.jobs.erasing import WORDS, ErasureSignature, erase_health, flights_with_health

__all__ = ["run"]


def run(options: Namespace) -> Status:
    """Erase, once the person's id was typed and the PIN was right."""
    event_id = options.event or secrets.token_hex(16)
    with refusals(), opened_office(options) as office:
        flights = tuple(options.flight) or None
        held = flights_with_health(office, options.person)
        say(f"Flights on record that hold what {options.person} said about their health: {len(held)}.")
        for flight_id in held if flights is None else flights:
            say(f"  {flight_id}")
        say("Unfinished worksheets of theirs go too." if flights is None else "Only the flights named.")
        say(WORDS)
        if _ask(f"Type {options.person} to erase, anything else to leave all as it is: ") != options.person:
            raise CommandError("nothing was erased: the id that was typed is another one")
        signature = ErasureSignature(options.signed_by, _pin(options.signed_by), event_id, options.why)
        try:
            done = erase_health(office, signature, options.person, flights, at=now())
        except NotSignedError as error:
            raise CommandError(str(error)) from error
    say(f"Erased. Record {done.entry.seq}, receipt {done.receipt.code}")
    for sentence in done.left:
        say(sentence)
    if done.scrubbed:
        return Status.fine
    say(f"To repeat it: the same command with --event {event_id}")
    return Status.found


def _ask(question: str) -> str:
    sys.stdout.write(question)
    sys.stdout.flush()
    return sys.stdin.readline().strip()


def _pin(person_id: str) -> str:
    question = f"PIN of {person_id}, who signs: "
    return getpass.getpass(question) if sys.stdin.isatty() else _ask(question)
