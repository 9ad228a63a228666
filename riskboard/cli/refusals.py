"""Errors of the core as messages and exit statuses."""

from collections.abc import Iterator
from contextlib import contextmanager

from riskboard.aircraft_types import TypeFileError
from riskboard.assessment.assess import CannotAssessError
from riskboard.cli.status import CommandError, Status
from riskboard.ledger.errors import LedgerError
from riskboard.ledger.receipt import ReceiptCodeError
from riskboard.policy import PolicyError
from riskboard.policy.book import NoPolicyError
from riskboard.worksheet import WorksheetError

__all__ = ["refusals"]


@contextmanager
def refusals() -> Iterator[None]:
    """Turn what the core refuses into a message of its own words and the right exit status."""
    try:
        yield
    except BrokenPipeError:
        raise
    except (WorksheetError, CannotAssessError) as error:
        raise CommandError("\n".join(["the worksheet has to be mended first", *map(str, error.problems)])) from error
    except PolicyError as error:
        raise CommandError("\n".join(["the policy is refused", *map(str, error.problems)])) from error
    except TypeFileError as error:
        raise CommandError("\n".join(["the aircraft type is refused", *map(str, error.problems)])) from error
    except (NoPolicyError, ReceiptCodeError) as error:
        raise CommandError(str(error)) from error
    except LedgerError as error:
        raise CommandError(str(error), Status.no_store) from error
    except OSError as error:
        where = f"{error.filename}: " if error.filename else ""
        raise CommandError(f"{where}{error.strerror or error}") from error
