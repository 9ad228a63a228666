import inspect
import re
import subprocess
import sys

from riskboard.ledger import errors


def tree(kind: type[errors.LedgerError]) -> dict[str, object]:
    return {child.__name__: tree(child) for child in kind.__subclasses__()}


def drawn() -> dict[str, object]:
    """The tree as the module's first lines draw it."""
    root: dict[str, object] = {}
    above: list[dict[str, object]] = [root]
    for line in (errors.__doc__ or "").splitlines():
        found = re.match(r"    ((?:│   |    )*(?:├── |└── )?)(\w+Error)\b", line)
        if found:
            depth = len(found[1]) // 4
            here: dict[str, object] = {}
            above[depth][found[2]] = here
            above[depth + 1 :] = [here]
    return root


def test_the_tree_is_drawn_as_it_is() -> None:
    assert drawn() == {"LedgerError": tree(errors.LedgerError)}


def test_every_error_is_exported() -> None:
    names = {name for name, kind in inspect.getmembers(errors, inspect.isclass) if kind.__module__ == errors.__name__}
    assert names == set(errors.__all__)


def test_every_message_says_what_happened_what_it_means_and_what_to_do() -> None:
    kinds: list[type[errors.NotWrittenError]] = [errors.NotWrittenError, *errors.NotWrittenError.__subclasses__()]
    for kind in kinds:
        text = str(kind("the log", "cause from below"))
        assert "the log" in text
        assert "Nothing was acknowledged" in text
        assert text.endswith("(cause from below)")
        assert re.search(r"\b(again|Do)\b", text)
    closed: list[type[errors.CannotOpenError]] = [errors.CannotOpenError, *errors.CannotOpenError.__subclasses__()]
    for kind_open in closed:
        text = str(kind_open("the log"))
        assert "the log" in text
        assert "Nothing in it was changed" in text


def test_the_pure_part_brings_in_no_database() -> None:
    code = "import sys, riskboard.ledger; print([m for m in ('sqlalchemy', 'sqlite3', 'argon2') if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
