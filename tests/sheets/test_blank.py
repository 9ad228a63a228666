"""The paper worksheet: every entry and every clause of a policy is on it, with what an unknown means."""

import re
from dataclasses import replace
from functools import cache

import pytest

from riskboard.assessment.assess import CAUTION
from riskboard.assessment.clauses import clauses_in_words
from riskboard.jobs.office import shipped_policies
from riskboard.policy import Policy
from riskboard.sheets.blank import blank_pdf, entries_used
from riskboard.sheets.canvas import PAPERS
from riskboard.words import Decision
from riskboard.worksheet.model import FIELD_PART, PARTS
from tests.sheets.paper import page_sizes, pages_of

SCHOOL, SOLO = shipped_policies()


@cache
def printed(policy_id: str, paper: str) -> bytes:
    policy = {each.id: each for each in (SCHOOL, SOLO)}[policy_id]
    return blank_pdf(policy, paper, school="Larkfield Rotorcraft School")


def pages(policy: Policy, paper: str = "letter") -> list[str]:
    return pages_of(printed(policy.id, paper))


def words(text: str) -> list[str]:
    return re.findall(r"\w+", text)


def has(text: str, said: str) -> bool:
    """Whether the words stand there in this order: cells break lines, so that spaces differ."""
    return "".join(words(said)) in "".join(words(text))


@pytest.mark.parametrize("policy", [SCHOOL, SOLO], ids=lambda policy: policy.id)
def test_every_entry_that_a_clause_looks_at_has_a_line(policy: Policy) -> None:
    text = " ".join(pages(policy))
    used = entries_used(policy)
    assert len(used) > 100
    missing = [field for field in used if not has(text, PARTS[FIELD_PART[field]].facts()[field].label)]
    assert missing == []


def test_every_clause_stands_there_with_its_bands_and_what_an_unknown_means() -> None:
    text = "".join(words(" ".join(pages(SCHOOL))))
    clauses = [clause for clause in clauses_in_words(SCHOOL) if clause.kind in {"limit", "factor", "combination"}]
    assert len(clauses) == len(SCHOOL.factors) + len(SCHOOL.limits) + len(SCHOOL.combinations)
    # A sentence may go over the end of a page; its halves then have foot and head between them.
    torn = [clause.name for clause in clauses if "".join(words(clause.sentence)) not in text]
    assert torn == []


def test_levels_ceilings_signatures_and_the_plan_for_overdue_are_at_the_end() -> None:
    text = " ".join(pages(SCHOOL)[-2:])
    for level in SCHOOL.levels:
        assert f"Level {level.name}:" in text
    for ceiling in SCHOOL.group_ceilings:
        assert f"above {ceiling.up_to}: at least level {ceiling.floor}" in text
    for decision in Decision:
        assert decision.phrase in text
    for step in SCHOOL.overdue_steps:
        assert has(text, step)
    assert "it is no release by itself" in text
    assert "can be made safely" in text
    assert "Typed in by" in text


@pytest.mark.parametrize("paper", list(PAPERS))
def test_every_page_names_its_policy_its_number_and_the_caution(paper: str) -> None:
    found = pages(SCHOOL, paper)
    for number, text in enumerate(found, 1):
        assert f"Policy {SCHOOL.id} version {SCHOOL.version}, {SCHOOL.digest[:12]}" in text
        assert f"page {number} of {len(found)}" in text
        assert CAUTION in text
    assert {tuple(round(side) for side in size) for size in page_sizes(printed(SCHOOL.id, paper))} == {
        tuple(round(side) for side in PAPERS[paper])
    }


def test_the_same_policy_gives_the_same_bytes() -> None:
    assert blank_pdf(SCHOOL, "a4", school="Larkfield Rotorcraft School") == printed(SCHOOL.id, "a4")
    assert printed(SCHOOL.id, "letter") != printed(SOLO.id, "letter")


def test_it_follows_from_the_policy_alone() -> None:
    limits = [replace(limit, up_to=33) if limit.name == "wind_at_most" else limit for limit in SCHOOL.limits]
    text = " ".join(pages_of(blank_pdf(replace(SCHOOL, limits=tuple(limits)), "letter")))
    assert has(text, "Peak of wind and gusts must be at most 33 kt")
    assert has(" ".join(pages(SCHOOL)), "Peak of wind and gusts must be at most 35 kt")


def test_the_sheet_is_honest_about_unknowns() -> None:
    text = pages(SCHOOL)[0]
    assert has(text, "What is not written, or what you cannot work out, is unknown")
    assert has(text, "that alone releases nothing")
