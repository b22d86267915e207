"""What a Python user imports: every public name is there, and none costs more than it needs."""

import ast
import doctest
import importlib
import pkgutil
import subprocess
import sys
from pathlib import Path

import pytest

import hubsight
from hubsight import cli, model, wheel

PICTURES = ("cv2", "PIL", "skimage", "pi_heif", "reportlab", "matplotlib")
"""Packages that read, draw or look at pictures."""
SOURCES = Path(hubsight.__file__)


def loaded_by(statement, packages):
    """Return which packages a fresh interpreter has loaded after a statement."""
    code = f"{statement}\nimport sys\nprint(*sorted(set({packages!r}) & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    return done.stdout.splitlines()[-1].split()


def modules_of(package):
    found = pkgutil.walk_packages(package.__path__, f"{package.__name__}.")
    return [package.__name__, *(module.name for module in found)]


@pytest.mark.parametrize("package", [model, wheel], ids=["model", "wheel"])
def test_the_rooms_without_pictures_load_no_picture_library(package):
    assert loaded_by(f"import {', '.join(modules_of(package))}", PICTURES) == []


def test_the_check_sees_a_picture_library_where_there_is_one():
    assert loaded_by("import hubsight.photo", PICTURES) != []


def test_the_list_of_commands_needs_nothing_that_measures():
    slow = (*PICTURES, "numpy", "scipy", "pydantic", "hubsight.job", "hubsight.measure")
    listed = (
        "import contextlib, sys\nfrom hubsight.cli import app\nsys.argv = ['hubsight', '--help']\n"
        "with contextlib.suppress(SystemExit):\n    app()"
    )
    assert loaded_by(listed, slow) == []


def first_paragraph(text):
    return " ".join(text.strip().split("\n\n")[0].split())


@pytest.mark.parametrize("name", cli.COMMANDS)
def test_the_list_says_of_each_command_what_its_own_help_says(name):
    command = cli.load_command(name)
    assert first_paragraph(command.help) == cli.COMMANDS[name]


def test_every_module_of_commands_is_in_the_list():
    helpers = {"common", "planned", "calibrating", "json_wanted", "kit_rim", "shortcut", "what_if", "working"}
    modules = {module.name for module in pkgutil.iter_modules(cli.__path__)}
    assert modules - helpers <= set(cli.COMMANDS)


@pytest.mark.parametrize("name", hubsight.__all__)
def test_every_public_name_is_there(name):
    if name == "plot":
        pytest.importorskip("matplotlib")
    found = getattr(hubsight, name)
    assert name in dir(hubsight)
    assert getattr(found, "__doc__", "x"), "a public name says what it is"


def test_checkers_of_types_and_editors_see_the_same_names_from_the_same_modules():
    tree = ast.parse(SOURCES.read_text(encoding="utf-8"))
    checked = next(node for node in tree.body if isinstance(node, ast.If))
    seen = {}
    for statement in checked.body:
        if isinstance(statement, ast.ImportFrom):
            seen |= {alias.name: statement.module for alias in statement.names}
        else:
            seen[statement.target.id] = "hubsight"
    assert sorted(seen) == sorted(hubsight.__all__)
    for name, module in seen.items():
        if module != "hubsight":
            assert getattr(importlib.import_module(module), name) is getattr(hubsight, name), name


def test_an_unknown_name_is_an_attribute_error():
    with pytest.raises(AttributeError, match="no attribute 'measure_everything'"):
        hubsight.measure_everything  # noqa: B018


def test_the_version_is_that_of_the_change_log():
    changes = (SOURCES.parents[2] / "CHANGELOG.md").read_text(encoding="utf-8")
    newest = next(line for line in changes.splitlines() if line.startswith("## "))
    assert newest.split()[1] == hubsight.__version__


@pytest.mark.parametrize(
    "module",
    ["hubsight", "hubsight.photo.array", "hubsight.plot", "hubsight.wheel.length", "hubsight.wheel.manual"],
)
def test_examples_in_the_documentation_give_what_they_say(module):
    if module == "hubsight.plot":
        pytest.importorskip("matplotlib").use("agg")
    tried = doctest.testmod(importlib.import_module(module))
    assert tried.attempted > 0
    assert tried.failed == 0
