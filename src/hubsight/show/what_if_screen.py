"""Several wheels from one hub as two tables and sentences, 80 columns wide."""

from __future__ import annotations

from collections.abc import Iterator

from rich import box
from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from hubsight.job.what_if import ComparedSide, ComparedWheel, WhatIf
from hubsight.model.verdict import Reason
from hubsight.show.view import SEVERITY_WORDS, said


def print_what_if(console: Console, found: WhatIf) -> None:
    """Print which spokes each wheel takes, how the wheels compare, and which is best at what."""
    console.print(Text(f"Wheels from the hub of {found.job}; it was not measured again", style="bold"))
    for wheel in found.wheels:
        if wheel.says:
            _say(console, f"{wheel.name}: ", "; ".join(wheel.says))
    console.print(_lengths_table(found))
    console.print(_wheels_table(found))
    for best in found.best:
        names = ", ".join(best.wheels)
        sentence = f"{best.sentence[:1].upper()}{best.sentence[1:]}"
        _say(console, f"{names}: " if names else "", f"{best.sentence if names else sentence}.")
    console.print()
    shared = _shared(found)
    for sentence in map(_reason, shared):
        _say(console, "All wheels: ", sentence)
    for wheel in found.wheels:
        for reason in wheel.reasons:
            if reason not in shared and reason.severity != "note":
                _say(console, f"{wheel.name}: ", _reason(reason))
    foot = (
        "D, N: drive and non-drive side, with their crosses. needed: computed length. order: length to order."
        " too short, too long: risk that its end lies outside of the nipple's window. risk: the same for any"
        " spoke of the wheel."
    )
    console.print(Padding(Text(foot, style="dim"), (1, 0, 0, 2)))


def _say(console: Console, label: str, sentence: str) -> None:
    console.print(Padding(Text.assemble((label, "bold"), sentence), (0, 0, 0, 2)))


def _reason(reason: Reason) -> str:
    return f"{SEVERITY_WORDS[reason.severity]}: {said(reason)}"


def _shared(found: WhatIf) -> list[Reason]:
    """Return the reasons to check or stop that every wheel has: they are the hub's."""
    if len(found.wheels) < 2:
        return []
    first, *rest = found.wheels
    return [
        reason
        for reason in first.reasons
        if reason.severity != "note" and all(reason in wheel.reasons for wheel in rest)
    ]


def _table(*columns: str) -> Table:
    table = Table(box=box.SIMPLE_HEAD, padding=(0, 1, 0, 0))
    table.add_column(columns[0], overflow="fold")
    for name in columns[1:]:
        table.add_column(name, justify="right")
    return table


def _lengths_table(found: WhatIf) -> Table:
    table = _table("wheel", "side", "needed ± u", "order", "too\nshort", "too\nlong", "bracing", "tension")
    table.columns[1].justify = "left"
    for wheel in found.wheels:
        table.add_section()
        for number, side in enumerate(wheel.sides):
            table.add_row(wheel.name if number == 0 else "", *_side_cells(side))
    return table


def _side_cells(side: ComparedSide) -> Iterator[str]:
    letter = side.side[0].upper()
    if side.length is None or side.u is None:
        yield from (letter, "refused", "-", "-", "-", "-", "-")
        return
    yield f"{letter} {side.crosses}x"
    yield f"{side.length:.2f} ± {side.u:.2f}"
    if side.orders:
        yield "/".join(f"{order.length:g}" for order in side.orders)
        yield f"{100.0 * max(order.p_too_short for order in side.orders):.1f} %"
        yield f"{100.0 * max(order.p_too_long for order in side.orders):.1f} %"
    else:
        yield from ("-", "-", "-")
    yield f"{side.bracing_angle:.1f}°"
    yield f"{side.tension:.0f} N"


def _wheels_table(found: WhatIf) -> Table:
    table = _table("wheel", "ERD", "risk", "slack side", "verdict", "best at")
    for column in (4, 5):
        table.columns[column].justify = "left"
        table.columns[column].overflow = "fold"
    for wheel in found.wheels:
        table.add_row(*_wheel_cells(wheel))
    return table


def _wheel_cells(wheel: ComparedWheel) -> Iterator[str]:
    yield wheel.name
    yield "-" if wheel.erd is None else f"{wheel.erd.value:.1f}"
    yield "-" if wheel.p_wrong is None or wheel.verdict == "stop" else f"{100.0 * wheel.p_wrong:.1f} %"
    yield "-" if wheel.tension_ratio is None else f"{100.0 * wheel.tension_ratio:.0f} %"
    yield "STOP" if wheel.verdict == "stop" else wheel.verdict
    yield ", ".join(wheel.best)
