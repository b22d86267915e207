"""One test of all statements, readings and figures of a job at once; see `joint_test`."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import logsumexp
from scipy.stats import chi2 as chi2_distribution

from hubsight.job.file.load import Job, JobSide
from hubsight.job.joint.effects import exchanged, length_errors
from hubsight.job.joint.gauss import Slip, System
from hubsight.job.joint.hypotheses import Hypothesis, Stated, hypotheses
from hubsight.job.joint.observe import system_of
from hubsight.job.joint.settle import settling_reading
from hubsight.job.joint.words import reasons_of, remedy_of, sentence_of
from hubsight.job.slips import Surroundings
from hubsight.model.hub import LyingMeasurement
from hubsight.model.joint import Explained, JointTest
from hubsight.model.result import MeasuredSide
from hubsight.model.stated import SideName

Array = NDArray[np.float64]

CONTRADICTS_SIGMAS = 2.0
"""Distance of a reading from what all others expect, in standard deviations, from which it contradicts them;
raising it names fewer."""


SURE = 0.7
"""Probability of an explanation from which on it clears the readings that are not part of it."""


@dataclass(frozen=True)
class Weighed:
    """A hypothesis, its log odds against everything being right, and its likeliest case."""

    hypothesis: Hypothesis
    log_odds: float
    slip: Slip
    words: str
    system: System


def joint_test(
    job: Job, sides: Sequence[MeasuredSide], lying: LyingMeasurement | None = None
) -> JointTest | None:
    """Compare all statements, readings and figures of a job; find the single slip that explains them best.

    Parameters
    ----------
    job
        With what is stated; its target as it went into the measurement.
    sides
        As measured.
    lying
        The hub lying on its flanges, if there are photos of it.

    Returns
    -------
    JointTest or None
        None if no side was measured.

    Notes
    -----
    Generalised least squares over all comparable differences, with the errors that they share (the print's
    scale in every length, faces in widths and protrusion, the gauge's end in reach and protrusion). Each slip
    has its own signature there and a free amplitude with a prior; its odds are its marginal likelihood over
    that of "everything is right", times its rarity.
    """
    both = [(stated, side) for stated in job.sides for side in sides if side.name == stated.stated.name]
    if all(side.measurement is None for _, side in both):
        return None
    system = system_of(job.target, both, lying)
    stated = Stated(
        job.target, [s for s, _ in both], _surroundings(both), None if job.flat is None else job.flat.ruler
    )
    right = system.evidence()
    weighed = [_weigh(system, one, right) for one in hypotheses(system, stated)]
    weighed.sort(key=lambda one: -one.log_odds)
    whole = float(logsumexp([0.0, *(one.log_odds for one in weighed)]))
    errors, swapped = length_errors(system, both), _exchanged(both)
    explained = tuple(_explained(one, whole, errors, swapped) for one in weighed)
    test = JointTest(
        right=math.exp(-whole),
        explanations=explained,
        chi2=system.chi2(),
        redundancy=system.redundancy,
        unexplained=_unexplained(system, weighed),
        settles=settling_reading(weighed, whole, both),
        exonerated=_exonerated(system, weighed, explained),
    )
    return test.model_copy(update={"reasons": reasons_of(test)})


def _weigh(system: System, hypothesis: Hypothesis, right: float) -> Weighed:
    own = hypothesis.system or system
    terms = [math.log(case.share) + own.evidence(case.slip) for case in hypothesis.cases]
    best = hypothesis.cases[int(np.argmax(terms))]
    log_odds = math.log(hypothesis.odds) + float(logsumexp(terms)) - right
    return Weighed(hypothesis, log_odds, best.slip, best.words, own)


def _explained(
    one: Weighed, whole: float, errors: Mapping[SideName, Array], swapped: Mapping[SideName, float]
) -> Explained:
    slip = one.system.slip_error(one.slip)
    lengths = {side: -float(slopes @ slip) for side, slopes in errors.items()}
    if one.hypothesis.about == "sides":
        lengths = dict(swapped)
    return Explained(
        about=one.hypothesis.about,
        sentence=sentence_of(one.hypothesis, one.system, slip, one.words),
        remedy=remedy_of(one.hypothesis),
        odds=math.exp(min(one.log_odds, 700.0)),
        probability=math.exp(one.log_odds - whole),
        lengths={side: change for side, change in lengths.items() if abs(change) > 1e-6},
        statement=one.hypothesis.statement,
    )


def _unexplained(system: System, weighed: Sequence[Weighed]) -> float:
    """Return the probability of differences as large as those that the likeliest explanation leaves."""
    chi2, freedom = system.chi2(), system.redundancy
    if weighed and weighed[0].log_odds > 0.0:
        chi2, freedom = weighed[0].system.chi2(weighed[0].slip), freedom - 1
    return float(chi2_distribution.sf(chi2, freedom)) if freedom > 0 else 1.0


def _exonerated(
    system: System, weighed: Sequence[Weighed], explained: Sequence[Explained]
) -> tuple[str, ...]:
    """Return the readings that stand out if all is right, and do not by the likeliest explanation."""
    if not weighed or explained[0].probability < SURE:
        return ()
    best = weighed[0]
    slip = best.slip if best.system is system else None
    if slip is None:
        return ()
    blamed = system.slip_error(slip)
    before, after = _standing_out(system, None), _standing_out(system, slip)
    return tuple(
        one.name
        for k, one in enumerate(system.observations)
        if one.name.split(".")[1:2] == ["caliper"] or one.name == "hub.over_locknut"
        if blamed[k] == 0.0 and before[k] > CONTRADICTS_SIGMAS >= after[k]
    )


def _standing_out(system: System, slip: Slip | None) -> Array:
    """(n,) how many standard uncertainties each observation lies from what all others expect of it.

    The leave-one-out residual of generalised least squares: (K^-1 r)_k over the root of (K^-1)_kk.
    """
    r = system.residual if slip is None else system.residual - system.slip_error(slip)
    weighed = system.weighed(r)
    diagonal = np.array([system.weighed(unit)[k] for k, unit in enumerate(np.eye(len(r)))])
    return np.asarray(np.abs(weighed) / np.sqrt(np.maximum(diagonal, 1e-12)))


def _surroundings(both: Sequence[tuple[JobSide, MeasuredSide]]) -> dict[SideName, Surroundings]:
    out: dict[SideName, Surroundings] = {}
    figures = {
        side.name: {}
        if side.measurement is None
        else {str(k): v for k, v in side.measurement.figures.items()}
        for _, side in both
    }
    readings = {stated.stated.name: stated.stated.caliper for stated, _ in both}
    for stated, side in both:
        other = next((one.name for _, one in both if one.name != side.name), None)
        gauges, over = stated.stated.gauges, stated.wheel.over_locknut
        out[side.name] = Surroundings(
            figures=figures[side.name],
            readings=readings[side.name],
            other_figures={} if other is None else figures[other],
            other_readings={} if other is None else readings[other],
            gauge_length=gauges[0].length.value if gauges else None,
            over_locknut=None if over is None else over.value,
        )
    return out


def _exchanged(both: Sequence[tuple[JobSide, MeasuredSide]]) -> dict[SideName, float]:
    stated = {one.stated.name: one for one, _ in both}
    return exchanged(stated, {s.name: s.measurement for _, s in both if s.measurement is not None})
