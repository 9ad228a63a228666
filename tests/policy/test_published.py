"""A policy that was published stays readable for ever: for scoring again what was decided under it."""

import hashlib
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import pytest

from riskboard.measures.registry import MEASURES, Measure, load_all
from riskboard.measures.renamed import RENAMED
from riskboard.policy import Policy, PolicyError, load_policy
from riskboard.policy.compiled import compile_policy
from riskboard.policy.model import Source
from tests.policy.measures import REGISTRY
from tests.policy.samples import EXTENSION, GOOD, good, read

DIRECTIONS = {name: measure.worse for name, measure in REGISTRY.items()}
SHIPPED = sorted((Path(__file__).parents[2] / "policies").glob("*.yaml"))


def stored(text: str, registry: Mapping[str, Measure] = REGISTRY, renamed: Mapping[str, str] = RENAMED) -> Policy:
    return load_policy(text, name="stored", registry=registry, published=True, renamed=renamed)


@pytest.mark.parametrize("text", [GOOD, EXTENSION], ids=["good", "extension"])
def test_a_published_text_is_the_policy_it_was(text: str) -> None:
    policy = read(text)
    assert stored(policy.text) == policy


def test_so_are_the_shipped_ones() -> None:
    def text_of(policy_id: str, _version: int) -> str:
        return next(text for text in texts if f"id: {policy_id}\n" in text)

    texts = [path.read_text(encoding="utf-8") for path in SHIPPED]
    assert texts
    for text in texts:
        policy = load_policy(text, name="shipped", resolve=text_of)
        assert load_policy(policy.text, name="stored", published=True) == policy


def test_the_text_is_kept_to_the_letter() -> None:
    """Lines are those of that text, whatever a canonical text looks like today."""
    policy = stored("# as it was laid out then\n" + GOOD)
    assert policy.text == "# as it was laid out then\n" + GOOD
    assert policy.digest == hashlib.sha256(policy.text.encode()).hexdigest()
    lines = policy.text.splitlines()
    assert lines[policy.factors[1].line - 1] == "  few_hours:"
    assert lines[policy.limits[1].line - 1] == "  open_defects:"
    assert lines[policy.combinations[0].line - 1] == "  - name: dark night"
    assert lines[policy.mitigations[0].line - 1] == "  - name: current instructor aboard"
    assert lines[policy.tests[1].line - 1] == "  - name: A gusty one needs a signature"
    assert replace(policy, text="", digest="").levels == good().levels


# What a later program may refuse, and what no past decision rests on.
HARMLESS = {
    "a case that gives something else": ("[15, 9]", "[15, 8]"),
    "a case in words of another time": ("[unknown, no_go]]\n  few", "[unknown, forbidden]]\n  few"),
    "no cases": ("    cases: [[7, 0], [8, 2], [11, 2], [12, 5], [14, 5], [15, 9], [unknown, no_go]]\n", ""),
    "no reason": ("    why: Rotorcraft keep 20 minutes.\n", ""),
    "a reason that is too long": ("why: Rotorcraft keep 20 minutes.", "why: " + "long " * 300),
    "a kind of source that is no more": ("kind: flight manual", "kind: manual"),
    "no source": ("    source: {text: 14 CFR 91.151(b), kind: regulation, checked_on: 2026-02-11}\n", ""),
    "an entry of another time in a test": ("but: {gust_kt: 29}", "but: {gusts_kt: 29}"),
    "an entry of another time in a worksheet": ("hours_in_type_h: 120", "hours_in_type: 120"),
    "a test of a clause that is not there": ("because: [gusts]", "because: [gales]"),
    "a part of another time in a worksheet": ("    weather: {", "    wether: {"),
    "a bound outside the valid range": ("{up_to: 14, points: 5}", "{up_to: 70, points: 5}"),
    "a bound finer than the resolution": ("beyond: 30}", "beyond: 30.5}"),
    "a level that is never reached": ("up_to: 20, decision", "up_to: 34, decision"),
    "a credit that is no longer given": ("off: [few_hours]", "off: [few_hours, gusts]"),
    "a review before it was in force": ("review_by: 2027-03-01", "review_by: 2026-03-01"),
}


@pytest.mark.parametrize("case", HARMLESS)
def test_later_proofs_do_not_take_a_decision_its_policy(case: str) -> None:
    old, new = HARMLESS[case]
    assert GOOD.count(old) == 1
    text = GOOD.replace(old, new)
    with pytest.raises(PolicyError):
        read(text)
    policy = stored(text)
    compile_policy(policy, DIRECTIONS)
    assert [factor.name for factor in policy.factors] == [factor.name for factor in good().factors]
    assert policy.text == text


def test_what_is_not_said_any_more_is_empty() -> None:
    policy = stored(
        GOOD.replace("    why: Rotorcraft keep 20 minutes.\n", "").replace("but: {gust_kt: 29}", "but: {gusts_kt: 29}")
    )
    assert policy.limits[0].why == ""
    assert [test.name for test in policy.tests] == ["A calm morning goes"]
    without = stored(
        GOOD.replace("    source: {text: 14 CFR 91.151(b), kind: regulation, checked_on: 2026-02-11}\n", "")
    )
    assert (without.limits[0].source.text, without.limits[0].source.kind) == ("", "")
    kept = stored(GOOD.replace("kind: flight manual", "kind: manual")).factors[3].source
    assert kept == Source("flight manual of the type", "manual", good().factors[3].source.checked_on)


NEEDED = {
    "a measure that is not there": ("measure: gust_kt_spread", "measure: gale_kt", "is no measure"),
    "an internal quantity": ("measure: slept_h", "measure: sleep_sum", "a policy may name"),
    "bounds out of order": ("{up_to: 11, points: 2}", "{up_to: 7, points: 2}", "must rise"),
    "a band without a bound": ("{up_to: 14, points: 5}", "{points: 5}", "only the last goes without"),
    "two bounds of a limit": ("at_least: 0\n", "at_least: 0\n    up_to: 5\n", "exactly one"),
    "a bound that is no number": ("at_least: 0\n", "at_least: none\n", "plain decimal"),
    "points that are no number": ("{up_to: 11, points: 2}", "{up_to: 11, points: few}", "whole number"),
    "a floor that is no level": ("{points: 9, floor: watch}", "{points: 9, floor: wacht}", "did you mean watch"),
    "a ceiling's floor that is no level": ("else: high}", "else: hihg}", "did you mean high"),
    "a combination's floor that is no level": ("floor: watch\n    why", "floor: wacht\n    why", "did you mean watch"),
    "a part without a worse end": ("measure: moon_pct", "measure: load_arm_in", "no single worse end"),
    "levels out of order": ("up_to: 14, decision", "up_to: 8, decision", "must rise"),
    "no last level": ("decision: no_go}", "decision: go_with_sign_off}", "must be no_go"),
    "a pilot who signs": ("[dispatcher, chief_instructor]", "[pilot, chief_instructor]", "second person"),
    "a pilot who waives": ("waiver: [chief_instructor]", "waiver: [pilot]", "is not allowed"),
    "a mitigation of a limit": ("off: [few_hours]", "off: [fuel_reserve]", "is a limit"),
    "a mitigation of nothing": ("off: [few_hours]", "off: [few_hour]", "did you mean few_hours"),
    "points taken off twice": ("off: [few_hours]", "off: [few_hours, few_hours]", "twice"),
    "a name used twice": ("  few_hours:\n", "  fuel_reserve:\n", "already used"),
    "a guard of another time": ("when: {solo: true}", "when: {alone: true}", "guard word"),
    "a key nobody knows": ("    if_unknown: no_go\n    why: Gusts", "    if_blank: no_go\n    why: Gusts", "no key"),
    "no version": ("version: 4\n", "", "no 'version'"),
    "no age of weather": ("weather_age_max_min: 60\n", "", "no 'weather_age_max_min'"),
    "something that it extends": ("title:", "extends: {id: x, version: 1}\ntitle:", "no key"),
}


@pytest.mark.parametrize("case", NEEDED)
def test_what_scoring_and_signing_rest_on_is_still_proved(case: str) -> None:
    old, new, fragment = NEEDED[case]
    assert GOOD.count(old) == 1
    text = GOOD.replace(old, new)
    with pytest.raises(PolicyError) as refusal:
        stored(text)
    assert any(fragment in problem.message for problem in refusal.value.problems), refusal.value


def test_a_measure_that_got_another_name_is_understood_in_a_published_text_only() -> None:
    was = good()
    today = {("gust_range_kt" if name == "gust_kt_spread" else name): entry for name, entry in REGISTRY.items()}
    today["gust_range_kt"] = replace(today["gust_range_kt"], name="gust_range_kt")
    renamed = {"gust_kt_spread": "gust_range_kt"}
    with pytest.raises(PolicyError, match="is no measure"):
        stored(was.text, today)
    policy = stored(was.text, today, renamed)
    assert policy.factors[0].measure == "gust_range_kt"
    assert (policy.text, policy.digest) == (was.text, was.digest)
    assert replace(policy.factors[0], measure="gust_kt_spread") == was.factors[0]
    assert policy.factors[1:] == was.factors[1:]
    with pytest.raises(PolicyError) as refusal:
        load_policy(was.text, name="new", registry=today, renamed=renamed)
    (problem,) = refusal.value.problems
    assert "'gust_kt_spread' is called 'gust_range_kt' now" in problem.message
    assert (problem.found, problem.allowed) == ("gust_kt_spread", "gust_range_kt")


def test_every_renamed_measure_leads_to_one_that_there_is() -> None:
    load_all()
    for old, new in RENAMED.items():
        assert old not in MEASURES
        assert not MEASURES[new].internal


def test_an_extension_takes_a_loaded_policy_as_well_as_its_text() -> None:
    parent = good()
    by_text = load_policy(EXTENSION, name="p", registry=REGISTRY, resolve=lambda _i, _v: parent.text)
    by_policy = load_policy(EXTENSION, name="p", registry=REGISTRY, resolve=lambda _i, _v: parent)
    assert by_policy == by_text
    with pytest.raises(PolicyError, match="says that it is small-school version 4"):
        load_policy(
            EXTENSION.replace("version: 4}", "version: 5}"), name="p", registry=REGISTRY, resolve=lambda _i, _v: parent
        )


def test_tests_that_an_extension_brings_itself_are_looked_at() -> None:
    text = (
        EXTENSION
        + "  - name: Own\n    given: {worksheet: calm_morning, but: {gust_kt: 3}}\n    expect: {decision: go}\n"
    )
    with pytest.raises(PolicyError, match="below the wind"):
        load_policy(text, name="p", registry=REGISTRY, resolve=lambda _i, _v: good())
    broken = EXTENSION.replace(
        "tests:\n", "worksheets:\n  late:\n    decided_at: 2026-05-04T14:00Z\n    weather: {wind_kt: 900}\ntests:\n"
    )
    with pytest.raises(PolicyError, match="900"):
        load_policy(broken, name="p", registry=REGISTRY, resolve=lambda _i, _v: good())
