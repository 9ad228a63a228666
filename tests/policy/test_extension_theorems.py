"""If an extension loads, nothing it decides is better than what the extended policy decides. For any values."""

import re
from dataclasses import replace

from hypothesis import assume, given
from hypothesis import strategies as st

from riskboard.policy import PolicyError
from riskboard.policy.evaluate import band_of, limit_result, rounded
from riskboard.policy.model import Policy
from riskboard.words import Guard
from tests.assessment.oracle import Flight, judge
from tests.policy.measures import REGISTRY
from tests.policy.samples import EXTENSION, good, read

PARENT = good()
DIRECTIONS = {name: measure.worse for name, measure in REGISTRY.items()}
GUARDS = (Guard.solo, Guard.for_hire, Guard.civil_night, Guard.first_solo, Guard.instructor_aboard, Guard.instruction)

# Numbers of the extension's text that matter, as (pattern, lowest, highest): some of them are turned at a time.
NUMBERS = [
    (r"(name: watch, up_to: )12", 9, 16),
    (r"(pilot: \{up_to: )8", 6, 11),
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
    for pattern, low, high in draw(st.lists(st.sampled_from(NUMBERS), max_size=3, unique=True)):
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


@st.composite
def flights(draw: st.DrawFn) -> Flight:
    values = {}
    for name, measure in REGISTRY.items():
        if not measure.internal:
            near = st.integers(-5, 70).map(float) | st.floats(measure.low, measure.high)
            value = draw(st.none() | near | near)
            known = value is not None and measure.low <= value <= measure.high
            values[name] = rounded(measure, value) if value is not None and known else None
    guards = {word: draw(st.sampled_from([True, False, None])) for word in GUARDS}
    taken = frozenset({"current instructor aboard"} if draw(st.booleans()) else ())
    return Flight(values, guards, taken, frozenset({"open_defects"} if draw(st.booleans()) else ()))


@given(extensions(), st.lists(flights(), min_size=8, max_size=8))
def test_an_extension_that_loads_never_decides_better(text: str, some: list[Flight]) -> None:
    child = loaded(text)
    assume(child is not None)
    assert child is not None
    for flight in some:
        before, after = judge(PARENT, flight, DIRECTIONS), judge(child, flight, DIRECTIONS)
        assert after.level >= before.level
        assert after.decision >= before.decision
        assert after.total >= before.total
        assert after.limits_hit >= before.limits_hit


@given(extensions(), st.floats(0, 60), st.floats(-600, 600))
def test_restated_clauses_are_at_least_as_severe_for_every_value(text: str, gust: float, fuel: float) -> None:
    child = loaded(text)
    assume(child is not None)
    assert child is not None
    old, new = PARENT.factors[0], child.factors[0]
    value = rounded(REGISTRY[old.measure], gust)
    before, after = old.bands[band_of(old, value)], new.bands[band_of(new, value)]
    assert after.points >= before.points
    assert child.level_index(after.floor or "fine") >= PARENT.level_index(before.floor or "fine")
    spare = rounded(REGISTRY["fuel_spare_min"], fuel)
    if limit_result(PARENT.limits[0], spare) == "stop":
        assert limit_result(child.limits[0], spare) == "stop"


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
