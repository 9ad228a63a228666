"""The parser in C and the one in Python are one reader: the same trees, the same places, the same refusals.

The quick parser only ever answers where it has nothing to refuse; these tests compare the whole reader with and without
it, over everything the project has written and everything it has broken on purpose.
"""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from riskboard import yaml_source
from riskboard.yaml_source import MAX_LEVELS, Node, Problem, SourceError, load
from tests.policy.samples import EXTENSION, GOOD, good
from tests.policy.test_broken import ALL
from tests.policy.test_malicious import MALICIOUS
from tests.test_yaml_source import ATTACKS, REFUSED

ROOT = Path(__file__).parents[1]
FILES = sorted([*(ROOT / "policies").glob("*.yaml"), *(ROOT / "weather_samples").glob("*.yaml")])


def read(text: str | bytes) -> Node | tuple[Problem, ...]:
    try:
        return load(text, name="t")
    except SourceError as refusal:
        return refusal.problems


def both(text: str | bytes) -> tuple[Node | tuple[Problem, ...], Node | tuple[Problem, ...]]:
    quick = read(text)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(yaml_source, "_QUICK_LOADER", None)
        return quick, read(text)


def agree(text: str | bytes) -> None:
    quick, slow = both(text)
    assert quick == slow


def is_quick(text: str) -> bool:
    return yaml_source._read_quickly(text, "t", MAX_LEVELS) is not None


def test_the_parser_in_c_is_there_and_reads_what_the_program_writes() -> None:
    """Canonical policies, which are read at every decision, go the quick way."""
    assert yaml_source._QUICK_LOADER is not None
    assert is_quick(GOOD)
    assert is_quick(good().text)
    for path in sorted((ROOT / "policies").glob("*.yaml")):
        assert is_quick(path.read_text(encoding="utf-8")), path.name


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_files_of_the_project(path: Path) -> None:
    agree(path.read_bytes())


def test_broken_policies() -> None:
    for broken in ALL:
        agree(broken.changed())


@pytest.mark.parametrize("attack", [*MALICIOUS, *ATTACKS])
def test_attacks(attack: str) -> None:
    agree(MALICIOUS.get(attack) or ATTACKS.get(attack) or "")


def test_refused_texts() -> None:
    for text, *_ in REFUSED:
        agree(text)


# Found by long searches: what the parsers place or read differently.
DIFFERENT = [
    "---\na: 1\n",
    "---",
    "a: 1\n...\n",
    "? a\n",
    "? a\n? b\n",
    "{a: , b: 1}",
    "{a:   }",
    "a: [b: ]",
    "a: {b:\n  }",
    "a: |# x\n  y",
    "a: |#\n  y",
    "a: > # x\n  y",
    "a: |2-\n    y\n",
    "{a: b? c}",
    "[a? b]",
    "{a?: b}",
    "a: b? c",
    "a: '\ue000'",
    "a: \U0010ffff",
    'a: "\\ud800"',
    'a: "\\/"',
    'a: "\\U00110000"',
    "a: # b",
    "- \n- a",
    "a:\n- b\n-\n",
    "a: 'x''y'",
    "a: x\n  y\n\n  z",
    "{a: 'b'c}",
    "a: b:c",
    "[a:b]",
    "{a:1}",
    '{"a":1}',
    "a: -",
    "a: - b",
    "[-, a]",
    "[? a : b]",
    "a: `x`",
    "a: =",
    "<<: 1",
]


@pytest.mark.parametrize("text", DIFFERENT)
def test_texts_that_parsers_like_to_read_each_in_its_own_way(text: str) -> None:
    agree(text)


_SIGNS = "ab7-?:,[]{}#&*!|>'\"%@`\\ \n~=.é漢😀\xa0"
_PIECES = [
    *("- ", "? ", ": ", " #", "&a", "*a", "!t", "!!str", "|-", ">+", "|2", "\n  ", "\n    ", "\n- ", "---", "..."),
    *("\n---\n", "\n...\n", "\\n", "\\x41", "\\ud800", "\\U0001F600", "\\U00110000", "<<", "null", "12:30"),
    *("2026-01-01", "a: b", "a: {b: c}", "[a, b]", '"q"', "'q'", '"q": 1', "''", "a:b", "://", "%YAML 1.1", "\\\n"),
]
_ATOMS = st.sampled_from([*_SIGNS, *_PIECES])
_LINES = (GOOD + EXTENSION).splitlines(keepends=True)


@given(st.lists(_ATOMS, max_size=14).map("".join))
def test_any_text_of_the_signs_that_yaml_knows(text: str) -> None:
    agree(text)


@given(st.text(max_size=40), st.booleans())
def test_any_text(text: str, keyed: bool) -> None:
    agree(f"a: {text}" if keyed else text)


@given(
    st.integers(0, len(_LINES) - 1),
    st.integers(1, 12),
    st.lists(st.tuples(st.integers(0, 10**6), st.integers(0, 3), _ATOMS), max_size=4),
)
def test_pieces_of_policies_with_slips(first: int, count: int, slips: list[tuple[int, int, str]]) -> None:
    text = "".join(_LINES[first : first + count])
    for place, gone, put in slips:
        at = place % (len(text) + 1)
        text = text[:at] + put + text[at + gone :]
    agree(text)
