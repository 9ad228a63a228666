"""What would change the answer: window, tripwires and robustness together against one assessment with its reasons.

The same engine, worksheet and policy on both sides; every call is of another flight, so nothing is quick because it
was just said. ``python -m tests.bench.what_if`` prints it by itself.
"""

import sys
from itertools import cycle

from riskboard.aircraft_types.shipped import shipped_types
from riskboard.assessment.assess import assess
from riskboard.assessment.facts import prepare
from riskboard.assessment.robustness import COPIES, robustness
from riskboard.assessment.tripwires import INPUTS, tripwires
from riskboard.assessment.variations import base_of
from riskboard.assessment.window import departure_window
from riskboard.jobs.files import shipped_book
from riskboard.shipped import shipped
from riskboard.worksheet.entries import ForecastLine
from riskboard.worksheet.file import read_worksheet_file
from tests.bench.timing import Row, alternated, table

__all__ = ["rows"]

BOUND = 25.0
STEPS = 100
LEAST_INPUTS = 15
FLIGHTS = 32
_STEP_MIN = 9


def _line(start: str, end: str, **stated: object) -> ForecastLine:
    fair = {"gust_kt": "none", "ceiling_ft_agl": "none", "lowest_cloud_ft_agl": "none", "thunderstorm": False}
    still = {"wind_from_deg": 320, "precipitation": "none", "visibility_sm": 10}
    times = {"start_at": f"2026-05-0{start}", "end_at": f"2026-05-0{end}", "kind": "prevailing"}
    return ForecastLine.model_validate({**fair, **still, **times, **stated})


def rows() -> list[Row]:
    """The ratio, on a day whose wind, temperature and dew point change.

    Raises:
        RuntimeError: The answers are not those that are promised to be timed.
    """
    policy = next(each for each in shipped_book().policies if each.id == "rotor-school-vfr")
    prepared = prepare(policy, shipped_types())
    sheet, at = read_worksheet_file(shipped("weather_samples") / "calm_morning.yaml")
    if at is None:
        raise RuntimeError("the sample states no moment of decision")
    day = (
        _line("4T12:00Z", "4T18:00Z", wind_kt=5, temperature_c=20, dew_point_c=1),
        _line("4T18:00Z", "5T09:00Z", wind_kt=9, temperature_c=26, dew_point_c=3),
    )
    flights = [
        sheet.but(forecast_lines=day, wind_kt=float(3 + i % 8), temperature_c=14.0 + i % 9, hours_in_type_h=60.0 + i)
        for i in range(FLIGHTS)
    ]
    mine, others = cycle(flights), cycle(flights)

    def what_if() -> tuple[int, int, int]:
        base = base_of(next(mine), prepared, at)
        window = departure_window(base, step_min=_STEP_MIN)
        wires = tripwires(base)
        robust = robustness(base)
        return len(window.steps), len({wire.input.field for wire in wires.all}), robust.copies

    steps, inputs, copies = what_if()
    if steps < STEPS or inputs < LEAST_INPUTS or copies != COPIES:
        raise RuntimeError(f"timed {steps} steps, {inputs} inputs and {copies} copies, which is less than promised")
    times = alternated({"what if": what_if, "one": lambda: assess(next(others), prepared, at)}, rounds=31)
    what = f"window of {steps} steps, tripwires of {inputs} of {len(INPUTS)} inputs, {copies:,} copies"
    return [Row(what, times["what if"], "one worksheet to reasons", times["one"], BOUND)]


if __name__ == "__main__":
    found = rows()
    sys.stdout.write(table(found) + "\n")
    sys.exit(int(any(row.over for row in found)))
