"""Every command and option, as argparse sees them. Imports nothing of riskboard but its own small modules."""

import argparse
from typing import Any, NoReturn

from riskboard import __version__
from riskboard.cli.status import Status
from riskboard.cli.text import harmless

__all__ = ["build_parser"]

_ABOUT = """\
Preflight go/no-go worksheet for a helicopter school. Without a command, the app opens in the browser.

Go means: no listed reason to stop. It does not mean safe. The pilot in command decides and stays responsible; the
flight manual and local regulations prevail; licensed maintenance staff judge airworthiness."""

_FOOT = """\
examples:
  riskboard worksheet blank > my_flight.yaml
  riskboard assess my_flight.yaml
  riskboard policy explain my_policy.yaml

environment:
  RISKBOARD_DATABASE_URL  the school's store: a SQLite file, sqlite:///... or postgresql://user@host/name
"""


class _Parser(argparse.ArgumentParser):
    """Repeats what was typed without the characters that a terminal obeys."""

    def error(self, message: str) -> NoReturn:
        self.print_usage(_Harmless())
        self.exit(Status.bad_input, harmless(f"{self.prog}: {message}\n"))


class _Harmless:
    """Standard error, through :func:`harmless`."""

    def write(self, text: str) -> object:
        import sys  # noqa: PLC0415  - looked up when used, so that a test may replace it

        return sys.stderr.write(harmless(text))


def _port(text: str) -> int:
    if not (text.isascii() and text.isdigit() and 0 < int(text) < 2**16):
        raise argparse.ArgumentTypeError(f"{text!r} is no port; write a number from 1 to 65535")
    return int(text)


def _statuses() -> str:
    return "exit status:\n" + "\n".join(f"  {status.value:<4}{status.meaning}" for status in Status) + "\n"


def _command(
    commands: "argparse._SubParsersAction[_Parser]",
    name: str,
    handler: str,
    about: str,
    *shared: argparse.ArgumentParser,
) -> argparse.ArgumentParser:
    parser = commands.add_parser(
        name,
        help=about,
        description=about[:1].upper() + about[1:] + ".",
        epilog=_statuses(),
        parents=list[Any](shared),
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.set_defaults(handler=handler)
    return parser


def _family(
    commands: "argparse._SubParsersAction[_Parser]", name: str, about: str
) -> "argparse._SubParsersAction[_Parser]":
    parser = commands.add_parser(name, help=about, description=about[:1].upper() + about[1:] + ".")
    return parser.add_subparsers(title="commands", metavar="COMMAND", required=True)


def _shared(option: str, **settings: object) -> argparse.ArgumentParser:
    """An option of several commands. Left out of the result when not given, so that no command undoes another."""
    shared = argparse.ArgumentParser(add_help=False, argument_default=argparse.SUPPRESS)
    shared.add_argument(option, **settings)  # type: ignore[arg-type]
    return shared


def build_parser() -> argparse.ArgumentParser:
    """The parser of the whole command line."""
    database = _shared("--database", metavar="FILE_OR_URL", help="the school's store; goes before the environment")
    as_json = _shared("--json", action="store_true", help="print JSON, the same bytes for the same input")
    parser = _Parser(
        prog="riskboard",
        description=_ABOUT,
        epilog=_statuses() + "\n" + _FOOT,
        parents=[database],
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="version", version=f"riskboard {__version__}")
    app = parser.add_argument_group("the app")
    app.add_argument(
        "--host", default="127.0.0.1", help="address to listen on (%(default)s); others need a proxy with TLS before it"
    )
    app.add_argument("--port", type=_port, default=8501, help="port to listen on (%(default)s)")
    app.add_argument(
        "--public-url",
        metavar="URL",
        help="scheme and host that people type, such as https://board.example, where a proxy or a name leads here",
    )
    app.add_argument("--no-browser", action="store_true", help="do not open a browser window")
    parser.set_defaults(handler="serve:run", database=None, json=False)
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", parser_class=_Parser)
    _assess(commands, database, as_json)
    _command(commands, "measures", "measures:run", "list every measure that a policy may use", as_json)
    _policy(commands)
    _type(commands)
    _log(commands, database)
    _store(commands, database)
    _command(
        commands, "recheck", "log:recheck", "score every past decision again under its own stored policy", database
    )
    _sheet(commands, database)
    worksheet = _family(commands, "worksheet", "worksheet files")
    _command(worksheet, "blank", "worksheets:blank", "print a worksheet file with every entry blank and explained")
    return parser


def _assess(
    commands: "argparse._SubParsersAction[_Parser]", database: argparse.ArgumentParser, as_json: argparse.ArgumentParser
) -> None:
    about = "assess a worksheet file: the decision, its reasons, and what they rest on"
    parser = _command(commands, "assess", "assess:run", about, database, as_json)
    parser.add_argument("worksheet", metavar="WORKSHEET.yaml", help="the worksheet; - reads standard input")
    parser.add_argument(
        "--policy",
        metavar="FILE_OR_ID",
        help="a policy file or the id of a policy; without it the flight decides: the policy for student solo where it "
        "is or may be one, the school's own otherwise (the shipped ones, or those of the --database)",
    )
    _types(parser, "a file of an aircraft type that counts beside the shipped ones (or those of the --database)")
    parser.add_argument(
        "--at", metavar="TIME", help="moment of decision with its zone; default: the file's decided_at, else now"
    )
    parser.add_argument("--why", action="store_true", help="also print why each reason counts, and its source")
    parser.add_argument("--all", action="store_true", help="also print the clauses that are clear or not in force")


def _types(parser: argparse.ArgumentParser, about: str) -> None:
    more = "; it goes before one of the same title, and may be given more than once"
    parser.add_argument("--type", metavar="FILE", dest="types", action="append", default=[], help=about + more)


def _policy(commands: "argparse._SubParsersAction[_Parser]") -> None:
    family = _family(commands, "policy", "policy files")
    base = argparse.ArgumentParser(add_help=False)
    base.add_argument("file", metavar="FILE", help="the policy file")
    base.add_argument(
        "--base", metavar="FILE", action="append", default=[], help="a policy that it extends, if not a shipped one"
    )
    _command(family, "check", "policies:check", "check a policy file and report every problem with its place", base)
    test = _command(
        family, "test", "policies:test", "run a policy's cases and tests, and list changes that none would notice", base
    )
    test.add_argument("--strict", action="store_true", help="also fail when some change would go unnoticed")
    _types(test, "a file of an aircraft type that the policy's worksheets name, beside the shipped ones")
    _command(family, "explain", "policies:explain", "say in plain sentences what every clause of a policy does", base)
    _command(family, "schema", "policies:schema", "print the JSON Schema of policy files, for an editor")


def _type(commands: "argparse._SubParsersAction[_Parser]") -> None:
    family = _family(commands, "type", "files of aircraft types")
    about = "check the file of an aircraft type and report every problem with its place"
    _command(family, "check", "types:check", about).add_argument("file", metavar="FILE", help="the type's file")
    about = "say in plain words what the file of an aircraft type says: limits, envelopes, tables, run-up"
    _command(family, "explain", "types:explain", about).add_argument("file", metavar="FILE", help="the type's file")
    _command(family, "schema", "types:schema", "print the JSON Schema of the files of aircraft types, for an editor")


def _sheet(commands: "argparse._SubParsersAction[_Parser]", database: argparse.ArgumentParser) -> None:
    family = _family(commands, "sheet", "sheets to print, as PDF")
    paper = argparse.ArgumentParser(add_help=False)
    paper.add_argument("--paper", choices=("letter", "a4"), default="letter", help="paper (%(default)s)")
    about = "write a blank paper worksheet of a policy, for the day the computer is down"
    blank = _command(family, "blank", "sheets:blank", about, database, paper)
    blank.add_argument(
        "--policy",
        metavar="FILE_OR_ID",
        help="a policy file or the id of a policy; default: the school's own in force now (the shipped one without a "
        "--database)",
    )
    blank.add_argument("out", metavar="OUT.pdf", help="a new file")
    about = "write the release sheet of a flight, health answers left out"
    release = _command(family, "release", "sheets:release", about, database, paper)
    release.add_argument("flight", metavar="FLIGHT", help="name of the flight, as in its address")
    release.add_argument("out", metavar="OUT.pdf", help="a new file")
    about = "write the kneeboard card of a flight, health answers left out"
    card = _command(family, "kneeboard", "sheets:kneeboard_card", about, database, paper)
    card.add_argument("flight", metavar="FLIGHT", help="name of the flight, as in its address")
    card.add_argument("out", metavar="OUT.pdf", help="a new file")


def _log(commands: "argparse._SubParsersAction[_Parser]", database: argparse.ArgumentParser) -> None:
    family = _family(commands, "log", "the risk log")
    about = "verify the whole log; a cut tail shows only against a printed receipt"
    verify = _command(family, "verify", "log:verify", about, database)
    verify.add_argument("--receipt", metavar="CODE", help="code printed on a sheet: verify against that too")
    show = _command(family, "show", "log:show", "list the records, or print one in full", database)
    show.add_argument("seq", metavar="SEQ", type=int, nargs="?", help="number of one record")
    about = "erase what a person said about their health, at their request; there is no way back"
    erase = _command(family, "erase", "erase:run", about, database)
    erase.add_argument("person", metavar="PERSON", help="id of the person whose answers go")
    erase.add_argument("--signed-by", metavar="ID", required=True, help="who signs: that person, or an administrator")
    erase.add_argument("--why", metavar="TEXT", required=True, help="the request, in a few words; never what is erased")
    erase.add_argument(
        "--flight", metavar="ID", action="append", default=[], help="only this flight; may be given more than once"
    )
    erase.add_argument("--event", metavar="EVENT", help="repeat an erasure whose files could not be cleaned")
    export = _command(family, "export", "log:export", "write the log as JSON Lines", database)
    export.add_argument("file", metavar="FILE", nargs="?", help="a new file; default: standard output")


def _store(commands: "argparse._SubParsersAction[_Parser]", database: argparse.ArgumentParser) -> None:
    family = _family(commands, "store", "the school's store")
    _command(family, "info", "store:info", "say where the store is and what it holds; changes nothing", database)
    about = "copy the store, which may be in use, into a new file, and verify the copy"
    backup = _command(family, "backup", "store:backup", about, database)
    backup.add_argument("file", metavar="FILE", help="the new file")
    about = "put a backup into an empty place, the default one or that of --database, and verify it"
    restore = _command(family, "restore", "store:put_back", about, database)
    restore.add_argument("file", metavar="FILE", help="the backup")
    restore.add_argument("--receipt", metavar="CODE", help="code printed on a sheet: verify against that too")
