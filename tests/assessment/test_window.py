"""The departure window: each step is a fresh assessment of the changed worksheet, and a day worked by hand.

Day worked by hand: 2026-05-04 at the invented Larkfield (39.21 N, 104.88 W, America/Denver, six hours behind UTC).
Every edge below was found from the policy's own figures and a sunset from an independent calculation (see the test),
not from the window.
"""

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from astral import Observer
from astral.sun import dusk
from hypothesis import given
from hypothesis import strategies as st

from riskboard.assessment.assess import CannotAssessError, assess
from riskboard.assessment.reasons import Line
from riskboard.assessment.variations import Base, base_of
from riskboard.assessment.window import Morning, Step, Window, departure_window
from riskboard.words import Decision
from riskboard.worksheet import FIELD_PART, Worksheet
from riskboard.worksheet.entries import ForecastLine, Span
from tests.assessment.test_outlook import FAIR, line
from tests.assessment.varied import LONG, RUN, calm, prepared
from tests.strategies import DECIDED_AT, worksheets

DENVER = ZoneInfo("America/Denver")
ALL_DAY = (line("1200", "+0900", **FAIR),)


def window_of(lines: Sequence[ForecastLine] = ALL_DAY, **but: Any) -> tuple[Base, Window]:
    sheet, at = calm()
    base = base_of(sheet.but(**{"forecast_lines": tuple(lines), **but}), prepared(), at)
    return base, departure_window(base)


def is_fresh(base: Base, window: Window, step: Step) -> None:
    """A step says what ``assess`` says of its worksheet."""
    sheet, at = window.worksheet(step)
    assert (sheet.plan.take_off_at, sheet.plan.landing_at, at) == (step.take_off_at, step.landing_at, step.take_off_at)
    fresh = assess(sheet, base.prepared, at, waived=base.waived)
    assert (step.decision, step.level, step.total) == (fresh.decision, fresh.level, fresh.total)


def local(clock: str, day: int = 4) -> datetime:
    return datetime(2026, 5, day, int(clock[:2]), int(clock[3:]), tzinfo=DENVER).astimezone(UTC)


# -- what a step is ---------------------------------------------------------------------------------------------------

_KNOTS = st.integers(0, 30).map(float)
_HEIGHTS = st.integers(2, 60).map(lambda hundreds: hundreds * 100.0) | st.just("none")


@st.composite
def forecast_lines(draw: st.DrawFn) -> tuple[ForecastLine, ...]:
    """Up to four lines in any order, with gaps, overlaps and blanks."""
    lines = []
    for _ in range(draw(st.integers(0, 4))):
        start = DECIDED_AT.replace(hour=12, minute=0) + timedelta(minutes=10 * draw(st.integers(-30, 60)))
        wind = draw(_KNOTS)
        stated = {
            "wind_kt": wind,
            "gust_kt": draw(st.sampled_from(["none", wind, wind + 8, wind + 15])),
            "visibility_sm": draw(st.integers(1, 20).map(lambda halves: halves / 2)),
            "ceiling_ft_agl": draw(_HEIGHTS),
            "lowest_cloud_ft_agl": draw(_HEIGHTS),
            "thunderstorm": draw(st.booleans()),
            "wind_from_deg": draw(st.sampled_from([0.0, 210.0, 320.0, "variable"])),
            "temperature_c": draw(st.integers(-5, 40).map(float)),
            "dew_point_c": draw(st.integers(-10, 15).map(float)),
            "precipitation": draw(st.sampled_from(["none", "light", "moderate"])),
        }
        left_out = draw(st.sets(st.sampled_from(sorted(stated)), max_size=2))
        said = {name: value for name, value in stated.items() if name not in left_out}
        kind = draw(st.sampled_from(["prevailing", "prevailing", "temporary"]))
        end = start + timedelta(minutes=10 * draw(st.integers(1, 150)))
        lines.append(ForecastLine.model_validate({"start_at": start, "end_at": end, "kind": kind, **said}))
    return tuple(lines)


@RUN
@given(forecast_lines(), st.data())
def test_each_step_is_a_fresh_assessment_of_the_changed_worksheet(
    lines: tuple[ForecastLine, ...], data: st.DataObject
) -> None:
    base, window = window_of(lines)
    steps = window.steps if LONG else data.draw(st.lists(st.sampled_from(window.steps), min_size=3, max_size=3))
    for step in steps:
        is_fresh(base, window, step)


@RUN
@given(worksheets(), forecast_lines(), st.data())
def test_that_holds_for_any_worksheet(sheet: Worksheet, lines: tuple[ForecastLine, ...], data: st.DataObject) -> None:
    try:
        base = base_of(sheet.but(forecast_lines=lines), prepared(), DECIDED_AT)
    except CannotAssessError:
        return
    window = departure_window(base)
    if window.missing:
        assert not window.steps
        assert any(base.sheet.value(field) is None for field in window.missing)
        return
    for step in data.draw(st.lists(st.sampled_from(window.steps), min_size=3, max_size=3)):
        is_fresh(base, window, step)


def test_forgetting_an_entry_makes_no_step_better() -> None:
    base, window = window_of()
    levels = prepared().policy.level_index
    known = [levels(step.level) for step in window.steps]
    fields = [field for field in FIELD_PART if base.sheet.value(field) is not None]
    for field in fields if LONG else fields[::6]:
        blank: dict[str, Any] = {field: None}
        _, blanked = window_of(**blank)
        if field == "time_zone":  # the steps are those of UTC then, and there is no window
            assert blanked.missing == ("time_zone",)
        elif not blanked.missing:
            assert all(levels(step.level) >= before for step, before in zip(blanked.steps, known, strict=True)), field


def test_steps_are_whole_ten_minutes_of_local_time_from_now_to_midnight() -> None:
    _, window = window_of()
    assert [step.take_off_at for step in window.steps[:2]] == [local("08:20"), local("08:30")]
    assert window.steps[-1].take_off_at == local("23:50")
    assert len(window.steps) == (24 - 8) * 6 - 2  # 08:20 to 23:50
    apart = {after.take_off_at - before.take_off_at for before, after in pairwise(window.steps)}
    assert apart == {timedelta(minutes=10)}


def test_the_landing_moves_along_and_the_planned_take_off_is_a_step_of_its_own() -> None:
    base, window = window_of()
    assert {step.landing_at - step.take_off_at for step in window.steps} == {timedelta(hours=1)}
    assert window.planned is not None
    assert window.planned.take_off_at == base.sheet.plan.take_off_at
    is_fresh(base, window, window.planned)


def test_the_step_of_now_is_what_the_briefing_says_when_observation_and_forecast_agree() -> None:
    sheet, at = calm()
    observed = FAIR | {"wind_kt": 4, "temperature_c": 18, "dew_point_c": -3}
    base, window = window_of((line("1200", "+0900", **observed),), take_off_at=at, landing_at=at + timedelta(hours=1))
    assert window.steps[0].take_off_at == at
    now = (int(window.steps[0].decision), window.steps[0].total)
    assert now == (base.decision, int(base.scores.total[0]))
    assert sheet.plan.take_off_at != at


def test_a_mountain_time_that_is_no_whole_hour_still_steps_on_its_own_clock() -> None:
    _, window = window_of(time_zone="Asia/Kathmandu")  # 5 h 45 min ahead
    assert window.steps[0].take_off_at.astimezone(ZoneInfo("Asia/Kathmandu")).minute % 10 == 0


def test_without_times_there_is_no_window_and_it_says_what_is_missing() -> None:
    _, window = window_of(take_off_at=None, landing_at=None)
    assert (window.steps, window.planned, window.missing) == ((), None, ("take_off_at", "landing_at"))


def test_an_impossible_step_length_is_refused() -> None:
    base, _ = window_of()
    with pytest.raises(ValueError, match="step_min"):
        departure_window(base, step_min=0)


# -- the day worked by hand -------------------------------------------------------------------------------------------


def edge(window: Window, decision: Decision, after: datetime) -> datetime:
    """The first take-off from ``after`` on that is worse than a decision."""
    return next(s.take_off_at for s in window.steps if s.take_off_at >= after and s.decision > decision)


def test_the_forecast_change_at_a_known_hour_is_an_edge() -> None:
    # A ceiling of 900 ft from 12:00 local (18:00 UTC): the policy's forecast_ceiling below 1,500 ft is a floor of high,
    # and the school's own ceiling limit at 1,000 ft a stop. Flight of one hour and one hour looked at after it: the
    # last take-off that does not touch it is at 10:00 local, which is looked at until 12:00 exactly.
    low = FAIR | {"ceiling_ft_agl": 900, "lowest_cloud_ft_agl": 900}
    base, window = window_of((line("1200", "1800", **FAIR), line("1800", "+0900", **low)))
    decisions = {step.take_off_at: step.decision for step in window.steps}
    assert decisions[local("10:00")] is Decision.go
    assert decisions[local("10:10")] is Decision.no_go
    assert edge(window, Decision.go, base.at) == local("10:10")
    said = [sentence for sentence in window.sentences if sentence.startswith("No later than")]
    assert said[0].startswith("No later than 10:00: at 10:10 it is no-go.")
    wall = next(wall for wall in window.walls if wall.limit == "school_ceiling")
    assert (wall.first_at, wall.last_at, wall.known) == (local("10:10"), local("23:50"), True)


def test_planned_in_the_dropping_ceiling_the_earlier_hours_are_offered() -> None:
    low = FAIR | {"ceiling_ft_agl": 900, "lowest_cloud_ft_agl": 900}
    _, window = window_of(
        (line("1200", "1930", **FAIR), line("1930", "+0900", **low)),
        take_off_at=local("14:00"), landing_at=local("15:00"),
    )  # fmt: skip
    # The change is at 13:30 local, so the last good take-off is at 11:30 and the sentence says so.
    assert window.planned is not None
    assert window.planned.decision is Decision.no_go
    assert window.sentences[0] == "Better until 11:30: go between 08:20 and 11:30."


def test_fog_that_lifts_at_a_known_hour_is_an_edge() -> None:
    # Seen: 2 SM, a no-go. Forecast: 2 SM until 10:00 local, then 10 SM. Until 09:08 the observation counts; from the
    # line's start at 10:00 on no flight touches the fog. So 09:50 is a no-go and 10:00 is not.
    fog = FAIR | {"visibility_sm": 2, "precipitation": "none"}
    _, window = window_of(
        (line("1200", "1600", **fog), line("1600", "+0900", **FAIR)),
        visibility_sm=2, route_visibility_sm=2, fog_or_mist=True,
    )  # fmt: skip
    decisions = {step.take_off_at: step.decision for step in window.steps}
    assert decisions[local("09:50")] is Decision.no_go
    assert decisions[local("10:00")] is Decision.go
    assert window.sentences[0].startswith("Better from 10:00: go between 10:00 and ")


def reason(window: Window, take_off_at: datetime, clause: str) -> Line:
    """How a clause stands at a step, by a fresh assessment of its worksheet."""
    sheet, at = window.worksheet(next(step for step in window.steps if step.take_off_at == take_off_at))
    return next(found for found in assess(sheet, prepared(), at).lines if found.clause == clause)


def test_the_end_of_evening_twilight_is_an_edge() -> None:
    # The policy: less than 30 minutes from landing to the end of evening civil twilight is a floor of "tolerable". With
    # a one-hour flight the last take-off without it lies 90 minutes or more before that moment. Twilight by astral.
    factor = next(f for f in prepared().policy.factors if f.name == "daylight_left")
    assert [(band.bound, band.floor) for band in factor.bands] == [(60, None), (30, None), (None, "tolerable")]
    end = dusk(Observer(39.21, -104.88), date=datetime(2026, 5, 4, tzinfo=DENVER).date(), tzinfo=DENVER)
    latest = end.astimezone(UTC) - timedelta(minutes=90)
    last = latest - timedelta(minutes=latest.minute % 10, seconds=latest.second, microseconds=latest.microsecond)
    _, window = window_of()
    assert reason(window, last, "daylight_left").decision_floor is Decision.go
    assert reason(window, last + timedelta(minutes=10), "daylight_left").decision_floor is Decision.go_with_sign_off


def test_hours_awake_are_two_edges() -> None:
    # Woken at 06:30 local. More than 15 hours awake at landing is a floor, more than 17 a stop. A one-hour flight that
    # takes off at 20:30 lands just 15 hours after waking, one at 22:30 just 17: both are still within.
    factor = next(f for f in prepared().policy.factors if f.measure == "hours_awake_at_landing_h")
    limit = next(each for each in prepared().policy.limits if each.measure == "hours_awake_at_landing_h")
    assert ([band.bound for band in factor.bands][-2], factor.bands[-1].floor, limit.up_to) == (15, "high", 17)
    _, window = window_of()
    assert reason(window, local("20:30"), factor.name).decision_floor is Decision.go
    assert reason(window, local("20:40"), factor.name).decision_floor is Decision.go_with_sign_off
    wall = next(wall for wall in window.walls if wall.limit == limit.name)
    assert (wall.first_at, wall.last_at, wall.known) == (local("22:40"), local("23:50"), True)


def test_after_the_forecast_nothing_is_known_and_nothing_goes() -> None:
    base, window = window_of((line("1200", "1800", **FAIR),))
    beyond = [step for step in window.steps if step.take_off_at > local("10:00")]
    assert beyond
    assert all(step.decision is Decision.no_go and step.unknown for step in beyond)
    assert window.steps[0].decision is Decision.go
    assert base.decision == Decision.go


def test_an_observation_too_old_does_not_contradict_a_forecast_that_is_silent_on_it() -> None:
    # Seen: no cloud. Forecast: a ceiling, and nothing of lower clouds. "No cloud, but a ceiling" could not be true.
    silent = {name: value for name, value in FAIR.items() if name != "lowest_cloud_ft_agl"}
    base, window = window_of((line("1200", "+0900", **(silent | {"ceiling_ft_agl": 4000})),))
    step = next(step for step in window.steps if step.take_off_at == local("10:00"))
    is_fresh(base, window, step)
    assert window.worksheet(step)[0].weather.lowest_cloud_ft_agl is None
    assert step.decision is Decision.no_go


@pytest.mark.parametrize(("warm", "because"), [(41, "type_temperature"), (-2, "frost")])
def test_the_worst_of_the_temperatures_said_counts(warm: float, because: str) -> None:
    # Two lines of the same hours differ: 18 C and one that is too warm for the type (40 C at most), or cold enough
    # for frost at a dew point of -3 C. Whichever way it is worse, that one counts.
    usual = line("1200", "+0900", **(FAIR | {"temperature_c": 18, "dew_point_c": -3}))
    other = line("1600", "1700", "temporary", temperature_c=warm, dew_point_c=-3)
    base, window = window_of((usual, other))
    by_time = {step.take_off_at: step for step in window.steps}
    assert by_time[local("11:10")].decision is Decision.go
    step = by_time[local("10:00")]
    assert step.decision is not Decision.go
    assert because in step.clauses
    is_fresh(base, window, step)


def test_what_the_forecast_leaves_open_is_named() -> None:
    silent = {name: value for name, value in FAIR.items() if name not in {"temperature_c", "dew_point_c"}}
    _, window = window_of((line("1200", "+0900", **silent),))
    assert window.unsaid == ("temperature_c", "dew_point_c")
    assert window.assumptions[-1] == (
        "From 09:10 nobody has said what will be: temperature, dew point. A forecast line can."
    )
    assert window_of()[1].unsaid == ()


# -- the next morning -------------------------------------------------------------------------------------------------

NIGHT = Span(start_at=local("22:00"), end_at=local("06:00", 5))
MORNING = Morning(NIGHT, local("06:30", 5), local("07:00", 5))


def test_on_request_the_window_goes_on_to_noon_of_the_next_day() -> None:
    base, _ = window_of()
    window = departure_window(base, next_morning=True)
    assert window.steps[-1].take_off_at == local("12:00", 5)
    for step in window.steps[-3:]:
        is_fresh(base, window, step)


def test_a_planned_night_counts_only_after_it_was_slept() -> None:
    lines = (line("1200", "+2300", **FAIR),)
    base, _ = window_of(lines)
    sleepless = departure_window(base, next_morning=True)
    window = departure_window(base, next_morning=True, morning=MORNING)
    by_time = {step.take_off_at: step for step in window.steps}
    without = {step.take_off_at: step for step in sleepless.steps}
    assert by_time[local("06:50", 5)] == without[local("06:50", 5)]
    assert by_time[local("08:00", 5)].decision < without[local("08:00", 5)].decision
    for clock in ("06:50", "07:00", "08:00", "11:30"):
        is_fresh(base, window, by_time[local(clock, 5)])
    sheet, _ = window.worksheet(by_time[local("08:00", 5)])
    assert (sheet.pilot.days_in_row, sheet.pilot.flights_today) == (3, 0)


def test_a_step_of_another_window_is_refused() -> None:
    base, window = window_of()
    odd = departure_window(base, step_min=7)
    with pytest.raises(KeyError, match="no step"):
        window.worksheet(odd.steps[1])
