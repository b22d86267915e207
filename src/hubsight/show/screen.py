"""A measured job as tables and sentences on the screen."""

from __future__ import annotations

from collections.abc import Iterable

from rich import box
from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from hubsight.job.document import JobMeasurement, LyingReport, MeasuredSide, SpokeLengths
from hubsight.model.catalogue import FIGURE_WORDS, SIDE_WORDS
from hubsight.model.cautions import CAUTIONS
from hubsight.model.figure import Figure
from hubsight.model.hub import FIGURE_WORDS as HUB_FIGURE_WORDS
from hubsight.model.hub import HubFigures
from hubsight.model.side import SideMeasurement
from hubsight.show.words import found_words, reasons_once, warnings_once

_BORE_WORDS = {"mean": "all spokes", "outer": "outer bores", "inner": "inner bores"}


def _table(title: str) -> Table:
    table = Table(title=title, title_justify="left", title_style="bold", box=box.SIMPLE_HEAD)
    table.add_column("figure")
    table.add_column("mm", justify="right")
    table.add_column("± u", justify="right")
    table.add_column("95 % interval", justify="center")
    table.add_column("confidence")
    return table


def _row(table: Table, name: str, figure: Figure) -> None:
    mark = f"{figure.confidence} (!)" if figure.warnings else figure.confidence
    table.add_row(
        name, f"{figure.value:.2f}", f"{figure.u:.2f}", f"{figure.low:.2f} to {figure.high:.2f}", mark
    )


def say(console: Console, label: str, sentences: Iterable[str]) -> None:
    """Print sentences, each once, with what they are in front."""
    for sentence in dict.fromkeys(sentences):
        text = Text.assemble((f"{label}: ", "bold"), sentence)
        console.print(Padding(text, (0, 0, 0, 2)))


def _print_measurement(console: Console, title: str, side: MeasuredSide, found: SideMeasurement) -> None:
    table = _table(title)
    for name, figure in found.figures.items():
        _row(table, FIGURE_WORDS[name], figure)
    if side.spoke_lengths is not None:
        _add_lengths(table, side.spoke_lengths)
    console.print(table)
    console.print(f"  {found_words(side)}", highlight=False)
    say(console, "Warning", warnings_once(found.warnings, found.figures, FIGURE_WORDS))
    say(console, "By hand", found.placed_by_hand)
    say(console, "Why not better", reasons_once(found.figures, FIGURE_WORDS))


def _add_lengths(table: Table, lengths: SpokeLengths) -> None:
    table.add_section()
    _row(table, f"spoke length, {lengths.crosses or 'no'} crosses", lengths.length)
    if len(lengths.directions) > 1:
        for direction in lengths.directions:
            _row(table, f"  {_BORE_WORDS[direction.bore]} ({direction.count})", direction.length)


def _print_side(console: Console, side: MeasuredSide) -> None:
    title = SIDE_WORDS[side.name]
    if side.measurement is not None:
        _print_measurement(console, title, side, side.measurement)
    else:
        console.print(f"[bold]{title}[/bold]: not measured")
    say(console, "Caliper", (check.sentence for check in side.caliper_checks))
    lengths = side.spoke_lengths
    say(console, "Warning", lengths.warnings if lengths is not None else ())
    refused = [] if side.refusal is None else [side.refusal]
    refused += side.measurement.refusals if side.measurement is not None else ()
    say(console, "Not measured", (refusal.sentence() for refusal in refused))
    if side.spoke_lengths_refusal is not None:
        say(console, "No spoke length", [side.spoke_lengths_refusal.sentence()])
    say(console, "Repeats", side.measurement.repeats if side.measurement is not None else ())
    say(
        console,
        "Not measured",
        (f"a repeat: {again.refusal.sentence()}" for again in side.repeated if again.refusal is not None),
    )
    say(console, "Would help", side.measurement.advice if side.measurement is not None else ())
    console.print()


def _print_lying(console: Console, lying: LyingReport) -> None:
    if lying.refusal is not None:
        console.print("[bold]The hub lying[/bold]: not measured")
        say(console, "Not measured", [lying.refusal.sentence()])
    if lying.measurement is not None:
        say(console, "Warning", (f"the hub lying: {text}" for text in lying.measurement.warnings))


def _print_hub(console: Console, hub: HubFigures) -> None:
    table = _table("The hub")
    for name, figure in hub.figures.items():
        _row(table, HUB_FIGURE_WORDS[name], figure)
    console.print(table)
    say(console, "The hub", hub.notes)
    say(console, "Warning", warnings_once(hub.warnings, hub.figures, HUB_FIGURE_WORDS))
    console.print()


def print_sides(console: Console, measured: JobMeasurement) -> None:
    """Print a table per side, what is wrong, and what would help."""
    for side in measured.sides:
        _print_side(console, side)
    if measured.lying is not None:
        _print_lying(console, measured.lying)
    if measured.hub is not None:
        _print_hub(console, measured.hub)
    if measured.flat is not None:
        say(console, "Scale", measured.flat.sentences)
    say(console, "From your kit", (used.sentence() for used in measured.kit))
    say(console, "Warning", measured.warnings)
    if any(side.measurement is not None for side in measured.sides):
        console.print(f"[dim]{HOW_TO_READ}[/dim]", highlight=False)
        console.print()


HOW_TO_READ = (
    "± u is the standard uncertainty; the 95 % interval is meant to hold the true value in 19 of 20 cases. "
    "Confidence: good, fair or poor; (!) marks a figure with a warning."
)


def print_cautions(console: Console) -> None:
    """Print what everybody has to mind who acts on a measurement."""
    for caution in CAUTIONS:
        console.print(f"[dim]{caution}[/dim]", highlight=False)


def print_measurement(console: Console, measured: JobMeasurement) -> None:
    """Print a measured job, and the cautions at the end."""
    print_sides(console, measured)
    print_cautions(console)
