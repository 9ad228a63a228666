"""A type, an aircraft or a defect that changed after the yes: board, desk and the pilot's own page say so."""

from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from riskboard import jobs
from riskboard.shipped import aircraft_type_files
from tests.app.desk_app import ASKED, NOW, PLANNED, At, html, make_morning, own_copy
from tests.app.flights import INES, TOBIN, WENDELL, event
from tests.jobs.school_day import MAINTENANCE, caller_of

SOON = NOW + timedelta(minutes=1)
CHANGED = NOW + timedelta(seconds=20)
((_, TEXT),) = aircraft_type_files()


@pytest.fixture(scope="module")
def morning(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("withdrawn") / "morning.sqlite3"
    make_morning(path)
    return path


@pytest.fixture
def at(morning: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> At:
    return At(own_copy(morning, tmp_path), monkeypatch)


def new_type(office: jobs.Office, _: str) -> None:
    text = TEXT.replace("\nversion: 1\n", "\nversion: 2\n")
    caller = caller_of(office, MAINTENANCE, CHANGED)
    jobs.publish_type(office, caller, text, why="Revision 4", event_id=event(), at=CHANGED)


def fact(**changes: Any) -> Callable[[jobs.Office, str], None]:
    def change(office: jobs.Office, aircraft_id: str) -> None:
        stored = office.store.get_document("aircraft", aircraft_id)
        assert stored is not None
        jobs.change_fact(
            office,
            caller_of(office, MAINTENANCE, CHANGED),
            "aircraft",
            aircraft_id,
            changes,
            why="Work order 9",
            event_id=event(),
            revision=stored.revision,
            at=CHANGED,
        )

    return change


def defect(office: jobs.Office, aircraft_id: str) -> None:
    known = jobs.document(office, "aircraft", aircraft_id)["aircraft"]["open_defects"]
    found = {"text": "Chip light flickers", "effect": "watch"}
    fact(open_defects=[*known, found])(office, aircraft_id)


NEWS = {
    "type": (new_type, "The aircraft type Tarnwick 2 (invented) changed at 10:00 MDT."),
    "weighing": (fact(empty_weight_lb=981.4), "empty weight lb changed at 10:00 MDT."),
    "defect": (defect, "open defects changed at 10:00 MDT."),
}


@pytest.mark.parametrize("what", NEWS)
def test_an_accepted_flight_is_withdrawn_in_everybodys_sight(at: At, what: str) -> None:
    change, sentence = NEWS[what]
    office = at.office()
    change(office, "LRS-04")
    office.store.close()
    board = html(at.page("board", INES, at=SOON))
    row = board[board.index("LRS-04") :]
    assert "Go, level acceptable" not in row.split("</li>")[0]
    app = at.page("brief", TOBIN, PLANNED, at=SOON)
    assert "The yes holds no longer" in html(app)
    assert sentence in html(app)
    assert "Brief it again from this sheet" in {button.label for button in app.button}


@pytest.mark.parametrize("what", NEWS)
def test_a_released_flight_is_withdrawn_in_everybodys_sight(at: At, what: str) -> None:
    change, sentence = NEWS[what]
    office = at.office()
    jobs.release(office, TOBIN, PLANNED, event_id=event(), at=NOW)
    change(office, "LRS-04")
    office.store.close()
    assert "the release holds no longer" in html(at.page("board", INES, at=SOON))
    shown = html(at.page("brief", TOBIN, PLANNED, at=SOON))
    assert "The release holds no longer: do not leave." in shown
    assert sentence in shown


@pytest.mark.parametrize("what", NEWS)
def test_a_request_that_a_signature_would_no_longer_carry_says_so_at_the_desk(at: At, what: str) -> None:
    change, sentence = NEWS[what]
    office = at.office()
    change(office, "LRS-01")
    office.store.close()
    shown = html(at.page("desk", WENDELL, ASKED, at=SOON))
    assert "A signature given now would not hold." in shown
    assert sentence in shown
