"""``riskboard`` without a command: the app."""

from argparse import Namespace

from riskboard.app.address import AddressError
from riskboard.app.outside import OutsideError
from riskboard.app.serve import run as serve
from riskboard.cli.refusals import refusals
from riskboard.cli.status import CommandError, Status

__all__ = ["run"]


def run(options: Namespace) -> Status:
    """Serve the app until it is stopped."""
    try:
        with refusals():
            serve(
                options.database,
                options.host,
                options.port,
                public_url=options.public_url,
                open_browser=not options.no_browser,
            )
    except (AddressError, OutsideError) as error:
        raise CommandError(str(error)) from error
    return Status.fine
