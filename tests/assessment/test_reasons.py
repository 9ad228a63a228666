"""Reasons: one line for every clause, worst first, in plain sentences with value, bound, points and source."""

from datetime import datetime
from typing import Any

import pytest

from riskboard.aircraft_types.shipped import shipped_types
from riskboard.assessment.assess import Assessment, assess
from riskboard.assessment.facts import prepare
from riskboard.assessment.reasons import Line, Standing
from riskboard.jobs.files import shipped_book
from riskboard.shipped import shipped
from riskboard.words import Decision
from riskboard.worksheet import Worksheet
from riskboard.worksheet.entries import MitigationTaken
from riskboard.worksheet.file import read_worksheet_file


@pytest.fixture(scope="module")
def calm() -> tuple[Worksheet, datetime]:
    sheet, at = read_worksheet_file(shipped("weather_samples") / "calm_morning.yaml")
    assert at is not None
    return sheet, at


def assessed(calm: tuple[Worksheet, datetime], waived: frozenset[str] = frozenset(), **changes: Any) -> Assessment:
    policy = shipped_book().in_force("rotor-school-vfr", calm[1])
    return assess(calm[0].but(**changes), prepare(policy, shipped_types()), calm[1], waived=waived)


def line(found: Assessment, clause: str) -> Line:
    return next(each for each in found.lines if each.clause == clause)


def test_every_clause_has_one_line(calm: tuple[Worksheet, datetime]) -> None:
    policy = shipped_book().in_force("rotor-school-vfr", calm[1])
    found = assessed(calm)
    clauses = [f.name for f in policy.factors] + [limit.name for limit in policy.limits]
    clauses += [c.name for c in policy.combinations]
    clauses += [f"group_ceilings.{ceiling.group.value}" for ceiling in policy.group_ceilings]
    assert sorted(each.clause for each in found.lines) == sorted(clauses)


def test_points_of_the_lines_add_up_to_the_total(calm: tuple[Worksheet, datetime]) -> None:
    found = assessed(calm, gust_kt=24.0, someone_waits=True, ceiling_ft_agl=2400.0, lowest_cloud_ft_agl=2400.0)
    assert sum(each.points for each in found.lines) == found.total
    assert sum(each.points for each in found.reasons) == found.total


def test_a_factor_says_value_bound_points_and_what_comes_next(calm: tuple[Worksheet, datetime]) -> None:
    said = line(assessed(calm, gust_kt=22.0), "gust_peak")
    assert said.standing is Standing.floor
    assert (
        said.sentence
        == "Peak of wind and gusts: 22 kt, above 20 kt, 6 points; by itself go with sign-off (level tolerable)."
    )
    assert said.margin == "3 kt to the next band (10 points)"
    assert said.why
    assert said.source
    assert said.line > 0


def test_a_limit_says_how_far_beyond_or_how_much_is_left(calm: tuple[Worksheet, datetime]) -> None:
    stopped = line(assessed(calm, gust_kt=40.0), "wind_at_most")
    assert (stopped.standing, stopped.decision_floor) == (Standing.stop, Decision.no_go)
    assert stopped.sentence == "Peak of wind and gusts: 40 kt; must be at most 35 kt. No-go."
    assert stopped.margin == "5 kt beyond"
    clear = line(assessed(calm), "wind_at_most")
    assert (clear.standing, clear.margin) == (Standing.clear, "31 kt left")


def test_an_unknown_names_the_blank_entry_and_counts_as_the_worst(calm: tuple[Worksheet, datetime]) -> None:
    found = assessed(calm, gust_kt=None)
    said = line(found, "gust_peak")
    assert said.standing is Standing.unknown
    assert said.blank == ("gust_kt",)
    assert said.sentence.startswith(
        "Peak of wind and gusts is unknown: “Gusts to” is blank. Counts as the worst, 10 points;"
    )
    assert found.decision is Decision.no_go


def test_the_worst_stands_first(calm: tuple[Worksheet, datetime]) -> None:
    found = assessed(calm, gust_kt=40.0, someone_waits=True)
    floors = [int(each.decision_floor) for each in found.lines]
    assert floors == sorted(floors, reverse=True)
    assert found.reasons[0].standing is Standing.stop


def test_a_yes_or_no_limit_reads_as_a_person_would_say_it(calm: tuple[Worksheet, datetime]) -> None:
    said = line(assessed(calm, preflight_done=False), "preflight_inspection")
    assert said.sentence.endswith("must be done. No-go.")


def test_a_mitigation_says_who_does_what_and_takes_points_off(calm: tuple[Worksheet, datetime]) -> None:
    waits: dict[str, Any] = {"someone_waits": True, "money_at_stake": True}
    bare = assessed(calm, **waits)
    told = MitigationTaken(
        name="those who wait were told", by="Tobin Reyes-Hall", done="Rang them, they wait until noon."
    )
    eased = assessed(calm, **waits, mitigations=(told,))
    said = line(eased, "those who wait were told")
    assert said.standing is Standing.relief
    assert (
        said.sentence
        == "Those who wait were told, by Tobin Reyes-Hall: Rang them, they wait until noon. Takes off 4 points."
    )
    assert eased.total == bare.total - 4
    assert eased.groups == bare.groups, "group totals are before mitigations"


def test_a_waiver_shows_as_one_and_still_needs_a_signature(calm: tuple[Worksheet, datetime]) -> None:
    low: dict[str, Any] = {"ceiling_ft_agl": 900.0, "lowest_cloud_ft_agl": 900.0, "cruise_ft_agl": 300.0}
    assert line(assessed(calm, **low), "school_ceiling").standing is Standing.stop
    said = line(assessed(calm, frozenset({"school_ceiling"}), **low), "school_ceiling")
    assert (said.kind, said.standing, said.decision_floor) == ("waiver", Standing.floor, Decision.go_with_sign_off)


def test_a_guard_that_is_surely_otherwise_keeps_a_clause_out(calm: tuple[Worksheet, datetime]) -> None:
    assert line(assessed(calm, induction="injected"), "carburettor_ice").standing is Standing.not_in_force
    assert line(assessed(calm, induction=None), "carburettor_ice").standing is not Standing.not_in_force
