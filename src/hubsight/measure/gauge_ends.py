"""Other ends of a gauge that photos show: runners-up of the one that was taken."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from hubsight.measure.sightings import Sightings
from hubsight.model.agreement import RunnerUp
from hubsight.see.gauge.end_odds import SAME_END_MM, SURE, EndOdds

ONE_GROUP_MM = 0.7
"""Photos whose ends lie within this show the same one."""


def runners_up(seen: Sightings) -> tuple[RunnerUp, ...]:
    """Return the other ends of each gauge that photos support, the best supported first."""
    out: list[RunnerUp] = []
    for k, gauge in enumerate(seen.gauges):
        if gauge.odds is not None and len(seen.files) > 1:
            out += [_runner_up(gauge.odds, k, place, seen.files) for place in _places(gauge.odds)]
    return tuple(sorted(out, key=lambda r: -r.share))


def _places(odds: EndOdds) -> Iterator[float]:
    """Yield places, each once, that are nearly as likely, or likelier by some of the photos alone."""
    told: list[float] = []
    for place in (*_near(odds), *_without_one(odds), *_by_themselves(odds)):
        if all(abs(place - other) > SAME_END_MM for other in told):
            told.append(place)
            yield place


def _near(odds: EndOdds) -> Iterator[float]:
    """Yield the next likely place, where all photos together leave a doubt."""
    rival = odds.rival()
    if rival is not None and rival[1] > -SURE:
        yield rival[0]


def _without_one(odds: EndOdds) -> Iterator[float]:
    """Yield places that would be taken for sure if one photo were missing."""
    count = len(odds.by_photo)
    for k in range(count if count > 2 else 0):
        others = odds.only_photos([i for i in range(count) if i != k])
        if others.total.max() - others.at(odds.chosen).sum() > SURE:
            yield others.chosen


def _by_themselves(odds: EndOdds) -> Iterator[float]:
    """Yield the places of photos that by themselves surely show another end, alike ones together."""
    sure = odds.by_photo.max(1) - odds.at(odds.chosen) > SURE
    own = sorted(odds.own[sure & (np.abs(odds.own - odds.chosen) > SAME_END_MM)])
    while own:
        group = [place for place in own if abs(place - own[0]) < ONE_GROUP_MM]
        own = own[len(group) :]
        yield float(np.mean(group))


def _runner_up(odds: EndOdds, gauge: int, place: float, files: Sequence[str]) -> RunnerUp:
    there, here = odds.at(place), odds.at(odds.chosen)
    return RunnerUp(
        gauge=gauge,
        beyond=place - odds.chosen,
        share=float(np.exp(min(there.sum() - here.sum(), 0.0))),
        photos=tuple(file for file, more in zip(files, there > here, strict=True) if more),
        others=tuple(file for file, more in zip(files, here >= there, strict=True) if more),
    )
