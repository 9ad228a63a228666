"""What stands where, and how large it may be."""

from pathlib import Path

import pytest

from tests.house.sources import ROOT, project_files

TOP_LEVEL = {
    "README.md", "DEVELOPERS.md", "CHANGELOG.md", "LICENSE", "pyproject.toml",
    "riskboard", "policies", "weather_samples", "tests", ".streamlit", ".ci",
}  # fmt: skip
MOST_LINES = 600


def own_name(path: Path) -> str:
    return str(path.relative_to(ROOT))


def test_top_level_holds_what_the_map_lists_and_nothing_else() -> None:
    found = {path.relative_to(ROOT).parts[0] for path in project_files()}
    dotfiles = {name for name in found - TOP_LEVEL if name.startswith(".") and (ROOT / name).is_file()}
    assert found - dotfiles == TOP_LEVEL


@pytest.mark.parametrize("path", sorted(project_files(".py")), ids=own_name)
def test_no_module_is_a_warehouse(path: Path) -> None:
    lines = len(path.read_text(encoding="utf-8").splitlines())
    assert lines <= MOST_LINES, f"{lines} lines; split it by duty"


def test_every_map_entry_of_the_package_exists() -> None:
    """DEVELOPERS.md describes the packages that are there, and all of them."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    packages = {path.name for path in (ROOT / "riskboard").iterdir() if (path / "__init__.py").exists()}
    missing = sorted(name for name in packages if f"`{name}/`" not in text)
    assert not missing
