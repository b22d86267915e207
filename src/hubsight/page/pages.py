"""The page's templates, everything that is filled in escaped, and its few static files."""

from __future__ import annotations

from functools import lru_cache
from importlib import resources
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from starlette.responses import HTMLResponse, Response

from hubsight.measure.marks import MARK_WORDS
from hubsight.model.catalogue import SET_WORDS, figure_words
from hubsight.page.words import plain, said_here
from hubsight.report.card import card_style
from hubsight.show.chance import percent
from hubsight.show.view import SEVERITY_WORDS
from hubsight.show.what_if_view import FOOT, LENGTH_COLUMNS, WHEEL_COLUMNS
from hubsight.target.geometry import PAPER_TITLE

STATIC = {
    "bench.css": "text/css; charset=utf-8",
    "wall.css": "text/css; charset=utf-8",
    "sample.js": "text/javascript; charset=utf-8",
    "wall.js": "text/javascript; charset=utf-8",
    "icon.svg": "image/svg+xml",
    "common.js": "text/javascript; charset=utf-8",
    "enter.js": "text/javascript; charset=utf-8",
    "shelf.js": "text/javascript; charset=utf-8",
    "job.js": "text/javascript; charset=utf-8",
    "viewer.js": "text/javascript; charset=utf-8",
    "loupe.js": "text/javascript; charset=utf-8",
    "handles.js": "text/javascript; charset=utf-8",
    "placing.js": "text/javascript; charset=utf-8",
    "plan.js": "text/javascript; charset=utf-8",
    "live.js": "text/javascript; charset=utf-8",
    "phone.js": "text/javascript; charset=utf-8",
    "kit.js": "text/javascript; charset=utf-8",
    "card.js": "text/javascript; charset=utf-8",
    "card.css": "text/css; charset=utf-8",
    "tap.css": "text/css; charset=utf-8",
}
"""Files that the pages load, and what they are."""

_PAGES = Environment(
    loader=PackageLoader("hubsight.page", "templates"),
    autoescape=True,
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)
"""Templates of the pages; they escape everything."""
_PAGES.filters["mm"] = lambda value: f"{value:.2f}"
_PAGES.filters["signed"] = lambda value: f"{value:+.2f}".replace("-", "−")
_PAGES.filters["risk"] = percent
_PAGES.globals["side_words"] = SET_WORDS
_PAGES.globals["severity_words"] = SEVERITY_WORDS
_PAGES.globals["figure_words"] = figure_words
_PAGES.globals["mark_words"] = MARK_WORDS
_PAGES.globals["papers"] = PAPER_TITLE
_PAGES.globals["wheel_columns"] = WHEEL_COLUMNS
_PAGES.globals["length_columns"] = LENGTH_COLUMNS
_PAGES.globals["what_if_foot"] = FOOT
_PAGES.filters["said"] = said_here
_PAGES.filters["plain"] = plain


def fill(template: str, **values: Any) -> str:
    """Fill a template."""
    return _PAGES.get_template(template).render(**values)


def render(template: str, **values: Any) -> Response:
    """Answer with a filled template."""
    return HTMLResponse(fill(template, **values))


@lru_cache
def _static(name: str) -> bytes:
    if name == "card.css":  # the printed card's own
        return card_style().encode()
    return resources.files("hubsight.page").joinpath("static", name).read_bytes()


def static_file(name: str) -> Response:
    """Return one of the files in `STATIC`; 404 for any other name."""
    if name not in STATIC:
        return Response("Not found.", 404)
    return Response(_static(name), headers={"Content-Type": STATIC[name]})
