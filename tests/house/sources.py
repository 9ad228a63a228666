"""The project's own files, as the checks of the house read them."""

import ast
from collections.abc import Iterator
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]

_NOT_OURS = {".git", ".venv", "__pycache__", "build", "dist", "test-results", "_shipped"}


def project_files(*suffixes: str) -> Iterator[Path]:
    """Files of the project with one of these suffixes; all when none is given. Caches and environments are left out."""
    pending = [ROOT]
    while pending:
        for path in sorted(pending.pop().iterdir()):
            if path.name in _NOT_OURS or path.name.endswith((".egg-info", "_cache")) or path.name == ".hypothesis":
                continue
            if path.is_dir():
                pending.append(path)
            elif not suffixes or path.suffix in suffixes:
                yield path


@cache
def tree(path: Path) -> ast.Module:
    """A Python file, parsed."""
    return ast.parse(path.read_text(encoding="utf-8"), str(path))


def python_files(folder: str) -> list[Path]:
    """Python files below a folder of the project."""
    return sorted((ROOT / folder).rglob("*.py"))


def imported_modules(path: Path) -> Iterator[tuple[int, str]]:
    """(line, module) of every import in a file, wherever it stands. ``from a import b`` gives a and a.b."""
    for node in ast.walk(tree(path)):
        if isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
            yield node.lineno, node.module
            yield from ((node.lineno, f"{node.module}.{alias.name}") for alias in node.names)


def code_blocks(path: Path, language: str) -> list[str]:
    """The fenced blocks of one language in a Markdown file."""
    blocks: list[str] = []
    inside: list[str] | None = None
    for line in path.read_text(encoding="utf-8").splitlines():
        if inside is None:
            inside = [] if line.strip() == f"```{language}" else None
        elif line.strip() == "```":
            blocks.append("\n".join(inside))
            inside = None
        else:
            inside.append(line)
    return blocks
