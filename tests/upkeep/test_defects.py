"""What may happen to open defects without maintenance: they are added to, and nothing else."""

from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from riskboard.upkeep.defects import added, defect_id, id_of, lightened, listed, lost, restored
from riskboard.words import DefectEffect

_EFFECTS = st.sampled_from([None, *(effect.value for effect in DefectEffect)])
_WORDS = st.sampled_from(["Horn silent", "Oil on the skid", "Lamp dead"])
_DAYS = st.sampled_from([None, "2026-05-10", "2026-06-10"])


@st.composite
def _defect(draw: st.DrawFn) -> dict[str, Any]:
    entry = {"text": draw(_WORDS), "effect": draw(_EFFECTS), "deferred_until": draw(_DAYS)}
    return {name: value for name, value in entry.items() if value is not None}


_LISTS = st.lists(_defect(), max_size=4)
_HORN = {"text": "Horn silent", "effect": "no_night", "reported_at": "2026-05-04T14:00:00Z"}


@given(_LISTS, _LISTS)
def test_adding_never_lightens(before: list[dict[str, Any]], found: list[dict[str, Any]]) -> None:
    assert lightened(before, added(before, found)) == ()
    assert lightened(before or "none", added(before or "none", found)) == ()


@given(_LISTS, _LISTS)
def test_what_stood_still_stands_or_grounds(before: list[dict[str, Any]], after: list[dict[str, Any]]) -> None:
    """Allowed only where each defect of before has a place of its own after, the same or grounding: by counting."""
    allowed = lightened(before, after) == ()
    left = list(after)
    for defect in sorted(before, key=lambda each: each.get("effect") != "grounding"):  # the exact ones first
        place = next((each for each in left if each == defect), None)
        if place is None:
            place = next((each for each in left if each == defect | {"effect": "grounding"}), None)
        if place is None:
            assert not allowed
            return
        left.remove(place)
    assert allowed


@given(st.lists(_defect(), min_size=1, max_size=4), st.data())
def test_taking_any_one_away_is_named(before: list[dict[str, Any]], data: st.DataObject) -> None:
    place = data.draw(st.integers(0, len(before) - 1))
    after = before[:place] + before[place + 1 :]
    assert len(lightened(before, after)) == 1


def test_each_way_to_make_a_defect_lighter_is_named() -> None:
    for after in (
        [],
        "none",
        None,
        [_HORN | {"effect": "watch"}],
        [{name: value for name, value in _HORN.items() if name != "effect"}],
        [_HORN | {"text": "Horn fine"}],
        [_HORN | {"deferred_until": "2026-06-01"}],
        [_HORN | {"reported_at": "2026-05-05T14:00:00Z"}],
    ):
        assert lightened([_HORN], after), after


def test_what_is_no_lightening() -> None:
    assert lightened([_HORN], [_HORN | {"effect": "grounding"}]) == ()
    assert lightened([_HORN], [_HORN | {"reported_at": "2026-05-04T14:00Z"}]) == ()
    assert lightened(None, "none") == ()
    assert lightened([], None) == ()


def test_two_of_the_same_words_are_two() -> None:
    assert lightened([_HORN, _HORN], [_HORN])
    light, heavy = _HORN, _HORN | {"effect": "grounding"}
    assert lightened([light, heavy], [heavy, light]) == ()
    assert lightened([light, heavy], [heavy])


def test_an_unknown_list_stays_unknown_when_a_defect_is_added() -> None:
    rest, horn = added(None, [_HORN])
    assert "effect" not in rest
    assert horn == _HORN
    assert added("none", [_HORN]) == [_HORN]
    assert listed(None) is None
    assert listed("none") == []


def test_ids_tell_defects_apart() -> None:
    assert defect_id("event", 0) != defect_id("event", 1)
    assert id_of(_HORN) == id_of(dict(_HORN))
    assert id_of(_HORN) != id_of(_HORN | {"text": "Lamp dead"})
    assert id_of(_HORN | {"id": "abc"}) == "abc"


@given(_LISTS, _LISTS)
def test_a_worksheet_names_every_standing_defect_and_what_its_pilot_saw(
    standing: list[dict[str, Any]], told: list[dict[str, Any]]
) -> None:
    found = restored(standing, told)
    assert lost(standing, found) == ()
    texts = {each["text"] for each in standing}
    own = [each for each in told if each["text"] not in texts]
    assert isinstance(found, list)
    assert all(each in found for each in own)
    assert restored(standing, found) is found


def test_a_blank_list_stays_unknown() -> None:
    assert restored([_HORN], None) is None
    assert restored(None, []) == []
    assert restored("none", [_HORN]) == [_HORN]
