"""Every script prints: a name of each is drawn without a mark, and comes back when the PDF is read."""

import unicodedata
from collections.abc import Iterator
from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from riskboard.sheets.canvas import LETTER, Canvas, in_visual_order
from riskboard.sheets.typeface import FONTS, MARK, clusters, faces, missing_note, printable, runs, shortened
from tests.sheets.paper import text_of

NAMES = {
    "latin": "Zoë Łukasiewicz",
    "vietnamese": "Nguyễn Thị Ánh Tuyết",
    "greek": "Ελένη Παπαδοπούλου",
    "cyrillic": "Ольга Щербакова",
    "armenian": "Արմեն Սարգսյան",
    "georgian": "ნინო ბერიძე",
    "hebrew": "יעל כהן",
    "arabic": "محمد بن عبد الرحمن",
    "persian": "می‌خواهم",
    "thaana": "އަހުމަދު",
    "devanagari": "अनुष्का श्रीवास्तव",
    "bengali": "অনিন্দিতা মুখোপাধ্যায়",
    "gurmukhi": "ਗੁਰਪ੍ਰੀਤ ਸਿੰਘ",
    "gujarati": "પ્રિયંકા",
    "oriya": "ଶ୍ରୀନିବାସ",
    "tamil": "தமிழ்ச்செல்வி",
    "telugu": "శ్రీనివాస్",
    "kannada": "ಕೃಷ್ಣ",
    "malayalam": "ശ്രീകുമാർ",
    "sinhala": "ශ්‍රී ලංකා",
    "thai": "สมชาย ใจดี",
    "lao": "ສົມສັກ",
    "khmer": "សុខ ស្រី",
    "myanmar": "မြန်မာ",
    "ethiopic": "አበበ",
    "chinese": "王小明 歐陽",
    "japanese": "鈴木さくら",
    "hangul": "김철수 똠",
    "yoruba": "Adébáyọ̀",
}
JOINS = ["sinhala", "arabic", "devanagari", "khmer", "myanmar", "persian"]


def drawn(*lines: str) -> bytes:
    with Canvas(LETTER, title="Names", made_at=datetime(2026, 5, 4, tzinfo=UTC)) as canvas:
        canvas.page()
        for place, line in enumerate(lines):
            canvas.text(40, 40 + 24 * place, line, 12)
        return canvas.finish()


def test_every_name_prints_and_comes_back() -> None:
    kept = {script: printable(name) for script, name in NAMES.items()}
    assert not {script: found.missing for script, found in kept.items() if found.missing}
    text = text_of(drawn(*(found.text for found in kept.values())))
    assert [script for script, found in kept.items() if found.text not in text] == ["thaana"]
    assert set(kept["thaana"].text) <= set(text)  # vowel signs come back, in the order in which the reader found them


@pytest.mark.parametrize("script", JOINS)
def test_letters_that_join_stay_in_one_run(script: str) -> None:
    assert {run.face.key for run in runs(printable(NAMES[script]).text)} - {"plain"}
    for word in printable(NAMES[script]).text.split():
        assert len(runs(word)) == 1


def test_letters_take_the_form_that_their_neighbours_ask_for() -> None:
    """Shaping took place: a conjunct is narrower than its parts, and Arabic letters are wider at the end of a word."""
    with Canvas(LETTER, title="Names", made_at=datetime(2026, 5, 4, tzinfo=UTC)) as canvas:

        def apart(word: str) -> float:
            return sum(canvas.text_width(letter, 10) for letter in word)

        for conjunct in ("ක්‍ෂ", "क्ष"):
            assert canvas.text_width(conjunct, 10) < 0.6 * apart(conjunct)
        assert canvas.text_width("محمد", 10) != pytest.approx(apart("محمد"), rel=0.05)


def test_the_files_are_there_and_their_licences_beside_them() -> None:
    assert {face.path.name for face in faces()} == {path.name for path in FONTS.glob("*.ttf")}
    assert {path.name for path in FONTS.glob("LICENSE.*")} == {
        "LICENSE.droid.txt",
        "LICENSE.nanum.txt",
        "LICENSE.noto.txt",
    }
    assert sum(path.stat().st_size for path in FONTS.iterdir()) < 10.5e6


def test_what_no_font_holds_is_marked_and_named() -> None:
    found = printable("Ana \U0001f681\U0001f681 \U00013000")
    assert found.text == f"Ana {MARK}{MARK} {MARK}"
    note = missing_note(found.missing)
    assert "U+1F681 helicopter (2 times)" in note
    assert "U+13000 egyptian hieroglyph a001" in note
    assert note.startswith(MARK)
    assert missing_note(()) == ""


@pytest.mark.parametrize(
    "unseen",
    ["\x00", "\x07", "\x1b", "\u202e", "\u2066", "\u200b", "\ufeff", "\u00ad", "\ud800", "\ue000", "\U000e0041"],
)
def test_what_nobody_can_see_is_shown(unseen: str) -> None:
    found = printable(f"a{unseen}b")
    assert found.text == f"a{MARK}b"
    assert f"U+{ord(unseen):04X}" in missing_note(found.missing)


def test_line_ends_and_tabs_become_one_space() -> None:
    assert printable(" a\r\n\tb\u2028c\u00a0 d ").text == "a b c d"


def test_many_missing_characters_are_counted() -> None:
    note = missing_note(tuple(chr(0x13000 + place) for place in range(20)))
    assert note.count("U+") == 8
    assert "and 12 other characters" in note


def test_a_long_text_says_how_much_is_not_there() -> None:
    assert shortened("abc", 3) == "abc"
    assert shortened("x" * 10_000, 100) == "x" * 100 + " … (9,900 more characters in the record)"
    assert shortened("क्षक्ष", 4) == "क्ष … (3 more characters in the record)"


def test_marks_stay_with_their_letter() -> None:
    assert list(clusters("ọ̀x")) == ["ọ̀", "x"]


@pytest.mark.parametrize(
    ("typed", "on_paper"),
    [
        ("يعل 12 Kim", ["Kim", "12", "يعل"]),  # the line begins at the right
        ("Kim (יעל) 3", ["Kim (", "יעל", ")", "3"]),
        ("Kim יעל 3 x", ["Kim", "3", "יעל", "x"]),  # a number after right-to-left letters belongs to them
        ("יעל", ["יעל"]),
    ],
)
def test_right_to_left_text_is_put_in_order(typed: str, on_paper: list[str]) -> None:
    """Expected orders worked out by hand from Unicode Annex 9."""
    placed = [run.text.strip() for run, _ in in_visual_order(typed, bold=False)]
    assert [text for text in placed if text] == on_paper


def test_what_looks_like_the_librarys_own_marks_stays_text() -> None:
    assert "{nb} **bold** <b>x</b> [a](b)" in text_of(drawn("{nb} **bold** <b>x</b> [a](b)"))


@pytest.fixture(scope="module")
def canvas() -> Iterator[Canvas]:
    with Canvas(LETTER, title="Any text", made_at=datetime(2026, 5, 4, tzinfo=UTC)) as opened:
        opened.page()
        yield opened


@given(st.text(max_size=40))
def test_any_text_can_be_printed_and_none_of_it_gets_lost_between_lines(canvas: Canvas, typed: str) -> None:
    found = printable(typed)
    seen = found.text.replace("\N{ZERO WIDTH JOINER}", "").replace("\N{ZERO WIDTH NON-JOINER}", "")
    assert all(unicodedata.category(character)[0] != "C" for character in seen)
    lines = canvas.wrapped(found.text, 60, 8)
    assert "".join("".join(lines).split()) == "".join(found.text.split())
    for line in lines:
        canvas.text(30, 30, line, 8)
    shown = sum(character != MARK for character in found.text if not character.isspace())
    assert shown + len(found.missing) >= len("".join(unicodedata.normalize("NFC", typed).split())) - typed.count(MARK)
