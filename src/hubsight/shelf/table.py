"""The shelf as a table for other programs."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable

from hubsight.model.catalogue import ON_SHELF
from hubsight.shelf.model import NUMBERS, TEXTS, ShelvedSide

_STARTS_A_FORMULA = "=+-@\t\r\n\0＝＋－＠"
"""What makes a spreadsheet take a cell for a formula when it begins with it (common practice, no source)."""


def harmless(text: str) -> str:
    """Return text for a cell; an apostrophe comes before what a spreadsheet would take for a formula."""
    text = text.replace("\0", "")
    starts = text[:1] in _STARTS_A_FORMULA or text.lstrip()[:1] in _STARTS_A_FORMULA
    return f"'{text}" if text.strip() and starts else text


def shelf_csv(sides: Iterable[ShelvedSide]) -> str:
    """Return sides as CSV: one line each, figures and their standard uncertainties in mm."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    figures = [f"{name}{part}" for name in ON_SHELF for part in ("_mm", "_u_mm")]
    writer.writerow([*TEXTS, *NUMBERS[:-1], "over_locknut_mm", *figures])
    for side in sides:
        cells: list[object] = [harmless(str(getattr(side, name))) for name in TEXTS]
        cells += ["" if getattr(side, name) is None else getattr(side, name) for name in NUMBERS]
        for name in ON_SHELF:
            figure = side.figures.get(name)
            cells += ["", ""] if figure is None else [f"{figure.value:.4f}", f"{figure.u:.4f}"]
        writer.writerow(cells)
    return out.getvalue()
