"""The budget of a figure: which input contributes how much to its uncertainty."""

from __future__ import annotations

from matplotlib.axes import Axes

from hubsight.model.figure import Figure
from hubsight.plot.axes import INK, MIDDLE, axes_or_new


def plot_budget(figure: Figure, *, ax: Axes | None = None, title: str = "") -> Axes:
    """Draw the standard uncertainty of a figure and each input's share of it as horizontal bars.

    Parameters
    ----------
    figure
        A figure with a budget.
    ax
        To draw on; a new figure's if not given.
    title
        What the figure is called.

    Returns
    -------
    matplotlib.axes.Axes
        With one bar for the whole, on top, and one for each share, the largest first, in the figure's unit.

    Notes
    -----
    The whole is the root sum of squares of the shares: two shares of 3 and 4 make 5.
    """
    ax = axes_or_new(ax)
    shares = sorted(figure.budget, key=lambda item: -item.u)
    names = ["all together", *(item.source for item in shares)]
    bars = ax.barh(
        range(len(names)), [figure.u, *(item.u for item in shares)], color=[INK, *[MIDDLE] * len(shares)]
    )
    ax.bar_label(bars, fmt="%.3f", padding=3)
    ax.set_yticks(range(len(names)), names)
    ax.invert_yaxis()
    ax.margins(x=0.15)
    ax.set_xlabel(f"standard uncertainty, {figure.unit}")
    ax.set_title(f"{title}: {figure.value:.2f} {figure.unit}" if title else "")
    return ax
