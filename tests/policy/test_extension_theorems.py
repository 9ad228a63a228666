"""If an extension loads, nothing it decides is better than what the extended policy decides. For any values."""

import random
import re
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from riskboard.policy import PolicyError
from riskboard.policy.evaluate import band_of, limit_result
from riskboard.policy.model import Policy
from riskboard.words import Direction, Guard
from tests.assessment.oracle import Flight, judge
from tests.policy.measures import REGISTRY
from tests.policy.samples import EXTENSION, GOOD, good, read

PARENT = good()
DIRECTIONS = {name: measure.worse for name, measure in REGISTRY.items()}
GUARDS = (Guard.solo, Guard.for_hire, Guard.civil_night, Guard.first_solo, Guard.instructor_aboard, Guard.instruction)

# Numbers of the extension's text that matter, as (pattern, lowest, highest): some of them are turned at a time.
NUMBERS = [
    (r"(name: watch, up_to: )12", 9, 16),
    (r"(pilot: \{up_to: )7", 6, 10),
    (r"(environment: \{up_to: )12", 8, 15),
    (r"(bands: \[\{up_to: )6", 5, 8),
    (r"(points: 0\}, \{up_to: )12", 9, 15),
    (r"(up_to: \d+, points: )5", 1, 6),
    (r"(\{points: )10", 8, 11),
    (r"(at_least: )10", -3, 12),
    (r"(moon_pct, beyond: )40", 15, 60),
    (r"(night_gap_d, beyond: )20", 15, 35),
    (r"(points: )7(?=\n)", 5, 9),
    (r"(at_most: )2", 1, 6),
]
WORDS = [
    ("else: stop", ["else: stop", "else: high", "else: watch"]),
    ("floor: high}", ["floor: high}", "floor: watch}", "floor: stop}"]),
    (
        "    floor: watch\n    if_unknown: no_go",
        [
            "    floor: watch\n    if_unknown: no_go",
            "    if_unknown: sign_off",
            "    floor: high\n    if_unknown: sign_off",
        ],
    ),
    (
        "needs: {instructor_aboard: true, instruction: true}",
        [
            "needs: {instructor_aboard: true}",
            "needs: {instruction: true}",
            "needs: {instructor_aboard: true, instruction: true}",
        ],
    ),
]


@st.composite
def extensions(draw: st.DrawFn) -> str:
    """The extension with numbers and words turned, its cases made to agree: many are too loose and refused."""
    text = EXTENSION[: EXTENSION.index("tests:")]
    for pattern, low, high in draw(st.lists(st.sampled_from(NUMBERS), max_size=2, unique=True)):
        text, count = re.subn(pattern, rf"\g<1>{draw(st.integers(low, high))}", text, count=1)
        assert count == 1
    for old, choices in draw(st.lists(st.sampled_from(WORDS), max_size=1)):
        text = text.replace(old, draw(st.sampled_from(choices)))
    return _with_true_cases(text)


def _with_true_cases(text: str) -> str:
    """Cases are beside the point here; whatever the clause gives is what they expect."""
    bands = re.search(
        r"bands: \[\{up_to: (\d+), points: (\d+)\}, \{up_to: (\d+), points: (\d+)\}, \{points: (\d+)", text
    )
    assert bands
    a, pa, b, pb, pc = (int(group) for group in bands.groups())
    text = re.sub(
        r"cases: \[\[6, 0\].*\]\]", f"cases: [[{a}, {pa}], [{b}, {pb}], [{b + 1}, {pc}], [unknown, no_go]]", text
    )
    least = re.search(r"at_least: (-?\d+)\n", text)
    assert least
    bound = int(least.group(1))
    return re.sub(
        r"cases: \[\[10, pass\].*\]\]", f"cases: [[{bound}, pass], [{bound - 1}, stop], [unknown, stop]]", text
    )


def loaded(text: str) -> Policy | None:
    try:
        return read(text)
    except PolicyError:
        return None


# Values at and around every bound that the parent or a generated child can have: elsewhere nothing changes.
VALUES: dict[str, list[float]] = {
    "gust_kt_spread": [0, 5, 6, 7, 8, 9, 11, 12, 13, 14, 15, 16],
    "fuel_spare_min": [-4, -0.1, 0, 5, 10, 12, 60],
    "moon_pct": [10, 16, 18, 19, 20, 21, 30, 45, 61],
    "night_gap_d": [3, 16, 19, 21, 26, 30, 31, 33, 36],
    "type_h": [5, 20, 49.9, 60],
    "slept_h": [4, 6, 8],
    "load_arm_in": [90, 100, 101.6, 110],
    "defects": [0, 1],
}
FLIGHTS = 300


def flights(seed: int) -> list[Flight]:
    """Many flights, most of them wholly known: an unknown in each would hide every other difference under a floor."""
    chance = random.Random(seed)  # noqa: S311 - no secret
    found = []
    for _ in range(FLIGHTS):
        unknown = chance.choice([0.0, 0.0, 0.15])
        good = chance.choice([0.2, 0.6, 0.9])
        values: dict[str, float | None] = {}
        for name, choices in VALUES.items():
            best = choices[0] if DIRECTIONS[name] is Direction.higher else choices[-1]
            values[name] = best if chance.random() < good else chance.choice(choices)
            if chance.random() < unknown:
                values[name] = None
        guards = {word: chance.choice([True, False, False, None]) for word in GUARDS}
        taken = frozenset({"current instructor aboard"} if chance.random() < 0.5 else ())
        found.append(Flight(values, guards, taken, frozenset({"open_defects"} if chance.random() < 0.5 else ())))
    return found


@given(extensions(), st.integers(0, 1_000_000))
def test_an_extension_that_loads_never_decides_better(text: str, seed: int) -> None:
    child = loaded(text)
    if child is None:
        return
    for flight in flights(seed):
        before, after = judge(PARENT, flight, DIRECTIONS), judge(child, flight, DIRECTIONS)
        assert after.level >= before.level
        assert after.decision >= before.decision
        assert after.total >= before.total
        assert after.limits_hit >= before.limits_hit


@given(extensions())
def test_restated_clauses_are_at_least_as_severe_for_every_value(text: str) -> None:
    child = loaded(text)
    if child is None:
        return
    old, new = PARENT.factors[0], child.factors[0]
    for value in range(61):
        before, after = old.bands[band_of(old, value)], new.bands[band_of(new, value)]
        assert after.points >= before.points
        assert child.level_index(after.floor or "fine") >= PARENT.level_index(before.floor or "fine")
    for tenths in range(-200, 201):
        if limit_result(PARENT.limits[0], tenths / 10) == "stop":
            assert limit_result(child.limits[0], tenths / 10) == "stop"


def test_the_generator_makes_both_kinds() -> None:
    """A theorem about extensions that load says nothing when none, or all, of them do."""
    found = {True: 0, False: 0}

    @given(extensions())
    def count(text: str) -> None:
        found[loaded(text) is not None] += 1

    count()
    assert found[True] >= 5
    assert found[False] >= 5


def test_the_theorem_can_fail() -> None:
    """A looser child that the loader refuses, built past it, does decide better: the comparison above has teeth."""
    loose = replace(PARENT, limits=())
    flight = Flight(
        {name: 50.0 if name != "fuel_spare_min" else -1.0 for name in REGISTRY}, dict.fromkeys(GUARDS, False)
    )
    assert judge(loose, flight, DIRECTIONS).limits_hit < judge(PARENT, flight, DIRECTIONS).limits_hit


HEADER = """\
schema: riskboard-policy/1
id: child
version: 1
title: Child
extends: {id: small-school, version: 4}
effective_from: 2026-03-01T00:00Z
review_by: 2027-03-01
"""
SECTIONS = ("levels", "group_ceilings", "factors", "limits", "combinations", "mitigations", "worksheets")


def section_of(text: str, name: str) -> str:
    after = SECTIONS[SECTIONS.index(name) + 1]
    return text[text.index(f"{name}:\n") : text.index(f"{after}:\n")]


Edits = tuple[tuple[str, str], ...]

# One change of one clause of the good policy, with its cases: (section, edits).
LOOSER: dict[str, tuple[str, Edits]] = {
    "a level takes more points": ("levels", (("watch, up_to: 14", "watch, up_to: 15"),)),
    "a ceiling takes more points": ("group_ceilings", (("{up_to: 8,", "{up_to: 9,"),)),
    "a ceiling's floor is better": ("group_ceilings", (("else: high", "else: watch"),)),
    "a band gives fewer points": (
        "factors",
        (("14, points: 5", "14, points: 4"), ("[12, 5], [14, 5]", "[12, 4], [14, 4]")),
    ),
    "a bound moves out": ("factors", (("{up_to: 11,", "{up_to: 12,"), ("[12, 5]", "[12, 2]"))),
    "the best band grows": ("factors", (("{at_least: 50,", "{at_least: 49.9,"), ("[49.9, 3]", "[49.9, 0]"))),
    "a floor goes": ("factors", (("points: 3, floor: watch", "points: 3"),)),
    "a floor is better": ("factors", (("floor: high}", "floor: watch}"),)),
    "an unknown weighs less": (
        "factors",
        (("if_unknown: no_go", "if_unknown: sign_off"), ("[15, 9], [unknown, no_go]", "[15, 9], [unknown, sign_off]")),
    ),
    "a guard is turned": ("factors", (("{solo: true}", "{solo: false}"),)),
    "a guard is added": ("factors", (("{solo: true}", "{solo: true, for_hire: true}"),)),
    "the middle grows": ("factors", (("{up_to: 101.5,", "{up_to: 101.6,"), ("[101.6, 3]", "[101.6, 0], [101.7, 3]"))),
    "a limit moves out": (
        "limits",
        (("at_least: 0", "at_least: -0.1"), ("[-0.1, stop]", "[-0.1, pass], [-0.2, stop]")),
    ),
    "an upper limit moves out": ("limits", (("up_to: 0", "up_to: 1"), ("[1, stop]", "[1, pass], [2, stop]"))),
    "a limit's guard is turned": ("limits", (("{for_hire: true}", "{for_hire: false}"),)),
    "a part begins farther out, lower is worse": ("combinations", (("beyond: 20}", "beyond: 19}"),)),
    "a part begins farther out, higher is worse": ("combinations", (("beyond: 30}", "beyond: 31}"),)),
    "a combination gives fewer points": ("combinations", (("points: 6", "points: 5"),)),
    "a combination loses its floor": ("combinations", (("    floor: watch\n", ""),)),
    "a combination has a part more": (
        "combinations",
        (
            (
                "    when: {first_solo: true}\n",
                "    when: {first_solo: true}\n    all_of: [{measure: slept_h, beyond: 5}]\n",
            ),
        ),
    ),
    "a mitigation takes more off": ("mitigations", (("at_most: 4", "at_most: 5"),)),
    "a mitigation needs less": ("mitigations", (("    needs: {instructor_aboard: true}\n", ""),)),
}

TIGHTER: dict[str, tuple[str, Edits]] = {
    "a level takes fewer points": ("levels", (("watch, up_to: 14", "watch, up_to: 13"),)),
    "a ceiling takes fewer points": ("group_ceilings", (("{up_to: 8,", "{up_to: 7,"),)),
    "a band gives more points": (
        "factors",
        (("14, points: 5", "14, points: 6"), ("[12, 5], [14, 5]", "[12, 6], [14, 6]")),
    ),
    "a bound moves in": ("factors", (("{up_to: 11,", "{up_to: 10,"), ("[11, 2], [12, 5]", "[10, 2], [11, 5]"))),
    "a band is split": (
        "factors",
        (("{up_to: 14, points: 5}", "{up_to: 13, points: 5}, {up_to: 14, points: 7}"), ("[14, 5]", "[13, 5], [14, 7]")),
    ),
    "a floor comes": (
        "factors",
        (("12.5, points: 3}", "12.5, points: 3, floor: watch}"), ("{points: 6}", "{points: 6, floor: watch}")),
    ),
    "an unknown weighs more": (
        "factors",
        (
            ("if_unknown: sign_off\n    why: Most", "if_unknown: no_go\n    why: Most"),
            ("[12.4, 6], [unknown, sign_off]", "[12.4, 6], [unknown, no_go]"),
        ),
    ),
    "a limit moves in": (
        "limits",
        (("at_least: 0", "at_least: 0.1"), ("[0, pass], [-0.1, stop]", "[0.1, pass], [0, stop]")),
    ),
    "a waiver goes": ("limits", (("waiver: [chief_instructor]", "waiver: none"),)),
    "a part begins nearer": ("combinations", (("beyond: 20}", "beyond: 21}"),)),
    "a combination gives more points": ("combinations", (("points: 6", "points: 7"),)),
    "a mitigation takes less off": ("mitigations", (("at_most: 4", "at_most: 3"),)),
    "a mitigation needs more": (
        "mitigations",
        (("{instructor_aboard: true}", "{instructor_aboard: true, instruction: true}"),),
    ),
}

MANY = [flight for seed in range(12) for flight in flights(seed)]
BEFORE = [judge(PARENT, flight, DIRECTIONS) for flight in MANY]


def edited(section: str, edits: Edits) -> str:
    part = section_of(GOOD, section)
    for old, new in edits:
        assert old in part
        part = part.replace(old, new, 1)
    return part


def better_somewhere(policy: Policy) -> bool:
    """Whether some flight is decided better, or scores less, than under the parent."""
    for flight, before in zip(MANY, BEFORE, strict=True):
        after = judge(policy, flight, DIRECTIONS)
        if after.level < before.level or after.total < before.total or not after.limits_hit >= before.limits_hit:
            return True
    return False


@pytest.mark.parametrize("kind", LOOSER)
def test_every_kind_of_loosening_is_refused_and_would_have_decided_better(kind: str) -> None:
    section, edits = LOOSER[kind]
    part = edited(section, edits)
    alone = read(GOOD.replace(section_of(GOOD, section), part))
    assert better_somewhere(alone)
    assert loaded(HEADER + part) is None


@pytest.mark.parametrize("kind", TIGHTER)
def test_every_kind_of_tightening_loads_and_never_decides_better(kind: str) -> None:
    section, edits = TIGHTER[kind]
    child = loaded(HEADER + edited(section, edits))
    assert child is not None
    assert not better_somewhere(child)


def test_a_combination_may_not_weaken_what_an_unknown_does() -> None:
    part = edited("combinations", (("if_unknown: no_go", "if_unknown: sign_off"),))
    with pytest.raises(PolicyError, match="if_unknown weakens from no_go to sign_off"):
        read(HEADER + part)
