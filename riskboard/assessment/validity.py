"""Whether a signed yes still holds. Pure: what it rests on, and what happened since, are given.

A yes ends by itself (time, weather age), and it is overtaken by news: a fact of the school that it rests on was
changed, a newer observation is on record for the same place, another policy is in force, or the same worksheet would be
judged worse now. An ended or overtaken yes releases nothing until the flight is briefed again.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from riskboard.assessment.phrases import clock_time
from riskboard.words import Decision
from riskboard.worksheet.model import Worksheet

__all__ = ["ChangedFact", "Ground", "News", "if_left_now", "void_reasons"]


@dataclass(frozen=True, slots=True)
class ChangedFact:
    """A fact of the school that was changed.

    Attributes:
        what: What a person reads, e.g. "Aircraft LRS-01: open defects".
        at: When, UTC.
    """

    what: str
    at: datetime


@dataclass(frozen=True, slots=True)
class Ground:
    """What a yes rests on.

    Attributes:
        valid_until: Its end; None where it states none, and then it never holds.
        decision: Decision that was signed.
        level: Level that was signed.
        policy_digest: Policy it was decided under.
        observed_at: Observation time of its weather, if it had one.
    """

    valid_until: datetime | None
    decision: Decision
    level: str
    policy_digest: str
    observed_at: datetime | None


@dataclass(frozen=True, slots=True)
class News:
    """What happened since the yes.

    Attributes:
        changed: Facts it rests on that were changed since, oldest first.
        observed_at: Newest observation on record for the same place, if any.
        policy_digest: Policy in force for this flight now; None where none is.
        decision: Decision on the same worksheet now; None where it cannot be true any more.
        level: Its level.
        problem: Why it cannot be true any more; "" while it can.
    """

    changed: Sequence[ChangedFact]
    observed_at: datetime | None
    policy_digest: str | None
    decision: Decision | None
    level: str
    problem: str = ""


def if_left_now(sheet: Worksheet, at: datetime) -> Worksheet:
    """The same flight with a planned take-off that has passed moved to ``at``, and the landing with it.

    A flight that leaves some minutes late is another flight only in its light, its fatigue and the age of its weather:
    exactly what judging it at the later time looks at. Blank times stay blank.

    Raises:
        ValueError: The moved flight is impossible.
    """
    take_off_at, landing_at = sheet.plan.take_off_at, sheet.plan.landing_at
    if take_off_at is None or take_off_at >= at:
        return sheet
    # Rounded up to the second: a plan carries no fractions.
    later = timedelta(seconds=-((take_off_at - at) // timedelta(seconds=1)))
    return sheet.but(take_off_at=take_off_at + later, landing_at=None if landing_at is None else landing_at + later)


def void_reasons(ground: Ground, news: News, at: datetime, zone: str) -> tuple[str, ...]:
    """Why a yes does not hold at ``at``, one sentence each; none while it holds.

    Args:
        ground: What the yes rests on.
        news: What happened since.
        at: Now, aware.
        zone: IANA time zone in which times are said.

    Returns:
        Sentences; an empty tuple means that the yes holds. Its last moment still counts.

    Raises:
        ValueError: ``at`` has no zone.
    """
    if at.tzinfo is None:
        raise ValueError("at has no time zone; give an aware datetime")
    said = []
    if ground.valid_until is None:
        said.append("It states no readable end, so it does not hold.")
    elif at > ground.valid_until:
        said.append(f"It held until {clock_time(ground.valid_until, zone)}.")
    said.extend(f"{fact.what} changed at {clock_time(fact.at, zone)}." for fact in news.changed)
    if news.observed_at is not None and (ground.observed_at is None or news.observed_at > ground.observed_at):
        said.append(f"A newer observation, of {clock_time(news.observed_at, zone)}, is on record for this place.")
    if news.policy_digest is None:
        said.append("No policy is in force for this flight now.")
    elif news.policy_digest != ground.policy_digest:
        said.append("Another policy is in force since.")
    if news.decision is None:
        said.append(news.problem or "The worksheet cannot be true any more.")
    elif news.decision > ground.decision:
        said.append(f"The same worksheet is {news.decision.phrase.lower()} now.")
    elif news.level != ground.level and news.decision is not Decision.go:
        said.append(f"The same worksheet is at the level {news.level} now, signed was {ground.level}.")
    return tuple(said)
