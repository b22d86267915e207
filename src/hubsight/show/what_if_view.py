"""Several wheels from one hub as two tables and sentences, in the words that screen and page share."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from hubsight.job.what_if import ComparedSide, ComparedWheel, WhatIf
from hubsight.show.view import SEVERITY_WORDS, said

LENGTH_COLUMNS = ("wheel", "side", "needed ± u", "order", "too short", "too long", "bracing", "tension")
"""Columns of the table of lengths."""
WHEEL_COLUMNS = ("wheel", "ERD", "risk", "slack side", "verdict", "best at")
"""Columns of the table of wheels."""
FOOT = (
    "D, N: drive and non-drive side, with their crosses. needed: computed length. order: length to order."
    " too short, too long: risk that its end lies outside of the nipple's window. risk: the same for any"
    " spoke of the wheel."
)
"""What the columns mean."""


@dataclass(frozen=True)
class Said:
    """A sentence about one or several wheels; ``about`` is empty where it names them itself."""

    about: str
    sentence: str


@dataclass(frozen=True)
class WhatIfRow:
    """One wheel: its lines in the table of lengths, one a side, and its line in the table of wheels."""

    name: str
    sides: tuple[tuple[str, ...], ...]
    cells: tuple[str, ...]
    best: bool


@dataclass(frozen=True)
class WhatIfView:
    """What is shown of several wheels from one hub.

    Attributes
    ----------
    title
        Whose hub it is.
    says
        What each wheel changes.
    rows
        The wheels, in both tables.
    best
        Which is best at what, with the reason.
    reasons
        To check or to stop; those that all wheels share come first, once.
    """

    title: str
    says: tuple[Said, ...]
    rows: tuple[WhatIfRow, ...]
    best: tuple[Said, ...]
    reasons: tuple[Said, ...]


def what_if_view(found: WhatIf) -> WhatIfView:
    """Return what is shown of several wheels."""
    return WhatIfView(
        title=f"Wheels from the hub of {found.job}; it was not measured again",
        says=tuple(Said(wheel.name, "; ".join(wheel.says)) for wheel in found.wheels if wheel.says),
        rows=tuple(map(_row, found.wheels)),
        best=tuple(_best(best.wheels, best.sentence) for best in found.best),
        reasons=tuple(_reasons(found)),
    )


def _row(wheel: ComparedWheel) -> WhatIfRow:
    sides = tuple(tuple(_side_cells(side)) for side in wheel.sides)
    return WhatIfRow(wheel.name, sides, tuple(_wheel_cells(wheel)), bool(wheel.best))


def _best(wheels: tuple[str, ...], sentence: str) -> Said:
    text = sentence if wheels else f"{sentence[:1].upper()}{sentence[1:]}"
    return Said("; ".join(wheels), f"{text}.")  # a wheel's name may hold commas


def _reasons(found: WhatIf) -> Iterator[Said]:
    """Yield what speaks against the wheels; a reason that several have is said once, with their names."""
    names: dict[str, list[str]] = {}
    for wheel in found.wheels:
        for reason in wheel.reasons:
            if reason.severity != "note":
                names.setdefault(f"{SEVERITY_WORDS[reason.severity]}: {said(reason)}", []).append(wheel.name)
    several = len(found.wheels) > 1
    every = [text for text, own in names.items() if several and len(own) == len(found.wheels)]
    for text in every:
        yield Said("All wheels", text)
    for text, own in names.items():
        if text not in every:
            yield Said("; ".join(own), text)


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


def _wheel_cells(wheel: ComparedWheel) -> Iterator[str]:
    yield "-" if wheel.erd is None else f"{wheel.erd.value:.1f}"
    yield "-" if wheel.p_wrong is None or wheel.verdict == "stop" else f"{100.0 * wheel.p_wrong:.1f} %"
    yield "-" if wheel.tension_ratio is None else f"{100.0 * wheel.tension_ratio:.0f} %"
    yield "STOP" if wheel.verdict == "stop" else wheel.verdict
    yield ", ".join(wheel.best)
