"""The same policy as decision tables of a general rule engine: one table for each factor and limit, then the sums.

The rival gets the measures and the guards ready-made; riskboard's side starts at the worksheet. Both give the total,
the limits hit and the level of the total; what riskboard does besides (reasons, margins, unknown floors) has no equal.
"""

import json
from collections.abc import Callable, Mapping
from typing import Any

import zen

from riskboard.policy.model import Combination, Factor, Limit, Policy, When

__all__ = ["decision_tables", "evaluator"]

_AT = {"x": 0, "y": 0}


def evaluator(policy: Policy) -> Callable[[Mapping[str, Any]], dict[str, Any]]:
    """The policy, loaded into the rule engine: measures and guards by name in (None is unknown), result out."""
    decision = zen.ZenEngine().create_decision(json.dumps(decision_tables(policy)))
    return lambda facts: dict(decision.evaluate(dict(facts))["result"])


def decision_tables(policy: Policy) -> dict[str, Any]:
    """The decision graph as plain data."""
    tables = [_factor(f) for f in policy.factors] + [_limit(one) for one in policy.limits]
    tables += [_combination(i, c) for i, c in enumerate(policy.combinations)]
    points = [f"p_{f.name}" for f in policy.factors] + [f"c_{i}" for i in range(len(policy.combinations))]
    sums = {
        "id": "sums",
        "type": "expressionNode",
        "name": "sums",
        "position": _AT,
        "content": {
            "expressions": [
                {"id": "total", "key": "total", "value": f"sum([{', '.join(points)}])"},
                {
                    "id": "stops",
                    "key": "stops",
                    "value": f"sum([{', '.join(f's_{one.name}' for one in policy.limits)}])",
                },
            ]
        },
    }
    levels = _table("levels", {"total": "total", "stops": "stops"}, "level", _level_rules(policy))
    ends = [_end("inputNode", "in"), _end("outputNode", "out")]
    pairs = (
        [("in", t["id"]) for t in tables]
        + [(t["id"], "sums") for t in tables]
        + [("sums", "levels"), ("levels", "out")]
    )
    edges = [
        {"id": f"e{i}", "type": "edge", "sourceId": source, "targetId": target}
        for i, (source, target) in enumerate(pairs)
    ]
    levels["content"]["passThrough"] = True
    return {"nodes": [*ends, *tables, sums, levels], "edges": edges}


def _end(kind: str, name: str) -> dict[str, Any]:
    return {"id": name, "type": kind, "name": name, "position": _AT}


def _table(name: str, inputs: Mapping[str, str], output: str, rules: list[dict[str, str]]) -> dict[str, Any]:
    content = {
        "hitPolicy": "first",
        "inputs": [{"id": key, "name": key, "field": field} for key, field in inputs.items()],
        "outputs": [{"id": "out", "name": "out", "field": output}],
        "rules": [{"_id": f"{name}{i}", **dict.fromkeys(inputs, ""), **rule} for i, rule in enumerate(rules)],
    }
    return {"id": name, "type": "decisionTableNode", "name": name, "position": _AT, "content": content}


def _guarded(when: When, measures: Mapping[str, str]) -> tuple[dict[str, str], list[dict[str, str]]]:
    """Input columns, and first the rules by which a clause that surely does not apply gives nothing."""
    guards = {f"g{i}": word.value for i, word in enumerate(when)}
    out = [{key: str(not wanted).lower(), "out": "0"} for key, wanted in zip(guards, when.values(), strict=True)]
    return {**guards, **measures}, out


def _factor(factor: Factor) -> dict[str, Any]:
    inputs, rules = _guarded(factor.when, {"m": factor.measure})
    word = "<=" if factor.ascending else ">="
    for band in factor.bands:
        rules.append({"m": "" if band.bound is None else f"{word} {band.bound:g}", "out": str(band.points)})
    return _table(factor.name, inputs, f"p_{factor.name}", rules)


def _limit(limit: Limit) -> dict[str, Any]:
    inputs, rules = _guarded(limit.when, {"m": limit.measure})
    within = f"<= {limit.up_to:g}" if limit.up_to is not None else f">= {limit.at_least:g}"
    rules += [{"m": within, "out": "0"}, {"out": "1"}]
    return _table(limit.name, inputs, f"s_{limit.name}", rules)


def _combination(position: int, combination: Combination) -> dict[str, Any]:
    from riskboard.measures.registry import MEASURES  # noqa: PLC0415  - only combinations need directions
    from riskboard.words import Direction  # noqa: PLC0415  - as above

    measures = {f"m{i}": part.measure for i, part in enumerate(combination.all_of)}
    inputs, rules = _guarded(combination.when, measures)
    for key, part in zip(measures, combination.all_of, strict=True):
        word = "<=" if MEASURES[part.measure].worse is Direction.higher else ">="
        rules.append({key: f"{word} {part.beyond:g}", "out": "0"})
    rules.append({"out": str(combination.points)})
    return _table(f"c{position}", inputs or {"none": "none"}, f"c_{position}", rules)


def _level_rules(policy: Policy) -> list[dict[str, str]]:
    rules = [{"stops": "> 0", "out": json.dumps(policy.levels[policy.no_go_floor].name)}]
    for level in policy.levels:
        bound = "" if level.up_to is None else f"<= {level.up_to}"
        rules.append({"total": bound, "out": json.dumps(level.name)})
    return rules
