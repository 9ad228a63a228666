"""A paper worksheet for the day the computer is down, made from the policy in force.

Every entry that a clause of the policy looks at, with its unit and room to write; every clause beside its own part, in
the words the program itself uses, so that a person can score the flight by hand and find its level. Honest about what a
hand cannot do: what is not written, or cannot be worked out, is unknown, and the sheet says what an unknown means.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache

from riskboard.assessment.assess import CAUTION
from riskboard.assessment.clauses import ClauseText, clauses_in_words, policy_in_words
from riskboard.assessment.phrases import upper_first
from riskboard.measures.registry import MEASURES, inputs_of, load_all
from riskboard.policy.model import Policy
from riskboard.sheets.canvas import LINE, PAPERS, Canvas
from riskboard.sheets.flow import Column, Flow
from riskboard.sheets.gates import GATE_HEIGHT, GATE_WIDTH, draw_gate
from riskboard.sheets.typeface import printable, shortened
from riskboard.words import NONE, Decision, Group
from riskboard.worksheet.model import FIELD_PART, PARTS
from riskboard.worksheet.shape import shape_of

__all__ = ["blank_pdf", "entries_used"]

_SIZE = 7.6
_MARGIN = 36.0
_LEAST_ROW = 14.0
_LIST_LINES = 3
_LONGEST_CELL = 600

_ALWAYS = ("pilot_name", "instructor_name", "registration", "departure_name", "destination_name", "alternative")
"""Who, what and where stand on every worksheet, whatever the policy scores."""

_TITLES = {
    Group.pilot: "Pilot",
    Group.aircraft: "Aircraft",
    Group.environment: "Environment: weather and plan",
    Group.external: "External pressures",
}
_HOW = (
    "For the day the computer is down. Write what you know, with the unit printed. Times are local: write the zone "
    "once. “None” is an answer; an empty line is not. What is not written, or what you cannot work out, is unknown, "
    "and an unknown never helps: each clause says what it means. If in doubt the answer is no. When the computer is "
    "back, somebody at the desk types this sheet in; that alone releases nothing."
)
_STEPS = """\
1. Any limit that is not kept, or whose value is unknown: NO-GO. Stop here, unless the clause names who may waive a \
known excess: then write who waived it and why, and the level is at least the first one with sign-off.
2. Write the points of every clause. Unknown counts as the worst points; where it says no-go, it is a no-go. A clause \
that is only for a kind of flight which this one surely is not: write a dash, it counts nothing.
3. Add the points of each group, then all groups. Only from that sum take off what mitigations allow, and nothing for \
a clause that is unknown.
4. Find the level of the sum. Then take the worst of: that level, every “at least level” that was met, every group \
above its ceiling, and for any unknown at least the first level with sign-off.
5. That level gives the decision, and who may accept it.""".splitlines()


def blank_pdf(policy: Policy, paper: str, *, school: str = "") -> bytes:
    """The blank worksheet of a policy as a PDF.

    Args:
        policy: The policy in force.
        paper: "letter" or "a4".
        school: Name printed at the top.

    Returns:
        The file; the same bytes for the same policy, paper and school.

    Raises:
        KeyError: No such paper.
    """
    size = PAPERS[paper]
    title = printable(shortened(f"{school} · {policy.title}" if school else policy.title, 110)).text
    with Canvas(size, title="Paper worksheet", made_at=policy.effective_from) as canvas:
        pages = _Sheet(canvas, policy, title, draws=False, pages=0).run()
        _Sheet(canvas, policy, title, draws=True, pages=pages).run()
        return canvas.finish()


def entries_used(policy: Policy) -> frozenset[str]:
    """Names of the worksheet entries that some clause of the policy looks at, through its measures and guards."""
    load_all()
    names = {factor.measure for factor in policy.factors} | {limit.measure for limit in policy.limits}
    names |= {part.measure for combination in policy.combinations for part in combination.all_of}
    conditions = [clause.when for clause in policy.factors] + [clause.when for clause in policy.limits]
    conditions += [clause.when for clause in policy.combinations] + [each.needs for each in policy.mitigations]
    names |= {word.value for condition in conditions for word in condition}
    used: frozenset[str] = frozenset().union(*(inputs_of(name) for name in names))
    return used | {"mitigations"} if policy.mitigations else used


@cache
def _groups() -> Mapping[Group, tuple[str, ...]]:
    """Entries by PAVE group, in reading order: a part belongs to one group."""
    found: dict[Group, tuple[str, ...]] = dict.fromkeys(Group, ())
    for field, part in FIELD_PART.items():
        found[PARTS[part].group] += (field,)
    return found


def _may_be_written(field: str) -> str:
    """What may be written, short."""
    shape = shape_of(PARTS[FIELD_PART[field]], field)
    told = {
        "flag": "yes / no",
        "choice": " / ".join(word.replace("_", " ") for word in shape.words),
        "day": "date",
        "instant": "date, time",
        "text": "words",
        "note": "words",
        "list": "one line each",
    }.get(shape.kind)
    if told is None:
        told = f"{shape.lowest:g} to {shape.highest:g}"
        told += "".join(f" / {word.replace('_', ' ')}" for word in shape.words)
    if shape.none_answer and NONE not in told.split(" / "):
        told += f" / {NONE}"
    return told


def _list_fields(field: str) -> str:
    entry = shape_of(PARTS[FIELD_PART[field]], field).entry
    if entry is None:
        return ""
    names = []
    for name in entry.model_fields:
        shape = shape_of(entry, name)
        words = f" ({' / '.join(word.replace('_', ' ') for word in shape.words)})" if shape.kind == "choice" else ""
        names.append(name.replace("_", " ") + words)
    return "; ".join(names)


@dataclass
class _Clause:
    """A clause in words, with the entries it looks at."""

    text: ClauseText
    entries: frozenset[str]


def _clauses(policy: Policy) -> Iterator[tuple[Group, _Clause]]:
    """Every clause that scores, with the group it stands under: limits before factors before combinations."""
    words = {(text.kind, text.name): text for text in clauses_in_words(policy)}
    for limit in policy.limits:
        inputs = inputs_of(limit.measure).union(*(inputs_of(word.value) for word in limit.when))
        yield MEASURES[limit.measure].group, _Clause(words["limit", limit.name], inputs)
    for factor in policy.factors:
        inputs = inputs_of(factor.measure).union(*(inputs_of(word.value) for word in factor.when))
        yield factor.group, _Clause(words["factor", factor.name], inputs)
    for combination in policy.combinations:
        inputs = frozenset().union(
            *(inputs_of(part.measure) for part in combination.all_of),
            *(inputs_of(word.value) for word in combination.when),
        )
        yield combination.group, _Clause(words["combination", combination.name], inputs)


class _Sheet:
    """One run over all pages: measuring, or drawing with the number of pages known."""

    def __init__(self, canvas: Canvas, policy: Policy, title: str, *, draws: bool, pages: int) -> None:
        self.canvas, self.policy, self.title, self.pages = canvas, policy, title, pages
        self.number = 0
        width = canvas.width - 2 * _MARGIN
        self.foot = canvas.wrapped(CAUTION, width, 6.8)
        self.bottom = canvas.height - _MARGIN - (len(self.foot) + 1) * 6.8 * LINE
        self.flow = Flow(canvas, _MARGIN, _MARGIN, width, _SIZE, draws=draws, bottom=self.bottom, on_full=self._page)
        used = entries_used(policy) | frozenset(_ALWAYS)
        printed = [field for fields in _groups().values() for field in fields if field in used]
        self.numbers = {field: number for number, field in enumerate(printed, 1)}

    def run(self) -> int:
        """All pages; returns how many there are."""
        self._page()
        self._begin()
        clauses = list(_clauses(self.policy))
        for group in Group:
            self._entries(group)
            self._scores(group, [clause for of, clause in clauses if of is group])
        self._result()
        self._signatures()
        return self.number

    def _page(self) -> None:
        """Begin the next page: title above, policy, page number and caution below."""
        self.number += 1
        flow = self.flow
        flow.y = _MARGIN
        if flow.draws:
            self.canvas.page()
            y = self.bottom + 6.8 * LINE * 0.4
            self.canvas.rule(_MARGIN, y, _MARGIN + flow.width, y, weight=0.4)
            policy = self.policy
            page = f"page {self.number} of {self.pages}"
            said = f"Policy {policy.id} version {policy.version}, {policy.digest[:12]} · {page}"
            for line in (said, *self.foot):
                self.canvas.text(_MARGIN, y + 1, line, 6.8, bold=line is said)
                y += 6.8 * LINE
            self.canvas.text(_MARGIN, flow.y, f"{self.title} · paper worksheet", 10, bold=True)
        flow.y += 10 * LINE + 3

    def _begin(self) -> None:
        flow = self.flow
        flow.paragraph(_HOW)
        flow.gap(0.5)
        flow.blanks("Filled in on (date, time, zone)", "by (name, role)")
        for text in policy_in_words(self.policy)[:3]:
            flow.paragraph(printable(shortened(text, _LONGEST_CELL)).text)

    def _entries(self, group: Group) -> None:
        fields = [field for field in _groups()[group] if field in self.numbers]
        if not fields:
            return
        flow = self.flow
        flow.heading(f"{_TITLES[group]}: write down")
        columns = [
            Column("No.", 4),
            Column("Entry", 36),
            Column("May be written", 32),
            Column("Written", 34, ruled=True),
        ]
        flow.table(columns, [self._entry_row(field) for field in fields if not _list_fields(field)], least=_LEAST_ROW)
        for field in fields:
            if _list_fields(field):
                info = PARTS[FIELD_PART[field]].facts()[field]
                flow.gap(0.3)
                flow.make_room(_SIZE * LINE + _LIST_LINES * _LEAST_ROW)
                flow.paragraph(f"{self.numbers[field]}  {info.label} (or none). One line each: {_list_fields(field)}")
                for _ in range(_LIST_LINES):
                    flow.blanks("")

    def _entry_row(self, field: str) -> tuple[str, ...]:
        info = PARTS[FIELD_PART[field]].facts()[field]
        label = f"{info.label} ({info.unit})" if info.unit else info.label
        return str(self.numbers[field]), label, _may_be_written(field), ""

    def _scores(self, group: Group, clauses: list[_Clause]) -> None:
        limits = [clause for clause in clauses if clause.text.kind == "limit"]
        scored = [clause for clause in clauses if clause.text.kind != "limit"]
        if limits:
            self.flow.heading(f"{_TITLES[group]}: hard limits. One that is not kept or not known is a no-go")
            self._clause_table(limits, "Kept?")
        if scored:
            self.flow.heading(f"{_TITLES[group]}: points")
            self._clause_table(scored, "Points")
            self.flow.blanks(f"Sum of the group: {_TITLES[group]}")

    def _clause_table(self, clauses: list[_Clause], last: str) -> None:
        columns = [
            Column("Clause", 66),
            Column("From entries", 16),
            Column("Value", 13, ruled=True),
            Column(last, 11, ruled=True),
        ]
        rows = []
        for clause in clauses:
            name = upper_first(clause.text.name.replace("_", " "))
            said = clause.text.sentence if clause.text.kind != "combination" else f"{name}. {clause.text.sentence}"
            numbers = sorted(self.numbers[field] for field in clause.entries)
            told = printable(shortened(said, _LONGEST_CELL)).text
            rows.append((told, ", ".join(map(str, numbers)) or "the time", "", ""))
        self.flow.table(columns, rows, least=_LEAST_ROW)

    def _result(self) -> None:
        flow, policy = self.flow, self.policy
        flow.heading("The decision, by hand")
        for step in _STEPS:
            flow.paragraph(step)
        flow.gap(0.4)
        ceilings = {ceiling.group: ceiling for ceiling in policy.group_ceilings}
        rows = []
        for group in Group:
            ceiling = ceilings.get(group)
            above = "no ceiling" if ceiling is None else f"above {ceiling.up_to}: at least level {ceiling.floor}"
            rows.append((_TITLES[group], above, ""))
        columns = [Column("Group", 40), Column("Ceiling", 40), Column("Points", 20, ruled=True)]
        flow.table(columns, [*rows, ("All groups", "", "")], least=_LEAST_ROW)
        for clause in clauses_in_words(policy):
            if clause.kind == "mitigation":
                said = f"Mitigation: {upper_first(clause.name)}. {clause.sentence}".replace("_", " ")
                flow.paragraph(printable(shortened(said, _LONGEST_CELL)).text)
        flow.blanks("Taken off by mitigations (which, by whom, what exactly is done)", "Points left")
        for said in policy_in_words(policy):
            if said.startswith("Level "):
                flow.paragraph(printable(said).text, bold=True)
        flow.blanks("Level of the sum", "Worst “at least level” met", "Level that counts")
        self._tick_decision()

    def _tick_decision(self) -> None:
        flow, gate = self.flow, 34.0
        height = gate * GATE_HEIGHT / GATE_WIDTH + 6
        flow.gap(0.4)
        flow.make_room(height)
        if flow.draws:
            step = flow.width / len(Decision)
            for place, decision in enumerate(Decision):
                x = flow.x + place * step
                self.canvas.box(x, flow.y + 9, 10, 10, weight=0.9)
                draw_gate(self.canvas, decision, x + 18, flow.y, gate)
                self.canvas.text(x + 24 + gate, flow.y + 7, decision.phrase, 10, bold=True)
        flow.y += height

    def _signatures(self) -> None:
        flow = self.flow
        flow.heading("Signed on paper. A signature here is typed in later as what it is; it is no release by itself")
        flow.blanks("Pilot in command: I accept the risk of this flight (name, signature)", "time", "until")
        flow.blanks("Conditions")
        flow.blanks("")
        flow.paragraph(
            "Second person, where the level needs one, and never crew of this flight. Both boxes: the entries are "
            "accurate as far as I can check them; in my judgement the flight can be made safely."
        )
        flow.blanks("[  ] accurate   [  ] can be made safely   (name, role, signature)", "time", "until")
        flow.blanks("Aircraft handed over by (name, role, signature)", "time")
        flow.blanks("Took off", "Back", "Meter", "Anything to report")
        if self.policy.overdue_steps:
            flow.heading(f"Overdue: {self.policy.overdue_margin_min} min after the planned landing without word")
            for number, step in enumerate(self.policy.overdue_steps, 1):
                flow.paragraph(printable(shortened(f"{number}. {step}", _LONGEST_CELL)).text)
        flow.gap(0.5)
        flow.blanks("Typed in by", "on", "as record")
