"""YAML text -> checked type. A bad one is refused with every problem: line, column, value, what is allowed."""

from riskboard.aircraft_types.build import build_type
from riskboard.aircraft_types.checks import check_type
from riskboard.aircraft_types.model import AircraftType
from riskboard.aircraft_types.read import Reader
from riskboard.aircraft_types.schema import TYPE
from riskboard.yaml_source import Problem, SourceError, load

__all__ = ["TypeFileError", "load_type"]


class TypeFileError(Exception):
    """The type file is refused. ``problems`` holds every reason, in the order of the text."""

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        super().__init__("\n".join(str(problem) for problem in problems))
        self.problems = problems


def load_type(text: str | bytes, *, name: str) -> AircraftType:
    """Read and check one aircraft type.

    Args:
        text: The YAML.
        name: What problems call the text, usually its file name.

    Returns:
        The type.

    Raises:
        TypeFileError: The text is refused, with every problem found.
    """
    try:
        node = load(text, name=name)
    except SourceError as error:
        raise TypeFileError(error.problems) from error
    reader = Reader(name)
    root = reader.record(TYPE, node)
    check_type(reader, root)
    if reader.problems:
        problems = dict.fromkeys(reader.problems)
        raise TypeFileError(tuple(sorted(problems, key=lambda problem: (problem.line, problem.column))))
    return build_type(root)
