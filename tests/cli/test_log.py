"""The log's commands: what verify finds, what show and export print, what recheck says."""

import json
import sqlite3
from pathlib import Path

from riskboard import jobs
from riskboard.cli.text import harmless
from riskboard.ledger import read_export, verify
from riskboard.ledger.receipt import receipt_for
from tests.cli.conftest import NOON, Run


def receipt_code(store: Path) -> str:
    office = jobs.open_office(store, now=NOON)
    *_, last = jobs.log_entries(office)
    office.store.close()
    return receipt_for(last).code


def test_a_sound_log(run: Run, store: Path) -> None:
    result = run("log", "verify", "--database", store)
    assert result.status == 0
    assert "4 records verified, no finding" in result.out
    assert "Without a receipt" in result.out


def test_with_its_receipt(run: Run, store: Path) -> None:
    result = run("log", "verify", "--database", store, "--receipt", receipt_code(store))
    assert result.status == 0
    assert "Without a receipt" not in result.out


def test_a_receipt_of_another_log(run: Run, store: Path, tmp_path: Path) -> None:
    other = tmp_path / "other.sqlite3"
    jobs.open_office(other, now=NOON).store.close()
    assert run("log", "verify", "--database", store, "--receipt", receipt_code(other)).status == 1


def test_a_mistyped_receipt(run: Run, store: Path) -> None:
    result = run("log", "verify", "--database", store, "--receipt", "ABCD-EFGH")
    assert (result.status, result.out) == (2, "")


def test_a_doctored_log(run: Run, store: Path) -> None:
    with sqlite3.connect(store) as connection:
        for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            connection.execute(f"DROP TRIGGER {name}")
        calmer = "UPDATE entry_body SET content = CAST(replace(CAST(content AS TEXT), 'wind', 'calm') AS BLOB)"
        assert connection.execute(calmer + " WHERE seq = 4").rowcount == 1
    result = run("log", "verify", "--database", store)
    assert result.status == 1
    assert "record 4: changed body" in result.out


def test_show_lists_and_prints_without_tricks(run: Run, store: Path) -> None:
    listed = run("log", "show", "--database", store)
    assert [line.split()[0] for line in listed.out.splitlines()] == ["1", "2", "3", "4"]
    one = run("log", "show", "4", "--database", store)
    for result in (listed, one):
        assert result.status == 0
        assert result.out == harmless(result.out)
        assert "\x1b" not in result.out
    assert json.loads(one.out.split("\n", 1)[1]) == {"note": "wind \x1b]0;gotcha\x07 \x85"}


def test_show_what_is_not_there(run: Run, store: Path) -> None:
    for seq in (0, 5, 99):
        assert run("log", "show", seq, "--database", store).status == 2


def test_export_verifies_from_the_file_and_from_the_screen(run: Run, store: Path, tmp_path: Path) -> None:
    file = tmp_path / "log.jsonl"
    assert run("log", "export", file, "--database", store).status == 0
    screen = run("log", "export", "--database", store).out
    assert screen == harmless(screen)
    for lines in (file.read_text(encoding="utf-8").split("\n"), screen.split("\n")):
        entries = list(read_export(lines))
        assert len(entries) == 4
        assert not verify(entries)


def test_export_overwrites_nothing(run: Run, store: Path, tmp_path: Path) -> None:
    file = tmp_path / "log.jsonl"
    file.write_text("precious")
    assert run("log", "export", file, "--database", store).status == 2
    assert file.read_text() == "precious"


def test_recheck_counts(run: Run, store: Path) -> None:
    result = run("recheck", "--database", store)
    assert result.status == 0
    assert "0 of 0 past decisions come out the same; 4 records hold none." in result.out
