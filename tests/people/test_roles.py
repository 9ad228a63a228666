"""Roles as the log tells them: from a moment on, until another, and never from what cannot be read."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from riskboard.ledger import Entry, Intent
from riskboard.ledger.entry import GENESIS_PREV, Body, seal
from riskboard.people.roles import RoleSpell, fold_roles, roles_at
from riskboard.words import Role

NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)
HOUR = timedelta(hours=1)


def text(moment: datetime | None) -> str | None:
    return None if moment is None else moment.isoformat().replace("+00:00", "Z")


def entry(
    kind: str, person: str, body: dict[str, Any], *, seq: int = 1, at: datetime = NOON, subject: str = ""
) -> Entry:
    intent = Intent(
        kind=kind,
        event_id=f"event-{seq}",
        at=at,
        actor="sigrun-palo",
        role="administrator",
        subject=subject or f"person {person}",
        body={"person": person, **body},
    )
    return seal(intent, origin="o", seq=seq, prev=GENESIS_PREV, salt=bytes(32))


def given_role(person: str, role: str, starts: datetime, until: datetime | None = None, *, seq: int = 1) -> Entry:
    return entry("role_given", person, {"role": role, "from": text(starts), "until": text(until), "why": ""}, seq=seq)


def ended_role(person: str, role: str, starts: datetime, ended: datetime, *, seq: int = 2) -> Entry:
    return entry("role_ended", person, {"role": role, "from": text(starts), "ended": text(ended), "why": ""}, seq=seq)


def held(entries: list[Entry], at: datetime, person: str = "mara") -> set[str]:
    return {role.value for role in roles_at(fold_roles(entries).get(person, ()), at)}


def test_a_role_holds_from_its_first_moment_until_its_end_and_not_at_it() -> None:
    log = [given_role("mara", "instructor", NOON, NOON + HOUR)]
    assert held(log, NOON - timedelta(seconds=1)) == set()
    assert held(log, NOON) == {"instructor"}
    assert held(log, NOON + HOUR - timedelta(seconds=1)) == {"instructor"}
    assert held(log, NOON + HOUR) == set()
    (spell,) = fold_roles(log)["mara"]
    assert spell == RoleSpell("mara", Role.instructor, NOON, NOON + HOUR, "sigrun-palo", 1)


def test_an_end_takes_effect_at_its_moment_also_when_that_is_still_to_come() -> None:
    log = [given_role("mara", "instructor", NOON), ended_role("mara", "instructor", NOON, NOON + 2 * HOUR)]
    assert held(log, NOON + HOUR) == {"instructor"}
    assert held(log, NOON + 2 * HOUR) == set()


def test_an_end_never_prolongs_and_the_earlier_of_two_ends_counts() -> None:
    log = [
        given_role("mara", "instructor", NOON, NOON + HOUR),
        ended_role("mara", "instructor", NOON, NOON + 5 * HOUR),
        ended_role("mara", "instructor", NOON, NOON + HOUR / 2, seq=3),
    ]
    assert held(log, NOON + HOUR) == set()
    assert held(log, NOON + HOUR / 2) == set()
    assert held(log, NOON + HOUR / 4) == {"instructor"}


def test_an_end_touches_only_the_spell_it_names() -> None:
    log = [
        given_role("mara", "instructor", NOON),
        given_role("mara", "dispatcher", NOON, seq=2),
        given_role("noor", "instructor", NOON, seq=3),
        ended_role("mara", "instructor", NOON, NOON + HOUR, seq=4),
        given_role("mara", "instructor", NOON + 2 * HOUR, seq=5),
    ]
    assert held(log, NOON + HOUR) == {"dispatcher"}
    assert held(log, NOON + 3 * HOUR) == {"dispatcher", "instructor"}
    assert held(log, NOON + HOUR, "noor") == {"instructor"}


@pytest.mark.parametrize(
    "body",
    [
        {},
        {"role": "king", "from": text(NOON), "until": None},
        {"role": "instructor", "from": "noon", "until": None},
        {"role": "instructor", "from": text(NOON), "until": "later"},
        {"role": "instructor", "from": text(NOON)},
        {"role": "instructor", "from": 5, "until": None},
        {"role": "instructor", "from": "2026-03-01T12:00:00+00:00", "until": None},
        {"role": ["instructor"], "from": text(NOON), "until": None},
    ],
)
def test_what_cannot_be_read_gives_nobody_a_role(body: dict[str, Any]) -> None:
    assert held([entry("role_given", "mara", body)], NOON) == set()


def test_a_record_about_one_person_gives_another_nothing() -> None:
    body = {"role": "administrator", "from": text(NOON), "until": None}
    log = [entry("role_given", "mara", body, subject="person noor"), entry("role_given", "mara", body, subject="mara")]
    assert held(log, NOON) == held(log, NOON, "noor") == set()


@pytest.mark.parametrize("damage", ["absent", "not json", "no words"])
def test_an_end_that_cannot_be_read_ends_everything(damage: str) -> None:
    end = ended_role("mara", "instructor", NOON, NOON + 5 * HOUR)
    bodies = {"absent": None, "not json": Body(bytes(32), b"{"), "no words": Body(bytes(32), b"{}")}
    log = [given_role("mara", "instructor", NOON), given_role("mara", "dispatcher", NOON, seq=2)]
    assert held([*log, replace(end, body=bodies[damage])], NOON) == set()


def test_a_role_given_without_a_body_gives_nothing() -> None:
    assert held([replace(given_role("mara", "instructor", NOON), body=None)], NOON) == set()


def test_other_kinds_change_nothing() -> None:
    log = [given_role("mara", "instructor", NOON), entry("fact_changed", "mara", {"role": "administrator"}, seq=2)]
    assert held(log, NOON) == {"instructor"}


_MOMENTS = st.integers(0, 6).map(lambda hours: NOON + hours * HOUR)
_ROLES = st.sampled_from(["instructor", "dispatcher"])


@st.composite
def _logs(draw: st.DrawFn) -> list[Entry]:
    made = []
    for seq in range(1, draw(st.integers(1, 8)) + 1):
        person, role, starts, ends = (
            draw(st.sampled_from(["mara", "noor"])),
            draw(_ROLES),
            draw(_MOMENTS),
            draw(_MOMENTS),
        )
        give = draw(st.booleans())
        made.append(
            given_role(person, role, starts, draw(st.none() | _MOMENTS), seq=seq)
            if give
            else ended_role(person, role, starts, ends, seq=seq)
        )
    return made


def _told(log: list[Entry], person: str, at: datetime) -> Iterator[str]:
    """The same question answered one moment at a time, straight from the records."""
    for position, record in enumerate(log):
        assert record.body is not None
        body = record.body.value
        if record.header.kind != "role_given" or body["person"] != person:
            continue
        ends = [body["until"]] if body["until"] is not None else []
        for later in log[position + 1 :]:
            assert later.body is not None
            said = later.body.value
            same = (said["person"], said["role"], said["from"]) == (person, body["role"], body["from"])
            if later.header.kind == "role_ended" and same:
                ends.append(said["ended"])
        if str(body["from"]) <= str(text(at)) and all(str(text(at)) < end for end in ends):
            yield body["role"]


@given(_logs(), _MOMENTS, st.sampled_from(["mara", "noor"]))
def test_the_fold_agrees_with_a_plain_reading_of_the_records(log: list[Entry], at: datetime, person: str) -> None:
    assert held(log, at, person) == set(_told(log, person, at))
