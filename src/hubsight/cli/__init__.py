"""The command line: parse, call, print. Nothing here that a Python user could not call.

One module per command. A command's module, with all that it needs, is imported when the command is run, so
that the list of commands is there at once.
"""

from __future__ import annotations

import os
import shutil
import sys
from importlib import import_module
from pathlib import Path
from typing import Annotated, Any

import typer
from typer.core import TyperCommand

import hubsight
from hubsight.cli.json_wanted import wants_json

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
"""Matrices are small here: several threads for one would wait for each other longer than they compute, and
photos are worked on two at a time anyway. numpy reads it when a command imports it."""

app = typer.Typer(
    help="Measure straight-pull bicycle hubs from photographs on a printed scale target.",
    invoke_without_command=True,
    pretty_exceptions_enable=False,
)


THAT_MATTER = ("numpy", "scipy", "opencv-python-headless", "scikit-image", "pillow", "pi-heif")
"""Packages whose versions can move a figure, or decide which photos can be read."""


def _show_version(wanted: bool) -> None:
    if wanted:
        from importlib.metadata import version  # noqa: PLC0415 - takes its time, and is needed here only
        from platform import platform, python_version  # noqa: PLC0415

        typer.echo(f"hubsight {hubsight.__version__}")
        typer.echo(f"Python {python_version()} on {platform(terse=True)}")
        typer.echo(", ".join(f"{name} {version(name)}" for name in THAT_MATTER))
        raise typer.Exit


GUIDE = """\
hubsight measures straight-pull hubs from phone photos and says which spokes to order.

  {0} bench              a page in your browser that leads through everything
  {0} bench --shortcut   that page on your desktop, to open with a double-click
  {0} demo               measures a sample hub, so that you see what comes out
  {0} start my-hub       the same way in this window, question by question

All commands: {0} --help"""
"""What is said to somebody who names no command."""


def as_called() -> str:
    """Return what has to be typed to run this program again, as far as its name tells."""
    typed = Path(sys.argv[0])
    found = typed.stem != "hubsight" or shutil.which("hubsight") is not None
    return "hubsight" if found else str(typed)


@app.callback()
def _main(
    context: typer.Context,
    version: Annotated[  # noqa: ARG001 - its callback shows it
        bool,
        typer.Option(
            "--version",
            callback=_show_version,
            is_eager=True,
            help="Show the version, and those of what figures depend on.",
        ),
    ] = False,
) -> None:
    """Measure straight-pull bicycle hubs from photographs on a printed scale target."""
    if context.invoked_subcommand is None:
        typer.echo(GUIDE.format(as_called()))


COMMANDS = {
    "bench": "Open the bench page: photograph with the phone, see and correct on the screen, "
    "lengths, report.",
    "demo": "Try it: measure the sample job and show the figures beside the truth.",
    "target": "Write the scale target to print, or say what the check bars of a print mean.",
    "start": "Make a job's folder with a file to fill in; nothing is ever overwritten.",
    "add": "Copy photos into a job, sorted into its sides by when they were taken and what they show.",
    "measure": "Measure a job, or bare photos of one side.",
    "lengths": "Say which spokes to order, and how sure that is: from photos, from readings by hand, or from "
    "both.",
    "card": "Write the wheel's bench card: one page to print, with lacing, tensions and where each end is to "
    "lie.",
    "built": "Compare where the spokes' ends came to lie, as the job notes, with the prediction.",
    "replace": "Say which spoke to order for a broken one, and whether the wheel's own fit the "
    "computed length.",
    "report": "Write the job's report: one HTML page to read, print or send. It is made from the record.",
    "history": "Show every measurement of a job: when, what changed, and why.",
    "verify": "Check a job's record: are its files unchanged, and does the measurement repeat? "
    "Writes nothing.",
    "hubs": "List the measured hubs of a folder tree, or find them by words and dimensions.",
    "export": "Write a copy of a job to give away: photos without place, owner, serial numbers and "
    "maker notes.",
    "calibrate": "Calibrate a camera from photos of the target alone, tilted to all sides.",
    "proof": "Prove phone and sheet: compare a rod's length by photos with the caliper.",
    "drawer": "Keep the spokes in your drawer: lengths and counts, and what a wheel takes from them.",
    "kit": "Enter gauges, printed targets, calipers, cameras and rims once, and name them in jobs.",
}
"""Every command with the first paragraph of its help, by its name."""

PANELS = {
    "Prepare": ("start", "target", "kit", "calibrate", "proof"),
    "Measure": ("bench", "add", "measure", "demo"),
    "Order and build": ("lengths", "drawer", "report", "card", "built", "replace"),
    "Look back": ("history", "verify", "hubs", "export"),
}
"""Commands by the way of a job, in the order of the list."""

_IN_MODULE = {"kit": "kit_rim"}
"""The last of the modules of a group of commands."""


def load_command(name: str) -> Any:
    """Return a command from its module: the function of its name, or the module's own ``app`` of commands."""
    module = import_module(f"hubsight.cli.{_IN_MODULE.get(name, name)}")
    group = getattr(module, "app", None)
    if group is None:
        group = typer.Typer(add_completion=False, pretty_exceptions_enable=False)
        group.command(name)(getattr(module, name))
    return typer.main.get_command(group)


class _OnDemand(TyperCommand):
    """A command that is known by its name and help until it is run."""

    def make_context(self, info_name: str | None, args: list[str], *more: Any, **named: Any) -> Any:
        """Let the command itself read its arguments, as if it had been there from the start."""
        context = load_command(str(self.name)).make_context(info_name, args, *more, **named)
        wants_json(bool(context.params.get("json")))
        return context


def _stand_in() -> None:
    """Stand where a command's function is until it is imported."""


for _panel, _names in PANELS.items():
    for _name in _names:
        app.command(_name, help=COMMANDS[_name], cls=_OnDemand, rich_help_panel=_panel)(_stand_in)
