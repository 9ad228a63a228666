"""How long starting takes, in processes of their own."""

import subprocess
import sys

from tests.bench.timing import Row, alternated

__all__ = ["rows"]


def _python(code: str) -> None:
    subprocess.run([sys.executable, "-c", code], check=True, capture_output=True)


def rows() -> list[Row]:
    """Import times against an interpreter that does nothing, and against importing numpy and pydantic."""
    times = alternated(
        {
            "nothing": lambda: _python("pass"),
            "package": lambda: _python("import riskboard"),
            "help": lambda: _python("import riskboard.cli; riskboard.cli.main(['--version'])"),
            "libraries": lambda: _python("import numpy, pydantic, yaml"),
            "engine": lambda: _python("import riskboard.assessment.assess"),
        },
        rounds=7,
    )
    return [
        Row("import riskboard", times["package"], "an empty interpreter", times["nothing"], None),
        Row("riskboard --version", times["help"], "an empty interpreter", times["nothing"], None),
        Row("import riskboard.assessment.assess", times["engine"], "numpy, pydantic, yaml", times["libraries"], None),
    ]
