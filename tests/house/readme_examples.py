"""The examples of the README, run. ``python -m tests.house.readme_examples`` writes what really comes out into it."""

import contextlib
import io
import os
import re
import shlex

from riskboard.cli import main
from tests.house.sources import ROOT

README = ROOT / "README.md"
EXAMPLE = re.compile(r"```console\n\$ (riskboard [^\n]+)\n(.*?)```", re.DOTALL)


def output_of(command: str) -> str:
    """What a command prints, run from the top of the project."""
    printed = io.StringIO()
    with contextlib.chdir(ROOT), contextlib.redirect_stdout(printed):
        main(shlex.split(command)[1:])
    return printed.getvalue()


def refreshed(text: str) -> str:
    """The README with every example's real output."""
    return EXAMPLE.sub(lambda found: f"```console\n$ {found[1]}\n{output_of(found[1])}```", text)


if __name__ == "__main__":
    os.environ.pop("RISKBOARD_DATABASE_URL", None)
    README.write_text(refreshed(README.read_text(encoding="utf-8")), encoding="utf-8")
