"""Loading and performance of a flight as people see them: of a draft, of a request, of what stands on record."""

from collections.abc import Mapping
from datetime import datetime
from functools import lru_cache
from typing import Any

from riskboard.assessment.airframe import airframe_of, airframe_problems
from riskboard.assessment.airframe_pictures import AirframePicture, airframe_picture, hovers_asked
from riskboard.assessment.facts import PreparedPolicy
from riskboard.jobs.office import Office, policy_for, prepared_policy
from riskboard.jobs.type_texts import TypeUnreadableError
from riskboard.policy.book import NoPolicyError
from riskboard.worksheet.columns import expire_weather
from riskboard.worksheet.model import Worksheet
from riskboard.worksheet.read import WorksheetError, read_worksheet

__all__ = ["loading_on_record", "loading_shown"]


def loading_shown(
    office: Office, sheet: Worksheet, guards: Mapping[str, bool | None], *, at: datetime
) -> AirframePicture | None:
    """Loading and performance of a worksheet by the aircraft types in force now.

    Args:
        office: The school.
        sheet: The worksheet.
        guards: The guard words of its assessment; {} where there is none.
        at: Now.

    Returns:
        What is shown; None where no type of that name is on file, or the entries cannot be of one.
    """
    try:
        return _shown(sheet, policy_for(office, sheet, at), guards, at)
    except NoPolicyError:
        return None


def loading_on_record(
    office: Office, worksheet: Mapping[str, Any], assessment: Mapping[str, Any]
) -> AirframePicture | None:
    """The same of a recorded flight, by the policy, the aircraft type and the moment that it was decided with.

    Args:
        office: The school.
        worksheet: The recorded worksheet, plain data.
        assessment: The recorded assessment, plain data.

    Returns:
        What is shown; None where it rested on no type, or what it rested on cannot be read any more.
    """
    digest = assessment.get("type_digest", "")
    if not digest:
        return None
    try:
        prepared = prepared_policy(office, assessment["policy"]["digest"], type_digest=digest)
        sheet = read_worksheet(worksheet)
    except (KeyError, ValueError, TypeUnreadableError, WorksheetError):
        return None
    decided_at = datetime.fromisoformat(assessment["decided_at"])
    return _shown(sheet, prepared, assessment.get("guards", {}), decided_at)


def _shown(
    sheet: Worksheet, prepared: PreparedPolicy, guards: Mapping[str, bool | None], at: datetime
) -> AirframePicture | None:
    fresh, _ = expire_weather(sheet, at, prepared.policy.weather_age_max_min)
    if prepared.type_of(fresh) is None or airframe_problems(fresh, prepared.types):
        return None
    return _picture(_Flight(fresh), prepared, hovers_asked(prepared.policy, guards))


class _Flight:
    """A worksheet as a key: the same one where aircraft, weather and plan are the same, whoever flies it."""

    def __init__(self, sheet: Worksheet) -> None:
        self.sheet = sheet
        self._text = sheet.model_dump_json(include={"aircraft", "weather", "plan"})

    def __hash__(self) -> int:
        return hash(self._text)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Flight) and other._text == self._text


@lru_cache(maxsize=64)  # a page is drawn again at every tap, and most taps change nothing here
def _picture(flight: _Flight, prepared: PreparedPolicy, asked: frozenset[str]) -> AirframePicture | None:
    frame = airframe_of(flight.sheet, prepared.types)
    return None if frame is None else airframe_picture(frame, flight.sheet, asked)
