"""What changed between two policies, exactly and in sentences."""

import pytest

from riskboard.policy.compare import Change, differences
from tests.policy.measures import REGISTRY
from tests.policy.samples import EXTENSION, GOOD, good, read


def changes(old: str, new: str) -> tuple[Change, ...]:
    assert GOOD.count(old) >= 1
    return differences(good(), read(GOOD.replace(old, new, 1)), REGISTRY)


def test_equal_policies_have_no_difference() -> None:
    assert differences(good(), read(good().text), REGISTRY) == ()


@pytest.mark.parametrize(
    ("old", "new", "section", "name", "field", "effect", "sentence"),
    [
        ("version: 4\n", "version: 5\n", "policy", "", "version", "none", "version changes from 4 to 5."),
        (
            "max_min: 60",
            "max_min: 75",
            "policy",
            "",
            "weather_age_max_min",
            "looser",
            "weather_age_max_min changes from 60 to 75.",
        ),
        (
            "margin_min: 40",
            "margin_min: 30",
            "policy",
            "",
            "overdue.margin_min",
            "stricter",
            "A flight is overdue 30 min after its planned landing, before it was 40 min.",
        ),
        (
            "    - Call the fields along its route.\n",
            "",
            "policy",
            "",
            "overdue.steps",
            "looser",
            (
                "The steps for an overdue flight change from (1) Call it: radio, then telephone. "
                "(2) Call the fields along its route. to (1) Call it: radio, then telephone."
            ),
        ),
        ("- Call the fields along", "- Call the pads along", "policy", "", "overdue.steps", "either", None),
        ("- Call the fields", "- Wait.\n    - Call the fields", "policy", "", "overdue.steps", "stricter", None),
        ("below_pct: 85", "below_pct: 80", "policy", "", "fragile_below_pct", "none", None),
        ("size: 2.5", "size: 3", "errors", "wind_kt", "size", "none", "Error of wind_kt: size changes from 2.5 to 3."),
        ("cost: 5", "cost: 4", "ways_out", "other_aircraft", "cost", "none", None),
        ("A new preflight.", "A new walk.", "ways_out", "other_aircraft", "why", "none", None),
        ("on duty\n", "of the day\n", "policy", "", "when_no.call", "none", None),
        (
            "{name: fine, up_to: 8",
            "{name: fine, up_to: 9",
            "levels",
            "fine",
            "up_to",
            "looser",
            "Level fine: up_to changes from 8 to 9.",
        ),
        (
            "valid_min: 45",
            "valid_min: 30",
            "levels",
            "high",
            "valid_min",
            "stricter",
            "Level high: valid_min changes from 45 min to 30 min.",
        ),
        (
            "[dispatcher, chief_instructor]",
            "[instructor, chief_instructor]",
            "levels",
            "watch",
            "accepted_by",
            "either",
            "Level watch: accepted_by changes from dispatcher, chief_instructor to instructor, chief_instructor.",
        ),
        (
            "pilot: {up_to: 8",
            "pilot: {up_to: 7",
            "group_ceilings",
            "pilot",
            "up_to",
            "stricter",
            "Ceiling of group pilot: up_to changes from 8 to 7.",
        ),
        ("{up_to: 11, points: 2}", "{up_to: 11, points: 3}", "factors", "gusts", "band 2", "stricter", None),
        (
            "when: {solo: true}",
            "when: {student_solo: true}",
            "factors",
            "tired",
            "when",
            "either",
            "Factor tired: when changes from solo: true to student_solo: true.",
        ),
        ("why: Gusts eat tail-rotor and", "why: Gusts eat yaw and", "factors", "gusts", "why", "none", None),
        (
            "waiver: [chief_instructor]",
            "waiver: [chief_instructor, dispatcher]",
            "limits",
            "open_defects",
            "waiver",
            "looser",
            "Limit open_defects: waiver changes from chief_instructor to dispatcher, chief_instructor.",
        ),
        (
            "moon_pct, beyond: 20",
            "moon_pct, beyond: 25",
            "combinations",
            "dark night",
            "all_of",
            "stricter",
            (
                "Combination dark night: all_of changes from moon_pct below 20 %, "
                "night_gap_d above 30 d to moon_pct below 25 %, night_gap_d above 30 d."
            ),
        ),
        (
            "at_most: 4",
            "at_most: 5",
            "mitigations",
            "current instructor aboard",
            "at_most",
            "looser",
            "Mitigation current instructor aboard: at_most changes from 4 points to 5 points.",
        ),
        (
            "wind_kt: 4,",
            "wind_kt: 5,",
            "worksheets",
            "calm_morning",
            "weather.wind_kt",
            "none",
            "Worksheet calm_morning: weather.wind_kt changes from 4 to 5.",
        ),
        (
            "{gust_kt: 29}",
            "{gust_kt: 28}",
            "tests",
            "A gusty one needs a signature",
            "but",
            "none",
            "Test A gusty one needs a signature: but changes from gust_kt: 29 to gust_kt: 28.",
        ),
    ],
)
def test_one_change_is_one_sentence(
    old: str, new: str, section: str, name: str, field: str, effect: str, sentence: str | None
) -> None:
    if new == "{up_to: 11, points: 3}":
        new_text = GOOD.replace(old, new, 1).replace("[8, 2], [11, 2]", "[8, 3], [11, 3]")
        found = differences(good(), read(new_text), REGISTRY)
        assert [change.field for change in found] == ["band 2", "cases"]
        assert found[0].sentence == "Factor gusts: band 2 changes from up to 11 kt: 2 points to up to 11 kt: 3 points."
        found = found[:1]
    else:
        found = changes(old, new)
    (change,) = found
    assert (change.section, change.name, change.what, change.field) == (section, name, "changed", field)
    assert change.effect == effect
    assert sentence is None or change.sentence == sentence


def test_a_widened_band_is_looser() -> None:
    text = GOOD.replace("{up_to: 11, points: 2}", "{up_to: 12, points: 2}").replace("[12, 5], [14", "[13, 5], [14")
    band, cases = differences(good(), read(text), REGISTRY)
    assert band.sentence == "Factor gusts: band 2 changes from up to 11 kt: 2 points to up to 12 kt: 2 points."
    assert (band.effect, cases.effect) == ("looser", "none")


def test_added_and_removed_clauses() -> None:
    start = GOOD.index("  open_defects:")
    without = GOOD[:start] + GOOD[GOOD.index("combinations:") :]
    (removed,) = differences(good(), read(without), REGISTRY)
    assert (removed.what, removed.section, removed.name, removed.effect) == (
        "removed",
        "limits",
        "open_defects",
        "looser",
    )
    assert removed.sentence.startswith("Limit open_defects is removed (measure: defects; bound: up to 0; waiver: chief")
    (added,) = differences(read(without), good(), REGISTRY)
    assert (added.what, added.effect, added.before) == ("added", "stricter", "")
    assert removed.before == added.after


def test_a_removed_mitigation_is_stricter() -> None:
    without = GOOD[: GOOD.index("mitigations:")] + GOOD[GOOD.index("worksheets:") :]
    (removed,) = differences(good(), read(without), REGISTRY)
    assert removed.effect == "stricter"


def test_order_is_a_difference_without_effect() -> None:
    start, end = GOOD.index("  few_hours:"), GOOD.index("  tired:")
    moved = GOOD[:start] + GOOD[end : GOOD.index("limits:")] + GOOD[start:end] + GOOD[GOOD.index("limits:") :]
    (change,) = differences(good(), read(moved), REGISTRY)
    assert change.sentence == "The order of the factors changes to gusts, tired, arm, few_hours."
    assert change.effect == "none"


def test_an_extension_is_never_looser() -> None:
    found = differences(good(), read(EXTENSION), REGISTRY)
    assert {change.effect for change in found} == {"stricter", "none"}
    assert {change.section for change in found} >= {
        "policy",
        "levels",
        "factors",
        "limits",
        "combinations",
        "mitigations",
    }


def test_no_difference_exactly_when_the_canonical_texts_are_equal() -> None:
    """Every line of the good policy's canonical text matters to the comparison."""
    policy = good()
    edits = [
        ('title: "Small school, visual flights"', "title: Other"),
        ("checked_on: 2026-02-11", "checked_on: 2026-02-12"),
        ("kind: school", 'kind: "common practice"'),
        ('text: "school rule"', "text: rule"),
        ('non_monotone: "The middle', 'non_monotone: "A middle'),
        ("if_unknown: sign_off", "if_unknown: no_go"),
        ("expect: {decision: go, level: fine, accepted_by: [pilot]}", "expect: {decision: go, level: fine}"),
        ("because: [gusts], ", ""),
        (", waived_by: []", ""),
        ("needs: {instructor_aboard: true}", "needs: {instructor_aboard: true, instruction: true}"),
        ("else: high", "else: stop"),
        ("certificate: private, ", ""),
        ("gust_kt: none", "gust_kt: 6"),
        ("2026-05-04T13:50Z", "2026-05-04T13:51Z"),
        ("floor: watch, ", ""),
    ]
    for old, new in edits:
        if old not in policy.text:
            continue
        text = policy.text.replace(old, new, 1)
        if old == "if_unknown: sign_off":
            text = text.replace("[unknown, sign_off]", "[unknown, no_go]", 1)
        other = read(text)
        assert other.text != policy.text
        assert differences(policy, other, REGISTRY), f"{old} -> {new} is not seen"
