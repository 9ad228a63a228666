"""YAML text -> checked, flat policy. A bad one is refused with every problem: line, column, value, what is allowed."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import UTC, date, datetime

from riskboard.measures.registry import MEASURES, Measure, load_all
from riskboard.policy.build import Parts, build_parts
from riskboard.policy.checks import check_policy
from riskboard.policy.dump import sealed
from riskboard.policy.extend import flatten
from riskboard.policy.finding import Finding, Path, Scope
from riskboard.policy.model import Policy
from riskboard.policy.read import Entry, Reader
from riskboard.policy.schema import EXTENSION, OVERDUE_MARGIN_MIN, POLICY
from riskboard.yaml_source import MAX_BYTES, Node, Problem, SourceError, load

__all__ = ["PolicyError", "Resolve", "load_policy"]

Resolve = Callable[[str, int], str]
"""Gives the text of a policy by id and version; raises LookupError where there is none."""

MAX_CHAIN = 8
_LISTED = ("levels", "combinations", "mitigations", "tests")
_MAPPED = ("factors", "limits", "worksheets", "group_ceilings")


class PolicyError(Exception):
    """The policy is refused. ``problems`` holds every reason, in the order of the text."""

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        super().__init__("\n".join(str(problem) for problem in problems))
        self.problems = problems


class _ExtendsError(Exception):
    """The extended policy cannot be had."""


def load_policy(
    text: str | bytes,
    *,
    name: str,
    resolve: Resolve | None = None,
    registry: Mapping[str, Measure] | None = None,
) -> Policy:
    """Read, prove and flatten one policy.

    Args:
        text: The YAML.
        name: What problems call the text, usually its file name.
        resolve: Where the text of an extended policy comes from; without it ``extends`` is refused.
        registry: Measures by name; the program's own where not given.

    Returns:
        The flat policy. Its ``text`` is canonical YAML that loads to an equal policy; ``digest`` is its SHA-256.

    Raises:
        PolicyError: The text is refused, with every problem found.
    """
    if registry is None:
        load_all()
        registry = MEASURES
    return _load(text, name, resolve, registry, ())


def _load(
    text: str | bytes,
    name: str,
    resolve: Resolve | None,
    registry: Mapping[str, Measure],
    chain: tuple[tuple[str, int], ...],
) -> Policy:
    try:
        node = load(text, name=name)
    except SourceError as error:
        raise PolicyError(error.problems) from error
    extends = node.kind == "map" and "extends" in node.value
    reader = Reader(name, registry)
    root = reader.record(EXTENSION if extends else POLICY, node)
    parts = build_parts(reader, root, partial_levels=extends)
    head = _head(root)
    findings: list[Finding] = []
    if extends:
        parent = _parent(reader, root, resolve, registry, chain)
        if parent is not None:
            flat = flatten(parent, parts, root, registry)
            policy, findings = _headed(flat.policy, head), list(flat.findings)
            findings += check_policy(policy, registry, Scope(levels=parts.levels_sound, broken=parts.broken))
    else:
        policy = _headed(_own(parts, root), head)
        findings += check_policy(policy, registry, Scope(levels=parts.levels_sound, broken=parts.broken))
    places = _Places(node)
    reader.problems += [places.problem(name, finding) for finding in findings]
    if not reader.problems:
        policy = sealed(policy)
        size = len(policy.text.encode("utf-8"))
        if size > MAX_BYTES:
            reader.problem((1, 1), f"the flat policy has {size} bytes; at most {MAX_BYTES} are allowed", str(size))
    if reader.problems:
        raise PolicyError(_ordered(reader.problems))
    return policy


def _ordered(problems: list[Problem]) -> tuple[Problem, ...]:
    return tuple(sorted(dict.fromkeys(problems), key=lambda problem: (problem.line, problem.column)))


def _head(root: Entry) -> Policy:
    """Identity and dates; harmless stand-ins for what could not be read, since then nothing is returned anyway."""
    start, review = root.get("effective_from"), root.get("review_by")
    return Policy(
        id=root.get("id") or "",
        version=root.get("version") or 0,
        title=root.get("title") or "",
        effective_from=start if isinstance(start, datetime) else datetime.min.replace(tzinfo=UTC),
        review_by=review if isinstance(review, date) else date.max,
        weather_age_max_min=0,
        levels=(),
        group_ceilings=(),
        factors=(),
        limits=(),
        combinations=(),
        mitigations=(),
    )


def _headed(policy: Policy, head: Policy) -> Policy:
    return replace(
        policy,
        id=head.id,
        version=head.version,
        title=head.title,
        effective_from=head.effective_from,
        review_by=head.review_by,
        text="",
        digest="",
    )


def _own(parts: Parts, root: Entry) -> Policy:
    return replace(
        _head(root),
        weather_age_max_min=root.get("weather_age_max_min") or 0,
        overdue_margin_min=parts.overdue_margin_min or OVERDUE_MARGIN_MIN,
        overdue_steps=parts.overdue_steps,
        levels=parts.levels,
        group_ceilings=parts.group_ceilings,
        factors=parts.factors,
        limits=parts.limits,
        combinations=parts.combinations,
        mitigations=parts.mitigations,
        worksheets=parts.worksheets,
        tests=parts.tests,
    )


def _parent(
    reader: Reader,
    root: Entry,
    resolve: Resolve | None,
    registry: Mapping[str, Measure],
    chain: tuple[tuple[str, int], ...],
) -> Policy | None:
    """The extended policy, or None with a problem noted at ``extends``."""
    extends: Entry = root.get("extends")
    place = (extends.node.line, extends.node.column)
    if extends.broken:
        return None
    asked = (extends.get("id"), extends.get("version"))
    own = (root.get("id"), root.get("version"))
    said = f"{asked[0]} version {asked[1]}"
    try:
        return _resolved(asked, own, resolve, registry, chain)
    except PolicyError as error:
        message = f"{said} is itself refused; its first problem: {error.problems[0]}"
    except _ExtendsError as error:
        message = str(error)
    reader.problem(place, message, said)
    return None


def _resolved(
    asked: tuple[str, int],
    own: tuple[str, int],
    resolve: Resolve | None,
    registry: Mapping[str, Measure],
    chain: tuple[tuple[str, int], ...],
) -> Policy:
    said = f"{asked[0]} version {asked[1]}"
    if asked in {own, *chain} or len(chain) >= MAX_CHAIN:
        raise _ExtendsError(f"{said} extends itself in the end, or the chain is longer than {MAX_CHAIN}")
    if resolve is None:
        raise _ExtendsError(f"{said} cannot be looked up here; allowed: a policy without `extends`")
    try:
        text = resolve(*asked)
    except LookupError as error:
        raise _ExtendsError(f"there is no policy {said}; allowed: one that is published") from error
    parent = _load(text, said, resolve, registry, (*chain, own))
    if (parent.id, parent.version) != asked:
        raise _ExtendsError(f"the text found for {said} says that it is {parent.id} version {parent.version}")
    return parent


class _Places:
    """Where a path of keys stands in the text."""

    def __init__(self, root: Node) -> None:
        self.root = root
        self.named: dict[tuple[str, str], Node] = {}
        for section in _LISTED:
            node = root.value.get(section) if root.kind == "map" else None
            for item in node.value if node is not None and node.kind == "list" else ():
                name = item.value.get("name") if item.kind == "map" else None
                if name is not None:
                    self.named[section, str(name.value).strip()] = item

    def problem(self, name: str, finding: Finding) -> Problem:
        line, column = self.place(finding.path, at_key=finding.at_key)
        return Problem(name, line, column, finding.message, finding.found, finding.allowed)

    def place(self, path: Path, *, at_key: bool) -> tuple[int, int]:
        node, rest = self._start(path)
        place = (node.line, node.column)
        for step in rest:
            inner = _inside(node, step)
            if inner is None:
                break
            if at_key and step == path[-1] and node.kind == "map":
                return node.keys[str(step)]
            node, place = inner, (inner.line, inner.column)
        return place

    def _start(self, path: Path) -> tuple[Node, Path]:
        """The node a path starts from: the clause it names, or the word ``extends`` for an inherited one."""
        if len(path) > 1 and path[0] in _LISTED:
            found = self.named.get((str(path[0]), str(path[1])))
            if found is not None:
                return found, path[2:]
        elif len(path) > 1 and path[0] in _MAPPED:
            section = _inside(self.root, path[0])
            if section is not None and _inside(section, path[1]) is not None:
                return self.root, path
        elif path and _inside(self.root, path[0]) is not None:
            return self.root, path
        return _inside(self.root, "extends") or self.root, ()


def _inside(node: Node, step: str | int) -> Node | None:
    if node.kind == "map":
        found: Node | None = node.value.get(step)
        return found
    if node.kind == "list" and isinstance(step, int) and step < len(node.value):
        item: Node = node.value[step]
        return item
    return None
