"""Where in a TOML text a field stands, so that an error can name its line."""

from __future__ import annotations

import re

_HEADER = re.compile(r"^\s*\[\s*([^\[\]]+?)\s*\]\s*(?:#.*)?$")
"""A table's header, its name as the group."""
_KEY = re.compile(r"""^\s*((?:[\w-]+|"[^"]*"|'[^']*')(?:\s*\.\s*(?:[\w-]+|"[^"]*"|'[^']*'))*)\s*=""")
"""A key, dotted or quoted, up to its equals sign."""

FieldPath = tuple[str, ...]


def _parts(dotted: str) -> FieldPath:
    return tuple(part.strip().strip("\"'") for part in dotted.split("."))


def field_lines(text: str) -> dict[FieldPath, int]:
    """Return the line (from 1) of every table and key in a TOML text.

    Keys inside of inline tables and long strings are not looked into: :func:`line_of` falls back to the
    field that holds them.
    """
    found: dict[FieldPath, int] = {}
    table: FieldPath = ()
    for number, line in enumerate(text.splitlines(), start=1):
        if header := _HEADER.match(line):
            table = _parts(header.group(1))
            found.setdefault(table, number)
        elif key := _KEY.match(line):
            path = table + _parts(key.group(1))
            for depth in range(len(table) + 1, len(path) + 1):
                found.setdefault(path[:depth], number)
    return found


def line_of(lines: dict[FieldPath, int], path: FieldPath) -> int | None:
    """Return the line of ``path``, or of the nearest thing around it that stands in the text."""
    for depth in range(len(path), 0, -1):
        if path[:depth] in lines:
            return lines[path[:depth]]
    return None
