"""A release sheet with everything on it, and one that a hostile hand filled in."""

from dataclasses import replace
from datetime import UTC, datetime

from riskboard.sheets.release import LimitLine, ReasonLine, ReleaseSheet, SignatureLine
from riskboard.words import Decision

__all__ = ["CODE", "HOSTILE", "SHEET", "hostile"]

CODE = "0ABC-DEFG-HJKM-NPQR-STVW-XYZ0-1234-5678-9ABC-DEFG-HJKM-NPQR"

SHEET = ReleaseSheet(
    school="Larkfield Rotorcraft School",
    title="Release sheet",
    flight_id="a1b2c3d4e5f60718",
    aircraft="LRS-01",
    pilot="Mara Oduya",
    instructor="Tobin Reyes-Hall",
    route="Circuits at Larkfield",
    purpose="instruction",
    take_off="10:30 MDT, Mon 04 May 2026",
    landing="11:20 MDT, Mon 04 May 2026",
    outcome=Decision.go_with_sign_off,
    headline="Go with sign-off",
    standing="Released the aircraft: Wendell Achterberg (dispatcher), 10:12 MDT, Mon 04 May 2026.",
    void=(),
    level="Decided: go with sign-off, level tolerable, 22 points.",
    valid="The yes holds until 11:05 MDT, Mon 04 May 2026.",
    signatures=(
        SignatureLine("Mara Oduya", "pilot", "asked for a sign-off", "09:58 MDT"),
        SignatureLine("Wendell Achterberg", "dispatcher", "signed", "10:05 MDT", "11:05 MDT"),
        SignatureLine("Mara Oduya", "pilot", "took the conditions", "10:08 MDT", "11:05 MDT"),
    ),
    waivers=("Limit waived by Sigrun Palo (chief instructor): wind at most. Reason: dual, circuits only",),
    conditions=("No landing at the north pinnacle while the gusts last.", "Back on the ground by 11:20."),
    reasons=(
        ReasonLine("FLOOR", "Gust spread: 14 kt, above 11 kt, 5 points; by itself go with sign-off."),
        ReasonLine("+5", "Density altitude at departure: 7,900 ft, above 7,000 ft, 5 points."),
        ReasonLine("+3", "Recent hours: 5 h, below 6 h, 3 points."),
    ),
    reasons_kept_back=2,
    limits=(
        LimitLine("Fuel beyond flight and reserve", "12 min", "at least 0 min", "12 min"),
        LimitLine("Peak of wind and gusts", "29 kt", "at most 35 kt", "6 kt"),
    ),
    alternative="Land at the east field and call the desk",
    turn_back="Gusts above 30 kt or ceiling below 1,500 ft",
    policy="Policy rotor-school-vfr version 1, 5626e7d1043b.",
    record="Printed from record 14.",
    receipt=CODE,
    receipt_said="It covers records 1 to 14, until 10:12 MDT, Mon 04 May 2026.",
    printed="Printed 10:13 MDT, Mon 04 May 2026.",
    made_at=datetime(2026, 5, 4, 16, 13, tzinfo=UTC),
    notes=("Invented data: nobody and nothing here is real.",),
    loading=(
        ("Take-off weight", "1,515.5 lb, 44.5 lb under the highest (1,560 lb)"),
        ("Longitudinal", "inside, nearest edge 1.61 in forward (take-off)"),
        ("Lateral", "inside, nearest edge 0.98 in to the left (take-off)"),
        ("Hover in ground effect", "departure: ceiling 4,232 ft above, 44.5 lb to spare; highest site: 324 ft short"),
        ("Manifold pressure limit", "departure: Maximum continuous 23.3 inHg, take-off 24.7 inHg for 5 min"),
    ),
    loading_of="By the figures of Wren 3 (invented). Invented type: these are the figures of no real aircraft.",
)

HOSTILE = {
    "long name": "N" * 10_000,
    "long words": "supercalifragilistic " * 800,
    "control and override": "a\x00b\x07c\x1b[31m\r\nGO\tx \u202eog on\u202c \u2066x\u2069 \ud800\udfff \ue000",
    "markup": "<b>GO</b> **GO** [x](javascript:y) {nb} &lt; %s {0} \\n \\\\ ) Tj ET ( <script>alert(1)</script>",
    "emoji": "\U0001f681" * 50,
    "marks": "e" + "\u0301" * 200,
    "right to left": "محمد بن عبد الرحمن " * 30,
    "stacked": "ក្រុមហ៊ុន" * 60,
    "chinese": "王小明歐陽" * 120,
    "empty": " \u00a0\u3000 ",
}


def hostile(text: str) -> ReleaseSheet:
    """Every text that a person can type, replaced by one."""
    return replace(
        SHEET,
        school=text,
        aircraft=text,
        pilot=text,
        instructor=text,
        route=text,
        purpose=text,
        alternative=text,
        turn_back=text,
        standing=f"Released the aircraft: {text} (dispatcher), 10:12 MDT.",
        signatures=tuple(replace(line, who=text) for line in SHEET.signatures),
        waivers=(text,),
        conditions=(text, text, text),
        reasons=tuple(ReasonLine("+1", text) for _ in range(30)),
        limits=tuple(replace(SHEET.limits[0], what=text) for _ in range(20)),
        loading=tuple((name, text) for name, _ in SHEET.loading),
        loading_of=text,
    )
