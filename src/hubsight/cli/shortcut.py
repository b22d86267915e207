"""A file on the desktop that opens the bench page by a double-click, on each system in its own language."""

from __future__ import annotations

import re
import shlex
from collections.abc import Sequence
from pathlib import Path

from hubsight.model.files import write_atomically

NAME = "hubsight bench"
"""Of the file, without its ending."""
HOW_TO_OPEN = (
    "Double-click it: the page opens, and a window beside it. The page ends when you close that window."
)
"""What to do with the file."""
ASKED_FIRST = " Some desktops ask first: right-click, Allow Launching."
"""What is added where the system starts no new file without asking."""


def write_shortcut(command: Sequence[str], desktop: Path, system: str) -> Path:
    """Write the file that opens the bench page.

    Parameters
    ----------
    command
        Program and arguments, with absolute paths.
    desktop
        Folder for the file; an older shortcut there is replaced.
    system
        As `platform.system` calls it; what is not known is taken for Linux.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    OSError
        If it cannot be written.
    """
    ending, text = {"Windows": (".bat", _batch), "Darwin": (".command", _shell)}.get(
        system, (".desktop", _entry)
    )
    file = desktop / f"{NAME}{ending}"
    write_atomically(file, text(command).encode())
    file.chmod(0o755)
    return file


def _batch(command: Sequence[str]) -> str:
    """Return a batch file: a percent sign is doubled, no name on that system holds a quote."""
    quoted = " ".join(f'"{word}"' for word in command).replace("%", "%%")
    lines = ("@echo off", "chcp 65001 >nul", f"title {NAME}", quoted, "if errorlevel 1 pause", "")
    return "\r\n".join(lines)


def _shell(command: Sequence[str]) -> str:
    return f"#!/bin/sh\nexec {shlex.join(command)}\n"


def _entry(command: Sequence[str]) -> str:
    """Return a desktop entry, its command quoted as the Desktop Entry Specification 1.5 has it."""
    quoted = " ".join('"{}"'.format(re.sub(r'(["`$\\])', r"\\\1", word)) for word in command)
    line = quoted.replace("%", "%%").replace("\\", "\\\\")
    return (
        f"[Desktop Entry]\nType=Application\nName={NAME}\n"
        f"Comment=Measure straight-pull hubs and order spokes\nExec={line}\nTerminal=true\n"
    )
