"""List the program's messages with their remedies, as they stand in the source."""

from __future__ import annotations

import ast
import re
import sys
from collections.abc import Iterator, Mapping
from functools import cache
from itertools import product
from pathlib import Path

SOURCE = Path(__file__).resolve().parents[1] / "src" / "hubsight"
ROOMS = {
    "photo": "About a photo",
    "target": "About the target and the print",
    "camera": "About a camera's profile",
    "calibrate": "When a camera is calibrated",
    "see": "When gauge and bosses are looked for",
    "measure": "When a hub is measured",
    "wheel": "When a wheel is computed",
    "job": "About a job and its file",
    "kit": "About your kit",
    "record": "About a record",
    "shelf": "When hubs are looked up",
    "cli": "About a command",
}
SAYS: dict[str, tuple[int | str, int | str]] = {
    "Refusal": ("reason", "remedy"),
    "SheetProblem": ("reason", "remedy"),
    "one_problem": (1, 2),
    "bad": (1, 2),
    "complain": (1, 2),
    "KitError": (0, 1),
    "Problem": (3, 4),
}
"""What makes a message, and where in its call stand what is wrong and what to do."""
UNKNOWN = "..."
"""Stands for a number or a name."""

Names = Mapping[str, tuple[str, ...]]


class Messages(ast.NodeVisitor):
    """What one module says.

    Attributes
    ----------
    found
        Pairs of what is wrong and what to do.
    unknown
        Lines of messages of which nothing can be told here, and that do not hand on what another one says.
    """

    def __init__(self, constants: Names, tree: ast.Module) -> None:
        self._constants = dict(constants)
        self._function: ast.FunctionDef | None = None
        self._says = SAYS | _helpers(tree)
        self._given: set[str] = set()
        self.found: list[tuple[str, str]] = []
        self.unknown: list[int] = []
        self.visit(tree)

    def visit_FunctionDef(self, node: ast.FunctionDef) -> None:
        """Look at a function with what its own names stand for."""
        outside = self._function, self._given
        self._function, self._given = node, {one.arg for one in (*node.args.args, *node.args.kwonlyargs)}
        self.generic_visit(node)
        self._function, self._given = outside

    def visit_Call(self, node: ast.Call) -> None:
        """Note what a message says."""
        names = self._constants | (
            {} if self._function is None else before(self._function, node, self._constants)
        )
        name = node.func.id if isinstance(node.func, ast.Name) else getattr(node.func, "attr", "")
        if name == "PydanticCustomError":
            for text in texts(node.args[1], names):
                parts = text.partition(". ")
                what, _, remedy = (re.sub(r"{\w+}", UNKNOWN, part) for part in parts)
                if what.strip("., :;()"):
                    self.found.append((what, "" if remedy == UNKNOWN else remedy))
        if name in self._says:
            what, remedy = (_argument(node, place) for place in self._says[name])
            if what is not None and not self._handed_on(what):
                said = [text for text in texts(what, names) if text.strip("., :;()")]
                do = texts(remedy, names) if remedy is not None else ("",)
                self.found += [(one, "" if b.strip() == UNKNOWN else b) for one, b in product(said, do)]
                if not said:
                    self.unknown.append(node.lineno)
        self.generic_visit(node)

    def _handed_on(self, what: ast.expr) -> bool:
        """Tell whether a message only hands on what another one says."""
        return isinstance(what, ast.Attribute) or (isinstance(what, ast.Name) and what.id in self._given)


def _argument(node: ast.Call, place: int | str) -> ast.expr | None:
    if isinstance(place, int):
        return node.args[place] if len(node.args) > place else None
    return next((key.value for key in node.keywords if key.arg == place), None)


def _helpers(tree: ast.Module) -> dict[str, tuple[int | str, int | str]]:
    """Return the module's own functions that are given what is wrong and what to do."""
    out: dict[str, tuple[int | str, int | str]] = {}
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef):
            names = [one.arg for one in node.args.args if one.arg != "self"]
            what = next((name for name in ("reason", "what") if name in names), None)
            if what is not None and "remedy" in names:
                out[node.name] = (names.index(what), names.index("remedy"))
    return out


def texts(node: ast.expr, names: Names) -> tuple[str, ...]:
    """Return what an expression may say, with ``...`` where a value goes."""
    match node:
        case ast.Constant(value=str(said)):
            out = (said,)
        case ast.Constant(value=int(number)):
            out = (str(number),)
        case ast.Name(id=name):
            out = names.get(name, (UNKNOWN,))
        case ast.IfExp():
            out = (*texts(node.body, names), *texts(node.orelse, names))
        case ast.FormattedValue():
            out = texts(node.value, names)
        case ast.JoinedStr():
            out = tuple(map("".join, product(*(texts(part, names) for part in node.values))))
        case ast.BinOp(op=ast.Add()):
            out = tuple(map("".join, product(texts(node.left, names), texts(node.right, names))))
        case _:
            out = (UNKNOWN,)
    return out


def before(function: ast.FunctionDef, call: ast.Call, names: Names) -> dict[str, tuple[str, ...]]:
    """Return what a function's own names stand for at a call: what was assigned since the last way out."""
    earlier: dict[str, tuple[str, ...]] = {}
    later: dict[str, tuple[str, ...]] = {}
    ways_out = [one.end_lineno or 0 for one in ast.walk(function) if isinstance(one, ast.Return | ast.Raise)]
    since = max((line for line in ways_out if line < call.lineno), default=0)
    steps = [one for one in ast.walk(function) if isinstance(one, ast.Assign) and one.lineno < call.lineno]
    for step in sorted(steps, key=lambda one: one.lineno):
        for name, said in assigned(step, {**names, **earlier, **later}):
            if step.lineno > since:
                later[name] = tuple(dict.fromkeys((*later.get(name, ()), *said)))
            else:
                earlier[name] = said
    return earlier | later


def assigned(step: ast.Assign, names: Names) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Yield the names that an assignment gives, with what they stand for."""
    for target in step.targets:
        pairs = [(target, step.value)]
        if isinstance(target, ast.Tuple):
            pairs = (
                list(zip(target.elts, step.value.elts, strict=False))
                if isinstance(step.value, ast.Tuple)
                else []
            )
        for name, value in pairs:
            said = tuple(text for text in texts(value, names) if text != UNKNOWN)
            if isinstance(name, ast.Name) and said:
                yield name.id, said


@cache
def constants() -> Names:
    """Return the texts of all modules' constants, by name."""
    out: dict[str, tuple[str, ...]] = {}
    for file in sorted(SOURCE.rglob("*.py")):
        tree = ast.parse(file.read_text(encoding="utf-8"))
        for step in (one for one in tree.body if isinstance(one, ast.Assign)):
            out |= {name: said for name, said in assigned(step, out) if name.isupper()}
    return out


def messages_in(room: str) -> Iterator[tuple[Path, Messages]]:
    """Yield what each module of a room says."""
    known = constants()
    for file in sorted((SOURCE / room).rglob("*.py")):
        yield file, Messages(known, ast.parse(file.read_text(encoding="utf-8")))


def table() -> str:
    """Return every message that the source spells out, a table a room."""
    out, told = [], set[tuple[str, str]]()
    for room, title in ROOMS.items():
        found = dict.fromkeys(pair for _, said in messages_in(room) for pair in said.found)
        cells = {(_cell(what), _cell(remedy)) for what, remedy in found}
        rows = sorted(cells - told, key=lambda pair: (pair[0].lower(), pair[1]))
        told |= set(rows)
        if rows:
            out += [f"## {title}", "", "| it says | do this |", "|---|---|"]
            out += [f"| {what} | {remedy} |" for what, remedy in rows]
            out.append("")
    return "\n".join(out).rstrip()


def _cell(text: str) -> str:
    words = " ".join(text.replace("|", "\\|").replace("<", "&lt;").split())
    return re.sub(r"\.{4,}", UNKNOWN, words)


if __name__ == "__main__":
    sys.stdout.write(table() + "\n")
