"""Plots of results, for notebooks and papers; each takes a result and returns the matplotlib axes it drew on.

They need the extra ``plot``: ``pip install "hubsight[plot]"``. All are readable in greyscale: what differs in
meaning differs in shape, width or lightness, never in hue alone.

Examples
--------
>>> from hubsight import plot
>>> from hubsight.model.figure import BudgetItem, Figure
>>> offset = Figure(value=2.20, u=0.05, low=2.10, high=2.30, budget=(
...     BudgetItem(source="seating", u=0.03), BudgetItem(source="print scale", u=0.04)))
>>> ax = plot.plot_budget(offset)
>>> [float(bar.get_width()) for bar in ax.patches]
[0.05, 0.04, 0.03]
"""

try:
    import matplotlib as _matplotlib  # noqa: F401 - says what to install before anything else fails
except ImportError as error:
    raise ImportError('plots need matplotlib: pip install "hubsight[plot]"') from error

from hubsight.plot.budget import plot_budget
from hubsight.plot.photo import plot_photo, plot_sheet_residuals
from hubsight.plot.photos import plot_agreement
from hubsight.plot.wheel import plot_spoke_end

__all__ = ["plot_agreement", "plot_budget", "plot_photo", "plot_sheet_residuals", "plot_spoke_end"]
