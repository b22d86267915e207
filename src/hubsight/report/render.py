"""From a record to one self-contained HTML page."""

from __future__ import annotations

from pathlib import Path

from jinja2 import Environment, PackageLoader, StrictUndefined

from hubsight.record.model import Record

_PAGES = Environment(
    loader=PackageLoader("hubsight.report", "templates"),
    autoescape=True,
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)


def render_report(record: Record, folder: Path | None) -> str:
    """Return the report of a record as one HTML page, pictures included.

    Parameters
    ----------
    record
        As measured and written.
    folder
        The job folder with the photos; without it, or where a photo is gone, the page has no picture and says
        so.

    Returns
    -------
    str
        A whole document: no script, nothing that is loaded from elsewhere.
    """
    return _PAGES.get_template("report.html.j2").render(record=record, folder=folder)
