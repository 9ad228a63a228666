"""Pasted weather text -> proposed entries, shown field by field for the pilot to confirm. Nothing is fetched.

A report or a forecast is read only as far as it is certain. What fed no entry is listed, what is doubtful stays blank
with a sentence that says why.
"""

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, NamedTuple

from riskboard.worksheet.kinds import LONGEST_NOTE, shown
from riskboard.worksheet.names import entry_names
from riskboard.worksheet.read import partial_worksheet
from riskboard.worksheet.report_metar import read_metar
from riskboard.worksheet.report_taf import read_taf
from riskboard.worksheet.weather import Weather

__all__ = ["MAX_REPORT_CHARACTERS", "DecodedReport", "Proposal", "decode_report"]

MAX_REPORT_CHARACTERS = 2 * LONGEST_NOTE
"""A report and a forecast, each as long as the entry that keeps it."""

_MINUTES_OLD_SAID = 180
_SECONDS_PER_MIN = 60
_REPORT_WORDS = frozenset({"METAR", "SPECI"})
_AMENDED = frozenset({"TAF", "AMD", "COR"})


class Proposal(NamedTuple):
    """One proposed entry.

    Attributes:
        field: Name of the weather entry.
        value: The value, as the worksheet would hold it.
        from_group: The group of the text that it was read from.
    """

    field: str
    value: Any
    from_group: str


@dataclass(frozen=True)
class DecodedReport:
    """What a pasted text gives.

    Attributes:
        fields: Proposed entries, in the order of the worksheet.
        unread: Groups of the text that fed no entry, as written; each is shown to the person.
        problems: Sentences: what is doubtful, what was left blank and why.
        observed_at: Time of the observation in UTC, None when there is no readable report.
        station: Station of the report as given, None when there is none.
    """

    fields: tuple[Proposal, ...]
    unread: tuple[str, ...]
    problems: tuple[str, ...]
    observed_at: datetime | None
    station: str | None = None

    def entries(self) -> dict[str, Any]:
        """The proposals as field -> value, ready for ``Worksheet.but``."""
        return {proposal.field: proposal.value for proposal in self.fields}


def decode_report(text: str, *, seen_at: datetime) -> DecodedReport:
    """Decode one METAR or SPECI, one TAF, or one of each.

    Args:
        text: The text as pasted, at most 4,000 characters.
        seen_at: When somebody looked at it, aware. A report names only the day of the month: it is given the newest
            month in which it is not after this moment (15 minutes of slack, because reports are stamped ahead).

    Returns:
        Proposals, unread groups and problems. Never raises on any text.

    Raises:
        ValueError: ``seen_at`` has no zone.
    """
    if seen_at.tzinfo is None:
        raise ValueError("the moment at which the report was seen needs a time zone")
    seen = seen_at.astimezone(UTC)
    if len(text) > MAX_REPORT_CHARACTERS:
        return _nothing(f"The text has {len(text)} characters; at most {MAX_REPORT_CHARACTERS} are read.")
    sections = _sections(text.upper().split())
    if not sections:
        return _nothing("There is no text to read.")
    reports = [groups for kind, groups in sections if kind == "report"]
    forecasts = [groups for kind, groups in sections if kind == "forecast"]
    collected = _Collected()
    if len(reports) == 1:
        collected.report(reports[0], seen)
    elif reports:
        collected.refuse("There is more than one report; paste the one that counts.", reports)
    if len(forecasts) == 1:
        collected.forecast(forecasts[0], seen)
    elif forecasts:
        collected.refuse("There is more than one forecast; paste the one that counts.", forecasts)
    return collected.decoded()


def _nothing(problem: str) -> DecodedReport:
    return DecodedReport((), (), (problem,), None)


def _sections(groups: list[str]) -> list[tuple[str, list[str]]]:
    """Cut the text at METAR, SPECI, TAF and at "=", which ends a report."""
    sections: list[tuple[str, list[str]]] = []
    current: list[str] = []
    for group in groups:
        starts = group in _REPORT_WORDS or group == "TAF"
        if starts and current and not set(current) <= _AMENDED:
            sections.append(_named(current))
            current = []
        ended = group.endswith("=")
        current.append(group.rstrip("="))
        if ended:
            sections.append(_named(current))
            current = []
    if current:
        sections.append(_named(current))
    return [section for section in sections if section[1]]


def _named(groups: list[str]) -> tuple[str, list[str]]:
    filled = [group for group in groups if group]
    if filled and filled[0] == "TAF":
        return "forecast", [group for position, group in enumerate(filled) if not (group == "TAF" and position < 2)]  # noqa: PLR2004
    return "report", filled


class _Collected:
    """Gathers entries from both kinds of text and lets the worksheet's own reader check them."""

    def __init__(self) -> None:
        self.entries: dict[str, tuple[Any, str]] = {}
        self.unread: list[str] = []
        self.problems: list[str] = []
        self.observed_at: datetime | None = None
        self.station: str | None = None

    def refuse(self, problem: str, sections: list[list[str]]) -> None:
        self.problems.append(problem)
        self.unread += [group for groups in sections for group in groups]

    def keep(self, field: str, groups: list[str]) -> None:
        text = " ".join(groups)
        if len(text) <= LONGEST_NOTE:
            self.entries[field] = (text, "as pasted")
        else:
            self.problems.append(f"The text has {len(text)} characters; {LONGEST_NOTE} can be kept beside the entries.")

    def report(self, groups: list[str], seen: datetime) -> None:
        self.keep("pasted_report", groups)
        read = read_metar(groups, seen)
        self.entries |= read.entries
        self.unread += read.unread
        self.problems += read.problems
        self.observed_at, self.station = read.observed_at, read.station
        if read.observed_at is not None:
            minutes = (seen - read.observed_at).total_seconds() / _SECONDS_PER_MIN
            if minutes > _MINUTES_OLD_SAID:
                self.problems.append(f"The report is {minutes / _SECONDS_PER_MIN:.0f} h old, or its day is wrong.")
            elif minutes < 0:
                self.problems.append(f"The report is stamped {-minutes:.0f} min ahead of now.")

    def forecast(self, groups: list[str], seen: datetime) -> None:
        self.keep("pasted_forecast", ["TAF", *groups])
        read = read_taf(groups, seen)
        self.unread += read.unread
        self.problems += read.problems
        if read.issued_at is not None:
            self.entries["forecast_issued_at"] = (read.issued_at, read.issued_group)
        if read.lines is not None:
            self.entries["forecast_lines"] = (read.lines, " ".join(groups))

    def decoded(self) -> DecodedReport:
        names = entry_names(Weather)
        sheet, problems = partial_worksheet({"weather": {name: value for name, (value, _) in self.entries.items()}})
        groups = {names[name].field: group for name, (_, group) in self.entries.items()}
        # A group with one impossible value is mistyped: what else it says is not believed either.
        doubtful = {groups[field] for field in groups if getattr(sheet.weather, field) is None}
        kept = {field: None if groups[field] in doubtful else getattr(sheet.weather, field) for field in groups}
        fields = tuple(
            Proposal(field, kept[field], groups[field]) for field in Weather.model_fields if kept.get(field) is not None
        )
        unread = list(dict.fromkeys([*self.unread, *sorted(doubtful)]))
        said = [*self.problems, *(f"Left blank: {problem.message}." for problem in problems)]
        return DecodedReport(
            fields, tuple(_harmless(group) for group in unread), tuple(said), self.observed_at, self.station
        )


def _harmless(group: str) -> str:
    return shown(group)[1:-1]
