"""One small good policy that uses every key, and an extension of it. Tests break copies of them."""

from riskboard.policy import Policy, load_policy
from tests.policy.measures import REGISTRY

__all__ = ["EXTENSION", "GOOD", "good", "read", "resolve"]

GOOD = """\
schema: riskboard-policy/1
id: small-school
version: 4
title: Small school, visual flights
effective_from: 2026-03-01T00:00Z
review_by: 2027-03-01
weather_age_max_min: 60
overdue:
  margin_min: 40
  steps:
    - "Call it: radio, then telephone."
    - Call the fields along its route.
levels:
  - {name: fine, up_to: 8, decision: go, accepted_by: [pilot], valid_min: 90}
  - {name: watch, up_to: 14, decision: go_with_sign_off, accepted_by: [dispatcher, chief_instructor], valid_min: 60}
  - {name: high, up_to: 20, decision: go_with_sign_off, accepted_by: [chief_instructor], valid_min: 45}
  - {name: stop, decision: no_go}
group_ceilings:
  pilot: {up_to: 8, else: high}
factors:
  gusts:
    group: environment
    measure: gust_kt_spread
    bands: [{up_to: 7, points: 0}, {up_to: 11, points: 2}, {up_to: 14, points: 5}, {points: 9, floor: watch}]
    if_unknown: no_go
    why: Gusts eat tail-rotor and power margin in the hover.
    source: {text: "school's own: experience", kind: common practice, checked_on: 2026-02-11}
    cases: [[7, 0], [8, 2], [11, 2], [12, 5], [14, 5], [15, 9], [unknown, no_go]]
  few_hours:
    group: pilot
    measure: type_h
    bands: [{at_least: 50, points: 0}, {at_least: 12.5, points: 3}, {points: 6}]
    if_unknown: sign_off
    why: Most surprises happen early in a type.
    source: {text: common practice, kind: common practice, checked_on: 2026-02-11}
    cases: [[50, 0], [49.9, 3], [12.5, 3], [12.4, 6], [unknown, sign_off]]
  tired:
    group: pilot
    measure: slept_h
    bands:
      - {at_least: 7, points: 0}
      - {at_least: 5, points: 3, floor: watch}
      - {points: 6, floor: high}
    if_unknown: sign_off
    when: {solo: true}
    why: Sleep drives alertness more than will does.
    source: {text: school rule, kind: school, checked_on: 2026-02-11}
    cases: [[7, 0], [6.9, 3], [5, 3], [4.9, 6], [unknown, sign_off]]
  arm:
    group: aircraft
    measure: load_arm_in
    bands: [{up_to: 95, points: 2}, {up_to: 101.5, points: 0}, {points: 3}]
    non_monotone: The middle of the envelope is best.
    why: Cyclic travel is left on both sides.
    source: {text: flight manual of the type, kind: flight manual, checked_on: 2026-02-11}
    cases: [[95, 2], [95.1, 0], [101.5, 0], [101.6, 3], [unknown, no_go]]
limits:
  fuel_reserve:
    measure: fuel_spare_min
    at_least: 0
    waiver: none
    why: Rotorcraft keep 20 minutes.
    source: {text: 14 CFR 91.151(b), kind: regulation, checked_on: 2026-02-11}
    cases: [[0, pass], [-0.1, stop], [unknown, stop]]
  open_defects:
    measure: defects
    up_to: 0
    waiver: [chief_instructor]
    when: {for_hire: true}
    why: Paying people fly in a clean machine.
    source: {text: school rule, kind: school, checked_on: 2026-02-11}
    cases: [[0, pass], [1, stop], [unknown, stop]]
combinations:
  - name: dark night
    group: environment
    all_of:
      - {measure: moon_pct, beyond: 20}
      - {measure: night_gap_d, beyond: 30}
    when: {civil_night: true}
    points: 6
    floor: watch
    why: Without moon and practice there is no horizon.
    source: {text: common practice, kind: common practice, checked_on: 2026-02-11}
  - name: first solo
    group: pilot
    when: {first_solo: true}
    points: 0
    floor: high
    if_unknown: no_go
    why: A first solo is released by two.
    source: {text: school rule, kind: school, checked_on: 2026-02-11}
fragile_below_pct: 85
errors:
  wind_kt:
    size: 2.5
    why: A sock and a display differ.
    source: {text: school rule, kind: school, checked_on: 2026-02-11}
  visibility_sm:
    pct: 10
    why: Nobody sees a tenth of a mile.
    source: {text: school rule, kind: school, checked_on: 2026-02-11}
ways_out:
  later:
    cost: 2
    why: Waiting costs an hour.
    source: {text: school rule, kind: school, checked_on: 2026-02-11}
  other_aircraft:
    cost: 5
    why: A new preflight.
    source: {text: school rule, kind: school, checked_on: 2026-02-11}
when_no:
  tell_customer: "We do not fly today: the numbers say so, and nobody decides otherwise."
  call: The instructor on duty
  why: A no is easier with words at hand.
  source: {text: school rule, kind: school, checked_on: 2026-02-11}
mitigations:
  - name: current instructor aboard
    off: [few_hours]
    at_most: 4
    needs: {instructor_aboard: true}
    why: The instructor's currency covers the pilot's.
    source: {text: school rule, kind: school, checked_on: 2026-02-11}
worksheets:
  calm_morning:
    decided_at: 2026-05-04T14:00Z
    pilot: {certificate: private, hours_in_type_h: 120}
    weather: {observed_at: 2026-05-04T13:50Z, wind_kt: 4, gust_kt: none}
    plan: {take_off_at: 2026-05-04T14:30Z, landing_at: 2026-05-04T15:30Z, time_zone: America/Denver}
tests:
  - name: A calm morning goes
    given: {worksheet: calm_morning}
    expect: {decision: go, level: fine, accepted_by: [pilot]}
  - name: A gusty one needs a signature
    given: {worksheet: calm_morning, but: {gust_kt: 29}}
    expect: {decision: go_with_sign_off, because: [gusts], waived_by: []}
"""

EXTENSION = """\
schema: riskboard-policy/1
id: small-school-winter
version: 1
title: Small school in winter
extends: {id: small-school, version: 4}
effective_from: 2026-11-01T00:00Z
review_by: 2027-02-01
weather_age_max_min: 45
overdue:
  margin_min: 20
levels:
  - {name: watch, up_to: 12, accepted_by: [chief_instructor], valid_min: 50}
group_ceilings:
  pilot: {up_to: 7, else: stop}
  environment: {up_to: 12, else: high}
factors:
  gusts:
    group: environment
    measure: gust_kt_spread
    bands: [{up_to: 6, points: 0}, {up_to: 12, points: 5}, {points: 10, floor: high}]
    why: Gusts eat more margin on a slippery pad.
    source: {text: school rule, kind: school, checked_on: 2026-10-01}
    cases: [[6, 0], [7, 5], [12, 5], [13, 10], [unknown, no_go]]
  long_gap:
    group: pilot
    measure: night_gap_d
    bands: [{up_to: 20, points: 0}, {points: 2}]
    if_unknown: sign_off
    why: Winter nights are long.
    source: {text: school rule, kind: school, checked_on: 2026-10-01}
    cases: [[20, 0], [21, 2], [unknown, sign_off]]
limits:
  fuel_reserve:
    measure: fuel_spare_min
    at_least: 10
    waiver: none
    why: Ten more minutes in winter.
    source: {text: school rule, kind: school, checked_on: 2026-10-01}
    cases: [[10, pass], [9.9, stop], [unknown, stop]]
combinations:
  - name: dark night
    group: environment
    all_of: [{measure: moon_pct, beyond: 40}, {measure: night_gap_d, beyond: 20}]
    when: {civil_night: true}
    points: 7
    floor: watch
    if_unknown: no_go
    why: Without moon and practice there is no horizon.
    source: {text: common practice, kind: common practice, checked_on: 2026-10-01}
fragile_below_pct: 95
errors:
  wind_kt:
    size: 3
    why: The winter sock is stiff.
    source: {text: school rule, kind: school, checked_on: 2026-10-01}
ways_out:
  later:
    cost: 3
    why: Days are short.
    source: {text: school rule, kind: school, checked_on: 2026-10-01}
mitigations:
  - name: current instructor aboard
    off: [few_hours]
    at_most: 2
    needs: {instructor_aboard: true, instruction: true}
    why: The instructor's currency covers some of the pilot's.
    source: {text: school rule, kind: school, checked_on: 2026-10-01}
tests:
  - name: A calm morning goes
    given: {worksheet: calm_morning}
    expect: {decision: go_with_sign_off}
"""


def read(text: str | bytes, name: str = "p.yaml") -> Policy:
    """Load under the invented registry, with the good policy to extend."""
    return load_policy(text, name=name, resolve=resolve, registry=REGISTRY)


def resolve(policy_id: str, version: int) -> str:
    if (policy_id, version) == ("small-school", 4):
        return GOOD
    raise LookupError(policy_id)


def good() -> Policy:
    return read(GOOD)
