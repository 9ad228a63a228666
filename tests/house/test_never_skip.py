"""The rule that nothing is skipped in CI holds in a run of its own."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.house.sources import ROOT

SKIPPED = """
import pytest

def test_wants_a_browser():
    pytest.skip("no browser here")

@pytest.mark.skip(reason="never")
def test_marked():
    pass
"""


@pytest.mark.parametrize(("ci", "outcome"), [("true", "1 failed, 1 error"), ("", "2 skipped")])
def test_a_skip_fails_in_ci_only(tmp_path: Path, ci: str, outcome: str) -> None:
    (tmp_path / "test_it.py").write_text(SKIPPED)
    environment = {**os.environ, "CI": ci, "PYTHONPATH": str(ROOT), "PYTEST_ADDOPTS": ""}
    run = subprocess.run(
        [
            sys.executable,
            "-m",
            "pytest",
            "-q",
            "-p",
            "tests.house.never_skip",
            "-p",
            "no:cacheprovider",
            "--rootdir",
            ".",
        ],
        cwd=tmp_path,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert outcome in run.stdout
    assert ("no browser here" in run.stdout) == (ci == "true")
