"""From a record to one self-contained HTML page."""

from __future__ import annotations

from importlib import resources
from pathlib import Path

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from hubsight.model.catalogue import SIDE_WORDS, figure_words
from hubsight.record.model import Record
from hubsight.report.content import report_content
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
    pages.filters["percent"] = _percent
    pages.filters["utc"] = lambda time: f"{time:%Y-%m-%d %H:%M} UTC"
    return pages


def _percent(probability: float) -> str:
    """Say a probability; computed ones are never certain."""
    if probability < 0.001:
        return "under 0.1 %"
    return f"{100 * probability:.1f} %" if probability <= 0.999 else "over 99.9 %"


_PAGES = _pages()


def render_report(record: Record, folder: Path | None) -> str:
    """Return the report of a record as one HTML page, pictures included.

    Parameters
    ----------
    record
        As measured and written.
    folder
        The job folder with the photos; without it, or where a photo is gone or was exchanged, the page has no
        picture and says so.

    Returns
    -------
    str
        A whole document: no script, nothing that is loaded from elsewhere.
    """
    style = resources.files("hubsight.report").joinpath("templates/report.css").read_text(encoding="utf-8")
    content = report_content(record, folder)
    # The style sheet is this project's own file: it is not escaped.
    return _PAGES.get_template("report.html.j2").render(report=content, style=Markup(style))
