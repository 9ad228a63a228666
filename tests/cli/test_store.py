"""``riskboard store``: what the commands print, what they leave, and how they end."""

from datetime import timedelta
from pathlib import Path

import pytest

from riskboard import jobs
from riskboard.ledger import Intent, Receipt
from riskboard.ledger.migrations import MIGRATIONS
from tests.cli.conftest import NOON, Run


def receipt_in(text: str) -> str:
    (line,) = [line for line in text.splitlines() if line.startswith("Receipt: ")]
    return line.removeprefix("Receipt: ")


def test_a_backup_is_made_verified_and_put_back(run: Run, store: Path, tmp_path: Path) -> None:
    made = run("store", "backup", tmp_path / "backup.sqlite3", "--database", store)
    assert made.status == 0
    assert made.out.startswith(f"4 records backed up to {tmp_path / 'backup.sqlite3'}.\nVerified, no finding.\n")
    assert "Keep this receipt apart" in made.out
    put = run(
        "store",
        "restore",
        tmp_path / "backup.sqlite3",
        *("--database", tmp_path / "new.sqlite3", "--receipt", receipt_in(made.out)),
    )
    assert put.status == 0
    assert receipt_in(put.out) == receipt_in(made.out)
    assert "Without a receipt" not in put.out
    verified = run("log", "verify", "--database", tmp_path / "new.sqlite3", "--receipt", receipt_in(made.out))
    assert (verified.status, verified.out) == (0, "4 records verified, no finding.\n")


def test_the_default_place_is_made_by_a_restore(run: Run, store: Path, tmp_path: Path) -> None:
    put = run("store", "restore", store)
    assert put.status == 0
    assert "give one with --receipt" in put.out
    assert (tmp_path / "data" / "riskboard" / "riskboard.sqlite3").is_file()
    assert run("log", "verify").status == 0


def test_info_says_what_is_there_and_changes_nothing(run: Run, store: Path) -> None:
    before = store.read_bytes()
    told = run("store", "info", "--database", store)
    assert told.status == 0
    rows = dict(line.split(None, 1) for line in told.out.splitlines() if not line.startswith(("last", "policy")))
    assert rows["records"] == "4"
    assert rows["schema"] == str(MIGRATIONS[-1].version)
    assert rows["document"] == "0"
    assert "policy text  2" in told.out
    assert Receipt.from_code(rows["receipt"]).size == 4
    assert store.read_bytes() == before


@pytest.mark.parametrize("verb", ["info", "backup"])
def test_where_there_is_no_store_none_is_made(run: Run, tmp_path: Path, verb: str) -> None:
    more = [tmp_path / "backup.sqlite3"] if verb == "backup" else []
    told = run("store", verb, *more, "--database", tmp_path / "none.sqlite3")
    assert (told.status, told.out) == (5, "")
    assert "There is no store" in told.err
    assert list(tmp_path.iterdir()) == []


def test_a_file_that_is_there_is_never_written_over(run: Run, store: Path, tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("a shopping list", encoding="utf-8")
    told = run("store", "backup", tmp_path / "taken", "--database", store)
    assert told.status == 5
    assert "exists already" in told.err
    told = run("store", "restore", store, "--database", tmp_path / "taken")
    assert told.status == 5
    assert "is there already" in told.err
    assert (tmp_path / "taken").read_text(encoding="utf-8") == "a shopping list"


def test_a_folder_that_does_not_exist_is_said(run: Run, store: Path, tmp_path: Path) -> None:
    told = run("store", "backup", tmp_path / "nowhere" / "backup.sqlite3", "--database", store)
    assert told.status == 2
    assert "nowhere" in told.err
    assert "Traceback" not in told.err


def test_an_older_backup_is_refused_against_a_later_receipt(run: Run, store: Path, tmp_path: Path) -> None:
    run("store", "backup", tmp_path / "backup.sqlite3", "--database", store)
    office = jobs.open_office(store, now=NOON)
    later = Intent("declined", "event-0002", NOON + timedelta(hours=1), "tobin", "pilot", "flight-0002", {})
    _, receipt = office.store.append(later)
    office.store.close()
    new = tmp_path / "new.sqlite3"
    told = run("store", "restore", tmp_path / "backup.sqlite3", "--database", new, "--receipt", receipt.code)
    assert told.status == 5
    assert "record 5 is cut off" in told.err
    assert not new.exists()
    told = run("store", "restore", tmp_path / "backup.sqlite3", "--database", new, "--receipt", "what")
    assert told.status == 2
    assert not new.exists()
