"""METAR text -> proposed entries: a table of reports, each read by hand from the published form.

Stations and reports are invented (XLRK and XCBR are no assigned codes). The forms are those of
WMO-No. 306 FM 15 and FMH-1.
"""

# ruff: noqa: E501  - the rows of a table are read across, one case a line

from datetime import UTC, datetime, timedelta, timezone
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from riskboard.words import Precipitation
from riskboard.worksheet import FIELD_PART, Worksheet
from riskboard.worksheet.report import MAX_REPORT_CHARACTERS, DecodedReport, decode_report

SEEN = datetime(2026, 5, 4, 15, 10, tzinfo=UTC)
OBSERVED = datetime(2026, 5, 4, 14, 53, tzinfo=UTC)
ALWAYS = {"observed_at", "pasted_report"}

# The sound middle of a report; each row below changes one thing in it.
SOUND = "METAR XLRK 041453Z 24012KT 10SM FEW045 18/07 A3005"
SOUND_ENTRIES = {
    "wind_from_deg": 240,
    "wind_kt": 12,
    "gust_kt": "none",
    "wind_variable_from_deg": "none",
    "wind_variable_to_deg": "none",
    "visibility_sm": 10,
    "ceiling_ft_agl": "none",
    "lowest_cloud_ft_agl": 4500,
    "temperature_c": 18,
    "dew_point_c": 7,
    "altimeter_inhg": 30.05,
    "precipitation": Precipitation.none,
    "freezing_precipitation": False,
    "fog_or_mist": False,
}


def decoded(text: str, seen_at: datetime = SEEN) -> DecodedReport:
    return decode_report(text, seen_at=seen_at)


def entries(text: str) -> dict[str, Any]:
    return {name: value for name, value in decoded(text).entries().items() if name not in ALWAYS}


def changed(old: str, new: str) -> str:
    assert old in SOUND
    return SOUND.replace(old, new)


def test_a_sound_report_gives_every_entry_it_can() -> None:
    assert entries(SOUND) == SOUND_ENTRIES
    assert decoded(SOUND).observed_at == OBSERVED
    assert decoded(SOUND).unread == ()
    assert decoded(SOUND).station == "XLRK"


# what is changed, into what, entries that differ from the sound ones (None: left blank), a word of the problem, unread
TABLE: list[tuple[str, str, dict[str, Any], str, set[str]]] = [
    # ---- wind
    ("24012KT", "24012G20KT", {"gust_kt": 20}, "", set()),
    ("24012KT", "24012G20KT 210V270", {"gust_kt": 20, "wind_variable_from_deg": 210, "wind_variable_to_deg": 270}, "", set()),
    ("24012KT", "VRB03KT", {"wind_from_deg": "variable", "wind_kt": 3}, "", set()),
    ("24012KT", "00000KT", {"wind_from_deg": 0, "wind_kt": 0}, "", set()),
    ("24012KT", "36008KT", {"wind_from_deg": 360, "wind_kt": 8}, "", set()),
    ("24012KT", "24005MPS", {"wind_kt": 10}, "", set()),  # 5 m/s = 9.72 kt
    ("24012KT", "24008G12MPS", {"wind_kt": 16, "gust_kt": 23}, "", set()),  # 15.55 and 23.33 kt
    ("24012KT", "24020KMH", {"wind_kt": 11}, "", set()),  # 10.80 kt
    ("24012KT", "240100KT", {"wind_kt": 100}, "", set()),
    ("24012KT", "240155KT", {"wind_from_deg": None, "wind_kt": None, "gust_kt": None, "wind_variable_from_deg": None, "wind_variable_to_deg": None}, "Wind: 155", {"240155KT"}),
    ("24012KT", "24020G15KT", {"wind_from_deg": None, "wind_kt": None, "gust_kt": None, "wind_variable_from_deg": None, "wind_variable_to_deg": None}, "gusts to 15 kt are below", {"24020G15KT"}),
    ("24012KT", "24512KT", {"wind_from_deg": None}, "wind direction", set()),
    ("24012KT", "37012KT", dict.fromkeys(SOUND_ENTRIES), "could not be decoded", {"37012KT", "18/07"}),
    ("24012KT", "00012KT", {"wind_from_deg": None}, "wind direction", set()),
    ("24012KT", "24012KT 210V210", {"wind_variable_from_deg": None, "wind_variable_to_deg": None}, "range of wind directions", {"210V210"}),
    ("24012KT", "24012KT 210V400", dict.fromkeys(SOUND_ENTRIES), "could not be decoded", {"210V400", "18/07"}),
    ("24012KT", "24012KT 213V270", {"wind_variable_from_deg": None, "wind_variable_to_deg": None}, "range of wind directions", {"213V270"}),
    ("24012KT", "/////KT", dict.fromkeys(("wind_from_deg", "wind_kt", "gust_kt", "wind_variable_from_deg", "wind_variable_to_deg")), "wind group '/////KT'", {"/////KT"}),
    ("24012KT", "240P99KT", dict.fromkeys(("wind_from_deg", "wind_kt", "gust_kt", "wind_variable_from_deg", "wind_variable_to_deg")), "beyond what the station can measure", {"240P99KT"}),
    ("24012KT", "24060GP99KT", dict.fromkeys(("wind_from_deg", "wind_kt", "gust_kt", "wind_variable_from_deg", "wind_variable_to_deg")), "beyond what the station can measure", {"24060GP99KT"}),
    ("24012KT ", "", dict.fromkeys(("wind_from_deg", "wind_kt", "gust_kt", "wind_variable_from_deg", "wind_variable_to_deg")), "No wind group", set()),
    # ---- visibility
    ("10SM", "1 1/2SM", {"visibility_sm": 1.5}, "", set()),
    ("10SM", "3/4SM", {"visibility_sm": 0.75}, "", set()),
    ("10SM", "1/16SM", {"visibility_sm": 0.0625}, "", set()),
    ("10SM", "M1/4SM", {"visibility_sm": 0}, "", set()),  # less than the least reported: the bound below
    ("10SM", "P6SM", {"visibility_sm": 6}, "", set()),
    ("10SM", "0800", {"visibility_sm": 0.5}, "", set()),
    ("10SM", "5000", {"visibility_sm": 3.1}, "", set()),
    ("10SM", "1500", {"visibility_sm": 0.95}, "", set()),
    ("10SM", "9999", {"visibility_sm": 6.2}, "", set()),
    ("10SM", "9999NDV", {"visibility_sm": 6.2}, "", set()),
    ("10SM", "6000 1400SW", {"visibility_sm": 0.85}, "", {"6000"}),  # the worst sector counts
    ("10SM", "10SM R04/2600FT", {}, "", {"R04/2600FT"}),
    ("10SM", "////SM", {"visibility_sm": None}, "visibility group '////SM'", {"////SM"}),
    ("10SM ", "", {"visibility_sm": None}, "No visibility group", set()),
    # ---- cloud
    ("FEW045", "SCT025 BKN040 OVC080", {"ceiling_ft_agl": 4000, "lowest_cloud_ft_agl": 2500}, "", {"OVC080"}),
    ("FEW045", "OVC005", {"ceiling_ft_agl": 500, "lowest_cloud_ft_agl": 500}, "", set()),
    ("FEW045", "VV002", {"ceiling_ft_agl": 200, "lowest_cloud_ft_agl": 200}, "", set()),
    ("FEW045", "BKN000", {"ceiling_ft_agl": 0, "lowest_cloud_ft_agl": 0}, "", set()),
    ("FEW045", "CLR", {"lowest_cloud_ft_agl": "none"}, "", set()),
    ("FEW045", "SKC", {"lowest_cloud_ft_agl": "none"}, "", set()),
    ("FEW045", "NSC", {"lowest_cloud_ft_agl": "none"}, "", set()),
    ("FEW045", "BKN020CB", {"ceiling_ft_agl": 2000, "lowest_cloud_ft_agl": 2000}, "Signs of one: 'BKN020CB'", set()),
    ("FEW045", "BKN020///", {"ceiling_ft_agl": 2000, "lowest_cloud_ft_agl": 2000}, "", set()),
    ("FEW045", "CLR FEW020", {"ceiling_ft_agl": None, "lowest_cloud_ft_agl": None}, "clear and is not", {"CLR", "FEW020"}),
    ("FEW045", "FEW020 BKN///", {"ceiling_ft_agl": None, "lowest_cloud_ft_agl": None}, "cloud group 'BKN///'", {"FEW020", "BKN///"}),
    ("FEW045", "VV///", {"ceiling_ft_agl": None, "lowest_cloud_ft_agl": None}, "cloud group 'VV///'", {"VV///"}),
    ("FEW045", "//////", {"ceiling_ft_agl": None, "lowest_cloud_ft_agl": None}, "cloud group '//////'", {"//////"}),
    ("FEW045 ", "", {"ceiling_ft_agl": None, "lowest_cloud_ft_agl": None}, "No cloud group", set()),
    ("10SM FEW045", "CAVOK", {"visibility_sm": 6.2, "lowest_cloud_ft_agl": "none"}, "", set()),
    # ---- temperature and dew point
    ("18/07", "M02/M11", {"temperature_c": -2, "dew_point_c": -11}, "", set()),
    ("18/07", "M00/M00", {"temperature_c": 0, "dew_point_c": 0}, "", set()),
    ("18/07", "99/07", {"temperature_c": None, "dew_point_c": None}, "Temperature: 99", {"99/07"}),
    ("18/07", "07/18", {"temperature_c": None, "dew_point_c": None}, "below the dew point", {"07/18"}),
    ("18/07", "18/", {"temperature_c": None, "dew_point_c": None}, "'18/'", {"18/"}),
    ("18/07", "18///", {"temperature_c": None, "dew_point_c": None}, "'18///'", {"18///"}),
    ("18/07", "/////", {"temperature_c": None, "dew_point_c": None}, "", {"/////"}),
    ("18/07 ", "", {"temperature_c": None, "dew_point_c": None}, "No temperature and dew point group", set()),
    # ---- altimeter
    ("A3005", "Q1013", {"altimeter_inhg": 29.91}, "", set()),
    ("A3005", "A9992", {"altimeter_inhg": None}, "Altimeter setting: 99.92", {"A9992"}),
    ("A3005", "Q0299", {"altimeter_inhg": None}, "Altimeter setting: 299", {"Q0299"}),
    ("A3005", "A////", {"altimeter_inhg": None}, "'A////'", {"A////"}),
    (" A3005", "", {"altimeter_inhg": None}, "No altimeter setting group", set()),
    # ---- present weather
    ("FEW045", "-RA FEW045", {"precipitation": Precipitation.light}, "", set()),
    ("FEW045", "RA BR FEW045", {"precipitation": Precipitation.moderate, "fog_or_mist": True}, "", set()),
    ("FEW045", "+SHRA FEW045", {"precipitation": Precipitation.heavy}, "", set()),
    ("FEW045", "-FZRA FEW045", {"precipitation": Precipitation.light, "freezing_precipitation": True}, "", set()),
    ("FEW045", "FZDZ FEW045", {"precipitation": Precipitation.moderate, "freezing_precipitation": True}, "", set()),
    ("FEW045", "PL FEW045", {"precipitation": Precipitation.moderate, "freezing_precipitation": True}, "", set()),
    ("FEW045", "-UP FEW045", {"precipitation": Precipitation.light, "freezing_precipitation": None}, "cannot rule it out", set()),
    ("FEW045", "FZFG FEW045", {"fog_or_mist": True}, "", set()),
    ("FEW045", "VCFG FEW045", {"fog_or_mist": True}, "", set()),
    ("FEW045", "MIFG FEW045", {"fog_or_mist": True}, "", set()),
    ("FEW045", "HZ FEW045", {}, "", set()),
    ("FEW045", "VCSH FEW045", {"precipitation": None, "freezing_precipitation": None}, "Showers in the vicinity", set()),
    ("FEW045", "BLSN FEW045", {}, "no entry of the worksheet holds it: 'BLSN'", set()),
    ("FEW045", "TSRA FEW045", {"precipitation": Precipitation.moderate, "thunderstorm_nm": 0}, "", set()),
    ("FEW045", "TS FEW045", {"thunderstorm_nm": 0}, "", set()),
    ("FEW045", "VCTS FEW045", {"thunderstorm_nm": 5}, "", set()),
    ("FEW045", "+FC FEW045", {}, "no entry of the worksheet holds it: '+FC'", set()),
    ("FEW045", "// FEW045", dict.fromkeys(("precipitation", "freezing_precipitation", "fog_or_mist")), "did not observe", {"//"}),
    # ---- remarks, trends, endings
    ("A3005", "A3005 RMK AO2 SLP132 T01830067", {"temperature_c": 18.3, "dew_point_c": 6.7}, "", {"AO2", "SLP132"}),
    ("18/07 A3005", "M02/M11 A3005 RMK T10211106", {"temperature_c": -2.1, "dew_point_c": -10.6}, "", set()),
    ("A3005", "A3005 RMK T02830067", {"temperature_c": None, "dew_point_c": None}, "Temperatures disagree", {"18/07", "T02830067"}),
    ("A3005", "A3005 RMK AO2 $", {}, "", {"AO2", "$"}),
    ("A3005", "A3005 $", {}, "", {"$"}),
    ("A3005", "A3005=", {}, "", set()),
    ("A3005", "A3005 RMK AO2 LTG DSNT W", {}, "Signs of one: 'LTG'", {"LTG", "DSNT", "W"}),
    ("A3005", "A3005 RMK PWINO", dict.fromkeys(("precipitation", "freezing_precipitation", "fog_or_mist")), "PWINO", {"PWINO"}),
    ("A3005", "A3005 RMK FZRANO", {"freezing_precipitation": None}, "cannot rule it out", {"FZRANO"}),
    ("A3005", "Q1018 NOSIG", {"altimeter_inhg": 30.06}, "", {"NOSIG"}),
    ("A3005", "Q1018 TEMPO 2000 TSRA BKN008CB", {"altimeter_inhg": 30.06}, "", {"TEMPO", "2000", "TSRA", "BKN008CB"}),
    ("A3005", "Q1018 WS R24", {"altimeter_inhg": 30.06}, "Wind shear", {"WS", "R24"}),
    ("A3005", "A3005 RERA", {}, "", {"RERA"}),
    ("METAR", "SPECI", {}, "", set()),
    ("METAR", "METAR COR", {}, "", set()),
    ("METAR ", "", {}, "", set()),
    ("041453Z", "041453Z AUTO", dict.fromkeys(("precipitation", "freezing_precipitation", "fog_or_mist")), "without AO2", set()),
    ("A3005", "Q1018", {"altimeter_inhg": 30.06}, "", set()),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "different", "problem", "unread"), TABLE)
def test_each_report_of_the_table(
    old: str, new: str, different: dict[str, Any], problem: str, unread: set[str]
) -> None:
    text = changed(old, new)
    expected = {name: value for name, value in (SOUND_ENTRIES | different).items() if value is not None}
    found = decoded(text)
    assert entries(text) == expected
    assert unread <= set(found.unread)
    assert not problem or any(problem in sentence for sentence in found.problems)


def test_the_table_is_long_enough_and_its_reports_differ() -> None:
    assert len({changed(old, new) for old, new, *_ in TABLE}) == len(TABLE) >= 60


ABSENCE = (
    "gust_kt", "wind_variable_from_deg", "wind_variable_to_deg", "ceiling_ft_agl", "lowest_cloud_ft_agl", "precipitation",
    "freezing_precipitation", "fog_or_mist",
)  # fmt: skip


@pytest.mark.parametrize(
    "strange", ["OVC0O5", "0VC005", "BKN5", "WHT", "XYZ", "9O99", "A30O5", "-RAX", "24015KT", "1/0", "R24"]
)
def test_one_strange_group_withholds_every_answer_that_rests_on_absence(strange: str) -> None:
    text = changed("FEW045", f"FEW045 {strange}")
    found = decoded(text)
    if strange == "R24":  # the name of a runway: nothing to read, nothing to doubt
        assert entries(text) == SOUND_ENTRIES
    else:
        assert entries(text) == {name: value for name, value in SOUND_ENTRIES.items() if name not in ABSENCE}
        assert any(f"Not read: '{strange}'" in sentence for sentence in found.problems)
    assert strange in found.unread


def test_an_automatic_us_station_with_ao2_tells_precipitation() -> None:
    text = SOUND.replace("041453Z", "041453Z AUTO") + " RMK AO2"
    assert entries(text) == SOUND_ENTRIES


def test_no_thunderstorm_in_a_report_is_never_the_answer_none() -> None:
    for text in (SOUND, changed("10SM FEW045", "CAVOK")):
        assert "thunderstorm_nm" not in entries(text)
        assert any("Nearest thunderstorm is left blank" in sentence for sentence in decoded(text).problems)


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("", "no text"),
        ("   \n ", "no text"),
        ("METAR", "no METAR"),
        ("METAR XLRK", "no METAR"),
        ("METAR XLRK 24012KT 10SM", "is not of the form 041453Z"),
        ("METAR XLRK 321453Z 24012KT 10SM FEW045 18/07 A3005", "does not exist"),
        ("METAR XLRK 042553Z 24012KT 10SM FEW045 18/07 A3005", "does not exist"),
        ("METAR XLRK 041453Z NIL", "NIL"),
        ("the weather is fine", "no METAR"),
        (SOUND + "\n" + SOUND.replace("0414", "0413"), "more than one report"),
        (SOUND + "=" + " XCBR 041453Z 24012KT=", "more than one report"),
    ],
)
def test_what_is_no_report_gives_no_entry(text: str, problem: str) -> None:
    found = decoded(text)
    assert not {name for name in found.entries() if name not in ALWAYS}
    assert found.observed_at is None
    assert any(problem in sentence for sentence in found.problems)


@pytest.mark.parametrize(
    ("seen_at", "stamp", "observed"),
    [
        ((2026, 5, 4, 15, 10), "041453Z", (2026, 5, 4, 14, 53)),
        ((2026, 5, 1, 0, 20), "302353Z", (2026, 4, 30, 23, 53)),
        ((2026, 3, 1, 0, 20), "282353Z", (2026, 2, 28, 23, 53)),
        ((2028, 3, 1, 0, 20), "292353Z", (2028, 2, 29, 23, 53)),
        ((2027, 1, 1, 0, 20), "312353Z", (2026, 12, 31, 23, 53)),
        ((2026, 3, 5, 12, 0), "311200Z", (2026, 1, 31, 12, 0)),  # February has no 31st
        ((2026, 5, 4, 17, 56), "041800Z", (2026, 5, 4, 18, 0)),  # stamped ahead by a few minutes
        ((2026, 5, 4, 17, 30), "041800Z", (2026, 4, 4, 18, 0)),  # half an hour ahead is last month, and so too old
        ((2026, 4, 30, 23, 50), "010000Z", (2026, 5, 1, 0, 0)),
    ],
)
def test_month_and_year_come_from_the_moment_it_was_seen(
    seen_at: tuple[int, ...], stamp: str, observed: tuple[int, ...]
) -> None:
    seen = datetime(*seen_at, tzinfo=UTC)  # type: ignore[misc,arg-type]
    found = decoded(SOUND.replace("041453Z", stamp), seen)
    assert found.observed_at == datetime(*observed, tzinfo=UTC)  # type: ignore[misc,arg-type]
    assert found.observed_at.tzinfo is UTC
    if seen - found.observed_at > timedelta(hours=3):
        assert any("h old, or its day is wrong" in sentence for sentence in found.problems)
    if seen < found.observed_at:
        assert any("ahead of now" in sentence for sentence in found.problems)


def test_the_moment_it_was_seen_needs_a_zone_and_may_be_in_any() -> None:
    with pytest.raises(ValueError, match="time zone"):
        decoded(SOUND, SEEN.replace(tzinfo=None))
    assert decoded(SOUND, SEEN.astimezone(timezone(timedelta(hours=-6)))) == decoded(SOUND)


def test_a_huge_text_is_refused_at_once() -> None:
    found = decoded("METAR XLRK 041453Z " + "RA " * 350_000)
    assert found.fields == ()
    assert found.unread == ()
    assert f"at most {MAX_REPORT_CHARACTERS} are read" in found.problems[0]
    assert len(decoded("A" * MAX_REPORT_CHARACTERS).problems[0]) < 200


def test_every_proposal_is_a_weather_entry_that_the_worksheet_takes() -> None:
    found = decoded(changed("24012KT", "24012G20KT 210V270"))
    assert all(FIELD_PART[proposal.field] == "weather" for proposal in found.fields)
    sheet = Worksheet().but(**found.entries())
    assert all(sheet.value(proposal.field) == proposal.value for proposal in found.fields)
    assert {p.field: p.from_group for p in found.fields}["gust_kt"] == "24012G20KT"


def test_lower_case_and_line_breaks_are_fine() -> None:
    assert entries(SOUND.lower().replace(" ", "\n ")) == SOUND_ENTRIES


_PIECES = [piece for old, new, *_ in TABLE for piece in new.split()] + [
    "METAR",
    "TAF",
    "RMK",
    "041453Z",
    "XLRK",
    "=",
    "$",
]


@given(st.lists(st.sampled_from(_PIECES) | st.text(max_size=12), max_size=14))
def test_no_text_raises_and_no_group_vanishes(pieces: list[str]) -> None:
    text = " ".join(pieces)
    found = decoded(text)
    sheet = Worksheet().but(**found.entries())
    assert sheet.weather.observed_at == found.observed_at
    assert all(group.isprintable() for group in found.unread)


@given(st.lists(st.sampled_from(_PIECES), max_size=8))
def test_a_group_is_used_or_shown(pieces: list[str]) -> None:
    text = "METAR XLRK 041453Z " + " ".join(piece for piece in pieces if piece not in {"METAR", "SPECI", "TAF"})
    if "=" in text:
        return
    found = decoded(text)
    used = {
        group
        for proposal in found.fields
        if proposal.from_group != "as pasted"
        for group in proposal.from_group.split()
    }
    harmless = {"METAR", "XLRK", "COR", "AUTO", "RMK", "041453Z"}
    shown = {part for group in found.unread for part in group.split()}
    assert set(text.split()) - used - shown - harmless == set()
