"""A constant of a module says what it is, in a docstring beneath it."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import hubsight

PACKAGE = Path(hubsight.__file__).parent
MODULES = sorted(file.relative_to(PACKAGE).as_posix() for file in PACKAGE.rglob("*.py"))


def constants(statement: ast.stmt) -> list[str]:
    """Return the names in capitals that a statement sets."""
    if isinstance(statement, ast.Assign):
        targets = statement.targets
    elif isinstance(statement, ast.AnnAssign) and statement.value is not None:
        targets = [statement.target]
    else:
        return []
    flat = [part for target in targets for part in getattr(target, "elts", [target])]
    return [part.id for part in flat if isinstance(part, ast.Name) and part.id.isupper()]


def undocumented(text: str) -> list[str]:
    """Return the constants of a module beneath which no docstring stands."""
    body = ast.parse(text).body
    found = []
    for statement, following in zip(body, [*body[1:], None], strict=True):
        says = isinstance(following, ast.Expr) and isinstance(following.value, ast.Constant)
        if not (says and isinstance(following.value.value, str)):
            found += constants(statement)
    return found


@pytest.mark.parametrize("module", MODULES)
def test_every_constant_has_a_docstring(module):
    assert undocumented((PACKAGE / module).read_text(encoding="utf-8")) == []


def test_the_check_sees_what_is_missing():
    told = 'A = 1\n"""Its unit."""\nB, C = 2, 3\n"""Both."""\nd = 4\nE: int\n'
    assert undocumented(told) == []
    assert undocumented("A = 1\nB: int = 2\n\n\ndef f(): ...\n") == ["A", "B"]
    assert undocumented('A, b = 1, 2\n3\n"""Too late."""\n') == ["A"]
