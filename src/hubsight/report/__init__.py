"""The report: one self-contained HTML page of a record."""

from hubsight.report.render import render_report

__all__ = ["render_report"]
