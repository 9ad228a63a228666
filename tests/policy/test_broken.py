"""Small edits of the good policy: each is refused at the right place, with what is allowed there."""

from dataclasses import dataclass

import pytest

from riskboard.policy import PolicyError
from riskboard.yaml_source import Problem
from tests.policy.samples import EXTENSION, GOOD, good, read


@dataclass(frozen=True)
class Broken:
    """``old`` becomes ``new``; the problem is expected at the first character of ``at`` in the changed text."""

    old: str
    new: str
    at: str
    fragment: str
    text: str = GOOD
    times: int = 1

    def changed(self) -> str:
        assert self.text.count(self.old) == self.times, f"{self.old!r} is there {self.text.count(self.old)} times"
        return self.text.replace(self.old, self.new)


def place_of(text: str, at: str) -> tuple[int, int]:
    """Line and column of a piece of text; a bar in it marks the exact character."""
    before, _, after = at.partition("|")
    piece = before + after if "|" in at else at
    assert text.count(piece) == 1, f"{piece!r} is there {text.count(piece)} times"
    position = text.index(piece) + (len(before) if "|" in at else 0)
    return text.count("\n", 0, position) + 1, position - text.rfind("\n", 0, position)


def problems_of(text: str) -> tuple[Problem, ...]:
    with pytest.raises(PolicyError) as refusal:
        read(text)
    return refusal.value.problems


HEAD = [
    Broken("schema: riskboard-policy/1", "schema: riskboard-policy/2", "riskboard-policy/2", "riskboard-policy/1"),
    Broken("id: small-school\n", "id: Small School\n", "Small School\n", "small letters"),
    Broken("version: 4\n", "version: 0\n", "version: |0", "whole number from 1"),
    Broken("version: 4\n", "version: '4'\n", "version: |'4'", "whole number from 1"),
    Broken("version: 4\n", "", "|schema:", "no 'version'"),
    Broken("title: Small school, visual flights", "title: true", "title: |true", "a text"),
    Broken("title:", "titel:", "titel:", "did you mean title?"),
    Broken("2026-03-01T00:00Z\n", "2026-03-01\n", "effective_from: |2026-03-01\n", "a time with its zone"),
    Broken("review_by: 2027-03-01", "review_by: soon", "review_by: |soon", "a date such as"),
    Broken("review_by: 2027-03-01", "review_by: 2026-03-01", "review_by: |2026-03-01", "a later day"),
    Broken("weather_age_max_min: 60", "weather_age_max_min: 181", "_min: |181", "from 1 to 180"),
    Broken("weather_age_max_min: 60", "weather_age_max_min: 0", "_min: |0\n", "from 1 to 180"),
    Broken("weather_age_max_min: 60", "weather_age_max_min: 60.5", "_min: |60.5", "from 1 to 180"),
]

OVERDUE = [
    Broken("margin_min: 40", "margin_min: 4", "margin_min: |4\n", "whole number from 5 to 240"),
    Broken("margin_min: 40", "margin_min: 241", "margin_min: |241", "whole number from 5 to 240"),
    Broken("margin_min: 40", "margin_min: 40.5", "margin_min: |40.5", "whole number from 5 to 240"),
    Broken("  margin_min: 40\n", "", "overdue:\n  |steps:", "no 'margin_min'"),
    Broken("  margin_min: 40", "  margin: 40", "|margin: 40", "did you mean margin_min?"),
    Broken(
        '  steps:\n    - "Call it: radio, then telephone."\n    - Call the fields along its route.\n',
        "  steps: []\n",
        "steps: |[]\n",
        "at least 1",
    ),
    Broken(
        "    - Call the fields along its route.\n",
        "".join(f"    - Step {i}.\n" for i in range(12)),
        '|- "Call it',
        "at most 12 are allowed",
    ),
    Broken("- Call the fields along its route.", "- " + "x" * 201, "|" + "x" * 201, "at most 200"),
    Broken("- Call the fields along its route.", "- ''", "- |''", "an empty text"),
    Broken("- Call the fields along its route.", "- 17", "- |17", "a text"),
]

ALTERNATIVES = [
    Broken("fragile_below_pct: 85", "fragile_below_pct: 49", "pct: |49", "whole number from 50 to 100"),
    Broken("fragile_below_pct: 85", "fragile_under_pct: 85", "|fragile_under_pct", "did you mean fragile_below_pct?"),
    Broken("  wind_kt:\n", "  winds_kt:\n", "|winds_kt", "did you mean wind_kt?"),
    Broken("    size: 2.5\n", "    size: -0.5\n", "size: |-0.5", "from 0 to 10000"),
    Broken("    size: 2.5\n", "    size: wide\n", "size: |wide", "a plain decimal"),
    Broken("    pct: 10\n", "    pct: 101\n", "pct: |101", "from 0 to 100"),
    Broken("    pct: 10\n", "    pct: 10\n    size: 1\n", "|pct: 10\n    size", "exactly one of size, pct"),
    Broken("    pct: 10\n", "", "|why: Nobody sees", "exactly one of size, pct"),
    Broken("    why: Nobody sees a tenth of a mile.\n", "", "|pct: 10", "no 'why'"),
    Broken("  later:\n", "  latter:\n", "|latter", "did you mean later?"),
    Broken("    cost: 2\n", "    cost: -2\n", "cost: |-2", "whole number from 0"),
    Broken("    cost: 2\n", "", "|why: Waiting", "no 'cost'"),
    Broken("  call: The instructor on duty\n", "", "|tell_customer", "no 'call'"),
    Broken("  call: The instructor on duty\n", "  call: ''\n", "call: |''", "an empty text"),
]

LEVELS = [
    Broken("up_to: 8, decision: go,", "up_to: 8, decision: gone,", "|gone,", "did you mean go?"),
    Broken(
        "up_to: 8, decision: go,",
        "up_to: 8, decision: go_with_sign_off,",
        "decision: |go_with_sign_off, accepted_by: [pilot]",
        "must be go",
    ),
    Broken("decision: no_go}", "decision: go}", "decision: |go}", "must be no_go"),
    Broken("decision: no_go}", "decision: no_go, up_to: 90}", "|up_to: 90", "leave it out"),
    Broken("decision: no_go}", "decision: no_go, valid_min: 5}", "|valid_min: 5}", "leave valid_min out"),
    Broken(
        "decision: no_go}",
        "decision: no_go, accepted_by: [dispatcher]}",
        "|accepted_by: [dispatcher]}",
        "leave accepted_by out",
    ),
    Broken("up_to: 14, decision", "decision", "|{name: watch", "no up_to"),
    Broken("up_to: 14, decision", "up_to: 8, decision", "watch, up_to: |8", "must rise"),
    Broken(
        "name: high, up_to: 20, decision: go_with_sign_off",
        "name: high, up_to: 20, decision: go",
        "up_to: 20, decision: |go,",
        "go_with_sign_off or worse",
    ),
    Broken("valid_min: 45", "valid_min: 61", "valid_min: |61", "never valid longer"),
    Broken("[pilot], valid_min: 90}", "[pilot], valid_min: 1441}", "|1441", "from 1 to 1440"),
    Broken("accepted_by: [pilot], ", "", "|{name: fine", "name a role"),
    Broken("accepted_by: [pilot], valid_min: 90}", "accepted_by: [pilot]}", "|{name: fine", "no valid_min"),
    Broken(
        "[dispatcher, chief_instructor]",
        "[dispatcher, chief_instructer]",
        "|chief_instructer",
        "did you mean chief_instructor?",
    ),
    *(
        Broken("[dispatcher, chief_instructor]", f"[{role}, chief_instructor]", f"|[{role}, chief", said)
        for role in ("pilot", "student", "renter")
        for said in (f"a second person, not from the {role}", "allowed: instructor, dispatcher, chief_instructor")
    ),
    Broken("up_to: 20, decision", "up_to: 34, decision", "up_to: |34", "the worst possible total is 30"),
    Broken("up_to: 8, decision", "up_to: -1, decision", "up_to: |-1", "a whole number from 0"),
    Broken("name: high, up_to: 20", "name: watch, up_to: 20", "name: |watch, up_to: 20", "given twice"),
]

CEILINGS = [
    Broken("pilot: {up_to: 8", "pilots: {up_to: 8", "|pilots: {", "did you mean pilot?"),
    Broken("else: high}", "else: hihg}", "|hihg}", "did you mean high?"),
    Broken("else: high}", "else: fine}", "else: |fine}", "does nothing"),
    Broken("pilot: {up_to: 8", "pilot: {up_to: 12", "pilot: {up_to: |12", "more than 12 points"),
]

FACTORS = [
    Broken("measure: gust_kt_spread", "measure: gust_spread_kt", "|gust_spread_kt", "did you mean gust_kt_spread?"),
    Broken("measure: slept_h", "measure: sleep_sum", "|sleep_sum", "a policy may name"),
    Broken("measure: slept_h", "measure: 7", "measure: |7", "the name of a measure"),
    Broken("measure: slept_h", "mesure: slept_h", "|mesure", "did you mean measure?"),
    Broken("group: aircraft", "group: hull", "|hull", "allowed"),
    Broken("{up_to: 7, points: 0}", "{at_least: 7, points: 0}", "{|up_to: 11", "one word, at_least"),
    Broken(
        "{up_to: 7, points: 0}, {up_to: 11, points: 2}, {up_to: 14, points: 5}",
        "{at_least: 14, points: 0}, {at_least: 11, points: 2}, {at_least: 7, points: 5}",
        "{|at_least: 14",
        "written up_to",
    ),
    Broken(
        "bands: [{at_least: 50, points: 0}, {at_least: 12.5, points: 3}, {points: 6}]",
        "bands: [{up_to: 12.5, points: 0}, {up_to: 50, points: 3}, {points: 6}]",
        "{|up_to: 12.5",
        "written at_least",
    ),
    Broken("{up_to: 11, points: 2}", "{up_to: 7, points: 2}", "up_to: |7, points: 2", "above 7"),
    Broken("{at_least: 12.5, points: 3}", "{at_least: 50.5, points: 3}", "at_least: |50.5", "must fall"),
    Broken("{up_to: 14, points: 5}", "{up_to: 60, points: 5}", "up_to: |60, points", "nothing is beyond it"),
    Broken("{up_to: 14, points: 5}", "{up_to: 61, points: 5}", "up_to: |61, points", "outside the valid range"),
    Broken("{up_to: 14, points: 5}", "{up_to: 14.5, points: 5}", "up_to: |14.5, points", "multiples of 1 kt"),
    Broken("{up_to: 14, points: 5}", "{points: 5}", "|{points: 5}", "only the last goes without"),
    Broken("{points: 9, floor: watch}", "{up_to: 20, points: 9, floor: watch}", "{|up_to: 20, points", "leave it out"),
    Broken("{up_to: 11, points: 2}", "{up_to: 11, points: -2}", "points: |-2", "from 0 to 1000"),
    Broken("{up_to: 11, points: 2}", "{up_to: 11, points: 2.5}", "points: |2.5", "from 0 to 1000"),
    Broken("{up_to: 14, points: 5}", "{up_to: 14, points: 1}", "points: |1}", "2 or more"),
    Broken("    non_monotone: The middle of the envelope is best.\n", "", "measure: |load_arm_in", "non_monotone"),
    Broken(
        "    if_unknown: no_go\n    why: Gusts",
        "    if_unknown: no_go\n    non_monotone: because\n    why: Gusts",
        "|non_monotone: because",
        "leave non_monotone out",
    ),
    Broken("{points: 9, floor: watch}", "{points: 9, floor: wacht}", "floor: |wacht", "did you mean watch?"),
    Broken("{points: 9, floor: watch}", "{points: 9, floor: fine}", "floor: |fine", "does nothing"),
    Broken("{points: 6, floor: high}", "{points: 6}", "- |{points: 6}\n", "watch or worse"),
    Broken("{up_to: 7, points: 0}", "{up_to: 7, points: 0, floor: watch}", "0, floor: |watch", "never reached"),
    Broken(
        "if_unknown: no_go\n    why: Gusts",
        "if_unknown: go\n    why: Gusts",
        "if_unknown: |go\n",
        "allowed: no_go, sign_off",
    ),
    Broken("when: {solo: true}", "when: {slo: true}", "{|slo: true", "did you mean solo?"),
    Broken("when: {solo: true}", "when: {solo: yes}", "solo: |yes", "true or false"),
    Broken("when: {solo: true}", "when: [solo]", "when: |[solo]", "a map such as"),
    Broken(
        "    why: Gusts eat tail-rotor and power margin in the hover.\n",
        "",
        "    |group: environment\n    measure: gust",
        "no 'why'",
    ),
    Broken("why: Most surprises happen early in a type.", "why:", "why:|\n", "a text"),
    Broken("why: Most surprises happen early in a type.", "why: ''", "why: |''", "an empty text"),
    Broken(
        "kind: flight manual, checked_on",
        "kind: hearsay, checked_on",
        "|hearsay",
        "regulation, published guidance, flight manual",
    ),
    Broken(
        "{text: flight manual of the type, kind: flight manual, checked_on: 2026-02-11}",
        "{text: flight manual of the type, kind: flight manual}",
        "source: |{text: flight manual of the type",
        "no 'checked_on'",
    ),
    Broken("  few_hours:\n", "  Few Hours:\n", "|Few Hours", "small letters"),
    Broken("  few_hours:\n", "  fuel_reserve:\n", "limits:\n  |fuel_reserve:", "already used under factors"),
]

CASES = [
    Broken("[8, 2], [11, 2]", "[8, 5], [11, 2]", "[8, |5]", "expects 5 for 8 kt, but the clause gives 2"),
    Broken("[8, 2], [11, 2]", "[7.4, 2], [11, 2]", "[7.4, |2]", "rounded to 7 kt"),
    Broken("[12, 5], [14, 5], ", "", "cases: |[[7, 0], [8", "band 3 (up to 14 kt)"),
    Broken("[15, 9], [unknown, no_go]", "[15, 9]", "cases: |[[7, 0], [8", "[unknown, no_go]"),
    Broken("[15, 9], [unknown, no_go]", "[15, 9], [unknown, sign_off]", "[unknown, |sign_off]]\n  few", "gives no_go"),
    Broken("[15, 9]", "[61, 9]", "[|61, 9]", "outside the valid range"),
    Broken("[15, 9]", "[15]", "|[15]", "a case [value, expected]"),
    Broken("[15, 9]", "[fifteen, 9]", "[|fifteen", "plain decimal"),
    Broken("[15, 9]", "[15, pass]", "[15, |pass]", "whole number"),
    Broken("[[0, pass], [-0.1, stop]", "[[0, stop], [-0.1, stop]", "[0, |stop]", "gives pass"),
    Broken("[[0, pass], [-0.1, stop]", "[[0, pass], [3, pass]", "cases: |[[0, pass], [3", "stop side"),
    Broken(
        "[[0, pass], [-0.1, stop], [unknown, stop]]",
        "[[0, pass], [-0.1, stop], [unknown, pass]]",
        "[unknown, |pass]",
        "gives stop",
    ),
    Broken(
        "[[0, pass], [-0.1, stop], [unknown, stop]]",
        "[[0, pass], [-0.1, stop]]",
        "cases: |[[0, pass], [-0.1",
        "[unknown, stop]",
    ),
    Broken("[[0, pass], [1, stop], [unknown, stop]]", "none", "cases: |none", "a list of cases"),
]

LIMITS = [
    Broken("at_least: 0\n", "up_to: 0\n", "|up_to: 0\n    waiver: none", "written at_least"),
    Broken("at_least: 0\n", "at_least: 0\n    up_to: 5\n", "|measure: fuel_spare_min", "exactly one"),
    Broken("    at_least: 0\n", "", "|measure: fuel_spare_min", "exactly one"),
    Broken("at_least: 0\n", "at_least: none\n", "at_least: |none", "plain decimal"),
    Broken("at_least: 0\n", "at_least: -600\n", "at_least: |-600", "nothing is beyond it"),
    Broken(
        "waiver: none",
        "waiver: [chief_instructor]",
        "waiver: |[chief_instructor]\n    why: Rotor",
        "cannot waive a regulation",
    ),
    Broken("waiver: none", "waiver: chief_instructor", "waiver: |chief_instructor", "none, or a list of roles"),
    *(
        Broken(
            "waiver: [chief_instructor]", f"waiver: [chief_instructor, {role}]", f"[chief_instructor, |{role}]", said
        )
        for role in ("pilot", "student", "renter")
        for said in (f"{role!r} is not allowed here", "allowed: instructor, dispatcher, chief_instructor")
    ),
    Broken("waiver: [chief_instructor]", "waiver: []", "waiver: |[]", "none, or a list of roles"),
    Broken(
        "measure: defects\n    up_to: 0",
        "measure: load_arm_in\n    up_to: 90",
        "measure: |load_arm_in\n    up_to: 90",
        "no single worse end",
    ),
]

COMBINATIONS = [
    Broken("    when: {first_solo: true}\n", "", "- |name: first solo", "all_of"),
    Broken("points: 0\n    floor: high\n", "points: 0\n", "points: |0\n", "give one of them"),
    Broken("beyond: 20}", "beyond: 0}", "beyond: |0}", "nothing is beyond it"),
    Broken("beyond: 30}", "beyond: 40000}", "beyond: |40000}", "nothing is beyond it"),
    Broken(
        "measure: moon_pct, beyond: 20",
        "measure: load_arm_in, beyond: 90",
        "measure: |load_arm_in, beyond",
        "no single worse end",
    ),
    Broken(
        "measure: moon_pct, beyond: 20",
        "measure: night_gap_d, beyond: 20",
        "measure: |night_gap_d, beyond: 30",
        "already a part",
    ),
    Broken("measure: moon_pct, beyond: 20", "measure: moon_pct, above: 20", "|above: 20", "no key of a part"),
    Broken("floor: watch\n    why: Without", "floor: fine\n    why: Without", "floor: |fine", "does nothing"),
    Broken(
        "name: first solo",
        "name: dark night",
        "- name: |dark night\n    group: pilot",
        "already used under combinations",
    ),
    Broken("name: first solo", "name: 1st solo", "name: |1st solo", "first a letter"),
]

MITIGATIONS = [
    Broken("off: [few_hours]", "off: [fuel_reserve]", "off: [|fuel_reserve]", "is a limit"),
    Broken("off: [few_hours]", "off: [first solo]", "off: [|first solo]", "small letters"),
    Broken("off: [few_hours]", "off: [few_hour]", "off: [|few_hour]", "did you mean few_hours?"),
    Broken("off: [few_hours]", "off: []", "off: |[]", "at least 1"),
    Broken("off: [few_hours]", "off: [few_hours, gusts]", "[few_hours, |gusts]", "group environment"),
    Broken("off: [few_hours]", "off: [few_hours, tired]", "[few_hours, |tired]", "it is no skill of the pilot"),
    Broken("off: [few_hours]", "off: [few_hours, few_hours]", "[few_hours, |few_hours]", "twice"),
    Broken("at_most: 4", "at_most: 7", "at_most: |7", "more than the 6 points"),
    Broken("at_most: 4", "at_most: 0", "at_most: |0", "from 1 to 1000"),
    Broken("needs: {instructor_aboard: true}", "needs: {instructor_aboard: false}", "aboard: |false", "surely true"),
    Broken("needs: {instructor_aboard: true}", "needs: {role: instructor}", "{|role: instructor", "guard word"),
    Broken(
        "worksheets:\n",
        "  - {name: second, off: [few_hours], at_most: 1, why: x, source: "
        "{text: x, kind: school, checked_on: 2026-02-11}}\nworksheets:\n",
        "second, off: [|few_hours]",
        "take its points off twice",
    ),
]

TESTS = [
    Broken(
        "given: {worksheet: calm_morning}",
        "given: {worksheet: calm_mornin}",
        "worksheet: |calm_mornin}",
        "did you mean calm_morning?",
    ),
    Broken("but: {gust_kt: 29}", "but: {gusts_kt: 29}", "{|gusts_kt: 29", "did you mean gust_kt?"),
    Broken("but: {gust_kt: 29}", "but: {gust_kt: 3}", "gust_kt: |3}", "below the wind"),
    Broken("but: {gust_kt: 29}", "but: {gust_kt: 999}", "gust_kt: |999}", "160"),
    Broken("level: fine,", "level: fin,", "level: |fin,", "did you mean fine?"),
    Broken("level: fine,", "level: watch,", "decision: |go, level: watch", "decides go_with_sign_off"),
    Broken("because: [gusts]", "because: [gust]", "[|gust]", "did you mean gusts?"),
    Broken(
        "because: [gusts]",
        "because: [current instructor aboard]",
        "[|current instructor aboard]",
        "is no factor, limit or combination",
    ),
    Broken("waived_by: []", "waved_by: []", "|waved_by", "did you mean waived_by?"),
    Broken(
        "name: A gusty one needs a signature",
        "name: A calm morning goes",
        "name: |A calm morning goes\n    given: {worksheet: calm_morning, but",
        "given twice",
    ),
    Broken("    decided_at: 2026-05-04T14:00Z\n", "", "|pilot: {certificate", "no 'decided_at'"),
    Broken("hours_in_type_h: 120", "hours_in_type: 120", "|120}", "hours_in_type_h"),
    Broken("hours_in_type_h: 120", "hours_in_type_h: many", "|many}", "number"),
    Broken("    weather: {observed", "    wether: {observed", "|wether", "did you mean weather?"),
    Broken(
        "observed_at: 2026-05-04T13:50Z", "observed_at: 2026-05-04T14:50Z", "observed_at: |2026-05-04T14:50Z", "future"
    ),
]

EXTENSIONS = [
    Broken("version: 4}", "version: 5}", "|{id: small-school, version: 5}", "there is no policy", EXTENSION),
    Broken("version: 4}", "version: x}", "version: |x}", "whole number", EXTENSION),
    Broken("review_by: 2027-02-01", "review_by: 2027-04-01", "review_by: |2027-04-01", "up to 2027-03-01", EXTENSION),
    Broken(
        "effective_from: 2026-11-01T00:00Z",
        "effective_from: 2026-02-01T00:00Z",
        "|2026-02-01T00:00Z",
        "from 2026-03-01T00:00Z",
        EXTENSION,
    ),
    Broken("weather_age_max_min: 45", "weather_age_max_min: 61", "|61", "1 to 60", EXTENSION),
    Broken("  margin_min: 20", "  margin_min: 41", "margin_min: |41", "at most 40", EXTENSION),
    Broken("  margin_min: 20", "  steps: []", "steps: |[]", "at least 1", EXTENSION),
    Broken("name: watch, up_to: 12,", "name: watch, up_to: 15,", "up_to: |15", "at most 14", EXTENSION),
    Broken("name: watch, up_to: 12,", "name: wacht, up_to: 12,", "|wacht", "did you mean watch?", EXTENSION),
    Broken(
        "accepted_by: [chief_instructor], valid_min: 50",
        "accepted_by: [instructor], valid_min: 50",
        "|[instructor]",
        "dispatcher, chief_instructor",
        EXTENSION,
    ),
    Broken("valid_min: 50", "valid_min: 61", "valid_min: |61", "at most 60", EXTENSION),
    Broken(
        "valid_min: 50", "decision: no_go, valid_min: 50", "decision: |no_go", "allowed: go_with_sign_off", EXTENSION
    ),
    Broken(
        "pilot: {up_to: 7, else: stop}", "pilot: {up_to: 9, else: stop}", "pilot: {up_to: |9", "at most 8", EXTENSION
    ),
    Broken(
        "pilot: {up_to: 7, else: stop}", "pilot: {up_to: 7, else: watch}", "else: |watch", "high or worse", EXTENSION
    ),
    Broken(
        "{up_to: 6, points: 0}",
        "{up_to: 8, points: 0}",
        "up_to: 8, points: |0",
        "0 points at 8 kt, where the policy that is tightened gives 2",
        EXTENSION,
    ),
    Broken(
        "{points: 10, floor: high}",
        "{points: 8, floor: high}",
        "points: |8,",
        "gives 9",
        EXTENSION,
    ),
    Broken("{points: 10, floor: high}", "{points: 10}", "|{points: 10}", "floor none at 15 kt", EXTENSION),
    Broken(
        "    group: environment\n    measure: gust_kt_spread",
        "    group: aircraft\n    measure: gust_kt_spread",
        "group: |aircraft",
        "allowed: environment",
        EXTENSION,
    ),
    Broken("    measure: gust_kt_spread\n", "    measure: defects\n", "|defects", "allowed: gust_kt_spread", EXTENSION),
    Broken(
        "    why: Gusts eat more",
        "    if_unknown: sign_off\n    why: Gusts eat more",
        "if_unknown: |sign_off\n    why: Gusts",
        "allowed: no_go",
        EXTENSION,
    ),
    Broken(
        "    why: Gusts eat more",
        "    when: {solo: true}\n    why: Gusts eat more",
        "|{solo: true}",
        "allowed: nothing",
        EXTENSION,
    ),
    Broken("at_least: 10\n", "at_least: -10\n", "at_least: |-10", "0.0 min or tighter", EXTENSION),
    Broken("waiver: none", "waiver: [chief_instructor]", "waiver: |[", "allowed: none", EXTENSION),
    Broken("points: 7\n", "points: 5\n", "points: |5\n", "gives 6", EXTENSION),
    Broken("{measure: moon_pct, beyond: 40}, ", "", "all_of: |[", "moon_pct, night_gap_d", EXTENSION),
    Broken("beyond: 40}", "beyond: 10}", "beyond: |10}", "20 % or closer", EXTENSION),
    Broken("night_gap_d, beyond: 20}", "night_gap_d, beyond: 31}", "beyond: |31}", "30 d or closer", EXTENSION),
    Broken("at_most: 2\n", "at_most: 5\n", "at_most: |5", "1 to 4", EXTENSION),
    Broken("off: [few_hours]", "off: [few_hours, long_gap]", "off: |[few_hours, long", "allowed: few_hours", EXTENSION),
    Broken(
        "instructor_aboard: true, instruction: true",
        "instruction: true",
        "|{instruction: true}",
        "needs less",
        EXTENSION,
    ),
    Broken(
        "name: current instructor aboard", "name: another thing", "|another thing", "an extension adds none", EXTENSION
    ),
    Broken(
        "tests:\n",
        "without_mitigations: [current instructor abord]\ntests:\n",
        "[|current instructor abord",
        "did you mean current instructor aboard?",
        EXTENSION,
    ),
    Broken(
        "tests:\n",
        "worksheets:\n  calm_morning: {decided_at: 2026-05-04T14:00Z}\ntests:\n",
        "|calm_morning: {",
        "another name",
        EXTENSION,
    ),
    Broken(
        "name: A calm morning goes",
        "name: A gusty one needs a signature",
        "given: |{worksheet: calm_morning}",
        "keeps its `given`",
        EXTENSION,
    ),
    Broken("expect: {decision: go_with_sign_off}", "expect: {decision: no}", "|no}", "allowed", EXTENSION),
    Broken(
        "extends: {id: small-school, version: 4}\n",
        "",
        "|schema:",
        "no 'levels'",
        EXTENSION.replace(
            "levels:\n  - {name: watch, up_to: 12, accepted_by: [chief_instructor], valid_min: 50}\n", ""
        ),
    ),
]

ALL = (
    HEAD
    + OVERDUE
    + ALTERNATIVES
    + LEVELS
    + CEILINGS
    + FACTORS
    + CASES
    + LIMITS
    + COMBINATIONS
    + MITIGATIONS
    + TESTS
    + EXTENSIONS
)


@pytest.mark.parametrize("broken", ALL, ids=[f"{i}-{b.new[:40]!r}" for i, b in enumerate(ALL)])
def test_refused_at_its_place_with_what_is_allowed(broken: Broken) -> None:
    text = broken.changed()
    problems = problems_of(text)
    wanted = place_of(text, broken.at)
    here = [problem for problem in problems if (problem.line, problem.column) == wanted]
    assert any(broken.fragment in problem.message for problem in here), "\n".join(
        [f"wanted {wanted}: {broken.fragment}", *map(str, problems)]
    )


def test_there_are_many_broken_policies() -> None:
    assert len(ALL) >= 100


def test_the_good_ones_are_good() -> None:
    assert good().id == "small-school"
    assert read(EXTENSION).id == "small-school-winter"


def test_all_problems_come_at_once() -> None:
    text = (
        GOOD.replace("version: 4", "version: 0")
        .replace("beyond: 20}", "beyond: x}")
        .replace("at_most: 4", "at_most: 7")
    )
    assert [problem.found for problem in problems_of(text)] == ["'0'", "'x'", "7"]


def test_a_broken_clause_brings_no_false_followers() -> None:
    """The mitigation names a factor that could not be read, and the totals lack it: neither is reported."""
    text = GOOD.replace("measure: type_h", "measure: typ_h")
    assert [problem.found for problem in problems_of(text)] == ["typ_h"]


def test_broken_levels_bring_no_false_followers() -> None:
    text = GOOD.replace("{name: fine, up_to: 8", "{nam: fine, up_to: 8")
    assert {(problem.line, problem.found) for problem in problems_of(text)} == {(14, "nam"), (14, "")}


def test_a_problem_of_an_inherited_clause_is_shown_at_extends() -> None:
    factor = """\
factors:
  open_defects:
    group: aircraft
    measure: defects
    bands: [{up_to: 1, points: 0}, {points: 1}]
    why: x
    source: {text: x, kind: school, checked_on: 2026-10-01}
    cases: [[1, 0], [2, 1], [unknown, no_go]]
"""
    text = EXTENSION.replace("factors:\n", factor, 1)
    (problem,) = problems_of(text)
    assert "already used under factors" in problem.message
    assert problem.line == text[: text.index("extends")].count("\n") + 1


def _many(section: str, count: int) -> str:
    clause = (
        "  extra_{i}:\n    measure: defects\n    up_to: 0\n    waiver: none\n    why: x\n"
        "    source: {{text: x, kind: school, checked_on: 2026-02-11}}\n"
        "    cases: [[0, pass], [1, stop], [unknown, stop]]\n"
    )
    return GOOD.replace(f"{section}:\n", f"{section}:\n" + "".join(clause.format(i=i) for i in range(count)), 1)


def test_at_most_150_limits() -> None:
    assert len(read(_many("limits", 148)).limits) == 150
    (problem,) = problems_of(_many("limits", 149))
    assert "151 limits; at most 150" in problem.message


def test_at_most_300_clauses() -> None:
    combination = (
        "  - {{name: extra {i}, group: pilot, when: {{solo: true}}, points: 1, why: x, "
        "source: {{text: x, kind: school, checked_on: 2026-02-11}}}}\n"
    )

    def text(count: int) -> str:
        return GOOD.replace(
            "combinations:\n", "combinations:\n" + "".join(combination.format(i=i) for i in range(count))
        )

    assert len(read(text(291)).combinations) == 293
    (problem,) = problems_of(text(292))
    assert "301 clauses; at most 300" in problem.message
