"""Static proofs about the levels: in order, and every one of them can come out."""

import itertools
from collections.abc import Iterator

from riskboard.policy.finding import Finding, Path
from riskboard.policy.model import Level, Policy
from riskboard.policy.read import listed
from riskboard.policy.schema import SECOND_PERSONS
from riskboard.words import Decision, Group

__all__ = ["achievable_totals", "level_findings", "reach_findings"]


def level_findings(levels: tuple[Level, ...]) -> Iterator[Finding]:
    """Levels ascend, from go to no_go; a worse one never decides better nor holds longer."""
    seen: set[str] = set()
    for level in levels:
        if level.name in seen:
            yield Finding(("levels", level.name, "name"), f"the level {level.name!r} is given twice", level.name)
        seen.add(level.name)
        yield from _one_level_findings(level, last=level is levels[-1])
    if levels[0].decision is not Decision.go:
        message = f"the first level decides {levels[0].decision.name}; it must be go"
        yield Finding(("levels", levels[0].name, "decision"), message, levels[0].decision.name, "go")
    if levels[-1].decision is not Decision.no_go:
        message = f"the last level decides {levels[-1].decision.name}; it must be no_go"
        yield Finding(("levels", levels[-1].name, "decision"), message, levels[-1].decision.name, "no_go")
    for better, worse in itertools.pairwise(levels):
        yield from _level_order_findings(better, worse)


def _level_order_findings(better: Level, worse: Level) -> Iterator[Finding]:
    path: Path = ("levels", worse.name)
    if worse.decision < better.decision:
        message = (
            f"the decision gets better from {better.name} to {worse.name}; allowed: {better.decision.name} or worse"
        )
        yield Finding((*path, "decision"), message, worse.decision.name, f"{better.decision.name} or worse")
    if better.up_to is not None and worse.up_to is not None and worse.up_to <= better.up_to:
        message = f"up_to must rise: {worse.up_to} follows {better.up_to}; allowed: above {better.up_to}"
        yield Finding((*path, "up_to"), message, str(worse.up_to), f"above {better.up_to}")
    if better.valid_min is not None and worse.valid_min is not None and worse.valid_min > better.valid_min:
        most = f"at most {better.valid_min}"
        message = f"a worse level is never valid longer: {worse.valid_min} follows {better.valid_min}; allowed: {most}"
        yield Finding((*path, "valid_min"), message, str(worse.valid_min), most)


def _one_level_findings(level: Level, *, last: bool) -> Iterator[Finding]:
    path: Path = ("levels", level.name)
    if last and level.up_to is not None:
        message = "the last level has no up_to: it takes everything above the one before; allowed: leave it out"
        yield Finding((*path, "up_to"), message, str(level.up_to), "nothing", at_key=True)
    if not last and level.up_to is None:
        yield Finding(path, f"the level {level.name} has no up_to; only the last level goes without", "", "up_to")
    yield from _no_go_findings(level, path) if level.decision is Decision.no_go else _accept_findings(level, path)


def _no_go_findings(level: Level, path: Path) -> Iterator[Finding]:
    for key, value in (("accepted_by", level.accepted_by), ("valid_min", level.valid_min)):
        if value:
            message = f"nobody accepts a no_go; allowed: leave {key} out"
            yield Finding((*path, key), message, str(value), "nothing", at_key=True)


def _accept_findings(level: Level, path: Path) -> Iterator[Finding]:
    if not level.accepted_by:
        yield Finding((*path, "accepted_by"), f"nobody may accept the level {level.name}; name a role", "", "a role")
    if level.valid_min is None:
        yield Finding(path, f"the level {level.name} has no valid_min: how long an acceptance holds", "", "valid_min")
    if level.decision is Decision.go_with_sign_off:
        for role in level.accepted_by:
            if role not in SECOND_PERSONS:
                message = (
                    f"a sign-off comes from a second person, not from the {role}; allowed: {listed(SECOND_PERSONS)}"
                )
                yield Finding((*path, "accepted_by"), message, role, listed(SECOND_PERSONS))


def achievable_totals(policy: Policy, group: Group | None = None) -> int:
    """Which totals some flight can have before mitigations, as a bit set: bit n is set when n points can come together.

    A clause with a guard may be out of force; measures are taken as free of each other.
    """
    totals = 1
    for factor in policy.factors:
        if group in {None, factor.group}:
            choices = {band.points for band in factor.bands} | ({0} if factor.when else set())
            totals = _combined(totals, choices)
    for combination in policy.combinations:
        if group in {None, combination.group}:
            totals = _combined(totals, {0, combination.points})
    return totals


def _combined(totals: int, choices: set[int]) -> int:
    found = 0
    for points in choices:
        found |= totals << points
    return found


def reach_findings(policy: Policy) -> Iterator[Finding]:
    """Every level can come out, and every ceiling can be exceeded."""
    totals = achievable_totals(policy)
    worst = totals.bit_length() - 1
    floors = {band.floor for factor in policy.factors for band in factor.bands}
    floors |= {combination.floor for combination in policy.combinations} | {c.floor for c in policy.group_ceilings}
    low = 0
    for position, level in enumerate(policy.levels):
        path: Path = ("levels", level.name)
        if level.up_to is None:
            break
        within = (totals >> low) & ((1 << (level.up_to - low + 1)) - 1) if level.up_to >= low else 0
        if level.up_to >= worst:
            message = (
                f"the worst possible total is {worst}, so nothing is worse than {level.name} with up_to {level.up_to}; "
                f"allowed: less than {worst}"
            )
            yield Finding((*path, "up_to"), message, str(level.up_to), f"less than {worst}")
        elif not within and (position == 0 or level.name not in floors):
            message = f"no total from {low} to {level.up_to} can come together, so {level.name} is never reached"
            yield Finding((*path, "up_to"), message, str(level.up_to), "a reachable level")
        low = level.up_to + 1
    yield from _always_floored(policy)
    for ceiling in policy.group_ceilings:
        most = achievable_totals(policy, ceiling.group).bit_length() - 1
        if ceiling.up_to >= most:
            message = f"the group {ceiling.group} cannot have more than {most} points; allowed: less than {most}"
            yield Finding(("group_ceilings", ceiling.group, "up_to"), message, str(ceiling.up_to), f"less than {most}")


def _always_floored(policy: Policy) -> Iterator[Finding]:
    for factor in policy.factors:
        if not factor.when and factor.bands[0].floor is not None:
            best, floor = policy.levels[0].name, factor.bands[0].floor
            message = (
                f"the best band already has the floor {floor}, so {best} is never reached; allowed: no floor there"
            )
            yield Finding(("factors", factor.name, "bands", 0, "floor"), message, floor, "no floor")
