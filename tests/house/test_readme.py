"""The README is true: its commands are the ones that CI runs, its example is what really comes out, its links exist."""

import re

import pytest

from tests.house.readme_examples import EXAMPLE, README, output_of
from tests.house.sources import ROOT, code_blocks

DOCUMENTS = ["README.md", "DEVELOPERS.md", "CHANGELOG.md"]
TEXT = README.read_text(encoding="utf-8")


def test_two_commands_each_on_one_line() -> None:
    commands = code_blocks(README, "sh")
    assert [len(command.splitlines()) for command in commands] == [1, 1]
    assert commands[0].endswith(".venv/bin/riskboard")
    assert commands[1].endswith(".venv/bin/pytest")


@pytest.mark.parametrize("command", code_blocks(README, "sh"), ids=["start", "test"])
def test_ci_runs_them_as_they_stand(command: str) -> None:
    assert command in (ROOT / ".ci/run").read_text(encoding="utf-8")


@pytest.mark.parametrize("found", list(EXAMPLE.finditer(TEXT)), ids=lambda found: str(found[1]))
def test_example_is_what_comes_out(found: re.Match[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """When a policy or a sentence changed on purpose: ``python -m tests.house.readme_examples`` writes it anew."""
    monkeypatch.delenv("RISKBOARD_DATABASE_URL", raising=False)
    assert found[2] == output_of(found[1])


def test_there_is_an_example() -> None:
    assert EXAMPLE.search(TEXT)
    assert not re.search(r"```console\n(?!\$ riskboard )", TEXT)


@pytest.mark.parametrize("name", DOCUMENTS)
def test_links_lead_somewhere(name: str) -> None:
    links = re.findall(r"\]\(([^)#]+)\)", (ROOT / name).read_text(encoding="utf-8"))
    missing = [link for link in links if "://" not in link and not (ROOT / link).exists()]
    assert not missing


def test_says_what_go_means() -> None:
    assert "It does not mean safe." in " ".join(TEXT.split())
