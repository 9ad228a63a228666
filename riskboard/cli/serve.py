"""``riskboard`` without a command: the app."""

from argparse import Namespace

from riskboard.app.serve import run as serve
from riskboard.cli.status import Status

__all__ = ["run"]


def run(options: Namespace) -> Status:
    """Serve the app until it is stopped."""
    serve(options.database, options.host, options.port, open_browser=not options.no_browser)
    return Status.fine
