"""What the joint test of a job says, in sentences."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from hubsight.job.joint.gauss import System
from hubsight.job.joint.hypotheses import Hypothesis
from hubsight.model.joint import Explained, JointTest
from hubsight.model.stated import CHECK_BAR_NOMINAL_MM
from hubsight.model.verdict import Reason

Array = NDArray[np.float64]

MATTERS_MM = 0.1
"""Change of a spoke length up to which a slip is worth a note only, mm: a nipple forgives about 1 mm either
way."""
DOUBTED = 0.1
"""Probability of slips that matter from which on they are worth a check. Raising it misses more of them."""
NAMED = 5.0
"""Ratio of the probabilities of a slip and the next one from which it is named alone; raising it names two
more often."""
CONTRADICTION = 1e-6
"""Probability of the differences of all readings below which they contradict each other."""


def sentence_of(hypothesis: Hypothesis, system: System, slip: Array, words: str) -> str:
    """Return one sentence on what is wrong by a hypothesis.

    Parameters
    ----------
    hypothesis, system
        What is wrong, among which observations.
    slip
        (n,) errors that it makes.
    words
        Of its likeliest case.
    """
    why = f"; {words}" if words else ""
    if hypothesis.about == "sides":
        return "the readings, or the photos, of drive and non-drive side seem to be exchanged"
    if hypothesis.about.endswith(".tip"):
        return f"the {hypothesis.what} seems to be another than stated"
    if hypothesis.observation is None:
        if "readings" in hypothesis.what:
            return f"the {hypothesis.what} seem to be exchanged"
        return f"the {hypothesis.what} seems to be wrong{why}"
    return _of_value(hypothesis, system, slip, why)


def _of_value(hypothesis: Hypothesis, system: System, slip: Array, why: str) -> str:
    """Say which value is wrong, and what it should be."""
    row = system.index[hypothesis.observation or ""]
    value = system.observations[row].value
    wanted = value - slip[row]
    if hypothesis.about == "target.bars":
        percent = 100.0 * slip[row] / CHECK_BAR_NOMINAL_MM
        size = "long" if percent > 0 else "short"
        return (
            f"both check bars seem to be stated {abs(percent):.1f} % too {size},"
            f" or were not measured on this sheet: along x {value:.2f} mm is stated, all other readings ask"
            f" for {wanted:.2f} mm"
        )
    if not hypothesis.statement:
        return f"the photos seem to have misread the {hypothesis.what} by {abs(slip[row]):.2f} mm"
    return (
        f"the {hypothesis.what} seems to be wrong: {value:.2f} mm is stated, everything else asks for "
        f"{wanted:.2f} mm{why}"
    )


def remedy_of(hypothesis: Hypothesis) -> str:
    """Return what to do about it."""
    if hypothesis.remedy:
        return hypothesis.remedy
    if hypothesis.about == "sides":
        return "Check which side's readings and photos are which"
    if "exchanged" in hypothesis.about or " and " in hypothesis.about:
        return f"Check which of the {hypothesis.what} is which"
    if hypothesis.about == "target.bars":
        return "Measure both check bars of this sheet again, three times each"
    if hypothesis.about.endswith(".tip"):
        return "State what is on the gauge's far end, and the length to that end"
    return f"Measure the {hypothesis.what} again"


def reasons_of(test: JointTest) -> tuple[Reason, ...]:
    """Return what a joint test means for the verdict."""
    if not test.explanations:
        return ()
    reasons = []
    matter = [one for one in test.explanations if _matters(one)]
    doubted = sum(one.probability for one in matter)
    best = test.explanations[0]
    if doubted > DOUBTED:
        reasons.append(_doubt(test, matter))
    elif best.odds > 1.0 and not _matters(best):
        words = f"{best.sentence}; the lengths do not depend on it"
        reasons.append(Reason(sentence=words, remedy=best.remedy, about=best.about, severity="note"))
    if test.unexplained < CONTRADICTION:
        reasons.append(
            Reason(
                sentence="the readings and the photos contradict each other, and no single slip explains it",
                remedy=test.settles or "Measure everything again that the caliper reaches",
                about="job",
                severity="stop",
            )
        )
    return tuple(reasons)


def is_named(test: JointTest, best: Explained) -> bool:
    """Tell whether a slip is so much likelier than the next one as to be named alone."""
    others = [one.probability for one in test.explanations if one is not best]
    return best.probability > NAMED * max(others, default=0.0)


def _matters(one: Explained) -> bool:
    """Tell whether an explanation moves a length by enough to matter."""
    return one.moves() >= MATTERS_MM


def _doubt(test: JointTest, matter: list[Explained]) -> Reason:
    """Return the doubt: one slip by name, or the two that it may be."""
    likely = test.explanations[0]
    best = matter[0]
    named = likely is best and is_named(test, best)
    other = matter[1] if likely is best and len(matter) > 1 else best
    sentence = likely.sentence if named else f"{likely.sentence}; or {other.sentence}"
    if likely.probability < 0.5:
        sentence = f"perhaps {sentence}"
    moved = ", ".join(
        f"the {side.replace('_', '-')} side's length would change by {change:+.2f} mm"
        for side, change in best.lengths.items()
        if abs(change) >= MATTERS_MM / 2.0
    )
    remedy = test.settles if test.settles and not named else best.remedy
    return Reason(
        sentence=f"{sentence} ({moved})" if moved else sentence,
        remedy=remedy,
        about=best.about,
        severity="check",
    )
