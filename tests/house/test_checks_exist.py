"""Every measure has its own check, every file of reference values says how far it is trusted."""

import ast
from pathlib import Path

import pytest

from riskboard.measures.registry import MEASURES, load_all
from tests.house.sources import ROOT, python_files, tree

load_all()
NAMES = sorted(name for name, entry in MEASURES.items() if not entry.internal)
TESTS = {
    node.name
    for path in python_files("tests/measures")
    for node in ast.walk(tree(path))
    if isinstance(node, ast.FunctionDef)
}


def listed_cases() -> set[str]:
    """Names in the lists that one test of an answer's own measure runs over: ``parametrize("name", LIST)``."""
    module = tree(ROOT / "tests/measures/test_external.py")
    run_over = {
        decorator.args[1].id
        for node in ast.walk(module)
        if isinstance(node, ast.FunctionDef)
        for decorator in node.decorator_list
        if isinstance(decorator, ast.Call) and len(decorator.args) > 1 and isinstance(decorator.args[1], ast.Name)
    }
    return {
        item.value
        for node in module.body
        if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name) and node.targets[0].id in run_over
        for item in ast.walk(node.value)
        if isinstance(item, ast.Constant) and isinstance(item.value, str)
    }


@pytest.mark.parametrize("name", NAMES)
def test_measure_has_a_check_of_its_name(name: str) -> None:
    assert f"test_{name}" in TESTS or name in listed_cases()


@pytest.mark.parametrize("name", NAMES)
def test_measure_says_where_it_comes_from(name: str) -> None:
    assert MEASURES[name].source.strip()
    assert MEASURES[name].doc.strip()


def trust_notes() -> dict[str, str]:
    """File name -> what the table of tests/reference/README.md says about trusting it."""
    rows = (ROOT / "tests/reference/README.md").read_text(encoding="utf-8").splitlines()
    cells = [[cell.strip() for cell in row.strip().strip("|").split("|")] for row in rows if row.startswith("|")]
    return {name: cell[2] for cell in cells for name in cell[0].replace("`", "").split(", ")}


@pytest.mark.parametrize("path", sorted((ROOT / "tests/reference").glob("*.yaml")), ids=lambda path: path.name)
def test_reference_file_has_a_trust_note(path: Path) -> None:
    assert trust_notes()[path.name]
