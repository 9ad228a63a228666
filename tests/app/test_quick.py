"""Quick answers fill in the worst that fits what was said, and never more than was said."""

from datetime import UTC, datetime, timedelta

import pytest

from riskboard.app.widgets.quick_control import ticked_after
from riskboard.words import NONE
from riskboard.worksheet.model import FIELD_PART, Worksheet
from riskboard.worksheet.quick import QUICK_SETS, answer_entries, quick_set_of
from riskboard.worksheet.read import read_worksheet
from riskboard.worksheet.weather import Weather

AT = datetime(2026, 5, 4, 16, tzinfo=UTC)
BLANK = Worksheet()


def filled(key: str, *ticked: str, sheet: Worksheet = BLANK) -> dict[str, object]:
    return answer_entries(key, ticked, sheet, AT)


@pytest.mark.parametrize("key", QUICK_SETS)
def test_every_entry_of_a_set_exists_and_reads_back(key: str) -> None:
    asked = QUICK_SETS[key]
    for ticked in ([], *([statement.key] for statement in asked.statements)):
        entries = filled(key, *ticked)
        data: dict[str, dict[str, object]] = {}
        for field, value in entries.items():
            data.setdefault(FIELD_PART[field], {})[field] = value
        read_worksheet(data)


def test_each_entry_has_at_most_one_set() -> None:
    fields = [field for asked in QUICK_SETS.values() for field in asked.fields]
    assert len(fields) == len(set(fields))
    assert quick_set_of("ill_today") is QUICK_SETS["fitness"]
    assert quick_set_of("meter_h") is None


def test_not_said_becomes_the_worst_that_is_still_not_said() -> None:
    said = filled("fitness")
    hours = {"last_drink_at": 24, "last_meal_at": 4, "duty_started_at": 4}
    for field, ago in hours.items():
        assert datetime.fromisoformat(str(said[field])) == AT - timedelta(hours=ago)
    assert (said["stress_level"], said["flights_today"], said["days_in_row"]) == (2, 2, 5)
    assert (said["ill_today"], said["life_event"], said["medicines"]) == (False, False, NONE)


@pytest.mark.parametrize(
    ("key", "statement", "field"),
    [
        ("fitness", "medicine", "medicines"),
        ("fitness", "drink", "last_drink_at"),
        ("fitness", "meal", "last_meal_at"),
        ("fitness", "stress", "stress_level"),
        ("fitness", "days", "days_in_row"),
        ("beyond", "far", "station_distance_nm"),
        ("beyond", "turbulence", "turbulence"),
        ("pressures", "pushed", "pressure_felt"),
        ("pressures", "else", "anything_else"),
    ],
)
def test_said_without_an_end_stays_blank_until_it_is_told(key: str, statement: str, field: str) -> None:
    assert filled(key, statement)[field] is None


def test_trouble_said_is_trouble_entered() -> None:
    said = filled("pressures", "waits", "refused", "not_agreed")
    assert (said["someone_waits"], said["refused_today"], said["no_go_is_fine"]) == (True, True, False)
    assert (said["check_or_exam"], said["money_at_stake"]) == (False, False)


def test_what_is_not_ticked_as_done_is_not_done() -> None:
    said = filled("prepared", "preflight")
    assert said.pop("preflight_done") is True
    assert set(said.values()) == {False}


def test_the_route_is_as_reported_only_as_far_as_it_was_reported() -> None:
    assert filled("beyond")["route_visibility_sm"] is None
    sheet = Worksheet(weather=Weather(visibility_sm=4, ceiling_ft_agl="none"))
    said = filled("beyond", sheet=sheet)
    assert (said["route_visibility_sm"], said["route_ceiling_ft_agl"]) == (4, NONE)
    assert filled("beyond", "route", sheet=sheet)["route_visibility_sm"] is None


@pytest.mark.parametrize("ticked", [(), ("storm",)])
def test_a_storm_in_the_report_is_never_pushed_away(ticked: tuple[str, ...]) -> None:
    sheet = Worksheet(weather=Weather(thunderstorm_nm=0))
    assert filled("beyond", *ticked, sheet=sheet)["thunderstorm_nm"] == 0


def test_no_storm_said_is_thirty_miles_not_none() -> None:
    assert filled("beyond")["thunderstorm_nm"] == 30
    assert filled("beyond", sheet=Worksheet(weather=Weather(thunderstorm_nm="none")))["thunderstorm_nm"] == 30


def test_one_choice_blanks_what_it_does_not_say() -> None:
    assert filled("kind", "rental_with_others")["passengers"] is None
    assert filled("kind", "lesson")["instructor_aboard"] is True
    assert set(filled("kind").values()) == {None}
    with pytest.raises(ValueError, match="one choice"):
        filled("kind", "lesson", "rental")


def test_names_that_are_not_there_are_refused() -> None:
    with pytest.raises(KeyError, match="no statement 'tired'"):
        filled("fitness", "tired")
    with pytest.raises(ValueError, match="time zone"):
        answer_entries("fitness", (), BLANK, datetime(2026, 5, 4, 16))  # noqa: DTZ001  - the mistake under test


@pytest.mark.parametrize(
    ("key", "before", "now", "said"),
    [
        ("fitness", [], ["_bulk"], []),
        ("fitness", ["_bulk"], ["_bulk", "ill"], ["ill"]),
        ("fitness", ["ill"], ["ill", "_bulk"], []),
        ("fitness", ["ill"], [], None),
        ("fitness", ["_bulk"], [], None),
        ("fitness", [], ["_bulk", "ill"], ["ill"]),
        ("prepared", [], ["wires"], ["wires"]),
        ("prepared", ["wires"], [], None),
        ("prepared", ["wires"], ["wires", "_bulk"], [each.key for each in QUICK_SETS["prepared"].statements]),
        ("prepared", ["wires"], ["_bulk"], None),
    ],
)
def test_a_tap_on_a_pill(key: str, before: list[str], now: list[str], said: list[str] | None) -> None:
    assert ticked_after(QUICK_SETS[key], before, now) == said


def test_taking_one_off_all_done_leaves_the_others() -> None:
    names = [each.key for each in QUICK_SETS["prepared"].statements]
    assert ticked_after(QUICK_SETS["prepared"], [*names, "_bulk"], [*names[1:], "_bulk"]) == names[1:]
    assert ticked_after(QUICK_SETS["prepared"], [*names, "_bulk"], names) is None
