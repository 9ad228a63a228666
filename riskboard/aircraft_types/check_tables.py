"""Tables: full rows, no hole, values that move the right way, and tables that do not contradict each other."""

from collections.abc import Sequence

from riskboard.aircraft_types.read import Entry, Reader, at
from riskboard.words import Induction
from riskboard.yaml_source import Node

__all__ = ["check_performance"]

_Rows = Sequence[Sequence[float | None]]
_CEILINGS = ("ceilings_pressure_altitude_ft", "ceilings_density_altitude_ft")
_LIMITS = ("limits_inhg", "limits_pct")


def check_performance(reader: Reader, root: Entry, engine: Entry) -> None:
    """Note what is wrong with hover and power tables."""
    performance: Entry | None = root.get("performance")
    if performance is None:
        return
    hover = [performance.get(key) for key in ("hover_in_ground_effect", "hover_out_of_ground_effect")]
    sound = [table for table in hover if table is not None and not table.broken and _hover(reader, table)]
    if len(sound) == len(hover):
        _out_is_harder(reader, *sound)
    power = performance.get("power", {})
    wanted = "limits_pct" if engine["induction"] == Induction.turbine else "limits_inhg"
    ready = {}
    for name, table in power.items():
        if table is None or table.broken:
            continue
        key = _given(table, _LIMITS)
        if key != wanted:
            what = "torque" if wanted == "limits_pct" else "manifold pressure"
            reader.problem(table.place(key), f"this engine is limited by {what}: write {wanted}", key, wanted)
        elif _full(reader, table, key, "pressure_altitudes_ft"):
            ready[name] = table
    if {"continuous", "take_off"} <= ready.keys():
        _take_off_is_more(reader, ready["continuous"], ready["take_off"], wanted)


def _given(table: Entry, keys: Sequence[str]) -> str:
    return next(key for key in keys if key in table.values)


def _cells(table: Entry, key: str) -> list[list[Node]]:
    return [row.value for row in table.node.value[key].value]


def _full(reader: Reader, table: Entry, key: str, rows_axis: str) -> bool:
    """Whether a table has a cell for every place and no blank between values."""
    rows: _Rows = table[key]
    across = len(table["temperatures_c"])
    if len(rows) != len(table[rows_axis]):
        message = f"{len(rows)} rows for the {len(table[rows_axis])} places of {rows_axis}; one row for each"
        reader.problem(table.place(key), message, f"{len(rows)}", f"{len(table[rows_axis])}")
        return False
    for node, row in zip(table.node.value[key].value, rows, strict=True):
        if len(row) != across:
            message = (
                f"{len(row)} cells for the {across} places of temperatures_c; write null where the manual is blank"
            )
            reader.problem(at(node), message, f"{len(row)}", f"{across}")
            return False
    return _no_hole(reader, table, key)


def _no_hole(reader: Reader, table: Entry, key: str) -> bool:
    rows: _Rows = table[key]
    cells = _cells(table, key)
    if all(value is None for row in rows for value in row):
        reader.problem(table.place(key), "every cell is blank")
        return False
    for i, row in enumerate(rows):
        for j, value in enumerate(row):
            column = [other[j] for other in rows]
            if value is None and (_between_values(row, j) or _between_values(column, i)):
                message = "a hole: this cell is blank though there are values on both sides of it"
                reader.problem(at(cells[i][j]), message, "null", "a value, or blanks to the end of row and column")
                return False
    return True


def _between_values(line: Sequence[float | None], place: int) -> bool:
    before, after = line[:place], line[place + 1 :]
    return any(value is not None for value in before) and any(value is not None for value in after)


def _hover(reader: Reader, table: Entry) -> bool:
    """Whether a hover table is full and a heavier or hotter hover is never a higher one."""
    key = _given(table, _CEILINGS)
    if not _full(reader, table, key, "gross_weights_lb"):
        return False
    rows: _Rows = table[key]
    cells = _cells(table, key)
    for i, row in enumerate(rows):
        for j, value in enumerate(row):
            lighter = rows[i - 1][j] if i else None
            cooler = row[j - 1] if j else None
            for other, what in ((lighter, "lighter"), (cooler, "cooler")):
                if value is not None and other is not None and value > other:
                    message = f"the ceiling {value:g} ft is above the {other:g} ft of the {what} neighbour"
                    reader.problem(at(cells[i][j]), message, f"{value:g}", f"up to {other:g}")
                    return False
            if value is not None and ((i and lighter is None) or (j and cooler is None)):
                message = (
                    "a ceiling here but none for the lighter or cooler neighbour; blanks belong to the heavy, hot end"
                )
                reader.problem(at(cells[i][j]), message, f"{value:g}", "null")
                return False
    return True


def _shared(first: Entry, second: Entry, rows_axis: str) -> list[tuple[int, int, int, int]]:
    """Places that both tables have: row and column in the first, row and column in the second."""
    return [
        (i, j, second[rows_axis].index(place), second["temperatures_c"].index(temperature))
        for i, place in enumerate(first[rows_axis])
        if place in second[rows_axis]
        for j, temperature in enumerate(first["temperatures_c"])
        if temperature in second["temperatures_c"]
    ]


def _out_is_harder(reader: Reader, inside: Entry, outside: Entry) -> None:
    key, other = _given(inside, _CEILINGS), _given(outside, _CEILINGS)
    if key != other:
        reader.problem(outside.place(other), f"both hover tables must give the same altitude: write {key}", other, key)
        return
    for i, j, k, m in _shared(inside, outside, "gross_weights_lb"):
        within, out = inside[key][i][j], outside[key][k][m]
        if within is not None and out is not None and out > within:
            message = f"a hover out of ground effect at {out:g} ft, above the {within:g} ft in ground effect"
            reader.problem(at(_cells(outside, key)[k][m]), message, f"{out:g}", f"up to {within:g}")
            return


def _take_off_is_more(reader: Reader, continuous: Entry, take_off: Entry, key: str) -> None:
    for i, j, k, m in _shared(continuous, take_off, "pressure_altitudes_ft"):
        steady, short = continuous[key][i][j], take_off[key][k][m]
        if steady is not None and short is not None and short < steady:
            message = f"the take-off limit {short:g} is below the continuous limit {steady:g}"
            reader.problem(at(_cells(take_off, key)[k][m]), message, f"{short:g}", f"at least {steady:g}")
            return
