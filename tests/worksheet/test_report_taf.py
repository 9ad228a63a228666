"""TAF text -> forecast lines, read by hand from the published form (WMO-No. 306 FM 51). Stations are invented."""

# ruff: noqa: E501  - the rows of a table are read across, one case a line

from datetime import UTC, datetime
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from riskboard.words import LineKind, Precipitation
from riskboard.worksheet import Worksheet
from riskboard.worksheet.entries import ForecastLine
from riskboard.worksheet.report import DecodedReport, decode_report

SEEN = datetime(2026, 5, 4, 15, 10, tzinfo=UTC)


def decoded(text: str, seen_at: datetime = SEEN) -> DecodedReport:
    return decode_report(text, seen_at=seen_at)


def lines(text: str) -> tuple[ForecastLine, ...]:
    found: tuple[ForecastLine, ...] = decoded(text).entries()["forecast_lines"]
    return found


def line(start: str, end: str, kind: str = "prevailing", **stated: Any) -> ForecastLine:
    """A line of May 2026; start and end as day and hour."""

    def at(text: str) -> datetime:
        return datetime(2026, 5, int(text[:2]), int(text[2:4]), int(text[4:] or 0), tzinfo=UTC)

    return ForecastLine(start_at=at(start), end_at=at(end), kind=LineKind(kind), **stated)


MAIN = "TAF XLRK 041130Z 0412/0512 24010KT P6SM SCT050"
CALM: dict[str, Any] = {
    "wind_kt": 10,
    "gust_kt": "none",
    "visibility_sm": 6,
    "ceiling_ft_agl": "none",
    "thunderstorm": False,
    "wind_from_deg": 240,
    "lowest_cloud_ft_agl": 5000,
    "precipitation": "none",
}


def test_one_line() -> None:
    assert lines(MAIN) == (line("0412", "0512", **CALM),)
    assert decoded(MAIN).entries()["forecast_issued_at"] == datetime(2026, 5, 4, 11, 30, tzinfo=UTC)
    assert decoded(MAIN).entries()["pasted_forecast"] == MAIN
    assert decoded(MAIN).problems == ()


def test_from_begins_anew() -> None:
    assert lines(MAIN + " FM041830 26015G25KT 5SM BKN040 OVC090") == (
        line("0412", "041830", **CALM),
        line(
            "041830",
            "0512",
            wind_kt=15,
            gust_kt=25,
            visibility_sm=5,
            ceiling_ft_agl=4000,
            thunderstorm=False,
            wind_from_deg=260,
            lowest_cloud_ft_agl=4000,
            precipitation="none",
        ),
    )


def test_what_from_does_not_state_stays_blank_in_its_line() -> None:
    assert lines(MAIN + " FM041800 26015KT")[1] == line(
        "0418", "0512", wind_kt=15, gust_kt="none", thunderstorm=False, wind_from_deg=260, precipitation="none"
    )


def test_becoming_worse_counts_from_its_start() -> None:
    worse: dict[str, Any] = {
        "wind_kt": 20,
        "gust_kt": 32,
        "visibility_sm": 3,
        "ceiling_ft_agl": 900,
        "thunderstorm": True,
        "wind_from_deg": 240,
        "lowest_cloud_ft_agl": 900,
        "precipitation": "moderate",
    }
    assert lines(MAIN + " BECMG 0418/0420 24020G32KT 3SM TSRA OVC009") == (
        line("0412", "0418", **CALM),
        line("0418", "0420", **worse),
        line("0420", "0512", **worse),
    )


def test_becoming_better_counts_from_its_end() -> None:
    bad: dict[str, Any] = {
        "wind_kt": 20,
        "gust_kt": 32,
        "visibility_sm": 2,
        "ceiling_ft_agl": 900,
        "thunderstorm": True,
        "wind_from_deg": 240,
        "lowest_cloud_ft_agl": 900,
        "precipitation": "moderate",
    }
    text = "TAF XLRK 041130Z 0412/0512 24020G32KT 2SM TSRA OVC009 BECMG 0418/0420 24010KT P6SM NSW SCT050"
    assert lines(text) == (line("0412", "0420", **bad).model_copy(update={"end_at": datetime(2026, 5, 4, 18, tzinfo=UTC)}), line("0418", "0420", **bad), line("0420", "0512", **CALM))  # fmt: skip


def test_becoming_keeps_what_it_does_not_state() -> None:
    assert lines(MAIN + " BECMG 0418/0420 BKN020") == (
        line("0412", "0418", **CALM),
        line("0418", "0420", **(CALM | {"ceiling_ft_agl": 2000, "lowest_cloud_ft_agl": 2000})),
        line("0420", "0512", **(CALM | {"ceiling_ft_agl": 2000, "lowest_cloud_ft_agl": 2000})),
    )


def test_while_becoming_what_was_not_known_stays_unknown() -> None:
    # Before the change nothing was said of the ceiling: during it, that is not known either.
    text = "TAF XLRK 041130Z 0412/0512 24010KT P6SM BECMG 0418/0420 SCT050"
    assert [found.ceiling_ft_agl for found in lines(text)] == [None, None, "none"]


@pytest.mark.parametrize("lead", ["TEMPO", "PROB30", "PROB40 TEMPO", "INTER"])
def test_temporary_lines_state_only_what_they_say(lead: str) -> None:
    assert lines(f"{MAIN} {lead} 0420/0424 2SM TSRA BKN015CB") == (
        line("0412", "0512", **CALM),
        line(
            "0420",
            "0500",
            "temporary",
            visibility_sm=2,
            ceiling_ft_agl=1500,
            thunderstorm=True,
            lowest_cloud_ft_agl=1500,
            precipitation="moderate",
        ),
    )


@pytest.mark.parametrize(
    ("groups", "stated"),
    [
        (
            "24005MPS 9999 FEW040",
            {
                "wind_kt": 10,
                "gust_kt": "none",
                "visibility_sm": 6.2,
                "ceiling_ft_agl": "none",
                "wind_from_deg": 240,
                "lowest_cloud_ft_agl": 4000,
            },
        ),
        (
            "VRB03KT CAVOK",
            {
                "wind_kt": 3,
                "gust_kt": "none",
                "visibility_sm": 6.2,
                "ceiling_ft_agl": "none",
                "wind_from_deg": "variable",
                "lowest_cloud_ft_agl": "none",
            },
        ),
        (
            "00000KT 1 1/2SM BR VV003",
            {
                "wind_kt": 0,
                "gust_kt": "none",
                "visibility_sm": 1.5,
                "ceiling_ft_agl": 300,
                "wind_from_deg": 0,
                "lowest_cloud_ft_agl": 300,
            },
        ),
        (
            "24010KT 3/4SM FG OVC002",
            {
                "wind_kt": 10,
                "gust_kt": "none",
                "visibility_sm": 0.75,
                "ceiling_ft_agl": 200,
                "wind_from_deg": 240,
                "lowest_cloud_ft_agl": 200,
            },
        ),
        (
            "24010KT M1/4SM FG VV001",
            {
                "wind_kt": 10,
                "gust_kt": "none",
                "visibility_sm": 0,
                "ceiling_ft_agl": 100,
                "wind_from_deg": 240,
                "lowest_cloud_ft_agl": 100,
            },
        ),
        (
            "24010KT 0800 FG BKN001",
            {
                "wind_kt": 10,
                "gust_kt": "none",
                "visibility_sm": 0.5,
                "ceiling_ft_agl": 100,
                "wind_from_deg": 240,
                "lowest_cloud_ft_agl": 100,
            },
        ),
        (
            "24010KT P6SM SKC",
            {
                "wind_kt": 10,
                "gust_kt": "none",
                "visibility_sm": 6,
                "ceiling_ft_agl": "none",
                "wind_from_deg": 240,
                "lowest_cloud_ft_agl": "none",
            },
        ),
        (
            "24010KT 9999 NSC",
            {
                "wind_kt": 10,
                "gust_kt": "none",
                "visibility_sm": 6.2,
                "ceiling_ft_agl": "none",
                "wind_from_deg": 240,
                "lowest_cloud_ft_agl": "none",
            },
        ),
        (
            "24010KT 10SM OVC100 BKN020",
            {
                "wind_kt": 10,
                "gust_kt": "none",
                "visibility_sm": 10,
                "ceiling_ft_agl": 2000,
                "wind_from_deg": 240,
                "lowest_cloud_ft_agl": 2000,
            },
        ),
    ],
)
def test_quantities(groups: str, stated: dict[str, Any]) -> None:
    assert lines(f"TAF XLRK 041130Z 0412/0512 {groups}") == (
        line("0412", "0512", **stated, thunderstorm=False, precipitation="none"),
    )


@pytest.mark.parametrize("group", ["TS", "TSRA", "-TSRA", "VCTS", "FEW030CB"])
def test_thunderstorms(group: str) -> None:
    (found,) = lines(f"TAF XLRK 041130Z 0412/0512 24010KT P6SM {group} SCT050")
    assert found.thunderstorm is True


@pytest.mark.parametrize(
    ("groups", "falls"),
    [("-SHRA", "light"), ("RA", "moderate"), ("+TSRA", "heavy"), ("VCSH", "light"), ("BR", "none"), ("BLSN", "none")],
)
def test_what_falls(groups: str, falls: str) -> None:
    (found,) = lines(f"{MAIN} {groups}")
    assert found.precipitation == falls
    assert ({"-SHRA", "RA", "+TSRA"} & {groups}) or groups in decoded(f"{MAIN} {groups}").unread


def test_the_lowest_cloud_is_that_of_any_amount() -> None:
    (found,) = lines("TAF XLRK 041130Z 0412/0512 24010KT P6SM SCT015 BKN040")
    assert (found.lowest_cloud_ft_agl, found.ceiling_ft_agl) == (1500, 4000)


def test_a_wind_that_turns_may_come_from_anywhere_while_it_does() -> None:
    found = lines(MAIN + " BECMG 0418/0420 33010KT")
    assert [each.wind_from_deg for each in found] == [240, "variable", 330]


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("SCT050", "BKN0O5", "'BKN0O5' is not read"),
        ("SCT050", "BKN///", "'BKN///' is not read"),
        ("SCT050", "SKC BKN020", "understood in two ways"),
        ("24010KT", "240155KT", "'240155KT' is not read"),
        ("24010KT", "24020G15KT", "below the wind"),
        ("24010KT", "240P49MPS", "'240P49MPS' is not read"),
        ("24010KT", "24010KT 25010KT", "gives the wind twice"),
        ("P6SM", "P6SM 5SM", "gives the visibility twice"),
        ("0412/0512", "041212", "validity"),
        ("0412/0512", "0412/0712", "do not fit"),
        ("0412/0512", "0412/0412", "no length"),
        ("0412/0512", "2012/2112", "does not exist near"),
        ("0412/0512", "0425/0512", "does not exist near"),
        ("041130Z", "041130", "time of issue"),
        ("041130Z", "321130Z", "does not exist"),
        ("041130Z ", "", "time of issue"),
        ("XLRK", "XLRK NIL", "CNL or NIL"),
        ("SCT050", "SCT050 CNL", "CNL or NIL"),
        ("SCT050", "SCT050 TEMPO 2SM RA", "not followed by its times"),
        ("SCT050", "SCT050 TEMPO 0418", "not followed by its times"),
        ("SCT050", "SCT050 TEMPO 0518/0520 2SM", "outside the validity"),
        ("SCT050", "SCT050 FM061800 2SM", "outside the validity"),
        ("SCT050", "SCT050 FM042560 2SM", "does not exist near"),
        ("SCT050", "SCT050 BECMG 0418/0422 2SM BECMG 0420/0424 3SM", "before an earlier change has ended"),
        ("SCT050", "SCT050 FM042000 24010KT FM041800 24010KT", "before an earlier change has ended"),
        ("SCT050", "SCT050 BECMG 0422/0420 2SM", "does not exist near"),
    ],
)
def test_a_forecast_that_is_not_understood_gives_no_line(old: str, new: str, words: str) -> None:
    found = decoded(MAIN.replace(old, new))
    assert "forecast_lines" not in found.entries()
    assert any(words in sentence for sentence in found.problems), found.problems
    assert set(MAIN.replace(old, new).split()[1:]) <= set(found.unread)


@pytest.mark.parametrize(
    ("groups", "problem"),
    [
        ("TX22/0421Z TN04/0511Z", ""),
        ("QNH2992INS", ""),
        ("510204", ""),
        ("WS020/24045KT", "Wind shear is forecast"),
        ("-FZRA", "Freezing precipitation is forecast"),
        ("BR", ""),
    ],
)
def test_groups_that_no_line_holds_are_shown(groups: str, problem: str) -> None:
    found = decoded(f"{MAIN} {groups}")
    assert len(found.entries()["forecast_lines"]) == 1
    assert set(groups.split()) <= set(found.unread)
    assert not problem or problem in found.problems[0]


@pytest.mark.parametrize("head", ["TAF", "TAF TAF", "TAF AMD", "TAF COR"])
def test_heads(head: str) -> None:
    assert lines(MAIN.replace("TAF", head)) == (line("0412", "0512", **CALM),)


def test_remarks_are_shown() -> None:
    assert decoded(MAIN + " RMK NXT FCST BY 18Z=").unread == ("NXT", "FCST", "BY", "18Z")


def test_dates_across_the_end_of_a_month_and_year() -> None:
    text = "TAF XLRK 312330Z 0100/0206 24010KT P6SM SCT050 FM011800 25010KT P6SM SCT050 TEMPO 0200/0203 2SM"
    found = decode_report(text, seen_at=datetime(2027, 1, 1, 0, 30, tzinfo=UTC)).entries()
    assert found["forecast_issued_at"] == datetime(2026, 12, 31, 23, 30, tzinfo=UTC)
    assert [entry.start_at for entry in found["forecast_lines"]] == [
        datetime(2027, 1, 1, 0, tzinfo=UTC),
        datetime(2027, 1, 1, 18, tzinfo=UTC),
        datetime(2027, 1, 2, 0, tzinfo=UTC),
    ]
    assert found["forecast_lines"][1].end_at == datetime(2027, 1, 2, 6, tzinfo=UTC)


def test_report_and_forecast_in_one_paste() -> None:
    report = "METAR XLRK 041453Z 24012KT 10SM FEW045 18/07 A3005"
    for text in (f"{report}\n{MAIN}", f"{MAIN}=\n{report}=", f"{MAIN} {report}"):
        found = decoded(text).entries()
        assert found["wind_kt"] == 12
        assert len(found["forecast_lines"]) == 1
        assert found["pasted_report"].startswith("METAR")


def test_two_forecasts_are_one_too_many() -> None:
    found = decoded(f"{MAIN}\n{MAIN.replace('24010KT', '24020KT')}")
    assert found.fields == ()
    assert "more than one forecast" in found.problems[0]


_PIECES = [*MAIN.split(), "FM041800", "TEMPO", "BECMG", "PROB30", "0418/0420", "0420/0424", "BKN020", "3SM", "TSRA", "VV002", "NSW", "CAVOK", "RMK", "=", "1", "1/2SM", "24005MPS"]  # fmt: skip


@given(st.lists(st.sampled_from(_PIECES) | st.text(max_size=8), max_size=16))
def test_no_forecast_raises(pieces: list[str]) -> None:
    found = decoded("TAF XLRK 041130Z 0412/0512 " + " ".join(pieces))
    Worksheet().but(**found.entries())


@given(
    st.lists(st.sampled_from(["24020G30KT", "P6SM", "1SM", "OVC004", "SCT050", "TSRA", "NSW"]), unique=True, max_size=4)
)
def test_while_becoming_nothing_is_better_than_before_or_after(change: list[str]) -> None:
    text = f"TAF XLRK 041130Z 0412/0512 24010KT 3SM BKN020 BECMG 0418/0420 {' '.join(change)}"
    found = decoded(text).entries().get("forecast_lines")
    if found is None:
        return
    before, during, after = found
    height = {"none": float("inf")}
    for side in (before, after):
        assert during.wind_kt >= side.wind_kt
        assert during.visibility_sm <= side.visibility_sm
        assert height.get(during.ceiling_ft_agl, during.ceiling_ft_agl) <= height.get(
            side.ceiling_ft_agl, side.ceiling_ft_agl
        )
        assert during.thunderstorm >= side.thunderstorm
        assert height.get(during.lowest_cloud_ft_agl, during.lowest_cloud_ft_agl) <= height.get(
            side.lowest_cloud_ft_agl, side.lowest_cloud_ft_agl
        )
        assert list(Precipitation).index(during.precipitation) >= list(Precipitation).index(side.precipitation)
        assert during.wind_from_deg in {side.wind_from_deg, "variable"}
