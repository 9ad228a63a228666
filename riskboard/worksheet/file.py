"""Worksheet files: strict YAML in, a worksheet and its moment of decision out, problems with line and column."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

from riskboard import yaml_source
from riskboard.worksheet.checks import WorksheetProblem
from riskboard.worksheet.kinds import shown
from riskboard.worksheet.model import SCHEMA, Worksheet
from riskboard.worksheet.read import WorksheetError, partial_worksheet

__all__ = ["read_worksheet_file", "read_worksheet_text"]


def read_worksheet_file(path: Path) -> tuple[Worksheet, datetime | None]:
    """Read a worksheet file; see :func:`read_worksheet_text`.

    Raises:
        WorksheetError: The file is too large, or its text is no sound worksheet.
        OSError: The file cannot be read.
    """
    with path.open("rb") as stream:
        text = stream.read(yaml_source.MAX_BYTES + 1)  # one more than is accepted: enough to refuse, never a huge file
    return read_worksheet_text(text, name=path.name)


def read_worksheet_text(text: str | bytes, *, name: str) -> tuple[Worksheet, datetime | None]:
    """Read the text of a worksheet file.

    Args:
        text: YAML: ``schema: riskboard-worksheet/1``, optionally ``decided_at`` (an instant), the five parts by name,
            and optionally ``clocks``.
        name: What problems call the text, usually its file name.

    Returns:
        The worksheet, and the moment of decision where the file gives one. Nothing is checked against that moment.

    Raises:
        WorksheetError: The text is no sound worksheet; every problem says where it stands.
    """
    try:
        root = yaml_source.load(text, name=name)
    except yaml_source.SourceError as error:
        raise WorksheetError(tuple(_from_source(problem) for problem in error.problems)) from error
    data = root.plain()
    head = list(_head_problems(data))
    decided_at = data.pop("decided_at", None) if isinstance(data, dict) else None
    sheet, problems = partial_worksheet(data)
    placed = tuple(replace(problem, where=_where(root, problem.path, name)) for problem in (*head, *problems))
    if placed:
        raise WorksheetError(placed)
    return sheet, decided_at


def _head_problems(data: Any) -> list[WorksheetProblem]:
    if not isinstance(data, Mapping):
        return []
    found = []
    if "schema" not in data:
        found.append(WorksheetProblem("schema", f"the first line should be 'schema: {SCHEMA}'"))
    decided_at = data.get("decided_at")
    if decided_at is not None and not isinstance(decided_at, datetime):
        message = f"decided_at: {shown(decided_at)} is no moment; write one with its zone, such as 2026-05-04T14:30Z"
        found.append(WorksheetProblem("decided_at", message, path=("decided_at",)))
    return found


def _from_source(problem: yaml_source.Problem) -> WorksheetProblem:
    where = f"{problem.name}:{problem.line}:{problem.column}"
    return WorksheetProblem("worksheet", problem.message, where=where)


def _where(root: yaml_source.Node, path: tuple[str | int, ...], name: str) -> str:
    """The place of the deepest step of the path that stands in the text."""
    node, line, column = root, root.line, root.column
    for step in path:
        if node.kind == "map" and step in node.value:
            line, column = node.keys[str(step)]
            node = node.value[step]
        elif node.kind == "list" and isinstance(step, int) and step < len(node.value):
            node = node.value[step]
            line, column = node.line, node.column
        else:
            break
    return f"{name}:{line}:{column}"
