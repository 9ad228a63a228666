"""What the tests of window, tripwires, robustness and ways out share: a policy with its type, and the comparison."""

import os
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from functools import cache

from hypothesis import settings

from riskboard.aircraft_types.shipped import shipped_types
from riskboard.assessment.assess import assess
from riskboard.assessment.engine import Scores
from riskboard.assessment.facts import PreparedPolicy, prepare
from riskboard.assessment.variations import Base
from riskboard.jobs.files import shipped_book
from riskboard.policy.model import Limit, Source
from riskboard.shipped import shipped
from riskboard.worksheet import Worksheet
from riskboard.worksheet.file import read_worksheet_file

LONG = os.environ.get("RISKBOARD_HYPOTHESIS") == "long"
RUN = settings(max_examples=2000 if LONG else 6)


MARGINS = ("gross_max_margin_lb", "longitudinal_cg_margin_in", "hover_oge_margin_ft")
"""Margins of the type that the policy of these tests limits, whatever the shipped policy comes to say of them."""


@cache
def prepared(name: str = "rotor-school-vfr") -> PreparedPolicy:
    """A shipped policy with the shipped type, and limits on what the type says."""
    policy = {policy.id: policy for policy in shipped_book().policies}[name]
    source = Source("the type's flight manual", "flight manual", policy.review_by)
    limits = tuple(Limit(f"tested_{each}", each, None, 0.0, (), {}, "Tested.", source, ()) for each in MARGINS)
    return prepare(replace(policy, limits=(*policy.limits, *limits)), shipped_types())


@cache
def sample(name: str) -> tuple[Worksheet, datetime]:
    """A worksheet of the samples, and when it is decided."""
    sheet, at = read_worksheet_file(shipped("weather_samples") / f"{name}.yaml")
    assert at is not None
    return sheet, at


def calm() -> tuple[Worksheet, datetime]:
    """The cleanest flight of the school: a go."""
    return sample("calm_morning")


def same_as_fresh(base: Base, changed: Sequence[tuple[Worksheet, datetime]], scores: Scores) -> None:
    """Each row says what ``assess`` says of that worksheet at that moment: the independent path through the engine."""
    for row, (sheet, at) in enumerate(changed):
        fresh = assess(sheet, base.prepared, at, waived=base.waived)
        level = base.prepared.policy.levels[int(scores.level[row])].name
        found = (int(scores.decision[row]), level, int(scores.total[row]))
        assert found == (int(fresh.decision), fresh.level, fresh.total), (row, sheet)
