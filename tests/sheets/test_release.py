"""The release sheet and the kneeboard card: whole, one page, the same bytes, harmless, and nothing missing unsaid."""

import re
from collections.abc import Callable
from dataclasses import replace

import pypdfium2
import pytest

from riskboard.assessment.assess import CAUTION
from riskboard.sheets.canvas import PAPERS
from riskboard.sheets.kneeboard import kneeboard_pdf
from riskboard.sheets.release import SMALLEST, ReasonLine, ReleaseSheet, SignatureLine, plans, release_pdf
from riskboard.sheets.typeface import MARK
from riskboard.words import Decision
from tests.sheets.paper import page_sizes, text_of
from tests.sheets.samples import CODE, HOSTILE, SHEET, hostile

Maker = Callable[[ReleaseSheet, str], bytes]
MAKERS = pytest.mark.parametrize("make", [release_pdf, kneeboard_pdf])
PAPER = pytest.mark.parametrize("paper", list(PAPERS))


@MAKERS
@PAPER
def test_everything_is_on_one_page_of_the_paper_asked_for(make: Maker, paper: str) -> None:
    pdf = make(SHEET, paper)
    (size,) = page_sizes(pdf)
    wanted = PAPERS[paper] if make is release_pdf else PAPERS[paper][::-1]
    assert size == pytest.approx(wanted, abs=0.01)
    text = text_of(pdf)
    told = [
        "GO WITH SIGN-OFF", SHEET.standing, SHEET.valid, SHEET.level, "LRS-01", "Mara Oduya", "Tobin Reyes-Hall",
        "Circuits at Larkfield", SHEET.take_off, SHEET.landing, *SHEET.conditions, *SHEET.waivers, CODE, CAUTION,
        SHEET.alternative, SHEET.turn_back, SHEET.policy, SHEET.record, SHEET.printed, SHEET.receipt_said, *SHEET.notes,
        "Wendell Achterberg", "ook the conditions", "11:05 MDT", "2 reasons about the pilot's condition",
        *(reason.sentence for reason in SHEET.reasons), *(reason.mark for reason in SHEET.reasons),
        *(part for line in SHEET.loading for part in line), SHEET.loading_of,
        *(part for line in SHEET.limits for part in (line.what, line.counted_with, line.must_be)),
    ]  # fmt: skip
    assert [each for each in told if each not in text] == []
    assert "not on this paper" not in text


WIRES = (
    "Gust 21 kt or more: no-go.",
    "Landing 16:00 or later: no-go.",
    "Added weight 40 lb or more on left baggage: no-go.",
    "Thunderstorm 9 NM or nearer: no-go.",
    "Visibility 2.5 SM or less: no-go.",
    "Temperature 4 to 9 °C: go with sign-off.",
)
CALL = "The dispatcher on duty, who tells the customer with you; the number hangs beside the key board."


@PAPER
def test_the_card_says_what_would_stop_the_flight_and_whom_to_call(paper: str) -> None:
    """All six and the call, on the same one page, beside everything else that stands there."""
    pdf = kneeboard_pdf(replace(SHEET, wires=WIRES, wires_kept_back=1, call=CALL), paper)
    assert len(page_sizes(pdf)) == 1
    text = text_of(pdf)
    for told in (*WIRES, CALL, "If it is a no, call", "Stop and think again at", "known to the pilot", CODE, CAUTION):
        assert told in text, told
    assert "not on this paper" not in text
    assert "Stop and think again" not in text_of(kneeboard_pdf(SHEET, paper))


@MAKERS
def test_the_same_sheet_gives_the_same_bytes(make: Maker) -> None:
    assert make(SHEET, "a4") == make(replace(SHEET), "a4")
    assert make(SHEET, "a4") != make(replace(SHEET, record="Printed from record 15."), "a4")


def ink(pdf: bytes) -> bytes:
    """The corner of the page with the sign, drawn as black and white dots."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        bitmap = document[0].render(scale=2, crop=(40, 640, 430, 70), grayscale=True)
        return bytes(dot > 127 for dot in bytes(bitmap.buffer))
    finally:
        document.close()


def test_the_outcomes_differ_by_shape_and_by_word_without_any_colour() -> None:
    bare = replace(SHEET, headline="", standing="", valid="", level="", school="", title="", flight_id="")
    pdfs = [release_pdf(replace(bare, outcome=outcome), "letter") for outcome in (*Decision, None)]
    assert len({ink(pdf) for pdf in pdfs}) == len(Decision) + 1
    assert len({decision.phrase for decision in Decision}) == len(Decision)
    for pdf in pdfs:
        colours = re.findall(rb"([\d.]+) ([\d.]+) ([\d.]+) (?:rg|RG)\b", content(pdf))
        assert all(red == green == blue for red, green, blue in colours)


def content(pdf: bytes) -> bytes:
    import zlib  # noqa: PLC0415  - only this looks inside

    streams = re.findall(rb"stream\r?\n(.*?)\r?\nendstream", pdf, re.DOTALL)
    found = b""
    for stream in streams:
        try:
            found += zlib.decompress(stream)
        except zlib.error:
            continue
    return found


@pytest.mark.parametrize(
    ("name", "make"),
    [*((name, release_pdf) for name in HOSTILE), *((name, kneeboard_pdf) for name in ("long name", "markup", "marks"))],
)
def test_hostile_text_stays_text_on_one_page(name: str, make: Maker) -> None:
    pdf = make(hostile(HOSTILE[name]), "letter")
    assert len(page_sizes(pdf)) == 1
    text = text_of(pdf)
    assert "GO WITH SIGN-OFF" in text
    assert CODE in text
    assert CAUTION in text
    assert not re.search("[\x00-\x08\x0e-\x1f\u202a-\u202e\u2066-\u2069]", text)
    for action in (b"/JavaScript", b"/JS", b"/URI", b"/Launch", b"/AA", b"/EmbeddedFile", b"/OpenAction <<"):
        assert action not in pdf


@MAKERS
def test_markup_is_printed_as_typed(make: Maker) -> None:
    typed = "<b>GO</b> **x** [x](javascript:y) {nb} &lt; %s {0} \\n ) Tj ET ("
    assert typed in text_of(make(replace(SHEET, route=typed), "letter"))


@MAKERS
def test_what_is_not_on_the_paper_is_counted_on_it(make: Maker) -> None:
    crowded = replace(
        SHEET,
        reasons=tuple(ReasonLine("+1", f"Reason number {number} is here.") for number in range(60)),
        conditions=tuple(
            f"Condition {number}: " + "keep well away from the ridge and the wires there " * 5 for number in range(40)
        ),
        signatures=SHEET.signatures * 3,
    )
    text = text_of(make(crowded, "letter"))
    for what, printed, total in (
        ("reason", len(re.findall(r"Reason number \d+ is here", text)), 60),
        ("condition", len(re.findall(r"Condition \d+:", text)), 40),
    ):
        assert printed < total
        assert (
            f"{total - printed} more {what}s are not on this paper. Read the record of flight {SHEET.flight_id}."
            in text
        )
    assert CODE in text


def test_letters_shrink_before_anything_is_left_out_and_never_below_the_minimum() -> None:
    found = list(plans(SHEET, largest=10, reasons=10, limits=10))
    sizes = [plan.size for plan in found]
    assert sizes == sorted(sizes, reverse=True)
    assert min(sizes) == SMALLEST
    assert all(plan.reasons == len(SHEET.reasons) for plan in found if plan.size > SMALLEST)
    gone = [(plan.reasons, plan.limits, plan.signatures, plan.conditions) for plan in found]
    assert gone[-1] == (0, 0, 0, 0)
    first_condition_lost = next(i for i, counts in enumerate(gone) if counts[3] < len(SHEET.conditions))
    assert gone[first_condition_lost][:3] == (0, 0, 0)  # conditions go last


@MAKERS
def test_a_long_name_is_cut_with_a_word(make: Maker) -> None:
    text = text_of(make(replace(SHEET, pilot="N" * 10_000), "letter")).replace(" ", "")
    assert "(9,910morecharactersintherecord)" in text


@MAKERS
def test_a_character_that_cannot_be_printed_is_named(make: Maker) -> None:
    pdf = make(replace(SHEET, pilot="Ana \U0001f681"), "letter")
    assert "stands for what cannot be printed here: U+1F681 helicopter." in text_of(pdf)


def test_a_paper_that_is_no_release_looks_different() -> None:
    usable = replace(SHEET, standing="", valid="")
    void = replace(usable, void=("This paper is no release.",), outcome=None)
    assert ink(release_pdf(usable, "letter")) != ink(release_pdf(void, "letter"))
    assert "This paper is no release." in text_of(release_pdf(void, "letter"))


def test_names_of_many_scripts_stand_side_by_side() -> None:
    names = ["王小明 歐陽", "محمد بن عبد الرحمن", "अनुष्का श्रीवास्तव", "김철수", "Ελένη", "สมชาย ใจดี"]
    signed = tuple(SignatureLine(name, "pilot", "signed", "10:05 MDT", "11:05 MDT") for name in names)
    text = text_of(release_pdf(replace(SHEET, signatures=signed), "a4"))
    assert [word for name in names for word in name.split() if word not in text] == []
    assert MARK not in text


def test_no_line_lies_on_the_fold() -> None:
    """Drawn large: the band of paper around the middle of the page holds no ink between the margins."""
    crowded = replace(SHEET, reasons=tuple(ReasonLine("+1", f"Reason {number}.") for number in range(12)))
    document = pypdfium2.PdfDocument(release_pdf(crowded, "letter"))
    try:
        height = PAPERS["letter"][1]
        bitmap = document[0].render(scale=4, crop=(30, height / 2 - 2, 30, height / 2 - 2), grayscale=True)
        assert set(bytes(bitmap.buffer)) <= {255}
    finally:
        document.close()


def test_a_right_to_left_name_moves_no_time_on_the_card() -> None:
    signed = (SignatureLine("محمد بن عبد الرحمن", "pilot", "signed", "10:05 MDT", "11:05 MDT"),)
    text = text_of(kneeboard_pdf(replace(SHEET, signatures=signed, pilot="محمد"), "letter"))
    assert "Signed 10:05 MDT, until 11:05 MDT:" in text
    assert "LRS-01 · 10:30 MDT, Mon 04 May 2026 · محمد" in text
