"""The sample job's figures beside their truth."""

from __future__ import annotations

from rich import box
from rich.console import Console
from rich.table import Table

from hubsight.job.sample import SampleTruth, TrueSide
from hubsight.model.catalogue import SIDE_WORDS, figure_words
from hubsight.model.figure import Figure
from hubsight.model.result import JobResult, MeasuredSide


def compared(side: MeasuredSide, truth: TrueSide) -> list[tuple[str, Figure, float]]:
    """Return name, measured figure and true value of every figure that has both."""
    figures: dict[str, Figure] = {}
    if side.measurement is not None:
        figures.update({str(name): figure for name, figure in side.measurement.figures.items()})
    if side.spoke_lengths is not None:
        figures["spoke_length"] = side.spoke_lengths.length
    return [(name, figures[name], value) for name, value in truth.figures.items() if name in figures]


def print_beside_truth(console: Console, measured: JobResult, truth: SampleTruth) -> None:
    """Print every figure of the sample job beside its true value."""
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
                figure_words(name),
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
