"""``hubsight demo``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console

from hubsight.cli.common import bad_input, exit_code, write_pictures
from hubsight.cli.working import Verbose, working
from hubsight.job import load_job
from hubsight.job.measure import measure_job
from hubsight.job.sample import find_sample_job, load_truth
from hubsight.show.sample import print_beside_truth
from hubsight.show.screen import print_cautions, print_figures

DEMO_OVERLAYS = Path("hubsight-demo")
"""Where ``hubsight demo`` leaves its pictures unless told otherwise."""


def demo(
    overlays: Annotated[
        Path, typer.Option(help="Folder for the pictures of what was seen.", metavar="DIR")
    ] = DEMO_OVERLAYS,
    quiet: Annotated[
        bool, typer.Option("--quiet", "-q", help="Show the figures beside the truth only.")
    ] = False,
    verbose: Verbose = False,
) -> None:
    """Try it: measure the sample job and show the figures beside the truth."""
    with bad_input():
        folder = find_sample_job()
        job = load_job(folder)
        with working(quiet=quiet, verbose=verbose):
            measured = measure_job(job)
        console = Console()
        if not quiet:
            print_figures(console, measured)
        print_beside_truth(console, measured, load_truth(folder))
        write_pictures(measured, folder, overlays, quiet=quiet)
        if not quiet:
            print_cautions(console)
    raise typer.Exit(exit_code(measured))
