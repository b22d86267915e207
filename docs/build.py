"""Fill the documentation's marked blocks with what the program prints now.

    python docs/build.py [--check] [--all]

A block begins with ``<!-- output of: COMMAND -->`` and ends with ``<!-- end -->``. The command runs in a
folder with a copy of the sample job. The block ``<!-- messages -->`` lists the refusals,
``<!-- licences -->`` the packages that are needed. ``--check`` writes
nothing, and ends with 1 where a block is stale. Commands that measure photos run with ``--all`` only.
"""

from __future__ import annotations

import argparse
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from licences import needed
from licences import table as licences
from list_messages import table

ROOT = Path(__file__).resolve().parents[1]
PAGES = (ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md")))
BLOCK = re.compile(r"<!-- output of: (?P<command>.+?) -->\n(?P<old>.*?)(?P<end><!-- end -->)", re.DOTALL)
MESSAGES = re.compile(r"<!-- messages -->\n.*?<!-- end -->", re.DOTALL)
LICENCES = re.compile(r"<!-- licences -->\n.*?<!-- end -->", re.DOTALL)
SLOW = ("hubsight demo", "hubsight measure", "hubsight lengths", "hubsight report")
"""Commands that measure photos."""
COLUMNS = "96"
"""Width of the terminal that the output is made for."""


def output(command: str) -> str:
    """Return what a shell command prints, run beside the sample job."""
    with tempfile.TemporaryDirectory(prefix="hubsight-docs-") as folder:
        sample = Path(folder) / "sample_images"
        shutil.copytree(ROOT / "sample_images", sample)
        environment = {
            "PATH": f"{Path(sys.executable).parent}:/usr/bin:/bin",
            "COLUMNS": COLUMNS,
            "HOME": folder,
            "HUBSIGHT_KIT": f"{folder}/kit",
        }
        done = subprocess.run(
            command, shell=True, check=False, cwd=folder, env=environment, capture_output=True, text=True
        )
    return "\n".join(line.rstrip() for line in done.stdout.splitlines()).strip("\n")


def filled(text: str, *, slow: bool) -> str:
    """Return a page with its blocks filled anew."""

    def fill(match: re.Match[str]) -> str:
        command = match["command"]
        if any(word in command for word in SLOW) and not slow:
            return match[0]
        return f"<!-- output of: {command} -->\n```\n{output(command)}\n```\n{match['end']}"

    text = MESSAGES.sub(lambda _: f"<!-- messages -->\n{table()}\n<!-- end -->", text)
    if slow or not _lists_all(text):
        text = LICENCES.sub(lambda _: f"<!-- licences -->\n{licences()}\n<!-- end -->", text)
    return BLOCK.sub(fill, text)


def _lists_all(text: str) -> bool:
    """Tell whether every package that is needed is listed; other versions word their licences otherwise."""
    return all(f"\n| {name} |" in text for name in needed())


def main() -> int:
    """Fill or check all pages; 1 where a checked block is stale."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--check", action="store_true")
    parser.add_argument("--all", action="store_true")
    arguments = parser.parse_args()
    stale = []
    for page in PAGES:
        old = page.read_text(encoding="utf-8")
        new = filled(old, slow=arguments.all)
        if new != old:
            stale.append(page.relative_to(ROOT).as_posix())
            if not arguments.check:
                page.write_text(new, encoding="utf-8")
    print("changed: " + ", ".join(stale) if stale else "every block is up to date")
    return int(bool(stale) and arguments.check)


if __name__ == "__main__":
    sys.exit(main())
