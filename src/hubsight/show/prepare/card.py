"""The printable card: the four drawings on one page, beside the target."""

from __future__ import annotations

from reportlab.lib import units
from reportlab.pdfgen.canvas import Canvas

from hubsight.model.stated import PaperName
from hubsight.show.prepare.pictures import SIZE, guide

STEPS: tuple[tuple[str, tuple[str, ...]], ...] = (
    (
        "1  Print the target",
        ("Matt paper, 100 %. Tape all edges to glass or a board.", "Measure both check bars on the day."),
    ),
    (
        "2  Make the gauge",
        (
            "Deburr it, and wear eye protection. Measure its length:",
            "every error goes into the spoke length.",
        ),
    ),
    (
        "3  Set up",
        ("One end face on the sheet, the side to be measured up.", "From here on touch nothing."),
    ),
    (
        "4  Take the photos",
        ("Sharp, evenly lit. Then turn the hub over", "and do the same for the other side."),
    ),
)
"""Title and sentences of each step, as on the page."""


def draw_card(canvas: Canvas, paper: PaperName) -> None:
    """Draw the card onto the present page of a PDF, which has the target's size.

    Parameters
    ----------
    canvas
        Of a page in points, its origin at the lower left.
    paper
        The target's paper, which the drawings show.
    """
    margin, gap, size, small = 12.0, 8.0, 5.2, 3.7  # of page, drawings, titles and words, mm
    wide, high = (length / units.mm for length in canvas._pagesize)
    canvas.saveState()
    canvas.scale(units.mm, units.mm)
    cell = ((wide - 2 * margin - gap) / 2, (high - 2 * margin - gap) / 2)
    room = cell[1] - 2.2 * size - 2.6 * small
    scale = min(cell[0] / SIZE[0], room / SIZE[1])
    for number, (drawing, (title, sentences)) in enumerate(zip(guide(paper), STEPS, strict=True)):
        left = margin + number % 2 * (cell[0] + gap)
        top = high - margin - number // 2 * (cell[1] + gap)
        canvas.setFillGray(0.0)
        canvas.setFont("Helvetica-Bold", size)
        canvas.drawString(left, top - size, title)
        bottom = top - 1.6 * size - scale * SIZE[1]
        drawing.paint(canvas, left + (cell[0] - scale * SIZE[0]) / 2, bottom, scale)
        canvas.setFillGray(0.0)
        canvas.setFont("Helvetica", small)
        for k, sentence in enumerate(sentences, start=1):
            canvas.drawString(left, bottom - 1.3 * small * k, sentence)
    canvas.restoreState()
