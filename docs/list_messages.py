"""List the program's refusals with their remedies, as they stand in the source."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

SOURCE = Path(__file__).resolve().parents[1] / "src" / "hubsight"
ROOMS = {
    "photo": "About a photo",
    "target": "About the target and the print",
    "calibrate": "When a camera is calibrated",
    "see": "When gauge and bosses are looked for",
    "measure": "When a hub is measured",
    "wheel": "When a wheel is computed",
    "job": "About a job",
}


def _text(node: ast.expr) -> str | None:
    """Return a string of the source, with ``...`` where a value goes; None for what is no string."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return node.value
    if isinstance(node, ast.JoinedStr):
        return "".join(_text(part) or "..." for part in node.values)
    if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add):
        left, right = _text(node.left), _text(node.right)
        return None if left is None or right is None else left + right
    return None


def _refusals(file: Path) -> Iterator[tuple[str, str]]:
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "Refusal":
            said = {key.arg: _text(key.value) for key in node.keywords}
            reason, remedy = said.get("reason"), said.get("remedy")
            if reason and remedy and remedy != "...":
                yield reason, remedy


def table() -> str:
    """Return every refusal that the source spells out, a table a room."""
    out = []
    for room, title in ROOMS.items():
        rows = {pair: None for file in sorted((SOURCE / room).rglob("*.py")) for pair in _refusals(file)}
        if rows:
            out += [f"## {title}", "", "| it says | do this |", "|---|---|"]
            out += [f"| {_cell(reason)} | {_cell(remedy)} |" for reason, remedy in rows]
            out.append("")
    return "\n".join(out).rstrip()


def _cell(text: str) -> str:
    return " ".join(text.replace("|", "\\|").replace("<", "&lt;").split())


if __name__ == "__main__":
    print(table())
