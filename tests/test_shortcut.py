"""A double-click opens the bench page with this installation and this folder, whatever their names hold."""

import json
import os
import re
import stat
import subprocess
import sys

import pytest
from typer.testing import CliRunner

from hubsight.cli import app
from hubsight.cli.shortcut import write_shortcut

ODD = ("50 % more", "it's mine", "a $HOME `b`", 'a "quoted" name', "back\\slash")


@pytest.mark.skipif(os.name != "posix", reason="runs the file with this system's shell")
@pytest.mark.parametrize("name", ODD)
def test_the_shell_file_runs_the_command_as_it_is(tmp_path, name):
    said = tmp_path / "said.json"
    program = "import json, sys; json.dump(sys.argv[2:], open(sys.argv[1], 'w'))"
    command = (sys.executable, "-c", program, str(said), "bench", f"/tmp/{name}")
    file = write_shortcut(command, tmp_path, "Darwin")
    assert file.name == "hubsight bench.command"
    assert file.stat().st_mode & stat.S_IXUSR
    subprocess.run([file], check=True)
    assert json.loads(said.read_text()) == ["bench", f"/tmp/{name}"]


def command_of(entry):
    """Read the command of a desktop entry, as the Desktop Entry Specification 1.5 describes it."""
    line = re.search(r"^Exec=(.*)$", entry, re.MULTILINE)[1]
    assert not re.search(r"(?<!%)%(?!%)(?!%)", line.replace("%%", "")), "a single % would be a field code"
    text = line.replace("\\\\", "\\").replace("%%", "%")
    return [re.sub(r"\\(.)", r"\1", word) for word in re.findall(r'"((?:\\.|[^"\\])*)"', text)]


@pytest.mark.parametrize("name", ODD)
def test_the_desktop_entry_names_the_command_as_it_is(tmp_path, name):
    file = write_shortcut(
        ("/opt/my python/bin/python", "-m", "hubsight", "bench", f"/home/{name}"), tmp_path, "Linux"
    )
    entry = file.read_text()
    assert file.suffix == ".desktop"
    assert "Terminal=true" in entry
    assert command_of(entry) == ["/opt/my python/bin/python", "-m", "hubsight", "bench", f"/home/{name}"]


def test_the_batch_file_quotes_and_doubles_percent_signs(tmp_path):
    command = (r"C:\Program Files\py\python.exe", "-m", "hubsight", "bench", r"C:\Users\ä\50 % & more")
    lines = write_shortcut(command, tmp_path, "Windows").read_bytes().decode().split("\r\n")
    assert lines[:2] == ["@echo off", "chcp 65001 >nul"]
    said = r'"C:\Program Files\py\python.exe" "-m" "hubsight" "bench" "C:\Users\ä\50 %% & more"'
    assert said in lines
    assert lines[lines.index(said) + 1] == "if errorlevel 1 pause", "what went wrong can be read"


@pytest.fixture
def desktop(monkeypatch, tmp_path):
    folder = tmp_path / "Desktop"
    monkeypatch.setattr("platformdirs.user_desktop_path", lambda: folder)
    monkeypatch.setattr("platform.system", lambda: "Linux")
    monkeypatch.chdir(tmp_path)
    return folder


def test_the_command_writes_it_with_the_folder_s_whole_path(desktop, tmp_path):
    desktop.mkdir()
    for _ in range(2):  # the second replaces the first
        result = CliRunner().invoke(app, ["bench", "my jobs", "--shortcut"])
        assert result.exit_code == 0, result.output
    (file,) = desktop.iterdir()
    assert command_of(file.read_text()) == [
        sys.executable,
        "-m",
        "hubsight",
        "bench",
        str(tmp_path / "my jobs"),
    ]
    assert f"{file} written. Double-click it" in result.stdout
    assert f"Jobs lie in {tmp_path / 'my jobs'}." in result.stdout


def test_a_system_without_a_desktop_is_told_how_else(desktop):
    result = CliRunner().invoke(app, ["bench", "--shortcut"])
    assert result.exit_code == 2
    assert "the shortcut cannot be written there" in result.stderr
    assert "Open the page with: hubsight bench hubsight-jobs." in result.stderr
