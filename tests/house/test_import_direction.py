"""Imports point one way (DEVELOPERS.md). The linter's contracts say the same; this runs with the tests."""

import tomllib
from pathlib import Path

import pytest

from tests.house.sources import ROOT, imported_modules, python_files

CONTRACTS = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["importlinter"]["contracts"]
ONLY_THE_APP = {"streamlit", "pandas", "altair", "pyarrow", "scipy"}


def layers() -> list[set[str]]:
    """From the top: each layer's members."""
    (contract,) = (c for c in CONTRACTS if c["type"] == "layers")
    return [{name.strip(" ()") for name in layer.split(":")} for layer in contract["layers"]]


def layer_of(module: str) -> int | None:
    """Position of a module's layer, 0 at the top; None for what stands outside them."""
    parts = module.split(".")
    name = parts[1] if len(parts) > 1 and parts[0] == "riskboard" else ""
    return next((i for i, members in enumerate(layers()) if name in members), None)


def module_of(path: Path) -> str:
    return ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")


def wrong_way(module: str, imported: str) -> bool:
    own, other = layer_of(module), layer_of(imported)
    return own is not None and other is not None and other < own


@pytest.mark.parametrize("path", python_files("riskboard"), ids=module_of)
def test_imports_point_down(path: Path) -> None:
    module = module_of(path)
    upward = [f"line {line}: {name}" for line, name in imported_modules(path) if wrong_way(module, name)]
    assert not upward


def test_the_check_sees_an_upward_import() -> None:
    assert wrong_way("riskboard.measures.sun", "riskboard.policy.model")
    assert wrong_way("riskboard.assessment.engine", "riskboard.ledger")
    assert not wrong_way("riskboard.jobs.office", "riskboard.policy")


def test_every_package_has_a_layer() -> None:
    names = {
        path.stem for path in (ROOT / "riskboard").iterdir() if path.suffix == ".py" or (path / "__init__.py").exists()
    }
    assert names - {"__init__", "__main__"} <= set().union(*layers())


@pytest.mark.parametrize("path", python_files("riskboard"), ids=module_of)
def test_only_the_app_imports_its_libraries(path: Path) -> None:
    if module_of(path).startswith("riskboard.app"):
        return
    assert not [(line, name) for line, name in imported_modules(path) if name.split(".")[0] in ONLY_THE_APP]


def test_the_contract_about_libraries_covers_every_package_below_the_app() -> None:
    (contract,) = (c for c in CONTRACTS if c["name"].startswith("Only the app"))
    below = set().union(*layers()[2:])
    present = {
        name for name in below if (ROOT / "riskboard" / name).is_dir() or (ROOT / f"riskboard/{name}.py").exists()
    }
    assert {f"riskboard.{name}" for name in present} == set(contract["source_modules"])
