"""Small edits of a good type: each is refused at the right place, with what would be right."""

from dataclasses import dataclass

import pytest

from riskboard.aircraft_types import TypeFileError, load_type
from riskboard.yaml_source import Problem
from tests.aircraft_types.samples import BY_MOMENT, GOOD, OTHER, good, other


@dataclass(frozen=True)
class Broken:
    """``old`` becomes ``new``; the problem is expected at the bar in ``at`` in the changed text."""

    old: str
    new: str
    at: str
    fragment: str
    text: str = GOOD

    def changed(self) -> str:
        assert self.text.count(self.old) == 1, f"{self.old!r} is there {self.text.count(self.old)} times"
        return self.text.replace(self.old, self.new)


def place_of(text: str, at: str) -> tuple[int, int]:
    """Line and column of the bar in a piece of the text."""
    before, _, after = at.partition("|")
    piece = before + after
    assert text.count(piece) == 1, f"{piece!r} is there {text.count(piece)} times"
    position = text.index(piece) + len(before)
    return text.count("\n", 0, position) + 1, position - text.rfind("\n", 0, position)


def problems_of(text: str) -> tuple[Problem, ...]:
    with pytest.raises(TypeFileError) as refusal:
        load_type(text, name="broken.yaml")
    return refusal.value.problems


HEAD = [
    Broken(
        "schema: riskboard-aircraft-type/1", "schema: riskboard-policy/1", "schema: |risk", "riskboard-aircraft-type/1"
    ),
    Broken("id: wren-3", "id: Wren 3", "id: |Wren", "small letters"),
    Broken("version: 2\n", "version: 2.5\n", "version: |2.5", "whole number from 1"),
    Broken("version: 2\n", "", "|schema:", "no 'version'"),
    Broken("invented: true", "invented: yes", "|yes", "true or false"),
    Broken("kind: invented,", "kind: hearsay,", "|hearsay", "flight manual"),
    Broken("checked_on: 2026-10-01", "checked_on: lately", "|lately", "a date such as"),
    Broken("rotor_direction: clockwise", "rotor_direction: clokwise", "|clokwise", "did you mean clockwise?"),
    Broken("induction: carburetted", "induction: carburated", "|carburated", "did you mean carburetted?"),
    Broken("rotor_direction: clockwise\n", "", "|schema:", "no 'rotor_direction'"),
    Broken("airframe:", "airfame:", "|airfame", "did you mean airframe?"),
]

UNITS = [
    Broken("gross_max_lb: 1400", "gross_max: 1400", "|gross_max:", "the unit is missing: write gross_max_lb"),
    Broken("gross_max_lb: 1400", "gross_max_kg: 635", "|gross_max_kg", "the unit is lb, not kg: write gross_max_lb"),
    Broken("gross_max_lb: 1400", "gross_max_lb: 1400 lb", "gross_max_lb: |1400 lb", "the unit stands in the key"),
    Broken("temperature_max_c: 38", "temperature_max_f: 100", "|temperature_max_f", "the unit is c, not f"),
    Broken("held_max_min: 5", "held_max_s: 300", "|held_max_s", "the unit is min, not s"),
    Broken("usable_gal: 17.5", "usable_l: 66", "|usable_l", "the unit is gal, not l"),
    Broken("lb_per_gal: 6", "density: 6", "|density", "no key of the fuel"),
    Broken("lb_per_gal: 6", "lb_per_gal: 0.72", "lb_per_gal: |0.72", "a number from 3 to 10"),
    Broken("  burn_gal_per_h: {", "  burn: {", "  |burn: {", "the unit is missing: write burn_gal_per_h"),
    Broken("oil_pressure_within_s: 30", "oil_pressure_within: 30", "|oil_pressure_within:", "the unit is missing"),
]

LIMITS = [
    Broken("gross_min_lb: 900", "gross_min_lb: 1500", "gross_min_lb: |1500", "contradict each other"),
    Broken("temperature_min_c: -15\n", "temperature_min_c: 40\n", "temperature_min_c: |40", "contradict each other"),
    Broken("crosswind_max_kt: 17", "crosswind_max_kt: 31", "crosswind_max_kt: |31", "never be reached"),
    Broken("wind_max_kt: 30\n", "wind_max_kt: 0\n", "  wind_max_kt: |0", "a number above 0"),
    Broken("wind_max_kt: 30\n", "wind_max_kt: true\n", "  wind_max_kt: |true", "plain decimal"),
    Broken("pressure_altitude_max_ft: 10000", "pressure_altitude_max_ft: .inf", "|.inf", "plain decimal"),
    Broken("longitudinal_arms_in: [10, 300]", "longitudinal_arms_in: [300, 10]", "[300, |10]", "not above 300"),
    Broken("longitudinal_arms_in: [10, 300]", "longitudinal_arms_in: 300", "arms_in: |300", "a pair"),
]

LOADING = [
    Broken(
        "kind: seat, longitudinal_arm_in: 70, lateral_arm_in: 10,",
        "kind: seat, longitudinal_arm_in: 700, lateral_arm_in: 10,",
        "|700,",
        "outside the airframe",
    ),
    Broken("lateral_arm_in: 10, max", "lateral_arm_in: 100, max", "|100, max", "outside the airframe"),
    Broken("longitudinal_arm_in: 105,", "longitudinal_arm_in: 305,", "|305,", "outside the airframe"),
    Broken(
        "longitudinal_arm_in: 60\n", "longitudinal_arm_in: 6\n", "longitudinal_arm_in: |6\n", "outside the airframe"
    ),
    Broken("min_lb: 120}", "min_lb: 240}", "min_lb: |240}", "contradict each other"),
    Broken("kind: baggage,", "kind: bagage,", "|bagage", "did you mean baggage?"),
    Broken("pilot_station: right_seat", "pilot_station: baggage", "pilot_station: |baggage", "is no seat"),
    Broken(
        "pilot_station: right_seat",
        "pilot_station: front",
        "pilot_station: |front",
        "the seats are right_seat, left_seat",
    ),
    Broken("[left_seat, baggage]", "[left_seat, bagage]", "[left_seat, |bagage]", "is no station"),
    Broken("[left_seat, baggage]", "[left_seat, left_seat]", "[left_seat, |left_seat]", "listed twice"),
    Broken("baggage], max_lb: 260}", "baggage], max_lb: 280}", "baggage], max_lb: |280}", "limits nothing"),
    Broken("baggage], max_lb: 260}", "baggage], max_lb: 220}", "baggage], max_lb: |220}", "contradict each other"),
    Broken(
        "    spare: {label: Spare",
        "    baggage: {label: Spare",
        "    |baggage: {label: Spare",
        "already that of a station",
    ),
    Broken("  weight_lb: 800\n", "  weight_lb: 1400\n", "  weight_lb: |1400", "leaves nothing to carry"),
    Broken("longitudinal_moment_in_lb: 80800", "longitudinal_moment_in_lb: 808", "|808\n", "outside the airframe"),
    Broken("plausible_within_lb: 60", "plausible_within_lb: 900", "within_lb: |900", "every weighing"),
    Broken("kind: door, weight_lb: 6,", "kind: door, weight_lb: 860,", "weight_lb: |860", "cannot include"),
    Broken("in_empty_weight: true}", "in_empty_weight: 1}", "in_empty_weight: |1}", "true or false"),
]

FIRST = "[[88, 900], [88, 1250], [89.5, 1400], [96, 1400], [98, 900]]"
ENVELOPES = [
    Broken(
        FIRST,
        "[[88, 900], [96, 1400], [89.5, 1400], [88, 1250], [98, 900]]",
        "[89.5, 1400], |[88, 1250], [98, 900]]",
        "crosses or touches",
    ),
    Broken(
        FIRST,
        "[[88, 900], [89.5, 1400], [96, 1400], [92, 900], [98, 1000], [98, 1300], [90, 900]]",
        "[98, 1000], |[98, 1300], [90",
        "crosses or touches",
    ),
    Broken(
        FIRST, "[[88, 900], [88, 1400], [96, 1400], [96, 900], [88, 900]]", "[96, 900], |[88, 900]]", "closes by itself"
    ),
    Broken(FIRST, "[[88, 900], [88, 1250], [88, 1250], [96, 1400]]", "[88, 1250], |[88, 1250]", "repeats corner 2"),
    Broken(FIRST, "[[88, 900], [88, 1400], [88, 1000], [96, 1400]]", "|[88, 1400], [88, 1000]", "crosses or touches"),
    Broken(FIRST, "[[88, 900], [96, 1400]]", "|[88, 900], [96", "an outline has 3 to 60"),
    Broken(FIRST, "[[88, 900], [88, 1250, 3], [96, 1400]]", "|[88, 1250, 3]", "a corner [centre of gravity"),
    Broken(
        FIRST,
        "[[88, 900], [88, 1250], [89.5, 1500], [96, 1400], [98, 900]]",
        "[89.5, |1500]",
        "outside gross_min_lb and gross_max_lb",
    ),
    Broken(FIRST, "[[8, 900], [88, 1250], [89.5, 1400], [96, 1400], [98, 900]]", "[[|8, 900]", "outside the airframe"),
    Broken(
        "[[-3, 900], [-3, 1400], [3, 1400], [3.5, 900]]",
        "[[-3, 900], [3, 1400], [-3, 1400], [3.5, 900]]",
        "|[-3, 1400], [3.5, 900]]",
        "crosses or touches",
    ),
    Broken(
        "[[-3, 900], [-3, 1400], [3, 1400], [3.5, 900]]",
        "[[-3, 900], [-3, 1400], [3, null], [3.5, 900]]",
        "[3, |null]",
        "nothing stands where",
    ),
    Broken("  - doors: removed\n", "  - doors: fitted\n", "1400], [3.5, 900]]\n  - doors: |fitted", "already covered"),
    Broken("  - doors: removed\n", "  - doors: either\n", "  - doors: |either", "already covered"),
    Broken("  - doors: fitted\n", "  - doors: off\n", "  - doors: |off", "allowed: fitted, removed, either"),
    Broken("doors: either", "doors: removed", "|- doors: removed", "no envelope for doors 'fitted'", OTHER),
    Broken("kind: door,", "kind: other,", "|- doors: fitted", "no optional equipment is a door"),
    Broken(
        "lateral_corners_arm_in_arm_in: [[88, -3]",
        "lateral_corners_arm_in_weight_lb: [[88, -3]",
        "lateral_corners_arm_in_weight_lb: [[88, |-3]",
        "above 0",
        OTHER,
    ),
    Broken(
        "[[-3, 900], [-3, 1400], [3, 1400], [3.5, 900]]",
        "[[-3, 900], [-3, 1400], [3, 1400]]\n    lateral_corners_arm_in_arm_in: [[88, -3], [88, 3], [94, 3]]",
        "- |doors: fitted",
        "exactly one of",
    ),
    Broken(
        "gross_max_lb: 1400", "gross_max_lb: 1450", "envelopes:\n  |- doors: fitted", "no envelope reaches gross_max_lb"
    ),
    Broken("gross_min_lb: 900", "gross_min_lb: 850", "envelopes:\n  |- doors: fitted", "no envelope reaches down"),
]

MOMENTS = [
    Broken("[94, 3500]", "[94, 350000]", "[94, |350000]", "350000 in-lb is outside what the airframe's", BY_MOMENT),
    Broken("[94, 3500]", "[394, 3500]", "[|394, 3500]", "394 in is outside the airframe", BY_MOMENT),
    Broken("[88, 3000], [94, 3500]", "[94, 3500], [88, 3000]", "[94, 3500], |[88, 3000]", "crosses or", BY_MOMENT),
]

TABLES = [
    Broken(
        "hover_in_ground_effect:\n    gross_weights_lb: [900, 1150, 1400]",
        "hover_in_ground_effect:\n    gross_weights_lb: [900, 1400, 1150]",
        "[900, 1400, |1150]",
        "must rise",
    ),
    Broken(
        "pressure_altitudes_ft: [0, 4000, 8000]",
        "pressure_altitudes_ft: [0, 4000, 4000]",
        "[0, 4000, |4000]",
        "must rise",
    ),
    Broken(
        "      - [9000, 8000, 6000]\n      - [8000, 6500, 4000]\n",
        "      - [9000, 8000, 6000]\n",
        "ceilings_pressure_altitude_ft:\n      |- [10000",
        "2 rows for the 3 places",
    ),
    Broken("[10000, 9000, 7000]", "[10000, 9000]", "|[10000, 9000]", "2 cells for the 3 places"),
    Broken("[10000, 9000, 7000]", "[10000, null, 7000]", "[10000, |null, 7000]", "a hole"),
    Broken(
        "      - [9000, 8000, 6000]\n      - [8000, 6500, 4000]",
        "      - [9000, 8000, null]\n      - [8000, 6500, 4000]",
        "[9000, 8000, |null]",
        "a hole",
    ),
    Broken("[10000, 9000, 7000]", "[null, 9000, 7000]", "[null, |9000, 7000]", "blanks belong to the heavy, hot end"),
    Broken("[10000, 9000, 7000]", "[10000, 9000, 9500]", "[10000, 9000, |9500]", "above the 9000 ft of the cooler"),
    Broken("[8000, 6500, 4000]", "[8000, 6500, 6200]", "[8000, 6500, |6200]", "above the 6000 ft of the lighter"),
    Broken("[8000, 6600, 4500]", "[9500, 6600, 4500]", "[|9500, 6600", "above the 9000 ft"),
    Broken(
        "      - [9000, 8000, 6000]\n      - [8000, 6600, 4500]",
        "      - [10500, 8000, 6000]\n      - [8000, 6600, 4500]",
        "[|10500,",
        "above the 10000 ft in ground effect",
    ),
    Broken("[10000, 9000, 7000]", "[10000, 9000, high]", "9000, |high]", "plain decimal"),
    Broken(
        "limits_inhg:\n        - [23.0, 24.0]\n        - [22.0, 23.0]\n        - [21.0, null]",
        "limits_pct:\n        - [90, 90]\n        - [80, 80]\n        - [70, null]",
        "limits_pct:\n        |- [90",
        "write limits_inhg",
    ),
    Broken("[24.5, 25.5]", "[22.5, 25.5]", "[|22.5, 25.5]", "below the continuous limit 23"),
    Broken(
        "      limits_inhg:\n        - [24.5",
        "      limits_ingh:\n        - [24.5",
        "|limits_ingh",
        "did you mean limits_inhg?",
    ),
    Broken("    take_off:\n", "    takeoff:\n", "|takeoff", "did you mean take_off?"),
    Broken("[24.5, 25.5]", "24.5", "limits_inhg:\n        |- 24.5", "a list of rows"),
    Broken(
        "- [24.5, 25.5]\n        - [23.5, 24.5]",
        "- [null, null]\n        - [null, null]",
        "|- [null, null]\n        - [null, null]",
        "every cell is blank",
    ),
]

FUEL = [
    Broken("capacity_gal: 18,", "capacity_gal: 17,", "usable_gal: |17.5", "above capacity_gal 17"),
    Broken("start_and_taxi_gal: 1\n", "start_and_taxi_gal: 30\n", "start_and_taxi_gal: |30", "nothing is left"),
    Broken("cruise: 9,", "cruse: 9,", "|cruse", "did you mean cruise?"),
    Broken("cruise: 9, ", "", "burn_gal_per_h: |{ground", "no burn for cruise"),
    Broken("cruise: 9,", "cruise: 0,", "cruise: |0,", "a number above 0"),
    Broken("feed: in_order", "feed: in order", "|in order", "did you mean in_order?"),
]

RUN_UP = [
    Broken("magneto_difference_max_pct: 3", "magneto_difference_max_pct: 8", "|8\n  magneto_hold", "cannot be seen"),
    Broken("  magneto_drop_max_pct: 7\n", "", "run_up:\n  |stated_in", "no 'magneto_drop_max_pct'"),
    Broken("  carburettor_heat_rise_min_c: 12\n", "", "run_up:\n  |stated_in", "belongs to a carburettor"),
    Broken("induction: carburetted", "induction: injected", "carburettor_heat_rise_min_c: |12", "leave it out"),
    Broken(
        "low_rotor_warning_rpm_pct: [95, 97]", "low_rotor_warning_rpm_pct: [95, 101]", "pct: |[95, 101]", "would sound"
    ),
    Broken("magneto_check_rpm_pct: [74, 76]", "magneto_check_rpm_pct: [74, 104]", "|[74, 104]", "faster than"),
    Broken("magneto_hold_s: [1, 5]", "magneto_hold_s: [5, 1]", "[5, |1]", "not above 5"),
    Broken("  before_mixture_off_s: 30\n", "", "shut_down:\n  |idle", "mixture control"),
    Broken("hydraulics: false", "hydraulics: none", "hydraulics: |none", "true or false"),
    Broken("  hydraulics: false\n", "", "run_up:\n  |stated_in", "no 'hydraulics'"),
]

UPKEEP = [
    Broken(
        "{name: Annual inspection, every_months: 12}",
        "{name: Annual inspection}",
        "|{name: Annual",
        "neither every_h nor",
    ),
    Broken("name: 100-hour inspection", "name: Annual inspection", "name: |Annual inspection, every_h", "listed twice"),
    Broken("every_months: 12}", "every_months: 12.5}", "|12.5", "whole number"),
    Broken("every_months: 12}", "every_years: 1}", "|every_years", "no key of an interval"),
]

ALL = HEAD + UNITS + LIMITS + LOADING + ENVELOPES + MOMENTS + TABLES + FUEL + RUN_UP + UPKEEP


@pytest.mark.parametrize("broken", ALL, ids=[f"{i}-{b.fragment[:30]}" for i, b in enumerate(ALL)])
def test_refused_at_its_place_with_what_is_right(broken: Broken) -> None:
    text = broken.changed()
    problems = problems_of(text)
    wanted = place_of(text, broken.at)
    here = [problem for problem in problems if (problem.line, problem.column) == wanted]
    assert any(broken.fragment in problem.message for problem in here), "\n".join(
        [f"wanted {wanted}: {broken.fragment}", *map(str, problems)]
    )


def test_there_are_many_broken_types() -> None:
    assert len(ALL) >= 80


def test_the_good_ones_are_good() -> None:
    assert good().id == "wren-3"
    assert other().id == "wren-5"


def test_all_problems_come_at_once_in_order() -> None:
    text = (
        GOOD.replace("version: 2", "version: 0")
        .replace("wind_max_kt: 30\n", "wind_max_kt: x\n")
        .replace("hydraulics: false", "hydraulics: 1")
    )
    assert [problem.found for problem in problems_of(text)] == ["'0'", "'x'", "'1'"]


@pytest.mark.parametrize("slip", [("gross_max_lb", "gros_max_lb"), ("longitudinal_arms_in", "longitudinal_arm_in")])
def test_one_slip_brings_no_false_followers(slip: tuple[str, str]) -> None:
    """The key that is not known and the key that is then missing; nothing about what builds on it."""
    assert len(problems_of(GOOD.replace(f"  {slip[0]}: ", f"  {slip[1]}: "))) == 2


@pytest.mark.parametrize(
    "text",
    [
        "",
        "null\n",
        "- 1\n",
        "type\n",
        GOOD + "---\nid: x\n",
        GOOD.replace("[88, 900]", "&a [88, 900]", 1),
        GOOD.replace("id: wren-3", "id: wren-3\nid: b"),
    ],
)
def test_what_is_no_type_file_is_refused_with_a_place(text: str) -> None:
    assert all(problem.line >= 1 and problem.column >= 1 for problem in problems_of(text))


@pytest.mark.parametrize("junk", ["null", "7", "[]", "{a: {b: 1}}", "[[1, 2]]", "-1", "text"])
def test_junk_in_any_place_is_refused_never_a_crash(junk: str) -> None:
    """Every value of the good type is replaced in turn; the loader answers, whatever it says."""
    lines = GOOD.splitlines()
    for number, line in enumerate(lines):
        key, colon, _ = line.partition(":")
        if colon and not line.lstrip().startswith("-"):
            indent = len(key) - len(key.lstrip())
            rest = number + 1
            while rest < len(lines) and len(lines[rest]) - len(lines[rest].lstrip()) > indent:
                rest += 1
            changed = [*lines[:number], f"{key}: {junk}", *lines[rest:]]
            try:
                load_type("\n".join(changed), name="junk.yaml")
            except TypeFileError as refusal:
                assert refusal.problems  # noqa: PT017 - either answer is fine
