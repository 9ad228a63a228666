"""Every command runs, says what it does, and ends quietly when it is stopped."""

import argparse
import io
import json
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from riskboard.cli import main
from riskboard.cli.parser import build_parser
from riskboard.cli.status import Status
from riskboard.cli.text import harmless, harmless_json
from riskboard.jobs.files import read_policy_file
from riskboard.measures.registry import MEASURES
from riskboard.policy.trials import TrialReport
from riskboard.shipped import shipped
from riskboard.worksheet import Worksheet
from riskboard.worksheet.file import read_worksheet_text
from tests.cli.conftest import Run
from tests.jobs.school_day import FLIGHT

POLICY = str(shipped("policies") / "rotor_school_vfr.yaml")
TYPE = str(shipped("policies") / "aircraft_types" / "tarnwick_2.yaml")
SMALL_POLICY = Path(__file__).with_name("small_policy.yaml")


def leaves(parser: argparse.ArgumentParser, so_far: tuple[str, ...] = ()) -> Iterator[tuple[str, ...]]:
    """Every command with its words, as the parser knows them."""
    families = [action for action in parser._actions if isinstance(action, argparse._SubParsersAction)]
    if not families:
        yield so_far
    for family in families:
        for name, below in family.choices.items():
            yield from leaves(below, (*so_far, name))


COMMANDS = sorted(leaves(build_parser()))


@pytest.mark.parametrize("command", [(), *COMMANDS], ids=" ".join)
def test_help_tells_the_exit_statuses(run: Run, command: tuple[str, ...]) -> None:
    result = run(*command, "--help")
    assert result.status == 0
    for status in Status:
        assert status.meaning in result.out


def test_every_command_has_a_row_below() -> None:
    assert set(COMMANDS) == set(EXAMPLES) | set(ELSEWHERE)
    for command, file in ELSEWHERE.items():
        assert f'"{command[0]}", "{command[1]}"' in Path(__file__).with_name(file).read_text(encoding="utf-8")


EXAMPLES: dict[tuple[str, ...], tuple[str, ...]] = {
    ("assess",): (str(shipped("weather_samples") / "calm_morning.yaml"), "--type", TYPE),
    ("measures",): (),
    ("policy", "check"): (POLICY,),
    ("policy", "explain"): (POLICY,),
    ("policy", "schema"): (),
    ("policy", "test"): (str(SMALL_POLICY),),
    ("type", "check"): (TYPE,),
    ("type", "explain"): (TYPE,),
    ("type", "schema"): (),
    ("log", "verify"): (),
    ("log", "show"): (),
    ("log", "export"): (),
    ("recheck",): (),
    ("worksheet", "blank"): (),
    ("sheet", "blank"): ("OUT.pdf",),
    ("sheet", "release"): (FLIGHT, "OUT.pdf"),
    ("sheet", "kneeboard"): (FLIGHT, "OUT.pdf"),
    ("store", "backup"): ("OUT.backup",),
    ("store", "info"): (),
}
ELSEWHERE = {("log", "erase"): "test_erase.py", ("store", "restore"): "test_store.py"}
"""Commands that ask for something first, and the file where they run."""


@pytest.mark.parametrize("command", EXAMPLES, ids=" ".join)
def test_runs(
    run: Run, store: Path, monkeypatch: pytest.MonkeyPatch, command: tuple[str, ...], request: pytest.FixtureRequest
) -> None:
    flown = FLIGHT in EXAMPLES[command]
    monkeypatch.setenv("RISKBOARD_DATABASE_URL", str(request.getfixturevalue("flown_store") if flown else store))
    monkeypatch.chdir(store.parent)
    result = run(*command, *EXAMPLES[command])
    assert (result.status, result.err) == (0, "")
    assert result.out.strip()
    assert result.out == harmless(result.out)


def test_the_app_gets_what_was_asked(run: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    asked: list[object] = []
    monkeypatch.setattr("riskboard.cli.serve.serve", lambda *given, **named: asked.append((given, named)))
    assert run().status == run("--database", tmp_path / "x", "--port", "9000", "--no-browser").status == 0
    assert asked == [
        ((None, "127.0.0.1", 8501), {"public_url": None, "open_browser": True}),
        ((str(tmp_path / "x"), "127.0.0.1", 9000), {"public_url": None, "open_browser": False}),
    ]


def test_measures_lists_the_registry(run: Run) -> None:
    listed = json.loads(run("measures", "--json").out)
    assert [entry["name"] for entry in listed] == sorted(n for n, entry in MEASURES.items() if not entry.internal)
    for entry in listed:
        assert (entry["unit"], entry["worse"]) == (MEASURES[entry["name"]].unit, MEASURES[entry["name"]].worse.value)
        assert entry["source"]
        assert entry["low"] < entry["high"]
    text = run("measures").out
    assert all(f"\n{entry['name']}" in f"\n{text}" for entry in listed)


def test_a_blank_worksheet_reads_as_blank(run: Run) -> None:
    text = run("worksheet", "blank").out
    assert read_worksheet_text(text, name="blank.yaml") == (Worksheet(), None)


def test_policy_check_gives_the_digest(run: Run) -> None:
    assert re.search(r"digest [0-9a-f]{64}\n", run("policy", "check", POLICY).out)


def test_policy_schema_is_json(run: Run) -> None:
    assert json.loads(run("policy", "schema").out)["$schema"]


def test_policy_explain_names_every_clause(run: Run) -> None:
    policy = read_policy_file(Path(POLICY))
    told = run("policy", "explain", POLICY).out
    clauses: list[Any] = [*policy.factors, *policy.limits, *policy.combinations, *policy.mitigations]
    for clause in clauses:
        assert f"\n{clause.name} (" in told
        assert " ".join(clause.why.split()) in " ".join(told.split())


def test_type_check_says_what_is_wrong_and_where(run: Run, tmp_path: Path) -> None:
    assert "invented: no aircraft has them" in run("type", "check", TYPE).out
    file = tmp_path / "mistyped.yaml"
    file.write_text(Path(TYPE).read_text(encoding="utf-8").replace("gross_max_lb: 1560", "gross_max_lb: 156"), "utf-8")
    refused = run("type", "check", file)
    assert (refused.status, refused.out) == (2, "")
    assert "the aircraft type is refused" in refused.err
    assert re.search(r"mistyped\.yaml:\d+:\d+: ", refused.err)
    assert run("type", "explain", file).err == refused.err


def test_type_explain_gives_limits_tables_and_envelopes(run: Run) -> None:
    told = run("type", "explain", TYPE).out
    for said in ("Weight for flight: 1,060 to 1,560 lb.", "Longitudinal envelope with every door fitted", "10,300"):
        assert said in told


def test_type_schema_is_json(run: Run) -> None:
    assert json.loads(run("type", "schema").out)["title"] == "riskboard-aircraft-type/1"


def test_policy_test_fails_with_a_failing_test(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "policy.yaml"
    text = SMALL_POLICY.read_text(encoding="utf-8")
    file.write_text(text.replace("but: {gust_kt: 19}", "but: {gust_kt: 14}"), encoding="utf-8")
    result = run("policy", "test", file)
    assert result.status == 1
    assert "expected go_with_sign_off, got go" in result.out


def test_policy_test_lists_what_nothing_notices(run: Run, tmp_path: Path) -> None:
    """Only its tests notice who may accept a level; what is left unnoticed fails when asked to."""
    text = SMALL_POLICY.read_text(encoding="utf-8")
    file = tmp_path / "policy.yaml"
    file.write_text(text[: text.index("\ntests:")] + "\n", encoding="utf-8")
    with_tests, without = run("policy", "test", SMALL_POLICY), run("policy", "test", file)
    assert with_tests.status == without.status == 0
    assert without.out.count("\n  ") > with_tests.out.count("\n  ") > 0
    assert run("policy", "test", file, "--strict").status == 1


def test_policy_test_strict_passes_when_everything_is_noticed(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    whole = TrialReport(5, (), (), 7, 0, 2, ())
    monkeypatch.setattr("riskboard.cli.policies.run_trials", lambda *_: whole)
    result = run("policy", "test", SMALL_POLICY, "--strict")
    assert result.status == 0
    assert "0 not noticed by anything." in result.out


def test_a_policy_is_tried_with_the_types_given(run: Run, tmp_path: Path) -> None:
    """A flight of the policy's own tests, with a type that may not go so high: the test that expects a go fails."""
    lower = tmp_path / "lower.yaml"
    text = Path(TYPE).read_text(encoding="utf-8")
    lower.write_text(text.replace("altitude_max_ft: 12000", "altitude_max_ft: 1000"), encoding="utf-8")
    result = run("policy", "test", POLICY, "--type", lower)
    assert result.status == 1
    assert "expected go, got no_go at level intolerable" in result.out
    assert run("policy", "test", POLICY, "--type", POLICY).status == 2


def test_a_base_given_on_the_command_line(run: Run, tmp_path: Path) -> None:
    extending = tmp_path / "stricter.yaml"
    extending.write_text(
        "schema: riskboard-policy/1\nid: stricter\nversion: 1\ntitle: Stricter\nextends: {id: small, version: 1}\n"
        "effective_from: 2026-03-01T00:00Z\nreview_by: 2027-01-01\nweather_age_max_min: 30\n",
        encoding="utf-8",
    )
    assert run("policy", "check", extending).status == 2
    assert run("policy", "check", extending, "--base", SMALL_POLICY).status == 0


def test_harmless_json_is_the_same_data() -> None:
    nasty = 'a\x1b[2J\x9b\u202e\u200b\ud800 \U000e0001 \\ " é ✈'
    text = json.dumps({"text": nasty}, ensure_ascii=False)
    assert harmless_json(text).isprintable()
    assert json.loads(harmless_json(text)) == {"text": nasty}


def test_interrupting_is_quiet(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupted(_: argparse.Namespace) -> int:
        raise KeyboardInterrupt

    monkeypatch.setattr("riskboard.cli.measures.run", interrupted)
    result = run("measures")
    assert (result.status, result.out, result.err) == (130, "", "")


@pytest.mark.parametrize("command", [("measures",), ("policy", "schema"), ("assess", EXAMPLES["assess",][0], "--all")])
def test_a_closed_pipe_is_quiet_and_no_go_ahead(command: tuple[str, ...]) -> None:
    read, write = os.pipe()
    os.close(read)
    arguments = [sys.executable, "-m", "riskboard", *command]
    ended = subprocess.run(arguments, stdout=write, stderr=subprocess.PIPE, check=False, timeout=60)
    os.close(write)
    assert (ended.returncode, ended.stderr) == (141, b"")


def test_a_terminal_that_cannot_show_a_letter_still_gets_an_answer(monkeypatch: pytest.MonkeyPatch) -> None:
    narrow = io.TextIOWrapper(io.BytesIO(), encoding="ascii")
    monkeypatch.setattr("sys.stdout", narrow)
    assert main(["policy", "explain", POLICY]) == 0
