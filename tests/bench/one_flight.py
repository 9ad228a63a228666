"""One worksheet to reasons, against reading the same model, and against one evaluation of an equal set of tables."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

import numpy as np

from riskboard.assessment.assess import assess
from riskboard.assessment.engine import score
from riskboard.assessment.facts import PreparedPolicy, facts_of, prepare
from riskboard.jobs.files import shipped_book
from riskboard.policy.book import DEFAULT_ID
from riskboard.shipped import shipped
from riskboard.worksheet.file import read_worksheet_file
from riskboard.worksheet.model import Worksheet
from tests.bench.decision_tables import evaluator
from tests.bench.timing import Row, alternated

__all__ = ["rows"]

SAMPLE = "gusty_afternoon.yaml"


def rows() -> list[Row]:
    """The ratios of one flight."""
    sheet, at = read_worksheet_file(shipped("weather_samples") / SAMPLE)
    if at is None:
        raise ValueError(f"{SAMPLE} has no decided_at")
    prepared = prepare(next(p for p in shipped_book().policies if p.id == DEFAULT_ID))
    data = sheet.model_dump(mode="json")
    if Worksheet.model_validate(data) != sheet:
        raise ValueError("the data validate to another worksheet")
    tables = evaluator(prepared.policy)
    facts, _ = facts_of([sheet], prepared, at)
    given = ready_made(prepared, sheet, at)
    check_equal(tables(given), prepared, sheet, at)
    times = alternated(
        {
            "reasons": lambda: assess(sheet, prepared, at),
            "validation": lambda: Worksheet.model_validate(data),
            "tables": lambda: tables(given),
            "measures": lambda: facts_of([sheet], prepared, at),
            "engine": lambda: score(prepared.compiled, facts, keep=True),
        },
        rounds=15,
        calls=20,
    )
    return [
        Row("worksheet to reasons", times["reasons"], "validating the model", times["validation"], 40),
        Row("worksheet to reasons", times["reasons"], "decision tables, once", times["tables"], 1),
        Row("  of it: measures", times["measures"], "worksheet to reasons", times["reasons"], None),
        Row("  of it: engine", times["engine"], "worksheet to reasons", times["reasons"], None),
    ]


def ready_made(prepared: PreparedPolicy, sheet: Worksheet, at: datetime) -> dict[str, Any]:
    """Measures and guards as the rule engine takes them: plain numbers and truths, None for unknown."""
    facts, _ = facts_of([sheet], prepared, at)
    numbers = {name: None if np.isnan(values[0]) else float(values[0]) for name, values in facts.measures.items()}
    truths = {word.value: None if np.isnan(v[0]) else bool(v[0] == 1) for word, v in facts.guards.items()}
    return {**numbers, **truths}


def check_equal(result: Mapping[str, Any], prepared: PreparedPolicy, sheet: Worksheet, at: datetime) -> None:
    """The rival is only a rival while it finds the same.

    Raises:
        ValueError: It found another total.
    """
    own = assess(sheet, prepared, at)
    if result["total"] != own.total:
        raise ValueError(f"the decision tables find {result['total']} points, riskboard {own.total}")
