"""What a policy says beside its decisions (errors of entries, costs of ways out, words for a no): sound, and tightened.

None of it touches a decision. Errors say how often a decision would be another one, costs put the ways out in order,
and the words for a no help whoever has to say it.
"""

from collections.abc import Iterator

from riskboard.policy.build import Parts
from riskboard.policy.finding import Finding
from riskboard.policy.model import Alternatives, Policy

__all__ = ["alternatives_findings", "merged_alternatives", "tightened_alternatives"]

MAX_SIZE = 10_000.0
_WHOLE_PCT = 100.0


def alternatives_findings(policy: Policy) -> Iterator[Finding]:
    """Errors that are no sizes."""
    for error in policy.alternatives.errors:
        most = _WHOLE_PCT if error.relative else MAX_SIZE
        if not 0.0 <= error.size <= most:
            allowed = f"from 0 to {most:g}"
            message = f"the {error.key} of an error is {error.size:g}; allowed: {allowed}"
            yield Finding(("errors", error.name, error.key), message, f"{error.size:g}", allowed)


def merged_alternatives(parent: Alternatives, own: Parts) -> Alternatives:
    """What an extension states over what it extends."""
    errors = {error.name: error for error in own.errors}
    costs = {cost.name: cost for cost in own.ways_out}
    return Alternatives(
        parent.fragile_below_pct if own.fragile_below_pct is None else own.fragile_below_pct,
        tuple(errors.get(error.name, error) for error in parent.errors),
        tuple(costs.get(cost.name, cost) for cost in parent.ways_out),
        own.when_no or parent.when_no,
    )


def tightened_alternatives(parent: Alternatives, own: Parts) -> Iterator[Finding]:
    """Where an extension counts on smaller errors, cheaper ways out or a lower bar than what it extends."""
    least = parent.fragile_below_pct
    if own.fragile_below_pct is not None and own.fragile_below_pct < least:
        message = f"fragile_below_pct {own.fragile_below_pct} calls less fragile than before; allowed: at least {least}"
        yield Finding(("fragile_below_pct",), message, str(own.fragile_below_pct), f"at least {least}")
    before = {error.name: error for error in parent.errors}
    for error in own.errors:
        old = before.get(error.name)
        if old is None:
            yield _not_before("errors", error.name, tuple(before))
        elif error.relative != old.relative:
            message = f"the error of {error.name} is stated as {old.key} by the extended policy; allowed: {old.key}"
            yield Finding(("errors", error.name, error.key), message, error.key, old.key)
        elif error.size < old.size:
            allowed = f"at least {old.size:g}"
            message = f"{error.key} {error.size:g} counts on a smaller error than before; allowed: {allowed}"
            yield Finding(("errors", error.name, error.key), message, f"{error.size:g}", allowed)
    priced = {cost.name: cost for cost in parent.ways_out}
    for cost in own.ways_out:
        was = priced.get(cost.name)
        if was is None:
            yield _not_before("ways_out", cost.name, tuple(priced))
        elif cost.cost < was.cost:
            message = f"cost {cost.cost} makes this way out cheaper than before; allowed: at least {was.cost}"
            yield Finding(("ways_out", cost.name, "cost"), message, str(cost.cost), f"at least {was.cost}")


def _not_before(section: str, name: str, before: tuple[str, ...]) -> Finding:
    allowed = ", ".join(before) or "none"
    message = f"the extended policy states no {name!r} under {section}, and an extension adds none; allowed: {allowed}"
    return Finding((section, name), message, name, allowed, at_key=True)
