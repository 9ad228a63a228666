"""Truth tables of the guard words: a sure part settles; an unknown part otherwise stays unknown."""

import itertools
from enum import StrEnum

import numpy as np
import pytest

from riskboard.measures import register_guards as guards
from riskboard.measures.known import both, either
from riskboard.measures.registry import GUARDS, load_all
from riskboard.words import Certificate, Exercise, Guard, Induction, Purpose, Terrain
from riskboard.worksheet.columns import FloatArray

load_all()
NAN = np.nan
TRUTHS = (True, False, None)


def number(truth: bool | None) -> float:
    return NAN if truth is None else float(truth)


def kleene_or(*parts: bool | None) -> bool | None:
    if any(part is True for part in parts):
        return True
    return False if all(part is False for part in parts) else None


def code(word: StrEnum | None) -> FloatArray:
    return np.array([NAN if word is None else float(list(type(word)).index(word))])


@pytest.mark.parametrize(("left", "right"), list(itertools.product(TRUTHS, TRUTHS)))
def test_or_and_and_are_kleenes(left: bool | None, right: bool | None) -> None:
    """Kleene 1952, strong three-valued logic."""
    columns = [np.array([number(part)]) for part in (left, right)]
    np.testing.assert_array_equal(either(*columns), [number(kleene_or(left, right))])
    negated = [None if part is None else not part for part in (left, right)]
    inner = kleene_or(*negated)
    np.testing.assert_array_equal(both(*columns), [number(None if inner is None else not inner)])


def test_every_word_has_a_truth_function() -> None:
    assert set(GUARDS) == set(Guard)


@pytest.mark.parametrize("minutes", ["civil_night", "currency_night", "after_sunset"])
def test_any_minute_of_night_is_night(minutes: str) -> None:
    function = GUARDS[Guard(minutes)].function
    np.testing.assert_array_equal(function(np.array([0, 0.5, 60, NAN])), [0, 1, 1, NAN])


def test_solo() -> None:
    aboard, carried = np.array([0, 1, 0, NAN, 1, 0, NAN]), np.array([0, 0, 2, 0, NAN, NAN, 3])
    np.testing.assert_array_equal(guards.solo(aboard, carried), [1, 0, 0, NAN, 0, NAN, 0])


def test_student_solo() -> None:
    """By purpose alone; or a student certificate without an instructor. A private pilot on a rental is neither."""
    student, private, unknown = code(Certificate.student), code(Certificate.private), code(None)
    zero, one = np.array([0.0]), np.array([1.0])
    assert guards.student_solo(student, zero, code(Purpose.rental)) == 1
    assert guards.student_solo(student, one, code(Purpose.instruction)) == 0
    assert guards.student_solo(private, zero, code(Purpose.student_solo)) == 1
    assert guards.student_solo(private, zero, code(Purpose.rental)) == 0
    assert np.isnan(guards.student_solo(unknown, zero, code(Purpose.rental)))
    assert np.isnan(guards.student_solo(private, zero, code(None)))


def test_instruction() -> None:
    zero, one, unknown = np.array([0.0]), np.array([1.0]), np.array([NAN])
    assert guards.instruction(code(Purpose.instruction), zero) == 1
    assert guards.instruction(code(Purpose.check_flight), one) == 1
    assert guards.instruction(code(Purpose.check_flight), zero) == 0
    assert guards.instruction(code(Purpose.rental), one) == 0
    assert np.isnan(guards.instruction(code(Purpose.check_flight), unknown))


def test_cross_country_is_beyond_25_nautical_miles() -> None:
    """14 CFR 61.1, cross-country time in rotorcraft: more than 25 NM (from memory)."""
    np.testing.assert_array_equal(
        guards.cross_country(np.repeat(code(Exercise.circuits), 4), np.array([25, 25.1, 0, NAN])), [0, 1, 0, NAN]
    )
    assert guards.cross_country(code(Exercise.cross_country), np.array([NAN])) == 1


@pytest.mark.parametrize(
    ("word", "true_for"),
    [
        (Guard.carburetted, [Induction.carburetted]),
        (Guard.rental, [Purpose.rental]),
        (
            Guard.for_hire,
            [Purpose.sightseeing_for_hire, Purpose.instruction, Purpose.check_flight, Purpose.student_solo],
        ),
        (Guard.mountainous, [Terrain.mountainous]),
        (Guard.autorotation_practice, [Exercise.autorotation_power_recovery, Exercise.autorotation_touchdown]),
        (Guard.touchdown_autorotation, [Exercise.autorotation_touchdown]),
        (
            Guard.emergency_practice,
            [
                Exercise.autorotation_power_recovery,
                Exercise.autorotation_touchdown,
                Exercise.hydraulics_or_governor_off,
            ],
        ),
        (Guard.confined_area, [Exercise.confined_area]),
        (Guard.slope_or_pinnacle, [Exercise.slope_landing, Exercise.pinnacle]),
        (Guard.first_solo, [Exercise.first_solo]),
    ],
)
def test_words_about_one_choice(word: Guard, true_for: list[Induction | Purpose | Terrain | Exercise]) -> None:
    vocabulary = list(type(true_for[0]))
    for choice in vocabulary:
        assert GUARDS[word].function(code(choice)) == (choice in true_for)
    assert np.isnan(GUARDS[word].function(code(None)))


@pytest.mark.parametrize(
    "word",
    [
        Guard.passengers,
        Guard.instructor_aboard,
        Guard.over_water,
        Guard.special_vfr,
        Guard.off_airport_landing,
        Guard.type_training_needed,
        Guard.transponder_needed,
    ],
)
def test_words_that_are_an_answer(word: Guard) -> None:
    np.testing.assert_array_equal(GUARDS[word].function(np.array([0.0, 1.0, NAN])), [0, 1, NAN])
