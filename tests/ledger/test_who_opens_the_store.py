"""Whoever is not `jobs` reaches the store through `jobs`: by import, by a name in a text, or by the way of a driver."""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[2] / "riskboard"
MAY_OPEN = {"jobs", "ledger"}
OPENERS = {"open_store", "SqlStore", "Database", "create_engine"}
DRIVERS = {"sqlite3", "psycopg", "sqlalchemy"}
INSIDE = tuple(
    f"riskboard.ledger.{name}"
    for name in ("appending", "copies", "doors", "engine", "erasure", "founding", "schema", "shelf", "sql")
)


def ways_in(source: str) -> Iterator[str]:
    """Every way in which a module could reach the store without `jobs`."""
    for node in ast.walk(ast.parse(source)):
        match node:
            case ast.Import(names=names):
                yield from (a.name for a in names if a.name.split(".")[0] in DRIVERS or a.name.startswith(INSIDE))
            case ast.ImportFrom(module=str(module), names=names):
                if module.split(".")[0] in DRIVERS or module.startswith(INSIDE):
                    yield module
                yield from (a.name for a in names if a.name in OPENERS or f"{module}.{a.name}" in INSIDE)
            case ast.Attribute(attr=name) | ast.Name(id=name) if name in OPENERS:
                yield name
            case ast.Constant(value=str(text)) if text.startswith(INSIDE):
                yield text


def modules() -> list[str]:
    found = sorted(path.relative_to(PACKAGE).as_posix() for path in PACKAGE.rglob("*.py"))
    return [name for name in found if name.split("/")[0] not in MAY_OPEN]


@pytest.mark.parametrize("name", modules())
def test_nobody_but_jobs_opens_the_store(name: str) -> None:
    assert list(ways_in((PACKAGE / name).read_text(encoding="utf-8"))) == []


@pytest.mark.parametrize(
    "source",
    [
        "import sqlite3",
        "import riskboard.ledger.sql as s",
        "from riskboard.ledger import sql",
        "def f():\n    from riskboard.ledger.sql import open_store\n",
        "import importlib\nimportlib.import_module('riskboard.ledger.sql')",
        "from sqlalchemy import create_engine",
        "from riskboard.ledger.engine import Database as D",
        "thing.open_store('x')",
    ],
)
def test_each_way_in_is_seen(source: str) -> None:
    assert list(ways_in(source)) != []
