"""The report and the order sheet: self-contained HTML pages of a record."""

from hubsight.report.render import render_order, render_report

__all__ = ["render_order", "render_report"]
