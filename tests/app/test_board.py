"""Board and overdue watch without a browser: where every flight stands, no reason of any, an alarm with its steps."""

from datetime import datetime, timedelta
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from riskboard import jobs
from riskboard.app import session
from riskboard.people.sessions import token_hash
from tests.app.desk_app import LATER, NOTE, NOW, OUT, WORRY, At, html, make_morning, own_copy, said
from tests.app.flights import INES, MARA, NOOR, TOBIN, WENDELL


@pytest.fixture(scope="module")
def morning(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("board") / "morning.sqlite3"
    make_morning(path)
    return path


@pytest.fixture
def at(morning: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> At:
    return At(own_copy(morning, tmp_path), monkeypatch)


def groups(app: AppTest) -> list[str]:
    pieces = html(app).split("<h2>")[1:]
    return [piece.split("</h2>")[0] for piece in pieces]


def test_every_flight_stands_in_its_group_with_times_of_the_school(at: At) -> None:
    app = at.page("board", INES)
    shown = html(app)
    assert groups(app) == ["Out", "To come", "Not flown"]
    assert shown.index("LRS-03") < shown.index("LRS-04") < shown.index("LRS-01") < shown.index("LRS-05")
    for words in ("Airborne", "left 09:30 MDT", "10:00 to 11:00 MDT", "Waits for a signature", "Declined by the pilot"):
        assert words in shown
    assert "Go, level acceptable" in shown


@pytest.mark.parametrize("who", [INES, TOBIN, MARA, WENDELL, NOOR])
def test_the_board_tells_no_reason_and_no_answer(at: At, who: str) -> None:
    shown = said(at.page("board", who))
    assert WORRY not in shown
    assert NOTE[:20] not in shown
    for words in ("Practice autorotation", "points", "Sleep", "meal"):
        assert words not in shown


def links(app: AppTest) -> list[str]:
    return [str(each.proto.label) for each in app.get("page_link")]


def test_who_is_not_concerned_has_no_link_into_a_flight(at: At) -> None:
    assert links(at.page("board", INES)) == []
    assert links(at.page("board", TOBIN)) == ["Open LRS\\-04", "Open LRS\\-01"]
    assert len(links(at.page("board", NOOR))) == 4


def test_an_overdue_flight_comes_first_on_the_board(at: At) -> None:
    app = at.page("board", INES, at=LATER)
    assert groups(app)[0] == "Overdue"
    assert "Overdue by 90 min" in html(app)


def test_an_alarm_stands_in_the_frame_of_whoever_keeps_the_watch(at: At) -> None:
    for who in (WENDELL, NOOR, MARA):
        shown = html(at.frame(who, at=LATER))
        assert 'role="alert">OVERDUE: LRS-03, Mara Oduya, Circuits at Larkfield' in shown
        assert "1 h 30 min past the planned return and its margin" in shown
    for who in (TOBIN, INES):
        assert "OVERDUE" not in html(at.frame(who, at=LATER))


def test_no_alarm_before_the_margin_has_passed(at: At) -> None:
    assert "OVERDUE" not in html(at.frame(WENDELL, at=NOW + timedelta(minutes=90)))
    assert "OVERDUE" in html(at.frame(WENDELL, at=NOW + timedelta(minutes=91)))


def test_steps_are_the_policys_and_each_goes_on_record_once(at: At) -> None:
    app = at.frame(WENDELL, at=LATER)
    office = at.office()
    wanted = jobs.overdue_steps(office, OUT)
    office.store.close()
    assert len(wanted) > 3
    assert [label for button in app.button if (label := button.label).startswith("Done")] == [
        f"Done: step {number}" for number in range(1, len(wanted) + 1)
    ]
    app.button(key=f"watch:{OUT}:2").click().run()
    shown = html(app)
    assert '<span class="word">DONE</span> 13:00 MDT, Wendell Achterberg, 1 h 30 min overdue' in shown
    assert f"watch:{OUT}:2" not in {button.key for button in app.button}
    office = at.office()
    card = jobs.flight_card(office, OUT, at=LATER)
    office.store.close()
    assert card.steps_taken == (wanted[1],)


def test_what_else_was_done_is_kept_in_own_words_as_text(at: At) -> None:
    app = at.frame(NOOR, at=LATER)
    app.text_input(key=f"watch:{OUT}:own:text").set_value("Asked <b>the</b> quarry")
    app.button(key=f"watch:{OUT}:own:do").click().run()
    shown = html(app)
    assert "Asked &lt;b&gt;the&lt;/b&gt; quarry" in shown
    assert app.text_input(key=f"watch:{OUT}:own:text").value == ""


def test_nothing_said_is_not_put_on_record(at: At) -> None:
    app = at.frame(NOOR, at=LATER)
    app.button(key=f"watch:{OUT}:own:do").click().run()
    assert "Write what was done in a few words" in html(app)
    office = at.office()
    card = jobs.flight_card(office, OUT, at=LATER)
    office.store.close()
    assert card.steps_taken == ()


def test_a_page_that_draws_itself_again_is_no_activity(at: At, monkeypatch: pytest.MonkeyPatch) -> None:
    def seen_at() -> datetime:
        office = at.office()
        record = office.store.get_session(token_hash(session.browser_token()))
        office.store.close()
        assert record is not None
        return record.seen_at

    app = at.frame(WENDELL)
    later = NOW + timedelta(minutes=20)
    monkeypatch.setenv("RISKBOARD_NOW", later.isoformat())
    app.session_state["looking:by_itself"] = True
    app.run()
    assert seen_at() == NOW
    app.query_params["something"] = "else"
    app.run()
    assert seen_at() == later


def test_the_navigation_shows_what_roles_have_a_use_for() -> None:
    from riskboard.app.navigation import PLACES  # noqa: PLC0415  - loads the page server
    from riskboard.words import Role  # noqa: PLC0415

    def titles(*roles: Role) -> list[str]:
        return [place.title for place in PLACES if place.used_by(frozenset(roles))]

    assert titles(Role.renter) == ["Brief a flight", "Board", "Aircraft", "Debrief", "Record", "People"]
    assert "Desk" in titles(Role.dispatcher)
    assert "From paper" in titles(Role.dispatcher)
    assert "People" in titles(Role.administrator)
    assert "Desk" not in titles(Role.administrator)
    assert "School" in titles(Role.maintenance)
