"""The truth of every guard word: 1 true, 0 false, NaN unknown, for each row.

A guard decides whether a clause is looked at. True or unknown means it is; only a sure "no" keeps a clause out.
Truth follows Kleene's strong three-valued logic: a sure part settles "or" and "and", an unknown part otherwise stays
unknown.
"""

import numpy as np

from riskboard.measures.known import both, either
from riskboard.measures.registry import guard
from riskboard.words import Certificate, Exercise, Induction, Purpose, Terrain
from riskboard.worksheet.columns import FloatArray

# With the vocabulary in the key: words are strings, and two vocabularies may share one.
_CODES = {
    (vocabulary, word): float(code)
    for vocabulary in (Certificate, Exercise, Induction, Purpose, Terrain)
    for code, word in enumerate(vocabulary)
}


def _is(codes: FloatArray, *words: Certificate | Exercise | Induction | Purpose | Terrain) -> FloatArray:
    first, *others = (_CODES[type(word), word] for word in words)
    hit = codes == first
    for code in others:
        hit = hit | (codes == code)
    return np.where(np.isnan(codes), np.nan, hit)


def _some(amount: FloatArray) -> FloatArray:
    return np.where(np.isnan(amount), np.nan, amount > 0)


@guard
def civil_night(civil_night_min: FloatArray) -> FloatArray:
    """Some of the flight lies between the end of evening and the beginning of morning civil twilight (14 CFR 1.1)."""
    return _some(civil_night_min)


@guard
def currency_night(currency_night_min: FloatArray) -> FloatArray:
    """Some of the flight lies between one hour after sunset and one hour before sunrise (14 CFR 61.57(b))."""
    return _some(currency_night_min)


@guard
def after_sunset(after_sunset_min: FloatArray) -> FloatArray:
    """Some of the flight lies between sunset and sunrise (position lights, 14 CFR 91.209)."""
    return _some(after_sunset_min)


@guard
def solo(instructor_aboard: FloatArray, passengers: FloatArray) -> FloatArray:
    """Nobody but the pilot aboard."""
    return both(1 - instructor_aboard, 1 - _some(passengers))


@guard
def student_solo(certificate: FloatArray, instructor_aboard: FloatArray, purpose: FloatArray) -> FloatArray:
    """A student pilot is alone in command, by certificate or by purpose."""
    return either(
        _is(purpose, Purpose.student_solo), both(_is(certificate, Certificate.student), 1 - instructor_aboard)
    )


@guard
def passengers(passengers: FloatArray) -> FloatArray:
    """Somebody is carried who is neither pilot nor instructor."""
    return _some(passengers)


@guard
def instructor_aboard(instructor_aboard: FloatArray) -> FloatArray:
    """An instructor is aboard."""
    return instructor_aboard


@guard
def instruction(purpose: FloatArray, instructor_aboard: FloatArray) -> FloatArray:
    """Flight instruction or a check is given: by purpose, with an instructor aboard or not yet said."""
    return either(_is(purpose, Purpose.instruction), both(_is(purpose, Purpose.check_flight), instructor_aboard))


@guard
def rental(purpose: FloatArray) -> FloatArray:
    """The aircraft is rented out without instruction."""
    return _is(purpose, Purpose.rental)


@guard
def for_hire(purpose: FloatArray) -> FloatArray:
    """Persons are carried for hire, or instruction is given for hire in the school's aircraft (14 CFR 91.409(b))."""
    return _is(purpose, Purpose.sightseeing_for_hire, Purpose.instruction, Purpose.check_flight, Purpose.student_solo)


@guard
def carburetted(induction: FloatArray) -> FloatArray:
    """The engine has a carburettor."""
    return _is(induction, Induction.carburetted)


@guard
def cross_country(exercise: FloatArray, distance_from_base_nm: FloatArray) -> FloatArray:
    """A cross-country exercise, or more than 25 NM from base (14 CFR 61.1 uses 25 NM for helicopters)."""
    far = np.where(np.isnan(distance_from_base_nm), np.nan, distance_from_base_nm > 25)  # noqa: PLR2004  - the rule's own figure
    return either(_is(exercise, Exercise.cross_country), far)


@guard
def over_water(over_water: FloatArray) -> FloatArray:
    """Beyond power-off gliding distance of shore."""
    return over_water


@guard
def mountainous(terrain: FloatArray) -> FloatArray:
    """Mountainous terrain on the route."""
    return _is(terrain, Terrain.mountainous)


@guard
def special_vfr(special_vfr: FloatArray) -> FloatArray:
    """A special VFR clearance is planned."""
    return special_vfr


@guard
def off_airport_landing(off_airport_landing: FloatArray) -> FloatArray:
    """A landing away from an airfield is planned."""
    return off_airport_landing


@guard
def autorotation_practice(exercise: FloatArray) -> FloatArray:
    """Autorotations are practised, with power recovery or to the ground."""
    return _is(exercise, Exercise.autorotation_power_recovery, Exercise.autorotation_touchdown)


@guard
def touchdown_autorotation(exercise: FloatArray) -> FloatArray:
    """Autorotations are practised to the ground: no power is there to mend the last seconds."""
    return _is(exercise, Exercise.autorotation_touchdown)


@guard
def emergency_practice(exercise: FloatArray) -> FloatArray:
    """Any simulated emergency: autorotations, hydraulics or governor off."""
    return _is(
        exercise,
        Exercise.autorotation_power_recovery,
        Exercise.autorotation_touchdown,
        Exercise.hydraulics_or_governor_off,
    )


@guard
def confined_area(exercise: FloatArray) -> FloatArray:
    """Confined-area landings."""
    return _is(exercise, Exercise.confined_area)


@guard
def slope_or_pinnacle(exercise: FloatArray) -> FloatArray:
    """Slope or pinnacle landings."""
    return _is(exercise, Exercise.slope_landing, Exercise.pinnacle)


@guard
def first_solo(exercise: FloatArray) -> FloatArray:
    """First solo."""
    return _is(exercise, Exercise.first_solo)


@guard
def type_training_needed(type_training_required: FloatArray) -> FloatArray:
    """The type asks for recurrent awareness training."""
    return type_training_required


@guard
def transponder_needed(transponder_used: FloatArray) -> FloatArray:
    """The transponder is used on this flight."""
    return transponder_used
