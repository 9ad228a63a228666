"""Where the clauses of a policy, and what checks found in them, stand in its text."""

from riskboard.policy.finding import Finding, Path
from riskboard.yaml_source import Node, Problem

__all__ = ["Places"]

_LISTED = ("levels", "combinations", "mitigations", "tests")
_MAPPED = ("factors", "limits", "worksheets", "group_ceilings", "errors", "ways_out")


class Places:
    """Where a path of keys stands in the text."""

    def __init__(self, root: Node) -> None:
        self.root = root
        self.named: dict[tuple[str, str], Node] = {}
        for section in _LISTED:
            node = root.value.get(section) if root.kind == "map" else None
            for item in node.value if node is not None and node.kind == "list" else ():
                name = item.value.get("name") if item.kind == "map" else None
                if name is not None:
                    self.named[section, str(name.value).strip()] = item

    def lines(self) -> dict[tuple[str, str], int]:
        """The line where each clause and test begins: (section, name) -> line from 1."""
        found = {key: item.line for key, item in self.named.items()}
        for section in ("factors", "limits"):
            node = _inside(self.root, section)
            if node is not None and node.kind == "map":
                found |= {(section, name): line for name, (line, _) in node.keys.items()}
        return found

    def problem(self, name: str, finding: Finding) -> Problem:
        """A finding as a problem of the text called ``name``."""
        line, column = self.place(finding.path, at_key=finding.at_key)
        return Problem(name, line, column, finding.message, finding.found, finding.allowed)

    def place(self, path: Path, *, at_key: bool) -> tuple[int, int]:
        """Line and column of what a path leads to, or of the nearest there is on the way."""
        node, rest = self._start(path)
        place = (node.line, node.column)
        for step in rest:
            inner = _inside(node, step)
            if inner is None:
                break
            if at_key and step == path[-1] and node.kind == "map":
                return node.keys[str(step)]
            node, place = inner, (inner.line, inner.column)
        return place

    def _start(self, path: Path) -> tuple[Node, Path]:
        """The node a path starts from: the clause it names, or the word ``extends`` for an inherited one."""
        if len(path) > 1 and path[0] in _LISTED:
            found = self.named.get((str(path[0]), str(path[1])))
            if found is not None:
                return found, path[2:]
        elif len(path) > 1 and path[0] in _MAPPED:
            section = _inside(self.root, path[0])
            if section is not None and _inside(section, path[1]) is not None:
                return self.root, path
        elif path and _inside(self.root, path[0]) is not None:
            return self.root, path
        return _inside(self.root, "extends") or self.root, ()


def _inside(node: Node, step: str | int) -> Node | None:
    if node.kind == "map":
        found: Node | None = node.value.get(step)
        return found
    if node.kind == "list" and isinstance(step, int) and step < len(node.value):
        item: Node = node.value[step]
        return item
    return None
