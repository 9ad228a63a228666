"""Texts that somebody made on purpose: refused at a place, never a crash."""

import pytest

from riskboard.policy import PolicyError
from tests.policy.samples import GOOD, read
from tests.policy.test_broken import problems_of

MALICIOUS = {
    "a tag that runs code": GOOD.replace("title: Small", "title: !!python/object/apply:os.system [Small"),
    "an anchor and aliases": GOOD.replace("when: {solo: true}", "when: &w {solo: true}").replace(
        "{for_hire: true}", "*w"
    ),
    "a merge key": GOOD.replace("when: {solo: true}", "<<: {solo: true}"),
    "an equal key": GOOD.replace("version: 4\n", "version: 4\nversion: 5\n"),
    "an equal factor": GOOD.replace("  few_hours:\n", "  gusts:\n"),
    "a second document": GOOD + "---\nid: other\n",
    "deep nesting": GOOD.replace("{gust_kt: 29}", "{gust_kt: " + "[" * 5000 + "]" * 5000 + "}"),
    "10 MB": GOOD + "# " + "x" * 10_000_000,
    "a number in hexadecimal": GOOD.replace("version: 4", "version: 0x4"),
    "an octal number": GOOD.replace("at_most: 4", "at_most: 04"),
    "infinity": GOOD.replace("up_to: 14, points", "up_to: .inf, points"),
    "not a number": GOOD.replace("up_to: 14, points", "up_to: .nan, points"),
    "a huge number": GOOD.replace("up_to: 14, points", "up_to: " + "9" * 400 + ", points"),
    "hidden text direction": GOOD.replace("title: Small", "title: \u202eSmall"),
    "a NUL": GOOD.replace("title: Small", "title: \x00Small"),
    "a list instead": "- 1\n",
    "a word instead": "policy\n",
    "null instead": "null\n",
    "nothing": "",
    "an expression": GOOD.replace("up_to: 14, points", "up_to: 7 * 2, points"),
    "code in a guard": GOOD.replace("when: {solo: true}", "when: {__class__: true}"),
    "a name that is a path": GOOD.replace("  few_hours:\n", "  ../few:\n"),
    "true as a number": GOOD.replace("up_to: 11, points: 2", "up_to: true, points: true"),
    "every value a list": "".join(line.split(":")[0] + ": []\n" for line in GOOD.splitlines() if line[0].isalpha()),
    "every value null": "".join(line.split(":")[0] + ":\n" for line in GOOD.splitlines() if line[0].isalpha()),
    "lists of nulls": "".join(
        line.split(":")[0] + ": [null, null]\n" for line in GOOD.splitlines() if line[0].isalpha()
    ),
    "maps of nulls": "".join(
        line.split(":")[0] + ": {a: null, b: }\n" for line in GOOD.splitlines() if line[0].isalpha()
    ),
}


@pytest.mark.parametrize("attack", MALICIOUS)
def test_malicious_policies_are_refused_with_a_place(attack: str) -> None:
    problems = problems_of(MALICIOUS[attack])
    assert 1 <= len(problems) <= 60
    assert all(problem.line >= 1 and problem.column >= 1 and problem.message for problem in problems)


@pytest.mark.parametrize("junk", ["null", "7", "[]", "{a: {b: 1}}"])
def test_junk_in_any_place_is_refused_never_a_crash(junk: str) -> None:
    """Every value of the good policy is replaced in turn; the loader answers, whatever it says."""
    lines = GOOD.splitlines()
    for number, line in enumerate(lines):
        key, colon, value = line.partition(": ")
        if colon and not value.startswith(("{", "[")):
            changed = [*lines[:number], f"{key}: {junk}", *lines[number + 1 :]]
            try:
                read("\n".join(changed))
            except PolicyError as refusal:
                assert refusal.problems  # noqa: PT017 - either answer is fine
