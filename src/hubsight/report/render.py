"""From a record to one self-contained HTML page."""

from __future__ import annotations

from importlib import resources
from pathlib import Path

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from hubsight.model.catalogue import SIDE_WORDS, figure_words
from hubsight.record.model import Record
from hubsight.report.content import report_content
from hubsight.report.order import order_content
from hubsight.show.chance import percent
from hubsight.show.view import SEVERITY_WORDS, said


def _pages() -> Environment:
    pages = Environment(
        loader=PackageLoader("hubsight.report", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    pages.filters["mm"] = lambda value: f"{value:.2f}"
    pages.filters["reading"] = figure_words
    pages.filters["said"] = said
    pages.globals["side_words"] = SIDE_WORDS
    pages.globals["severity_words"] = SEVERITY_WORDS
    pages.filters["percent"] = percent
    pages.filters["utc"] = lambda time: f"{time:%Y-%m-%d %H:%M} UTC"
    return pages


_PAGES = _pages()
"""Templates of the documents; they escape everything."""


def render_report(record: Record, folder: Path | None, photos: Path | None = None) -> str:
    """Return the report of a record as one HTML page, pictures included.

    Parameters
    ----------
    record
        As measured and written.
    folder
        The job folder; the page then says what was changed there since.
    photos
        Where the photos are, if elsewhere. Without them, or where one is gone or was exchanged, the page has
        no picture and says so.

    Returns
    -------
    str
        A whole document: no script, nothing that is loaded from elsewhere.
    """
    content = report_content(record, folder, photos or folder)
    return _PAGES.get_template("report.html.j2").render(report=content, style=_style())


def render_order(record: Record, folder: Path | None = None) -> str:
    """Return the order sheet of a record as one HTML page that prints on one sheet.

    Parameters
    ----------
    record
        As measured and written.
    folder
        The job folder; the sheet then says what was changed there since.

    Returns
    -------
    str
        A whole document: no script, nothing that is loaded from elsewhere.
    """
    return _PAGES.get_template("order.html.j2").render(order=order_content(record, folder), style=_style())


def _style() -> Markup:
    """Return the style sheet, this project's own file: it is not escaped."""
    file = resources.files("hubsight.report").joinpath("templates/report.css")
    return Markup(file.read_text(encoding="utf-8"))
