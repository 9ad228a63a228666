"""Starting is cheap: what only the app needs is not imported before the app needs it."""

import json
import subprocess
import sys

import pytest

HEAVY = {"streamlit", "pandas", "scipy", "altair", "pyarrow", "matplotlib", "fpdf", "fontTools", "uharfbuzz", "PIL"}
OPENED = """
import json, sys
import {module}
print(json.dumps(sorted({{name.split(".")[0] for name in sys.modules}})))
"""


def modules_after(module: str) -> set[str]:
    """Top-level modules that are loaded once ``module`` is imported in a fresh interpreter."""
    run = subprocess.run(
        [sys.executable, "-c", OPENED.format(module=module)], capture_output=True, text=True, check=True, timeout=60
    )
    return set(json.loads(run.stdout))


@pytest.mark.parametrize(
    "module", ["riskboard", "riskboard.worksheet", "riskboard.policy", "riskboard.assessment.assess", "riskboard.jobs"]
)
def test_nothing_heavy(module: str) -> None:
    assert not modules_after(module) & HEAVY


def test_registering_every_measure_imports_nothing_heavy() -> None:
    assert not modules_after("riskboard.measures.registry as r; r.load_all()") & HEAVY


def test_the_package_itself_imports_no_library() -> None:
    assert not modules_after("riskboard") & {"numpy", "pydantic", "yaml", "sqlalchemy"}


def test_the_command_line_imports_no_library_before_a_command_runs() -> None:
    assert not modules_after("riskboard.cli.parser") & {"numpy", "pydantic", "yaml", "sqlalchemy", *HEAVY}


def test_the_check_sees_a_heavy_import() -> None:
    assert "pandas" in modules_after("pandas")
