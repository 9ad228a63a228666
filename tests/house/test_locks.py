"""The pinned sets: every package by version and hash, nothing else, and one version whatever was installed."""

import itertools
import re
import tomllib
from collections import defaultdict
from pathlib import Path

import pytest

from tests.house.sources import ROOT

LOCKS = sorted((ROOT / ".ci").glob("requirements*.txt"))
PIN = re.compile(r"(?P<name>[a-z0-9][a-z0-9.-]*)==(?P<version>[0-9][\w.+!]*)(?P<marker> ; [^\\]+)? \\")
HASH = re.compile(r"    --hash=sha256:[0-9a-f]{64}( \\)?")
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))


def pins(path: Path) -> dict[str, set[str]]:
    """Package -> its pinned versions (more than one where they differ by Python version)."""
    found: dict[str, set[str]] = defaultdict(set)
    for line in path.read_text(encoding="utf-8").splitlines():
        match = PIN.fullmatch(line)
        if match:
            found[match["name"]].add(match["version"])
    return found


def names(requirements: list[str]) -> set[str]:
    return {re.split(r"[\[<>=!~ ;]", text)[0].lower().replace("_", "-") for text in requirements}


def test_the_four_sets_are_there() -> None:
    assert [path.stem for path in LOCKS] == [
        "requirements-bench",
        "requirements-lint",
        "requirements-test",
        "requirements",
    ]


@pytest.mark.parametrize("path", LOCKS, ids=lambda path: path.name)
def test_holds_only_pins_and_hashes(path: Path) -> None:
    lines = path.read_text(encoding="utf-8").splitlines()
    odd = [line for line in lines if not PIN.fullmatch(line) and not HASH.fullmatch(line)]
    assert not odd
    hashed = [pin for pin, line in itertools.pairwise(lines) if PIN.fullmatch(pin) and HASH.fullmatch(line)]
    assert len(hashed) == sum(1 for line in lines if PIN.fullmatch(line))


@pytest.mark.parametrize(
    "line",
    [
        "--index-url https://index.example",
        "-e .",
        "riskboard @ file:///somewhere",
        "numpy==2.4.6",
        "numpy>=2 \\",
        "# via x",
    ],
)
def test_the_check_sees(line: str) -> None:
    assert not PIN.fullmatch(line)
    assert not HASH.fullmatch(line)


def test_a_package_has_one_version_in_every_set() -> None:
    seen: dict[str, set[str]] = {}
    for path in LOCKS:
        for name, versions in pins(path).items():
            assert seen.setdefault(name, versions) == versions, name


@pytest.mark.parametrize(
    ("lock", "extras"),
    [
        ("requirements", []),
        ("requirements-test", ["test"]),
        ("requirements-lint", ["test", "bench", "lint"]),
        ("requirements-bench", ["test", "bench"]),
    ],
)
def test_every_declared_dependency_is_pinned(lock: str, extras: list[str]) -> None:
    declared = list(PROJECT["project"]["dependencies"]) + list(PROJECT["dependency-groups"]["build"])
    for extra in extras:
        declared += PROJECT["project"]["optional-dependencies"][extra]
    assert names(declared) <= set(pins(ROOT / f".ci/{lock}.txt"))


def test_what_builds_the_wheel_is_pinned_with_it() -> None:
    assert names(PROJECT["build-system"]["requires"]) <= names(PROJECT["dependency-groups"]["build"])


def test_no_lock_file_with_addresses_is_kept() -> None:
    assert "uv.lock" in (ROOT / ".gitignore").read_text(encoding="utf-8").split()
