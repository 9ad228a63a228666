"""What people enter about one proposed flight. Every input may be blank; blank is unknown, "none" is an answer."""

from riskboard.worksheet.checks import WorksheetProblem, clock_contradictions
from riskboard.worksheet.model import FIELD_PART, PARTS, Worksheet, facts

__all__ = ["FIELD_PART", "PARTS", "Worksheet", "WorksheetProblem", "clock_contradictions", "facts"]
