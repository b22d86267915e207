"""How the photos of a side agree."""

from __future__ import annotations

from matplotlib.axes import Axes

from hubsight.model.agreement import Agreement, Opinion
from hubsight.model.catalogue import FigureName, figure_words
from hubsight.model.side import SideMeasurement
from hubsight.model.uncertainty import COVERAGE_FACTOR
from hubsight.plot.axes import INK, MIDDLE, axes_or_new

ROW_SHARE = 0.6
"""Height over which the opinions on one feature are spread, as a share of a row."""


def plot_agreement(
    side: SideMeasurement, *, figure: FigureName = "spoke_offset", ax: Axes | None = None
) -> Axes:
    """Draw what each photo, or each boss, says of every feature that a figure hangs on.

    Parameters
    ----------
    side
        A measured side.
    figure
        Whose features are drawn.
    ax
        To draw on; a new figure's if not given.

    Returns
    -------
    matplotlib.axes.Axes
        With one row a feature, and in it one point for each photo or boss: how far it puts the feature from
        where all together put it, mm, with its 95 % interval. One that goes with none of the others is
        hollow, and named.
    """
    ax = axes_or_new(ax)
    rows = [one for one in side.agreement.features if figure in one.figures and one.feature != "tip"]
    for row, agreement in enumerate(rows):
        last = max(len(agreement.opinions) - 1, 1)
        for k, opinion in enumerate(agreement.opinions):
            _draw(ax, opinion, row + ROW_SHARE * (k / last - 0.5))
    ax.axvline(0.0, color=MIDDLE, ls=":", label="all together")
    ax.set_yticks(range(len(rows)), [_words(agreement) for agreement in rows])
    ax.set_ylim(max(len(rows), 1) - 0.5, -0.5)
    ax.set_xlabel("from where all together put it, mm")
    ax.set_title(f"{figure_words(figure)}: what it hangs on, photo by photo")
    return ax


def _draw(ax: Axes, opinion: Opinion, height: float) -> None:
    name = _who(opinion)
    ax.errorbar(
        opinion.value,
        height,
        xerr=COVERAGE_FACTOR * opinion.u,
        fmt="s" if opinion.by_hand else "o",
        color=INK,
        mfc="white" if opinion.odd else INK,
        elinewidth=1.0,
        label=f"_{name}",
    )
    if opinion.odd:
        ax.annotate(name, (opinion.value, height), (0, 6), textcoords="offset points", ha="center")


def _who(opinion: Opinion) -> str:
    return opinion.photo if opinion.boss is None else f"boss {opinion.boss + 1}"


def _words(agreement: Agreement) -> str:
    """Return a feature's words, and whose opinions they are where that is not photos'."""
    words = agreement.words if not agreement.gauge else f"{agreement.words}, gauge {agreement.gauge + 1}"
    return words if agreement.opinions[0].boss is None else f"{words}, each boss"
