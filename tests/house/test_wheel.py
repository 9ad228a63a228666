"""The wheel works by itself: installed in an empty folder, away from any checkout."""

import importlib.util
import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from tests.house.sources import ROOT


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with nothing but the unpacked wheel."""
    if importlib.util.find_spec("hatchling") is None:
        pytest.skip("no hatchling here: install .ci/requirements-test.txt")
    wheels, site = tmp_path_factory.mktemp("wheels"), tmp_path_factory.mktemp("site")
    build = [sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "--no-build-isolation", "--no-index"]
    subprocess.run([*build, "--wheel-dir", str(wheels), str(ROOT)], check=True, timeout=120, cwd=wheels)
    (wheel,) = wheels.glob("riskboard-*.whl")
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(site)
    return site


def run(site: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    environment = {**os.environ, "PYTHONPATH": str(site), "PYTHONSAFEPATH": "1"}
    return subprocess.run(
        [sys.executable, "-m", "riskboard", *arguments],
        cwd=site.parent,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )


def test_policies_and_samples_travel_along(site: Path) -> None:
    for folder in ("policies", "weather_samples"):
        inside = {path.name for path in (site / "riskboard/_shipped" / folder).iterdir()}
        assert inside == {path.name for path in (ROOT / folder).iterdir()}


def test_fonts_travel_along_with_their_licences(site: Path) -> None:
    inside = {path.name for path in (site / "riskboard/sheets/fonts").iterdir()}
    assert inside == {path.name for path in (ROOT / "riskboard/sheets/fonts").iterdir()}


def test_prints_outside_a_checkout(site: Path) -> None:
    out = site.parent / "blank.pdf"
    result = run(site, "sheet", "blank", str(out))
    assert (result.returncode, result.stderr) == (0, "")
    assert out.read_bytes().startswith(b"%PDF-")


def test_assesses_outside_a_checkout(site: Path) -> None:
    sample = site / "riskboard/_shipped/weather_samples/calm_morning.yaml"
    result = run(site, "assess", str(sample))
    assert (result.returncode, result.stderr) == (0, "")
    assert result.stdout.startswith("GO ")


def test_holds_no_tests_and_no_checkout_files(site: Path) -> None:
    assert {path.name.split("-")[0] for path in site.iterdir()} == {"riskboard"}


def test_the_command_and_the_licence_are_declared(site: Path) -> None:
    (info,) = site.glob("riskboard-*.dist-info")
    assert "riskboard = riskboard.cli:main" in (info / "entry_points.txt").read_text()
    assert list(info.rglob("LICENSE"))
