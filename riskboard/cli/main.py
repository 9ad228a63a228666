"""From the arguments to an exit status. A command's own module is imported when that command runs."""

import importlib
import os
import sys
from collections.abc import Callable, Sequence

from riskboard.cli.parser import build_parser
from riskboard.cli.status import CommandError, Status
from riskboard.cli.text import complain

__all__ = ["main"]


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line.

    Args:
        arguments: What was typed after ``riskboard``; the process's own arguments when None.

    Returns:
        The exit status, see ``riskboard --help``.
    """
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")  # a terminal that cannot show a letter is no reason to give no answer
    try:
        status = _run(arguments)
        sys.stdout.flush()
    except BrokenPipeError:
        # Nobody reads any more. Python would complain once again while closing, so that has to go nowhere.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return Status.output_closed
    except KeyboardInterrupt:
        return Status.interrupted
    return status


def _run(arguments: Sequence[str] | None) -> int:
    options = build_parser().parse_args(arguments)
    module, _, function = options.handler.partition(":")
    try:
        handler: Callable[..., Status] = getattr(importlib.import_module(f"riskboard.cli.{module}"), function)
        return handler(options)
    except CommandError as error:
        complain(f"riskboard: {error}")
        return error.status
