"""A planned wheel as tables and sentences on the screen."""

from __future__ import annotations

from rich import box
from rich.console import Console
from rich.table import Table

from hubsight.model.catalogue import SIDE_WORDS
from hubsight.model.stated import SideName
from hubsight.show.screen import print_cautions, say
from hubsight.show.words import lacing_words
from hubsight.wheel.document import LengthChoice, LengthsDocument, SideLengths, StockRisk

_BORES = {"mean": "all spokes", "outer": "outer bores", "inner": "inner bores"}
_FLANGES = {"paired": "bosses", "radial": "radial bores", "j_bend": "flange holes"}


def print_lengths(console: Console, document: LengthsDocument) -> None:
    """Print what was computed for each side, the checks, the order and the cautions."""
    for name, side in document.sides.items():
        _print_side(console, name, side)
    for name, refusal in document.refusals.items():
        console.print(f"[bold]{SIDE_WORDS[name]}[/bold]: no spoke length")
        say(console, "Not computed", [refusal.sentence()])
        console.print()
    say(console, "Caliper", (f"{_side(check.side)}, {check.sentence}" for check in document.checks))
    say(console, "By hand", (f"{_side(one.side)}, {one.sentence}" for one in document.arithmetic))
    say(console, "Warning", document.warnings)
    _print_rim(console, document)
    _print_tension(console, document)
    _print_order(console, document)
    console.print(f"[dim]{document.erd_definition}[/dim]", highlight=False)
    print_cautions(console)


def _side(name: SideName) -> str:
    return SIDE_WORDS[name].lower()


def _print_side(console: Console, name: SideName, side: SideLengths) -> None:
    title = SIDE_WORDS[name]
    if side.origin is not None:
        origin = side.origin
        title += f": {origin.bosses} {_FLANGES[origin.kind]}, {lacing_words(origin.kind, origin.crosses)}"
    table = Table(title=title, title_justify="left", title_style="bold", box=box.SIMPLE_HEAD)
    table.add_column("")
    for column in ("mm", "± u"):
        table.add_column(column, justify="right")
    table.add_column("from")
    for figure in side.origin.figures if side.origin is not None else ():
        table.add_row(figure.name.replace("_", " "), f"{figure.value:.2f}", f"{figure.u:.2f}", figure.source)
    table.add_section()
    length = side.length
    table.add_row(
        "spoke length", f"{length.value:.2f}", f"{length.u:.2f}", f"confidence: {length.confidence}"
    )
    if len(side.sorts) > 1:
        for sort in side.sorts:
            what = f"  {_BORES[sort.bore]} ({sort.count})"
            if len({each.alpha for each in side.sorts}) > 1:
                what += f", {sort.alpha:.1f}°"
            table.add_row(what, f"{sort.length.value:.2f}", f"{sort.length.u:.2f}", "")
    console.print(table)
    for choice in side.choices:
        _print_choice(console, side, choice)
    say(console, "Warning", (*side.length.warnings, *side.warnings))
    console.print()


def _print_choice(console: Console, side: SideLengths, choice: LengthChoice) -> None:
    low, high = side.window
    table = Table(box=box.SIMPLE_HEAD)
    table.add_column(f"length for {choice.count} spokes")
    for column in ("end lies at", "too short", "too long"):
        table.add_column(column, justify="right")
    for candidate in choice.candidates:
        table.add_row(
            f"{candidate.length:g} mm{_mark(candidate, choice)}",
            f"{candidate.end:+.1f} mm",
            f"{100.0 * candidate.p_too_short:.1f} %",
            f"{100.0 * candidate.p_too_long:.1f} %",
        )
    console.print(table)
    below, beyond = side.window_reasons
    why = f": below, {below}; beyond, {beyond}" if below and beyond else ""
    window = f"The end may lie from {low:+.1f} to {high:+.1f} mm of the slot's bottom, in the tensioned wheel"
    console.print(f"  {window}{why}.", highlight=False)
    short, long = 100.0 * choice.sampled_too_short, 100.0 * choice.sampled_too_long
    sampled = f"too short in {short:.1f} % and too long in {long:.1f} % of the cases"
    console.print(f"  By Monte Carlo, {choice.proposed.length:g} mm is {sampled}.", highlight=False)
    say(console, "CLOSE CALL" if choice.close_call else "Sure", [choice.advice])


def _mark(candidate: StockRisk, choice: LengthChoice) -> str:
    words = []
    if candidate.length == choice.proposed.length:
        words.append("least risk, proposed")
    if candidate.length == choice.rounded_up.length:
        words.append("rounded up")
    return f" ({', '.join(words)})" if words else ""


def _print_rim(console: Console, document: LengthsDocument) -> None:
    if document.erd is None:
        return
    readings = document.erd_readings
    parts = [f"ERD {document.erd.value:.2f} ± {document.erd.u:.2f} mm"]
    if len(readings) > 1:
        apart = max(readings) - min(readings)
        parts[0] += f" by {len(readings)} readings, {apart:.1f} mm from smallest to largest"
    if document.rim_offset:
        towards = SIDE_WORDS["drive" if document.rim_offset > 0.0 else "non_drive"].lower()
        parts.append(f"spoke holes {abs(document.rim_offset):.1f} mm off its middle, towards the {towards}")
    parts.append(f"its radius shrinks by {document.rim_shrink:.2f} mm in the tensioned wheel")
    console.print(f"  Rim: {'; '.join(parts)}", highlight=False)


def _print_tension(console: Console, document: LengthsDocument) -> None:
    for name, side in document.sides.items():
        console.print(
            f"  {SIDE_WORDS[name]}: at {side.tension:.0f} N a spoke stretches by {side.stretch:.2f} mm"
            f" ({side.proposed:g} mm on the bench is {side.in_wheel:.2f} mm in the wheel); with the rim's"
            f" compression its end comes to lie {side.sits:.2f} mm farther out; bracing angle"
            f" {side.bracing_angle:.1f}°",
            highlight=False,
        )
    if document.tension_ratio is not None:
        ratio = f"{100.0 * document.tension_ratio:.0f} %"
        console.print(f"  The slacker side has {ratio} of the other's tension.", highlight=False)


def _print_order(console: Console, document: LengthsDocument) -> None:
    if not document.order:
        return
    console.print("\n[bold]Order[/bold]")
    for line in document.order:
        console.print(
            f"  {_side(line.side)}: [bold]{line.count} spokes of {line.length:g} mm[/bold], and {line.spares}"
            f" spare; {line.head}, wire {line.wire} mm, thread {line.thread}; length {line.measured}",
            highlight=False,
        )
    for nipple in dict.fromkeys(line.nipple for line in document.order):
        count = sum(line.count + line.spares for line in document.order if line.nipple == nipple)
        console.print(f"  {count} nipples, {nipple}", highlight=False)
    for note in document.order_notes:
        console.print(f"  {note}.", highlight=False)
    console.print()
