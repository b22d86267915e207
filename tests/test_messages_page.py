"""The page of messages holds what the program says, whichever way it says it."""

import ast
import re
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT / "docs"))
list_messages = pytest.importorskip("list_messages")
PAGE = list_messages.table()
"""As the page is filled; `docs/build.py --check` says whether it is."""


@pytest.mark.parametrize(
    ("what", "remedy"),
    [
        ("the printed target was not found", "Photograph the hub on the printed target"),  # words as they are
        ("the bosses cannot be told from their surroundings", "Photograph"),  # a constant's remedy
        ("is no photo that can be read, or is cut short", ""),  # through a module's own helper
        ('no photo matches "..."', "Put the photos there"),  # of a field of the job file
        ("this is no photo", "Give photos"),  # of a command
        ("... mm is not between ... and ...", ""),  # of a reading
        ("there is no such folder", "Check the name, or begin the job"),  # one of two, put together before
        ("one photo cannot calibrate a camera: it takes 6 to 30", "Take ten or more"),
    ],
)
def test_each_way_of_saying_something_is_on_the_page(what, remedy):
    row = next((line for line in PAGE.splitlines() if line.startswith(f"| {what}")), None)
    assert row is not None
    assert f"| {remedy}" in row


def test_no_refusal_in_the_source_is_missing():
    """Independent of how the page is made: every reason that is spelt out, word by word."""
    said = set()
    for file in (ROOT / "src" / "hubsight").rglob("*.py"):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if (
                isinstance(node, ast.keyword)
                and node.arg == "reason"
                and isinstance(node.value, ast.Constant)
            ):
                said.add((file.name, node.value.value))
    assert len(said) > 30
    missing = {one for one in said if one[1] and " ".join(one[1].replace("|", r"\|").split()) not in PAGE}
    assert not missing


def test_what_the_page_cannot_know_is_little():
    unknown = [
        (file.name, line)
        for room in list_messages.ROOMS
        for file, said in list_messages.messages_in(room)
        for line in said.unknown
    ]
    assert len(unknown) <= 15, unknown
    rows = re.findall(r"^\| .* \|$", PAGE, re.MULTILINE)
    assert len(rows) > 300
