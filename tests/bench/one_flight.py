"""One flight: a worksheet to reasons against reading the model; ready-made measures to a decision against rule tables.

The two sides of a bound do the same job. The rule engine gives points, limits hit and level from measures and guards,
but does not work these out. So it stands beside riskboard twice: from the same ready-made measures, though riskboard
gives reasons besides; and from the worksheet, where the rival is what somebody would build with it: these measures,
handed to its tables. The worksheet to reasons against its tables alone is shown too, without a bound.

Every call assesses another flight, with values of its own: nothing is quick because it was just said.
"""

import random
from collections.abc import Callable, Iterable, Mapping
from functools import partial
from itertools import cycle
from typing import Any, TypeVar

import numpy as np

from riskboard.assessment.assess import Assessment, assess, assess_facts
from riskboard.assessment.engine import Facts, score
from riskboard.assessment.facts import PreparedPolicy, facts_of, prepare
from riskboard.jobs.files import shipped_book
from riskboard.policy.book import DEFAULT_ID
from riskboard.shipped import shipped
from riskboard.worksheet.file import read_worksheet_file
from riskboard.worksheet.model import Worksheet
from tests.bench.decision_tables import evaluator
from tests.bench.timing import Row, alternated

__all__ = ["rows"]

SAMPLE = "gusty_afternoon.yaml"
ROUNDS, CALLS = 15, 20
Given = TypeVar("Given")


def rows() -> list[Row]:
    """The ratios of one flight."""
    sheet, at = read_worksheet_file(shipped("weather_samples") / SAMPLE)
    if at is None:
        raise ValueError(f"{SAMPLE} has no decided_at")
    prepared = prepare(next(p for p in shipped_book().policies if p.id == DEFAULT_ID))
    sheets = flights_like(sheet, ROUNDS * CALLS)
    data = [each.model_dump(mode="json") for each in sheets]
    if Worksheet.model_validate(data[0]) != sheets[0]:
        raise ValueError("the data validate to another worksheet")
    facts = [facts_of([each], prepared, at)[0] for each in sheets]
    given = [ready_made(each) for each in facts]
    tables = evaluator(prepared.policy)
    for each, measures in zip(sheets, given, strict=True):
        check_equal(tables(measures), assess(each, prepared, at))
    times = alternated(
        {
            "reasons": each_in_turn(lambda one: assess(one, prepared, at), sheets),
            "validation": each_in_turn(Worksheet.model_validate, data),
            "tables": each_in_turn(tables, given),
            "judged": each_in_turn(
                lambda pair: assess_facts(pair[0], pair[1], prepared, at), list(zip(facts, sheets, strict=True))
            ),
            "tables_too": each_in_turn(lambda one: tables(ready_made(facts_of([one], prepared, at)[0])), sheets),
            "measures": each_in_turn(lambda one: facts_of([one], prepared, at), sheets),
            "engine": each_in_turn(partial(engine_alone, prepared), facts),
        },
        rounds=ROUNDS,
        calls=CALLS,
    )
    tabled = "decision tables, from ready-made measures"
    return [
        Row("worksheet to reasons", times["reasons"], "validating the model", times["validation"], 40),
        Row("worksheet to reasons", times["reasons"], "measures, then decision tables", times["tables_too"], 1),
        Row("ready-made measures to decision and reasons", times["judged"], tabled, times["tables"], 1),
        Row(
            "worksheet to reasons",
            times["reasons"],
            tabled,
            times["tables"],
            None,
            "(no equal job: measures counted in)",
        ),
        Row("  of it: measures", times["measures"], "worksheet to reasons", times["reasons"], None),
        Row("  of it: decision and reasons", times["judged"], "worksheet to reasons", times["reasons"], None),
        Row("  of that: engine", times["engine"], "worksheet to reasons", times["reasons"], None),
    ]


def each_in_turn(run: Callable[[Given], object], given: Iterable[Given]) -> Callable[[], object]:
    """A call without arguments that takes the next of the given things every time."""
    turns = cycle(list(given))
    return lambda: run(next(turns))


def engine_alone(prepared: PreparedPolicy, facts: Facts) -> object:
    """Scores with everything that reasons read."""
    return score(prepared.compiled, facts, keep=True)


def flights_like(sheet: Worksheet, count: int) -> list[Worksheet]:
    """The same flight in other weather, with other fuel and other people."""
    chance = random.Random(20260504)  # noqa: S311  - no secret

    def other() -> Worksheet:
        return sheet.but(
            wind_kt=float(chance.randint(5, 15)),
            gust_kt=float(chance.randint(16, 30)),
            temperature_c=chance.randint(90, 300) / 10,
            dew_point_c=chance.randint(-50, 85) / 10,
            altimeter_inhg=chance.randint(2960, 3030) / 100,
            fuel_usable_gal=chance.randint(150, 240) / 10,
            hours_in_type_h=chance.randint(400, 9000) / 10,
            hours_last_90_days_h=chance.randint(20, 390) / 10,
            meter_h=chance.randint(12410, 13390) / 10,
            sleepiness_rating=chance.randint(1, 7),
            departure_elevation_ft=float(chance.randint(600, 1240)),
            approach_heading_deg=float(chance.randint(0, 359)),
        )

    return [other() for _ in range(count)]


def ready_made(facts: Facts) -> dict[str, Any]:
    """Measures and guards as the rule engine takes them: plain numbers and truths, None for unknown."""
    numbers = {name: None if np.isnan(values[0]) else float(values[0]) for name, values in facts.measures.items()}
    truths = {word.value: None if np.isnan(v[0]) else bool(v[0] == 1) for word, v in facts.guards.items()}
    return {**numbers, **truths}


def check_equal(result: Mapping[str, Any], own: Assessment) -> None:
    """The rival is only a rival while it finds the same.

    Raises:
        ValueError: It found another total, or other limits hit.
    """
    stops = sum(line.kind == "limit" and line.standing in {"stop", "unknown"} for line in own.lines)
    if (result["total"], result["stops"]) != (own.total, stops):
        found = f"{result['total']} points and {result['stops']} limits hit"
        raise ValueError(f"the decision tables find {found}, riskboard {own.total} and {stops}")
