"""What one joint test of all statements, readings and figures of a job found. Lengths in mm."""

from __future__ import annotations

from pydantic import Field

from hubsight.model.frozen import Frozen
from hubsight.model.stated import SideName
from hubsight.model.verdict import Reason

__all__ = ["Explained", "JointTest"]


class Explained(Frozen):
    """One explanation of how readings and photos go together: a slip, or a feature that the photos misread.

    Attributes
    ----------
    about
        What is wrong by it, as a path: ``target.bar_x``, ``drive.caliper.protrusion``,
        ``drive.photos.over_locknut``.
    sentence
        It, with what the right value would be where that is known.
    remedy
        What to do about it; begins with a verb.
    odds
        How many times likelier it is than that everything is right.
    probability
        Among all explanations, that everything is right included.
    lengths
        What it would add to the spoke length of each side that it moves.
    statement
        Whether a person's statement is wrong by it, not what the photos show.
    """

    about: str
    sentence: str
    remedy: str
    odds: float
    probability: float
    lengths: dict[SideName, float] = Field(default_factory=dict)
    statement: bool = True

    def moves(self) -> float:
        """Return by how much it moves the length that it moves most."""
        return max((abs(change) for change in self.lengths.values()), default=0.0)


class JointTest(Frozen):
    """All statements, readings and figures of a job, compared at once.

    Attributes
    ----------
    right
        Probability that every statement and every figure is right within its uncertainty.
    explanations
        The single slips that could be, the likeliest first.
    chi2, redundancy
        Weighed sum of squares of the differences if everything is right, and their number.
    unexplained
        Probability of differences as large as those that the likeliest explanation leaves.
    settles
        The one reading that tells the likeliest explanations apart; begins with a verb. Empty if none does.
    exonerated
        Readings that contradict a figure, and are right by the likeliest explanation, as paths.
    reasons
        For the verdict.
    """

    right: float
    explanations: tuple[Explained, ...] = ()
    chi2: float = 0.0
    redundancy: int = 0
    unexplained: float = 1.0
    settles: str = ""
    exonerated: tuple[str, ...] = ()
    reasons: tuple[Reason, ...] = ()

    @property
    def best(self) -> Explained | None:
        """The likeliest slip if it is likelier than that everything is right, else None."""
        best = self.explanations[0] if self.explanations else None
        return best if best is not None and best.odds > 1.0 else None
