"""YAML text -> checked, flat policy. A bad one is refused with every problem: line, column, value, what is allowed."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime

from riskboard.measures.registry import MEASURES, Measure, load_all
from riskboard.measures.renamed import RENAMED
from riskboard.policy.build import Parts, build_parts
from riskboard.policy.checks import check_policy, check_published
from riskboard.policy.dump import as_stored, sealed
from riskboard.policy.extend import flatten
from riskboard.policy.finding import Finding, Scope
from riskboard.policy.model import Alternatives, Policy
from riskboard.policy.places import Places
from riskboard.policy.read import Entry, Reader
from riskboard.policy.schema import EXTENSION, FRAGILE_BELOW_PCT, OVERDUE_MARGIN_MIN, POLICY
from riskboard.yaml_source import MAX_BYTES, Node, Problem, SourceError, load

__all__ = ["PolicyError", "Resolve", "load_policy"]

Resolve = Callable[[str, int], str | Policy]
"""Gives a policy by id and version; LookupError where there is none. As its text, or as :func:`load_policy` made it
without ``published``: the flights of its tests are not looked at again."""

MAX_CHAIN = 8
_FLAT = replace(POLICY, keys={key: rule for key, rule in POLICY.keys.items() if key != "extends"})


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
    published: bool = False,
    renamed: Mapping[str, str] = RENAMED,
) -> Policy:
    """Read, prove and flatten one policy.

    Args:
        text: The YAML.
        name: What problems call the text, usually its file name.
        resolve: Where an extended policy comes from; without it ``extends`` is refused.
        registry: Measures by name; the program's own where not given.
        published: The text is one that this program, perhaps an older one, published: flat, and proved as a whole then.
            Only what scoring and signing rely on is proved again (:func:`riskboard.policy.checks.check_published`), so
            that a proof that came later, or a measure that got another name, takes no past decision its policy. Never
            for a text that somebody is about to publish.
        renamed: Old names of measures; the program's own where not given.

    Returns:
        The flat policy. Its ``text`` is canonical YAML that loads to an equal policy; ``digest`` is its SHA-256. With
        ``published`` the text is kept to the letter.

    Raises:
        PolicyError: The text is refused, with every problem found.
    """
    if registry is None:
        load_all()
        registry = MEASURES
    if published:
        return _load_published(text, Reader(name, registry=registry, published=True, renamed=renamed))
    return _Strict(resolve, registry, renamed).load(text, name, ())


def _node(text: str | bytes, name: str) -> Node:
    try:
        return load(text, name=name)
    except SourceError as error:
        raise PolicyError(error.problems) from error


def _load_published(text: str | bytes, reader: Reader) -> Policy:
    node = _node(text, reader.name)
    root = reader.record(_FLAT, node)
    parts = build_parts(reader, root, partial_levels=False)
    policy = _own(parts, root)
    places = Places(node)
    scope = Scope(levels=parts.levels_sound, broken=parts.broken)
    reader.problems += [places.problem(reader.name, found) for found in check_published(policy, reader.registry, scope)]
    if reader.problems:
        raise PolicyError(_ordered(reader.problems))
    return as_stored(policy, text if isinstance(text, str) else text.decode("utf-8"), places.lines())


@dataclass(frozen=True)
class _Strict:
    """Loads texts that are not published yet, and what they extend."""

    resolve: Resolve | None
    registry: Mapping[str, Measure]
    renamed: Mapping[str, str]

    def load(self, text: str | bytes, name: str, chain: tuple[tuple[str, int], ...]) -> Policy:
        node = _node(text, name)
        reader = Reader(name, registry=self.registry, renamed=self.renamed)
        if node.kind == "map" and "extends" in node.value:
            policy, findings = self.extension(reader, node, chain)
        else:
            root = reader.record(POLICY, node)
            parts = build_parts(reader, root, partial_levels=False)
            policy = _own(parts, root)
            findings = list(check_policy(policy, self.registry, Scope(levels=parts.levels_sound, broken=parts.broken)))
        places = Places(node)
        reader.problems += [places.problem(name, finding) for finding in findings]
        if not reader.problems:
            policy = sealed(policy)
            size = len(policy.text.encode("utf-8"))
            if size > MAX_BYTES:
                reader.problem((1, 1), f"the flat policy has {size} bytes; at most {MAX_BYTES} are allowed", str(size))
        if reader.problems:
            raise PolicyError(_ordered(reader.problems))
        return policy

    def extension(self, reader: Reader, node: Node, chain: tuple[tuple[str, int], ...]) -> tuple[Policy, list[Finding]]:
        """What an extension and its parent come to. Without the parent nothing is checked, and a problem noted."""
        root = reader.record(EXTENSION, node)
        parts = build_parts(reader, root, partial_levels=True)
        head = _head(root)
        parent = self.parent(reader, root, chain)
        if parent is None:
            return head, []
        flat = flatten(parent, parts, root, self.registry)
        policy = _headed(flat.policy, head)
        scope = Scope(levels=parts.levels_sound, broken=parts.broken, inherited=parent)
        return policy, [*flat.findings, *check_policy(policy, self.registry, scope)]

    def parent(self, reader: Reader, root: Entry, chain: tuple[tuple[str, int], ...]) -> Policy | None:
        """The extended policy, or None with a problem noted at ``extends``."""
        extends: Entry = root.get("extends")
        place = (extends.node.line, extends.node.column)
        if extends.broken:
            return None
        asked = (extends.get("id"), extends.get("version"))
        own = (root.get("id"), root.get("version"))
        said = f"{asked[0]} version {asked[1]}"
        try:
            return self.resolved(asked, own, chain)
        except PolicyError as error:
            message = f"{said} is itself refused; its first problem: {error.problems[0]}"
        except _ExtendsError as error:
            message = str(error)
        reader.problem(place, message, said)
        return None

    def resolved(self, asked: tuple[str, int], own: tuple[str, int], chain: tuple[tuple[str, int], ...]) -> Policy:
        said = f"{asked[0]} version {asked[1]}"
        if asked in {own, *chain} or len(chain) >= MAX_CHAIN:
            raise _ExtendsError(f"{said} extends itself in the end, or the chain is longer than {MAX_CHAIN}")
        if self.resolve is None:
            raise _ExtendsError(f"{said} cannot be looked up here; allowed: a policy without `extends`")
        try:
            found = self.resolve(*asked)
        except LookupError as error:
            raise _ExtendsError(f"there is no policy {said}; allowed: one that is published") from error
        parent = found if isinstance(found, Policy) else self.load(found, said, (*chain, own))
        if (parent.id, parent.version) != asked:
            raise _ExtendsError(f"the text found for {said} says that it is {parent.id} version {parent.version}")
        return parent


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
        alternatives=Alternatives(
            FRAGILE_BELOW_PCT if parts.fragile_below_pct is None else parts.fragile_below_pct,
            parts.errors,
            parts.ways_out,
            parts.when_no,
        ),
        levels=parts.levels,
        group_ceilings=parts.group_ceilings,
        factors=parts.factors,
        limits=parts.limits,
        combinations=parts.combinations,
        mitigations=parts.mitigations,
        worksheets=parts.worksheets,
        tests=parts.tests,
    )
