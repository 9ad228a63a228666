"""Going back through what was changed: each step is judged on what was known at its moment."""

from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from typing import Any

from riskboard.assessment.edits import Verdict, edits_of
from riskboard.words import Decision

NOW = datetime(2026, 5, 4, 16, tzinfo=UTC)
ENOUGH_GAL = 28.0


def iso(minutes: float) -> str:
    return (NOW + timedelta(minutes=minutes)).isoformat()


def judge(data: Mapping[str, Any], at: datetime) -> Verdict | None:
    """As the engine does: nothing is decided on what was typed in the future; else fuel decides."""
    if any(datetime.fromisoformat(clock["typed_at"]) > at for clock in data["clocks"].values()):
        return None
    enough = data["aircraft"]["fuel_usable_gal"] >= ENOUGH_GAL
    return Verdict(Decision.go if enough else Decision.no_go, "acceptable" if enough else "intolerable", 0)


def entries(fuel_gal: float, typed: float) -> dict[str, Any]:
    return {
        "aircraft": {"fuel_usable_gal": fuel_gal},
        "clocks": {
            "fuel_usable_gal": {"true_at": iso(typed), "typed_at": iso(typed)},
            "reserve_min": {"typed_at": iso(-60)},
        },
    }


def edit(minutes: float, before: float, after: float) -> dict[str, Any]:
    return {"at": iso(minutes), "field": "fuel_usable_gal", "before": before, "after": after}


def test_each_step_is_judged_though_the_entry_was_typed_again_later() -> None:
    first, second = edits_of(entries(30, 3), [edit(1, 30, 20), edit(3, 20, 30)], judge)
    assert first.was is not None
    assert first.became is not None
    assert (first.was.decision, first.became.decision, first.eased) == (Decision.go, Decision.no_go, False)
    assert second.was is not None
    assert second.became is not None
    assert (second.was.decision, second.became.decision, second.eased) == (Decision.no_go, Decision.go, True)


def test_what_is_given_stays_as_it_is() -> None:
    given = entries(30, 3)
    edits_of(given, [edit(1, 30, 20), edit(3, 20, 30)], judge)
    assert given == entries(30, 3)
