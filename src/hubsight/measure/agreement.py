"""What each photo, and each boss, says of the features that figures hang on, tested against the rest."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit

from hubsight.camera import View
from hubsight.camera.observe import view_in
from hubsight.measure.adjust.placed import is_placed
from hubsight.measure.sightings import Sightings
from hubsight.model.agreement import FEATURE_WORDS, FIGURES_ON, Agreement, Feature, Opinion
from hubsight.model.arrays import Array
from hubsight.model.uncertainty import FAR_SIGMAS
from hubsight.scene.bosses import PatternBlock
from hubsight.scene.gauge import GaugeAxisBlock, GaugeEndBlock

U_MM: dict[Feature, float] = {
    "gauge_end": 0.05,
    "gauge_axis": 0.015,
    "bosses": 0.05,
    "boss_centreline": 0.08,
    "boss_left_face": 0.08,
    "boss_right_face": 0.08,
    "bore_mouth": 0.06,
    "end_face": 0.1,
}
"""Standard uncertainty of what one photo, or one boss, says of a feature, mm (found on rendered hubs: 1.5
times the median departure of 150 photos). An end face's is each photo's own."""
TIP_U = 0.15
"""The same of a photo's probability of a nipple: two photos contradict each other where both are sure."""
ODD_SHARE = 0.25
"""From this share of odd ones on, and from two on, opinions contradict each other: fewer are mistakes."""


@dataclass(frozen=True)
class Says:
    """One opinion before it is tested: a photo or a boss, its value, mm, and its weight against the usual.

    ``by_hand`` if a person placed it.
    """

    value: float
    photo: int | None = None
    boss: int | None = None
    weight: float = 1.0
    by_hand: bool = False


def agreements(seen: Sightings) -> tuple[Agreement, ...]:
    """Return how a side's photos, and its bosses, agree on each feature that two or more of them show."""
    found: list[tuple[Feature, int | None, list[Says]]] = []
    for k, gauge in enumerate(seen.gauges):
        name = f"gauge{k}"
        found.append(("gauge_end", k, list(_ends(seen, name))))
        found.append(("gauge_axis", k, list(_axes(seen, name))))
        mouth = seen.mouths[k] if k < len(seen.mouths) else None
        if mouth is not None:
            own = zip(mouth.photos, mouth.own, strict=True)
            found.append(("bore_mouth", k, [Says(float(v), int(p)) for p, v in own]))
        if gauge.odds is not None and "nipple" in gauge.odds.kinds and len(gauge.odds.kinds) > 1:
            nipple = expit(gauge.odds.for_kind("nipple"))
            found.append(("tip", k, [Says(float(v), p) for p, v in enumerate(nipple)]))
    found += _of_bosses(seen)
    found.append(("end_face", None, list(_end_faces(seen))))
    return tuple(
        agreement(feature, says, gauge=gauge, files=seen.files)
        for feature, gauge, says in found
        if len(says) > 1
    )


def contradicts(agreement: Agreement) -> bool:
    """Tell whether so many opinions are odd that a feature is contradicted and not only misread once."""
    odd = len(agreement.odd)
    return odd >= 2 and odd >= ODD_SHARE * len(agreement.opinions)


def apart(agreement: Agreement) -> float:
    """Return how far the furthest odd opinion lies from the mean of those that agree, mm."""
    odd = [o.value for o in agreement.opinions if o.odd]
    rest = [o.value for o in agreement.opinions if not o.odd]
    if not odd or not rest:
        return 0.0
    return float(max((v - np.mean(rest) for v in odd), key=abs))


def agreement(
    feature: Feature, says: Sequence[Says], *, gauge: int | None = None, files: Sequence[str] = ()
) -> Agreement:
    """Test opinions against each other.

    Parameters
    ----------
    feature
        What they are of.
    says
        Two or more.
    gauge
        The gauge's number, of a gauge's features.
    files
        Names of the photos.

    Notes
    -----
    ``against`` is the difference between an opinion and the weighted mean of all others over its standard
    deviation. Those that agree are the largest set within `FAR_SIGMAS` of one of them; on a tie the one whose
    members lie closer together.
    """
    values = np.array([s.value for s in says])
    u = (TIP_U if feature == "tip" else U_MM[feature]) / np.sqrt([s.weight for s in says])
    odd = ~_that_agree(values, u)
    w = u**-2
    rest = w.sum() - w
    others = (w @ values - w * values) / rest
    against = (values - others) / np.sqrt(u**2 + 1 / rest)
    opinions = tuple(
        Opinion(
            photo="" if s.photo is None else files[s.photo],
            boss=s.boss,
            value=float(s.value),
            u=float(own),
            against=float(z),
            odd=bool(o),
            by_hand=s.by_hand,
        )
        for s, own, z, o in zip(says, u, against, odd, strict=True)
    )
    chi2 = float(w @ (values - w @ values / w.sum()) ** 2)
    return Agreement(
        feature=feature,
        words=FEATURE_WORDS[feature],
        gauge=gauge,
        figures=FIGURES_ON[feature],
        opinions=opinions,
        chi2=chi2,
        freedom=len(says) - 1,
    )


def _that_agree(values: Array, u: Array) -> NDArray[np.bool_]:
    """Return (N,) which opinions are in the largest set that agrees."""
    near = np.abs(values[:, None] - values) < FAR_SIGMAS * np.hypot(u[:, None], u)
    spread = np.array([np.ptp(values[row]) for row in near])
    best = max(range(len(values)), key=lambda k: (near[k].sum(), -spread[k]))
    return np.asarray(near[best])


def mm_per_px(view: View, at: Array) -> float:
    """Return how many millimetres a pixel is at a point (3,)."""
    return float((at - view.position) @ view.rotation[2] / view.focal)


def _ends(seen: Sightings, gauge: str) -> Iterable[Says]:
    solution = seen.solution
    for block in seen.adjusted.hub_blocks:
        if isinstance(block, GaugeEndBlock) and block.gauge == gauge:
            residual = float(block.linearise(solution.layout, solution.x).residual[0]) * block.sigma
            # The picture shows a shift along the gauge foreshortened; residuals are computed minus seen.
            scale = mm_per_px(view_in(solution, block.photo), solution[gauge][:3])
            yield Says(-residual * scale, block.photo, by_hand=is_placed(block))


def _axes(seen: Sightings, gauge: str) -> Iterable[Says]:
    """Sideways, seen from the lens, averaged along the gauge."""
    solution = seen.solution
    for block in seen.adjusted.hub_blocks:
        if isinstance(block, GaugeAxisBlock) and block.gauge == gauge:
            residual = block.linearise(solution.layout, solution.x).residual * block.sigma
            scale = mm_per_px(view_in(solution, block.photo), solution[gauge][:3])
            sideways = -float(np.average(residual, weights=block.sigma**-2.0)) * scale
            yield Says(sideways, block.photo, by_hand=is_placed(block))


def _end_faces(seen: Sightings) -> Iterable[Says]:
    """How far above the end face that all photos show each of them shows it."""
    face = seen.marked_ends.end_face
    if face is None or face.own is None:
        return
    for photo, (above, u) in enumerate(zip(face.own.above, face.own.u, strict=True)):
        if np.isfinite(above):
            yield Says(float(above), photo, weight=float((U_MM["end_face"] / u) ** 2))


def _of_bosses(seen: Sightings) -> list[tuple[Feature, int | None, list[Says]]]:
    """Say how photos and bosses lie to the adjusted pattern, and how each photo shows the mean boss."""
    solution, out = seen.solution, list[tuple[Feature, int | None, list[Says]]]()
    blocks = [b for b in seen.adjusted.hub_blocks if isinstance(b, PatternBlock)]
    sideways: dict[int, list[tuple[float, float]]] = {}
    photos = []
    for block in blocks:
        off, weight = _off_pattern(seen, block), block.sigma**-2.0
        photos.append(Says(float(np.average(off, weights=weight)), block.photo))
        for boss, one, w in zip(block.bosses, off, weight, strict=True):
            sideways.setdefault(int(boss), []).append((float(one), float(w)))
    out.append(("bosses", None, photos))
    by_boss = [
        Says(float(np.average([o for o, _ in of], weights=[w for _, w in of])), boss=boss)
        for boss, of in sorted(sideways.items())
    ]
    out.append(("bosses", None, by_boss))
    seen_by = seen.bosses.by_photo
    if seen_by is not None:
        radius = float(solution["pattern"][5])
        for feature, values in (
            ("boss_centreline", seen_by.mirror * radius),
            ("boss_left_face", seen_by.left),
            ("boss_right_face", seen_by.right),
        ):
            centred = values - np.nanmedian(values) if np.isfinite(values).any() else values
            says = [Says(float(v), p) for p, v in enumerate(centred) if np.isfinite(v)]
            out.append((feature, None, says))  # type: ignore[arg-type]
    return out


def _off_pattern(seen: Sightings, block: PatternBlock) -> Array:
    """How far to the left of its place each boss (M,) is seen, mm."""
    solution = seen.solution
    pattern, view = solution["pattern"], view_in(solution, block.photo)
    residual = block.linearise(solution.layout, solution.x).residual.reshape(-1, 2) * block.sigma[:, None]
    angle = pattern[6] + 2 * np.pi * block.bosses / block.count
    out = np.stack([np.cos(angle), np.sin(angle)], -1)
    at = np.column_stack([pattern[:2] + pattern[5] * out, np.full(len(angle), pattern[2])])
    left = np.column_stack([-out[:, 1], out[:, 0], np.zeros(len(angle))])
    step = view.project(at + left) - view.project(at)
    return np.asarray(-np.sum(residual * step, 1) / np.sum(step**2, 1))
