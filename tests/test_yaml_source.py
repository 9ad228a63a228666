"""The strict reader. Expected values are written by hand from the rules in its module description."""

import time
from contextlib import suppress
from datetime import UTC, date, datetime
from typing import Any

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from riskboard.yaml_source import MAX_BYTES, Problem, SourceError, load


def value(text: str) -> Any:
    return load(f"key: {text}\n", name="t.yaml").plain()["key"]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("true", True),
        ("false", False),
        ("null", None),
        ("", None),
        ("0", 0),
        ("-3", -3),
        ("7.5", 7.5),
        ("-0.0", 0.0),
        ("123456789012345", 123456789012345),
        ("2026-03-01", date(2026, 3, 1)),
        ("2026-03-01T00:00Z", datetime(2026, 3, 1, tzinfo=UTC)),
        ("2026-03-01T08:30:15-06:00", datetime(2026, 3, 1, 14, 30, 15, tzinfo=UTC)),
        # All of these the usual loader types in some way of its own, or some loaders do.
        ("no", "no"),
        ("on", "on"),
        ("yes", "yes"),
        ("y", "y"),
        ("True", "True"),
        ("NULL", "NULL"),
        ("~", "~"),
        ("12:30", "12:30"),
        ("190:20:30", "190:20:30"),
        ("010", "010"),
        ("0x1F", "0x1F"),
        ("0b11", "0b11"),
        ("0o7", "0o7"),
        ("1_000", "1_000"),
        ("1e3", "1e3"),
        ("1.5e3", "1.5e3"),
        ("+5", "+5"),
        (".5", ".5"),
        ("5.", "5."),
        (".inf", ".inf"),
        ("-.inf", "-.inf"),
        (".nan", ".nan"),
        ("nan", "nan"),
        ("=", "="),
        ("٣", "٣"),
        ("2026-3-1", "2026-3-1"),
        ("'7'", "7"),
        ('"true"', "true"),
        ("'2026-03-01'", "2026-03-01"),
        ("''", ""),
        ('"a\\nb"', "a\nb"),
        ("two words", "two words"),
        ("school's own", "school's own"),
    ],
)
def test_scalars_are_typed_sparingly(text: str, expected: object) -> None:
    found = value(text)
    assert found == expected
    assert type(found) is type(expected)


def test_minus_zero_is_zero() -> None:
    assert str(value("-0.0")) == "0.0"


def test_block_scalars_are_text() -> None:
    assert load("key: |\n  7\n", name="t").plain() == {"key": "7\n"}


def test_every_node_knows_its_place() -> None:
    root = load("# first\na:\n  - {b: 7, 'c': [x, y]}\nlast: 1\n", name="t")
    entry = root.value["a"].value[0]
    assert (root.line, root.column) == (2, 1)
    assert root.keys == {"a": (2, 1), "last": (4, 1)}
    assert (entry.line, entry.column) == (3, 5)
    assert entry.keys == {"b": (3, 6), "c": (3, 12)}
    assert (entry.value["b"].line, entry.value["b"].column) == (3, 9)
    assert entry.value["c"].value[1].column == 21


def test_columns_count_characters_not_bytes() -> None:
    assert load("é: [ü, 7]\n", name="t").value["é"].value[1].column == 8


def test_windows_line_ends_and_a_byte_order_mark_are_fine() -> None:
    node = load(b"\xef\xbb\xbfa: 1\r\nb: 2\r\n", name="t")
    assert node.plain() == {"a": 1, "b": 2}
    assert node.keys["b"] == (2, 1)


REFUSED = [
    ("a: 1\nb: 2\na: 3\n", 3, 1, "already given in line 1"),
    ("a: {x: 1, x: 2}\n", 1, 11, "already given"),
    ("a: &x 1\n", 1, 4, "anchor (&name) is not allowed"),
    ("a: &x [1]\n", 1, 4, "anchor"),
    ("a: &x 1\nb: *x\n", 2, 4, "alias (*name) is not allowed"),
    ("a: !!python/object/apply:os.system [ls]\n", 1, 4, "tag (!name) is not allowed"),
    ("a: !x 1\n", 1, 4, "tag"),
    ("a: ! 1\n", 1, 4, "tag"),
    ("a: !!str 1\n", 1, 4, "tag"),
    ("a: !!int '1'\n", 1, 4, "tag"),
    ("a: 1\n---\nb: 2\n", 2, 1, "second document"),
    ("a: 1\n...\nb: 2\n", 3, 1, "document"),
    ("%YAML 1.1\n---\na: 1\n", 1, 1, "directives"),
    ("%TAG ! tag:x,2000:\n---\na: 1\n", 1, 1, "directives"),
    ("", 1, 1, "empty"),
    ("# only a remark\n", 1, 1, "empty"),
    ("a:\n\tb: 1\n", 2, 1, "a tab"),
    ("a: 1\t# remark\n", 1, 5, "a tab"),
    ("a: x\x00y\n", 1, 5, "U+0000"),
    ("a: x\x07y\n", 1, 5, "U+0007"),
    ("a: x\x85y\n", 1, 5, "U+0085"),
    ("a: x\ry\n", 1, 5, "U+000D"),
    ("a: x\u2028y\n", 1, 5, "U+2028"),
    ("a: x\u202ey\n", 1, 5, "U+202E"),
    ("a: x\ufeffy\n", 1, 5, "U+FEFF"),
    ("a: x\ud800y\n", 1, 5, "U+D800"),
    ('a: "x\\u202ey"\n', 1, 4, "U+202E"),
    ('a: "\\0"\n', 1, 4, "U+0000"),
    ('a: "x\\ty"\n', 1, 4, "a tab"),
    ('"\\x07": 1\n', 1, 1, "U+0007"),
    ("7: x\n", 1, 1, "a key must be a text"),
    ("true: x\n", 1, 1, "a key must be a text"),
    ("2026-03-01: x\n", 1, 1, "a key must be a text"),
    ("? [a, b]\n: x\n", 1, 3, "a key must be a text"),
    ("{{a: 1}: x}\n", 1, 2, "a key must be a text"),
    ("a: 2026-02-30\n", 1, 4, "not in the calendar"),
    ("a: 0000-01-01\n", 1, 4, "not in the calendar"),
    ("a: 2026-03-01T25:00Z\n", 1, 4, "not in the calendar"),
    ("a: 0001-01-01T00:00+10:00\n", 1, 4, "not in the calendar"),
    ("a: 2026-03-01T00:00\n", 1, 4, "not a time with a zone"),
    ("a: 2026-03-01 00:00Z\n", 1, 4, "not a time with a zone"),
    ("a: 2026-03-01T00:00:00.5Z\n", 1, 4, "not a time with a zone"),
    ("a: 1234567890123456\n", 1, 4, "more than 15 digits"),
    ("a: 0.12345678901234567\n", 1, 4, "more than 15 digits"),
    ("a: " + "9" * 5000 + "\n", 1, 4, "more than 15 digits"),
    ("a: [1, 2\n", 2, 1, "not readable as YAML"),
    ("a: 1\n  b: 2\n", 2, 4, "not readable as YAML"),
    ("a: 'x\n", 2, 1, "not readable as YAML"),
    ("a: @x\n", 1, 4, "not readable as YAML"),
    ("a: b: c\n", 1, 5, "not readable as YAML"),
    ('a: "\\q"\n', 1, 6, "not readable as YAML"),
    ('a: "\\U0001F600 \\U00110000"\n', 1, 16, "an escape beyond the last character"),
]


@pytest.mark.parametrize(("text", "line", "column", "fragment"), REFUSED)
def test_refused_with_its_place(text: str, line: int, column: int, fragment: str) -> None:
    with pytest.raises(SourceError) as refusal:
        load(text, name="t.yaml")
    assert any((p.line, p.column) == (line, column) and fragment in p.message for p in refusal.value.problems), (
        refusal.value
    )


def test_a_problem_reads_as_a_place_and_a_sentence() -> None:
    assert str(Problem("p.yaml", 3, 7, "wrong; do this")) == "p.yaml:3:7: wrong; do this"


def test_all_problems_come_at_once_in_order() -> None:
    with pytest.raises(SourceError) as refusal:
        load("a: !x 1\nb: &y 2\na: 2026-02-30\n", name="t")
    assert [(p.line, p.column) for p in refusal.value.problems] == [(1, 4), (2, 4), (3, 1), (3, 4)]


@pytest.mark.parametrize(
    ("data", "line", "column"),
    [
        (b"a: \xff\n", 1, 4),
        (b"a: 1\nb: \xe9t\xe9\n", 2, 4),
        ("a: 1\n".encode("utf-16"), 1, 1),
        (b"a: \xed\xa0\x80", 1, 4),
    ],
)
def test_bytes_that_are_not_utf8_are_refused(data: bytes, line: int, column: int) -> None:
    with pytest.raises(SourceError, match="not UTF-8") as refusal:
        load(data, name="t")
    assert (refusal.value.problems[0].line, refusal.value.problems[0].column) == (line, column)


def test_size_is_counted_in_bytes_up_to_the_limit() -> None:
    filler = "# " + "x" * (MAX_BYTES - 7)
    assert load(f"{filler}\na: 1", name="t").plain() == {"a": 1}
    assert len(f"{filler}\na: 1") == MAX_BYTES
    with pytest.raises(SourceError, match="at most 262144"):
        load(f"{filler}\na: 12", name="t")
    with pytest.raises(SourceError, match="at most 262144"):
        load(f"{filler}\na: é", name="t")
    with pytest.raises(SourceError, match="at most 10 "):
        load("key: value\n", name="t", max_bytes=10)


def test_levels_up_to_the_limit() -> None:
    deep = "a: " + "[" * 11 + "]" * 11
    assert load(deep, name="t").plain()["a"] == [[[[[[[[[[[]]]]]]]]]]]
    with pytest.raises(SourceError, match="more than 12 levels"):
        load("a: " + "[" * 12 + "]" * 12, name="t")
    with pytest.raises(SourceError, match="more than 2 levels"):
        load("a: [[1]]", name="t", max_levels=2)


BOMB = "a: &a [x,x,x,x,x,x,x,x,x]\n" + "".join(
    f"{new}: &{new} [{','.join([f'*{old}'] * 9)}]\n" for old, new in zip("abcdefgh", "bcdefghi", strict=True)
)

ATTACKS = {
    "alias bomb": BOMB,
    "an alias of itself": "a: &a [*a]\n",
    "10 MB of text": "a: " + "x" * 10_000_000,
    "10 MB of brackets": "[" * 10_000_000,
    "brackets": "[" * 262_000,
    "braces": "{a: " * 60_000,
    "dashes": "- " * 130_000,
    "question marks": "? " * 100_000,
    "staircase": "".join(" " * i + "a:\n" for i in range(600)),
    "many tags": "- !x y\n" * 30_000,
    "many anchors": "- &x y\n" * 30_000,
    "many equal keys": "a: b\n" * 50_000,
    "many tabs": "\t" * 262_000,
    "merge of an alias": "a: &a {x: 1}\nb: {<<: *a}\n",
}


@pytest.mark.parametrize("attack", ATTACKS)
def test_an_attack_costs_little_and_is_refused(attack: str) -> None:
    started = time.process_time()
    with pytest.raises(SourceError) as refusal:
        load(ATTACKS[attack], name="t")
    assert time.process_time() - started < 2
    assert 1 <= len(refusal.value.problems) <= 50
    assert len(str(refusal.value)) < 20_000


def test_a_merge_key_is_only_a_text() -> None:
    assert load("'<<': 1\n", name="t").plain() == {"<<": 1}


@given(st.text(max_size=60))
def test_any_text_is_read_or_refused_never_a_crash(text: str) -> None:
    with suppress(SourceError):
        load(text, name="t")


@given(st.binary(max_size=40))
def test_any_bytes_are_read_or_refused_never_a_crash(data: bytes) -> None:
    with suppress(SourceError):
        load(data, name="t")


_PLAIN = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(10**14), 10**14)
    | st.text(st.characters(categories=["L", "N", "P", "S"])),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text("abcxyz", min_size=1), inner, max_size=3),
    max_leaves=8,
)


@given(_PLAIN)
def test_agrees_with_an_independent_writer_where_both_mean_the_same(data: object) -> None:
    """PyYAML writes with every text quoted; reading gives back the same data."""
    quoted = yaml.dump({"key": data}, Dumper=_QuotingDumper, allow_unicode=True, width=10_000)
    assert load(quoted, name="t", max_levels=40).plain() == {"key": data}


class _QuotingDumper(yaml.SafeDumper):
    def ignore_aliases(self, data: Any) -> bool:  # noqa: ARG002 - the library's signature
        return True


_QuotingDumper.add_representer(
    str, lambda dumper, data: dumper.represent_scalar("tag:yaml.org,2002:str", data, style='"')
)
