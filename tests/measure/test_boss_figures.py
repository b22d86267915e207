"""What mouths of bores add to the faces' edges, against drawing the errors at random."""

import math
from types import SimpleNamespace

import numpy as np
import pytest

from hubsight.estimate.problem import Layout
from hubsight.measure.boss_figures import (
    FLANK_PULL_U_MM,
    MOUTH_U_MM,
    _contradiction,
    _Error,
    _flank_pull,
    _Mouth,
    _Weight,
)

ALIKE = [_Error("a", 0.10, 1, 0), _Error("b", 0.10, 0, 1), _Error("c", 0.08, 1, 1), _Error("d", 0.1, 1, -1)]
LEANING = [_Error("a", 0.10, 1, 0), _Error("b", 0.10, 0, 1), _Error("d", 0.3, 1, -1)]


WIRE = _Mouth(0, lambda _: 0.3, "mouth", MOUTH_U_MM)
BORES = (_Mouth(0, lambda _: 0.2, "mouth", 0.1), _Mouth(1, lambda _: -0.4, "mouth", 0.12))
SEEN = [(), (WIRE,), BORES, (WIRE, *BORES), BORES[1:]]
"""Mouths that may be seen: where the gauge's wire comes out, and those of the empty bores."""


def drawn(errors, mouths, count=200_000):
    """True errors of the edges (2, count), and how far mouths (K, count) seem beyond them, mm."""
    rng = np.random.default_rng(5)
    each = [e.u * rng.standard_normal(count) for e in errors]
    edges = np.array(
        [
            sum(e.ahead * x for e, x in zip(errors, each, strict=True)),
            sum(e.behind * x for e, x in zip(errors, each, strict=True)),
        ]
    )
    return edges, np.array([m.u * rng.standard_normal(count) - edges[m.face] for m in mouths])


@pytest.mark.parametrize("errors", [ALIKE, LEANING])
@pytest.mark.parametrize("share", [(1.0, 0.0), (1.0, 1.0), (0.5, -0.5)])
@pytest.mark.parametrize("mouths", SEEN)
def test_the_budget_is_the_scatter_of_drawn_errors(errors, share, mouths):
    w = _Weight.of(errors, mouths)
    edges, beyond = drawn(errors, mouths)
    miss = np.array(share) @ (edges + (w.follow @ beyond if mouths else 0.0))
    stated = math.hypot(*(u for _, u in w.extra(errors, *share)))
    assert np.std(miss) == pytest.approx(stated, rel=0.01)


@pytest.mark.parametrize("errors", [ALIKE, LEANING])
@pytest.mark.parametrize("mouths", SEEN[1:])
def test_no_other_weight_would_leave_a_smaller_error(errors, mouths):
    w = _Weight.of(errors, mouths)
    edges, beyond = drawn(errors, mouths)
    for face in (0, 1):
        own = edges[face] + w.follow[face] @ beyond
        for other in beyond:
            assert all(np.std(own + d * other) > np.std(own) for d in (-0.1, 0.1))


def test_a_face_moves_by_what_its_weights_make_of_each_mouth():
    w = _Weight.of(ALIKE, BORES)
    assert w.moved(1, None) == pytest.approx(0.2 * w.follow[1, 0] - 0.4 * w.follow[1, 1])


def test_the_face_behind_follows_a_leaning_boss_the_other_way():
    assert _Weight.of(LEANING, [WIRE]).follow[1, 0] < -0.5


def test_an_edge_that_the_mouth_contradicts_gives_way():
    assert _contradiction(ALIKE, 0, 0.2, MOUTH_U_MM).u == 0.0
    contradicted = _contradiction(ALIKE, 0, 1.0, MOUTH_U_MM)
    assert contradicted.u > 0.8
    weight = _Weight.of([*ALIKE, contradicted], [WIRE])
    assert weight.follow[0, 0] > 0.95
    assert abs(weight.follow[1, 0]) < 0.05
    assert (contradicted.ahead, contradicted.behind) == (1.0, 0.0)
    behind = _contradiction(ALIKE, 1, -1.0, MOUTH_U_MM)
    assert (behind.ahead, behind.behind) == (0.0, 1.0)


@pytest.mark.parametrize(("lens", "tangent"), [((-48.0, 3.0), 0.0), ((12.0, 83.0), 0.4)])
def test_flanks_pull_more_the_more_slantingly_a_photo_looks_at_the_hub(lens, tangent):
    # An unturned camera stands where its pose's shift, reversed, says.
    own = np.array([0.0, 0, 0, 0, 0, 0, -lens[0], -lens[1], -340.0])
    solution = SolutionOf(pattern=[-48.0, 3.0, 90.0, 0, 0, 24.0, 0.2], camera=np.zeros(8), photo0=own)
    seen = SimpleNamespace(solution=solution)
    assert _flank_pull(seen) == pytest.approx(FLANK_PULL_U_MM * tangent)


class SolutionOf:
    """Adjusted unknowns by name, without the adjustment."""

    def __init__(self, **unknowns):
        self.layout = Layout()
        for name, values in unknowns.items():
            self.layout.add(name, len(values))
        self.x = np.concatenate([np.asarray(values, float) for values in unknowns.values()])

    def __getitem__(self, name):
        return self.x[self.layout[name]]
