import json
from datetime import UTC, datetime, timedelta, timezone
from enum import StrEnum
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from riskboard.ledger import canonical
from riskboard.ledger.canonical import Json, NotCanonicalError, canonical_json, parse_json, parse_utc, utc_text

TEXT = st.text(st.characters(exclude_categories=["Cs"]))
SCALARS = st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | TEXT
VALUES = st.recursive(SCALARS, lambda inner: st.lists(inner) | st.dictionaries(TEXT, inner), max_leaves=20)


class Quoted(str):  # noqa: SLOT000 - an ordinary subclass is the point
    """Text of a type of its own."""


class Measured(float):
    """A number of a type of its own."""


def shuffled(value: Any) -> Any:
    """The same value with every mapping written in the opposite order."""
    if isinstance(value, dict):
        return {key: shuffled(item) for key, item in reversed(value.items())}
    return [shuffled(item) for item in value] if isinstance(value, list) else value


@given(VALUES)
def test_reading_gives_the_value_back_and_writing_it_again_the_same_bytes(value: Any) -> None:
    data = canonical_json(value)
    assert json.loads(data) == value
    assert parse_json(data) == value
    assert canonical_json(json.loads(data)) == data


@given(VALUES)
def test_the_order_of_keys_makes_no_difference(value: Any) -> None:
    assert canonical_json(shuffled(value)) == canonical_json(value)


@given(st.dictionaries(TEXT, SCALARS))
def test_keys_stand_sorted(value: dict[str, Any]) -> None:
    written = list(json.loads(canonical_json(value)))
    assert written == sorted(value)


UNUSUAL = st.recursive(
    SCALARS | TEXT.map(Quoted) | st.floats().map(Measured) | st.just(float("nan")) | st.text(),
    lambda inner: st.lists(inner).map(tuple) | st.dictionaries(TEXT | st.integers() | st.booleans(), inner),
    max_leaves=20,
)


@given(VALUES | UNUSUAL)
def test_the_quick_way_and_the_thorough_way_write_the_same_or_refuse_the_same(value: Any) -> None:
    def told(quick: bool) -> bytes | str:
        with pytest.MonkeyPatch.context() as patched:
            if not quick:
                patched.setattr(canonical, "_is_usual", lambda _value: False)
            try:
                return canonical_json(value)
            except NotCanonicalError as error:
                return str(error)

    assert told(quick=True) == told(quick=False)


@pytest.mark.parametrize("leaf", [1, {}, []])
@pytest.mark.parametrize("levels", [63, 64, 65])
def test_the_quick_way_goes_as_deep_as_the_thorough_one(leaf: Any, levels: int) -> None:
    value = leaf
    for _ in range(levels):
        value = [value]
    if levels <= 64:
        assert canonical_json(value) == b"[" * levels + json.dumps(leaf).encode() + b"]" * levels
    else:
        with pytest.raises(NotCanonicalError, match="64 levels"):
            canonical_json(value)


def test_a_list_that_holds_itself_many_times_ends_soon() -> None:
    endless: list[Any] = []
    endless.extend([endless] * 1000)
    with pytest.raises(NotCanonicalError, match="contain itself"):
        canonical_json(endless)


def test_an_example_by_hand() -> None:
    # Written by hand from the words "sorted keys, no white space, UTF-8, times in UTC with Z" of the design.
    at = datetime(2026, 3, 1, 10, 30, tzinfo=timezone(timedelta(hours=1)))
    value: dict[str, Json] = {"b": [1, 2.5, None, True], "a": "Zoë", "at": at, "": {}}
    assert canonical_json(value) == '{"":{},"a":"Zoë","at":"2026-03-01T09:30:00Z","b":[1,2.5,null,true]}'.encode()


class Colour(StrEnum):
    BLUE = "blue"


def test_an_enum_that_is_text_is_written_as_its_text() -> None:
    assert canonical_json([Colour.BLUE, (1,)]) == b'["blue",[1]]'


@pytest.mark.parametrize(
    ("value", "said"),
    [
        ({"x": {"y": float("nan")}}, "$.x.y"),
        ([1, float("inf")], "$[1]"),
        ([float("-inf")], "null"),
        ({"at": datetime(2026, 3, 1)}, "no time zone"),  # noqa: DTZ001 - the naive time is the point
        ({1: "x"}, "not text"),
        ({"x": {1, 2}}, "a set cannot stand in the log"),
        ({"x": b"bytes"}, "a bytes"),
        ("half \ud800", "surrogate"),
        ({"half \ud800": 1}, "surrogate"),
    ],
)
def test_what_json_cannot_carry_is_refused_with_its_place(value: Any, said: str) -> None:
    with pytest.raises(NotCanonicalError) as caught:
        canonical_json(value)
    assert said in str(caught.value)


def test_a_value_that_contains_itself_is_refused() -> None:
    value: list[Any] = []
    value.append(value)
    with pytest.raises(NotCanonicalError, match="64 levels"):
        canonical_json(value)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('{"a": 1, "a": 2}', "'a' stands twice"),
        ("[NaN]", "NaN"),
        ("[-Infinity]", "-Infinity"),
        ("{", "not valid JSON"),
        (b"\xff", "not valid JSON"),
        ("[" * 100_000, "not valid JSON"),
    ],
)
def test_strict_reading_refuses(text: str | bytes, said: str) -> None:
    with pytest.raises(NotCanonicalError, match=said):
        parse_json(text)


@given(st.datetimes(timezones=st.just(UTC)))
def test_a_time_comes_back(moment: datetime) -> None:
    assert parse_utc(utc_text(moment)) == moment


@pytest.mark.parametrize("text", ["2026-03-01T09:00:00", "2026-03-01T09:00:00+00:00", "noon", "2026-03-01"])
def test_only_utc_times_are_read(text: str) -> None:
    with pytest.raises(NotCanonicalError, match=r"2026-03-01T09:00:00Z|ends in Z"):
        parse_utc(text)
