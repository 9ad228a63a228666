"""Run-up and shut-down: what the engine has is asked for, what it has not is left out, and tolerances agree."""

from riskboard.aircraft_types.read import Entry, Reader, at
from riskboard.words import Induction

__all__ = ["check_run_up"]

_MAGNETOS = ("magneto_check_rpm_pct", "magneto_drop_max_pct", "magneto_difference_max_pct", "magneto_hold_s")
_HEAT = ("carburettor_heat_rise_min_c",)


def check_run_up(reader: Reader, root: Entry, engine: Entry) -> None:
    """Note what is wrong with the run-up and the shut-down."""
    run_up: Entry | None = root.get("run_up")
    if run_up is not None and not run_up.broken:
        piston = engine["induction"] != Induction.turbine
        _needed(reader, run_up, _MAGNETOS, needed=piston, why="an engine with magnetos")
        _needed(reader, run_up, _HEAT, needed=engine["induction"] == Induction.carburetted, why="a carburettor")
        _agree(reader, run_up)
    shut_down: Entry | None = root.get("shut_down")
    if shut_down is not None and not shut_down.broken and engine["induction"] != Induction.turbine:
        _needed(reader, shut_down, ("before_mixture_off_s",), needed=True, why="an engine with a mixture control")


def _needed(reader: Reader, record: Entry, keys: tuple[str, ...], *, needed: bool, why: str) -> None:
    for key in keys:
        given = record.get(key) is not None
        if needed and not given:
            reader.problem(at(record.node), f"no {key!r}, which belongs to {why}", "", key)
        elif given and not needed:
            reader.problem(record.place(key), f"{key} belongs to {why}, which this type has not; leave it out", key)


def _agree(reader: Reader, run_up: Entry) -> None:
    drop, difference = run_up.get("magneto_drop_max_pct"), run_up.get("magneto_difference_max_pct")
    if drop is not None and difference is not None and difference > drop:
        message = f"a difference of {difference:g} % cannot be seen while each drop is at most {drop:g} %"
        reader.problem(run_up.place("magneto_difference_max_pct"), message, f"{difference:g}", f"up to {drop:g}")
    governor, warning = run_up.get("governor_rpm_pct"), run_up["low_rotor_warning_rpm_pct"]
    if governor is not None and warning[1] >= governor[0]:
        message = f"a low-rotor warning at {warning[1]:g} % would sound while the governor holds {governor[0]:g} %"
        reader.problem(run_up.place("low_rotor_warning_rpm_pct"), message, f"{warning[1]:g}", f"below {governor[0]:g}")
    check = run_up.get("magneto_check_rpm_pct")
    if governor is not None and check is not None and check[1] > governor[1]:
        message = f"a magneto check at {check[1]:g} % is faster than the governor's {governor[1]:g} %"
        reader.problem(run_up.place("magneto_check_rpm_pct"), message, f"{check[1]:g}", f"up to {governor[1]:g}")
