"""``riskboard sheet``: files that print, and what is refused."""

from pathlib import Path

import pytest

from riskboard.cli.status import Status
from riskboard.jobs.files import read_policy_file
from riskboard.shipped import shipped
from tests.cli.conftest import Run
from tests.jobs.school_day import FLIGHT
from tests.sheets.paper import page_sizes, text_of

POLICIES = shipped("policies")


def test_a_blank_worksheet_is_of_the_shipped_policy_without_a_store(run: Run, tmp_path: Path) -> None:
    out = tmp_path / "blank.pdf"
    assert run("sheet", "blank", "--paper", "a4", out).status == Status.fine
    policy = read_policy_file(POLICIES / "rotor_school_vfr.yaml")
    assert f"Policy {policy.id} version {policy.version}, {policy.digest[:12]}" in text_of(out.read_bytes())
    assert page_sizes(out.read_bytes())[0] == pytest.approx((595.28, 841.89), abs=0.01)


@pytest.mark.parametrize("named", ["student-solo", str(POLICIES / "student_solo.yaml")])
def test_a_policy_is_named_by_file_or_by_id(run: Run, tmp_path: Path, named: str) -> None:
    out = tmp_path / "blank.pdf"
    assert run("sheet", "blank", "--policy", named, out).status == Status.fine
    assert "Policy student-solo version" in text_of(out.read_bytes())


def test_the_school_prints_its_own_name_and_policy(run: Run, tmp_path: Path, flown_store: Path) -> None:
    out = tmp_path / "blank.pdf"
    assert run("sheet", "blank", "--database", flown_store, out).status == Status.fine
    assert "Larkfield Rotorcraft School" in text_of(out.read_bytes())


def test_a_release_sheet_verifies_and_holds_no_health_answer(run: Run, tmp_path: Path, flown_store: Path) -> None:
    out = tmp_path / "sheet.pdf"
    assert run("sheet", "release", "--database", flown_store, FLIGHT, out).status == Status.fine
    text = text_of(out.read_bytes())
    code = next(word for word in text.split() if word.count("-") == 11)
    assert run("log", "verify", "--database", flown_store, "--receipt", code).status == Status.fine
    assert "LRS-01" in text


def test_what_is_not_on_record_is_refused(run: Run, tmp_path: Path, flown_store: Path) -> None:
    out = tmp_path / "sheet.pdf"
    result = run("sheet", "release", "--database", flown_store, "nosuchflight", out)
    assert result.status == Status.bad_input
    assert "Nothing is on record about the flight" in result.err
    assert not out.exists()


def test_a_file_that_is_there_is_not_overwritten(run: Run, tmp_path: Path, flown_store: Path) -> None:
    out = tmp_path / "sheet.pdf"
    out.write_bytes(b"mine")
    result = run("sheet", "release", "--database", flown_store, FLIGHT, out)
    assert result.status == Status.bad_input
    assert out.read_bytes() == b"mine"


def test_unknown_policies_and_papers_are_refused(run: Run, tmp_path: Path) -> None:
    out = tmp_path / "blank.pdf"
    assert run("sheet", "blank", "--policy", "no-such-policy", out).status == Status.bad_input
    assert run("sheet", "blank", "--paper", "legal", out).status == Status.bad_input
    assert not out.exists()
