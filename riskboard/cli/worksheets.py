"""``riskboard worksheet``: worksheet files to start from."""

from argparse import Namespace

from riskboard.cli.status import Status
from riskboard.cli.text import say
from riskboard.worksheet.blank import blank_worksheet_yaml

__all__ = ["blank"]


def blank(_: Namespace) -> Status:
    """Print a worksheet file with every entry blank and explained."""
    say(blank_worksheet_yaml().rstrip("\n"))
    return Status.fine
