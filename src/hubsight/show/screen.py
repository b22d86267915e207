"""A job's result as tables and sentences on the screen: what was measured, and what to order."""

from __future__ import annotations

from collections.abc import Iterable

from rich import box
from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from hubsight.model.cautions import CAUTIONS
from hubsight.model.result import JobResult
from hubsight.show.inches import InchRow
from hubsight.show.view import (
    FLANGE_WORDS,
    HOW_TO_READ,
    SEVERITY_WORDS,
    ChoiceView,
    FigureRow,
    JobView,
    SideView,
    VerdictView,
    job_view,
    lacing_words,
    said,
)

_COLOURS = {"order": "green", "check": "yellow", "stop": "red"}
"""Colours of verdicts and of reasons."""


def print_measurement(console: Console, result: JobResult, *, cautions: bool = True) -> None:
    """Print the figures of every side and of the hub, the verdict, what to order, and the cautions."""
    print_figures(console, result)
    if cautions:
        print_cautions(console)


def print_figures(console: Console, result: JobResult) -> None:
    """Print a measured job without the cautions."""
    view = job_view(result)
    for side in view.sides:
        _print_figures(console, side)
    if view.hub is not None:
        console.print(_figure_table("The hub", view.hub.rows))
        say(console, "The hub", view.hub.notes)
        console.print()
    say(console, "Scale", view.scale)
    say(console, "From your kit", view.kit)
    if any(side.rows for side in view.sides):
        console.print(f"[dim]{HOW_TO_READ}[/dim]\n", highlight=False)
    _print_end(console, view)


def print_lengths(console: Console, result: JobResult, *, cautions: bool = True) -> None:
    """Print the lengths of every side, the choice of stock lengths, verdict, order, and the cautions."""
    view = job_view(result)
    for side in view.sides:
        _print_lengths(console, side)
    for sentence in view.wheel:
        console.print(f"  {sentence}.", highlight=False)
    if result.wheel is not None:
        console.print(f"[dim]{result.wheel.erd_definition}[/dim]\n", highlight=False)
    _print_end(console, view)
    if cautions:
        print_cautions(console)


def print_end(console: Console, result: JobResult) -> None:
    """Print the verdict of the whole job, and the order."""
    _print_end(console, job_view(result))


def say(console: Console, label: str, sentences: Iterable[str], style: str = "bold") -> None:
    """Print sentences, each once, with what they are in front."""
    for sentence in dict.fromkeys(sentences):
        console.print(Padding(Text.assemble((f"{label}: ", style), sentence), (0, 0, 0, 2)))


def print_cautions(console: Console) -> None:
    """Print what everybody has to mind who acts on a measurement."""
    for caution in CAUTIONS:
        console.print(f"[dim]{caution}[/dim]", highlight=False)


def _figure_table(title: str, *groups: Iterable[FigureRow]) -> Table:
    table = _table(title)
    table.add_column("figure")
    table.add_column("mm", justify="right")
    table.add_column("± u", justify="right")
    table.add_column("95 % interval", justify="center")
    table.add_column("confidence")
    for rows in groups:
        table.add_section()
        for row in rows:
            figure = row.figure
            mark = f"{figure.confidence} (!)" if figure.warnings else figure.confidence
            interval = f"{figure.low:.2f} to {figure.high:.2f}"
            table.add_row(row.words, f"{figure.value:.2f}", f"{figure.u:.2f}", interval, mark)
    return table


def _table(title: str | None = None) -> Table:
    return Table(title=title, title_justify="left", title_style="bold", box=box.SIMPLE_HEAD)


def _print_figures(console: Console, side: SideView) -> None:
    if side.rows:
        console.print(_figure_table(side.title, side.rows, side.length_rows))
        console.print(f"  {side.found}", highlight=False)
    else:
        console.print(f"[bold]{side.title}[/bold]: not measured")
    say(console, "By hand", side.placed)
    say(console, "Why not better", side.reasons)
    _print_compared(console, side)
    say(console, "Repeats", side.repeats)
    say(console, "Would help", side.advice)
    _print_verdict(console, side.title, side.verdict)


def _print_compared(console: Console, side: SideView) -> None:
    """Print readings beside the photos' figures, where the verdict does not name them."""
    named = {reason.sentence for reason in (*side.verdict.reasons, *side.verdict.notes)}
    say(console, "Caliper", (one.sentence for one in side.checks if one.sentence not in named))
    say(console, "By hand", (text for text in side.arithmetic if text not in named))


def _print_verdict(console: Console, title: str, verdict: VerdictView) -> None:
    """Print a verdict's word and its reasons."""
    colour = _COLOURS[verdict.word]
    below = "; what to settle is asked for once below" if verdict.asked_below else ""
    console.print(f"  [bold {colour}]{title}: {verdict.heading}[/]{below}", highlight=False)
    for reason in (*verdict.reasons, *verdict.notes):
        say(console, SEVERITY_WORDS[reason.severity], [said(reason)], _style(reason.severity))
    console.print()


def _style(severity: str) -> str:
    return "dim" if severity == "note" else f"bold {_COLOURS[severity]}"


def _print_lengths(console: Console, side: SideView) -> None:
    lengths = side.lengths
    if lengths is None:
        console.print(f"[bold]{side.title}[/bold]: no spoke length")
    else:
        origin = lengths.origin
        flange = f"{origin.bosses} {FLANGE_WORDS[origin.kind]}, {lacing_words(origin.kind, origin.crosses)}"
        table = _table(f"{side.title}: {flange}")
        table.add_column("")
        for column in ("mm", "± u"):
            table.add_column(column, justify="right")
        table.add_column("from")
        for words, value, u, source in side.used:
            table.add_row(words, f"{value:.2f}", f"{u:.2f}", source)
        table.add_section()
        for row in side.length_rows:
            confidence = f"confidence: {row.figure.confidence}" if row.main else ""
            table.add_row(row.words, f"{row.figure.value:.2f}", f"{row.figure.u:.2f}", confidence)
        console.print(table)
        for choice in side.choices:
            _print_choice(console, side, choice)
    _print_compared(console, side)
    _print_verdict(console, side.title, side.verdict)


def _print_choice(console: Console, side: SideView, view: ChoiceView) -> None:
    table = _table()
    table.add_column(f"length for {view.count} spokes")
    for column in ("end lies at", "too short", "too long"):
        table.add_column(column, justify="right")
    for row in view.rows:
        table.add_row(
            f"{row.risk.length:g} mm{f' ({row.mark})' if row.mark else ''}",
            f"{row.risk.end:+.1f} mm",
            f"{100.0 * row.risk.p_too_short:.1f} %",
            f"{100.0 * row.risk.p_too_long:.1f} %",
        )
    console.print(table)
    order = None if side.lengths is None else side.lengths.order
    if order is None:
        return
    (low, high), (below, beyond) = order.window, order.window_reasons
    why = f": below, {below}; beyond, {beyond}" if below and beyond else ""
    window = f"The end may lie from {low:+.1f} to {high:+.1f} mm of {order.zero}, in the tensioned wheel"
    console.print(f"  {window}{why}.", highlight=False)
    choice = view.choice
    short, long = 100.0 * choice.sampled_too_short, 100.0 * choice.sampled_too_long
    sampled = f"too short in {short:.1f} % and too long in {long:.1f} % of the cases"
    console.print(f"  By Monte Carlo, {choice.proposed.length:g} mm is {sampled}.", highlight=False)
    console.print(f"  {choice.proposed.length:g} mm: {view.sentence}.", highlight=False)


def _inch_table(rows: Iterable[InchRow]) -> Table:
    table = _table("In inches")
    for column in ("", "mm", "in", "nearest 64th"):
        table.add_column(column, justify="right" if column else "left")
    for row in rows:
        table.add_row(row.words, f"{row.mm:.2f}", row.decimal, row.fraction)
    return table


def _print_end(console: Console, view: JobView) -> None:
    """Print the job's verdict with what concerns all of it, and the order."""
    _print_verdict(console, "The job", view.of_job)
    if view.order:
        word = " (see above what to check first)" if view.verdict.word != "order" else ""
        console.print(f"[bold]To order[/bold]{word}")
        for line in view.order:
            console.print(f"  {line}", highlight=False)
        console.print()
    if view.inches:
        console.print(_inch_table(view.inches))
    if view.drawer:
        console.print("[bold]From your drawer[/bold]")
        for line in view.drawer:
            console.print(f"  {line}", highlight=False)
        console.print()
