"""The README's two commands, and the check that runs them."""

import re
import shutil
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
TOOLS = ("pip", "ruff", "mypy", "numpydoc", "lint-imports", "python", "mkdocs", "twine")
FENCE = re.compile(r"^```(\w*)\n(.*?)^```$", re.MULTILINE | re.DOTALL)


@pytest.fixture
def run_check(tmp_path):
    """Run the check on another README, with stand-ins that write down what they are asked."""
    bash = shutil.which("bash")
    if bash is None:
        pytest.skip("there is no bash here")

    def run(readme, failing=""):
        (tmp_path / ".ci").mkdir()
        shutil.copy(ROOT / ".ci" / "run", tmp_path / ".ci" / "run")
        (tmp_path / "README.md").write_text(readme)
        tools = tmp_path / ".venv" / "bin"
        tools.mkdir(parents=True)
        for tool in TOOLS:
            (tools / tool).write_text(f'#!/bin/sh\necho {tool} "$@" >> log\nexit {int(tool == failing)}\n')
            (tools / tool).chmod(0o755)
        done = subprocess.run([bash, tmp_path / ".ci" / "run"], check=False, capture_output=True)
        log = tmp_path / "log"
        return done.returncode, log.read_text().splitlines() if log.is_file() else []

    return run


def test_the_first_two_blocks_are_the_demo_and_the_tests():
    blocks = FENCE.findall((ROOT / "README.md").read_text(encoding="utf-8"))
    assert [language for language, _ in blocks[:2]] == ["sh", "sh"]
    assert "hubsight demo" in blocks[0][1]
    assert "pytest" in blocks[1][1]
    assert all(language != "sh" for language, _ in blocks[2:])


def test_the_check_runs_the_blocks_of_the_readme(run_check):
    words = ("one", "two", "three")
    code, log = run_check("\n".join(f"```sh\necho {word} >> log\n```" for word in words))
    assert code == 0
    assert [line.split()[0] for line in log] == [
        "one",
        "two",
        "pip",
        "ruff",
        "ruff",
        "mypy",
        "numpydoc",
        "lint-imports",
        *("python", "python", "mkdocs"),  # the documentation
        *("python", "twine", "python"),  # wheel and sdist
    ]


@pytest.mark.parametrize("failing", TOOLS)
def test_the_check_fails_where_a_tool_does(run_check, failing):
    code, _ = run_check("```sh\ntrue\n```\n```sh\ntrue\n```\n", failing)
    assert code != 0


@pytest.mark.parametrize("command", ["false\ntrue", "true && false"])
@pytest.mark.parametrize("place", [0, 1])
def test_the_check_fails_where_a_block_does(run_check, command, place):
    commands = ["echo block >> log", "echo block >> log"]
    commands[place] = f"echo block >> log\n{command}"
    code, log = run_check("".join(f"```sh\n{text}\n```\n" for text in commands))
    assert code != 0
    assert log == ["block"] * (place + 1)


def test_the_check_fails_on_a_readme_without_commands(run_check):
    code, log = run_check("```sh\necho one >> log\n```\n")
    assert code != 0
    assert log == []
