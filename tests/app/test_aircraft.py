"""The aircraft pages without a browser: all at one glance, one with its history, a defect opened, work signed."""

from datetime import timedelta
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from riskboard import demo, jobs
from riskboard.upkeep.acts import MaintenanceAct
from tests.app import flights
from tests.app.desk_app import NOW, OUT, PLANNED, At, html, make_morning, own_copy, said
from tests.app.flights import INES, MARA, TOBIN, WENDELL
from tests.jobs.school_day import caller_of, end

JOSS = "joss-okonjo-lind"
GROUNDED, LAMP, BATTERY = "LRS-06", "LRS-04", "LRS-05"


@pytest.fixture(scope="module")
def morning(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("aircraft") / "morning.sqlite3"
    make_morning(path)
    return path


@pytest.fixture
def at(morning: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> At:
    return At(own_copy(morning, tmp_path), monkeypatch)


def one(at: At, person_id: str, aircraft_id: str) -> AppTest:
    at.comes_in(person_id, NOW)
    app = at.frame(person_id, "aircraft")
    app.query_params["aircraft"] = aircraft_id
    app.run()
    assert not app.exception
    return app


def tags(app: AppTest) -> dict[str, str]:
    pieces = html(app).split('<span class="name">')[1:]
    return {piece.split("<")[0]: piece for piece in pieces}


def defects(at: At, aircraft_id: str) -> list[str]:
    office = at.office()
    found = jobs.document(office, "aircraft", aircraft_id)["aircraft"]["open_defects"]
    office.store.close()
    return [] if found == "none" else [each["text"] for each in found]


def test_every_aircraft_is_a_tag_with_its_word_and_its_reason(at: At) -> None:
    found = tags(at.page("aircraft", INES))
    assert sorted(found) == ["LRS-01", "LRS-02", "LRS-03", "LRS-04", "LRS-05", "LRS-06"]
    for registration, words in {
        GROUNDED: ("GROUNDED", "Grounds it: Low rotor rpm horn silent on test"),
        LAMP: ("RESTRICTED", "No night: Landing light does not come on"),
        BATTERY: ("WATCH", "Not in place: Battery master off"),
        "LRS-03": ("OUT since 09:30 MDT, planned back 11:00 MDT.",),
        "LRS-02": ("100-hour inspection, 1.4 h",),
    }.items():
        for each in words:
            assert each in found[registration], registration


def test_one_aircraft_says_the_gravest_thing_first(at: At) -> None:
    app = one(at, TOBIN, GROUNDED)
    shown = html(app)
    assert "LRS-06: GROUNDED" in shown
    first = shown.split('<li class="heavy"><span class="word">')[1]
    assert first.startswith("Grounds it</span><span>Low rotor rpm horn silent on test")
    assert "is closed or deferred, and an inspection put on record, by maintenance only" in shown
    assert not [each for each in app.button if each.label == "Sign the work"]


def test_an_aircraft_that_does_not_exist_is_said_so(at: At) -> None:
    assert "no aircraft called" in html(one(at, TOBIN, "LRS-99"))


def test_anybody_opens_a_defect_and_it_stands_at_once(at: At) -> None:
    app = one(at, INES, "LRS-01")
    name = "aircraft:report:LRS-01"
    app.text_area(key=f"{name}:text").set_value("Oil <b>on</b> the skid")
    app.pills(key=f"{name}:effect").set_value("grounding")
    app.button(key=f"{name}:do").click().run()
    assert defects(at, "LRS-01") == ["Oil <b>on</b> the skid"]
    assert "LRS-01: GROUNDED" in html(app)
    assert "Oil &lt;b&gt;on&lt;/b&gt; the skid" in html(app)
    assert app.text_area(key=f"{name}:text").value == ""
    app.button(key=f"{name}:do").click().run()
    assert "Say in a few words what is wrong" in html(app)
    assert len(defects(at, "LRS-01")) == 1


def test_maintenance_puts_a_defect_right_and_signs(at: At) -> None:
    app = one(at, JOSS, GROUNDED)
    way = next(each for each in app.button_group if str(each.key).endswith(":way"))
    way.set_value("is put right").run()
    done = next(each for each in app.text_input if str(each.key).endswith(":done"))
    done.set_value("Horn replaced and tested").run()
    sign = f"aircraft:sign:{GROUNDED}:signature"
    app.text_input(key=f"{sign}:pin").set_value("0000")
    app.button(key=f"{sign}:do").click().run()
    assert "That PIN is not right" in html(app)
    assert defects(at, GROUNDED) == ["Low rotor rpm horn silent on test"]
    app.text_input(key=f"{sign}:pin").set_value(demo.DEMO_PIN)
    app.button(key=f"{sign}:do").click().run()
    assert defects(at, GROUNDED) == []
    shown = html(app)
    assert "GROUNDED" not in shown
    assert "Done: Horn replaced and tested" in shown


def test_nothing_named_signs_nothing(at: At) -> None:
    app = one(at, JOSS, GROUNDED)
    sign = f"aircraft:sign:{GROUNDED}:signature"
    app.text_input(key=f"{sign}:pin").set_value(demo.DEMO_PIN)
    app.button(key=f"{sign}:do").click().run()
    assert "there is nothing to sign" in html(app)


def test_an_inspection_done_moves_its_next_day(at: At) -> None:
    app = one(at, JOSS, "LRS-02")
    works = app.multiselect(key="aircraft:sign:LRS-02:works")
    works.set_value(["hundred_hour"]).run()
    assert app.number_input(key="aircraft:sign:LRS-02:work:hundred_hour:at").value == pytest.approx(1904.7)
    assert app.number_input(key="aircraft:sign:LRS-02:work:hundred_hour:at_h").value == pytest.approx(2004.7)
    sign = "aircraft:sign:LRS-02:signature"
    app.text_input(key=f"{sign}:pin").set_value(demo.DEMO_PIN)
    app.button(key=f"{sign}:do").click().run()
    office = at.office()
    assert jobs.document(office, "aircraft", "LRS-02")["aircraft"]["hundred_hour_due_at_h"] == pytest.approx(2004.7)
    office.store.close()
    assert "100.0 h left" in html(app)


def test_a_person_without_a_role_sees_no_aircraft(at: At) -> None:
    office = at.office()
    end(office, INES, "student", NOW)
    office.store.close()
    shown = html(at.page("aircraft", INES, at=NOW + timedelta(minutes=1)))
    assert "LRS-01" not in shown
    assert 'role="alert"' in shown


def test_the_board_says_what_was_missing_when_it_left(at: At) -> None:
    office = at.office()
    jobs.release(office, TOBIN, PLANNED, event_id="release", at=NOW)
    jobs.took_off(office, WENDELL, PLANNED, event_id="gone", at=NOW)
    office.store.close()
    shown = html(at.page("board", INES))
    row = next(piece for piece in shown.split("rb-flight") if "LRS-04" in piece)
    assert "Left without a run-up on record" in row
    assert "Left without a run-up on record" not in next(
        piece for piece in shown.split("rb-flight") if "LRS-03" in piece
    )


def test_a_release_that_a_run_up_ended_is_withdrawn_on_the_board(at: At) -> None:
    office = at.office()
    jobs.release(office, TOBIN, PLANNED, event_id="release", at=NOW)
    flights.run_up(office, PLANNED, TOBIN, NOW, magneto_left_drop_pct=9)
    office.store.close()
    row = next(piece for piece in html(at.page("board", INES)).split("rb-flight") if "LRS-04" in piece)
    assert "Release withdrawn" in row
    assert "Go, level" not in row
    assert "LRS-04: GROUNDED" in html(one(at, MARA, "LRS-04"))


def test_crew_see_the_way_to_the_run_up_and_leave_only_after_a_good_one(at: At) -> None:
    office = at.office()
    jobs.release(office, TOBIN, PLANNED, event_id="release", at=NOW)
    office.store.close()
    app = at.page("brief", TOBIN, PLANNED)
    assert f'href="/run-up/{PLANNED}"' in html(app)
    assert "It leaves now" not in [each.label for each in app.button]
    office = at.office()
    flights.run_up(office, PLANNED, TOBIN, NOW)
    office.store.close()
    app = at.page("brief", TOBIN, PLANNED)
    assert "Run-up for this release: good." in html(app)
    assert "It leaves now" in [each.label for each in app.button]
    assert f'href="/shut-down/{OUT}"' in html(at.page("brief", MARA, OUT))


def test_the_desk_notes_what_it_saw_and_is_told_what_lacks(at: At) -> None:
    office = at.office()
    jobs.release(office, TOBIN, PLANNED, event_id="release", at=NOW)
    office.store.close()
    app = at.page("brief", WENDELL, PLANNED)
    assert "The run-up for this release is: none on record." in said(app)
    labels = [each.label for each in app.button]
    assert "It has left all the same" in labels
    assert "It leaves now" not in labels


def test_who_briefs_it_reads_the_gravest_thing_beside_the_entries(at: At) -> None:
    flight = "groundedbrief"
    office = at.office()
    jobs.begin_draft(office, flight, jobs.Start(TOBIN, GROUNDED, "larkfield", flights.CIRCUITS), at=NOW)
    office.store.close()
    shown = html(at.page("brief", TOBIN, flight))
    assert "GROUNDED: Grounds it: Low rotor rpm horn silent on test" in shown
    assert f'href="aircraft?aircraft={GROUNDED}"' in shown


def test_the_record_reads_as_people_say_it(at: At) -> None:
    office = at.office()
    act = MaintenanceAct(major_done=True, note="New blades")
    jobs.sign_maintenance(office, caller_of(office, JOSS, NOW), GROUNDED, act, demo.DEMO_PIN, event_id="work", at=NOW)
    jobs.report_defect(office, caller_of(office, INES, NOW), LAMP, "Seat rail loose", event_id="rail", at=NOW)
    office.store.close()
    shown = html(at.page("record", WENDELL))
    assert "signed work on aircraft LRS-06. Major maintenance done. New blades" in shown
    assert "opened a defect of aircraft LRS-04. Defect opened: Seat rail loose (effect not said)." in shown
    assert f"entered the run-up for flight {OUT}: good." in shown
