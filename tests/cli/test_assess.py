"""``riskboard assess``: the same decision as everywhere, an exit status for each outcome, the same bytes every time."""

import json
import os
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest

from riskboard.jobs.files import assess_worksheet
from riskboard.shipped import shipped
from riskboard.words import Decision
from riskboard.worksheet import worksheet_yaml
from riskboard.worksheet.file import read_worksheet_file
from tests.cli.conftest import Run

SAMPLES = sorted(shipped("weather_samples").glob("*.yaml"))
CALM = shipped("weather_samples") / "calm_morning.yaml"
TYPE = shipped("policies") / "aircraft_types" / "tarnwick_2.yaml"
STATUS = {Decision.go: 0, Decision.go_with_sign_off: 3, Decision.no_go: 4}


@pytest.mark.parametrize("sample", SAMPLES, ids=lambda path: path.stem)
def test_says_what_jobs_say(run: Run, sample: Path) -> None:
    sheet, decided_at = read_worksheet_file(sample)
    assert decided_at is not None
    own = assess_worksheet(sheet, decided_at)
    as_json, as_text = run("assess", sample, "--json"), run("assess", sample)
    assert as_json.status == as_text.status == STATUS[own.decision]
    assert json.loads(as_json.out) == json.loads(own.as_json())
    assert as_text.out.startswith(own.decision.phrase.upper())
    for line in own.reasons:
        assert " ".join(line.sentence.split()) in " ".join(as_text.out.split())
    assert "It does not mean safe" in " ".join(as_text.out.split())
    assert not as_json.err + as_text.err


def test_the_samples_show_every_outcome(run: Run) -> None:
    assert {run("assess", sample).status for sample in SAMPLES} == {0, 3, 4}


def test_json_is_the_same_byte_for_byte_in_another_process() -> None:
    outputs = set()
    for seed in ("1", "2"):
        environment = {**os.environ, "PYTHONHASHSEED": seed, "TZ": "Pacific/Chatham" if seed == "1" else "UTC"}
        arguments = [sys.executable, "-m", "riskboard", "assess", "--json", str(SAMPLES[0])]
        outputs.add(subprocess.run(arguments, capture_output=True, check=False, env=environment, timeout=60).stdout)
    assert len(outputs) == 1
    assert json.loads(outputs.pop())["caution"]


def test_every_blank_entry_is_unknown_and_unknown_is_no_go(run: Run, tmp_path: Path) -> None:
    blank = tmp_path / "blank.yaml"
    blank.write_text(run("worksheet", "blank").out, encoding="utf-8")
    assert run("assess", blank, "--at", "2026-05-04T14:20Z").status == 4


def test_reads_standard_input(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    with CALM.open(encoding="utf-8") as text:
        monkeypatch.setattr("sys.stdin", text)
        piped = run("assess", "-", "--json")
    assert piped == run("assess", CALM, "--json")


def test_at_goes_before_the_file(run: Run) -> None:
    later = run("assess", CALM, "--at", "2026-05-04T14:29Z", "--json")
    assert json.loads(later.out)["decided_at"] == "2026-05-04T14:29:00Z"
    same = run("assess", CALM, "--at", "2026-05-04T16:29+02:00", "--json")
    assert same.out == later.out


def test_without_any_moment_the_clock_counts(run: Run, tmp_path: Path) -> None:
    """Without decided_at the moment is now, years after this take-off: a contradiction to mend, not a decision."""
    timeless = tmp_path / "timeless.yaml"
    text = CALM.read_text(encoding="utf-8")
    timeless.write_text("".join(x for x in text.splitlines(keepends=True) if not x.startswith("decided_at")), "utf-8")
    result = run("assess", timeless)
    assert datetime.now(UTC) > datetime(2026, 5, 4, 15, tzinfo=UTC)
    assert (result.status, result.out) == (2, "")
    assert "has passed" in result.err


@pytest.mark.parametrize(
    ("blanked", "policy"),
    [({}, "rotor-school-vfr"), ({"certificate": None, "instructor_aboard": None, "purpose": None}, "student-solo")],
    ids=["known not to be a student solo", "nobody says"],
)
def test_the_flight_picks_its_policy(run: Run, tmp_path: Path, blanked: dict[str, object], policy: str) -> None:
    sheet, decided_at = read_worksheet_file(CALM)
    file = tmp_path / "flight.yaml"
    file.write_text(worksheet_yaml(sheet.but(**blanked), decided_at=decided_at), encoding="utf-8")
    assert json.loads(run("assess", file, "--json").out)["policy"]["id"] == policy


def test_a_policy_by_id_and_by_file(run: Run, store: Path) -> None:
    by_id = run("assess", CALM, "--policy", "student-solo", "--json")
    assert json.loads(by_id.out)["policy"]["id"] == "student-solo"
    by_file = run("assess", CALM, "--policy", shipped("policies") / "student_solo.yaml", "--json")
    assert by_file.out == by_id.out
    stored = run("assess", CALM, "--database", store, "--policy", "student-solo", "--type", TYPE, "--json")
    assert stored.out == by_id.out


def test_the_schools_own_published_policies_count(run: Run, store: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    by_option = run("assess", CALM, "--database", store, "--type", TYPE, "--json")
    assert by_option == run("assess", CALM, "--json")
    monkeypatch.setenv("RISKBOARD_DATABASE_URL", str(store))
    assert run("assess", CALM, "--type", TYPE, "--json") == by_option


def test_a_school_without_the_type_knows_nothing_of_its_aircraft(run: Run, store: Path) -> None:
    told = run("assess", CALM, "--database", store)
    assert told.status == 4
    assert "no aircraft type called “Tarnwick 2 (invented)” is on file" in " ".join(told.out.split())


def test_a_type_given_goes_before_the_shipped_one(run: Run, tmp_path: Path) -> None:
    """The same title with a lower ceiling: what was allowed is not, and the digest says whose figures count."""
    lower = tmp_path / "lower.yaml"
    text = TYPE.read_text(encoding="utf-8")
    lower.write_text(
        text.replace("altitude_max_ft: 12000", "altitude_max_ft: 1000").replace("version: 1", "version: 2"), "utf-8"
    )
    shown = json.loads(run("assess", CALM, "--type", lower, "--json").out)
    assert shown["decision"] == "no_go"
    assert {line["clause"] for line in shown["reasons"]} >= {"type_altitude"}
    assert shown["type_digest"] not in {"", json.loads(run("assess", CALM, "--json").out)["type_digest"]}
    broken = tmp_path / "broken.yaml"
    broken.write_text(text.replace("gross_max_lb", "gross_max"), "utf-8")
    assert run("assess", CALM, "--type", broken).status == 2


def test_why_gives_reason_and_source(run: Run) -> None:
    told = " ".join(run("assess", shipped("weather_samples") / "gusty_afternoon.yaml", "--why").out.split())
    assert "Source:" in told
    assert len(told) > len(run("assess", shipped("weather_samples") / "gusty_afternoon.yaml").out)


def test_all_gives_every_clause(run: Run) -> None:
    assert run("assess", CALM, "--all").out.count("\n  clear") > 50
