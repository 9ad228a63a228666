"""The tripwires of a flight on record, as the kneeboard card prints them: by the policy, type and moment of its yes."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from riskboard.assessment.assess import CannotAssessError
from riskboard.assessment.tripwires import tripwires
from riskboard.assessment.variations import base_of
from riskboard.jobs.office import Office, prepared_policy
from riskboard.jobs.type_texts import TypeUnreadableError
from riskboard.worksheet.read import read_worksheet

__all__ = ["WiresOnRecord", "wires_on_record"]


@dataclass(frozen=True, slots=True)
class WiresOnRecord:
    """What is printed.

    Attributes:
        said: The tripwires that matter most, a sentence each.
        kept_back: How many of those speak of the pilot's condition, and are not printed for anybody else.
    """

    said: tuple[str, ...] = ()
    kept_back: int = 0


def wires_on_record(
    office: Office, worksheet: Mapping[str, Any], assessment: Mapping[str, Any], waived: frozenset[str], *, own: bool
) -> WiresOnRecord:
    """The tripwires of a recorded flight.

    Args:
        office: The school.
        worksheet: The recorded worksheet, plain data.
        assessment: The recorded assessment, plain data.
        waived: Limits waived by a signature.
        own: Whether the pilot prints it.

    Returns:
        The sentences; none where the flight is no-go, or what it rested on cannot be read any more.
    """
    try:
        sheet = read_worksheet(worksheet)
        prepared = prepared_policy(
            office, assessment["policy"]["digest"], type_digest=assessment.get("type_digest") or ""
        )
        base = base_of(sheet, prepared, datetime.fromisoformat(assessment["decided_at"]), waived=waived)
    except (KeyError, ValueError, TypeUnreadableError, CannotAssessError):
        return WiresOnRecord()
    found = tripwires(base).six
    shown = tuple(wire.sentence for wire in found if own or not wire.health)
    return WiresOnRecord(shown, len(found) - len(shown))
