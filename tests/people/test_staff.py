"""Keeping the people of the school, tried without the right to, twice, too late, and for oneself."""

import threading
from collections.abc import Callable
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path

import pytest

from riskboard import demo, jobs
from riskboard.words import Role
from tests.people.conftest import (
    ADMINISTRATOR,
    CHIEF,
    DISPATCHER,
    INSTRUCTOR,
    NEW_PASSPHRASE,
    NEW_PIN,
    NOW,
    RENTER,
    SAFETY,
    STUDENT,
    House,
)

DAY = timedelta(days=1)
SINCE = NOW - timedelta(days=365)
WITHOUT_RIGHT = [DISPATCHER, INSTRUCTOR, RENTER, STUDENT, SAFETY, "joss-okonjo-lind"]


def everything(house: House, who: jobs.Caller, target: str = RENTER) -> list[tuple[str, Callable[[], object]]]:
    """Each act that this module allows somebody, each with an event of its own."""
    office, at, sign = house.office, house.now, house.signature
    began = SINCE
    return [
        ("add", lambda: jobs.add_person(office, who, "Pavel Sirin", "pavel", sign(), at=at)),
        ("give", lambda: jobs.give_role(office, who, target, Role.dispatcher, sign(), at=at)),
        ("end", lambda: jobs.end_role(office, who, target, Role.renter, began, sign(), at=at)),
        ("close", lambda: jobs.close_account(office, who, target, sign(), at=at)),
        ("code", lambda: jobs.reset_passphrase(office, who, target, sign(), at=at)),
        ("pin", lambda: jobs.reset_pin(office, who, target, sign(), at=at)),
        ("link", lambda: jobs.link_identity(office, who, target, "https://id.invented.example", "s", sign(), at=at)),
    ]


@pytest.mark.parametrize("person_id", WITHOUT_RIGHT)
def test_without_the_right_nothing_happens_whatever_is_called(house: House, person_id: str) -> None:
    for _, act in everything(house, house.caller(person_id)):
        house.changes_nothing(act, "People are kept by|Only an administrator|Nobody gives", jobs.NotDoneError)


def test_a_right_that_has_ended_is_none(house: House) -> None:
    edda, sigrun = house.caller(ADMINISTRATOR), house.caller(CHIEF)
    jobs.end_role(house.office, edda, CHIEF, Role.chief_instructor, SINCE, house.signature(), at=house.now)
    for _, act in everything(house, sigrun):
        house.changes_nothing(act, "People are kept by|Only an administrator", jobs.NotDoneError)


def test_an_ended_or_made_up_session_is_none(house: House) -> None:
    token = house.token(ADMINISTRATOR)
    edda = jobs.caller(house.office, token, at=house.now)
    assert edda is not None
    mara = house.caller(INSTRUCTOR)
    jobs.sign_out(house.office, token, at=house.now)
    for who in (edda, jobs.Caller(ADMINISTRATOR, "Edda Quaye", mara.token_hash)):
        for _, act in everything(house, who):
            house.changes_nothing(act, "not signed in", jobs.NotLetInError)


def test_a_wrong_pin_changes_nothing_and_guessing_is_slowed(house: House) -> None:
    edda = house.caller(ADMINISTRATOR)
    said = []
    for _ in range(6):
        before = house.picture()
        with pytest.raises(jobs.NotSignedError) as caught:
            jobs.give_role(house.office, edda, RENTER, Role.instructor, house.signature(pin="8351"), at=house.now)
        said.append("Too many wrong PINs" in str(caught.value))
        assert house.picture() == before
    assert said == [False] * 3 + [True] * 3


def test_another_persons_pin_is_wrong(house: House) -> None:
    edda = house.caller(ADMINISTRATOR)
    jobs.set_own_pin(house.office, edda, demo.DEMO_PIN, "7306", event_id="own-pin", at=house.now)
    sign = house.signature(pin=demo.DEMO_PIN)
    house.changes_nothing(
        lambda: jobs.give_role(house.office, edda, RENTER, Role.instructor, sign, at=house.now), "PIN is not right"
    )


def test_a_reason_is_needed(house: House) -> None:
    edda = house.caller(ADMINISTRATOR)
    sign = house.signature(why="   ")
    house.changes_nothing(
        lambda: jobs.give_role(house.office, edda, RENTER, Role.instructor, sign, at=house.now), "needs a reason"
    )


def give(house: House, who: jobs.Caller, person_id: str, role: Role) -> None:
    jobs.give_role(house.office, who, person_id, role, house.signature(), at=house.now)


@pytest.mark.parametrize("person_id", [ADMINISTRATOR, CHIEF])
def test_nobody_gives_themselves_a_role(house: House, person_id: str) -> None:
    who = house.caller(person_id)
    for role in Role:
        house.changes_nothing(partial(give, house, who, person_id, role), "gives themselves a role", jobs.NotDoneError)


def test_a_chief_instructor_makes_no_administrator_and_opens_no_administrators_door(house: House) -> None:
    sigrun = house.caller(CHIEF)
    sign = house.signature()
    house.changes_nothing(
        lambda: jobs.give_role(house.office, sigrun, RENTER, Role.administrator, sign, at=house.now),
        "Only an administrator makes",
    )
    for name, act in everything(house, sigrun, ADMINISTRATOR):
        if name not in {"add", "end"}:
            house.changes_nothing(act, "Only an administrator", jobs.NotDoneError)


def test_who_runs_the_school_keeps_roles_with_dates_and_the_record_tells_it(house: House) -> None:
    sigrun = house.caller(CHIEF)
    starts, until = NOW + DAY, NOW + 3 * DAY
    acted = jobs.give_role(
        house.office, sigrun, RENTER, Role.instructor, house.signature(), starts=starts, until=until, at=house.now
    )
    header = acted.entry.header
    assert (header.kind, header.actor, header.role, header.subject) == (
        "role_given",
        CHIEF,
        "chief_instructor",
        f"person {RENTER}",
    )
    assert acted.entry.body is not None
    said = acted.entry.body.value
    assert {key: said[key] for key in ("person", "role", "from", "until", "why")} == {
        "person": RENTER,
        "role": "instructor",
        "from": "2026-05-05T16:00:00Z",
        "until": "2026-05-07T16:00:00Z",
        "why": "test",
    }
    held = [jobs.roles_of(house.office, RENTER, at) for at in (NOW, starts, until - timedelta(seconds=1), until)]
    assert [Role.instructor in roles for roles in held] == [False, True, True, False]
    assert jobs.verify_log(house.office, acted.receipt.code) == []


def test_an_end_takes_effect_at_its_moment(house: House) -> None:
    edda = house.caller(ADMINISTRATOR)
    ended = NOW + DAY
    jobs.end_role(house.office, edda, INSTRUCTOR, Role.instructor, SINCE, house.signature(), ended=ended, at=house.now)
    held = [jobs.roles_of(house.office, INSTRUCTOR, at) for at in (NOW, ended - timedelta(seconds=1), ended)]
    assert [Role.instructor in roles for roles in held] == [True, True, False]


@pytest.mark.parametrize(
    ("starts", "until", "why"),
    [
        (NOW - timedelta(seconds=1), None, "now or later"),
        (NOW + DAY, NOW + DAY, "ends after it begins"),
        (None, NOW, "ends after it begins"),
    ],
)
def test_dates_that_make_no_time_or_lie_in_the_past_are_refused(
    house: House, starts: datetime | None, until: datetime | None, why: str
) -> None:
    edda = house.caller(ADMINISTRATOR)
    sign = house.signature()
    house.changes_nothing(
        lambda: jobs.give_role(
            house.office,
            edda,
            RENTER,
            Role.instructor,
            sign,
            starts=starts,
            until=until,
            at=house.now,
        ),
        why,
    )


def test_a_past_end_a_role_that_never_was_and_a_role_twice_are_refused(house: House) -> None:
    edda, office = house.caller(ADMINISTRATOR), house.office
    sign = house.signature()
    tries = [
        (
            lambda: jobs.end_role(office, edda, INSTRUCTOR, Role.instructor, SINCE, sign, ended=NOW - DAY, at=NOW),
            "later",
        ),
        (lambda: jobs.end_role(office, edda, INSTRUCTOR, Role.dispatcher, SINCE, sign, at=NOW), "no such role"),
        (lambda: jobs.end_role(office, edda, INSTRUCTOR, Role.instructor, NOW, sign, at=NOW), "no such role"),
        (lambda: jobs.give_role(office, edda, INSTRUCTOR, Role.instructor, sign, at=NOW), "in that time already"),
        (lambda: jobs.give_role(office, edda, INSTRUCTOR, Role.pilot, sign, at=NOW), "goes with a flight"),
        (lambda: jobs.give_role(office, edda, "nobody", Role.instructor, sign, at=NOW), "knows nobody"),
    ]
    for act, why in tries:
        house.changes_nothing(act, why, jobs.NotDoneError)


def test_the_last_administrator_cannot_be_ended_closed_or_dated(house: House) -> None:
    edda, sigrun = house.caller(ADMINISTRATOR), house.caller(CHIEF)
    for who in (edda, sigrun):
        for ended in (None, NOW + DAY):
            sign = house.signature()
            house.changes_nothing(
                lambda who=who, ended=ended, sign=sign: jobs.end_role(  # type: ignore[misc]
                    house.office, who, ADMINISTRATOR, Role.administrator, SINCE, sign, ended=ended, at=house.now
                ),
                "Nobody would be left|Only an administrator",
            )
    jobs.give_role(house.office, edda, RENTER, Role.administrator, house.signature(), until=NOW + DAY, at=house.now)
    sign = house.signature()
    house.changes_nothing(  # an administrator for a day does not count as one who stays
        lambda: jobs.end_role(house.office, edda, ADMINISTRATOR, Role.administrator, SINCE, sign, at=house.now),
        "Nobody would be left",
    )
    jobs.give_role(house.office, edda, SAFETY, Role.administrator, house.signature(), at=house.now)
    jobs.end_role(house.office, edda, ADMINISTRATOR, Role.administrator, SINCE, house.signature(), at=house.now)
    assert house.roles(ADMINISTRATOR) == set()


def test_two_administrators_who_end_each_other_at_once_leave_one(house: House, tmp_path: Path) -> None:
    edda = house.caller(ADMINISTRATOR)
    jobs.give_role(house.office, edda, SAFETY, Role.administrator, house.signature(), at=house.now)
    noor = house.caller(SAFETY)
    starts = {ADMINISTRATOR: SINCE, SAFETY: NOW}
    gate, said = threading.Barrier(2), []

    def end(who: jobs.Caller, target: str) -> None:
        office = jobs.open_office(tmp_path / "riskboard.sqlite3", now=NOW)
        sign = jobs.StaffSignature(demo.DEMO_PIN, f"race-{target}", "race")
        gate.wait()
        try:
            jobs.end_role(office, who, target, Role.administrator, starts[target], sign, at=NOW)
            said.append("ended")
        except jobs.NotDoneError as error:
            said.append(str(error))
        finally:
            office.store.close()

    racers = [threading.Thread(target=end, args=pair) for pair in ((edda, SAFETY), (noor, ADMINISTRATOR))]
    for racer in racers:
        racer.start()
    for racer in racers:
        racer.join()
    assert sorted(each == "ended" for each in said) == [False, True], said
    assert sum("administrator" in house.roles(person) for person in (ADMINISTRATOR, SAFETY)) == 1


def test_a_double_click_is_one_record_and_a_replayed_event_does_nothing_else(house: House) -> None:
    edda = house.caller(ADMINISTRATOR)
    sign = house.signature(event_id="press-1")
    first = jobs.give_role(house.office, edda, RENTER, Role.instructor, sign, at=house.now)
    size = house.size()
    again = jobs.give_role(house.office, edda, RENTER, Role.instructor, sign, at=house.later(seconds=2))
    assert (again.receipt, house.size()) == (first.receipt, size)
    replays = [
        lambda: jobs.give_role(house.office, edda, RENTER, Role.dispatcher, sign, at=house.now),
        lambda: jobs.give_role(house.office, edda, STUDENT, Role.instructor, sign, at=house.now),
        lambda: jobs.end_role(house.office, edda, RENTER, Role.instructor, NOW, sign, at=house.now),
        lambda: jobs.close_account(house.office, edda, RENTER, sign, at=house.now),
        lambda: jobs.reset_passphrase(house.office, edda, RENTER, sign, at=house.now),
    ]
    for replay in replays:
        house.changes_nothing(replay, "used for something else", jobs.NotDoneError)
    sigrun = house.caller(CHIEF)
    house.changes_nothing(
        lambda: jobs.give_role(house.office, sigrun, RENTER, Role.instructor, sign, at=house.now),
        "used for something else",
    )


def add(house: House, name: str = "Pavel Sirin", login: str = "pavel") -> jobs.NewWayIn:
    edda = house.caller(ADMINISTRATOR)
    return jobs.add_person(house.office, edda, name, login, house.signature(), at=house.now)


def test_somebody_new_sets_their_own_words_and_has_no_right_before_they_are_given_one(house: House) -> None:
    new = add(house)
    assert new.person_id == "pavel-sirin"
    for words in (new.code, NEW_PASSPHRASE, ""):
        with pytest.raises(jobs.NotLetInError, match="do not fit"):
            jobs.sign_in(house.office, "pavel", words, at=house.now)
    token = jobs.use_code(house.office, "pavel", new.code, NEW_PASSPHRASE, NEW_PIN, at=house.now)
    pavel = jobs.caller(house.office, token, at=house.now)
    assert pavel is not None
    assert (pavel.person_id, pavel.name, house.roles(pavel.person_id)) == ("pavel-sirin", "Pavel Sirin", set())
    assert jobs.sign_in(house.office, "pavel", NEW_PASSPHRASE, at=house.now)
    with pytest.raises(jobs.NotLetInError, match="do not fit"):
        jobs.use_code(house.office, "pavel", new.code, "another set of words", "", at=house.now)
    for secret in (new.code, NEW_PASSPHRASE):
        assert house.office.store.places_holding(secret) == []


def test_a_code_is_shown_once_only(house: House) -> None:
    edda = house.caller(ADMINISTRATOR)
    sign = house.signature(event_id="press-2")
    first = jobs.add_person(house.office, edda, "Pavel Sirin", "pavel", sign, at=house.now)
    again = jobs.add_person(house.office, edda, "Pavel Sirin", "pavel", sign, at=house.now)
    assert (again.code, again.person_id, again.receipt) == ("", first.person_id, first.receipt)
    assert jobs.use_code(house.office, "pavel", first.code, NEW_PASSPHRASE, NEW_PIN, at=house.now)


@pytest.mark.parametrize(
    ("name", "login", "why"),
    [
        ("", "pavel", "1 to 120"),
        ("x" * 121, "pavel", "1 to 120"),
        ("Pavel\u202e Sirin", "pavel", "cannot be seen"),
        ("Pavel Sirin", "MARA", "login name 'mara'"),
        ("Pavel Sirin", "p", "2 to 40"),
        ("Pavel Sirin", "pavel sirin", "2 to 40"),
    ],
)
def test_names_that_will_not_do(house: House, name: str, login: str, why: str) -> None:
    edda = house.caller(ADMINISTRATOR)
    sign = house.signature()
    house.changes_nothing(
        lambda: jobs.add_person(house.office, edda, name, login, sign, at=house.now), why, jobs.NotDoneError
    )


def test_two_people_of_one_name_have_two_ids(house: House) -> None:
    ids = [add(house, name, login).person_id for name, login in [("Ana Li", "ana"), ("Ana Lí", "ana2"), ("李", "li")]]
    assert ids == ["ana-li", "ana-li-2", "person"]


def test_a_code_guessed_wrong_is_slowed_and_one_that_is_old_is_none(house: House) -> None:
    new = add(house)
    for guess in range(5):
        with pytest.raises(jobs.NotLetInError, match="do not fit"):
            jobs.use_code(house.office, "pavel", f"GUESS-{guess}", NEW_PASSPHRASE, "", at=house.now)
    with pytest.raises(jobs.NotLetInError, match="do not fit"):
        jobs.use_code(house.office, "nobody", new.code, NEW_PASSPHRASE, "", at=house.now)
    with pytest.raises(jobs.NotLetInError, match="Too many"):
        jobs.use_code(house.office, "pavel", new.code, NEW_PASSPHRASE, "", at=house.now)
    house.later(days=3, seconds=1)
    with pytest.raises(jobs.NotLetInError, match="do not fit"):
        jobs.use_code(house.office, "pavel", new.code, NEW_PASSPHRASE, "", at=house.now)


@pytest.mark.parametrize(
    ("words", "pin", "why"),
    [
        ("too short", NEW_PIN, "at least 12"),
        ("pavel likes rotors", NEW_PIN, "contains"),
        ("over larkfield at dawn", NEW_PIN, "the school's name"),
        (NEW_PASSPHRASE, "1234", "PIN"),
    ],
)
def test_unfit_words_are_refused_and_the_code_stays_good(house: House, words: str, pin: str, why: str) -> None:
    new = add(house)
    house.changes_nothing(
        lambda: jobs.use_code(house.office, "pavel", new.code, words, pin, at=house.now), why, jobs.NotDoneError
    )
    assert jobs.use_code(house.office, "pavel", new.code, NEW_PASSPHRASE, NEW_PIN, at=house.now)


def test_whoever_got_hold_of_a_code_still_cannot_sign(house: House) -> None:
    """An administrator makes a code for somebody else, and uses it: the PIN that signs stays out of reach."""
    edda = house.caller(ADMINISTRATOR)
    mara_before = house.token(INSTRUCTOR)
    new = jobs.reset_passphrase(house.office, edda, INSTRUCTOR, house.signature(), at=house.now)
    assert jobs.caller(house.office, mara_before, at=house.now) is None
    with pytest.raises(jobs.NotLetInError):
        jobs.sign_in(house.office, "mara", demo.DEMO_PASSPHRASE, at=house.now)
    house.changes_nothing(
        lambda: jobs.use_code(house.office, "mara", new.code, NEW_PASSPHRASE, NEW_PIN, at=house.now),
        "You have a PIN already",
    )
    token = jobs.use_code(house.office, "mara", new.code, NEW_PASSPHRASE, "", at=house.now)
    as_mara = jobs.caller(house.office, token, at=house.now)
    assert as_mara is not None
    house.changes_nothing(
        lambda: jobs.set_own_pin(house.office, as_mara, NEW_PASSPHRASE, NEW_PIN, event_id="steal", at=house.now),
        "PIN is not right",
    )
    told = [entry.header.actor for entry in jobs.log_entries(house.office) if entry.header.kind == "access_changed"]
    assert told[-2:] == [ADMINISTRATOR, INSTRUCTOR]


def test_own_words_change_with_the_present_ones_only_and_end_every_session(house: House) -> None:
    there, mara = house.token(INSTRUCTOR), house.caller(INSTRUCTOR)
    house.changes_nothing(
        lambda: jobs.set_own_passphrase(
            house.office, mara, "not my words at all", NEW_PASSPHRASE, event_id="own-1", at=house.now
        ),
        "not your present passphrase",
        jobs.NotLetInError,
    )
    house.changes_nothing(
        lambda: jobs.set_own_passphrase(
            house.office, mara, demo.DEMO_PASSPHRASE, "mara oduya flies", event_id="own-2", at=house.now
        ),
        "contains",
        jobs.NotDoneError,
    )
    jobs.set_own_passphrase(house.office, mara, demo.DEMO_PASSPHRASE, NEW_PASSPHRASE, event_id="own-3", at=house.now)
    assert jobs.caller(house.office, there, at=house.now) is None
    with pytest.raises(jobs.NotLetInError):
        jobs.sign_in(house.office, "mara", demo.DEMO_PASSPHRASE, at=house.now)
    assert jobs.sign_in(house.office, "mara", NEW_PASSPHRASE, at=house.now)


def test_guessing_ones_own_passphrase_at_an_unlocked_screen_is_slowed(house: House) -> None:
    mara = house.caller(INSTRUCTOR)
    said = []
    for guess in range(7):
        with pytest.raises(jobs.NotLetInError) as caught:
            jobs.set_own_passphrase(
                house.office, mara, f"guess number {guess}", NEW_PASSPHRASE, event_id=f"g-{guess}", at=house.now
            )
        said.append("Too many" in str(caught.value))
    assert said == [False] * 5 + [True] * 2


def test_a_pin_that_was_taken_away_is_set_anew_with_the_passphrase(house: House) -> None:
    edda = house.caller(ADMINISTRATOR)
    jobs.reset_pin(house.office, edda, INSTRUCTOR, house.signature(), at=house.now)
    assert not jobs.has_pin(house.office, INSTRUCTOR)
    mara = house.caller(INSTRUCTOR)
    house.changes_nothing(
        lambda: jobs.set_own_pin(house.office, mara, demo.DEMO_PIN, NEW_PIN, event_id="p-1", at=house.now),
        "not your present passphrase",
        jobs.NotLetInError,
    )
    jobs.set_own_pin(house.office, mara, demo.DEMO_PASSPHRASE, NEW_PIN, event_id="p-2", at=house.now)
    assert jobs.has_pin(house.office, INSTRUCTOR)


@pytest.mark.parametrize("act", ["code", "pin", "close"])
def test_nobody_goes_round_their_own_present_secret(house: House, act: str) -> None:
    """Whoever finds an administrator's screen unlocked, and has seen the PIN, still does not own the account."""
    edda = house.caller(ADMINISTRATOR)
    chosen = dict(everything(house, edda, ADMINISTRATOR))[act]
    house.changes_nothing(chosen, "You change your own|Somebody else closes", jobs.NotDoneError)


def test_a_closed_account_has_no_pin_and_opens_again_only_with_a_code(house: House) -> None:
    edda = house.caller(ADMINISTRATOR)
    jobs.close_account(house.office, edda, INSTRUCTOR, house.signature(), at=house.now)
    assert not jobs.has_pin(house.office, INSTRUCTOR)
    for name, act in everything(house, edda, INSTRUCTOR):
        if name in {"give", "close", "code", "pin", "link"}:
            house.changes_nothing(act, "closed|no open account", jobs.NotDoneError)
    new = jobs.reopen_account(house.office, edda, INSTRUCTOR, house.signature(), at=house.now)
    with pytest.raises(jobs.NotLetInError):
        jobs.sign_in(house.office, "mara", demo.DEMO_PASSPHRASE, at=house.now)
    assert jobs.use_code(house.office, "mara", new.code, NEW_PASSPHRASE, NEW_PIN, at=house.now)


def test_one_identity_is_one_persons_and_unlinking_ends_it(house: House) -> None:
    edda, office = house.caller(ADMINISTRATOR), house.office
    linked = ("https://id.invented.example", "subject-9f21")
    jobs.link_identity(office, edda, INSTRUCTOR, *linked, house.signature(), at=house.now)
    sign = house.signature()
    house.changes_nothing(
        lambda: jobs.link_identity(office, edda, RENTER, *linked, sign, at=house.now), "Somebody else here comes in"
    )
    house.changes_nothing(
        lambda: jobs.link_identity(office, edda, RENTER, "https://x.example", " ", sign, at=house.now), "needs its"
    )
    token = jobs.carry_over(office, jobs.enter_by_identity(office, *linked, at=house.now), at=house.now)
    jobs.link_identity(office, edda, INSTRUCTOR, "", "", house.signature(), at=house.now)
    assert jobs.caller(office, token, at=house.now) is None
    with pytest.raises(jobs.NotLetInError):
        jobs.enter_by_identity(office, *linked, at=house.now)
    jobs.link_identity(office, edda, RENTER, *linked, house.signature(), at=house.now)


def test_no_record_holds_a_secret(house: House) -> None:
    new = add(house)
    jobs.use_code(house.office, "pavel", new.code, NEW_PASSPHRASE, NEW_PIN, at=house.now)
    edda = house.caller(ADMINISTRATOR)
    jobs.link_identity(
        house.office, edda, "pavel-sirin", "https://id.invented.example", "subject-9f21", house.signature(), at=NOW
    )
    jobs.reset_passphrase(house.office, edda, "pavel-sirin", house.signature(), at=house.now)
    for entry in jobs.log_entries(house.office):
        text = entry.header_bytes.decode() + ("" if entry.body is None else entry.body.data.decode())
        if entry.header.kind in {"access_changed", "role_given", "role_ended"}:
            secrets = (new.code, NEW_PASSPHRASE, NEW_PIN, "subject-9f21", "argon2")
            assert not [secret for secret in secrets if secret in text]
