"""The sample job: where it lies, its truth, and how a measurement compares with it."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from rich import box
from rich.console import Console
from rich.table import Table

from hubsight.figures import Figure
from hubsight.frozen import Frozen
from hubsight.job.document import JobMeasurement, MeasuredSide
from hubsight.job.load import JOB_FILE_NAME
from hubsight.job.problems import JobFileError, Problem
from hubsight.job.words import FIGURE_WORDS, SIDE_WORDS
from hubsight.stated import SideName

TRUTH_FILE_NAME = "truth.json"

_PACKAGE = Path(__file__).resolve().parents[1]
_PLACES = (_PACKAGE / "sample_images", _PACKAGE.parents[1] / "sample_images")
"""In an installed package; in a clone."""


class TrueSide(Frozen):
    """True values of one side, mm, by figure name; ``spoke_length`` among them."""

    boss_count: int
    crosses: int
    figures: dict[str, float]


class SampleTruth(Frozen):
    """Truth of the sample job. Its photos are ray traced, so the truth is exact."""

    rendered: Literal[True]
    sides: dict[SideName, TrueSide]


def find_sample_job() -> Path:
    """Return the sample job's folder, in a clone or an installed package.

    Raises
    ------
    JobFileError
        If it is in neither.
    """
    for place in _PLACES:
        if (place / JOB_FILE_NAME).is_file():
            return place
    remedy = "Clone the repository, or measure a job of your own: hubsight start FOLDER"
    raise JobFileError([Problem("sample_images", None, "", "the sample job is not here", remedy)])


def load_truth(folder: Path) -> SampleTruth:
    """Read the sample job's truth."""
    return SampleTruth.model_validate_json((folder / TRUTH_FILE_NAME).read_text(encoding="utf-8"))


def compared(side: MeasuredSide, truth: TrueSide) -> list[tuple[str, Figure, float]]:
    """Return name, measured figure and true value of every figure that has both."""
    figures: dict[str, Figure] = {}
    if side.measurement is not None:
        figures.update({str(name): figure for name, figure in side.measurement.figures.items()})
    if side.spoke_lengths is not None:
        figures["spoke_length"] = side.spoke_lengths.length
    return [(name, figures[name], value) for name, value in truth.figures.items() if name in figures]


def print_beside_truth(console: Console, measured: JobMeasurement, truth: SampleTruth) -> None:
    """Print every figure of the sample job beside its true value."""
    words = {str(name): said for name, said in FIGURE_WORDS.items()}
    for side in measured.sides:
        if side.measurement is None:
            continue
        true = truth.sides[side.name]
        title = f"{SIDE_WORDS[side.name]}, beside the truth"
        table = Table(title=title, title_justify="left", title_style="bold", box=box.SIMPLE_HEAD)
        for column in ("figure", "measured", "± u", "truth", "error"):
            table.add_column(column, justify="left" if column == "figure" else "right")
        table.add_column("interval holds it", justify="center")
        for name, figure, value in compared(side, true):
            table.add_row(
                words.get(name, name.replace("_", " ")),
                f"{figure.value:.2f}",
                f"{figure.u:.2f}",
                f"{value:.2f}",
                f"{figure.value - value:+.2f}",
                "yes" if figure.low <= value <= figure.high else "no",
            )
        found = side.measurement
        table.add_row("bosses", str(found.boss_count), "", str(true.boss_count), "", "")
        crosses = "?" if found.crosses is None else str(found.crosses)
        table.add_row("crosses", crosses, "", str(true.crosses), "", "")
        console.print(table)
    console.print(
        "[dim]The sample photos are ray traced, so the truth is known exactly.[/dim]", highlight=False
    )
