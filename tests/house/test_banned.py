"""Functions that drop or hide an unknown have no place where flights are measured and scored.

``nansum`` and its family skip NaN, ``fmax`` prefers the number, ``nan_to_num`` makes a zero, a cast to integers makes
whatever the machine likes, and the built-in ``max(3, nan)`` is 3. Each is one way for an unknown to end in a go.
"""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.house.sources import ROOT, imported_modules, python_files, tree

FILES = [*python_files("riskboard/measures"), *python_files("riskboard/assessment")]

BANNED_NAMES = re.compile(
    r"nan(sum|prod|max|min|mean|median|std|var|quantile|percentile|argmax|argmin|cumsum|cumprod|_to_num)|fmax|fmin"
)
WHOLE = re.compile(r"(np\.)?u?int(\d+|p|c|_|eger)?|'u?int\d*'|\"u?int\d*\"|'[iu]\d'")

# A reason for each place where a cast to integers or a built-in max or min cannot meet an unknown number.
ALLOWED = {
    ("measures/dates.py", "astype"): "day numbers as datetime64; unknowns are masked out before the cast",
    ("measures/instants.py", "astype"): "instants as datetime64; unknowns are masked out before the cast",
    ("measures/minima.py", "astype"): "rows of the minima table; unknown rows are masked out before the cast",
    ("assessment/assess.py", "min"): "the level's time and ages that a comparison has found finite",
    ("assessment/reasons.py", "max"): "whole points of a policy, and decisions",
    ("assessment/window.py", "min"): "row numbers, all known",
    ("assessment/window.py", "max"): "moments of a planned morning, each one given",
}


def findings(module: ast.Module) -> Iterator[tuple[int, str]]:
    """(line, what) of every banned use."""
    for node in ast.walk(module):
        if isinstance(node, ast.Attribute | ast.Name):
            name = node.attr if isinstance(node, ast.Attribute) else node.id
            if BANNED_NAMES.fullmatch(name):
                yield node.lineno, name
        if isinstance(node, ast.ImportFrom):
            yield from ((node.lineno, alias.name) for alias in node.names if BANNED_NAMES.fullmatch(alias.name))
        if isinstance(node, ast.Call):
            yield from called(node)


def called(node: ast.Call) -> Iterator[tuple[int, str]]:
    if isinstance(node.func, ast.Name) and node.func.id in {"max", "min"}:
        yield node.lineno, node.func.id
    if isinstance(node.func, ast.Attribute) and node.func.attr == "astype":
        wanted = [*node.args, *(k.value for k in node.keywords if k.arg == "dtype")][:1]
        if wanted and WHOLE.fullmatch(ast.unparse(wanted[0])):
            yield node.lineno, "astype"


@pytest.mark.parametrize("path", FILES, ids=lambda path: f"{path.parent.name}/{path.name}")
def test_nothing_drops_an_unknown(path: Path) -> None:
    place = f"{path.parent.name}/{path.name}"
    found = [(line, what) for line, what in findings(tree(path)) if (place, what) not in ALLOWED]
    assert not found
    assert not [name for _, name in imported_modules(path) if name.split(".")[0] == "pandas"]


def test_every_exception_is_still_needed() -> None:
    used = {(f"{path.parent.name}/{path.name}", what) for path in FILES for _, what in findings(tree(path))}
    assert set(ALLOWED) <= used


@pytest.mark.parametrize(
    "code",
    [
        "np.nansum(a)", "np.fmax(a, b)", "nan_to_num(a)", "max(a, b)", "min(*a)", "a.astype(int)", "a.astype(np.int64)",
        "a.astype(dtype='int32')", "from numpy import nanmax", "np.nanmedian(a)", "f = np.fmin", "a.astype(np.uint8)",
    ],
)  # fmt: skip
def test_the_check_sees(code: str) -> None:
    assert list(findings(ast.parse(code)))


@pytest.mark.parametrize(
    "code", ["np.maximum(a, b)", "a.astype(np.float64)", "np.isnan(a)", "a.max()", "a.astype(object)"]
)
def test_the_check_lets_pass(code: str) -> None:
    assert not list(findings(ast.parse(code)))


def test_the_files_are_there() -> None:
    assert {"registry.py", "engine.py"} <= {path.name for path in FILES}
    assert (ROOT / "riskboard/measures").is_dir()
