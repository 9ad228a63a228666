"""The invented school in a store of its own, its secrets hashed quickly, and people who are in."""

import itertools
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import argon2
import pytest

from riskboard import demo, jobs
from riskboard.people.accounts import set_passphrase
from riskboard.people.pin import set_pin

NOW = datetime(2026, 5, 4, 16, tzinfo=UTC)
QUICK = argon2.PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
ADMINISTRATOR, CHIEF, DISPATCHER = "edda-quaye", "sigrun-palo", "wendell-achterberg"
INSTRUCTOR, RENTER, STUDENT, SAFETY = "mara-oduya", "tobin-reyes-hall", "ines-vasko", "noor-farrant"
NEW_PASSPHRASE, NEW_PIN = "kettle orbit mossy lamp", "5829"


@pytest.fixture(scope="session")
def invented_store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("invented") / "riskboard.sqlite3"
    office = jobs.open_office(path, now=NOW)
    jobs.load_demo_school(office, now=NOW)
    passphrase, pin = set_passphrase(demo.DEMO_PASSPHRASE, {}, hasher=QUICK), set_pin(demo.DEMO_PIN, hasher=QUICK)
    for account in office.store.list_accounts():
        office.store.put_account(replace(account, passphrase_hash=passphrase), at=NOW)
        office.store.set_pin_hash(account.person_id, pin, at=NOW)
    office.store.close()
    return path


@dataclass
class House:
    """The school, its clock, and who is in."""

    office: jobs.Office
    now: datetime = NOW
    _events: Any = field(default_factory=lambda: itertools.count(1))

    def later(self, **span: float) -> datetime:
        self.now += timedelta(**span)
        return self.now

    def token(self, person_id: str) -> str:
        return jobs.sign_in(self.office, demo.LOGIN_NAMES[person_id], demo.DEMO_PASSPHRASE, at=self.now)

    def caller(self, person_id: str) -> jobs.Caller:
        found = jobs.caller(self.office, self.token(person_id), at=self.now)
        assert found is not None
        return found

    def signature(self, *, pin: str = demo.DEMO_PIN, why: str = "test", event_id: str = "") -> jobs.StaffSignature:
        return jobs.StaffSignature(pin, event_id or f"event-{next(self._events)}", why)

    def roles(self, person_id: str) -> set[str]:
        return {role.value for role in jobs.roles_of(self.office, person_id, self.now)}

    def size(self) -> int:
        return self.office.store.head().size

    def changes_nothing(self, act: Callable[[], object], match: str = "", error: type[Exception] | None = None) -> None:
        """Whatever is tried, no record is made and nobody's roles or way in change."""
        before = self.picture()
        with pytest.raises(error or jobs.NotSignedError, match=match):
            act()
        assert self.picture() == before

    def picture(self) -> tuple[object, ...]:
        accounts = tuple(replace(each, failures=0, last_failure_at=None) for each in self.office.store.list_accounts())
        pins = tuple((each.person_id, self.pin_hash(each.person_id)) for each in accounts)
        return self.size(), accounts, pins

    def pin_hash(self, person_id: str) -> str | None:
        record = self.office.store.get_pin(person_id)
        return None if record is None else record.pin_hash


@pytest.fixture
def house(invented_store: Path, tmp_path: Path) -> Iterator[House]:
    own = tmp_path / "riskboard.sqlite3"
    shutil.copy(invented_store, own)
    office = jobs.open_office(own, now=NOW)
    yield House(office)
    office.store.close()
