"""Backup and restore: what comes back, what does not, and what is refused. From either store, into either store."""

import os
import shutil
import sqlite3
import threading
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from sqlalchemy.engine import make_url

from riskboard.jobs.keeping import back_up, restore, store_info
from riskboard.ledger import errors
from riskboard.ledger.migrations import MIGRATIONS
from riskboard.ledger.receipt import Receipt, ReceiptCodeError
from riskboard.ledger.sql import SqlStore
from riskboard.ledger.store import AccountRecord, PolicyText, SessionRecord, TypeText
from tests.ledger.conftest import Opener
from tests.ledger.made_logs import NOON, intent
from tests.ledger.postgres_schema import POSTGRES, fresh_schema, given_server
from tests.ledger.test_migrations import OLD_FILE, OLD_RECEIPT

LATER = NOON + timedelta(days=1)
ACCOUNT = AccountRecord("wren", "Wren", "hash", "https://login.example", "17", NOON)
SESSION = SessionRecord("token hash that nobody may find", "wren", "passphrase", NOON, NOON)


@pytest.fixture
def filled(where: str, opener: Opener) -> SqlStore:
    """A store with something of everything, an erasure among it."""
    store = opener(where)
    for number in range(1, 5):
        store.append(intent(number, body={"note": f"Zo\u00eb \x00 {number}"}))
    store.erase(intent(50, kind="erased", role="safety officer", body={"reason": "asked"}), [3])
    store.save_draft("draft-1", '{"gust_kt": 12}', owner="Wren Adair", at=NOON)
    for text in ("1", "2"):
        store.put_document("aircraft", "meadow-01", text, at=NOON)
    store.publish_policy(PolicyText("aa", "meadow", 1, "id: meadow\r\n", NOON))
    store.append(
        intent(51, kind="type_published"), types=[TypeText("bb", "heron", 1, "Heron 1", "id: heron\r\n", NOON)]
    )
    store.set_pin_hash("wren", "pin hash", at=NOON)
    store.put_account(ACCOUNT, at=NOON)
    store.open_session(SESSION)
    return store


def everything(store: SqlStore) -> object:
    log = [(entry.seq, entry.digest, entry.header_bytes, entry.body) for entry in store.entries()]
    beside = (
        store.list_drafts("Wren Adair"),
        store.list_documents("aircraft"),
        store.list_policies(),
        store.list_types(),
    )
    return log, beside, store.get_pin("wren"), store.list_accounts()


@pytest.fixture(params=["sqlite", pytest.param("postgres", marks=pytest.mark.postgres)])
def empty(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """The address of an empty place to restore to; a second one where the store itself is at a server."""
    if request.param == "sqlite":
        yield str(tmp_path / "restored" / "log.sqlite3")
        return
    server = given_server()
    if server is None:
        pytest.skip(f"no PostgreSQL server: set {POSTGRES}")
    with fresh_schema(server) as address:
        yield address


def test_a_backup_comes_back_with_everything_but_the_sessions(
    filled: SqlStore, where: str, empty: str, opener: Opener, tmp_path: Path
) -> None:
    file = tmp_path / "backup.sqlite3"
    made = back_up(where, file, now=LATER)
    assert (made.receipt, made.findings, made.place) == (filled.head(), (), str(file))
    put = restore(file, empty, now=LATER, receipt_code=made.receipt.code)
    assert (put.receipt, put.findings) == (made.receipt, ())
    restored = opener(empty, now=LATER)
    assert everything(restored) == everything(filled)
    assert restored.get_session(SESSION.token_hash) is None
    _, receipt = restored.append(intent(60), head=put.receipt.size)
    assert restored.verify([made.receipt, receipt]) == []
    assert filled.get_session(SESSION.token_hash) == SESSION


def test_a_backup_is_one_file_that_only_its_owner_reads(filled: SqlStore, where: str, tmp_path: Path) -> None:
    folder = tmp_path / "kept"
    folder.mkdir()
    back_up(where, folder / "backup.sqlite3", now=LATER)
    assert [path.name for path in folder.iterdir()] == ["backup.sqlite3"]
    assert (folder / "backup.sqlite3").stat().st_mode & 0o777 == 0o600
    assert SESSION.token_hash.encode() not in (folder / "backup.sqlite3").read_bytes()
    assert filled.verify() == []


def test_a_backup_is_itself_a_store(filled: SqlStore, where: str, opener: Opener, tmp_path: Path) -> None:
    back_up(where, tmp_path / "backup.sqlite3", now=LATER)
    copy = opener(tmp_path / "backup.sqlite3")
    assert everything(copy) == everything(filled)
    with copy._database.reading() as connection:
        assert connection.exec_driver_sql("PRAGMA journal_mode").scalar() == "wal"


def test_a_backup_while_others_write_is_one_moment(store: SqlStore, where: str, opener: Opener, tmp_path: Path) -> None:
    stop = threading.Event()

    def write() -> None:
        number = 0
        while not stop.is_set():
            number += 1
            store.append(intent(number))
            store.save_draft("count", str(number), owner="", at=NOON)

    writer = threading.Thread(target=write)
    writer.start()
    try:
        made = [back_up(where, tmp_path / f"backup-{number}.sqlite3", now=LATER) for number in range(5)]
    finally:
        stop.set()
        writer.join()
    sizes = [each.receipt.size for each in made]
    assert sizes == sorted(sizes)
    for number, each in enumerate(made):
        assert each.findings == ()
        copy = opener(tmp_path / f"backup-{number}.sqlite3")
        draft = copy.load_draft("count")
        counted = 0 if draft is None else int(draft.text)
        # The draft was saved just after its record: the copy holds both, or the record alone.
        assert counted in {each.receipt.size - 1, each.receipt.size - 2}
        assert store.verify([each.receipt]) == []


def test_nothing_is_written_over(filled: SqlStore, where: str, tmp_path: Path) -> None:
    file = tmp_path / "backup.sqlite3"
    back_up(where, file, now=LATER)
    before = file.read_bytes()
    with pytest.raises(errors.RefusedError, match="exists already; nothing was written"):
        back_up(where, file, now=LATER)
    with pytest.raises(errors.RefusedError, match=r"Nothing was restored: .* is there already"):
        restore(file, where, now=LATER)
    assert file.read_bytes() == before
    assert filled.get_session(SESSION.token_hash) == SESSION


@pytest.mark.parametrize("ending", ["-wal", "-journal"])
def test_what_a_deleted_store_left_beside_itself_is_not_read_into_the_new_one(
    tmp_path: Path, opener: Opener, ending: str
) -> None:
    opener(tmp_path / "log.sqlite3").close()
    back_up(tmp_path / "log.sqlite3", tmp_path / "backup.sqlite3", now=LATER)
    Path(f"{tmp_path}/new.sqlite3{ending}").write_bytes(b"left over")
    with pytest.raises(errors.RefusedError, match=f"new.sqlite3{ending} is there already"):
        restore(tmp_path / "backup.sqlite3", tmp_path / "new.sqlite3", now=LATER)


def test_a_backup_that_was_broken_off_is_not_taken_for_one(filled: SqlStore, where: str, tmp_path: Path) -> None:
    (tmp_path / "backup.sqlite3.part").write_bytes(b"half")
    with pytest.raises(errors.RefusedError, match="was broken off"):
        back_up(where, tmp_path / "backup.sqlite3", now=LATER)
    assert not (tmp_path / "backup.sqlite3").exists()
    assert filled.verify() == []


def test_where_there_is_nothing_there_is_nothing_to_keep(where: str, empty: str, tmp_path: Path) -> None:
    for act in (
        lambda: back_up(where, tmp_path / "backup.sqlite3", now=LATER),
        lambda: store_info(where),
        lambda: restore(tmp_path / "nothing.sqlite3", empty, now=LATER),
    ):
        with pytest.raises(errors.RefusedError, match="There is no"):
            act()
    assert not (tmp_path / "backup.sqlite3").exists()
    assert not (tmp_path / "log.sqlite3").exists()


def doctored(file: Path, statement: str) -> None:
    bare = sqlite3.connect(file)
    for (name,) in bare.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
        bare.execute(f"DROP TRIGGER {name}")
    bare.execute("PRAGMA ignore_check_constraints = ON")
    bare.execute(statement)
    bare.commit()
    bare.close()


def test_a_doctored_backup_is_not_put_in_place(filled: SqlStore, where: str, empty: str, tmp_path: Path) -> None:
    file = tmp_path / "backup.sqlite3"
    made = back_up(where, file, now=LATER)
    doctored(file, "UPDATE entry_body SET content = x'7b7d' WHERE seq = 2")
    with pytest.raises(errors.RefusedError, match=r"Nothing was restored: .* does not verify: record 2: changed body"):
        restore(file, empty, now=LATER)
    assert filled.head() == made.receipt
    if "://" not in empty:
        assert list(Path(empty).parent.iterdir()) == []
    with pytest.raises(errors.RefusedError, match="There is no store"):
        store_info(empty)


def test_an_old_backup_shows_against_a_later_receipt(filled: SqlStore, where: str, empty: str, tmp_path: Path) -> None:
    back_up(where, tmp_path / "backup.sqlite3", now=LATER)
    _, later = filled.append(intent(60))
    with pytest.raises(errors.RefusedError, match=r"record 8: cut"):
        restore(tmp_path / "backup.sqlite3", empty, now=LATER, receipt_code=later.code)
    with pytest.raises(ReceiptCodeError):
        restore(tmp_path / "backup.sqlite3", empty, now=LATER, receipt_code="4Y94")


def test_a_clock_that_went_back_does_not_make_a_log_unrestorable(
    store: SqlStore, where: str, empty: str, tmp_path: Path
) -> None:
    store.append(intent(1, at=LATER))
    store.append(intent(2))
    (back,) = store.verify()
    made = back_up(where, tmp_path / "backup.sqlite3", now=LATER)
    put = restore(tmp_path / "backup.sqlite3", empty, now=LATER)
    assert made.findings == put.findings == (back,)
    assert made.receipt == put.receipt == store.head()


def test_a_damaged_file_is_backed_up_as_it_is_and_said_to_be_damaged(tmp_path: Path, opener: Opener) -> None:
    store = opener(tmp_path / "log.sqlite3")
    store.append(intent(1))
    doctored(tmp_path / "log.sqlite3", "UPDATE entry_body SET content = x'7b7d' WHERE seq = 2")
    made = back_up(tmp_path / "log.sqlite3", tmp_path / "backup.sqlite3", now=LATER)
    assert [str(finding)[:24] for finding in made.findings] == ["record 2: changed body: "]
    assert (tmp_path / "backup.sqlite3").exists()


@pytest.fixture
def old_backup(tmp_path: Path) -> Path:
    path = tmp_path / "old.sqlite3"
    bare = sqlite3.connect(path)
    bare.executescript(OLD_FILE.read_text(encoding="utf-8"))
    bare.close()
    return path


def test_an_old_backup_is_brought_up_to_date_and_itself_left_alone(
    old_backup: Path, empty: str, opener: Opener
) -> None:
    before = old_backup.read_bytes()
    put = restore(old_backup, empty, now=LATER, receipt_code=OLD_RECEIPT)
    assert put.receipt == Receipt.from_code(OLD_RECEIPT)
    assert old_backup.read_bytes() == before
    info = store_info(empty)
    assert info.version == info.newest == MIGRATIONS[-1].version
    assert info.counts == {"draft": 1, "document": 1, "policy_text": 1, "type_text": 0, "pin": 1, "account": 0}
    restored = opener(empty)
    restored.put_account(ACCOUNT, at=LATER)
    assert restored.verify(put.receipt) == []


def test_an_old_store_is_backed_up_as_it_is_before_anything_upgrades_it(old_backup: Path, tmp_path: Path) -> None:
    before = store_info(old_backup)
    assert before.version == 1
    made = back_up(old_backup, tmp_path / "backup.sqlite3", now=LATER)
    assert made.receipt == Receipt.from_code(OLD_RECEIPT)
    assert store_info(tmp_path / "backup.sqlite3").version == store_info(old_backup).version == 1


def test_a_backup_of_a_newer_program_is_refused(filled: SqlStore, where: str, empty: str, tmp_path: Path) -> None:
    file = tmp_path / "backup.sqlite3"
    back_up(where, file, now=LATER)
    newer = MIGRATIONS[-1].version + 1
    doctored(file, f"INSERT INTO schema_version VALUES ({newer}, '2030-01-01T00:00:00Z')")  # noqa: S608 - a number
    for act in (lambda: restore(file, empty, now=LATER), lambda: store_info(file)):
        with pytest.raises(errors.NewerLedgerError, match="newer riskboard"):
            act()
    assert not Path(f"{tmp_path}/restored/log.sqlite3").exists()
    assert filled.verify() == []


@pytest.mark.parametrize("content", [b"", b"a shopping list " * 100])
def test_what_is_no_backup_is_refused(tmp_path: Path, empty: str, content: bytes) -> None:
    (tmp_path / "list.txt").write_bytes(content)
    with pytest.raises(errors.LedgerError, match=r"There is no store|not a riskboard store"):
        restore(tmp_path / "list.txt", empty, now=LATER)
    assert (tmp_path / "list.txt").read_bytes() == content


@pytest.mark.parametrize("name", ["b #%41 ?.sqlite3", "Zo\u00eb's file.sqlite3"])
def test_names_with_odd_characters(tmp_path: Path, opener: Opener, name: str) -> None:
    opener(tmp_path / "log.sqlite3").append(intent(1))
    made = back_up(tmp_path / "log.sqlite3", tmp_path / name, now=LATER)
    put = restore(tmp_path / name, tmp_path / f"new {name}", now=LATER)
    assert made.receipt == put.receipt


def test_a_backup_on_a_disk_that_cannot_be_written_is_only_read(tmp_path: Path, opener: Opener) -> None:
    opener(tmp_path / "log.sqlite3").append(intent(1))
    stick = tmp_path / "stick"
    stick.mkdir()
    made = back_up(tmp_path / "log.sqlite3", stick / "backup.sqlite3", now=LATER)
    stick.chmod(0o555)
    try:
        assert restore(stick / "backup.sqlite3", tmp_path / "new.sqlite3", now=LATER).receipt == made.receipt
        assert [path.name for path in stick.iterdir()] == ["backup.sqlite3"]
    finally:
        stick.chmod(0o755)


def test_a_copy_taken_of_a_store_in_use_with_its_log_beside_it_is_read_whole(tmp_path: Path, opener: Opener) -> None:
    store = opener(tmp_path / "log.sqlite3")
    _, receipt = store.append(intent(1))
    taken = tmp_path / "taken"
    taken.mkdir()
    for path in tmp_path.glob("log.sqlite3*"):
        shutil.copy(path, taken / path.name)
    assert (taken / "log.sqlite3-wal").stat().st_size > 0
    put = restore(taken / "log.sqlite3", tmp_path / "new.sqlite3", now=LATER)
    assert put.receipt == receipt


def test_a_disk_without_links_gets_its_file_too(
    tmp_path: Path, opener: Opener, monkeypatch: pytest.MonkeyPatch
) -> None:
    def no_links(*_: object) -> None:
        raise OSError(95, "Operation not supported")

    opener(tmp_path / "log.sqlite3").append(intent(1))
    monkeypatch.setattr(os, "link", no_links)
    made = back_up(tmp_path / "log.sqlite3", tmp_path / "backup.sqlite3", now=LATER)
    assert store_info(tmp_path / "backup.sqlite3").receipt == made.receipt
    assert sorted(path.name for path in tmp_path.iterdir() if "backup" in path.name) == ["backup.sqlite3"]


@pytest.mark.parametrize("point", ["copy_of_file", "_verify", "_give_name"])
def test_a_backup_that_fails_leaves_nothing_behind(
    tmp_path: Path, opener: Opener, monkeypatch: pytest.MonkeyPatch, point: str
) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    opener(tmp_path / "log.sqlite3").append(intent(1))
    before = sorted(path.name for path in tmp_path.iterdir())
    monkeypatch.setattr(f"riskboard.jobs.keeping.{point}", full)
    with pytest.raises(OSError, match="No space"):
        back_up(tmp_path / "log.sqlite3", tmp_path / "backup.sqlite3", now=LATER)
    with pytest.raises(OSError, match="No space"):
        restore(tmp_path / "log.sqlite3", tmp_path / "new.sqlite3", now=LATER)
    assert sorted(path.name for path in tmp_path.iterdir()) == before


def test_the_password_of_a_server_is_never_shown(where: str, filled: SqlStore) -> None:
    secret = "swordfish"  # noqa: S105  - where the server asks for none it takes any
    if "://" not in where:
        where = f"sqlite:///{where}"
    else:
        secret = make_url(where).password or secret
        where = make_url(where).set(password=secret).render_as_string(hide_password=False)
    info = store_info(where)
    assert secret not in info.place
    assert info.counts == {"draft": 1, "document": 1, "policy_text": 1, "type_text": 1, "pin": 1, "account": 1}
    assert info.receipt == filled.head()
