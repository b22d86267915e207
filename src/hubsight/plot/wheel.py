"""The end of a spoke in its nipple, for every length that can be had."""

from __future__ import annotations

from matplotlib.axes import Axes

from hubsight.model.lengths import SideOrder
from hubsight.model.uncertainty import COVERAGE_FACTOR
from hubsight.plot.axes import INK, MIDDLE, PALE, axes_or_new


def plot_spoke_end(order: SideOrder, *, choice: int = 0, ax: Axes | None = None) -> Axes:
    """Draw where the spokes' ends would come to lie in the nipple, one row a stock length.

    Parameters
    ----------
    order
        Of a side's lengths, ``side.spoke_lengths.order`` of a job's result.
    choice
        Which of the side's lengths, where it takes several: by its place in ``order.choices``.
    ax
        To draw on; a new figure's if not given.

    Returns
    -------
    matplotlib.axes.Axes
        With the nipple's window as a grey band, and for each length the end in the tensioned wheel with its
        95 % interval, mm outwards from the slot's bottom; the proposed one is bold.
    """
    ax = axes_or_new(ax)
    chosen = order.choices[choice]
    ax.axvspan(*order.window, color=PALE, lw=0, label="nipple's window")
    ax.axvline(0.0, color=MIDDLE, ls=":", label="bottom of the slot")
    for row, risk in enumerate(chosen.candidates):
        proposed = risk.length == chosen.proposed.length
        ax.errorbar(
            risk.end,
            row,
            xerr=COVERAGE_FACTOR * chosen.u_end,
            fmt="o",
            color=INK if proposed else MIDDLE,
            mfc=INK if proposed else "white",
            elinewidth=3.0 if proposed else 1.0,
            label="proposed" if proposed else f"_{risk.length:g} mm",
        )
        ax.annotate(
            f"too short {100 * risk.p_too_short:.0f} %, too long {100 * risk.p_too_long:.0f} %",
            (1.02, row),
            xycoords=("axes fraction", "data"),
            va="center",
        )
    ax.set_yticks(range(len(chosen.candidates)), [f"{risk.length:g} mm" for risk in chosen.candidates])
    ax.set_ylim(-0.7, len(chosen.candidates) - 0.3)
    ax.set_xlabel("spoke's end, mm outwards from the bottom of the slot")
    ax.legend(frameon=False, loc="upper left", bbox_to_anchor=(0.0, -0.15), ncols=3)
    return ax
