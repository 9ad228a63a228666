"""The first start: nobody runs the school, and whoever comes first over the network gains nothing by it."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from riskboard import demo, jobs
from riskboard.words import Role
from tests.people.conftest import ADMINISTRATOR, NEW_PASSPHRASE, NEW_PIN, House

NOW = datetime(2026, 5, 4, 16, tzinfo=UTC)


@pytest.fixture
def office(tmp_path: Path) -> Iterator[jobs.Office]:
    opened = jobs.open_office(tmp_path / "empty.sqlite3", now=NOW)
    yield opened
    opened.store.close()


def start(office: jobs.Office, code: str, **changes: str) -> str:
    given = {
        "name": "Ana Kovalčik",
        "login_name": "ana",
        "passphrase": NEW_PASSPHRASE,
        "pin": NEW_PIN,
        "school_name": "Morrow Field Helicopters",
        "time_zone": "Europe/Zagreb",
    } | changes
    return jobs.first_start(office, code, at=NOW, **given)


def code_of(office: jobs.Office) -> str:
    code = jobs.first_start_code(office, at=NOW)
    assert code is not None
    return code


def test_the_code_makes_the_administrator_and_the_school_once(office: jobs.Office) -> None:
    code = code_of(office)
    token = start(office, f" {code.lower().replace('-', ' ')} ")
    ana = jobs.caller(office, token, at=NOW)
    assert ana is not None
    assert (ana.person_id, ana.name) == ("ana-kovalcik", "Ana Kovalčik")
    assert jobs.roles_of(office, ana.person_id, NOW) == {Role.administrator}
    school = jobs.school(office)
    assert school is not None
    assert (school["name"], school["time_zone"], school.get("invented")) == (
        "Morrow Field Helicopters",
        "Europe/Zagreb",
        None,
    )
    assert jobs.sign_in(office, "ana", NEW_PASSPHRASE, at=NOW)
    assert jobs.has_pin(office, ana.person_id)
    assert not jobs.needs_first_start(office, NOW)
    assert jobs.first_start_code(office, at=NOW) is None
    with pytest.raises(jobs.NotLetInError, match="not the code"):
        start(office, code, name="Second", login_name="second")
    assert jobs.verify_log(office) == []


@pytest.mark.parametrize("code", ["", "0000", "AAAA-AAAA-AAAA-AAAA-AAAA", "4927"])
def test_no_code_and_no_default_opens_anything(office: jobs.Office, code: str) -> None:
    with pytest.raises(jobs.NotLetInError, match="not the code"):
        start(office, code)
    code_of(office)
    with pytest.raises(jobs.NotLetInError, match="not the code"):
        start(office, code)
    assert office.store.list_accounts() == []
    assert jobs.school(office) is None


def test_a_restart_makes_a_new_code_and_the_old_one_is_none(office: jobs.Office) -> None:
    old = code_of(office)
    new = code_of(office)
    assert old != new
    with pytest.raises(jobs.NotLetInError):
        start(office, old)
    assert start(office, new)


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"passphrase": "short"}, "at least 12"),
        ({"passphrase": "morrow field flies"}, "school's name"),
        ({"passphrase": "ana likes kovalčik"}, "person's name"),
        ({"pin": "1234"}, "PIN"),
        ({"pin": ""}, "PIN"),
        ({"time_zone": "Zagreb"}, "no time zone"),
        ({"time_zone": "../../etc/passwd"}, "no time zone"),
        ({"time_zone": ""}, "no time zone"),
        ({"school_name": " "}, "1 to 120"),
        ({"name": ""}, "1 to 120"),
        ({"login_name": "a b"}, "2 to 40"),
    ],
)
def test_what_will_not_do_makes_nothing_and_the_code_stays_good(
    office: jobs.Office, changes: dict[str, str], why: str
) -> None:
    code = code_of(office)
    size = office.store.head().size
    with pytest.raises(jobs.NotDoneError, match=why):
        start(office, code, **changes)
    assert (office.store.head().size, office.store.list_accounts(), jobs.school(office)) == (size, [], None)
    assert jobs.needs_first_start(office, NOW)
    assert start(office, code)


def test_the_code_is_kept_only_as_a_hash(office: jobs.Office) -> None:
    code = code_of(office)
    assert office.store.places_holding(code) == []
    assert office.store.places_holding(code.replace("-", "")) == []


def test_the_invented_school_opens_into_an_empty_store_only(office: jobs.Office) -> None:
    code = code_of(office)
    start(office, code)
    with pytest.raises(jobs.NotDoneError, match="a school in this store already"):
        jobs.load_demo_school(office, now=NOW)
    assert len(office.store.list_accounts()) == 1


def test_the_invented_people_hold_the_roles_and_ways_in_that_are_shown(house: House) -> None:
    for person_id, roles in demo.ROLES.items():
        assert house.roles(person_id) == set(roles)
        assert house.caller(person_id).person_id == person_id
    assert jobs.verify_log(house.office) == []
    assert not jobs.needs_first_start(house.office, house.now)


def test_a_school_that_lost_its_administrator_gets_one_by_the_console_and_keeps_its_facts(house: House) -> None:
    """The record is written by hand here: no job lets the last administrator go."""
    from riskboard.ledger import Intent  # noqa: PLC0415

    body = {"person": ADMINISTRATOR, "role": "administrator", "ended": "2026-05-04T16:00:00Z", "why": "by hand"}
    began = house.now - timedelta(days=365)
    house.office.store.append(
        Intent(
            kind="role_ended",
            event_id="by-hand",
            at=house.now,
            actor="riskboard",
            role="installer",
            subject=f"person {ADMINISTRATOR}",
            body=body | {"from": began.isoformat().replace("+00:00", "Z")},
        )
    )
    before = jobs.school(house.office)
    code = code_of(house.office)
    token = start(house.office, code, name="Edda Quaye", login_name="edda", school_name="Another", time_zone="")
    edda = jobs.caller(house.office, token, at=house.now)
    assert edda is not None
    assert edda.person_id == ADMINISTRATOR
    assert house.roles(ADMINISTRATOR) == {"administrator"}
    assert jobs.school(house.office) == before
