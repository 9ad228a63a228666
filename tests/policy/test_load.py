"""What a good policy becomes: every key arrives in the data, one canonical text, one digest."""

import hashlib
from dataclasses import replace
from datetime import UTC, date, datetime

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from riskboard.policy import PolicyError, dump_policy, load_policy
from riskboard.policy.check_levels import achievable_totals
from riskboard.policy.evaluate import rounded
from riskboard.policy.model import Alternatives, Band, Ceiling, CombinationPart, Level, Policy, Source
from riskboard.words import Decision, Group, Guard, Role
from riskboard.yaml_source import load
from tests.policy.measures import REGISTRY
from tests.policy.samples import EXTENSION, GOOD, good, read


def test_every_key_arrives() -> None:
    policy = good()
    gusts, few_hours, tired, arm = policy.factors
    assert (policy.id, policy.version, policy.title) == ("small-school", 4, "Small school, visual flights")
    assert (policy.effective_from, policy.review_by) == (datetime(2026, 3, 1, tzinfo=UTC), date(2027, 3, 1))
    assert policy.weather_age_max_min == 60
    assert policy.overdue_margin_min == 40
    assert policy.overdue_steps == ("Call it: radio, then telephone.", "Call the fields along its route.")
    assert policy.levels[1] == Level(
        "watch", 14, Decision.go_with_sign_off, (Role.dispatcher, Role.chief_instructor), 60
    )
    assert policy.levels[3] == Level("stop", None, Decision.no_go, (), None)
    assert policy.group_ceilings == (Ceiling(Group.pilot, 8, "high"),)
    assert gusts.bands == (Band(7, 0), Band(11, 2), Band(14, 5), Band(None, 9, "watch"))
    assert (gusts.ascending, gusts.if_unknown, gusts.when) == (True, "no_go", {})
    assert gusts.source == Source("school's own: experience", "common practice", date(2026, 2, 11))
    assert gusts.cases[0] == (7.0, 0)
    assert gusts.cases[-1] == (None, "no_go")
    assert few_hours.bands == (Band(50, 0), Band(12.5, 3), Band(None, 6))
    assert (few_hours.ascending, few_hours.if_unknown) == (False, "sign_off")
    assert tired.when == {Guard.solo: True}
    assert [band.floor for band in tired.bands] == [None, "watch", "high"]
    assert arm.non_monotone == "The middle of the envelope is best."
    assert arm.if_unknown == "no_go"
    fuel, defects = policy.limits
    assert (fuel.up_to, fuel.at_least, fuel.waiver) == (None, 0.0, ())
    assert (defects.up_to, defects.at_least, defects.waiver) == (0.0, None, (Role.chief_instructor,))
    assert defects.when == {Guard.for_hire: True}
    dark, solo = policy.combinations
    assert dark.all_of == (CombinationPart("moon_pct", 20), CombinationPart("night_gap_d", 30))
    assert (dark.points, dark.floor, dark.if_unknown) == (6, "watch", "sign_off")
    assert (solo.all_of, solo.when, solo.if_unknown) == ((), {Guard.first_solo: True}, "no_go")
    (aboard,) = policy.mitigations
    assert (aboard.off, aboard.at_most, aboard.needs) == (("few_hours",), 4, {Guard.instructor_aboard: True})
    assert policy.worksheets["calm_morning"]["weather"]["gust_kt"] == "none"
    assert policy.worksheets["calm_morning"]["decided_at"] == datetime(2026, 5, 4, 14, tzinfo=UTC)
    calm, gusty = policy.tests
    assert (calm.decision, calm.level, calm.accepted_by, calm.waived_by) == (Decision.go, "fine", (Role.pilot,), None)
    assert (gusty.but, gusty.because, gusty.waived_by) == ({"gust_kt": 29}, ("gusts",), ())


def test_lines_point_into_the_canonical_text() -> None:
    policy = good()
    lines = policy.text.splitlines()
    assert lines[policy.factors[1].line - 1] == "  few_hours:"
    assert lines[policy.limits[0].line - 1] == "  fuel_reserve:"
    assert lines[policy.combinations[1].line - 1] == '  - name: "first solo"'
    assert lines[policy.mitigations[0].line - 1] == '  - name: "current instructor aboard"'
    assert lines[policy.tests[1].line - 1] == '  - name: "A gusty one needs a signature"'


@pytest.mark.parametrize("text", [GOOD, EXTENSION])
def test_the_canonical_text_loads_to_an_equal_policy(text: str) -> None:
    policy = read(text)
    again = load_policy(policy.text, name="stored", registry=REGISTRY)
    assert again == policy
    assert again.text == policy.text
    assert again.digest == policy.digest == hashlib.sha256(policy.text.encode()).hexdigest()


def test_layout_and_remarks_do_not_change_the_digest_but_every_value_does() -> None:
    policy = good()
    assert read("# a remark\n" + GOOD.replace("{solo: true}", "{ solo:   true }")).digest == policy.digest
    assert read(GOOD.replace("    if_unknown: no_go\n    why: Gusts", "    why: Gusts")).digest == policy.digest
    assert read(GOOD.replace("up_to: 7,", "up_to: 7.0,").replace("[[7, 0]", "[[7.0, 0]", 1)).digest == policy.digest
    assert read(GOOD.replace("eat tail-rotor", "eat the tail-rotor")).digest != policy.digest
    assert read(GOOD.replace("2026-03-01T00:00Z", "2026-03-01T00:01Z")).digest != policy.digest
    assert read(GOOD.replace("wind_kt: 4,", "wind_kt: 5,")).digest != policy.digest


def test_bytes_and_windows_line_ends_are_fine() -> None:
    assert read(GOOD.replace("\n", "\r\n").encode()).digest == good().digest


_TEXTS = st.text(
    st.characters(exclude_categories=["Cs", "Cc", "Cf", "Zl", "Zp", "Cn", "Co"]), min_size=1, max_size=80
).filter(lambda text: bool(text.strip()))


@given(why=_TEXTS, source=_TEXTS, title=_TEXTS, entry=_TEXTS, number=st.floats(-999, 999) | st.integers(-999, 999))
def test_any_text_survives_the_round_trip(why: str, source: str, title: str, entry: str, number: float) -> None:
    policy = good()
    gusts = replace(policy.factors[0], why=why.strip(), source=replace(policy.factors[0].source, text=source.strip()))
    rounded_number = round(number, 9) + 0
    sheet = {**policy.worksheets["calm_morning"], "clocks": {entry: [rounded_number, None, True, {"x": entry}]}}
    changed = replace(
        policy, title=title.strip(), factors=(gusts, *policy.factors[1:]), worksheets={"calm_morning": sheet}
    )
    plain = load(dump_policy(changed).text, name="t", max_levels=20).plain()
    assert plain["title"] == title.strip()
    assert plain["factors"]["gusts"]["why"] == why.strip()
    assert plain["factors"]["gusts"]["source"]["text"] == source.strip()
    assert plain["worksheets"]["calm_morning"] == sheet


@pytest.mark.parametrize(
    "text",
    [
        "no",
        "on",
        "null",
        "true",
        "7",
        "1e3",
        "2026-01-01",
        "a: b",
        "a #b",
        "- x",
        "'",
        '"',
        "\\n",
        "é",
        "[x",
        "{",
        "&a",
        "*a",
        "!t",
        "%",
        "@",
        "a\nb",
        "unknown",
    ],
)
def test_awkward_texts_survive_the_round_trip(text: str) -> None:
    policy = good()
    changed = replace(policy, tests=(), factors=(replace(policy.factors[0], why=text), *policy.factors[1:]))
    again = load_policy(dump_policy(changed).text, name="t", registry=REGISTRY)
    assert again.factors[0].why == text


@given(st.floats(-1e6, 1e6), st.integers(0, 3))
def test_cases_round_exactly_as_the_registry_does(value: float, decimals: int) -> None:
    measure = replace(REGISTRY["type_h"], decimals=decimals)
    assert rounded(measure, value) == float(np.round(value, decimals) + 0.0)


def test_totals_that_can_come_together() -> None:
    """By hand: two factors {0, 3} and {0, 5} with a combination of 1 give 0 1 3 4 5 6 8 9."""
    policy = good()
    first = replace(policy.factors[0], bands=(Band(1, 0), Band(None, 3)))
    second = replace(policy.factors[1], bands=(Band(9, 0), Band(None, 5)))
    third = replace(policy.combinations[0], points=1)
    small = replace(policy, factors=(first, second), combinations=(third,))
    bits = achievable_totals(small)
    assert [n for n in range(12) if bits >> n & 1] == [0, 1, 3, 4, 5, 6, 8, 9]
    assert [n for n in range(12) if achievable_totals(small, Group.pilot) >> n & 1] == [0, 5]


def test_a_level_between_possible_totals_is_refused_unless_a_floor_names_it() -> None:
    """With points of 0 and 10 only, no total lies in 1 to 5; a floor makes the level reachable after all."""
    base = GOOD[: GOOD.index("group_ceilings:")] + GOOD[GOOD.index("factors:") : GOOD.index("  few_hours:")]
    base = (
        base.replace("up_to: 8,", "up_to: 1,")
        .replace("up_to: 14, decision", "up_to: 5, decision")
        .replace("up_to: 20, d", "up_to: 7, d")
    )
    base = base.replace("{up_to: 11, points: 2}, {up_to: 14, points: 5}, {points: 9, floor: watch}", "{points: 10}")
    base = base.replace("cases: [[7, 0], [8, 2], [11, 2], [12, 5], [14, 5], [15, 9]", "cases: [[7, 0], [8, 10]")
    with pytest.raises(PolicyError) as refusal:
        read(base)
    assert [problem.found for problem in refusal.value.problems] == ["5", "7"]
    assert all("never reached" in problem.message for problem in refusal.value.problems)
    ceilings = "group_ceilings:\n  environment: {up_to: 2, else: watch}\n  "
    floored = base.replace("factors:\n", ceilings.rstrip() + "\nfactors:\n").replace("up_to: 7, d", "up_to: 9, d")
    with pytest.raises(PolicyError) as refusal:
        read(floored)
    assert [problem.found for problem in refusal.value.problems] == ["9"]


def test_extends_needs_somebody_who_finds_policies() -> None:
    with pytest.raises(PolicyError, match="cannot be looked up"):
        load_policy(EXTENSION, name="p", registry=REGISTRY)


def _resolving(texts: dict[tuple[str, int], str]) -> Policy:
    return load_policy(EXTENSION, name="p", registry=REGISTRY, resolve=lambda i, v: texts[i, v])


def test_an_extended_policy_is_the_one_asked_for_and_sound() -> None:
    assert _resolving({("small-school", 4): GOOD}).levels[1].up_to == 12
    with pytest.raises(PolicyError, match="says that it is small-school version 5"):
        _resolving({("small-school", 4): GOOD.replace("version: 4", "version: 5")})
    with pytest.raises(PolicyError, match=r"small-school version 4 is itself refused; .*:7:22"):
        _resolving({("small-school", 4): GOOD.replace("max_min: 60", "max_min: 600")})


def test_a_circle_of_extensions_is_refused() -> None:
    circle = EXTENSION.replace("id: small-school-winter\nversion: 1", "id: small-school\nversion: 4").replace(
        "extends: {id: small-school, version: 4}", "extends: {id: small-school-winter, version: 1}"
    )
    with pytest.raises(PolicyError, match="extends itself"):
        _resolving({("small-school", 4): circle, ("small-school-winter", 1): EXTENSION})
    with pytest.raises(PolicyError, match="extends itself"):
        read(EXTENSION.replace("{id: small-school, version: 4}", "{id: small-school-winter, version: 1}"))


def test_the_flat_extension_holds_everything_of_both() -> None:
    child, parent = read(EXTENSION), good()
    assert [factor.name for factor in child.factors] == ["gusts", "few_hours", "tired", "arm", "long_gap"]
    assert child.factors[1].bands == parent.factors[1].bands
    assert [limit.at_least for limit in child.limits] == [10.0, None]
    assert child.levels[1].accepted_by == (Role.chief_instructor,)
    assert (child.levels[1].up_to, child.levels[1].valid_min, child.levels[2].up_to) == (12, 50, 20)
    assert child.group_ceilings == (Ceiling(Group.pilot, 7, "stop"), Ceiling(Group.environment, 12, "high"))
    assert child.mitigations[0].needs == {Guard.instruction: True, Guard.instructor_aboard: True}
    assert [test.decision for test in child.tests] == [Decision.go_with_sign_off, Decision.go_with_sign_off]
    assert (child.overdue_margin_min, child.overdue_steps) == (20, parent.overdue_steps)
    assert child.worksheets == parent.worksheets
    assert "extends" not in child.text


def test_a_mitigation_can_be_removed() -> None:
    text = EXTENSION[: EXTENSION.index("mitigations:")] + "without_mitigations: [current instructor aboard]\n"
    assert read(text).mitigations == ()


def test_tests_of_the_parent_can_be_left_out_by_name() -> None:
    text = EXTENSION[: EXTENSION.index("tests:")] + "without_tests: [A calm morning goes]\n"
    assert [test.name for test in read(text).tests] == ["A gusty one needs a signature"]
    with pytest.raises(PolicyError, match="did you mean A calm morning goes"):
        read(text.replace("[A calm morning goes]", "[A calm mourning goes]"))


def test_a_left_out_test_cannot_come_back_with_a_better_decision() -> None:
    name = "A gusty one needs a signature"
    back = f"  - name: {name}\n    given: {{worksheet: calm_morning, but: {{gust_kt: 29}}}}\n"
    back += "    expect: {decision: go}\n"
    with pytest.raises(PolicyError, match="the test expected go_with_sign_off before"):
        read(EXTENSION + back + f"without_tests: [{name}]\n")


OVERDUE = GOOD[GOOD.index("overdue:") : GOOD.index("levels:")]


def test_without_a_word_about_overdue_flights_the_margin_is_half_an_hour_and_the_text_is_as_ever() -> None:
    """A policy from before there was such a key keeps its digest; stating the half hour changes nothing either."""
    bare = read(GOOD.replace(OVERDUE, ""))
    assert (bare.overdue_margin_min, bare.overdue_steps) == (30, ())
    assert "overdue" not in bare.text
    assert read(GOOD.replace(OVERDUE, "overdue: {margin_min: 30}\n")).digest == bare.digest
    only_margin = read(GOOD.replace(OVERDUE, "overdue: {margin_min: 240}\n"))
    assert "overdue:\n  margin_min: 240\nlevels:" in only_margin.text
    assert read(only_margin.text) == only_margin


def test_an_extension_may_replace_the_steps_for_an_overdue_flight() -> None:
    child = read(EXTENSION.replace("  margin_min: 20\n", "  steps: [Run to the tower.]\n"))
    assert (child.overdue_margin_min, child.overdue_steps) == (40, ("Run to the tower.",))
    assert read(child.text).overdue_steps == child.overdue_steps


ALTERNATIVES = GOOD[GOOD.index("fragile_below_pct:") : GOOD.index("mitigations:")]


def test_what_is_said_beside_the_decisions_is_read_and_written_and_a_policy_without_it_keeps_its_text() -> None:
    stated = good().alternatives
    assert stated.fragile_below_pct == 85
    assert [(e.name, e.size, e.relative) for e in stated.errors] == [
        ("wind_kt", 2.5, False),
        ("visibility_sm", 10.0, True),
    ]
    assert [(c.name, c.cost) for c in stated.ways_out] == [("later", 2), ("other_aircraft", 5)]
    assert stated.when_no is not None
    assert stated.when_no.call == "The instructor on duty"
    bare = read(GOOD.replace(ALTERNATIVES, ""))
    assert bare.alternatives == Alternatives(90, (), (), None)
    for word in ("fragile", "errors", "ways_out", "when_no"):
        assert word not in bare.text
    assert read(good().text) == good()
    full = good().text
    assert bare.text == full[: full.index("fragile_below_pct:")] + full[full.index("worksheets:") :]


def test_an_extension_may_only_count_on_larger_errors_dearer_ways_out_and_a_higher_bar() -> None:
    child = read(EXTENSION).alternatives
    assert child.fragile_below_pct == 95
    assert [(e.name, e.size) for e in child.errors] == [("wind_kt", 3.0), ("visibility_sm", 10.0)]
    assert [(c.name, c.cost) for c in child.ways_out] == [("later", 3), ("other_aircraft", 5)]
    assert child.when_no == good().alternatives.when_no


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("fragile_below_pct: 95", "fragile_below_pct: 84", "calls less fragile than before; allowed: at least 85"),
        ("    size: 3\n", "    size: 2.4\n", "a smaller error than before; allowed: at least 2.5"),
        ("    size: 3\n", "    pct: 3\n", "stated as size by the extended policy"),
        ("  wind_kt:\n    size", "  gust_kt:\n    size", "states no 'gust_kt' under errors"),
        ("    cost: 3\n", "    cost: 1\n", "cheaper than before; allowed: at least 2"),
        ("  later:\n    cost", "  shorter:\n    cost", "states no 'shorter' under ways_out"),
    ],
)
def test_an_extension_that_is_looser_beside_the_decisions_is_refused(old: str, new: str, said: str) -> None:
    assert EXTENSION.count(old) == 1
    with pytest.raises(PolicyError, match=said) as refused:
        read(EXTENSION.replace(old, new))
    changed = EXTENSION.replace(old, new).splitlines()
    (problem,) = refused.value.problems
    assert new.splitlines()[0].strip() in changed[problem.line - 1]
