"""What people enter about one proposed flight. Every input may be blank; blank is unknown, "none" is an answer."""

from riskboard.worksheet.checks import WorksheetProblem, clock_contradictions
from riskboard.worksheet.model import FIELD_PART, PARTS, Worksheet, facts
from riskboard.worksheet.read import WorksheetError, partial_worksheet, read_worksheet
from riskboard.worksheet.write import worksheet_data, worksheet_yaml

__all__ = [
    "FIELD_PART",
    "PARTS",
    "Worksheet",
    "WorksheetError",
    "WorksheetProblem",
    "clock_contradictions",
    "facts",
    "partial_worksheet",
    "read_worksheet",
    "worksheet_data",
    "worksheet_yaml",
]
