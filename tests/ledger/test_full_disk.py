"""No room left in the middle of an append, as the system says it and not as a setting of the database pretends it."""

import subprocess
import sys
from pathlib import Path

import pytest

from tests.ledger.conftest import Opener

ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize("limit", [150_000, 400_000, 401_000, 402_500])
def test_a_file_that_may_not_grow_says_so_and_nothing_told_is_lost(tmp_path: Path, opener: Opener, limit: int) -> None:
    file = tmp_path / "log.sqlite3"
    opener(file).close()  # so that the limit meets an append, not the making of the tables
    command = [sys.executable, "-m", "tests.ledger.filler_process", str(file), str(limit)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    *told, error, stands, again = done.stdout.splitlines()
    assert done.returncode == 0, done.stderr
    assert told, "the limit came before the first append"
    assert "Nothing was acknowledged that is not durable: this action is not on record, all earlier ones are" in error
    assert stands == "stands as told: True"
    last = int(told[-1].removeprefix("told "))
    assert again == f"told {last + 1}"
    store = opener(file)
    assert store.head().size == last + 1
    assert store.verify() == []
