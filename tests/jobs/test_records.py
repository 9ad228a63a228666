"""The log read back: verify, export, recheck under each record's own policy."""

import hashlib
import io
import sqlite3
from datetime import timedelta
from pathlib import Path

import pytest

from riskboard import jobs
from riskboard.ledger import read_export, verify
from riskboard.ledger.store import PolicyText
from riskboard.policy import PolicyError, load_policy
from tests.jobs.conftest import DRAFT, Desk


def test_recheck_reproduces_every_decision(desk: Desk) -> None:
    jobs.accept(desk.office, DRAFT, desk.signature(), at=desk.at)
    desk.enter("pressures", refused_today=True)
    jobs.request_sign_off(desk.office, DRAFT, desk.signature("event-2"), note="", at=desk.at)
    desk.enter("aircraft", preflight_done=False)
    jobs.decline(desk.office, DRAFT, desk.signature("event-3"), reason="Oil on the skid", at=desk.at)
    checked = jobs.recheck(desk.office)
    assert (checked.decisions, checked.findings) == (3, ())


def doctor(path: Path, was: str, becomes: str) -> int:
    """Change a text wherever the file holds it, as its owner could with the triggers taken away."""
    changed = 0
    with sqlite3.connect(path) as file:
        for kind, name in file.execute("SELECT type, name FROM sqlite_master").fetchall():
            if kind == "trigger":
                file.execute(f'DROP TRIGGER "{name}"')
        for (table,) in file.execute("SELECT name FROM sqlite_master WHERE type = 'table'").fetchall():
            for row in file.execute(f'PRAGMA table_info("{table}")').fetchall():
                place = f'"{table}"', f'"{row[1]}"'
                held = f"SELECT rowid, {place[1]} FROM {place[0]}"  # noqa: S608  - names from the file itself
                for rowid, data in file.execute(held).fetchall():
                    if not isinstance(data, bytes | str):
                        continue
                    text = data if isinstance(data, str) else data.decode("latin-1")
                    if was in text:
                        new = text.replace(was, becomes)
                        kept = new if isinstance(data, str) else new.encode("latin-1")
                        file.execute(f"UPDATE {place[0]} SET {place[1]} = ? WHERE rowid = ?", (kept, rowid))  # noqa: S608
                        changed += 1
    return changed


def test_recheck_finds_a_decision_that_is_not_what_the_engine_says(desk: Desk, tmp_path: Path) -> None:
    """Verify finds the doctored record too; recheck says what is wrong with the decision."""
    jobs.accept(desk.office, DRAFT, desk.signature(), at=desk.at)
    assert doctor(tmp_path / "school.sqlite3", '"level":"acceptable"', '"level":"tolerable"') > 0
    checked = jobs.recheck(desk.office)
    assert [finding.message for finding in checked.findings] == ["level was 'tolerable', is now 'acceptable'"]
    assert jobs.verify_log(desk.office) != []


def test_an_export_verifies_by_itself(desk: Desk) -> None:
    jobs.accept(desk.office, DRAFT, desk.signature(), at=desk.at)
    out = io.StringIO()
    count = jobs.export_log(desk.office, out)
    entries = list(read_export(out.getvalue().splitlines()))
    assert len(entries) == count == len(list(jobs.log_entries(desk.office)))
    assert verify(entries) == []


def test_the_policy_of_a_decision_is_kept_with_it_for_ever(desk: Desk) -> None:
    signed = jobs.accept(desk.office, DRAFT, desk.signature(), at=desk.at + timedelta(seconds=5))
    published = [e for e in jobs.log_entries(desk.office) if e.header.kind == "policy_published"]
    assert signed.entry.header.policy_digest in {entry.header.policy_digest for entry in published}
    for entry in published:
        assert entry.body is not None
        stored = desk.office.store.get_policy(entry.header.policy_digest)
        assert stored is not None
        assert entry.body.value["text"] == stored.text


def test_opening_the_same_store_again_publishes_nothing_twice(desk: Desk, tmp_path: Path) -> None:
    before = len(list(jobs.log_entries(desk.office)))
    again = jobs.open_office(tmp_path / "school.sqlite3", now=desk.at + timedelta(days=1))
    assert len(list(jobs.log_entries(again))) == before
    again.store.close()


def test_a_student_solo_is_judged_by_the_stricter_policy(desk: Desk) -> None:
    by_default = jobs.policy_for(desk.office, desk.briefing().sheet, desk.at).policy.id
    desk.enter("plan", purpose="student_solo", instructor_aboard=False)
    alone = jobs.policy_for(desk.office, desk.briefing().sheet, desk.at).policy.id
    desk.enter("plan", purpose=None)
    desk.enter("pilot", certificate=None)
    unsure = jobs.policy_for(desk.office, desk.briefing().sheet, desk.at).policy.id
    assert (by_default, alone, unsure) == ("rotor-school-vfr", "student-solo", "student-solo")


def test_a_policy_that_could_not_be_published_today_still_counts_and_recheck_says_so(desk: Desk) -> None:
    """An older riskboard published it, before some proof that refuses it now."""
    first = next(kept for kept in desk.office.store.list_policies() if kept.policy_id == "rotor-school-vfr")
    text = first.text.replace("\nversion: 1\n", "\nversion: 2\n").replace("[unknown, sign_off]", "[unknown, no_go]", 1)
    digest = hashlib.sha256(text.encode()).hexdigest()
    desk.office.store.publish_policy(PolicyText(digest, first.policy_id, 2, text, desk.at))
    with pytest.raises(PolicyError, match="the case expects no_go"):
        load_policy(text, name="today")
    signed = jobs.accept(desk.office, DRAFT, desk.signature(), at=desk.at)
    assert signed.entry.header.policy_digest == digest
    checked = jobs.recheck(desk.office)
    assert (checked.decisions, checked.findings) == (1, ())
    (sentence,) = checked.policies
    assert sentence.startswith(
        "rotor-school-vfr version 2 counts as it was published, but could not be published today"
    )
    assert "the case expects no_go" in sentence
