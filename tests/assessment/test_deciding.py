"""Which clauses make a level, against the lines that a person reads: two readers of the same arrays."""

import pytest
from hypothesis import given

from riskboard.assessment.assess import CannotAssessError, assess
from riskboard.assessment.deciding import deciding_clauses
from riskboard.assessment.engine import score
from riskboard.assessment.reasons import Standing
from riskboard.assessment.variations import base_of
from riskboard.words import Decision
from riskboard.worksheet import Worksheet
from tests.assessment.varied import RUN, calm, prepared, sample
from tests.strategies import DECIDED_AT, worksheets


def test_nothing_decides_a_clean_go() -> None:
    sheet, at = calm()
    base = base_of(sheet, prepared(), at)
    assert deciding_clauses(prepared(), base.scores) == ((),)


def test_a_limit_comes_before_what_only_adds_points() -> None:
    sheet, at = calm()
    base = base_of(sheet.but(annual_on="2025-01-09", ill_today=True, stress_level=5), prepared(), at)
    (found,) = deciding_clauses(prepared(), base.scores)
    lines = {line.clause: line for line in assess(base.sheet, prepared(), at).lines}
    assert all(lines[clause].standing is Standing.stop for clause in found)
    assert {lines[clause].kind for clause in found} == {"limit"}


@RUN
@given(worksheets())
def test_every_clause_named_forces_the_decision_by_its_own_line(sheet: Worksheet) -> None:
    try:
        base = base_of(sheet, prepared(), DECIDED_AT)
    except CannotAssessError:
        return
    (found,) = deciding_clauses(prepared(), base.scores)
    assessment = assess(sheet, prepared(), DECIDED_AT)
    lines = {line.clause: line for line in assessment.lines}
    forced = [clause for clause in found if lines[clause].decision_floor == assessment.decision]
    if assessment.decision is Decision.go:
        assert found == ()
    elif any(line.decision_floor == Decision.no_go for line in assessment.lines):
        assert list(found) == forced  # whoever is named stops it by itself
        stopping = {line.clause for line in assessment.lines if line.decision_floor == Decision.no_go}
        assert stopping <= set(found)


def test_where_only_the_total_decides_the_clauses_that_add_most_are_named() -> None:
    sheet, at = sample("tired_instructor")
    base = base_of(sheet, prepared(), at)
    (found,) = deciding_clauses(prepared(), base.scores)
    assessment = assess(sheet, prepared(), at)
    assert assessment.decision is Decision.no_go
    assert not any(line.decision_floor == Decision.no_go for line in assessment.lines)
    points = sorted((line.points for line in assessment.lines), reverse=True)
    named = {line.clause: line.points for line in assessment.lines}
    assert [named[clause] for clause in found] == points[:3]


def test_scores_without_bands_are_refused() -> None:
    sheet, at = calm()
    base = base_of(sheet, prepared(), at)
    with pytest.raises(ValueError, match="keep=True"):
        deciding_clauses(prepared(), score(prepared().compiled, base.facts))
