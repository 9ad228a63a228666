"""``riskboard assess``: a worksheet file in, a decision with its reasons out."""

import os
import sys
from argparse import Namespace
from collections.abc import Iterator
from contextlib import nullcontext
from datetime import datetime
from pathlib import Path

from pydantic import TypeAdapter, ValidationError

from riskboard.assessment.assess import CAUTION, Assessment
from riskboard.assessment.phrases import points_phrase
from riskboard.assessment.reasons import Line, Standing
from riskboard.cli.office import now, opened_office
from riskboard.cli.refusals import refusals
from riskboard.cli.status import CommandError, Status
from riskboard.cli.text import say, say_json, wrapped
from riskboard.jobs.files import assess_worksheet, read_policy_file, read_type_file
from riskboard.jobs.place import DATABASE_VARIABLE
from riskboard.words import Decision
from riskboard.worksheet import Worksheet
from riskboard.worksheet.file import read_worksheet_file, read_worksheet_text
from riskboard.worksheet.kinds import Instant
from riskboard.yaml_source import MAX_BYTES

__all__ = ["assessment_lines", "run"]

_STATUS = {
    Decision.go: Status.fine,
    Decision.go_with_sign_off: Status.sign_off,
    Decision.no_go: Status.no_go,
}
_MARKS = {Standing.floor: "AT LEAST", Standing.clear: "clear", Standing.not_in_force: "-"}
_MARK_WIDTH = 10


def run(options: Namespace) -> Status:
    """Assess one worksheet file and say why."""
    at = None if options.at is None else _moment(options.at)
    with refusals():
        found = _assessed(options, at)
    if options.json:
        say_json(found.as_json())
    else:
        for line in assessment_lines(found, why=options.why, everything=options.all):
            say(line)
    return _STATUS[found.decision]


def _moment(text: str) -> datetime:
    try:
        moment: datetime = TypeAdapter(Instant).validate_python(text)
    except ValidationError as error:
        message = error.errors()[0]["msg"].removeprefix("Value error, ")
        raise CommandError(f"--at: {message}") from error
    return moment


def _assessed(options: Namespace, at: datetime | None) -> Assessment:
    sheet, decided_at = _read(options.worksheet)
    types = [read_type_file(Path(file)) for file in options.types]
    policy, policy_id = None, options.policy
    if policy_id is not None and (Path(policy_id).suffix in {".yaml", ".yml"} or Path(policy_id).is_file()):
        policy, policy_id = read_policy_file(Path(policy_id)), None
    stored = policy is None and (options.database is not None or bool(os.environ.get(DATABASE_VARIABLE)))
    with opened_office(options) if stored else nullcontext() as office:
        moment = at or decided_at or now()
        return assess_worksheet(sheet, moment, policy=policy, policy_id=policy_id, office=office, types=types)


def _read(name: str) -> tuple[Worksheet, datetime | None]:
    if name == "-":
        return read_worksheet_text(sys.stdin.buffer.read(MAX_BYTES + 1), name="standard input")
    return read_worksheet_file(Path(name))


def assessment_lines(assessment: Assessment, *, why: bool = False, everything: bool = False) -> list[str]:
    """The assessment as text: decision first, then reasons worst first, then the caution.

    Args:
        assessment: What to print.
        why: Also why each reason counts, and its source.
        everything: Also the clauses that are clear or not in force.
    """
    return [
        *_head(assessment),
        "",
        *_reasons(assessment, why=why, everything=everything),
        "",
        wrapped(CAUTION),
    ]


def _head(assessment: Assessment) -> Iterator[str]:
    yield f"{assessment.decision.phrase.upper()}  (level {assessment.level}, {points_phrase(assessment.total)})"
    until = assessment.valid_until
    yield (
        f"Decided for {_utc(assessment.decided_at)}"
        + ("" if until is None else f", holds until {_utc(until)}")
        + f", under {assessment.policy_id} version {assessment.policy_version} ({assessment.policy_digest[:12]})."
    )
    if assessment.accepted_by:
        roles = " or ".join(role.value.replace("_", " ") for role in assessment.accepted_by)
        yield f"May be accepted by: {roles}."
    if assessment.next_level_in is not None:
        yield f"The total alone would be at the next level with {points_phrase(assessment.next_level_in)} more."
    groups = ", ".join(f"{group.value} {points}" for group, points in assessment.groups.items())
    yield f"Points by group: {groups}."


def _utc(moment: datetime) -> str:
    return f"{moment:%Y-%m-%d %H:%MZ}"


def _reasons(assessment: Assessment, *, why: bool, everything: bool) -> Iterator[str]:
    lines = assessment.lines if everything else assessment.reasons
    yield "Every clause, worst first:" if everything else "Reasons, worst first:" if lines else "No reason to report."
    for line in lines:
        yield wrapped(line.sentence, first=f"  {_mark(line):<{_MARK_WIDTH}}", rest=" " * (_MARK_WIDTH + 2))
        if why:
            text = f"{line.why} Source: {line.source} ({line.source_kind})."
            yield wrapped(text, first=" " * (_MARK_WIDTH + 4), rest=" " * (_MARK_WIDTH + 4))


def _mark(line: Line) -> str:
    """A word for what stops or is not known, the points for what adds up."""
    if line.standing in {Standing.points, Standing.relief}:
        return f"{line.points:+d}"
    return _MARKS.get(line.standing, line.standing.value.upper())
