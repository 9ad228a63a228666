"""Reading worksheets that share parts gives what reading each alone gives, mistakes and contradictions included."""

from typing import Any

from riskboard.policy.check_tests import changed
from riskboard.worksheet.read import PartMemo, partial_worksheet

BASE: dict[str, Any] = {
    "pilot": {"hours_in_type_h": 120, "hours_in_typ_h": 1},
    "weather": {"temperature_c": 20, "dew_point_c": 9, "wind_kt": 4, "gust_kt": "many"},
    "plan": {"take_off_at": "2026-05-04T14:30Z", "landing_at": "2026-05-04T15:30Z"},
}
CHANGES: list[dict[str, Any]] = [
    {},
    {"dew_point_c": 25},
    {"wind_kt": 900},
    {"landing_at": "2026-05-04T14:00Z"},
    {"gust_kt": 9},
    {},
    {"dew_point_c": None},
]


def test_a_memo_changes_nothing() -> None:
    memo: PartMemo = {}
    seen = set()
    for but in CHANGES:
        data = changed(BASE, but)
        alone = partial_worksheet(data)
        assert partial_worksheet(data, memo=memo) == alone
        assert partial_worksheet(data, memo=memo) == alone
        seen.add(tuple(problem.message for problem in alone[1]))
    assert len(seen) > 3


def test_a_contradiction_does_not_reach_the_memo() -> None:
    """The entries that contradict each other are blank in that worksheet only."""
    memo: PartMemo = {}
    weather = {"temperature_c": 5, "dew_point_c": 9}
    for _ in range(2):
        sheet, problems = partial_worksheet({"weather": weather}, memo=memo)
        assert sheet.weather.dew_point_c is None
        assert len(problems) == 1
